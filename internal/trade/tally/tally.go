// Package tally answers what each person has kept, what is left of their limits, and how far that may be trusted: a ledger
// by person over the journal's fish, in which nothing is changed without a trace.
//
// Start with [View.Sync]; then [View.Day] weighs a day against the law of package rules. [Sheet.Of] is one person's row.
// Fish that nobody has claimed count against everybody until they are named. With other phones about, every count is the
// least that it can be. The daily and the possession limit are two checks, and the lower counts.
// It assumes that a person is one guest entry. It leaves out what the law says (package rules) and how it is said.
package tally

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// View is the ledger of all people.
type View struct {
	Fish   []*Fish // that count, by time
	Moves  []Move  // into and out of possession, by time
	People []*Person
	Spread []Portion // handed out, by time

	cursor journal.Cursor
	heard  map[journal.Day]map[uuid.UUID]time.Time // when each journal last wrote of a day
}

// Fish is a landed fish, or several alike of an older record.
type Fish struct {
	ID       uuid.UUID
	When     time.Time
	Day      journal.Day
	Person   uuid.UUID // whose limit it counts against; zero: no name yet
	Hooked   uuid.UUID // zero: the person
	Landed   uuid.UUID
	Species  string
	Length   quantity.Length
	Kept     bool
	Fate     string
	Count    int
	Flag     string
	Hole     uuid.UUID
	Deep     bool
	Bleeding bool
	Down     string
	By       uuid.UUID // journal that recorded it
	Changes  []Change  // by the order of the journal
	Rules    uuid.UUID
}

// Unkept tells that the fish was kept first and put back later.
func (f *Fish) Unkept() bool { return !f.Kept && f.Fate == "unkept" }

// Change is the trace of a correction.
type Change struct {
	ID   uuid.UUID
	When time.Time
	Why  string
	Set  []string  // fields, in order
	To   uuid.UUID // the person named, when one was
}

// Move brings fish into or out of what a person holds.
type Move struct {
	ID   uuid.UUID
	When time.Time
	Day  journal.Day
	journal.Possession
}

// Person is somebody of the party.
type Person struct {
	ID    uuid.UUID
	Name  journal.Text
	Role  string
	Age   string
	Day   journal.Day
	Seen  bool        // the licence was looked at
	Until journal.Day // last day on which it holds; "" when not told
}

// Guides tells whether the person is paid to be there.
func (p *Person) Guides() bool { return p.Role == "guide" || p.Role == "scout" }

// Portion is what was handed out among the phones.
type Portion struct {
	ID    uuid.UUID
	When  time.Time
	Day   journal.Day
	By    uuid.UUID
	Parts []journal.Part
}

// Sync folds what is new in the log. Fish of every lake of the outfit count.
func (v *View) Sync(log *journal.Log) bool {
	facts, again := log.Since(&v.cursor)
	if again || v.heard == nil {
		*v = View{cursor: v.cursor, heard: map[journal.Day]map[uuid.UUID]time.Time{}}
	}
	for _, f := range facts {
		v.hear(f.Entry)
		if f.Counts() {
			v.fold(f, log)
		}
	}
	return again || len(facts) > 0
}

// hear notes when a journal last wrote of a day.
func (v *View) hear(e *journal.Entry) {
	if v.heard[e.Day] == nil {
		v.heard[e.Day] = map[uuid.UUID]time.Time{}
	}
	if at := time.UnixMilli(e.Wall); at.After(v.heard[e.Day][e.Journal]) {
		v.heard[e.Day][e.Journal] = at
	}
}

func (v *View) fold(f *journal.Fact, log *journal.Log) {
	switch b := f.Body.(type) {
	case *journal.Fish:
		x := &Fish{ID: f.Entry.ID, When: f.At, Day: dayOf(f), Person: b.Guest, Hooked: b.Hooked, Landed: b.Landed, Species: b.Species, Kept: b.Kept, Fate: b.Fate,
			Count: int(b.Count), Flag: b.Flag, Hole: b.Hole, Deep: b.Deep, Bleeding: b.Bleeding, Down: b.Down, By: f.Entry.Journal, Rules: b.Rules}
		if b.Length != nil {
			x.Length = quantity.FromMillimetres(*b.Length)
		}
		x.Changes = changes(f, log)
		v.Fish = journal.InsertByTime(v.Fish, x, func(x *Fish) time.Time { return x.When })
	case *journal.Possession:
		v.Moves = journal.InsertByTime(v.Moves, Move{f.Entry.ID, f.At, dayOf(f), *b}, func(m Move) time.Time { return m.When })
	case *journal.Guest:
		v.People = append(v.People, &Person{f.Entry.ID, b.Name, b.Role, b.Age, f.Entry.Day, b.Seen, b.Until})
	case *journal.Portion:
		v.Spread = journal.InsertByTime(v.Spread, Portion{f.Entry.ID, f.At, dayOf(f), f.Entry.Journal, b.Parts}, func(p Portion) time.Time { return p.When })
	}
}

// dayOf gives the civil day of a fact, which moves with its time when that is corrected.
func dayOf(f *journal.Fact) journal.Day {
	if len(f.Amended) == 0 {
		return f.Entry.Day
	}
	zone, err := time.LoadLocation(f.Entry.Zone)
	if err != nil {
		return f.Entry.Day
	}
	return journal.DayOf(f.At, zone)
}

// changes gives the trace of a fact's corrections.
func changes(f *journal.Fact, log *journal.Log) (out []Change) {
	for _, id := range f.Amended {
		a := log.Find(id)
		if a == nil {
			continue
		}
		b, ok := a.Body.(*journal.Amend)
		if !ok {
			continue
		}
		c := Change{ID: id, When: a.At, Why: b.Why}
		for k, raw := range b.Set {
			c.Set = append(c.Set, k)
			if k == "guest" && len(raw) > 2 {
				c.To, _ = uuid.ParseBytes(raw[1 : len(raw)-1])
			}
		}
		slices.Sort(c.Set)
		out = append(out, c)
	}
	return out
}

// Person gives somebody by id, or nil.
func (v *View) Person(id uuid.UUID) *Person {
	for _, p := range v.People {
		if p.ID == id {
			return p
		}
	}
	return nil
}

// Find gives a fish that counts, or nil.
func (v *View) Find(id uuid.UUID) *Fish {
	for i := len(v.Fish) - 1; i >= 0; i-- {
		if v.Fish[i].ID == id {
			return v.Fish[i]
		}
	}
	return nil
}
