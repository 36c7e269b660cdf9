package advise

import (
	"bytes"
	"cmp"
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/dusk"
	"icehand/internal/engine/plan"
	"icehand/internal/engine/priors"
	"icehand/internal/engine/safety"
	"icehand/internal/physics/sun"
	"icehand/internal/stats/hours"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// Memory is what the engine knows of the past days, ready for a day. It does not change.
type Memory struct {
	day      journal.Day
	filter   *plan.Filter
	evidence Evidence
	second   *dusk.Tally // the record of the second target
	season   priors.Season
	depths   Depths // as the guide told them; zero: not
	hours    hours.Curve
	lulls    []float64 // minutes between feeding windows of the last days
	habits   Habits    // how schools move and how large they are, as far as the record tells
}

// world is all that an answer is made from: the input, and the odds with everything until now taken in.
type world struct {
	in       Input
	day      journal.Day
	season   priors.Season
	filter   *plan.Filter
	evidence Evidence
	sun      sun.Day
	options  Options
	today    []event // of today, in order
	depths   Depths
	hours    hours.Curve
	lulls    []float64
	habits   Habits
	lastAt   map[uuid.UUID]time.Time // when somebody was last at each hole of today, by what happened there

	secondTarget *dusk.Tally // of the days before

	figures *safety.Figures // what decides at each ice reading's hole
	figured time.Time       // for when
}

// event is one event of the journal with a place, ready for the filter.
type event struct {
	when  time.Time
	order int // of events at one instant
	id    uuid.UUID
	hole  *lake.Hole
	at    geo.Local
	body  any // plan.Look, plan.SitSpan, plan.Fish, plan.Bite, plan.Crowd
}

// defaults of the options
const (
	usualWalk  = 3.5 * quantity.KilometrePerHour // common practice, no source
	usualSetUp = time.Minute                     // common practice, no source
	usualLook  = 30 * time.Second
	usualPace  = 0.75 * quantity.Metre    // common practice, no source
	usualGood  = 23 * quantity.Centimetre // common practice, no source
	usualIce   = 45 * quantity.Centimetre // drilled when nothing was read; our own assumption
	sitPiece   = 5 * time.Minute          // pieces in which today's sits are taken in
	oldPiece   = 30 * time.Minute         // the same for past days
	longestSit = 10 * time.Hour           // a sit without an end on a past day is not believed to last longer
	staleFix   = 3 * time.Minute          // an older fix is not used
	roughFix   = 100 * quantity.Metre     // nor a worse one
)

func (o Options) filled() Options {
	o.WalkSpeed = cmp.Or(o.WalkSpeed, usualWalk)
	o.SetUp = cmp.Or(o.SetUp, usualSetUp)
	o.LookLength = cmp.Or(o.LookLength, usualLook)
	o.Pace = cmp.Or(o.Pace, usualPace)
	o.GoodLength = cmp.Or(o.GoodLength, usualGood)
	return o
}

// Remember takes in the past days, for [Input.Memory]: it may be used until the lake's day changes or an entry of a past
// day does.
func Remember(ctx context.Context, in Input) (*Memory, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	return in.remember(ctx, journal.DayOf(in.Now, in.Lake.Zone), in.Now)
}

func (in Input) check() error {
	switch {
	case in.Lake == nil || !in.Lake.Known:
		return fault.New(fault.Missing, "Import the lake's outline first.", "there is no lake")
	case in.Now.IsZero():
		return fault.New(fault.BadInput, "Give the time.", "advice was asked for without a time")
	}
	return nil
}

// look makes the world as it is now.
func (in Input) look(ctx context.Context) (*world, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	return in.asOf(ctx, journal.DayOf(in.Now, in.Lake.Zone), in.Now)
}

// asOf makes the world of a day with everything until an instant taken in.
func (in Input) asOf(ctx context.Context, day journal.Day, until time.Time) (*world, error) {
	m := in.Memory
	if m == nil || m.day != day {
		var err error
		if m, err = in.remember(ctx, day, until); err != nil {
			return nil, err
		}
	}
	w := &world{in: in, day: day, filter: m.filter.Today(), evidence: m.evidence, options: in.Options.filled(), secondTarget: m.second,
		season: m.season, depths: m.depths, hours: m.hours, lulls: m.lulls, habits: m.habits, sun: in.sunOn(day)}
	_, w.evidence.StageBy = in.stage(day, until)
	w.today = in.events(day.Midnight(in.Lake.Zone), until, sitPiece, &w.evidence)
	w.lastAt = map[uuid.UUID]time.Time{}
	for _, e := range w.today {
		if e.hole != nil {
			w.lastAt[e.hole.ID] = e.when
		}
		give(w.filter, e, &w.evidence)
	}
	w.filter.At(until)
	if in.Surface != nil {
		w.evidence.Soundings = in.Surface.Report().ChartSoundings
	}
	return w, nil
}

// stage tells the stage of the season and what it was told from.
func (in Input) stage(day journal.Day, now time.Time) (priors.Stage, string) {
	stage, by := priors.StageOf(priors.StageInput{Day: day, FreezeUp: in.Lake.FreezeUp, Ice: in.recentIce(now), North: in.Lake.Frame.Origin().Lat >= 0})
	return stage, string(by)
}

// recentIce gives the median thickness read in the last three days; 0 without any.
func (in Input) recentIce(now time.Time) quantity.Length {
	var all []quantity.Length
	for i := len(in.Lake.Ice) - 1; i >= 0; i-- {
		r := in.Lake.Ice[i]
		if now.Sub(r.When) > 72*time.Hour {
			break
		}
		if !r.When.After(now) && r.Total > 0 {
			all = append(all, r.Total)
		}
	}
	if len(all) == 0 {
		return 0
	}
	slices.Sort(all)
	return all[len(all)/2]
}

// remember folds all days before a day.
func (in Input) remember(ctx context.Context, day journal.Day, now time.Time) (*Memory, error) {
	stage, _ := in.stage(day, now)
	m := &Memory{day: day, hours: in.hours(day), lulls: in.pastLulls(day)}
	m.season, m.depths = in.seasonOf(stage, now)
	midnight := day.Midnight(in.Lake.Zone).Add(-time.Nanosecond)
	if midnight.After(now) {
		midnight = now
	}
	past := in.events(time.Time{}, midnight, oldPiece, &m.evidence)
	m.habits = in.habits(m.season, past)
	m.season = m.habits.apply(m.season)
	m.filter = plan.NewFilter(in.Surface, m.season, plan.Default(m.season), in.sketches(stage))
	m.filter.Judge(false)
	at := stage // of the day that is taken in
	turn := func(to priors.Stage) {
		if to != at {
			at = to
			season, _ := in.seasonOf(to, now)
			m.filter.Turn(m.habits.apply(season), in.sketches(to))
		}
	}
	last := journal.Day("")
	for i, e := range past {
		if i%256 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		d := journal.DayOf(e.when, in.Lake.Zone)
		if d != last {
			if last != "" {
				nights(m.filter, last, d)
			}
			s, _ := in.stage(d, d.Midnight(in.Lake.Zone).AddDate(0, 0, 1))
			turn(s) // looks are weighed by what is believed of their own time of the winter
			last = d
			m.evidence.Days++
		}
		give(m.filter, e, &m.evidence)
	}
	if last != "" {
		nights(m.filter, last, day)
	}
	turn(stage)
	m.filter.Judge(true)
	m.second = in.walleye(nil, time.Time{}, midnight)
	return m, nil
}

// seasonOf gives what is believed of a stage, with the depths that the guide told of it.
func (in Input) seasonOf(stage priors.Stage, now time.Time) (priors.Season, Depths) {
	s := priors.Of(stage)
	d, told := ToldDepths(in.Lake, stage, now)
	if told {
		s = s.Told(d.Low, d.High)
	}
	return s, d
}

// nights lets the nights between two days pass.
func nights(f *plan.Filter, from, to journal.Day) {
	const longest = 30 // a season's break fades knowledge as much as a month
	a, b := from.Midnight(time.UTC), to.Midnight(time.UTC)
	for range min(longest, max(1, int(b.Sub(a).Hours()/24+0.5))) {
		f.Night()
	}
}

// sketches gives those of the guide's sketches that hold for a stage.
func (in Input) sketches(stage priors.Stage) []plan.Sketch {
	var out []plan.Sketch
	for _, s := range in.Lake.Sketches {
		if (s.Stage == "" || s.Stage == string(stage)) && len(s.Area.Outer) >= 3 {
			out = append(out, plan.Sketch{Area: s.Area, Weight: max(-3, min(3, s.Weight))})
		}
	}
	return out
}

// give lets the filter take in an event and counts it as evidence.
func give(f *plan.Filter, e event, ev *Evidence) {
	if ev.From.IsZero() || e.when.Before(ev.From) {
		ev.From = e.when
	}
	if e.when.After(ev.To) {
		ev.To = e.when
	}
	switch b := e.body.(type) {
	case plan.Look:
		ev.Looks++
		if b.Marks != lake.None {
			ev.WithMarks++
		}
		f.Look(b)
	case plan.SitSpan:
		f.Sit(b)
	case plan.Fish:
		ev.Fish += b.Count
		f.Fish(b)
	case plan.Bite:
		f.Bite(b)
	case plan.Crowd:
		f.Crowd(b)
	}
}

// orders of events at one instant
const (
	crowdFirst = iota
	thenSit
	thenLook
	thenBite
	thenFish
)

// events lists the events between two instants, both included, in order. What has no place is counted and left out.
func (in Input) events(from, until time.Time, piece time.Duration, ev *Evidence) []event {
	var out []event
	takes := func(t time.Time) bool { return !t.After(until) && !t.Before(from) }
	for _, h := range in.Lake.Holes {
		if h.Placed && takes(h.Drilled) {
			ev.Holes++
		}
	}
	add := func(t time.Time, order int, id, hole uuid.UUID, body func(geo.Local) any) {
		h := in.Lake.Hole(hole)
		if h == nil || !h.Placed {
			ev.Placeless++
			return
		}
		out = append(out, event{t, order, id, h, h.At, body(h.At)})
	}
	for _, l := range in.Lake.Looks {
		if takes(l.When) {
			add(l.When, thenLook, l.ID, l.Hole, func(p geo.Local) any {
				return plan.Look{At: p, When: l.When, Length: l.Length, Marks: l.Marks, Count: l.Count, Moving: l.Moving}
			})
		}
	}
	for _, c := range in.Lake.Crowds {
		if takes(c.When) {
			out = append(out, event{c.When, crowdFirst, c.ID, nil, c.At, plan.Crowd{At: c.At, Radius: c.Radius, Shelters: c.Shelters, When: c.When, Gone: c.Gone}})
		}
	}
	if in.Party != nil {
		in.partyEvents(until, takes, piece, add)
	}
	slices.SortFunc(out, func(a, b event) int {
		return cmp.Or(a.when.Compare(b.when), cmp.Compare(a.order, b.order), bytes.Compare(a.id[:], b.id[:]))
	})
	return out
}

// partyEvents adds sits in pieces, bites and fish. Walleye, and the hours that were after them, tell of the second target and
// not of perch.
func (in Input) partyEvents(until time.Time, takes func(time.Time) bool, piece time.Duration, add func(time.Time, int, uuid.UUID, uuid.UUID, func(geo.Local) any)) {
	good := in.Options.filled().GoodLength
	catches := in.catches(piece)
	for _, s := range in.Party.Sits {
		to := s.To
		if to.IsZero() || to.After(until) {
			to = until
		}
		if to.Sub(s.From) > longestSit {
			to = s.From.Add(longestSit)
		}
		if !takes(s.From) {
			continue
		}
		for from, end := s.From, s.From; from.Before(to); from = end {
			if end = from.Add(piece); end.After(to) {
				end = to
			}
			if at := catches.after(s.Hole, from); !at.IsZero() && at.Before(end) {
				end = at
			}
			if in.Party.TargetAt(s, from) != dusk.Target {
				add(end, thenSit, s.ID, s.Hole, func(p geo.Local) any { return plan.SitSpan{At: p, Rod: s.Rod, From: from, To: end} })
			}
		}
	}
	for _, b := range in.Party.Bites {
		if takes(b.When) {
			add(b.When, thenBite, b.ID, b.Hole, func(p geo.Local) any { return plan.Bite{At: p, When: b.When} })
		}
	}
	for _, x := range in.Party.Fish {
		if takes(x.When) && x.Species != dusk.Target {
			add(x.When, thenFish, x.ID, x.Hole, func(p geo.Local) any {
				return plan.Fish{At: p, When: x.When, Count: max(1, x.Count), Good: x.Length >= good || x.Size == "good" || x.Size == "big"}
			})
		}
	}
}

// catches are the times of bites and fish by hole, in order.
type catches map[uuid.UUID][]time.Time

// catches lists them for sits taken in finely, which end a piece at each: a rod must be known to fish at a hole before
// what it catches there is told, or the school under it counts as left alone. Past days are taken in without.
func (in Input) catches(piece time.Duration) catches {
	if piece != sitPiece {
		return nil
	}
	c := catches{}
	for _, b := range in.Party.Bites {
		c[b.Hole] = append(c[b.Hole], b.When)
	}
	for _, f := range in.Party.Fish {
		c[f.Hole] = append(c[f.Hole], f.When)
	}
	for _, list := range c {
		slices.SortFunc(list, time.Time.Compare)
	}
	return c
}

// after gives the first bite or fish at a hole after an instant; zero when there is none.
func (c catches) after(hole uuid.UUID, t time.Time) time.Time {
	list := c[hole]
	i, found := slices.BinarySearchFunc(list, t, time.Time.Compare)
	for found && i < len(list) && list[i].Equal(t) {
		i++
	}
	if i == len(list) {
		return time.Time{}
	}
	return list[i]
}

// scout gives the scout's place when it is known well enough to be used.
func (w *world) scout() (geo.Local, bool) {
	s := w.in.Scout
	if !s.Known || s.Accuracy > roughFix || !s.Fixed.IsZero() && w.in.Now.Sub(s.Fixed) > staleFix {
		return geo.Local{}, false
	}
	return s.At, true
}

// middle gives the middle of the action: the scout, the rods, today's newest hole, the newest hole at all, the lake.
func (w *world) middle() geo.Local {
	if p, ok := w.scout(); ok {
		return p
	}
	for _, r := range w.in.Rods {
		if p, ok := w.rodAt(r); ok {
			return p
		}
	}
	for i := len(w.in.Lake.Holes) - 1; i >= 0; i-- {
		if h := w.in.Lake.Holes[i]; h.Placed && !h.Drilled.After(w.in.Now) {
			return h.At
		}
	}
	if w.in.Surface != nil {
		g := w.in.Surface.Grid()
		c := float64(g.Cell)
		return g.Origin.Add(geo.Local{E: c * float64(g.NX) / 2, N: c * float64(g.NY) / 2})
	}
	return geo.Local{}
}

// rodAt gives where a rod fishes; false when its hole has no place.
func (w *world) rodAt(r Rod) (geo.Local, bool) {
	if r.Hole != uuid.Nil {
		h := w.in.Lake.Hole(r.Hole)
		if h == nil || !h.Placed {
			return geo.Local{}, false
		}
		return h.At, true
	}
	return r.At, r.At != geo.Local{}
}

// ice gives the thickness to drill through at the next hole.
func (w *world) ice() quantity.Length {
	if t := w.in.recentIce(w.in.Now); t > 0 {
		return t
	}
	return usualIce
}
