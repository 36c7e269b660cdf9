package advise

import (
	"context"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/plan"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
)

// Answers are the ten things that a working guide asks of any advice, each from the record. What is not known is empty,
// and hosts say that it is not known.
type Answers struct {
	Somewhere bool // the step leads to a place or sits at one; else only what does not hang on a place is filled
	At        geo.Local

	Why    []Reason // 1 why there: for and against, the largest first
	Basis  Basis    // 2 how many looks is that based on, how old
	Wrong  []Doubt  // 3 what would make it wrong
	Cost   Bill     // 4 what does it cost in minutes and holes
	Stay   Staying  // 5 what if we stay instead
	Before Tried    // 6 have we tried it before, when, what came
	Ice    IceThere // 7 is the ice there measured, by whom, when
	Home   Homeward // 8 does it still get us home by the turn-back
	Walk   []Walker // 9 who can walk that far
	Seen   Seen     // 10 who can see us go
}

// Basis says what the odds rest on.
type Basis struct {
	Near   Count   // looks of today close by, of the last two hours
	Today  Count   // all looks of today
	Past   Count   // looks of earlier days close by
	Season Count   // all looks of earlier days
	Known  float64 // share of the odds that schools seen today account for; the rest is ground by its depth, stage and record
	Looked float64 // 0..1, how well the neighbourhood has been looked at
	Prior  string  // the stage whose usual fish fill in what no look tells
}

// Count is a number of looks.
type Count struct {
	Looks, Marks   int
	Days           int
	Within         quantity.Length // 0: everywhere
	Newest, Oldest time.Time       // zero without looks
}

func (c *Count) add(when time.Time, marks bool) {
	c.Looks++
	if marks {
		c.Marks++
	}
	if c.Oldest.IsZero() || when.Before(c.Oldest) {
		c.Oldest = when
	}
	if when.After(c.Newest) {
		c.Newest = when
	}
}

// Bill is a cost with its parts.
type Bill struct {
	Cost
	Walk, Drill, Look time.Duration
	Line              time.Duration // to set a rod up, for a step that fishes
	HolesLeft         int           // before the step; 0 when not told
	Until             time.Time     // when it is done
}

// Staying compares with not going: a look where the scout stands, and the rods where they sit. For a step that stays it
// is the other way round, and Others of the step tell what going would give.
type Staying struct {
	Odds  Odds // of marks where the scout stands, in the same minutes; empty without a fix
	Rods  int  // in the water
	Rate  Rate // theirs together where they sit; the range is that of rods that do well and badly together
	Moved Rate // together after the moves that the step advises
	Moves int  // rods that it moves
	Quiet int  // rods that saw nothing for five minutes
}

// IceThere is what was measured of the ice at or near a place.
type IceThere struct {
	Safety   safety.HopAnswer
	By       uuid.UUID // account that wrote the nearest reading
	When     time.Time
	Today    int             // readings of today
	Thinnest quantity.Length // of them
	ThinAway quantity.Length // how far that one lies from the place
	ThinWhen time.Time
}

// Homeward says what the step does to the way home.
type Homeward struct {
	At     time.Time // turn-back time
	Told   bool      // it was worked out; else a careful one stands in
	Done   time.Time // the step is done
	Travel time.Duration
	Known  bool      // a way home from there is known, so Travel and Latest count
	Latest time.Time // latest start from there
	Spare  time.Duration
	Code   string // of the binding deadline
	Text   string
	Set    time.Time // when the guide set another turn-back time; zero: it is the computed one
	Would  time.Time // what it would be without that
}

// answer fills the ten answers of a finished step, when they are wanted.
func (w *world) answer(ctx context.Context, s *Step) {
	if !w.in.Answers {
		return
	}
	a := &Answers{Why: s.Why}
	a.At, a.Somewhere = w.placeOf(s)
	done := w.in.Now.Add(minutes(s.Cost.Minutes))
	a.Basis, a.Cost, a.Stay, a.Home = w.basis(a), w.bill(s, done), w.staying(s), w.homeFrom(a, done)
	if a.Somewhere {
		a.Wrong = append(w.turns(ctx, s, a.At, done), w.doubts(s, a.At)...)
		a.Before = w.tried(a.At)
		a.Ice = w.iceThere(s, a.At)
		a.Walk = w.walkers(a.At)
		a.Seen = w.seen(a.At)
	} else {
		a.Wrong = w.doubtModel(s)
	}
	s.Answers = a
}

func minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

// placeOf gives where a step leads to or sits, else where the scout stands and false.
func (w *world) placeOf(s *Step) (geo.Local, bool) {
	switch s.Do {
	case Drill, Look, Move:
		return s.To, true
	case Stay:
		if h := w.in.Lake.Hole(s.Hole); h != nil && h.Placed {
			return h.At, true
		}
	}
	p, _ := w.scout()
	return p, false
}

// basis counts the looks behind the odds.
func (w *world) basis(a *Answers) Basis {
	b := Basis{Prior: string(w.season.Stage), Near: Count{Within: around}, Past: Count{Within: record}}
	days := map[journal.Day]bool{}
	near := map[journal.Day]bool{}
	for _, l := range w.in.Lake.Looks {
		h := w.in.Lake.Hole(l.Hole)
		if h == nil || !h.Placed || l.When.After(w.in.Now) {
			continue
		}
		marks, day := l.Marks != 0, journal.DayOf(l.When, w.in.Lake.Zone)
		switch {
		case day == w.day:
			b.Today.add(l.When, marks)
			if a.Somewhere && h.At.Distance(a.At) <= around && w.in.Now.Sub(l.When) <= newest {
				b.Near.add(l.When, marks)
			}
		case day < w.day:
			b.Season.add(l.When, marks)
			days[day] = true
			if a.Somewhere && h.At.Distance(a.At) <= record {
				b.Past.add(l.When, marks)
				near[day] = true
			}
		}
	}
	b.Season.Days, b.Past.Days = len(days), len(near)
	if a.Somewhere {
		o := w.filter.Odds(a.At, w.options.LookLength)
		if sum := o.Known + o.Fresh; sum > 0 {
			b.Known = o.Known / sum
		}
		b.Looked = w.filter.Sureness(a.At)
	}
	return b
}

// bill takes a step's cost apart.
func (w *world) bill(s *Step, done time.Time) Bill {
	b := Bill{Cost: s.Cost, Walk: w.walk(s.Cost.Distance), HolesLeft: s.HolesLeft, Until: done}
	if s.Cost.Holes > 0 {
		b.Drill = plan.DrillTime(s.Cost.Ice)
	}
	rest := minutes(s.Cost.Minutes) - b.Walk - b.Drill
	switch {
	case rest < time.Second: // a hole for a rod over a school just seen is drilled without a look
	case s.Do == Drill, s.Do == Look:
		b.Look = w.options.LookLength
	case s.Do == Stay, s.Do == Move:
		b.Line = rest
	}
	return b
}

// staying tells what not going would give.
func (w *world) staying(s *Step) Staying {
	var out Staying
	if p, ok := w.scout(); ok && w.in.Surface != nil && w.in.Surface.OnWater(p) {
		out.Odds = w.oddsOf(p, max(w.options.LookLength, minutes(s.Cost.Minutes)), OneHole)
	}
	for _, r := range s.Rods {
		out.Rods++
		out.Rate = out.Rate.plus(r.Here)
		if r.Do == Move {
			out.Moves++
			out.Moved = out.Moved.plus(r.There)
		} else {
			out.Moved = out.Moved.plus(r.Here)
		}
	}
	for _, r := range w.in.Rods {
		if at, ok := w.rodAt(r); ok {
			if _, quiet := w.quiet(at, r); quiet {
				out.Quiet++
			}
		}
	}
	return out
}

// plus adds rates of rods that do well and badly together, so that the ends of their ranges add too.
func (r Rate) plus(o Rate) Rate { return Rate{r.Mean + o.Mean, r.Low + o.Low, r.High + o.High} }

// iceThere tells of the ice at a place and of today's readings.
func (w *world) iceThere(s *Step, p geo.Local) IceThere {
	out := IceThere{Safety: s.Ice}
	if out.Safety.Nearest == nil {
		from, ok := w.scout()
		if !ok {
			from = p
		}
		label := out.Safety.Label
		out.Safety = w.hops(from)(p, w.in.Now)
		if s.Do == Stay { // no step is taken: nothing is asked of the way
			out.Safety.Barred, out.Safety.Reasons = false, nil
			if label != "" {
				out.Safety.Label = label
			}
		}
	}
	if n := out.Safety.Nearest; n != nil && n.Reading != nil {
		out.By, out.When = n.Reading.Writer, n.Reading.When
	}
	for _, r := range w.in.Lake.Ice {
		if r.Day != w.day || !r.Placed || r.When.After(w.in.Now) {
			continue
		}
		if out.Today++; out.Today == 1 || r.Total <= out.Thinnest {
			out.Thinnest, out.ThinAway, out.ThinWhen = r.Total, r.At.Distance(p), r.When
		}
	}
	return out
}

// homeFrom says when to start home from the end of the step.
func (w *world) homeFrom(a *Answers, done time.Time) Homeward {
	at, told := w.turnBack()
	h := Homeward{At: at, Told: told, Done: done, Code: w.in.Home.Binding.Code, Text: w.in.Home.Binding.Text, Latest: at}
	if o := w.in.Home.Override; o != nil {
		h.Set, h.Would = o.Set, w.in.Home.Computed
	}
	if home := w.homeward(); home != nil && a.Somewhere {
		h.Travel, h.Known = home(a.At), true
		if from, ok := w.scout(); ok {
			h.Latest = at.Add(-max(0, h.Travel-home(from)))
		}
	}
	h.Spare = h.Latest.Sub(done)
	return h
}
