package desk

import (
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/trade/journal"
)

// How far an act may seem to lie before its hole: by one clock hardly, by two phones' clocks as far as they differ. Our own
// choice.
const (
	sameClock = time.Minute
	twoClocks = 15 * time.Minute
)

// drilledIn gives when the holes among items are drilled.
func drilledIn(items []item) map[uuid.UUID]time.Time {
	at := map[uuid.UUID]time.Time{}
	for _, it := range items {
		if _, ok := it.body.(*journal.Hole); ok {
			at[it.id] = it.at
		}
	}
	return at
}

// afterDrilling refuses an act at a hole that is neither on record nor among those made with it, and one before its hole.
func (d *Desk) afterDrilling(it item, made map[uuid.UUID]time.Time) error {
	id, what := holeOf(it.body)
	if id == uuid.Nil {
		return nil
	}
	drilled, slack := made[id], sameClock
	if h := d.lake.Hole(id); h != nil {
		if drilled = h.Drilled; h.Writer != d.id.Account {
			slack = twoClocks
		}
	}
	switch {
	case drilled.IsZero():
		return fault.New(fault.NotFound, "Name a hole on record.", "the hole of the %s is not on record", what)
	case it.at.Before(drilled.Add(-slack)):
		return fault.New(fault.BadInput, "Give a time after the hole was drilled.", "the %s lies before its hole was drilled", what)
	}
	return nil
}

// holeOf gives the hole that an act happens at, and the act's name; zero for what happens at none.
func holeOf(b journal.Body) (uuid.UUID, string) {
	switch b := b.(type) {
	case *journal.Look:
		return b.Hole, "look"
	case *journal.Ice:
		return b.Hole, "ice reading"
	case *journal.SitStart:
		return b.Hole, "sit"
	case *journal.Bite:
		return b.Hole, "bite"
	case *journal.Fish:
		return b.Hole, "fish"
	}
	return uuid.Nil, ""
}

// besideOpen turns a place into that of the hole which the advice shown asks for, when the phone stands there and the hole
// lies nearer to another than a fix can tell apart: else a hole beside one that holds fish would never be recorded, and
// would be asked for for ever.
func (d *Desk) besideOpen(ref HoleRef, a Act) HoleRef {
	p, s := ref.Place, d.step.step
	if ref.ID != uuid.Nil || p == nil || !p.Known || !d.step.ok || s.Do != advise.Drill || a.At.Sub(d.step.now) > showsFor || p.At.Distance(s.To) > reach {
		return ref
	}
	at := advise.Place{At: s.To, Known: true, Accuracy: max(p.Accuracy, besideError), Fixed: p.Fixed}
	if d.findHole(at, journal.DayOf(a.At, d.lake.Zone)) == nil {
		return ref // a fix can tell it apart
	}
	return HoleRef{Place: &at, made: true}
}

const (
	showsFor    = 20 * time.Minute // how long a step that was shown is taken to be what is done; our own choice
	besideError = 1 * quantity.Metre
)
