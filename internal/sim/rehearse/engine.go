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
	budget  int // places weighed
	surface func(b way.Briefing) (*ground.Surface, error)

	b       way.Briefing
	filter  *plan.Filter
	season  priors.Season
	zero    time.Time
	holes   []geo.Local
	last    map[int]seen    // newest news by hole
	sat     []time.Duration // to which each guest's sit was told
	ask     []time.Duration // when each guest compares again
	rates   map[int]float64 // fish an hour at open holes, by hole; kept a minute
	ratesAt time.Duration
	err     error
}

// seen is the newest that was seen at a hole.
type seen struct {
	at    time.Duration
	marks bool
	told  time.Duration // marks were last told to the filter
	row   int           // sightings in a row; two confirm
}

const (
	lookTime  = 30 * time.Second
	retell    = 2 * time.Minute // marks under a rod are told this often, and sits in pieces of this length
	openFor   = 175 * time.Minute
	sharers   = 12 * quantity.Metre
	clearly   = 1.1  // there must be better than here by this factor
	worthWalk = 0.25 // fish an hour, and by this much
	leastSit  = 2 * time.Minute
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
	e.holes, e.last = nil, map[int]seen{}
	e.sat, e.ask = make([]time.Duration, b.Rods), make([]time.Duration, b.Rods)
	e.rates = nil
	e.zero = time.Date(2026, time.January, 1, 7, 30, 0, 0, time.UTC).AddDate(0, 0, b.Date)
	if e.filter == nil || !e.memory {
		e.season = priors.Of([]priors.Stage{priors.Early, priors.Mid, priors.Late}[int(math.Round(b.Season))])
		par := plan.Default(e.season)
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
	if e.memory && b.Date > 0 {
		return e.start()
	}
	return b.Start
}

// start is where past days say that the day should begin: the best square of ground, the tow charged.
func (e *engine) start() geo.Local {
	best, bestScore := e.b.Start, -1.0
	for y := 75.0; y < float64(e.b.Height); y += 100 {
		for x := 75.0; x < float64(e.b.Width); x += 100 {
			sum := 0.0
			for _, d := range [5][2]float64{{}, {40, 0}, {-40, 0}, {0, 40}, {0, -40}} {
				o := e.filter.Odds(geo.Local{E: x + d[0], N: y + d[1]}, lookTime)
				sum += o.P + 0.5*(o.High-o.P)
			}
			if sum > bestScore {
				best, bestScore = geo.Local{E: x, N: y}, sum
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
	s, known := e.last[l.Hole]
	fresh := !known || end-s.at > 2*time.Minute
	s.at, s.marks = end, l.Count > 0
	if l.Count > 0 {
		s.row++
	} else {
		s.row = 0
	}
	tell := l.By == way.Scout || fresh || l.Count > 0 && end-s.told >= retell
	if tell {
		if l.By != way.Scout {
			e.sat[l.By] = end
		}
		s.told = end
		e.filter.Look(plan.Look{At: l.At, When: e.at(end), Length: l.Length, Marks: marksOf(l.Count), Count: l.Count, Moving: l.Moving})
	} else if end-e.sat[l.By] >= retell {
		e.filter.Sit(plan.SitSpan{At: l.At, Rod: l.By, From: e.at(e.sat[l.By]), To: e.at(end)})
		e.sat[l.By] = end
	}
	e.last[l.Hole] = s
}

func (e *engine) Caught(c way.Catch) {
	if e.err != nil {
		return
	}
	s := e.last[c.Hole]
	s.at, s.marks, s.row = c.When, true, s.row+2
	e.last[c.Hole] = s
	if c.Landed {
		e.filter.Fish(plan.Fish{At: c.At, When: e.at(c.When), Count: 1, Good: c.Good})
	} else {
		e.filter.Bite(plan.Bite{At: c.At, When: e.at(c.When)})
	}
}

func (e *engine) Scout(v *way.View) way.Order {
	if e.err != nil {
		return way.Order{Do: way.Wait}
	}
	e.filter.At(e.at(v.Now))
	q := plan.Question{From: v.Scout, Ice: e.b.Ice, Walk: e.b.Walk, Look: lookTime, DayGone: float64(v.Now) / float64(e.b.Length),
		Budget: e.budget, Drillable: true, Wanted: 1,
		Allowed: func(c plan.Candidate) bool { return c.Open || e.b.Inside(c.At) }}
	for h := range v.Holes {
		q.Drilled = append(q.Drilled, v.Holes[h].At)
		if s := e.last[h]; v.Holes[h].Rod == way.Scout && v.Now-v.Holes[h].Used < openFor && s.row == 1 && v.Now-s.at > time.Minute {
			q.Open = append(q.Open, plan.Spot{At: v.Holes[h].At, Key: int64(-1 - h)})
		}
	}
	for _, g := range v.Guests {
		q.Party = append(q.Party, g.At)
	}
	best, _, err := e.filter.Choose(context.Background(), q)
	if err != nil {
		e.err = err
	}
	if len(best) == 0 {
		return way.Order{Do: way.Wait}
	}
	if best[0].Open {
		return way.Order{Do: way.Visit, Hole: int(-1 - best[0].Key), Look: lookTime}
	}
	return way.Order{Do: way.Drill, At: best[0].At, Look: lookTime}
}

// rateAt is the believed catch of a rod more at a hole, in worth by hour.
func (e *engine) rateAt(v *way.View, h int) float64 {
	if e.rates == nil || v.Now-e.ratesAt >= 2*time.Minute {
		e.rates, e.ratesAt = map[int]float64{}, v.Now
	}
	if r, ok := e.rates[h]; ok {
		return r
	}
	rods := 1
	for _, g := range v.Guests {
		if g.Hole >= 0 && g.Hole != h && v.Holes[g.Hole].At.Distance(v.Holes[h].At) < sharers {
			rods++
		}
	}
	r := e.filter.Rate(v.Holes[h].At, rods).Mean
	e.rates[h] = r
	return r
}

func (e *engine) Guest(v *way.View, rod int) way.Order {
	g := v.Guests[rod]
	if e.err != nil {
		return way.Order{Do: way.Wait}
	}
	e.filter.At(e.at(v.Now))
	here := 0.0
	if g.Fishing {
		if v.Now-g.Since < leastSit || v.Now < e.ask[rod] || e.biting(v, g) {
			return way.Order{Do: way.Stay}
		}
		e.ask[rod] = v.Now + leastSit // the sit clock's shortest
		here = clearly*e.rateAt(v, g.Hole) + worthWalk
	}
	best, bestRate := -1, here
	const newest = 24 // older holes are hardly ever worth the walk
	for h := max(0, len(v.Holes)-newest); h < len(v.Holes); h++ {
		if v.Holes[h].Rod != way.Scout || v.Now-v.Holes[h].Used > openFor {
			continue
		}
		move := time.Duration(float64(g.At.Distance(v.Holes[h].At))/float64(e.b.Walk)*float64(time.Second)) + setUp
		const pays = 20 * time.Minute // over which a move must pay
		if left := 1 - move.Seconds()/pays.Seconds(); left > 0 {
			if r := left * e.rateAt(v, h); r > bestRate || !g.Fishing && best < 0 {
				best, bestRate = h, r
			}
		}
	}
	switch {
	case best >= 0:
		delete(e.rates, best) // the next guest sees the promise
		return way.Order{Do: way.Move, Hole: best}
	case g.Fishing:
		return way.Order{Do: way.Stay}
	}
	return way.Order{Do: way.Wait}
}

// biting tells whether a guest has fish under him that feed.
func (e *engine) biting(v *way.View, g way.Guest) bool {
	for _, k := range e.filter.Schools() {
		if k.At.Distance(g.At) < sharers && k.Feeding > 0.6 && e.at(v.Now).Sub(k.LastSeen) < 90*time.Second {
			return true
		}
	}
	return false
}

// surfaceOf makes the depth surface that an outfit would have of a lake: its chart, read on a grid of 100 m.
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
