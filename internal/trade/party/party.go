// Package party tells what the journal says of the people: who is out, where each rod fishes, what was caught and kept.
//
// Start with [View.Sync]; then [View.RodsAt] says who sits where, [View.OnIce] who is not ashore, [View.Tally] what each
// person has kept. Folding gives the same view for any order of arrival.
// Safety facts are never last-writer-wins: a person is on the ice until a later, named claim says ashore. Laws are in
// package rules; names are erasable texts that the host looks up.
package party

import (
	"slices"
	"sort"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// View is the state of the people on one lake.
type View struct {
	Lake     uuid.UUID
	Trips    []Trip
	Guests   []*Guest
	Sits     []*Sit
	Bites    []Bite
	Fish     []*Fish
	Counts   []HeadCount
	TurnBack []TurnBack // overrides, by time
	Advised  []Advised
	Present  []Presentation
	Watched  []Watched // the cold and shelter watch, by time
	Plans    []Plan    // left ashore, by time
	Shore    []Shore   // check-ins, steps taken and the like, by time
	Supplies []Supply  // by time
	Given    []Given   // reports made for guests, by time

	cursor journal.Cursor
	guests map[uuid.UUID]*Guest
	sits   map[uuid.UUID]*Sit
	ends   map[uuid.UUID]sitEnd
	claims map[uuid.UUID][]claim
}

type sitEnd struct {
	when time.Time
	why  string
}

type claim struct {
	when    time.Time
	ashore  bool
	state   string
	by      uuid.UUID
	journal uuid.UUID
}

// Trip says who goes out and how on a day.
type Trip struct {
	ID      uuid.UUID
	When    time.Time
	Day     journal.Day
	Rods    int
	Target  string
	Aim     string
	AimFor  uuid.UUID // the guest whose first fish the day is about; zero: nobody named
	Travel  string    // foot, machine, vehicle
	Landing *geo.Position
	Agreed  time.Time       // hour agreed to be ashore; zero when none
	Drill   quantity.Length // ice that the batteries can drill; 0 when not told
}

// Guest is a person.
type Guest struct {
	ID    uuid.UUID
	Name  journal.Text
	Role  string
	Age   string
	Rod   int
	Seat  uuid.UUID
	Since time.Time
	Day   journal.Day
	Pace  quantity.Length // 0 when not measured
	Reach quantity.Length // farthest that the person is walked at a stretch; 0 when not told

	Notes   *journal.Text // health and clothing; nil when nothing was told
	Licence *journal.Text // its number, which stays on the device
	Seen    bool          // somebody of the outfit has looked at it
	Until   journal.Day   // last day on which it holds; "" when not told
}

// Sit is a spell of fishing by one rod at a hole.
type Sit struct {
	ID     uuid.UUID
	Rod    int
	Hole   uuid.UUID
	Guest  uuid.UUID
	Target string
	From   time.Time
	To     time.Time // zero while it lasts
	Why    string
	Day    journal.Day
}

// Lasting tells whether the sit goes on at an instant.
func (s *Sit) Lasting(at time.Time) bool {
	return !s.From.After(at) && (s.To.IsZero() || s.To.After(at))
}

// Bite is a take that was not landed.
type Bite struct {
	ID   uuid.UUID
	When time.Time
	Hole uuid.UUID
	Rod  int
}

// Fish is a landed fish, or several alike of an older record.
type Fish struct {
	ID      uuid.UUID
	When    time.Time
	Day     journal.Day
	Hole    uuid.UUID // zero when not known
	Rod     int
	Guest   uuid.UUID // zero: no name yet
	Species string
	Length  quantity.Length // 0 when not measured
	Size    string
	Kept    bool
	Count   int
	Flag    string
}

// HeadCount is a roll call by name.
type HeadCount struct {
	When    time.Time
	Present []uuid.UUID
	Missing []uuid.UUID
	Sweep   uuid.UUID
}

// TurnBack is an override of the turn-back time.
type TurnBack struct {
	When     time.Time
	Until    time.Time
	Reason   string
	Computed time.Time // what was computed when the override was set
}

// Advised is advice as it was shown.
type Advised struct {
	ID   uuid.UUID
	When time.Time
	journal.Advice
}

// Presentation says how a rod fished.
type Presentation struct {
	When time.Time
	journal.Presentation
}

// Watched is something of the cold and shelter watch that was done or seen.
type Watched struct {
	ID   uuid.UUID
	When time.Time
	Day  journal.Day
	journal.Watch
}

// New makes an empty view.
func New(lake uuid.UUID) *View {
	v := &View{Lake: lake}
	v.reset()
	return v
}

func (v *View) reset() {
	*v = View{Lake: v.Lake, cursor: v.cursor, guests: map[uuid.UUID]*Guest{}, sits: map[uuid.UUID]*Sit{}, ends: map[uuid.UUID]sitEnd{},
		claims: map[uuid.UUID][]claim{}}
}

// Sync folds what is new in the log. It reports whether anything was folded.
func (v *View) Sync(log *journal.Log) bool {
	facts, again := log.Since(&v.cursor)
	if again {
		v.reset()
	}
	for _, f := range facts {
		if f.Entry.Lake == v.Lake && f.Counts() {
			v.fold(f)
		}
	}
	return again || len(facts) > 0
}

// setBack holds the claims of one phone to the moment when its clock was set back: none that it wrote before is of a later
// time by the clock as it is now. They would else hide what it said since, or lie ahead of now and count for nothing.
func (v *View) setBack(phone uuid.UUID, now time.Time) {
	for _, claims := range v.claims {
		for i := range claims {
			if c := &claims[i]; c.journal == phone && c.when.After(now) {
				c.when = now
			}
		}
		slices.SortStableFunc(claims, func(a, b claim) int { return a.when.Compare(b.when) })
	}
}

func (v *View) fold(f *journal.Fact) {
	switch b := f.Body.(type) {
	case *journal.Trip:
		v.foldTrip(f, b)
	case *journal.Guest:
		g := &Guest{ID: f.Entry.ID, Name: b.Name, Role: b.Role, Age: b.Age, Rod: int(b.Rod), Seat: b.Seat, Since: f.At, Day: f.Entry.Day,
			Notes: b.Notes, Licence: b.Licence, Seen: b.Seen, Until: b.Until}
		if b.Pace != nil {
			g.Pace = quantity.FromMillimetres(*b.Pace)
		}
		if b.Reach != nil {
			g.Reach = quantity.FromMillimetres(*b.Reach)
		}
		v.guests[g.ID] = g
		v.Guests = append(v.Guests, g)
	case *journal.SitStart:
		s := &Sit{ID: f.Entry.ID, Rod: int(b.Rod), Hole: b.Hole, Guest: b.Guest, Target: b.Target, From: f.At, Day: f.Entry.Day}
		if e, ok := v.ends[s.ID]; ok {
			s.To, s.Why = e.when, e.why
		}
		v.sits[s.ID] = s
		v.Sits = journal.InsertByTime(v.Sits, s, func(s *Sit) time.Time { return s.From })
	case *journal.SitEnd:
		v.foldSitEnd(f, b)
	case *journal.Bite:
		v.Bites = journal.InsertByTime(v.Bites, Bite{f.Entry.ID, f.At, b.Hole, int(b.Rod)}, func(b Bite) time.Time { return b.When })
	case *journal.Fish:
		v.foldFish(f, b)
	case *journal.Claim:
		v.claims[b.Person] = journal.InsertByTime(v.claims[b.Person], claim{f.At, b.State == "ashore", b.State, b.By, f.Entry.Journal}, func(c claim) time.Time { return c.when })
	case *journal.ClockJump:
		v.setBack(f.Entry.Journal, time.UnixMilli(b.After))
	case *journal.HeadCount:
		v.Counts = journal.InsertByTime(v.Counts, HeadCount{f.At, b.Present, b.Missing, b.Sweep}, func(c HeadCount) time.Time { return c.When })
	case *journal.TurnBack:
		v.TurnBack = journal.InsertByTime(v.TurnBack, TurnBack{f.At, time.UnixMilli(b.Until), b.Reason, time.UnixMilli(b.Computed)}, func(t TurnBack) time.Time { return t.When })
	case *journal.Advice:
		v.Advised = journal.InsertByTime(v.Advised, Advised{f.Entry.ID, f.At, *b}, func(a Advised) time.Time { return a.When })
	case *journal.Watch:
		v.Watched = journal.InsertByTime(v.Watched, Watched{f.Entry.ID, f.At, f.Entry.Day, *b}, func(w Watched) time.Time { return w.When })
	case *journal.Plan, *journal.Shore, *journal.Supply, *journal.Share:
		v.foldShore(f)
	case *journal.Presentation:
		v.Present = journal.InsertByTime(v.Present, Presentation{f.At, *b}, func(p Presentation) time.Time { return p.When })
	}
}

func (v *View) foldTrip(f *journal.Fact, b *journal.Trip) {
	t := Trip{ID: f.Entry.ID, When: f.At, Day: f.Entry.Day, Rods: int(b.Rods), Target: b.Target, Aim: b.Aim, AimFor: b.AimFor, Travel: b.Travel}
	if b.Landing != nil {
		p := b.Landing.Position()
		t.Landing = &p
	}
	if b.Agreed != 0 {
		t.Agreed = time.UnixMilli(b.Agreed)
	}
	if b.Metres != nil {
		t.Drill = quantity.FromMillimetres(*b.Metres)
	}
	v.Trips = journal.InsertByTime(v.Trips, t, func(t Trip) time.Time { return t.When })
}

func (v *View) foldSitEnd(f *journal.Fact, b *journal.SitEnd) {
	e := sitEnd{f.At, b.Why}
	if had, ok := v.ends[b.Sit]; ok && !had.when.After(e.when) {
		return // the earliest end counts
	}
	v.ends[b.Sit] = e
	if s := v.sits[b.Sit]; s != nil {
		s.To, s.Why = e.when, e.why
	}
}

func (v *View) foldFish(f *journal.Fact, b *journal.Fish) {
	x := &Fish{ID: f.Entry.ID, When: f.At, Day: f.Entry.Day, Hole: b.Hole, Rod: int(b.Rod), Guest: b.Guest, Species: b.Species,
		Size: b.Size, Kept: b.Kept, Count: int(b.Count), Flag: b.Flag}
	if b.Length != nil {
		x.Length = quantity.FromMillimetres(*b.Length)
	}
	v.Fish = journal.InsertByTime(v.Fish, x, func(x *Fish) time.Time { return x.When })
}

// Trip gives the newest trip entry of a day, or nil.
func (v *View) Trip(day journal.Day) *Trip {
	for i := len(v.Trips) - 1; i >= 0; i-- {
		if v.Trips[i].Day == day {
			return &v.Trips[i]
		}
	}
	return nil
}

// TargetAt gives what a rod was after at an instant of its sit: the sit's own target, or that of the day's trip where it was
// told since; "" when nobody said.
func (v *View) TargetAt(s *Sit, at time.Time) string {
	target := s.Target
	for i := range v.Trips {
		if t := &v.Trips[i]; t.Day == s.Day && t.Target != "" && t.When.After(s.From) && !t.When.After(at) {
			target = t.Target
		}
	}
	return target
}

// Guest gives a person by id, or nil.
func (v *View) Guest(id uuid.UUID) *Guest { return v.guests[id] }

// longestSit bounds how long a sit without an end is believed to last: nobody fishes through a whole day and night.
const longestSit = 16 * time.Hour

// RodsAt gives the sits that last at an instant, by rod.
func (v *View) RodsAt(at time.Time) []*Sit {
	var out []*Sit
	for i := len(v.Sits) - 1; i >= 0; i-- {
		s := v.Sits[i]
		if at.Sub(s.From) > longestSit {
			break // sits are in order of their start
		}
		if s.Lasting(at) {
			out = append(out, s)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Rod < out[j].Rod })
	return out
}

// Whereabouts is what the claims say of one person.
type Whereabouts struct {
	Person        uuid.UUID
	OnIce         bool
	State         string // as last claimed: on_ice, ashore, leaving, unseen
	Since         time.Time
	Contradictory bool // claims by different writers within ten minutes disagree
}

// contradicted tells whether another writer said the opposite within ten minutes before a claim. Repeating the claim
// does not settle it: only one made later, when both can have heard of each other, does.
func contradicted(earlier []claim, c claim) bool {
	for _, e := range earlier {
		if e.journal != c.journal && e.ashore != c.ashore && c.when.Sub(e.when) < 10*time.Minute {
			return true
		}
	}
	return false
}

// OnIce lists everyone with a claim, those not surely ashore first. Contradictory claims count as on the ice.
func (v *View) OnIce(at time.Time) []Whereabouts {
	var out []Whereabouts
	for person, cs := range v.claims {
		w := Whereabouts{Person: person}
		for i, c := range cs {
			if c.when.After(at) {
				break
			}
			w.OnIce, w.State, w.Since = !c.ashore, c.state, c.when
			w.Contradictory = contradicted(cs[:i], c)
		}
		if w.Since.IsZero() {
			continue
		}
		w.OnIce = w.OnIce || w.Contradictory
		out = append(out, w)
	}
	slices.SortFunc(out, func(a, b Whereabouts) int {
		if a.OnIce != b.OnIce {
			if a.OnIce {
				return -1
			}
			return 1
		}
		return slices.Compare(a.Person[:], b.Person[:])
	})
	return out
}

// Count is what one person kept and put back on a day.
type Count struct {
	Guest         uuid.UUID // zero: fish without a name
	Kept, PutBack map[string]int
}

// Tally counts fish by person and species on a day. Fish without a name are under the zero id.
func (v *View) Tally(day journal.Day) map[uuid.UUID]Count {
	out := map[uuid.UUID]Count{}
	for _, f := range v.Fish {
		if f.Day != day {
			continue
		}
		c, ok := out[f.Guest]
		if !ok {
			c = Count{f.Guest, map[string]int{}, map[string]int{}}
			out[f.Guest] = c
		}
		if f.Kept {
			c.Kept[f.Species] += f.Count
		} else {
			c.PutBack[f.Species] += f.Count
		}
	}
	return out
}
