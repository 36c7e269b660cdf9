package desk

import (
	"context"
	"strings"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// Joining is somebody who joins the party of a day, as a person writes it.
type Joining struct {
	Name, Role, Age string // role and age: guest and adult when empty
	Rod             int64
	Licence         string // its number, which stays on this device; "": not told
	Seen            bool
	Until           journal.Day
	Notes           string // health and clothing
	OnIce           bool   // out already; else they are reported later
}

// longestName bounds what is typed for a name; ours.
const longestName = 80

// Join records somebody of the day. The same name twice is recorded and told, for two people may bear one name.
func (d *Desk) Join(ctx context.Context, a Act, j Joining) error {
	name := strings.Join(strings.Fields(j.Name), " ")
	if name == "" || len(name) > longestName {
		return fault.New(fault.BadInput, "Give a name of up to 80 letters.", "somebody of the party needs a name")
	}
	g := journal.Guest{Role: j.Role, Age: j.Age, Rod: j.Rod, Seen: j.Seen, Until: j.Until}
	if g.Role == "" {
		g.Role = "guest"
	}
	if g.Age == "" {
		g.Age = "adult"
	}
	if err := g.Check(); err != nil {
		return fault.Wrap(err, fault.BadInput, "Correct the value and enter it again. Nothing was written.", "%s", plain(err))
	}
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		words := []string{name}
		into := []func(journal.Text){func(t journal.Text) { g.Name = t }}
		for text, to := range map[*string]**journal.Text{&j.Licence: &g.Licence, &j.Notes: &g.Notes} {
			if s := strings.TrimSpace(*text); s != "" {
				words, into = append(words, s), append(into, func(t journal.Text) { *to = &t })
			}
		}
		kept, err := d.store.PutTexts(ctx, words)
		if err != nil {
			return fault.Wrap(err, fault.NotSaved, "Try again.", "the name was not saved")
		}
		for i, t := range kept {
			into[i](t)
		}
		items := []item{{a.ID, a.At, &g}}
		if j.OnIce {
			items = append(items, item{journal.ContentID(d.lake.ID, journal.KindClaim, a.ID.String()), a.At, &journal.Claim{Person: a.ID, State: "on_ice"}})
		}
		return d.write(ctx, items...)
	})
}

// Double takes somebody off the day who was entered twice, with a reason. Whoever has fish or sits to their name stays until those are
// somebody else's.
func (d *Desk) Double(ctx context.Context, a Act, person uuid.UUID, why string) error {
	if why = strings.TrimSpace(why); why == "" {
		return fault.New(fault.BadInput, "Say why, for example: entered twice.", "somebody is taken off the day without a reason")
	}
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		if d.party.Guest(person) == nil {
			return fault.New(fault.NotFound, "Choose somebody of today.", "that person is not on record")
		}
		for _, f := range d.ledger.Fish {
			if f.Person == person || f.Hooked == person || f.Landed == person {
				return fault.New(fault.Conflict, "Give the fish to the other entry first, on Tally.", "fish are recorded to that name")
			}
		}
		for _, s := range d.party.Sits {
			if s.Guest == person {
				return fault.New(fault.Conflict, "Leave the entry as it is: what it fished is on record.", "a rod fished in that name")
			}
		}
		return d.write(ctx, item{a.ID, a.At, &journal.Retract{Target: person, Why: why}})
	})
}

// DoubleNamed takes the later of two entries of one name off the day; the earlier when the later has fish or rods to its name.
func (d *Desk) DoubleNamed(ctx context.Context, a Act, name, why string) error {
	var same []uuid.UUID
	err := d.Read(ctx, func(v View) error {
		for _, g := range v.Party.Guests {
			if g.Day == v.Today && folded(v.Name(g.Name)) == folded(name) {
				same = append(same, g.ID)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if len(same) < 2 {
		return fault.New(fault.NotFound, "Write the whole name as it was entered.", "nobody called %q stands twice today", name)
	}
	last := d.Double(ctx, a, same[len(same)-1], why)
	if fault.CodeOf(last) != fault.Conflict {
		return last
	}
	if first := d.Double(ctx, a, same[0], why); fault.CodeOf(first) != fault.Conflict {
		return first
	}
	return last
}

// Report records the state of people: all of the day when nobody is named.
func (d *Desk) Report(ctx context.Context, a Act, who []uuid.UUID, state string) error {
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		if len(who) == 0 {
			day := journal.DayOf(a.At, d.lake.Zone)
			for _, g := range d.party.Guests {
				if g.Day == day {
					who = append(who, g.ID)
				}
			}
		}
		var items []item
		for i, p := range who {
			if d.party.Guest(p) == nil {
				return fault.New(fault.NotFound, "Choose somebody of the day.", "that person is not on record")
			}
			id := a.ID
			if i > 0 {
				id = journal.ContentID(d.lake.ID, journal.KindClaim, a.ID.String()+p.String())
			}
			items = append(items, item{id, a.At, &journal.Claim{Person: p, State: state}})
		}
		if len(items) == 0 {
			return fault.New(fault.Missing, "Record who is out first.", "nobody is recorded for the day")
		}
		return d.write(ctx, items...)
	})
}

// Measure tells the length of a fish on record. What the law says of keeping it is weighed anew.
func (d *Desk) Measure(ctx context.Context, a Act, fish uuid.UUID, length quantity.Length) error {
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		f := d.ledger.Find(fish)
		if f == nil {
			return fault.New(fault.NotFound, "Choose a fish of the tally.", "that fish is not on record")
		}
		return d.amend(ctx, a, fish, map[string]any{"length_mm": length.Millimetres(), "length_by": "board", "flag": d.flag(f.When, f.Person, f.Species, length, f.Kept, f.Count, f.Count)}, "measured")
	})
}

// AllHoles tells one thing of every hole of today that stands open: marked, or closed.
func (d *Desk) AllHoles(ctx context.Context, a Act, state string) error {
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		var items []item
		for _, h := range d.lake.OpenOn(journal.DayOf(a.At, d.lake.Zone), a.At) {
			if h.State == state {
				continue
			}
			id := a.ID
			if len(items) > 0 {
				id = journal.ContentID(d.lake.ID, journal.KindHoleState, a.ID.String()+h.ID.String())
			}
			items = append(items, item{id, a.At, &journal.HoleState{Hole: h.ID, State: state}})
		}
		if len(items) == 0 {
			return fault.New(fault.Missing, "Nothing was written.", "no hole of today stands open otherwise")
		}
		return d.write(ctx, items...)
	})
}
