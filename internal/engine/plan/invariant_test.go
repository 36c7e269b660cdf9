package plan

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/priors"
	"icehand/internal/trade/lake"
)

// somewhere draws a place of the pond's middle.
func somewhere(t *rapid.T, label string) geo.Local {
	return geo.Local{E: float64(rapid.IntRange(-600, 600).Draw(t, label+" east")), N: float64(rapid.IntRange(-600, 600).Draw(t, label+" north"))}
}

// event is one drawn event, which any filter can take.
type event struct {
	kind  int
	at    geo.Local
	when  time.Time
	marks lake.Marks
	count int
}

func (e event) give(f *Filter) {
	switch e.kind {
	case 0:
		f.Look(Look{At: e.at, When: e.when, Length: look, Marks: e.marks})
	case 1:
		f.Sit(SitSpan{At: e.at, Rod: 1 + e.count%3, From: e.when.Add(-4 * time.Minute), To: e.when, Watched: e.count%2 == 0, Count: int(e.marks)})
	case 2:
		f.Fish(Fish{At: e.at, When: e.when, Count: 1 + e.count})
	case 3:
		f.Bite(Bite{At: e.at, When: e.when})
	case 4:
		f.Crowd(Crowd{At: e.at, Radius: 60, Shelters: 3, When: e.when})
	case 5:
		f.Night()
	}
}

// past draws what a filter has been through: looks mostly, sits, fish, bites, crowds and now and then a night.
func past(t *rapid.T) []event {
	kinds := []int{0, 0, 0, 0, 0, 0, 1, 1, 2, 3, 4, 5}
	when := t0
	var out []event
	for range rapid.IntRange(0, 25).Draw(t, "events") {
		when = when.Add(time.Duration(rapid.IntRange(0, 900).Draw(t, "seconds")) * time.Second)
		e := event{kind: rapid.SampledFrom(kinds).Draw(t, "kind"), at: somewhere(t, "at"), when: when,
			marks: rapid.SampledFrom([]lake.Marks{lake.None, lake.None, lake.Few, lake.Many}).Draw(t, "marks"), count: rapid.IntRange(0, 4).Draw(t, "count")}
		if e.kind == 5 {
			when = when.Add(18 * time.Hour)
		}
		out = append(out, e)
	}
	return out
}

func lived(t testing.TB, events []event) *Filter {
	f := fresh(t)
	for _, e := range events {
		e.give(f)
	}
	return f
}

// Whatever came before, a blank look raises the odds nowhere, and lowers them where it was made.
func TestInvariantBlankLookNeverRaises(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := lived(t, past(rt))
		f.At(f.now.Add(time.Duration(rapid.IntRange(0, 1800).Draw(rt, "later")) * time.Second))
		if f.now.IsZero() {
			f.At(t0)
		}
		p := somewhere(rt, "blank")
		places := []geo.Local{p, p.Add(geo.Local{E: 7}), p.Add(geo.Local{N: -45}), somewhere(rt, "other"), somewhere(rt, "another")}
		var before []float64
		for _, q := range places {
			before = append(before, f.Odds(q, look).P)
		}
		f.Look(Look{At: p, When: f.now, Length: look})
		for i, q := range places {
			if after := f.Odds(q, look).P; after > before[i]+1e-12 || i == 0 && after >= before[i] {
				rt.Fatalf("a blank look at %v took the odds at %v from %.12f to %.12f", p, q, before[i], after)
			}
		}
	})
}

// No event widens what the map knows: the variance of the log-intensity falls or stays at every place, and so do those of
// level, day and bands.
func TestInvariantEvidenceNeverWidens(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := lived(t, past(rt))
		if f.now.IsZero() {
			f.At(t0)
		}
		e := event{kind: rapid.SampledFrom([]int{0, 0, 2, 3}).Draw(rt, "kind"), at: somewhere(rt, "new"), when: f.now,
			marks: rapid.SampledFrom([]lake.Marks{lake.None, lake.Few, lake.Many}).Draw(rt, "marks")}
		places := []geo.Local{e.at, e.at.Add(geo.Local{E: 90}), somewhere(rt, "other"), somewhere(rt, "another")}
		width := func() (out []float64) {
			for _, q := range places {
				_, v := f.field.At(q)
				out = append(out, v)
			}
			out = append(out, f.level.Var, f.day.Var)
			for _, b := range f.bands {
				out = append(out, b.Var)
			}
			return out
		}
		before := width()
		e.give(f)
		f.At(f.now.Add(2 * time.Minute)) // level, day and bands settle once a minute
		for i, v := range width() {
			if v > before[i]+1e-9 {
				rt.Fatalf("event %+v widened variance %d from %.12f to %.12f", e, i, before[i], v)
			}
		}
	})
}

// commute draws two blank looks in two orders at the same instant and gives the largest difference of the odds, as a
// share of them, at both places and between.
func commute(t testing.TB, rt *rapid.T, apart float64, after time.Duration) float64 {
	events := past(rt)
	one, other := lived(t, events), lived(t, events)
	now := one.now
	if now.IsZero() {
		now = t0
	}
	a := somewhere(rt, "a")
	b := a.Add(geo.Local{E: apart})
	la, lb := Look{At: a, When: now, Length: look}, Look{At: b, When: now, Length: look}
	one.Look(la)
	one.Look(lb)
	other.Look(lb)
	other.Look(la)
	one.At(now.Add(after))
	other.At(now.Add(after))
	worst := 0.0
	for _, q := range []geo.Local{a, b, a.Add(geo.Local{E: apart / 2}), a.Add(geo.Local{N: 80})} {
		x, y := one.Odds(q, look).P, other.Odds(q, look).P
		worst = math.Max(worst, math.Abs(x-y)/math.Max(x, y))
	}
	return worst
}

// Looks beyond one another's reach commute to rounding. Nearer ones, 60 m apart and more so that no school lies under both,
// commute to within 5 % of the odds, the largest difference that 3000 drawn pasts gave being 2 %: each is an assumed-density
// step, and (PLAN-4) takes the second at the mean that the first left. Two looks over one school are not independent: the
// first settles whether it stayed where it was seen (PLAN-38), and their order may move the odds by a quarter.
func TestInvariantLooksCommute(t *testing.T) {
	worst := 0.0
	rapid.Check(t, func(rt *rapid.T) {
		if d := commute(t, rt, 1700, 3*time.Minute); d > 1e-6 {
			rt.Fatalf("looks 1.7 km apart: odds differ by %.2g of them", d)
		}
	})
	rapid.Check(t, func(rt *rapid.T) {
		d := commute(t, rt, float64(rapid.IntRange(60, 500).Draw(rt, "apart")), 3*time.Minute)
		worst = math.Max(worst, d)
		if d > 0.05 {
			rt.Fatalf("odds differ by %.2g of them", d)
		}
	})
	t.Logf("nearer looks: odds differ by at most %.2g of them", worst)
}

// The same past a year later, or typed in feet, gives the same odds; a depth in feet is rounded to the millimetre on its
// way in, and 1e-4 of the odds is what half a millimetre in 12 m can do.
func TestInvariantUnitsAndClock(t *testing.T) {
	feet, _, err := quantity.ParseLength("39.3701 ft", 0)
	if err != nil {
		t.Fatal(err)
	}
	s := priors.Of(priors.Mid)
	metric, imperial := s.Told(9*quantity.Metre, 12*quantity.Metre), s.Told(9*quantity.Metre, quantity.FromMillimetres(feet.Millimetres()))
	rapid.Check(t, func(rt *rapid.T) {
		events := past(rt)
		fresh(t) // builds the pond
		f, later, ft := NewFilter(pondOf, metric, Default(metric), nil), NewFilter(pondOf, metric, Default(metric), nil), NewFilter(pondOf, imperial, Default(imperial), nil)
		for _, e := range events {
			e.give(f)
			e.give(ft)
			e.when = e.when.AddDate(1, 0, 0)
			e.give(later)
		}
		for range 3 {
			p := somewhere(rt, "probe")
			a, b, c := f.Odds(p, look).P, later.Odds(p, look).P, ft.Odds(p, look).P
			if math.Abs(a-b) > 1e-12 || math.Abs(a-c) > 1e-4*a {
				rt.Fatalf("odds %.12f, a year later %.12f, by feet %.12f", a, b, c)
			}
		}
	})
}

// A lake turned by a quarter about a node of the lattice, or mirrored, is the same lake: odds agree to 0.5 %, the largest
// difference of 1500 drawn pasts being 0.2 %, since a place between nodes hangs on those to its one side. By other angles
// they agree to 12 % only, TestPlaceAndDirectionDoNotMatter.
func TestInvariantQuarterTurns(t *testing.T) {
	turns := map[string]func(geo.Local) geo.Local{
		"quarter": func(p geo.Local) geo.Local { return geo.Local{E: -p.N, N: p.E} },
		"half":    func(p geo.Local) geo.Local { return geo.Local{E: -p.E, N: -p.N} },
		"mirror":  func(p geo.Local) geo.Local { return geo.Local{E: -p.E, N: p.N} },
	}
	worst := 0.0
	rapid.Check(t, func(rt *rapid.T) {
		events := past(rt)
		f := lived(t, events)
		probe := []geo.Local{somewhere(rt, "probe"), somewhere(rt, "probe")}
		for name, turn := range turns {
			g := fresh(t)
			for _, e := range events {
				e.at = turn(e.at)
				e.give(g)
			}
			for _, p := range probe {
				a, b := f.Odds(p, look).P, g.Odds(turn(p), look).P
				worst = math.Max(worst, math.Abs(a-b)/a)
				if math.Abs(a-b) > 5e-3*a {
					rt.Fatalf("%s: odds %.9f and %.9f", name, a, b)
				}
			}
		}
	})
	t.Logf("odds differ by at most %.2g of them", worst)
}
