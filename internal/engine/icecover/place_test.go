package icecover

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/ice"
	"icehand/internal/stats/field"
)

const cm = quantity.Centimetre

// With one range the field is kriging with a known mean, as stats/field solves it in its own way.
func TestFieldIsKriging(t *testing.T) {
	s := UsualScatter()
	s.Near, s.Short = 0, 0
	rng := num.NewStream(3, "kriging")
	var holes []Hole
	var data []field.Datum
	for range 30 {
		h := Hole{geo.Local{E: 2000 * rng.Float64(), N: 2000 * rng.Float64()}, quantity.Length(30+10*rng.Float64()) * cm}
		holes = append(holes, h)
		data = append(data, field.Datum{At: h.At, Value: h.Effective.Metres() - 0.33, Noise: square(s.Hole.Metres())})
	}
	f := NewField(33*cm, holes, s)
	other, err := field.Solve(field.Model{Shape: field.Exponential, Sill: square(s.Long.Metres()), Range: s.LongRange}, data, nil)
	if err != nil {
		t.Fatal(err)
	}
	for range 50 {
		p := geo.Local{E: 2500 * rng.Float64(), N: 2500 * rng.Float64()}
		mean, variance := other.At(p, nil)
		got := f.At(p, 0)
		if math.Abs(got.Middle.Metres()-0.33-mean) > 1e-9 || math.Abs(got.Spread.Metres()-math.Sqrt(variance)) > 1e-9 {
			t.Fatalf("%v: %v ± %v, kriging says %v ± %v", p, got.Middle, got.Spread, 0.33+mean, math.Sqrt(variance))
		}
		if got.Low > got.Middle {
			t.Fatalf("the low end %v lies above the middle %v", got.Low, got.Middle)
		}
	}
}

// Weights worked out together, at the field's own holes, at holes that were left out of it and elsewhere, give the answers
// of asking one by one, to a millionth of a millimetre: the sums are the same in another order.
func TestWeighIsAt(t *testing.T) {
	rng := num.NewStream(5, "weigh")
	for range 60 {
		span := math.Exp(2 + 6*rng.Float64())
		place := func() geo.Local { return geo.Local{E: span * rng.Float64(), N: span * rng.Float64()} }
		var holes []Hole
		var places []geo.Local
		for range rng.IntN(mostHoles + 60) {
			h := Hole{place(), quantity.Length(15+rng.IntN(30)) * cm}
			if len(holes) > 0 && rng.IntN(20) == 0 {
				h.At = holes[0].At // read twice
			}
			holes, places = append(holes, h), append(places, h.At)
		}
		for range rng.IntN(7) {
			places = append(places, place())
		}
		rng.Shuffle(len(places), func(i, j int) { places[i], places[j] = places[j], places[i] })
		f := NewField(30*cm, holes, UsualScatter())
		weighed := f.Weigh(places)
		f = f.About(quantity.Length(20+20*rng.Float64()) * cm)
		for _, p := range append(places, place()) {
			a, b := f.At(p, 30), f.AtWeighed(p, 30, weighed)
			if d := max(math.Abs(float64(a.Middle-b.Middle)), math.Abs(float64(a.Low-b.Low)), math.Abs(float64(a.Spread-b.Spread))); !(d < 1e-9) {
				t.Fatalf("%d holes, %v: %+v one by one, %+v together", len(holes), p, a, b)
			}
		}
	}
}

// A hole thinner than all others, and a lower reference, never lift the low end anywhere.
func TestThinHoleNeverLifts(t *testing.T) {
	rng := num.NewStream(4, "thin hole")
	for range 3000 {
		span := math.Exp(2 + 6*rng.Float64()) // holes 7 m to 3 km apart
		place := func() geo.Local { return geo.Local{E: span * rng.Float64(), N: span * rng.Float64()} }
		reference, least := quantity.Length(20+20*rng.Float64())*cm, quantity.Length(math.Inf(1))
		var holes []Hole
		for range 1 + rng.IntN(8) {
			h := Hole{place(), quantity.Length(15+30*rng.Float64()) * cm}
			least = min(least, h.Effective)
			holes = append(holes, h)
		}
		before, p := NewField(reference, holes, UsualScatter()), place()
		more := append(holes, Hole{place(), least - quantity.Length(10*rng.Float64())*cm})
		lower := reference - quantity.Length(3*rng.Float64())*cm
		near := quantity.Length(math.Inf(1))
		for _, h := range holes {
			near = min(near, quantity.Length(h.At.Distance(p)))
		}
		if after := NewField(lower, more, UsualScatter()); before.At(p, near).Low < after.At(p, near).Low-1e-9 {
			t.Fatalf("span %.0f m, counted within %v, holes %v: low end %v became %v", span, near, more, before.At(p, near).Low, after.At(p, near).Low)
		}
		if a, b := before.At(p, 0).Low, NewField(lower, more, UsualScatter()).At(p, 0).Low; b > a+1e-9 {
			t.Fatalf("span %.0f m, reference %v to %v, holes %v: low end %v became %v", span, reference, lower, more, a, b)
		}
	}
}

// Holes narrow the field near them and say nothing far away; without holes the reference and the whole scatter are left.
func TestFieldNearAndFar(t *testing.T) {
	s := UsualScatter()
	f := NewField(30*cm, []Hole{{geo.Local{}, 36 * cm}, {geo.Local{E: 5}, 36 * cm}, {geo.Local{N: 5}, 36 * cm}}, s)
	here, far, none := f.At(geo.Local{E: 2}, 0), f.At(geo.Local{E: 30_000}, 0), NewField(30*cm, nil, s).At(geo.Local{}, 0)
	all := quantity.Length(math.Sqrt(s.variance()))
	if !(here.Middle > 34*cm && here.Middle < 36*cm && here.Spread < 2*cm) {
		t.Errorf("beside three holes: %+v", here)
	}
	for _, x := range []Spot{far, none} {
		if math.Abs(x.Middle.Metres()-0.30) > 1e-6 || math.Abs((x.Spread-all).Metres()) > 1e-6 || math.Abs(x.Low.Metres()-(0.30-lowSigma*all.Metres())) > 1e-6 {
			t.Errorf("far from any hole: %+v", x)
		}
	}
	if low := NewField(3*cm, nil, s).At(geo.Local{}, 0).Low; low != 0 {
		t.Errorf("below nothing: %v", low)
	}
	if two := NewField(30*cm, []Hole{{geo.Local{}, 30 * cm}, {geo.Local{}, 34 * cm}}, Scatter{Short: 1, ShortRange: 10, LongRange: 100}).At(geo.Local{}, 0); math.IsNaN(two.Middle.Metres()) {
		t.Errorf("two exact holes at one place: %+v", two)
	}
}

// drawn makes holes of some days from a known scatter.
func drawn(s Scatter, days, perDay int, seed uint64) []Sample {
	rng := num.NewStream(seed, "drawn")
	var out []Sample
	var at []geo.Local
	for d := range days {
		base := geo.Local{E: 3000 * rng.Float64(), N: 3000 * rng.Float64()}
		for k := range perDay { // as a guide drills: some far out, most close together
			reach := 40.0
			if k%4 == 0 {
				reach = 500
			}
			p := base.Add(geo.Local{E: reach * rng.NormFloat64(), N: reach * rng.NormFloat64()})
			at, out = append(at, p), append(out, Sample{Day: fmt.Sprint(d), At: p})
		}
	}
	l := s.factor(at, nil)
	z := make([]float64, len(at))
	for i := range z {
		z[i] = rng.NormFloat64()
		for k := range i + 1 {
			out[i].Effective += quantity.Length(l[i][k] * z[k])
		}
		out[i].Effective += 0.4
	}
	return out
}

// Ranges drawn as the estimate believes they lie come back closer than the belief alone would have them; but
// not by much: a hundred holes on nine days tell little of them. Spreads are only widened.
func TestRefit(t *testing.T) {
	if s, n := Refit(drawn(UsualScatter(), 10, 6, 1)); n != 0 || s != UsualScatter() {
		t.Errorf("sixty holes: %+v from %d", s, n)
	}
	rng := num.NewStream(5, "ranges")
	const draws = 24
	short, long, wider := 0.0, 0.0, 0.0
	for seed := range uint64(draws) {
		truth := UsualScatter()
		truth.ShortRange *= quantity.Length(math.Exp(rangeDoubt * rng.NormFloat64()))
		truth.LongRange *= quantity.Length(math.Exp(rangeDoubt * rng.NormFloat64()))
		truth.Hole, truth.Short, truth.Long = 2*truth.Hole, 2*truth.Short, 2*truth.Long
		s, n := Refit(drawn(truth, 12, 12, seed))
		if n != mostRefit {
			t.Fatalf("%d holes used", n)
		}
		short += square(math.Log(float64(s.ShortRange/truth.ShortRange))) / draws
		long += square(math.Log(float64(s.LongRange/truth.LongRange))) / draws
		wider += float64(s.Hole/truth.Hole) / draws
	}
	short, long = math.Sqrt(short), math.Sqrt(long)
	t.Logf("logs off by %.2f and %.2f, spread %.2f of the truth", short, long, wider)
	if short > rangeDoubt || long > rangeDoubt || math.Abs(wider-1) > 0.1 {
		t.Errorf("logs off by %.2f and %.2f, believed %.2f; spread %.2f", short, long, rangeDoubt, wider)
	}
	calm := UsualScatter()
	calm.Hole, calm.Short, calm.Long = calm.Hole/4, calm.Short/4, calm.Long/4
	if s, _ := Refit(drawn(calm, 12, 12, 9)); s.Hole < UsualScatter().Hole || s.Long < UsualScatter().Long {
		t.Errorf("the spread was narrowed: %+v", s)
	}
}

func TestZones(t *testing.T) {
	if Within(LeeReach) != Lee || Within(LeeReach+1) != Windward || len(Zones(false)) != 2 || len(Zones(true)) != 3 {
		t.Error("lee")
	}
	if ZoneAt(199*quantity.Metre, true) != Shore || ZoneAt(200*quantity.Metre, true) != Open || ZoneAt(900*quantity.Metre, false) != Shore {
		t.Error("zones")
	}
}

// A second hole like the first makes the place surer, and a thicker one far off takes nothing away.
func TestHolesAlike(t *testing.T) {
	low := func(holes ...Hole) float64 {
		return NewField(18*cm, holes, UsualScatter()).At(geo.Local{}, 30).Low.Centimetres()
	}
	a, b, c, far := Hole{geo.Local{N: 5}, 18 * cm}, Hole{geo.Local{E: 8}, 18 * cm}, Hole{geo.Local{E: -8}, 18 * cm}, Hole{geo.Local{E: 500}, 18.1 * cm}
	one, three := low(a), low(a, b, c)
	if math.Abs(one-14.3) > 0.1 || math.Abs(three-15.1) > 0.1 || low(a, b, c, far) < three {
		t.Errorf("one %.2f cm, three %.2f cm, with one far off %.2f", one, three, low(a, b, c, far))
	}
}

// plateWeights are places and weights of what a load feels of the ice about it: the deflection's influence out to two
// characteristic lengths of 4 m, that of 18 cm.
func plateWeights() (at []geo.Local, weight []float64) {
	const l = 4.0
	for _, ring := range []struct{ r, share float64 }{{0, 0.06}, {0.5, 0.5}, {1, 1}, {2, 1.5}} {
		n := 6
		if ring.r == 0 {
			n = 1
		}
		for k := range n {
			a := (float64(k) + ring.r) * math.Pi / 3
			at = append(at, geo.Local{E: l * ring.r * math.Cos(a), N: l * ring.r * math.Sin(a)})
			weight = append(weight, ring.share*ice.Influence(ring.r)/float64(n))
		}
	}
	return at, weight
}

// The figure against a finer truth: dunes of 2.5 cm with a range of 5 m, which holes read point by point with an error of a
// centimetre, to the whole centimetre, and of which a load feels the mean. It should hold 0.95 of the time near a hole and far from it.
func TestFigureHoldsOverDunes(t *testing.T) {
	usual := UsualScatter()
	fine := Scatter{Near: 2.5 * cm, NearRange: 5, Short: usual.Short, ShortRange: usual.ShortRange, Long: usual.Long, LongRange: usual.LongRange}
	plate, weight := plateWeights()
	all := 0.0
	for _, w := range weight {
		all += w
	}
	for _, distance := range []float64{0, 5, 15, 29} {
		rng := num.NewStream(8, "dunes")
		const draws = 1500
		held, below := 0, 0.0
		for range draws {
			at := append(slices.Clone(plate), geo.Local{E: distance})
			for range rng.IntN(6) {
				r, a := math.Max(distance, 60*rng.Float64()), 2*math.Pi*rng.Float64()
				at = append(at, geo.Local{E: r * math.Cos(a), N: r * math.Sin(a)})
			}
			l := fine.factor(at, nil)
			z, truth, holes, least := make([]float64, len(at)), 0.30, []Hole(nil), quantity.Length(1)
			for i := range at {
				z[i] = rng.NormFloat64()
				here := 0.0
				for k := range i + 1 {
					here += l[i][k] * z[k]
				}
				if i < len(plate) {
					truth += here * weight[i] / all
					continue
				}
				h := Hole{at[i], quantity.Length(math.Round((0.30+here+0.0103*rng.NormFloat64())*100) / 100)}
				holes = append(holes, h)
				if h.At.Distance(geo.Local{}) <= 30 {
					least = min(least, h.Effective)
				}
			}
			figure := min(least, NewField(30*cm, holes, usual).At(geo.Local{}, 30).Low)
			if truth >= figure.Metres() {
				held++
			}
			below += (least - figure).Centimetres() / draws
		}
		share := float64(held) / draws
		t.Logf("nearest hole %v m off: the figure holds %.3f of the time, %.1f cm below the thinnest hole that counts", distance, share, below)
		if share < 0.93 || share > 0.98 {
			t.Errorf("nearest hole %v m off: the figure holds %.3f of the time", distance, share)
		}
	}
}

// The ice of a place lies at or above the low end as often as that says: drawn from the scatter itself about a known
// zone, with the errors that holes have. The least over the thickest holes makes it a little rarer to fail.
func TestLowEndHolds(t *testing.T) {
	s := UsualScatter()
	rng := num.NewStream(6, "low end")
	held, n, slack := 0, 2000, 0.0
	for range n {
		at := []geo.Local{{E: 40 * rng.NormFloat64(), N: 40 * rng.NormFloat64()}}
		for range 1 + rng.IntN(12) {
			reach := 20.0
			if rng.IntN(3) == 0 {
				reach = 600
			}
			at = append(at, geo.Local{E: reach * rng.NormFloat64(), N: reach * rng.NormFloat64()})
		}
		smooth := s
		smooth.Hole = 0
		l := smooth.factor(at, nil)
		z, truth := make([]float64, len(at)), make([]float64, len(at))
		for i := range at {
			z[i] = rng.NormFloat64()
			for k := range i + 1 {
				truth[i] += l[i][k] * z[k]
			}
		}
		var holes []Hole
		for i := 1; i < len(at); i++ {
			holes = append(holes, Hole{at[i], quantity.Length(0.40 + truth[i] + s.Hole.Metres()*rng.NormFloat64())})
		}
		spot := NewField(40*cm, holes, s).At(at[0], 0)
		if 0.40+truth[0] >= spot.Low.Metres() {
			held++
		}
		slack += (spot.Middle - spot.Low).Centimetres() / float64(n)
	}
	t.Logf("the low end holds %.3f of the time, %.1f cm below the middle", float64(held)/float64(n), slack)
	if share := float64(held) / float64(n); share < 0.94 || share > 0.99 {
		t.Errorf("the low end holds %.3f of the time", share)
	}
}

// A thin hole over a spring a kilometre off takes a centimetre away; the same hole beside the place takes several times
// as much, and there it counts itself.
func TestThinHoleFarOff(t *testing.T) {
	here := Hole{geo.Local{}, 90 * cm}
	low := func(holes ...Hole) float64 {
		return NewField(90*cm, holes, UsualScatter()).At(geo.Local{}, 0).Low.Centimetres()
	}
	alone, far, near := low(here), low(here, Hole{geo.Local{E: 1100}, 9 * cm}), low(here, Hole{geo.Local{E: 10}, 9 * cm})
	if !(far < alone && alone-far < 3 && alone-near > 3*(alone-far)) {
		t.Errorf("alone %.1f, thin far off %.1f, thin beside it %.1f", alone, far, near)
	}
}
