package ensemble

import (
	"math"
	"testing"

	"icehand/internal/base/num"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.9g, want %.9g within %g", what, got, want, tol)
	}
}

// normals fills an ensemble with normals whose means and covariances are exactly as asked: two variables, correlation r.
func normals(members int, m1, s1, m2, s2, r float64) *Ensemble {
	e := New(2, members)
	noise := num.NewNoise(1, "ensemble")
	a, b := e.Variable(0), e.Variable(1)
	for i := range members {
		a[i], b[i] = noise.Normal(uint64(i), 0), noise.Normal(uint64(i), 1)
	}
	standardise := func(x []float64) {
		mean, sd := Mean(x), Spread(x)
		for i := range x {
			x[i] = (x[i] - mean) / sd
		}
	}
	standardise(a)
	c := dot(a, b) / float64(members-1)
	for i := range b {
		b[i] -= c * a[i]
	}
	standardise(b)
	for i := range a {
		b[i] = m2 + s2*(r*a[i]+math.Sqrt(1-r*r)*b[i])
		a[i] = m1 + s1*a[i]
	}
	return e
}

// With a linear reading the update is Kalman's, exactly: mean, variance and covariance of read and unread variables.
func TestUpdateIsKalman(t *testing.T) {
	const m1, s1, m2, s2, r, sd, value = 30.0, 4.0, 1.0, 0.5, 0.6, 2.2, 36.0
	e := normals(40, m1, s1, m2, s2, r)
	surprise := e.Update(append([]float64(nil), e.Variable(0)...), Observation{value, sd})
	S, R := s1*s1, sd*sd
	near(t, "surprise", surprise, (value-m1)/math.Sqrt(S+R), 1e-12)
	near(t, "mean of what was read", Mean(e.Variable(0)), m1+S/(S+R)*(value-m1), 1e-11)
	near(t, "its spread", Spread(e.Variable(0)), math.Sqrt(S*R/(S+R)), 1e-11)
	c := r * s1 * s2
	near(t, "mean of the other", Mean(e.Variable(1)), m2+c/(S+R)*(value-m1), 1e-11)
	near(t, "its spread", Spread(e.Variable(1)), math.Sqrt(s2*s2-c*c/(S+R)), 1e-11)
}

// Two readings at once or one after the other, in either order: the same, as Kalman's are.
func TestUpdateOrder(t *testing.T) {
	run := func(first, second int) *Ensemble {
		e := normals(60, 10, 3, 5, 2, -0.4)
		obs := []Observation{{12, 1}, {4, 0.7}}
		for _, v := range []int{first, second} {
			e.Update(append([]float64(nil), e.Variable(v)...), obs[v])
		}
		return e
	}
	a, b := run(0, 1), run(1, 0)
	for v := range 2 {
		near(t, "mean", Mean(a.Variable(v)), Mean(b.Variable(v)), 1e-10)
		near(t, "spread", Spread(a.Variable(v)), Spread(b.Variable(v)), 1e-10)
	}
}

// More evidence never widens a spread, and a reading of what all members agree on changes nothing.
func TestUpdateNarrows(t *testing.T) {
	e := normals(25, 10, 3, 5, 2, 0.3)
	for i := range 20 {
		s0, s1 := Spread(e.Variable(0)), Spread(e.Variable(1))
		e.Update(append([]float64(nil), e.Variable(i%2)...), Observation{float64(5 + i), 3})
		if Spread(e.Variable(0)) > s0+1e-12 || Spread(e.Variable(1)) > s1+1e-12 {
			t.Fatalf("update %d widened", i)
		}
	}
	before := append([]float64(nil), e.Variable(0)...)
	if s := e.Update(make([]float64, 25), Observation{2, 0.5}); s != 4 {
		t.Errorf("surprise %v", s)
	}
	for i, x := range e.Variable(0) {
		if x != before[i] {
			t.Fatal("members that agree were moved")
		}
	}
	s, m := Spread(e.Variable(0)), Mean(e.Variable(0))
	e.Inflate(1.04)
	near(t, "inflated", Spread(e.Variable(0)), 1.04*s, 1e-12)
	near(t, "mean", Mean(e.Variable(0)), m, 1e-12)
}

// Recovery: a slope and a start, never read, are found from noisy readings of the line, within the spread told; and the
// spread told is honest over many trials.
func TestRecovery(t *testing.T) {
	const trials = 400
	inside := 0
	for trial := range uint64(trials) {
		noise := num.NewNoise(9, "recovery")
		slope, start := 1+0.5*noise.Normal(trial, 0), noise.Normal(trial, 1)
		e := New(2, 100)
		for i := range 100 {
			e.Variable(0)[i] = 1 + 0.5*noise.Normal(trial, uint64(100+i))
			e.Variable(1)[i] = noise.Normal(trial, uint64(300+i))
		}
		for k := range 6 {
			x := float64(k)
			predicted := make([]float64, 100)
			for i := range predicted {
				predicted[i] = e.Variable(1)[i] + e.Variable(0)[i]*x
			}
			e.Update(predicted, Observation{start + slope*x + 0.8*noise.Normal(trial, uint64(500+k)), 0.8})
		}
		if slope >= Quantile(e.Variable(0), 0.05) && slope <= Quantile(e.Variable(0), 0.95) {
			inside++
		}
	}
	// 90 % expected; four standard errors of 400 trials are 6 %, and a small ensemble is a little overconfident
	if share := float64(inside) / trials; share < 0.83 || share > 0.96 {
		t.Errorf("90 %% band holds the truth in %.3f", share)
	}
}

// Definition 6 of [HyndmanFan1996] on 1..9: p = 0.25 lies at 2.5, and the ends are the ends.
func TestQuantile(t *testing.T) {
	values := []float64{9, 1, 8, 2, 7, 3, 6, 4, 5}
	for p, want := range map[float64]float64{0: 1, 0.05: 1, 0.1: 1, 0.25: 2.5, 0.5: 5, 0.83: 8.3, 0.9: 9, 1: 9} {
		near(t, "quantile", Quantile(values, p), want, 1e-12)
	}
	if values[0] != 9 || Quantile([]float64{3}, 0.5) != 3 {
		t.Error("values changed, or one value is not its own quantile")
	}
	if q := Quantile(values, 0.05); q > Mean(values) {
		t.Errorf("5 %% quantile %v above the mean", q)
	}
}

func TestPanics(t *testing.T) {
	for name, f := range map[string]func(){
		"one member":      func() { New(1, 1) },
		"no variable":     func() { New(0, 5) },
		"too few":         func() { New(1, 3).Update([]float64{1, 2}, Observation{1, 1}) },
		"no error":        func() { New(1, 2).Update([]float64{1, 2}, Observation{1, 0}) },
		"nothing read":    func() { New(1, 2).Update([]float64{1, 2}, Observation{math.NaN(), 1}) },
		"no values":       func() { Quantile(nil, 0.5) },
		"share above one": func() { Quantile([]float64{1}, 1.1) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}
