package plan

import (
	"math"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/engine/priors"
	"icehand/internal/trade/lake"
)

// twoHumps is a made-up truth: schools by m2, rich about two middles, one richer than the other, poor elsewhere.
func twoHumps(p geo.Local) float64 {
	hump := func(m geo.Local, height float64) float64 {
		d := float64(p.Distance(m))
		return height * math.Exp(-d*d/(2*150*150))
	}
	base := priors.Of(priors.Mid).Density
	return base * (0.4 + hump(geo.Local{E: -500, N: 300}, 8) + hump(geo.Local{E: 500, N: -300}, 4))
}

// Recovery: six days of random looks on a map that is known, 2.4 times as rich as the prior; the next morning the odds must
// rank the great hump over the small one over the rest, and from the fourth day on call looks as often as they come true.
func TestRecoversTwoHumps(t *testing.T) {
	ranked, days := 0, 0
	predicted, seen, n := 0.0, 0.0, 0.0
	variance := 0.0
	for seed := range uint64(12) {
		rng := num.NewStream(seed, "humps")
		f := fresh(t)
		d := f.depthAt(geo.Local{})
		area := f.par.LookWorth * f.par.Detect * f.sweep(f.radius(d), look)
		for day := range 6 {
			start := t0.AddDate(0, 0, day)
			for i := range 120 {
				p := geo.Local{E: rng.Float64()*1800 - 900, N: rng.Float64()*1200 - 600}
				when := start.Add(time.Duration(i) * 4 * time.Minute)
				f.At(when)
				o := f.Odds(p, look)
				hit := rng.Float64() < -math.Expm1(-twoHumps(p)*area)
				if day >= 3 && o.Known < 0.02 && f.shadows.Left(p, when) > 0.98 { // the truth of this test has neither schools that stay nor shadows
					predicted += o.P
					variance += o.P * (1 - o.P)
					n++
					if hit {
						seen++
					}
				}
				l := Look{At: p, When: when, Length: look}
				if hit {
					l.Marks = lake.Many
				}
				f.Look(l)
			}
			f.Night()
		}
		f.At(t0.AddDate(0, 0, 6))
		great, small, rest := f.Odds(geo.Local{E: -500, N: 300}, look).P, f.Odds(geo.Local{E: 500, N: -300}, look).P, f.Odds(geo.Local{E: 0, N: 550}, look).P
		days++
		if great > small && small > rest {
			ranked++
		}
	}
	if ranked < days*3/4 {
		t.Errorf("humps ranked right on %d of %d maps", ranked, days)
	}
	t.Logf("ranked right on %d of %d maps; of %.0f looks %.1f were expected to show marks, %.0f did", ranked, days, n, predicted, seen)
	// three standard deviations of independent looks, and 10 % for a truth that the prior did not draw
	if math.Abs(predicted-seen) > 3*math.Sqrt(variance)+0.1*seen {
		t.Errorf("of %.0f looks %.1f were expected to show marks, %.0f did", n, predicted, seen)
	}
}

// The model leads a constant rate where places differ, and is found out where its map is turned upside down.
func TestTallyFindsOutAWrongMap(t *testing.T) {
	run := func(sign float64) float64 {
		s := priors.Of(priors.Mid)
		var sketch []Sketch
		// the guide's rings: the west half always, the east half never; the truth follows or contradicts them
		sketch = append(sketch, Sketch{Weight: 3, Area: geo.Polygon{Outer: []geo.Local{{E: -900, N: -600}, {E: 0, N: -600}, {E: 0, N: 600}, {E: -900, N: 600}}}},
			Sketch{Weight: -3, Area: geo.Polygon{Outer: []geo.Local{{E: 0, N: -600}, {E: 900, N: -600}, {E: 900, N: 600}, {E: 0, N: 600}}}})
		fresh(t)
		f := NewFilter(pondOf, s, Default(s), sketch)
		rng := num.NewStream(9, "wrong")
		for i := range 60 {
			p := geo.Local{E: rng.Float64()*1800 - 900, N: rng.Float64()*1200 - 600}
			l := Look{At: p, When: t0.Add(time.Duration(i) * 5 * time.Minute), Length: look}
			if p.E*sign < 0 && rng.Float64() < 0.3 {
				l.Marks = lake.Many
			}
			f.Look(l)
		}
		r := f.Tally()
		return r.Gain()
	}
	right, wrong := run(1), run(-1)
	t.Logf("gain over a constant rate: right map %.1f, wrong map %.1f", right, wrong)
	if right < 1 || wrong > -1 {
		t.Errorf("right map %.2f, wrong map %.2f", right, wrong)
	}
}
