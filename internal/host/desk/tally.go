package desk

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/rules"
	"icehand/internal/trade/tally"
)

// Sheet gives the ledger of a day up to an instant, weighed against its law.
func (v View) Sheet(day journal.Day, at time.Time) *tally.Sheet {
	return v.ledger.Day(day, at, v.Law(day), v.phone)
}

// Ledger gives the ledger of all people, for traces of corrections.
func (v View) Ledger() *tally.View { return v.ledger }

// weighed fills what the law says against a fish that is about to be recorded: it is flagged, never refused. The caller holds mu.
func (d *Desk) weighed(a Act, b *journal.Fish) {
	day := journal.DayOf(a.At, d.lake.Zone)
	law := d.shelf.On(day)
	if v := law.Newest(); v != nil {
		b.Rules = v.ID
	}
	if b.Kept && b.Flag == "" {
		b.Flag = d.flag(a.At, b.Guest, b.Species, lengthOfFish(b), true, int(b.Count), 0)
	}
}

// flag says what the law has against keeping fish of a person; "" when nothing. Of them, counted are in the person's count already; a limit
// binds only whoever is named. The caller holds mu.
func (d *Desk) flag(at time.Time, person uuid.UUID, species string, length quantity.Length, kept bool, count, counted int) string {
	day := journal.DayOf(at, d.lake.Zone)
	law := d.shelf.On(day)
	if !kept || len(law.Versions) == 0 {
		return ""
	}
	row, against := d.ledger.Day(day, at, law, d.id.Journal).Landing(person, species, length)
	against = slices.DeleteFunc(against, func(f rules.Finding) bool { return f.Code == "unmeasured" || f.Code == "over_large" && counted > 0 })
	switch {
	case len(against) > 0:
		return against[0].Text
	case row.Limited && row.Left+counted < count:
		return "kept beyond the limit: " + row.Binding.String()
	}
	return ""
}

// HoldAct is what came into or left what a person holds.
type HoldAct struct {
	Act
	journal.Possession
	Words string // of a gift: the note as it was signed and dated
}

// lengthOfFish gives a fish's length; 0 when it was not measured.
func lengthOfFish(b *journal.Fish) quantity.Length {
	if b.Length == nil {
		return 0
	}
	return quantity.FromMillimetres(*b.Length)
}

// Hold records fish carried over, given, eaten or cleaned.
func (d *Desk) Hold(ctx context.Context, x HoldAct) error {
	return d.record(ctx, x.Act, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		b := x.Possession
		b.Species = strings.ToLower(strings.TrimSpace(b.Species))
		for _, id := range []uuid.UUID{b.Person, b.Other} {
			if id != uuid.Nil && d.party.Guest(id) == nil {
				return fault.New(fault.NotFound, "Choose somebody of today.", "that person is not on record")
			}
		}
		if b.Other == b.Person && b.Other != uuid.Nil {
			return fault.New(fault.BadInput, "Name two people.", "a gift from a person to the same person")
		}
		if err := d.holds(a, b); err != nil {
			return err
		}
		if w := strings.TrimSpace(x.Words); w != "" {
			t, err := d.store.PutText(ctx, w)
			if err != nil {
				return fault.Wrap(err, fault.NotSaved, "Try again.", "the note was not saved")
			}
			b.Note = &t
		}
		return d.write(ctx, item{a.ID, a.At, &b})
	})
}

// holds refuses to give, eat or clean more than a person holds. The caller holds mu.
func (d *Desk) holds(a Act, b journal.Possession) error {
	giver := b.Person
	switch {
	case b.What == "gift_in" && b.Other != uuid.Nil:
		giver = b.Other
	case b.What == "carried" || b.What == "gift_in":
		return nil
	}
	day := journal.DayOf(a.At, d.lake.Zone)
	row, ok := d.ledger.Day(day, a.At, d.shelf.On(day), d.id.Journal).Of(giver, b.Species)
	if ok && int(b.Count) > row.Held {
		return fault.New(fault.BadInput, "Correct the number, or record the fish first.", "%d %s, and %d are held", b.Count, b.Species, row.Held)
	}
	return nil
}

// Unkeep corrects a fish that was recorded as kept, with a reason. Slip says that it never was kept; else it was kept and put back later, which
// counts on where the law lets nobody replace a fish.
func (d *Desk) Unkeep(ctx context.Context, a Act, fish uuid.UUID, slip bool, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return fault.New(fault.BadInput, "Say why it is not kept.", "a kept fish is taken off the tally without a reason")
	}
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		f := d.ledger.Find(fish)
		if f == nil || !f.Kept {
			return fault.New(fault.NotFound, "Choose a kept fish.", "that fish is not on the tally")
		}
		set := map[string]any{"kept": false, "fate": "choice"}
		if !slip {
			set["fate"] = "unkept"
		}
		return d.amend(ctx, a, fish, set, why)
	})
}

// Reassign names whose fish it is, with a reason. The change leaves a trace.
func (d *Desk) Reassign(ctx context.Context, a Act, fish, to uuid.UUID, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return fault.New(fault.BadInput, "Say why it is somebody else's.", "a fish changes hands without a reason")
	}
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		f := d.ledger.Find(fish)
		if f == nil {
			return fault.New(fault.NotFound, "Choose a fish of the tally.", "that fish is not on record")
		}
		if d.party.Guest(to) == nil {
			return fault.New(fault.NotFound, "Choose somebody of the day.", "that person is not on record")
		}
		set := map[string]any{"guest": to}
		if f.Flag != "" || f.Kept { // what was flagged for one person may be lawful for the other, and the reverse
			set["flag"] = d.flagFor(f, to)
		}
		return d.amend(ctx, a, fish, set, why)
	})
}

// HandOut hands what is left of today's limits out among this phone and others, by their journals, before contact is lost. It is refused while an
// earlier portion is out and a phone that holds part of it has not been heard since.
func (d *Desk) HandOut(ctx context.Context, a Act, others []uuid.UUID) error {
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		day := journal.DayOf(a.At, d.lake.Zone)
		s := d.ledger.Day(day, a.At, d.shelf.On(day), d.id.Journal)
		if !s.Law.Verified() {
			return fault.New(fault.Missing, "Have the rule book checked and signed first.", "without a rule book in force there is nothing to hand out")
		}
		for _, p := range s.Phones {
			if s.Shares != nil && !p.Heard.After(s.Shares.When) && holdsPart(s.Shares, p.Journal) {
				return fault.New(fault.Conflict, "Sync with it first; until then keep to what this phone has left.", "shares went out and a phone that holds one has not been heard since")
			}
		}
		phones := []uuid.UUID{d.id.Journal}
		for _, o := range others {
			if o != d.id.Journal && o != uuid.Nil && !slices.Contains(phones, o) {
				phones = append(phones, o)
			}
		}
		if len(phones) < 2 {
			return fault.New(fault.BadInput, "Name another phone of the outfit.", "there is nobody to share with")
		}
		body := &journal.Portion{Parts: portions(s, phones)}
		if len(body.Parts) == 0 {
			return fault.New(fault.Missing, "Record who is out first.", "nobody has a limit to be shared")
		}
		return d.write(ctx, item{a.ID, a.At, body})
	})
}

func holdsPart(p *tally.Portion, phone uuid.UUID) bool {
	return slices.ContainsFunc(p.Parts, func(x journal.Part) bool { return x.Journal == phone })
}

// portions parts what is left evenly; this phone, which comes first, takes what does not divide.
func portions(s *tally.Sheet, phones []uuid.UUID) (out []journal.Part) {
	n := len(phones)
	for _, r := range s.Rows {
		if !r.Limited {
			continue
		}
		left := max(r.Left, 0)
		for i, j := range phones {
			part := left / n
			if i == 0 {
				part += left % n
			}
			out = append(out, journal.Part{Journal: j, Person: r.Person, Species: r.Species, Count: int64(part)})
		}
	}
	return out
}

// flagFor says what the law has against a fish as somebody's; a flag that is no word of the law stays. The caller holds mu.
func (d *Desk) flagFor(f *tally.Fish, to uuid.UUID) string {
	counted := 0
	if f.Person == to || f.Person == uuid.Nil { // a fish without a name counts against everybody
		counted = f.Count
	}
	at := f.When
	for _, x := range d.ledger.Fish {
		if x.Day == f.Day && x.When.After(at) {
			at = x.When // the day as it stands
		}
	}
	if was := d.flag(f.When, f.Person, f.Species, f.Length, f.Kept, f.Count, f.Count); f.Flag != "" && f.Flag != was && !strings.HasPrefix(f.Flag, "kept beyond the limit") {
		return f.Flag
	}
	return d.flag(at, to, f.Species, f.Length, f.Kept, f.Count, counted)
}

// Hooked tells who hooked a fish and who landed it, where that is not the guest whose fish it is.
func (d *Desk) Hooked(ctx context.Context, a Act, fish, hooked, landed uuid.UUID) error {
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		set := map[string]any{}
		for k, who := range map[string]uuid.UUID{"hooked": hooked, "landed": landed} {
			if who == uuid.Nil {
				continue
			}
			if d.party.Guest(who) == nil {
				return fault.New(fault.NotFound, "Choose somebody of the day.", "that person is not on record")
			}
			set[k] = who
		}
		if len(set) == 0 {
			return fault.New(fault.BadInput, "Name who hooked it or who landed it.", "nobody is named")
		}
		return d.amend(ctx, a, fish, set, "who hooked it and who landed it")
	})
}
