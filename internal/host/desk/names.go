package desk

import (
	"context"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// PersonName names somebody of the party; "" when nobody of that identity is on record, or the name was erased.
func (v View) PersonName(id uuid.UUID) string {
	if g := v.Party.Guest(id); g != nil {
		return v.Name(g.Name)
	}
	return ""
}

// WriterName names who wrote with an account at an instant. An account is a login, not a person: on a day with one guide
// the guide is named, else it is said whether it was written here.
func (d *Desk) WriterName(v View, account uuid.UUID, when time.Time) string {
	if account == uuid.Nil {
		return ""
	}
	if account != d.id.Account {
		return "another phone of the outfit"
	}
	guide, guides := "", 0
	for _, g := range v.Party.Guests {
		if g.Role == "guide" && g.Day == journal.DayOf(when, v.Lake.Zone) {
			guide, guides = v.Name(g.Name), guides+1
		}
	}
	if guides == 1 && guide != "" {
		return guide
	}
	return "this phone"
}

// SetReach tells how far somebody is walked at a stretch.
func (d *Desk) SetReach(ctx context.Context, a Act, person uuid.UUID, reach quantity.Length) error {
	return d.record(ctx, a, func(a Act) error {
		if d.party.Guest(person) == nil {
			return fault.New(fault.NotFound, "Choose somebody of today.", "that person is not on record")
		}
		return d.amend(ctx, a, person, map[string]any{"reach_mm": reach.Millimetres()}, "how far somebody walks")
	})
}
