package desk

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/engine/dusk"
	"icehand/internal/physics/sun"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
	"icehand/internal/trade/rules"
)

// Law gives the law of a day as the outfit's books say it.
func (v View) Law(day journal.Day) rules.Law { return v.Shelf.On(day) }

// EnterRules takes a rule book in, entered by somebody of the outfit. A book that contradicts itself is refused, both lines named. The same
// text again adds nothing. It answers with the version.
func (d *Desk) EnterRules(ctx context.Context, a Act, text, by string) (id uuid.UUID, err error) {
	_, problems := rules.Read(text)
	if err := rules.Fault(problems); err != nil {
		return id, err
	}
	if by = strings.TrimSpace(by); by == "" {
		return id, fault.New(fault.BadInput, "Say who entered the rule book.", "nobody is named who entered it")
	}
	err = d.record(ctx, a, func(a Act) error {
		for _, v := range d.shelf.Versions {
			if v.Text == text {
				id = v.ID
				return nil
			}
		}
		t, err := d.store.PutText(ctx, by)
		if err != nil {
			return fault.Wrap(err, fault.NotSaved, "Try again.", "the name was not saved")
		}
		id = a.ID
		return d.write(ctx, item{a.ID, a.At, &journal.RuleBook{Text: text, Entered: t}})
	})
	return id, err
}

// SignRules says that somebody held a rule book against its source text. Zero names the newest version that nobody has checked yet.
func (d *Desk) SignRules(ctx context.Context, a Act, book uuid.UUID, by string) error {
	if by = strings.TrimSpace(by); by == "" {
		return fault.New(fault.BadInput, "Say who held it against its source text.", "nobody is named who checked it")
	}
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		v := d.shelf.Version(book)
		for i := len(d.shelf.Versions) - 1; i >= 0 && book == uuid.Nil && v == nil; i-- {
			if x := d.shelf.Versions[i]; !x.Signed() {
				v = x
			}
		}
		if v == nil {
			return fault.New(fault.Missing, "Enter one first: icehand rules import FILE --by NAME.", "no rule book waits for a check")
		}
		t, err := d.store.PutText(ctx, by)
		if err != nil {
			return fault.Wrap(err, fault.NotSaved, "Try again.", "the name was not saved")
		}
		return d.write(ctx, item{a.ID, a.At, &journal.RuleCheck{Book: v.ID, By: t}})
	})
}

// WithdrawRules takes a version out of force, with a reason. It stays in the journal.
func (d *Desk) WithdrawRules(ctx context.Context, a Act, book uuid.UUID, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return fault.New(fault.BadInput, "Say why.", "a rule book is withdrawn without a reason")
	}
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		if d.shelf.Version(book) == nil {
			return fault.New(fault.NotFound, "Choose one of the versions listed.", "that rule book is not on record")
		}
		return d.write(ctx, item{a.ID, a.At, &journal.Retract{Target: book, Why: why}})
	})
}

// lawHours gives when a species may be fished for on a day, by the outfit's books; zero where they tell no hour.
func (d *Desk) lawHours(day journal.Day, species string) (from, to time.Time) {
	return hoursOn(d.lake, d.shelf.On(day), day, species)
}

// hoursOn gives the hours of a law on a lake.
func hoursOn(l *lake.View, law rules.Law, day journal.Day, species string) (from, to time.Time) {
	var rise, set time.Time
	y, m, dd := day.Midnight(l.Zone).Add(12 * time.Hour).Date()
	events := sun.EventsOn(y, m, dd, l.Frame.Origin(), l.Zone)
	if events.Sunrise.Passage == sun.Happens {
		rise = events.Sunrise.Time
	}
	if events.Sunset.Passage == sun.Happens {
		set = events.Sunset.Time
	}
	from, to, _ = law.Hours(species, l.Zone, rise, set)
	return from, to
}

// duskLaw gives what the books say of walleye, the second target, on a day.
func (d *Desk) duskLaw(day journal.Day) dusk.Law {
	law := d.shelf.On(day)
	out := dusk.Law{Signed: law.Verified()}
	if open, by := law.Open("walleye"); !open {
		out.Closed, out.Why = true, "The rule book closes walleye on that day: "+by.String()+"."
	}
	out.From, out.To = d.lawHours(day, "walleye")
	return out
}

// lawCloses gives when the day's target may no longer be fished for; zero when the books tell no such hour of that day.
func (d *Desk) lawCloses(day journal.Day) time.Time {
	species := "perch"
	if t := d.party.Trip(day); t != nil && t.Target != "" {
		species = t.Target
	}
	_, to := d.lawHours(day, species)
	if !to.Before(day.Midnight(d.lake.Zone).AddDate(0, 0, 1)) {
		return time.Time{} // any hour
	}
	return to
}
