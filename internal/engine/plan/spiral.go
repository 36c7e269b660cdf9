package plan

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// LineAndSpiral is the way of searching that needs no model: a line of holes until a hit, then a spiral of holes round
// it. It is what the odds must beat, and what is advised while they do not.
type LineAndSpiral struct {
	Spacing quantity.Length  // along the line; 0: 60 m
	Ring    quantity.Length  // of the spiral: hole k lies at ring x sqrt(k); 0: 25 m
	Turns   int              // holes of a spiral before the line goes on; 0: 16
	Bearing quantity.Bearing // of the line
}

// Looked is one look of today, in order of time.
type Looked struct {
	At   geo.Local
	When time.Time
	Hit  bool // marks or fish
}

// goldenAngle in radians puts each hole of a spiral into the widest gap of those before; 2.4 is the usual rounding.
const goldenAngle = 2.4

// Next gives the next hole after today's looks, starting at start when there are none. ok says whether a place may be
// used; places that may not are passed over. known is false when none within a thousand tries may.
func (s LineAndSpiral) Next(start geo.Local, looks []Looked, ok func(geo.Local) bool) (p geo.Local, spiral bool, known bool) {
	if s.Spacing == 0 {
		s.Spacing = 60 * quantity.Metre
	}
	if s.Ring == 0 {
		s.Ring = 25 * quantity.Metre
	}
	if s.Turns == 0 {
		s.Turns = 16
	}
	hit := -1
	for i, l := range looks {
		if l.Hit {
			hit = i
		}
	}
	if since := len(looks) - 1 - hit; hit >= 0 && since < s.Turns {
		for k := since + 1; k <= s.Turns; k++ {
			if p := s.Hole(looks[hit].At, k); ok(p) && !near(looks, p, float64(s.Ring)/2) {
				return p, true, true
			}
		}
	}
	if len(looks) == 0 {
		if ok(start) {
			return start, false, true
		}
	} else {
		start = looks[len(looks)-1].At
		if hit >= 0 {
			start = looks[hit].At // the spiral is done: the line goes on from its middle
		}
	}
	// the line first, then bent by steps of 30 degrees to either side where it may not go on
	for turn := range 7 {
		for _, side := range []float64{1, -1} {
			b := quantity.NewBearing(float64(s.Bearing) + side*30*float64(turn))
			for n := 1; n <= 40; n++ {
				if p := start.Toward(b, s.Spacing*quantity.Length(n)); ok(p) && !near(looks, p, float64(s.Spacing)*0.6) {
					return p, false, true
				} else if n >= 3 && turn < 6 && len(looks) < 40 {
					break
				}
			}
		}
	}
	return geo.Local{}, false, false
}

// Hole gives hole k = 1, 2, ... of the spiral round a hit.
func (s LineAndSpiral) Hole(about geo.Local, k int) geo.Local {
	return spiralPoint(about, float64(s.Ring), k)
}

// spiralPoint gives point k = 0, 1, ... of a spiral.
func spiralPoint(about geo.Local, ringM float64, k int) geo.Local {
	// (PLAN-48) radius ring x sqrt(k), angle 2.4 k
	r, a := ringM*math.Sqrt(float64(k)), goldenAngle*float64(k)
	return about.Add(geo.Local{E: r * math.Sin(a), N: r * math.Cos(a)})
}

// near tells whether a look was made within a distance of p.
func near(looks []Looked, p geo.Local, withinM float64) bool {
	for _, l := range looks {
		if float64(l.At.Distance(p)) < withinM {
			return true
		}
	}
	return false
}
