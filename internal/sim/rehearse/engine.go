package rehearse

import (
	"context"
	"math"
	"sync"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/engine/plan"
	"icehand/internal/engine/priors"
	"icehand/internal/sim/way"
	"icehand/internal/trade/lake"
)

// engine drives the program's own odds and choice by what the party sees, as advice would be followed: the scout takes
// the first advised place, every guest compares his hole with the open ones. It has no access to the truth.
type engine struct {
	wrong   uint64 // not 0: beliefs are made wrong, one way or the other
	memory  bool
	known   func(geo.Local) float64 // schools by m2; nil: to be learned
	budget  int                     // places weighed
	surface func(b way.Briefing) (*ground.Surface, error)

	b      way.Briefing
	filter *plan.Filter
	season priors.Season
	zero   time.Time
	err    error

	told      Forecast // of the look that the scout is on his way to
	toldAt    geo.Local
	toldOf    bool
	forecasts []Forecast
}

const (
	lookTime  = 30 * time.Second
	firstLook = 300 // places weighed for a first answer
)

// surfaces keeps the depth surfaces of lakes: they are slow to make, and the same at every stage.
type surfaces struct {
	mu   sync.Mutex
	made map[[2]uint64]*ground.Surface
}

func newSurfaces() *surfaces { return &surfaces{made: map[[2]uint64]*ground.Surface{}} }

func (e *engine) Begin(b way.Briefing) geo.Local {
	e.b = b
	e.toldOf, e.forecasts = false, nil
	e.zero = time.Date(2026, time.January, 1, 7, 30, 0, 0, time.UTC).AddDate(0, 0, b.Date)
	e.season = priors.Of([]priors.Stage{priors.Early, priors.Mid, priors.Late}[int(math.Round(b.Season))]).Told(b.Low, b.High)
	if e.filter != nil && e.memory {
		e.filter.Turn(e.season, nil)
	} else {
		par := plan.Default(e.season)
		if e.known != nil {
			par = par.Knowing(e.known)
		}
		if e.wrong != 0 {
			spoil(&e.season, &par, e.wrong)
		}
		s, err := e.surface(b)
		if err != nil {
			e.err = err
			return b.Start
		}
		e.filter = plan.NewFilter(s, e.season, par, nil)
	}
	e.filter.At(e.zero)
	for _, c := range b.Crowds {
		e.filter.Crowd(plan.Crowd{At: c.At, Radius: c.Radius, Shelters: 6, When: e.zero})
	}
	return e.start()
}

// start is where the party is towed to: the best ground by all that is known, the tow charged.
func (e *engine) start() geo.Local {
	const step, bold = 100.0, 0.5
	best, most := e.b.Start, -1.0
	for y := step * 3 / 4; y < float64(e.b.Height); y += step {
		for x := step * 3 / 4; x < float64(e.b.Width); x += step {
			p := geo.Local{E: x, N: y}
			ground := e.filter.Ground(p, lookTime)
			share := 1 - 2*float64(e.b.Landing.Distance(p))/float64(tow)/e.b.Length.Seconds()
			// ground that may be good is worth more at the start than ground that is known
			if score := (ground.P + bold*(ground.High-ground.P)) * share; score > most {
				best, most = p, score
			}
		}
	}
	return best
}

// spoil makes all beliefs wrong at once: speed by a factor of three, school size, detection, activity, and depth by 3 m.
func spoil(s *priors.Season, p *plan.Params, sign uint64) {
	up := sign%2 == 0
	factor, metres := 3.0, 3*quantity.Metre
	if !up {
		factor, metres = 1.0/3, -3*quantity.Metre
	}
	s.Speed = quantity.Speed(float64(s.Speed) * factor)
	s.SchoolSize *= factor
	s.SchoolRadius = quantity.Length(float64(s.SchoolRadius) * math.Cbrt(factor))
	s.Density /= factor
	s.Depth += metres
	s.Phases.Rest = time.Duration(float64(s.Phases.Rest) * factor)
	p.Detect = 0.6
	for i := range p.Bites {
		for j := range p.Bites[i] {
			p.Bites[i][j] /= factor
		}
	}
}

// Forecasts gives the odds of the looks that were advised today and came about.
func (e *engine) Forecasts() []Forecast { return e.forecasts }

// tell notes the odds of an advised look.
func (e *engine) tell(c plan.Candidate) {
	e.told, e.toldAt, e.toldOf = Forecast{P: c.Odds.P, Known: c.Odds.Known}, c.At, true
}

// shown notes what an advised look showed.
func (e *engine) shown(l way.Look) {
	if e.toldOf && l.At == e.toldAt {
		e.told.Hit = l.Count > 0
		e.forecasts = append(e.forecasts, e.told)
	}
	e.toldOf = false
}

// Err tells why the engine gave up, nil when it did not.
func (e *engine) Err() error { return e.err }

func (e *engine) at(t time.Duration) time.Time { return e.zero.Add(t) }

func (e *engine) End() {
	if e.memory && e.err == nil {
		e.filter.Night()
	}
}

func marksOf(count int) lake.Marks {
	switch {
	case count == 0:
		return lake.None
	case count <= 3:
		return lake.Few
	}
	return lake.Many
}

func (e *engine) Looked(l way.Look) {
	if e.err != nil {
		return
	}
	end := l.From + l.Length
	if l.By == way.Scout {
		e.shown(l)
		e.filter.Look(plan.Look{At: l.At, When: e.at(end), Length: l.Length, Marks: marksOf(l.Count), Count: l.Count, Moving: l.Moving})
		return
	}
	e.filter.Sit(plan.SitSpan{At: l.At, Rod: l.By, From: e.at(l.From), To: e.at(end), Watched: true, Count: l.Count, Moving: l.Moving})
}

func (e *engine) Caught(c way.Catch) {
	if e.err != nil {
		return
	}
	if c.Landed {
		e.filter.Fish(plan.Fish{At: c.At, When: e.at(c.When), Count: 1, Good: c.Good})
	} else {
		e.filter.Bite(plan.Bite{At: c.At, When: e.at(c.When)})
	}
}

// crew tells the party as it is.
func (e *engine) crew(v *way.View) plan.Crew {
	c := plan.Crew{Walk: e.b.Walk, SetUp: setUp, Good: 2}
	if e.b.Aim == way.Size {
		c.Good = 6
	}
	for h := range v.Holes {
		x := &v.Holes[h]
		idle := v.Now - x.Used
		c.Holes = append(c.Holes, plan.Hole{At: x.At, Open: idle < plan.OpenFor, Skim: idle > plan.SkimFrom, Taken: x.Rod != way.Scout})
	}
	for i, g := range v.Guests {
		c.Rods = append(c.Rods, plan.Rod{Number: i, At: g.At, Hole: g.Hole, Fishing: g.Fishing, Since: e.at(g.Since)})
	}
	return c
}

func (e *engine) Scout(v *way.View) way.Order {
	if e.err != nil {
		return way.Order{Do: way.Wait}
	}
	e.filter.At(e.at(v.Now))
	q := plan.Question{Crew: e.crew(v), From: v.Scout, Ice: e.b.Ice, Look: lookTime, DayGone: float64(v.Now) / float64(e.b.Length),
		Budget: e.budget, Drillable: true, Wanted: 1,
		Allowed: func(c plan.Candidate) bool { return c.Open || e.b.Inside(c.At) }}
	for h := range v.Holes {
		x := &v.Holes[h]
		if idle := v.Now - x.Used; x.Rod == way.Scout && idle > plan.RestFor && idle < plan.OpenFor {
			q.Open = append(q.Open, plan.Spot{At: x.At, Key: -1 - int64(h), Skim: idle > plan.SkimFrom})
		}
	}
	best, _, err := e.filter.Choose(context.Background(), q)
	if err != nil {
		e.err = err
	}
	if len(best) == 0 {
		return way.Order{Do: way.Wait}
	}
	o := way.Order{Do: way.Drill, At: best[0].At, Look: lookTime}
	if best[0].Open {
		o.Do, o.Hole = way.Visit, int(-1-best[0].Key)
	}
	if best[0].For == plan.Serve {
		o.Look = 0
	} else {
		e.tell(best[0])
	}
	return o
}

func (e *engine) Guest(v *way.View, rod int) way.Order {
	if e.err != nil {
		return way.Order{Do: way.Wait}
	}
	e.filter.At(e.at(v.Now))
	c := e.crew(v)
	call := e.filter.Call(&c, rod)
	switch {
	case call.Hole >= 0:
		return way.Order{Do: way.Move, Hole: call.Hole}
	case v.Guests[rod].Fishing:
		return way.Order{Do: way.Stay}
	}
	return way.Order{Do: way.Wait}
}

// of makes the depth surface that an outfit would have of a lake: its chart, read on a grid of 100 m.
func (c *surfaces) of(family string, seed uint64, b way.Briefing) (*ground.Surface, error) {
	key := [2]uint64{seed, 0}
	for _, r := range family {
		key[1] = key[1]*31 + uint64(r)
	}
	c.mu.Lock()
	s := c.made[key]
	c.mu.Unlock()
	if s != nil {
		return s, nil
	}
	w, h := float64(b.Width), float64(b.Height)
	in := ground.Input{Cell: 50 * quantity.Metre, Window: &ground.Window{Max: geo.Local{E: w, N: h}},
		Outline: []geo.Polygon{{Outer: []geo.Local{{E: -500, N: -500}, {E: w + 500, N: -500}, {E: w + 500, N: h + 500}, {E: -500, N: h + 500}}}}}
	for y := 0.0; y <= h; y += 100 {
		for x := 0.0; x <= w; x += 100 {
			p := geo.Local{E: x, N: y}
			in.Soundings = append(in.Soundings, ground.Sounding{At: p, Depth: b.Chart(p)})
		}
	}
	s, err := ground.Build(context.Background(), in)
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	c.made[key] = s
	c.mu.Unlock()
	return s, nil
}
