package rules

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/trade/journal"
)

// Version is a rule book on record.
type Version struct {
	ID      uuid.UUID
	Text    string
	Book    Book
	Bad     []Problem // why it cannot be used; it stays on record
	Entered journal.Text
	When    time.Time
	Checks  []Check // who held it against its source text, by time
}

// Signed tells whether somebody held the book against its source text.
func (v *Version) Signed() bool { return len(v.Checks) > 0 }

// Check is a signature.
type Check struct {
	ID   uuid.UUID
	By   journal.Text
	When time.Time
}

// Shelf holds the versions of the rule book that the journal knows.
type Shelf struct {
	Versions []*Version // by the time of entry

	cursor journal.Cursor
	byID   map[uuid.UUID]*Version
	early  map[uuid.UUID][]Check // signatures that came before their book
}

// Sync folds what is new in the log. The laws of an outfit's lakes stand on one shelf.
func (s *Shelf) Sync(log *journal.Log) bool {
	facts, again := log.Since(&s.cursor)
	if again || s.byID == nil {
		*s = Shelf{cursor: s.cursor, byID: map[uuid.UUID]*Version{}, early: map[uuid.UUID][]Check{}}
	}
	for _, f := range facts {
		if f.Counts() {
			s.fold(f)
		}
	}
	return again || len(facts) > 0
}

func (s *Shelf) fold(f *journal.Fact) {
	switch b := f.Body.(type) {
	case *journal.RuleBook:
		v := &Version{ID: f.Entry.ID, Text: b.Text, Entered: b.Entered, When: f.At, Checks: s.early[f.Entry.ID]}
		v.Book, v.Bad = Read(b.Text)
		s.byID[v.ID] = v
		s.Versions = journal.InsertByTime(s.Versions, v, func(v *Version) time.Time { return v.When })
	case *journal.RuleCheck:
		c := Check{f.Entry.ID, b.By, f.At}
		if v := s.byID[b.Book]; v != nil {
			v.Checks = journal.InsertByTime(v.Checks, c, func(c Check) time.Time { return c.When })
		} else {
			s.early[b.Book] = append(s.early[b.Book], c)
		}
	}
}

// Version gives a version by id, or nil.
func (s *Shelf) Version(id uuid.UUID) *Version { return s.byID[id] }

// Standing says how far the law of a day may be trusted.
type Standing string

// The standings. In all but the first no number is left to be shown.
const (
	Verified Standing = "verified" // in date, entered and checked by name
	Unsigned Standing = "unsigned" // nobody has checked the newest book
	Expired  Standing = "expired"  // no book holds for the day; one did before
	NotYet   Standing = "not_yet"  // no book holds yet
	Nothing  Standing = "no_book"  // none is on record
)

// Law is what the outfit's books say of a day, read the strictest way wherever they are not verified or say nothing.
type Law struct {
	Day      journal.Day
	Standing Standing
	Versions []*Version // all of them count; the newest last
}

// Verified tells whether numbers may be shown.
func (l Law) Verified() bool { return l.Standing == Verified }

// Newest gives the newest version that counts, or nil.
func (l Law) Newest() *Version {
	if len(l.Versions) == 0 {
		return nil
	}
	return l.Versions[len(l.Versions)-1]
}

// On gives the law of a day. One version counts when it is in date and signed, and no newer one for that day waits for a signature.
// Else every version that may be the law counts, and the strictest of each rule.
func (s *Shelf) On(day journal.Day) Law {
	l := Law{Day: day, Standing: Nothing}
	var holds, before, after []*Version
	for _, v := range s.Versions {
		switch {
		case len(v.Bad) > 0:
		case v.Book.Holds(day):
			holds = append(holds, v)
		case v.Book.To < day:
			before = append(before, v)
		default:
			after = append(after, v)
		}
	}
	signed := -1
	for i, v := range holds {
		if v.Signed() {
			signed = i
		}
	}
	switch {
	case signed >= 0 && signed == len(holds)-1:
		l.Standing, l.Versions = Verified, holds[signed:]
	case len(holds) > 0:
		l.Standing = Unsigned
		if signed >= 0 {
			holds = holds[signed:]
		} else {
			holds = append(latest(before), holds...)
		}
		l.Versions = holds
	case len(before) > 0:
		l.Standing, l.Versions = Expired, append(latest(before), soonest(after)...)
	case len(after) > 0:
		l.Standing, l.Versions = NotYet, soonest(after)
	}
	return l
}

// latest gives the version that held last, if any.
func latest(vs []*Version) []*Version {
	if len(vs) == 0 {
		return nil
	}
	return []*Version{slices.MaxFunc(vs, func(a, b *Version) int { return order(a.Book.To, b.Book.To) })}
}

// soonest gives the version that will hold first, if any.
func soonest(vs []*Version) []*Version {
	if len(vs) == 0 {
		return nil
	}
	return []*Version{slices.MinFunc(vs, func(a, b *Version) int { return order(a.Book.From, b.Book.From) })}
}

func order(a, b journal.Day) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
