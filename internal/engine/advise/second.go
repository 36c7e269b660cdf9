package advise

import (
	"context"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/dusk"
	"icehand/internal/engine/ground"
	"icehand/internal/engine/plan"
	"icehand/internal/engine/safety"
)

// Second is the decision about the second target, walleye.
type Second struct {
	dusk.Answer
	From    *Anchor // the best place in words; nil without one
	Of      string  // what its distance is told from: the letter of a start; "" for where the lines are
	Morning bool    // of an evening plan: the half of the day before the sun's highest
}

const (
	wayReach  = 500 * quantity.Metre // from the way home within which a place may be gone to from it: the reach of a reading
	onLine    = 100 * quantity.Metre // from the line within which one stands on it, as safety joins a way home
	seenCloud = 90 * time.Minute     // an observation of the sky outranks the forecast this long; our own choice
	cloudHour = 3 * time.Hour        // an hour of a forecast stands for so long, so three-hourly ones have no gaps
)

// walleye adds what a stretch of the record says of the second target to what is known already.
func (in Input) walleye(t *dusk.Tally, from, until time.Time) *dusk.Tally {
	t = t.Clone()
	t.Add(in.Lake.Frame.Origin(), dusk.Sits(in.Lake, in.Party, in.Options.Clarity, from, until, in.surfaces()...)...)
	return t
}

// surfaces gives the depth surfaces, the finest first.
func (in Input) surfaces() []*ground.Surface { return []*ground.Surface{in.Surface, in.Wide} }

// duskInput gathers what the two questions have in common.
func (w *world) duskInput() dusk.Input {
	in := dusk.Input{
		Now: w.in.Now, Zone: w.in.Lake.Zone, Place: w.in.Lake.Frame.Origin(), Cover: dusk.CoverAt(w.in.Lake, w.in.Now, w.options.Clarity), Cloud: w.cloud,
		Belief: w.belief(), Surfaces: w.in.surfaces(),
		Rods: len(w.in.Rods), SetUp: w.options.SetUp, Drill: plan.DrillTime(w.ice()), Ice: w.ice(), Holes: w.options.HolesLeft, Worth: walleyeWorth(w.in.Aim), Law: w.in.Law,
	}
	if t := w.in.trip(w.day); t != nil && in.Rods == 0 {
		in.Rods = t.Rods
	}
	return in
}

// after tells whether the day's party is after walleye anyway: then perch count for nothing.
func (w *world) after() bool {
	t := w.in.trip(w.day)
	return t != nil && t.Day == w.day && t.Target == dusk.Target
}

// walleyeWorth is how many perch a walleye counts for by the aim of the day.
func walleyeWorth(aim string) float64 {
	switch aim {
	case "action", "first_fish": // any fish counts
		return 1
	}
	return dusk.UsualWorth
}

// cloud gives the cover of the sky: as seen lately, else as forecast.
func (w *world) cloud(t time.Time) (float64, bool) {
	if t.Sub(w.in.Now).Abs() <= seenCloud {
		if c, told := dusk.CloudSeen(w.in.Lake, w.in.Now); told {
			return c, true
		}
	}
	for i := len(w.in.Forecast) - 1; i >= 0; i-- {
		h := w.in.Forecast[i]
		if since := t.Sub(h.Start); h.CloudTold && since >= 0 && since < cloudHour {
			return h.Cloud, true
		}
	}
	return 0, false
}

// second weighs the second target for the rest of the day, from where the lines are.
func (w *world) second(s *Step) {
	here, ok := w.lines()
	if !ok {
		return
	}
	in := w.duskInput()
	in.Here, in.Perch = here, w.perch(here, s)
	in.TurnBack, _ = w.turnBack()
	way := w.in.Home.Way
	if len(way.Line) > 1 {
		in.Way = way.Line
	}
	if way.Travelled() { // on a way that nobody read today no minute is gained
		in.TurnBackAt = w.limitAt
	}
	routes := &routes{world: w, here: here, hop: w.hops(here), known: map[geo.Local]route{}}
	in.Travel = func(p geo.Local) time.Duration { return routes.to(p).time }
	in.Bars = routes.bars
	s.Second = &Second{Answer: dusk.Weigh(in)}
	if b := s.Second.Best; b != nil {
		s.Second.From = w.anchor(b.Place.At)
	}
}

// lines gives where the lines are: the first rod with a place, else the scout.
func (w *world) lines() (geo.Local, bool) {
	for _, r := range w.in.Rods {
		if p, ok := w.rodAt(r); ok {
			return p, true
		}
	}
	return w.scout()
}

// perch gives what is believed of perch where the lines are: the mean over the rods, else that of a rod here.
func (w *world) perch(here geo.Local, s *Step) dusk.Perch {
	if w.after() {
		return dusk.Perch{}
	}
	p := dusk.Perch{Activity: w.activity(w.in.Now)}
	n := 0.0
	for _, r := range s.Rods {
		if r.Here.Mean > 0 {
			p.Mean, p.Low, p.High, n = p.Mean+r.Here.Mean, p.Low+r.Here.Low, p.High+r.Here.High, n+1
		}
	}
	if n > 0 {
		p.Mean, p.Low, p.High = p.Mean/n, p.Low/n, p.High/n
		return p
	}
	r := w.filter.Rate(here, 1)
	p.Mean, p.Low, p.High = r.Mean, r.Low, r.High
	return p
}

// activity gives how active perch are at an instant against another.
func (w *world) activity(against time.Time) func(time.Time) float64 {
	base := w.activityAt(against)
	return func(t time.Time) float64 { return w.activityAt(t) / base }
}

// limitAt gives the turn-back time at another place, never by a later time that the guide has set; without a reckoning of
// safety's own it is that of here.
func (w *world) limitAt(p geo.Local) time.Time {
	here, _ := w.turnBack()
	if w.in.TurnBackAt == nil {
		return here
	}
	t := w.in.TurnBackAt(p)
	if !t.Computed.IsZero() && t.Computed.Before(t.At) {
		return t.Computed
	}
	return t.At
}

// route is how a place is reached: over the ice straight, or along this morning's line and then over the ice.
type route struct {
	time  time.Duration
	along bool
	leave geo.Local // where the line is left
}

// routes finds the ways to places from here.
type routes struct {
	*world
	here  geo.Local
	hop   func(geo.Local, time.Time) safety.HopAnswer
	known map[geo.Local]route
}

// to gives the way to a place: straight where that may be advised, else along the line home where the place lies near it.
func (r *routes) to(p geo.Local) route {
	if x, ok := r.known[p]; ok {
		return x
	}
	walk := r.walk(r.here.Distance(p))
	x := route{time: walk}
	way := r.in.Home.Way
	if r.hop(p, r.in.Now.Add(walk)).Barred && way.Travelled() {
		on, off := geo.FootOn(way.Line, r.here), geo.FootOn(way.Line, p)
		if on.At.Distance(r.here) <= onLine && off.At.Distance(p) <= wayReach && off.Along > on.Along {
			share := (off.Along - on.Along).Metres() / max(1, (off.Along+off.Ahead).Metres())
			x = route{time: time.Duration(share*float64(way.Travel)) + r.walk(on.At.Distance(r.here)+off.At.Distance(p)), along: true, leave: off.At}
		}
	}
	r.known[p] = x
	return x
}

// bars asks the vetoes about going to a place.
func (r *routes) bars(p geo.Local, arrive time.Time) (dusk.Bar, bool) {
	x := r.to(p)
	a := r.hop(p, arrive)
	if x.along {
		in := r.hopInput(x.leave)
		in.To, in.Arrival, in.Deadline, in.HomeAt = p, arrive, r.limitAt(p), nil
		a = r.ask(in)
	}
	if a.Barred {
		return dusk.Bar{Refusals: a.Reasons, Label: a.Label}, false
	}
	return dusk.Bar{Label: a.Label}, true
}

// twilights plans the second target of a day to come: about first light, and before dark.
func (e *eve) twilights(p *EveningPlan) {
	if len(p.Starts) == 0 {
		return
	}
	a := p.Starts[0]
	base := e.duskInput()
	base.Here, base.Holes = a.At, p.Holes
	if !e.after() {
		base.Perch = dusk.Perch{Mean: a.Rate.Mean, Low: a.Rate.Low, High: a.Rate.High, Activity: e.activityAt}
	}
	if e.trip != nil {
		base.Rods = max(1, e.trip.Rods)
	}
	base.TurnBack = p.Home.At
	if e.landingKnown {
		base.Way = []geo.Local{a.At, e.landing}
	}
	if len(p.Home.Way.Line) > 1 { // without a known way no minute is gained by being nearer
		base.TurnBackAt = func(q geo.Local) time.Time { t := e.turnBackAt(q); return earlier(t.At, t.Computed) }
	}
	base.Bars = func(q geo.Local, _ time.Time) (dusk.Bar, bool) { return e.eveBars(a.At, q) }
	morning, evening := base, base
	_, out := e.travelled(a.At)
	morning.Now, morning.Until = e.firstLight().Add(out).Round(time.Minute), e.sun.Transit
	morning.Travel = func(q geo.Local) time.Duration { // half of what the way round by there takes more, before and after
		_, there := e.travelled(q)
		return max(0, there+e.paced(q.Distance(a.At))-out) / 2
	}
	evening.Now = e.sun.Transit.Round(time.Minute)
	evening.Travel = func(q geo.Local) time.Duration { return e.paced(q.Distance(a.At)) }
	for i, in := range []dusk.Input{morning, evening} {
		s := Second{Answer: dusk.Weigh(in), Of: a.Letter, Morning: i == 0}
		if s.Best != nil {
			s.From = e.anchor(s.Best.Place.At)
		}
		p.Second = append(p.Second, s)
	}
}

// Daylight gives a day's light at the fish, with the lake's own record of its light and, where the question leaves it open, the
// cloud that was seen or forecast.
func Daylight(ctx context.Context, in Input, q dusk.DayInput) (dusk.Daylight, error) {
	w, err := in.look(ctx)
	if err != nil {
		return dusk.Daylight{}, err
	}
	if q.Cloud == nil {
		q.Cloud = w.cloud
	}
	q.Belief = w.belief()
	return dusk.Over(q), nil
}

// belief gives what the record until now says of the second target.
func (w *world) belief() *dusk.Belief {
	return w.in.walleye(w.secondTarget, w.day.Midnight(w.in.Lake.Zone), w.in.Now).Learn()
}

// earlier gives the earlier of two instants that are told.
func earlier(a, b time.Time) time.Time {
	if a.IsZero() || !b.IsZero() && b.Before(a) {
		return b
	}
	return a
}

// paced gives the time over a distance by the trip's way of travel.
func (e *eve) paced(d quantity.Length) time.Duration {
	return time.Duration(d.Metres() / e.pace().MetresPerSecond() * float64(time.Second))
}

// eveBars gives what stands against going from a start to a place on a day to come: hazards bar, ice must be read on the way.
func (e *eve) eveBars(a, p geo.Local) (dusk.Bar, bool) {
	h := e.between(a, p)
	if h == nil && !e.hazardous(p) {
		return dusk.Bar{Label: e.barred(p)[0].Text}, true
	}
	text := "A reported hazard lies there."
	if h != nil {
		text = "A reported hazard (" + h.What + ") lies on the straight way there."
	}
	return dusk.Bar{Refusals: []safety.Refusal{{Code: "hazard", Text: text}}}, false
}

// SecondReason turns a reason about the second target into one of the engine's.
func SecondReason(r dusk.Reason) Reason {
	return Reason{Code: r.Code, Weight: r.Weight, Count: r.Count, Rate: r.Rate, Depth: r.Depth, Text: r.Text}
}
