package field

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

var shapes = []Shape{Exponential, Spherical, Matern32, Gaussian}

// scattered gives n made-up data on a square of 2 km.
func scattered(n int, seed uint64) []Datum {
	r := num.NewStream(seed, "scattered")
	data := make([]Datum, n)
	for i := range data {
		data[i] = Datum{At: place(2000*r.Float64(), 2000*r.Float64()), Value: r.NormFloat64(), Noise: 0.01 + 0.1*r.Float64(), Trend: []float64{1}}
	}
	return data
}

// Turning and shifting the plane changes nothing.
func TestTurningAndShifting(t *testing.T) {
	data := scattered(30, 1)
	s, c := math.Sincos(0.7)
	turn := func(p geo.Local) geo.Local { return place(c*p.E-s*p.N+4000, s*p.E+c*p.N-9000) }
	turned := append([]Datum(nil), data...)
	for i := range turned {
		turned[i].At = turn(data[i].At)
	}
	for _, shape := range shapes {
		m := Model{Shape: shape, Sill: 1, Range: 400}
		a, err1 := Solve(m, data, flat(1))
		b, err2 := Solve(m, turned, flat(1))
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		for _, p := range []geo.Local{place(1000, 1000), place(-300, 50), place(1999, 3)} {
			m1, v1 := a.At(p, []float64{1})
			m2, v2 := b.At(turn(p), []float64{1})
			if !near(m1, m2, 1e-8) || !near(v1, v2, 1e-8) {
				t.Errorf("%v at %v: %g, %g against %g, %g", shape, p, m1, v1, m2, v2)
			}
		}
	}
}

// With fixed parameters one more datum never raises the variance anywhere.
func TestMoreDataNeverRaiseTheVariance(t *testing.T) {
	data := scattered(25, 2)
	for _, shape := range shapes {
		m := Model{Shape: shape, Sill: 1, Range: 500, Nugget: 0.02}
		before := math.Inf(1)
		for n := 1; n <= len(data); n++ {
			f, err := Solve(m, data[:n], flat(1))
			if err != nil {
				t.Fatal(err)
			}
			_, v := f.At(place(900, 1100), []float64{1})
			if v > before+1e-12 {
				t.Errorf("%v: variance rose from %g to %g with datum %d", shape, before, v, n)
			}
			before = v
		}
		if before > 1.02 {
			t.Errorf("%v: %g after 25 data", shape, before)
		}
	}
}

// Far from all data only the trend remains: the variance is that of the field plus that of the mean.
func TestFarFromAllData(t *testing.T) {
	f, err := Solve(Model{Shape: Matern32, Sill: 2, Range: 100}, scattered(20, 3), flat(1))
	if err != nil {
		t.Fatal(err)
	}
	mean, v := f.At(place(1e6, 1e6), []float64{1})
	b, sd := f.Coefficients()
	if !near(mean, b[0], 1e-9) || !near(v, 2+sd[0]*sd[0], 1e-9) {
		t.Errorf("%g %g, trend %v ± %v", mean, v, b, sd)
	}
}

// Scaling values scales the mean, and the variance by the square.
func TestValuesScale(t *testing.T) {
	data := scattered(20, 4)
	feet := append([]Datum(nil), data...)
	const k = 3.28084
	for i := range feet {
		feet[i].Value *= k
		feet[i].Noise *= k * k
	}
	a, _ := Solve(Model{Shape: Spherical, Sill: 1, Range: 700}, data, flat(1))
	b, _ := Solve(Model{Shape: Spherical, Sill: k * k, Range: 700}, feet, flat(1))
	m1, v1 := a.At(place(5, 7), []float64{1})
	m2, v2 := b.At(place(5, 7), []float64{1})
	if !near(m2, k*m1, 1e-9) || !near(v2, k*k*v1, 1e-9) {
		t.Errorf("%g %g against %g %g", m1, v1, m2, v2)
	}
}

// With proper priors the data are plainly normal with covariance K + F B F': the likelihood must be that density.
func TestLikelihoodAgainstTheDensity(t *testing.T) {
	data := soundings(t, 12, false, onChart)
	m := Model{Shape: Exponential, Sill: 1.5, Range: 500}
	prior := []Prior{{Mean: 0.2, SD: 0.5}, {Mean: 0.9, SD: 0.1}}
	f, err := Solve(m, data, prior)
	if err != nil {
		t.Fatal(err)
	}
	n := len(data)
	s := mat.NewSymDense(n, nil)
	e := mat.NewVecDense(n, nil)
	for i, a := range data {
		e.SetVec(i, a.Value-0.2-0.9*a.Trend[1])
		for j := i; j < n; j++ {
			b := data[j]
			c := m.Covariance(a.At.Distance(b.At)) + 0.25*a.Trend[0]*b.Trend[0] + 0.01*a.Trend[1]*b.Trend[1]
			if i == j {
				c += a.Noise
			}
			s.SetSym(i, j, c)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(s) {
		t.Fatal("covariance")
	}
	var x mat.VecDense
	if err := chol.SolveVecTo(&x, e); err != nil {
		t.Fatal(err)
	}
	want := -0.5 * (float64(n)*math.Log(2*math.Pi) + chol.LogDet() + mat.Dot(e, &x))
	if got := f.LogLikelihood(); !near(got, want, 1e-9) {
		t.Errorf("%.12f, density %.12f", got, want)
	}
}

// A flat prior is the limit of a wide one: their likelihoods differ by the wide prior's own density at its middle.
func TestFlatPriorIsTheLimit(t *testing.T) {
	const wide = 1e5
	data, m := soundings(t, 20, false, onChart), Model{Shape: Exponential, Sill: 1.5, Range: 500}
	a, err1 := Solve(m, data, flat(2))
	b, err2 := Solve(m, data, []Prior{{SD: wide}, {SD: wide}})
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	want := b.LogLikelihood() + 2*(math.Log(wide)+0.5*math.Log(2*math.Pi))
	if got := a.LogLikelihood(); !near(got, want, 1e-6) {
		t.Errorf("%.9f, limit %.9f", got, want)
	}
}

// With one free parameter the fit must be the best of a fine grid of likelihood times guess.
func TestFitAgainstAGrid(t *testing.T) {
	data, guess := scattered(15, 11), Guess{Median: 0.2, LogSD: 0.5}
	got, err := Fit(data, flat(1), Guesses{Shape: Matern32, Sill: guess, Range: Guess{Median: 300}, Noise: Guess{}})
	if err != nil {
		t.Fatal(err)
	}
	best, bestLog := math.Inf(-1), 0.0
	for x := -3.0; x < 3; x += 0.01 {
		f, err := Solve(Model{Shape: Matern32, Sill: guess.Median * math.Exp(x), Range: 300}, data, flat(1))
		if err != nil {
			t.Fatal(err)
		}
		if v := f.LogLikelihood() - 0.5*math.Pow(x/guess.LogSD, 2); v > best {
			best, bestLog = v, x
		}
	}
	if x := math.Log(got.Model.Sill / guess.Median); !near(x, bestLog, 0.06) || math.Abs(bestLog) < 0.1 {
		t.Errorf("fit at %.3f, grid at %.3f in logs", x, bestLog)
	}
}

// Simulate with known parameters, fit, compare: over 20 fields of 100 data the median must come back within its spread.
func TestFitRecovers(t *testing.T) {
	const fields, n = 20, 100
	truth, noise := Model{Shape: Matern32, Sill: 2, Range: 300}, 0.05
	var sill, scale, extra float64 // mean logs of fitted over true
	for k := range uint64(fields) {
		data := simulate(t, truth, noise, scattered(n, 100+k), k)
		got, err := Fit(data, flat(1), Guesses{Shape: Matern32,
			Sill: Guess{1, math.Inf(1)}, Range: Guess{600, math.Inf(1)}, Noise: Guess{0.1, math.Inf(1)}})
		if err != nil {
			t.Fatal(err)
		}
		sill += math.Log(got.Model.Sill/truth.Sill) / fields
		scale += math.Log(float64(got.Model.Range/truth.Range)) / fields
		extra += math.Log(got.Noise/noise) / fields
		at, err := likelihood(append([]Datum(nil), data...), data, noise, truth, flat(1))
		if err != nil || got.LogLikelihood < at-0.01 {
			t.Errorf("field %d: likelihood %g at the fit, %g at the truth, %v", k, got.LogLikelihood, at, err)
		}
	}
	// single fits scatter by about 0.4, 0.2 and 0.5 in logs, so means of 20 by a quarter of that; three times it here
	if math.Abs(sill) > 0.3 || math.Abs(scale) > 0.15 || math.Abs(extra) > 0.35 {
		t.Errorf("mean log ratios: sill %.2f, range %.2f, noise %.2f", sill, scale, extra)
	}
}

// simulate draws a field at the data's places and adds noise.
func simulate(t *testing.T, m Model, noise float64, data []Datum, seed uint64) []Datum {
	n := len(data)
	k := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			k.SetSym(i, j, m.Covariance(data[i].At.Distance(data[j].At)))
		}
		k.SetSym(i, i, k.At(i, i)+1e-9)
	}
	var chol mat.Cholesky
	if !chol.Factorize(k) {
		t.Fatal("simulating")
	}
	var l mat.TriDense
	chol.LTo(&l)
	r := num.NewStream(seed, "simulate")
	white := mat.NewVecDense(n, nil)
	for i := range n {
		white.SetVec(i, r.NormFloat64())
	}
	var z mat.VecDense
	z.MulVec(&l, white)
	for i := range data {
		data[i].Value, data[i].Noise = z.AtVec(i)+math.Sqrt(noise)*r.NormFloat64(), 0
	}
	return data
}

// Guesses bind: few data leave the parameters near the medians, and a fixed one does not move.
func TestFitKeepsToItsGuesses(t *testing.T) {
	got, err := Fit(scattered(2, 9), flat(1), Guesses{Shape: Exponential, Sill: Guess{2, 0.5}, Range: Guess{300, 0}, Noise: Guess{0, 0}})
	if err != nil || got.Model.Range != 300 || got.Noise != 0 || got.Model.Sill < 2/math.E || got.Model.Sill > 2*math.E {
		t.Errorf("%+v %v", got, err)
	}
}

// Rosenbrock's valley (1960) has its minimum 0 at (1, 1).
func TestMinimise(t *testing.T) {
	x, v := minimise(func(x []float64) float64 {
		return 100*math.Pow(x[1]-x[0]*x[0], 2) + math.Pow(1-x[0], 2)
	}, []float64{-1.2, 1}, 0.5, 1e-14, 1000)
	if !near(x[0], 1, 1e-4) || !near(x[1], 1, 1e-4) || v > 1e-9 {
		t.Errorf("%v %g", x, v)
	}
}

// The index must find what sorting all distances finds.
func TestNearestAgainstSorting(t *testing.T) {
	r := num.NewStream(5, "index")
	for _, n := range []int{0, 1, 3, 50, 400} {
		places := make([]geo.Local, n)
		for i := range places {
			places[i] = place(1000*r.Float64(), 300*r.Float64())
			if n == 50 {
				places[i].N = 7 // all on one line
			}
		}
		x := NewIndex(places)
		for range 100 {
			p := place(3000*r.Float64()-1000, 900*r.Float64()-300)
			skip := func(i int) bool { return i%5 == 0 }
			got := x.Nearest(p, 8, skip)
			var all []hit
			for i, q := range places {
				if !skip(i) {
					all = append(all, hit{i, dist(p, q)})
				}
			}
			if len(got) != min(8, len(all)) {
				t.Fatalf("%d of %d", len(got), len(all))
			}
			for k := range got {
				closer := 0
				for _, h := range all {
					if nearer(h, hit{got[k], dist(p, places[got[k]])}) < 0 {
						closer++
					}
				}
				if closer != k {
					t.Fatalf("n %d, p %v: number %d is place %d, but %d are nearer", n, p, k, got[k], closer)
				}
			}
		}
	}
}

// A dense line on one side must not hide the other sides.
func TestAroundLooksToAllSides(t *testing.T) {
	var places []geo.Local
	for i := range 100 {
		places = append(places, place(10, float64(i)-50))
	}
	places = append(places, place(-60, 30), place(-60, -30))
	for i, want := range map[string]int{"nearest": 0, "around": 2} {
		x := NewIndex(places)
		find := x.Nearest
		if i == "around" {
			find = x.Around
		}
		west := 0
		got := find(place(0, 0), 40, nil)
		for _, k := range got {
			if places[k].E < 0 {
				west++
			}
		}
		if west != want || len(got) != 40 {
			t.Errorf("%s: %d of %d lie west, want %d", i, west, len(got), want)
		}
	}
}

// A neighbourhood of all data is the whole system; one of 32 of 140 loses little against it.
func TestLocalAgainstAll(t *testing.T) {
	m := Model{Shape: Matern32, Sill: 12, Range: 900}
	data := soundings(t, 140, true, constant)
	all, err := Solve(m, data, flat(1))
	if err != nil {
		t.Fatal(err)
	}
	whole, part := NewLocal(m, data, flat(1), 200, false), NewLocal(m, data, flat(1), 32, true)
	sum, count := 0.0, 0.0
	for e := 250.0; e < 6000; e += 250 {
		p := place(e, 2000)
		m1, v1 := all.At(p, []float64{1})
		m2, v2, err2 := whole.At(p, []float64{1}, nil)
		m3, _, err3 := part.At(p, []float64{1}, nil)
		if err2 != nil || err3 != nil || !near(m1, m2, 1e-8) || !near(v1, v2, 1e-8) {
			t.Errorf("%v: %g %g, %g %g, %v %v", p, m1, v1, m2, v2, err2, err3)
		}
		sum, count = sum+(m3-m1)*(m3-m1), count+1
	}
	if rms := math.Sqrt(sum / count); rms > 0.05 { // m; the surface itself misses the truth by 0.39 m
		t.Errorf("32 of 200 neighbours differ by %.3f m", rms)
	}
}

func TestLocalSkips(t *testing.T) {
	data := scattered(20, 6)
	l := NewLocal(Model{Shape: Exponential, Sill: 1, Range: 300}, data, flat(1), 20, false)
	rest, _ := Solve(Model{Shape: Exponential, Sill: 1, Range: 300}, data[1:], flat(1))
	m1, v1, err := l.At(data[0].At, []float64{1}, func(i int) bool { return i == 0 })
	m2, v2 := rest.At(data[0].At, []float64{1})
	if err != nil || !near(m1, m2, 1e-9) || !near(v1, v2, 1e-9) {
		t.Errorf("%g %g, %g %g, %v", m1, v1, m2, v2, err)
	}
}

// Correlations start at 1, fall, and end near 0; the published forms at one range [Cressie1993, 2.3.1].
func TestCorrelations(t *testing.T) {
	atRange := map[Shape]float64{Exponential: math.Exp(-1), Spherical: 0, Matern32: 2 * math.Exp(-1), Gaussian: math.Exp(-1)}
	for _, s := range shapes {
		m := Model{Shape: s, Sill: 3, Range: 100, Nugget: 0.5}
		if m.Covariance(0) != 3.5 || !near(m.Covariance(1e-9), 3, 1e-6) || !near(m.Covariance(100), 3*atRange[s], 1e-12) || m.Covariance(1e5) > 1e-9 {
			t.Errorf("%v: %g %g %g", s, m.Covariance(0), m.Covariance(100), m.Covariance(1e5))
		}
		for h := quantity.Length(1); h < 500; h++ {
			if m.Covariance(h+1) > m.Covariance(h) {
				t.Errorf("%v rises at %v m", s, float64(h))
			}
		}
	}
}

func BenchmarkSolve200(b *testing.B) {
	data := scattered(200, 1)
	for b.Loop() {
		if _, err := Solve(Model{Shape: Matern32, Sill: 1, Range: 300}, data, flat(1)); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkAt200Data(b *testing.B) {
	f, err := Solve(Model{Shape: Matern32, Sill: 1, Range: 300}, scattered(200, 1), flat(1))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		f.At(place(500, 500), []float64{1})
	}
}

func BenchmarkFit96Data(b *testing.B) {
	data := scattered(96, 1)
	g := Guesses{Shape: Matern32, Sill: Guess{1, 1}, Range: Guess{500, 1}, Noise: Guess{0.1, 1}}
	for b.Loop() {
		if _, err := Fit(data, flat(1), g); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLocal32Of100000(b *testing.B) {
	l := NewLocal(Model{Shape: Matern32, Sill: 1, Range: 300}, scattered(100000, 1), flat(1), 32, true)
	for b.Loop() {
		if _, _, err := l.At(place(500, 500), []float64{1}, nil); err != nil {
			b.Fatal(err)
		}
	}
}
