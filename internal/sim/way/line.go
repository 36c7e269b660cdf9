package way

import (
	"math"
	"math/rand/v2"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// Pattern is the setting of a rule of thumb: a line of holes, how long guests sit, and what a hit changes.
type Pattern struct {
	Spacing  quantity.Length // of the line
	Blank    time.Duration   // sit at a hole that shows nothing
	Marked   time.Duration   // sit once marks were seen
	PerCatch time.Duration   // sit after each fish
	Turns    int             // holes of the spiral round a hit; 0: the line goes on
	Ring     quantity.Length // hole k of the spiral lies at ring x sqrt(k)
	Scatter  bool            // holes anywhere instead of on a line
	Look     time.Duration   // the scout's, at each hole
}

// Rule is the trade's rule: a hole every 50 ft, fifteen minutes, 30 to 45 once marks show, everybody called over to a
// guest who catches two in ten minutes (common practice, no source).
func Rule() Way {
	return &line{Pattern: Pattern{Spacing: 50 * quantity.Foot, Blank: 15 * time.Minute, Marked: 37 * time.Minute, PerCatch: 15 * time.Minute}}
}

// TunedRule is the same rule with the spacing and the patience that did best on tuning days.
func TunedRule() Way {
	return &line{Pattern: Pattern{Spacing: 30 * quantity.Metre, Blank: 5 * time.Minute, Marked: 37 * time.Minute, PerCatch: 15 * time.Minute}}
}

// SpiralRule walks a wide line until a hit, then a spiral round it: the rival to beat, and the fallback without a model.
func SpiralRule() Way { return &line{Pattern: spiralPattern()} }

func spiralPattern() Pattern {
	return Pattern{Spacing: 60 * quantity.Metre, Blank: 5 * time.Minute, Marked: 15 * time.Minute, PerCatch: 10 * time.Minute,
		Turns: 16, Ring: 25 * quantity.Metre}
}

// Random drills anywhere in the season's depth, looks, and sits on marks.
func Random() Way {
	return &line{Pattern: Pattern{Scatter: true, Blank: 5 * time.Minute, Marked: 37 * time.Minute, PerCatch: 15 * time.Minute, Look: 30 * time.Second}}
}

// Custom makes a rule of any setting, for tuning.
func Custom(p Pattern) Way { return &line{Pattern: p} }

// sitting is what a rule remembers of a hole.
type sitting struct {
	fished  bool // or on the way to be
	marked  bool
	catches []time.Duration
}

// line is a party that follows a pattern.
type line struct {
	Pattern
	b       Briefing
	lots    *rand.Rand
	holes   map[int]*sitting
	last    geo.Local // newest hole of the line
	begun   bool
	bearing quantity.Bearing
	centre  geo.Local // of the spiral
	turn    int       // holes of the spiral drilled; 0 when none runs
	hot     int       // hole to which all are called, -1 none
	hotAt   time.Duration
	drilled []geo.Local
}

// calling is how a guest earns a call: so many fish within so long. It holds as long after his last fish.
const (
	callFish = 2
	callTime = 10 * time.Minute
	callNear = 16.0 // m
)

func (w *line) Begin(b Briefing) geo.Local {
	w.b, w.lots = b, num.NewStream(b.Seed, "line")
	w.holes, w.drilled = map[int]*sitting{}, nil
	w.begun, w.turn, w.hot = false, 0, -1
	w.bearing = quantity.NewBearing(360 * w.lots.Float64())
	return b.Start
}

func (w *line) End() {}

func (w *line) at(hole int) *sitting {
	s := w.holes[hole]
	if s == nil {
		s = &sitting{}
		w.holes[hole] = s
	}
	return s
}

func (w *line) Looked(l Look) {
	if l.Count > 0 && !w.at(l.Hole).marked {
		w.at(l.Hole).marked = true
		w.hit(l.At)
	}
}

func (w *line) Caught(c Catch) {
	if !c.Landed {
		return
	}
	s := w.at(c.Hole)
	if len(s.catches) == 0 && !s.marked {
		w.hit(c.At)
	}
	s.marked = true
	s.catches = append(s.catches, c.When)
	if n := len(s.catches); n >= callFish && c.When-s.catches[n-callFish] <= callTime {
		w.hot, w.hotAt = c.Hole, c.When
	}
}

// hit begins the spiral anew round a place.
func (w *line) hit(p geo.Local) {
	if w.Turns > 0 {
		w.centre, w.turn = p, 1
	}
}

// calledTo gives the place where fish bite well, when there is one.
func (w *line) calledTo(v *View) (geo.Local, bool) {
	if w.hot < 0 || v.Now-w.hotAt > callTime {
		return geo.Local{}, false
	}
	return v.Holes[w.hot].At, true
}

// waiting counts holes that nobody has fished, near a place when one is given.
func (w *line) waiting(v *View, near *geo.Local) int {
	n := 0
	for h := range v.Holes {
		if !w.at(h).fished && !v.Shut(h) && (near == nil || v.Holes[h].At.Distance(*near) < callNear) {
			n++
		}
	}
	return n
}

func (w *line) Scout(v *View) Order {
	const ahead = 3
	if hot, ok := w.calledTo(v); ok {
		away := 0
		for _, g := range v.Guests {
			if g.At.Distance(hot) > callNear && (g.Hole < 0 || v.Holes[g.Hole].At.Distance(hot) > callNear) {
				away++
			}
		}
		if away > w.waiting(v, &hot) {
			for k := 1; k <= 12; k++ {
				if p := turned(hot, k, 4); w.open(p, 3) {
					return w.drill(p)
				}
			}
		}
	}
	if w.waiting(v, nil) >= ahead {
		return Order{Do: Wait}
	}
	return w.drill(w.next())
}

func (w *line) drill(p geo.Local) Order {
	w.drilled = append(w.drilled, p)
	return Order{Do: Drill, At: p, Look: w.Look}
}

// turned is point k of a golden-angle spiral.
func turned(about geo.Local, k int, ring float64) geo.Local {
	r, a := ring*math.Sqrt(float64(k)), 2.4*float64(k)
	return about.Add(geo.Local{E: r * math.Sin(a), N: r * math.Cos(a)})
}

// open tells whether a new hole may be drilled there.
func (w *line) open(p geo.Local, apartM float64) bool {
	if !w.b.Inside(p) {
		return false
	}
	for _, q := range w.drilled {
		if float64(p.Distance(q)) < apartM {
			return false
		}
	}
	return true
}

// good tells whether the rule would put a hole there: in the band, away from crowds.
func (w *line) good(p geo.Local) bool {
	z := w.b.Chart(p)
	return z >= w.b.Low && z <= w.b.High && !w.b.Crowded(p, 60*quantity.Metre)
}

// next is the next hole of the spiral, or else of the line.
func (w *line) next() geo.Local {
	if w.Scatter && len(w.drilled) <= w.b.Rods { // something to fish in while the scout walks
		return turned(w.b.Start, len(w.drilled), 25)
	}
	if w.Scatter {
		var p geo.Local
		for range 50 {
			p = geo.Local{E: float64(w.b.Width) * w.lots.Float64(), N: float64(w.b.Height) * w.lots.Float64()}
			if w.good(p) {
				break
			}
		}
		return p
	}
	for w.turn > 0 && w.turn <= w.Turns {
		p := turned(w.centre, w.turn, float64(w.Ring))
		w.turn++
		if w.open(p, float64(w.Ring)/2) {
			w.last = p
			return p
		}
	}
	if w.turn > 0 {
		w.last, w.turn = w.centre, 0 // the spiral is done: the line goes on from its middle
	}
	if !w.begun {
		w.begun, w.last = true, w.b.Start
		return w.b.Start
	}
	return w.along()
}

// along goes on with the line, bent where it would leave the band, the area or its distance from crowds and old holes.
func (w *line) along() geo.Local {
	best, bestScore := w.last, math.Inf(-1)
	for turn := range 12 {
		side := float64(1 - 2*(turn%2))
		b := quantity.NewBearing(float64(w.bearing) + side*30*float64((turn+1)/2))
		for n := 1; n <= 12; n++ {
			p := w.last.Toward(b, w.Spacing*quantity.Length(n))
			score := -float64(turn) - 0.7*float64(n)
			if !w.good(p) {
				score -= 6
			}
			if !w.open(p, 0.7*float64(w.Spacing)) {
				continue
			}
			if score > bestScore {
				best, bestScore = p, score
			}
			break
		}
	}
	if best != w.last {
		w.bearing = w.last.BearingTo(best)
	}
	w.last = best
	return best
}

func (w *line) Guest(v *View, rod int) Order {
	g := v.Guests[rod]
	if g.Fishing && !w.tired(v, g) && !w.called(v, g) {
		return Order{Do: Stay}
	}
	if h := w.pick(v, g); h >= 0 {
		w.at(h).fished = true
		return Order{Do: Move, Hole: h}
	}
	if g.Fishing {
		return Order{Do: Stay}
	}
	return Order{Do: Wait}
}

// tired tells whether a guest's patience at his hole is over.
func (w *line) tired(v *View, g Guest) bool {
	s := w.at(g.Hole)
	until := g.Since + w.Blank
	if s.marked {
		until = g.Since + w.Marked
	}
	if n := len(s.catches); n > 0 {
		until = max(until, s.catches[n-1]+w.PerCatch)
	}
	return v.Now >= until
}

// called tells whether a guest leaves his own hole for the hot one: he is away from it and has not caught lately.
func (w *line) called(v *View, g Guest) bool {
	hot, ok := w.calledTo(v)
	if !ok || g.At.Distance(hot) < callNear {
		return false
	}
	s := w.at(g.Hole)
	if n := len(s.catches); n > 0 && v.Now-s.catches[n-1] < callTime {
		return false
	}
	return w.waiting(v, &hot) > 0
}

// pick chooses a hole that nobody has fished: one at the hot place first, then one with marks, then the nearest.
func (w *line) pick(v *View, g Guest) int {
	hot, called := w.calledTo(v)
	best, bestScore := -1, math.Inf(1)
	for h := range v.Holes {
		if w.at(h).fished || v.Shut(h) {
			continue
		}
		score := float64(v.Holes[h].At.Distance(g.At))
		if w.at(h).marked {
			score -= 1e4
		}
		if called && v.Holes[h].At.Distance(hot) < callNear {
			score -= 1e5
		}
		if score < bestScore {
			best, bestScore = h, score
		}
	}
	return best
}
