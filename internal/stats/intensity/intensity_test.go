package intensity

import (
	"math"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
)

var par = Params{Spacing: 150, Reach: 700, SD: 1, Shape: 3}

// One observation by brute force: Bayes' rule on a grid of 200,001 values of the log-intensity.
func TestOneObservationAgainstBruteForce(t *testing.T) {
	for _, o := range []Observation{
		{Exposure: 0.05, Weight: 1}, {Exposure: 2, Weight: 1}, {Exposure: 0.05, Seen: true, Weight: 1},
		{Exposure: 0.05, Seen: true, False: 0.03, Weight: 1}, {Exposure: 1, Seen: true, Weight: 0.4},
	} {
		f := New(par)
		p := geo.Local{E: 300, N: 450} // on a node: nothing is left unexplained by it
		m0, v0 := f.At(p)
		f.Observe(p, o)
		m, v := f.At(p)
		var s0, s1, s2 float64
		for i := range 200001 {
			u := -8 + 16*float64(i)/200000
			η := m0 + math.Sqrt(v0)*u
			l := math.Pow(1+o.Exposure*math.Exp(η)/3, -3)
			if o.Seen {
				l = 1 - (1-o.False)*l
			}
			w := math.Exp(-u*u/2) * math.Pow(l, o.Weight)
			s0, s1, s2 = s0+w, s1+w*η, s2+w*η*η
		}
		mean := s1 / s0
		variance := math.Min(v0, s2/s0-mean*mean)                       // never wider than before
		if !num.Close(m, mean, 5e-5) || !num.Close(v, variance, 2e-4) { // tails beyond 5 standard deviations
			t.Errorf("%+v: mean %.6f variance %.6f, brute force %.6f %.6f", o, m, v, mean, variance)
		}
	}
}

// Several observations against importance sampling from the exact Gaussian prior (no nodes, no truncation): the posterior
// mean intensity at three places within 4 standard errors and 6 % for nodes and order.
func TestSeveralObservationsAgainstSampling(t *testing.T) {
	type seen struct {
		p geo.Local
		o Observation
	}
	data := []seen{
		{geo.Local{E: 20, N: 30}, Observation{Exposure: 0.3, Seen: true, Weight: 1}},
		{geo.Local{E: 60, N: 10}, Observation{Exposure: 0.3, Seen: true, Weight: 1}},
		{geo.Local{E: 210, N: 40}, Observation{Exposure: 0.5, Weight: 1}},
		{geo.Local{E: 250, N: 200}, Observation{Exposure: 1, Weight: 1}},
		{geo.Local{E: 420, N: 100}, Observation{Exposure: 1, Weight: 1}},
		{geo.Local{E: -150, N: 220}, Observation{Exposure: 0.2, Weight: 1}},
	}
	asked := []geo.Local{{E: 40, N: 90}, {E: 300, N: 130}, {E: -400, N: -300}}
	f := New(par)
	places := append([]geo.Local(nil), asked...)
	for _, d := range data {
		f.Observe(d.p, d.o)
		places = append(places, d.p)
	}
	l := cholesky(f, places)
	rng := num.NewStream(2, "sampling")
	const n = 60000
	var w, w2, sum [3]float64
	for range n {
		z := make([]float64, len(places))
		for i := range z {
			z[i] = rng.NormFloat64()
		}
		η := make([]float64, len(places))
		for i := range η {
			η[i] = -par.SD * par.SD / 2
			for j := 0; j <= i; j++ {
				η[i] += l[i][j] * z[j]
			}
		}
		like := 1.0
		for i, d := range data {
			none := math.Pow(1+d.o.Exposure*math.Exp(η[len(asked)+i])/3, -3)
			if d.o.Seen {
				none = 1 - none
			}
			like *= none
		}
		for k := range asked {
			w[k] += like
			w2[k] += like * like
			sum[k] += like * math.Exp(η[k])
		}
	}
	for k, p := range asked {
		m, v := f.At(p)
		got, want := math.Exp(m+v/2), sum[k]/w[k]
		effective := w[k] * w[k] / w2[k]
		tol := 0.06*want + 4*want*1.3/math.Sqrt(effective)
		if !num.Close(got, want, tol) {
			t.Errorf("%v: intensity %.4f, sampled %.4f +- %.4f", p, got, want, tol)
		}
	}
}

func cholesky(f *Field, p []geo.Local) [][]float64 {
	l := make([][]float64, len(p))
	for i := range p {
		l[i] = make([]float64, len(p))
		for j := 0; j <= i; j++ {
			s := f.kernel(float64(p[i].Distance(p[j])))
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i == j {
				l[i][j] = math.Sqrt(s)
			} else {
				l[i][j] = s / l[j][j]
			}
		}
	}
	return l
}

// A blank never raises the mean intensity anywhere, a meeting raises it at its place, and no observation widens anything.
func TestNothingRisesByBlanksNorWidens(t *testing.T) {
	for seed := range uint64(20) {
		rng := num.NewStream(seed, "monotone")
		f := New(par)
		somewhere := func() geo.Local { return geo.Local{E: rng.Float64() * 1500, N: rng.Float64() * 1500} }
		for range 150 {
			p := somewhere()
			probe := []geo.Local{p}
			for range 30 {
				probe = append(probe, somewhere())
			}
			type mv struct{ m, v float64 }
			var before []mv
			for _, q := range probe {
				m, v := f.At(q)
				before = append(before, mv{m, v})
			}
			o := Observation{Exposure: rng.Float64(), Seen: rng.Float64() < 0.2, Weight: 1}
			f.Observe(p, o)
			for i, q := range probe {
				m, v := f.At(q)
				was, is := before[i].m+before[i].v/2, m+v/2
				if v > before[i].v+1e-12 {
					t.Fatalf("seed %d: variance rose from %g to %g", seed, before[i].v, v)
				}
				if !o.Seen && is > was+1e-12 {
					t.Fatalf("seed %d: a blank raised %g to %g", seed, was, is)
				}
				if o.Seen && i == 0 && is <= was {
					t.Fatalf("seed %d: a meeting lowered %g to %g", seed, was, is)
				}
			}
		}
	}
}

func TestDistantObservationsCommute(t *testing.T) {
	a, b := geo.Local{E: 100, N: 100}, geo.Local{E: 2100, N: 900}
	one, other := New(par), New(par)
	seen, blank := Observation{Exposure: 0.2, Seen: true, Weight: 1}, Observation{Exposure: 0.3, Weight: 1}
	one.Observe(a, seen)
	one.Observe(b, blank)
	other.Observe(b, blank)
	other.Observe(a, seen)
	for _, p := range []geo.Local{a, b, {E: 1100, N: 500}} {
		m1, v1 := one.At(p)
		m2, v2 := other.At(p)
		if !num.Close(m1, m2, 1e-12) || !num.Close(v1, v2, 1e-12) {
			t.Errorf("%v: %g %g against %g %g", p, m1, v1, m2, v2)
		}
	}
}

// The kriging weights and the rest give back the prior variance everywhere, to within what weights cut at zero cost.
func TestPriorVarianceEverywhere(t *testing.T) {
	f := New(par)
	rng := num.NewStream(4, "prior")
	for range 500 {
		p := geo.Local{E: rng.Float64()*1e4 - 5e3, N: rng.Float64()*1e4 - 5e3}
		if m, v := f.At(p); !num.Close(v, 1, 1e-3) || !num.Close(m, -0.5, 1e-12) {
			t.Fatalf("%v: mean %g variance %g", p, m, v)
		}
	}
}

func TestAgeReturnsToThePrior(t *testing.T) {
	f := New(par)
	p := geo.Local{E: 75, N: 75}
	f.Observe(p, Observation{Exposure: 1, Seen: true, Weight: 1})
	m0, v0 := f.At(p)
	f.Age(0.9)
	m1, v1 := f.At(p)
	if !(m1 < m0 && m1 > -0.5 && v1 > v0 && v1 < 1) {
		t.Errorf("aged from %g %g to %g %g", m0, v0, m1, v1)
	}
	for range 400 {
		f.Age(0.9)
	}
	if m, v := f.At(p); !num.Close(m, -0.5, 1e-9) || !num.Close(v, 1, 1e-9) {
		t.Errorf("after 400 ages: %g %g", m, v)
	}
}

// Chance against a fine sum over the normal belief.
func TestChanceAgainstBruteForce(t *testing.T) {
	f := New(par)
	for _, e := range []float64{0.01, 0.1, 0.5, 2} {
		mean, low, high := f.ChanceOf(-0.3, 0.8, e, 0.2, 1.2815515655446004)
		want, weight := 0.0, 0.0
		for i := range 20001 {
			u := -8 + 16*float64(i)/20000
			w := math.Exp(-u * u / 2)
			want += w * (1 - math.Pow(1+e*math.Exp(-0.3+math.Sqrt(0.8)*u)/3, -3))
			weight += w
		}
		want /= weight
		if !num.Close(mean, want, 5e-4) { // seven points
			t.Errorf("exposure %g: %g, brute force %g", e, mean, want)
		}
		if !(low < mean && mean < high) {
			t.Errorf("exposure %g: %g not within %g..%g", e, mean, low, high)
		}
	}
}

// Gamma-Poisson by hand: one group without luck is the plain conjugate rule; with luck it counts for less.
func TestLevel(t *testing.T) {
	l := NewLevel(2, 0)
	l.Add([2]int32{0, 0}, 3, 5)
	l.Add([2]int32{1, 0}, 1, 0)
	if got := l.Mean(1); !num.Close(got, 7.0/6, 1e-12) { // (2+5)/(2+4)
		t.Errorf("mean %g, want 7/6", got)
	}
	if got := l.Mean(0.5); !num.Close(got, 7.0/4, 1e-12) {
		t.Errorf("scaled mean %g, want 7/4", got)
	}
	lucky := NewLevel(2, 1)
	lucky.Add([2]int32{0, 0}, 3, 5)
	if got := lucky.Mean(1); !num.Close(got, (2+5.0/4)/(2+3.0/4), 1e-12) {
		t.Errorf("with luck %g", got)
	}
	lucky.Age(0.5)
	if got := lucky.Mean(1); !num.Close(got, (2+2.5/2.5)/(2+1.5/2.5), 1e-12) {
		t.Errorf("aged %g", got)
	}
	c := lucky.Clone()
	c.Add([2]int32{5, 5}, 10, 0)
	if lucky.Mean(1) == c.Mean(1) {
		t.Error("a clone changed its origin")
	}
}

func BenchmarkObserve(b *testing.B) {
	rng := num.NewStream(1, "bench")
	f := New(par)
	for b.Loop() {
		f.Observe(geo.Local{E: rng.Float64() * 2000, N: rng.Float64() * 2000}, Observation{Exposure: 0.05, Weight: 1})
	}
}

// A copy is the same everywhere, also in the room of another field that knew more, and goes its own way.
func TestBecome(t *testing.T) {
	rng := num.NewStream(7, "become")
	taught := func(p Params, n int) *Field {
		f := New(p)
		for range n {
			f.Observe(geo.Local{E: rng.Float64() * 2000, N: rng.Float64() * 2000}, Observation{Exposure: 0.3, Seen: rng.Float64() < 0.3, Weight: 1})
		}
		return f
	}
	from := taught(par, 20)
	for name, to := range map[string]*Field{"nothing": {}, "another kind": taught(Params{Spacing: 75, Reach: 600, SD: 1.3, Shape: 3}, 60), "one that knew more": taught(par, 60), "a copy": from.Clone()} {
		to.Become(from)
		if to.Nodes() != from.Nodes() {
			t.Errorf("%s became %d nodes of %d", name, to.Nodes(), from.Nodes())
		}
		for range 50 {
			p := geo.Local{E: rng.Float64() * 2000, N: rng.Float64() * 2000}
			m, v := from.At(p)
			if m1, v1 := to.At(p); m1 != m || v1 != v {
				t.Fatalf("%s: %g, %g at %v, want %g, %g", name, m1, v1, p, m, v)
			}
		}
		p := geo.Local{E: 1000, N: 1000}
		m, v := from.At(p)
		to.Observe(p, Observation{Exposure: 1, Weight: 1})
		to.Age(0.5)
		if m1, v1 := from.At(p); m1 != m || v1 != v {
			t.Errorf("%s: its source followed it", name)
		}
	}
}
