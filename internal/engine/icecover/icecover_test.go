package icecover

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/ice"
	"icehand/internal/stats/ensemble"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

const oneDay = 24 * time.Hour

var (
	began   = time.Date(2025, 11, 20, 0, 0, 0, 0, time.UTC)
	options = Options{FreezeUp: began.AddDate(0, 0, 8), Start: began, Seed: 7}
)

// steady is a winter of frost with some snow.
func steady(days int) []ice.Weather {
	out := make([]ice.Weather, days)
	for d := range out {
		out[d] = ice.Weather{Air: quantity.Celsius(-9 + 4*math.Sin(float64(d))), Span: oneDay}
		if d%4 == 0 {
			out[d].Snowfall = 3
		}
	}
	return out
}

// hole is a full reading on a day at noon.
func hole(day int, eastM float64, totalCM, whiteCM, snowCM, waterCM float64) *lake.IceReading {
	when := began.AddDate(0, 0, day).Add(12 * time.Hour)
	cm := quantity.Centimetre
	return &lake.IceReading{
		When: when, Day: journal.DayOf(when, time.UTC), Placed: true, At: geo.Local{E: eastM}, Total: quantity.Length(totalCM) * cm,
		White: quantity.Length(whiteCM) * cm, Snow: quantity.Length(snowCM) * cm, Water: quantity.Length(waterCM) * cm, WhiteTold: true, SnowTold: true, WaterTold: true,
	}
}

func run(t *testing.T, days int, readings ...*lake.IceReading) *Cover {
	t.Helper()
	c, _, err := Run(context.Background(), options, steady(days), readings)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The members have the means and spreads that were asked for, and depend on the seed alone.
func TestPrior(t *testing.T) {
	c, d := New(options), New(options)
	for p, b := range prior {
		x := c.members.Variable(lnAir + p)
		if m, s := ensemble.Mean(x), ensemble.Spread(x); math.Abs(m-b.middle) > 1e-9 || math.Abs(s-b.spread) > 1e-9 {
			t.Errorf("number %d: %g ± %g, want %g ± %g", p, m, s, b.middle, b.spread)
		}
		for i, y := range d.members.Variable(lnAir + p) {
			if y != x[i] {
				t.Fatal("same seed, other members")
			}
		}
	}
	other := options
	other.Seed++
	if New(other).members.Variable(lnAir)[0] == c.members.Variable(lnAir)[0] {
		t.Error("another seed, same members")
	}
}

func TestRunBasics(t *testing.T) {
	e := run(t, 60).Estimate()
	for name, r := range map[string]Range{"total": e.Total, "white": e.White, "snow": e.Snow, "effective": e.Effective} {
		if !(r.Low >= 0 && r.Low <= r.Middle && r.Middle <= r.High) {
			t.Errorf("%s: %+v", name, r)
		}
	}
	if e.Effective.Middle > e.Total.Middle || e.Deciding > e.Effective.Low || !e.At.Equal(began.AddDate(0, 0, 60)) {
		t.Errorf("%+v", e)
	}
	// holes make it surer and move it their way
	thin := run(t, 60, hole(50, 0, 22, 2, 8, 1), hole(50, 500, 21, 2, 8, 1), hole(50, 1000, 20, 2, 8, 1)).Estimate()
	thick := run(t, 60, hole(50, 0, 40, 2, 8, 1), hole(50, 500, 41, 2, 8, 1), hole(50, 1000, 42, 2, 8, 1)).Estimate()
	if thin.Total.Middle >= e.Total.Middle && thick.Total.Middle <= e.Total.Middle || thin.Total.Middle >= thick.Total.Middle-10*quantity.Centimetre {
		t.Errorf("without holes %v, thin %v, thick %v", e.Total, thin.Total, thick.Total)
	}
	if w := thin.Total; w.High-w.Low > (e.Total.High-e.Total.Low)/2 {
		t.Errorf("band %v after three holes, %v before", w, e.Total)
	}
}

// The order in which readings are handed in is of no matter, nor are readings from outside the weather.
func TestRunOrder(t *testing.T) {
	rs := []*lake.IceReading{hole(40, 0, 25, 2, 6, 1), hole(40, 50, 26, 2, 6, 1), hole(45, 300, 27, 3, 6, 1), hole(50, 0, 29, 3, 6, 1)}
	a := run(t, 60, rs...).Estimate()
	rng := num.NewStream(4, "order")
	for range 10 {
		shuffled := append([]*lake.IceReading{hole(70, 0, 99, 0, 0, 0), hole(-3, 0, 99, 0, 0, 0)}, rs...)
		rng.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		if b := run(t, 60, shuffled...).Estimate(); b != a {
			t.Fatalf("%+v, %+v", a, b)
		}
	}
}

// Steps cut at the reading, in days or in quarters: the same within what the column's own steps differ.
func TestRunSteps(t *testing.T) {
	var quarters []ice.Weather
	for _, w := range steady(60) {
		w.Span, w.Snowfall = w.Span/4, w.Snowfall/4
		quarters = append(quarters, w, w, w, w)
	}
	rs := []*lake.IceReading{hole(40, 0, 25, 2, 6, 1), hole(50, 0, 29, 3, 6, 1)}
	a := run(t, 60, rs...).Estimate()
	c, lessons, err := Run(context.Background(), options, quarters, rs)
	if err != nil || len(lessons) != 2 || lessons[0].Holes != 1 {
		t.Fatal(lessons, err)
	}
	b := c.Estimate()
	if math.Abs((a.Total.Middle-b.Total.Middle).Centimetres()) > 0.5 || math.Abs((a.Effective.Low-b.Effective.Low).Centimetres()) > 0.7 {
		t.Errorf("days %v, quarters %v", a.Total, b.Total)
	}
}

// Holes of one neighbourhood and day are one visit: ten of them make nothing surer than one of their mean.
func TestClusterIsOneVisit(t *testing.T) {
	var cluster []*lake.IceReading
	for i := range 10 {
		cluster = append(cluster, hole(50, 9*float64(i), 30+0.1*float64(i), 3, 8, 1))
	}
	many := run(t, 51, cluster...).Estimate()
	one := run(t, 51, hole(50, 0, 30.45, 3, 8, 1)).Estimate()
	apart := run(t, 51, hole(50, 0, 30.45, 3, 8, 1), hole(50, 101, 30.45, 3, 8, 1), hole(50, 300, 30.45, 3, 8, 1)).Estimate()
	if math.Abs((many.Total.Low - one.Total.Low).Centimetres()) > 0.01 {
		t.Errorf("ten near each other %+v, one %+v", many.Total, one.Total)
	}
	if apart.Total.High-apart.Total.Low >= 0.9*(one.Total.High-one.Total.Low) {
		t.Errorf("three apart %+v, one %+v", apart.Total, one.Total)
	}
	// without a place nobody knows: one visit a day
	for _, r := range cluster {
		r.Placed, r.At = false, geo.Local{}
	}
	if vs := visitsOf(cluster); len(vs) != 1 || vs[0].holes != 10 {
		t.Errorf("%d visits", len(vs))
	}
}

// A hole thinner than all others never raises the figure for decisions, whatever was drilled that day and that week.
func TestThinnerHoleNeverRaises(t *testing.T) {
	rng := num.NewStream(5, "thinner")
	held := 0
	for range 400 {
		day, total := 35+rng.IntN(20), 12+25*rng.Float64()
		var rs []*lake.IceReading
		thinnest := math.Inf(1)
		for k := range rng.IntN(5) {
			h := total + 2*rng.NormFloat64()
			rs = append(rs, hole(day, 60*float64(k)*float64(rng.IntN(4)), h, 0, 7, 1))
			thinnest = math.Min(thinnest, h)
		}
		if len(rs) == 0 || rng.IntN(2) == 0 {
			rs = append(rs, hole(day-4, 0, total, 0, 7, 1))
			thinnest = math.Min(thinnest, total)
		}
		decide := func(rs []*lake.IceReading) (quantity.Length, *Cover) {
			// at the moment of the last hole; from then on the members grow apart or together as they will
			half := steady(day + 1)
			half[day].Span /= 2
			c, _, err := Run(context.Background(), options, half, rs)
			if err != nil {
				t.Fatal(err)
			}
			var hs []quantity.Length
			for _, r := range rs {
				hs = append(hs, Worth(r).Thickness)
			}
			h, ok := ForDecision(c.Estimate(), hs)
			if !ok {
				t.Fatal("no figure")
			}
			return h, c
		}
		before, _ := decide(rs)
		more := hole(day, 60*float64(rng.IntN(6)), thinnest*(1-0.1*rng.Float64()), 0, 7, 1)
		after, c := decide(append(rs, more))
		if c.held > 0 {
			held++
		}
		if after > before+1e-12 {
			t.Errorf("%v before, %v after a hole of %v among %d: %.3f mm", before, after, more.Total, len(rs), (after-before).Metres()*1000)
		}
	}
	if held == 0 {
		t.Error("the rule was never needed: the cases are too tame")
	}
}

func TestForDecision(t *testing.T) {
	e := Estimate{Deciding: 0.25}
	nan := quantity.Length(math.NaN())
	for _, c := range []struct {
		name  string
		e     Estimate
		holes []quantity.Length
		want  quantity.Length
		ok    bool
	}{
		{"no hole", e, nil, 0, false},
		{"hole thicker", e, []quantity.Length{0.3, 0.4}, 0.25, true},
		{"one thinner is not averaged away", e, []quantity.Length{0.3, 0.12, 0.4}, 0.12, true},
		{"model thicker never lifts", Estimate{Deciding: 0.6}, []quantity.Length{0.3}, 0.3, true},
		{"parted", Estimate{Deciding: 0.25, Parted: true}, []quantity.Length{0.3}, 0, false},
		{"a hole unknown", e, []quantity.Length{0.3, nan}, 0, false},
	} {
		if h, ok := ForDecision(c.e, c.holes); h != c.want || ok != c.ok {
			t.Errorf("%s: %v %v", c.name, h, ok)
		}
	}
}

// Weather that nobody knows stops the run, with the cover as it was before.
func TestUnknownWeather(t *testing.T) {
	nan := math.NaN()
	for name, w := range map[string]ice.Weather{
		"air": {Air: quantity.Celsius(nan), Span: oneDay}, "snow": {Air: -5, Snowfall: quantity.SurfaceDensity(nan), Span: oneDay},
		"snow below zero": {Air: -5, Snowfall: -1, Span: oneDay}, "no span": {Air: -5}, "endless": {Air: quantity.Celsius(math.Inf(-1)), Span: oneDay}, "long": {Air: -5, Span: 25 * time.Hour},
	} {
		weather := steady(30)
		weather[20] = w
		c, _, err := Run(context.Background(), options, weather, nil)
		if err == nil || !c.Now().Equal(began.AddDate(0, 0, 20)) || c.Estimate() != run(t, 20).Estimate() {
			t.Errorf("%s: %v, at %v", name, err, c.Now())
		}
	}
}

// A context that ends stops the run.
func TestContext(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if c, _, err := Run(ctx, options, steady(30), nil); !errors.Is(err, context.Canceled) || !c.Now().Equal(began) {
		t.Errorf("%v at %v", err, c.Now())
	}
}

// Readings that cannot be are left out, and one far off is given less weight.
func TestBadReadings(t *testing.T) {
	none := run(t, 51).Estimate()
	for name, spoil := range map[string]func(*lake.IceReading){
		"below zero": func(r *lake.IceReading) { r.Total = -0.1 }, "open water": func(r *lake.IceReading) { r.Total = 0 }, "absurd": func(r *lake.IceReading) { r.Total = 3.1 },
		"not a number": func(r *lake.IceReading) { r.Total = quantity.Length(math.NaN()) }, "white": func(r *lake.IceReading) { r.White = -1 }, "snow": func(r *lake.IceReading) { r.Snow = 9 },
		"place": func(r *lake.IceReading) { r.At.E = math.NaN() },
	} {
		r := hole(50, 0, 30, 3, 8, 1)
		spoil(r)
		if e := run(t, 51, r).Estimate(); e != none {
			t.Errorf("%s counted", name)
		}
	}
	c, lessons, err := Run(context.Background(), options, steady(52), []*lake.IceReading{hole(50, 0, 30, 3, 8, 1), hole(51, 0, 90, 3, 8, 1)})
	if err != nil || len(lessons) != 2 || lessons[0].Tempered || !lessons[1].Tempered || lessons[1].Surprise < 3 {
		t.Fatalf("%+v %v", lessons, err)
	}
	if e := c.Estimate(); e.Total.Middle > 0.45 {
		t.Errorf("one slip of the pen made %v", e.Total)
	}
}

// Parted layers: the flag stands until a later day's hole finds none, and only the best layer counts.
func TestParted(t *testing.T) {
	r := hole(50, 0, 34, 10, 8, 0)
	r.Layered, r.Slush, r.Solid, r.SolidTold = true, true, 20*quantity.Centimetre, true
	e := run(t, 51, r, hole(50, 500, 30, 5, 8, 1)).Estimate()
	if !e.Parted || e.Effective.Middle > 0.26 || e.Slush == 0 {
		t.Errorf("%+v", e)
	}
	if e := run(t, 56, r, hole(55, 500, 32, 5, 8, 1)).Estimate(); e.Parted {
		t.Errorf("%+v", e)
	}
	if w := Worth(r); w.Thickness != 10*quantity.Centimetre {
		t.Errorf("thickest layer of 20 cm, not told apart: %v", w)
	}
	r.SolidTold = false
	if w := Worth(r); w.Thickness != 0 {
		t.Errorf("no layer told: %v", w)
	}
	wet := hole(50, 0, 30, 5, 8, -4)
	wet.Slush = true
	dry := run(t, 51, hole(50, 0, 30, 5, 8, 1)).Estimate()
	if e := run(t, 51, wet).Estimate(); e.Slush <= dry.Slush || e.Water.Middle >= dry.Water.Middle {
		t.Errorf("slush seen: %+v; not seen: %+v", e, dry)
	}
}

// A copy looks ahead and leaves the cover alone.
func TestCopy(t *testing.T) {
	c := run(t, 40, hole(35, 0, 24, 2, 6, 1))
	before := c.Estimate()
	d := c.Copy()
	for _, w := range steady(10) {
		if err := d.Advance(w); err != nil {
			t.Fatal(err)
		}
	}
	d.Learn([]*lake.IceReading{hole(50, 0, 30, 2, 6, 1)})
	if c.Estimate() != before || d.Estimate() == before || len(c.Trail()) >= len(d.Trail()) {
		t.Error("the copy is not apart")
	}
}

// A hole in ice that the members do not have yet starts them.
func TestHoleBeforeFreezeUp(t *testing.T) {
	late := Options{FreezeUp: began.AddDate(0, 0, 40), Start: began}
	c, _, err := Run(context.Background(), late, steady(30), []*lake.IceReading{hole(20, 0, 12, 1, 2, 1), hole(20, 500, 12, 1, 2, 1), hole(21, 0, 12, 1, 2, 1)})
	if err != nil {
		t.Fatal(err)
	}
	// nobody has ice: all agree on none, so nothing can be learned; the lesson must say how far off that is
	lessons := New(late).Learn([]*lake.IceReading{hole(20, 0, 12, 1, 2, 1)})
	if len(lessons) != 1 || !lessons[0].Tempered || c.Estimate().Total.Middle != 0 {
		t.Errorf("%+v %+v", lessons, c.Estimate().Total)
	}
	some := Options{FreezeUp: began.AddDate(0, 0, 20), Start: began}
	d, _, err := Run(context.Background(), some, steady(30), []*lake.IceReading{hole(20, 0, 4, 0, 0, 0.3), hole(20, 500, 4, 0, 0, 0.3)})
	if err != nil || d.Estimate().Total.Low <= 0 {
		t.Errorf("%v %+v", err, d.Estimate().Total)
	}
}

// No winter, however it is drilled, breaks a column or brings what is not a number.
func TestNothingBreaks(t *testing.T) {
	rng := num.NewStream(6, "breaks")
	for range 25 {
		c := New(options)
		for d := range 140 {
			w := ice.Weather{Air: quantity.Celsius(-8 + 9*rng.NormFloat64()), Snowfall: quantity.SurfaceDensity(2 * rng.ExpFloat64()), Span: oneDay}
			if err := c.Advance(w); err != nil {
				t.Fatal(err)
			}
			if rng.IntN(4) == 0 {
				c.Learn([]*lake.IceReading{wild(rng, d)})
			}
			e := c.Estimate()
			for _, r := range []Range{e.Total, e.White, e.Snow, e.Effective} {
				if !(r.Low >= 0 && r.Low <= r.High && r.High < 5) || math.IsNaN(e.Water.Middle.Metres()) || !(e.Deciding >= 0 && e.Deciding <= e.Effective.Low) {
					t.Fatalf("day %d: %+v", d, e)
				}
			}
		}
	}
}

func wild(rng *rand.Rand, d int) *lake.IceReading {
	r := hole(d, 1000*rng.Float64(), 80*rng.Float64(), 40*rng.Float64(), 50*rng.Float64(), 10*rng.NormFloat64())
	r.WhiteTold, r.SnowTold, r.WaterTold, r.Slush, r.Layered = rng.IntN(2) == 0, rng.IntN(2) == 0, rng.IntN(2) == 0, rng.IntN(5) == 0, rng.IntN(6) == 0
	r.Solid, r.SolidTold = r.Total/2, rng.IntN(2) == 0
	return r
}

// A season of 100 members: 170 days with a visit of three neighbourhoods a week; to stay below 50 ms.
func BenchmarkSeason100Members(b *testing.B) {
	weather := steady(170)
	var rs []*lake.IceReading
	for d := 30; d < 165; d += 7 {
		for k := range 3 {
			rs = append(rs, hole(d, 500*float64(k), 10+0.35*float64(d), 3, 8, 1))
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		c, lessons, err := Run(context.Background(), options, weather, rs)
		if err != nil || len(lessons) != len(rs) || c.Estimate().Total.Middle <= 0 {
			b.Fatal(err)
		}
	}
}

// The same in steps of six hours.
func BenchmarkSeason100MembersSixHourly(b *testing.B) {
	var weather []ice.Weather
	for _, w := range steady(170) {
		w.Span, w.Snowfall = w.Span/4, w.Snowfall/4
		weather = append(weather, w, w, w, w)
	}
	for b.Loop() {
		if _, _, err := Run(context.Background(), options, weather, nil); err != nil {
			b.Fatal(err)
		}
	}
}
