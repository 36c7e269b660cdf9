package party

import (
	"time"

	"github.com/google/uuid"

	"icehand/internal/trade/journal"
)

// Plan is the trip plan left ashore for a day. What it says in words is looked up by the host.
type Plan struct {
	ID   uuid.UUID
	When time.Time
	Day  journal.Day
	journal.Plan
}

// OutBy gives when the party means to be on the ice; zero when nobody said.
func (p Plan) OutBy() time.Time {
	if p.Out == 0 {
		return time.Time{}
	}
	return time.UnixMilli(p.Out)
}

// Shore is what happened between the party and who watches for it.
type Shore struct {
	ID   uuid.UUID
	When time.Time
	Day  journal.Day
	journal.Shore
}

// Supply is what was left of something.
type Supply struct {
	When time.Time
	Day  journal.Day
	journal.Supply
}

// Given is a report made for guests.
type Given struct {
	ID   uuid.UUID
	When time.Time
	journal.Share
}

// Opens tells whether a link to the report opens it at an instant.
func (g Given) Opens(at time.Time) bool {
	return !g.Key.IsZero() && at.Before(time.UnixMilli(g.Until))
}

// foldShore folds what concerns the shore, the sled and what guests were given.
func (v *View) foldShore(f *journal.Fact) {
	switch b := f.Body.(type) {
	case *journal.Plan:
		v.Plans = journal.InsertByTime(v.Plans, Plan{f.Entry.ID, f.At, f.Entry.Day, *b}, func(p Plan) time.Time { return p.When })
	case *journal.Shore:
		v.Shore = journal.InsertByTime(v.Shore, Shore{f.Entry.ID, f.At, f.Entry.Day, *b}, func(s Shore) time.Time { return s.When })
	case *journal.Supply:
		v.Supplies = journal.InsertByTime(v.Supplies, Supply{f.At, f.Entry.Day, *b}, func(s Supply) time.Time { return s.When })
	case *journal.Share:
		v.Given = journal.InsertByTime(v.Given, Given{f.Entry.ID, f.At, *b}, func(g Given) time.Time { return g.When })
	}
}

// Plan gives the newest trip plan of a day, or nil.
func (v *View) Plan(day journal.Day) *Plan {
	for i := len(v.Plans) - 1; i >= 0; i-- {
		if v.Plans[i].Day == day {
			return &v.Plans[i]
		}
	}
	return nil
}

// Left gives what was last seen to be left of something on a day; false when nobody looked.
func (v *View) Left(day journal.Day, what string, at time.Time) (Supply, bool) {
	for i := len(v.Supplies) - 1; i >= 0; i-- {
		if s := v.Supplies[i]; s.Day == day && s.What == what && !s.When.After(at) {
			return s, true
		}
	}
	return Supply{}, false
}

// Outings counts how often somebody went onto the ice in a stretch of time: once, and once more for each time that they were ashore before.
func (v *View) Outings(person uuid.UUID, from, to time.Time) int {
	n, ashore := 0, true
	for _, c := range v.claims[person] {
		if c.when.Before(from) || !c.when.Before(to) {
			continue
		}
		if c.state == "on_ice" && ashore {
			n++
		}
		ashore = c.ashore
	}
	return n
}
