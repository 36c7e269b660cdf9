package tally

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/trade/journal"
	"icehand/internal/trade/rules"
)

// Sheet is the ledger of one day, weighed against its law.
type Sheet struct {
	Day     journal.Day
	At      time.Time // fish landed later are left out
	Law     rules.Law
	People  []*Person
	Rows    []Row
	Unnamed map[string]int // kept fish without a name, by species
	Phones  []Phone        // others that wrote today: what they keep, nobody here knows
	Shares  *Portion       // the portion in force, or nil
	Notes   []Note         // what the law says against the ledger

	fish  []*Fish // landed up to At, of every day
	moves []Move
	own   uuid.UUID
}

// Phone is another writer of the day.
type Phone struct {
	Journal uuid.UUID
	Heard   time.Time // last word from it
}

// AtLeast tells whether counts are only the least that they can be.
func (s *Sheet) AtLeast() bool { return len(s.Phones) > 0 }

// State says how near a person is to a limit.
type State string

// The states, by what is left.
const (
	Room    State = "room"
	Near    State = "near"    // two or one left
	Full    State = "full"    // none left: stop keeping
	Beyond  State = "beyond"  // more kept than lawful: stays until a person resolves it
	Unasked State = "unasked" // no limit on record
)

// nearLimit is how many are left when a warning is given: limit minus two (trade note; common practice, no source).
const nearLimit = 2

// Row is one person's count of one species.
type Row struct {
	Person  uuid.UUID
	Species string
	Kept    int  // today, by name, those counted although put back included
	PutBack int  // today
	Held    int  // in possession: carried over, kept since, given and got
	Asked   bool // whether anything was carried over is known
	Left    int  // what may still be kept here; meaningful when Limited
	Limited bool
	State   State
	Binding rules.Rule // the limit that leaves least
	Why     string     // possession, pooled, share, guide, unnamed: what made Left less or more than the daily limit alone; "" for that
	Times   []time.Time
}

// Note is something that the law says against the ledger. It stays until a person resolves it.
type Note struct {
	Code    string // over_daily, over_possession, over_season, over_large, size, closed, release, replaced, guide_fish, gift_note, packs, packed, fished_on, carrying, unnamed
	Person  uuid.UUID
	Species string
	Fish    uuid.UUID
	Rule    rules.Rule
	Text    string
	Count   int
}

// Day weighs a day up to an instant. Own is the journal of this phone.
func (v *View) Day(day journal.Day, at time.Time, law rules.Law, own uuid.UUID) *Sheet {
	s := &Sheet{Day: day, At: at, Law: law, Unnamed: map[string]int{}, own: own}
	for _, f := range v.Fish {
		if !f.When.After(at) {
			s.fish = append(s.fish, f)
		}
	}
	for _, m := range v.Moves {
		if !m.When.After(at) {
			s.moves = append(s.moves, m)
		}
	}
	for _, p := range v.People {
		if p.Day == day {
			s.People = append(s.People, p)
		}
	}
	s.hear(v)
	var species []string
	add := func(x string) {
		if !slices.Contains(species, x) {
			species = append(species, x)
		}
	}
	for _, f := range s.today() {
		add(f.Species)
		if f.Kept && f.Person == uuid.Nil {
			s.Unnamed[f.Species] += f.Count
		}
	}
	for _, m := range s.moves {
		if m.Day == day {
			add(m.Species)
		}
	}
	for _, x := range lawSpecies(law) {
		add(x)
	}
	slices.Sort(species)
	for _, p := range s.People {
		for _, x := range species {
			s.Rows = append(s.Rows, s.row(p, x))
		}
	}
	s.notes()
	return s
}

// lawSpecies lists what the law limits by name.
func lawSpecies(l rules.Law) (out []string) {
	for _, k := range []rules.Kind{rules.Daily, rules.Possession, rules.Yearly} {
		for _, r := range l.Rules(k, "") {
			out = append(out, r.Of...)
		}
	}
	return out
}

// today gives the day's fish.
func (s *Sheet) today() (out []*Fish) {
	for _, f := range s.fish {
		if f.Day == s.Day {
			out = append(out, f)
		}
	}
	return out
}

// Fish gives the day's fish, by time.
func (s *Sheet) Fish() []*Fish { return s.today() }

// hear lists the other phones of the day, and the portion in force.
func (s *Sheet) hear(v *View) {
	last := map[uuid.UUID]time.Time{}
	for j, at := range v.heard[s.Day] {
		last[j] = at
	}
	for i := range v.Spread {
		p := &v.Spread[i]
		if p.Day != s.Day || p.When.After(s.At) {
			continue
		}
		s.Shares = p
		for _, part := range p.Parts {
			if _, ok := last[part.Journal]; !ok {
				last[part.Journal] = time.Time{}
			}
		}
	}
	for j, at := range last {
		if j != s.own {
			s.Phones = append(s.Phones, Phone{j, at})
		}
	}
	slices.SortFunc(s.Phones, func(a, b Phone) int { return slices.Compare(a.Journal[:], b.Journal[:]) })
}

// Counts tells whether a fish counts against its person's limits: it is kept, or was kept where the law lets nobody replace a fish.
func (s *Sheet) Counts(f *Fish) bool {
	if f.Kept {
		return true
	}
	if !f.Unkept() {
		return false
	}
	c, _ := s.Law.Choice(rules.Replacing)
	return c == "never" || c == "not at the limit" && s.wasFull(f)
}

// wasFull tells whether the person had reached a daily limit when the fish was put back after all.
func (s *Sheet) wasFull(f *Fish) bool {
	at := f.When
	for _, c := range f.Changes {
		if slices.Contains(c.Set, "kept") {
			at = c.When
		}
	}
	for _, cap := range s.Law.Caps(rules.Daily, f.Species) {
		n := f.Count
		for _, x := range s.fish {
			if x != f && x.Day == f.Day && x.Person == f.Person && x.Kept && cap.Concerns(x.Species) && !x.When.After(at) {
				n += x.Count
			}
		}
		if n >= cap.Count {
			return true
		}
	}
	return false
}

// kept counts fish of some people on the sheet's day that count against a rule.
func (s *Sheet) kept(r rules.Rule, people func(uuid.UUID) bool) (n int) {
	for _, f := range s.fish {
		if s.inDay(f) && r.Concerns(f.Species) && people(f.Person) && s.Counts(f) {
			n += f.Count
		}
	}
	return n
}

// inDay tells whether a fish falls into the span over which the law counts a day.
func (s *Sheet) inDay(f *Fish) bool {
	if f.Day == s.Day {
		return true
	}
	c, _ := s.Law.Choice(rules.Counted)
	return c == "any 24 hours" && s.At.Sub(f.When) < 24*time.Hour
}

// only makes a set of one person.
func only(id uuid.UUID) func(uuid.UUID) bool { return func(p uuid.UUID) bool { return p == id } }

func noName(p uuid.UUID) bool { return p == uuid.Nil }

// Of gives a person's row of a species; false when the person is not on the sheet.
func (s *Sheet) Of(person uuid.UUID, species string) (Row, bool) {
	for _, r := range s.Rows {
		if r.Person == person && r.Species == species {
			return r, true
		}
	}
	if p := s.person(person); p != nil {
		return s.row(p, species), true
	}
	return Row{}, false
}

func (s *Sheet) person(id uuid.UUID) *Person {
	for _, p := range s.People {
		if p.ID == id {
			return p
		}
	}
	return nil
}

// Kept gives the totals kept on the day by species, with and without a name.
func (s *Sheet) Kept() map[string]int {
	out := map[string]int{}
	for _, f := range s.today() {
		if f.Kept {
			out[f.Species] += f.Count
		}
	}
	return out
}
