package contrast

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The p-value and the interval never contradict each other: p is under 0.05 exactly when the interval leaves one out.
// ([Fay2010] shows two of R's methods that do contradict, for 2 of 17877 against 10 of 20000.)
func TestOneFunctionForBoth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := rapid.IntRange(0, 40).Draw(t, "x"), rapid.IntRange(0, 40).Draw(t, "y")
		a, b := rapid.Float64Range(0.1, 50).Draw(t, "a"), rapid.Float64Range(0.1, 50).Draw(t, "b")
		r := Ratio(x, a, y, b, 0.95)
		out := r.Interval.Low > 1 || r.Interval.High < 1
		if math.Abs(r.P-0.05) > 1e-6 && out != (r.P < 0.05) {
			t.Fatalf("p %g, interval %v", r.P, r.Interval)
		}
		back := Ratio(y, b, x, a, 0.95)
		if math.Abs(back.P-r.P) > 1e-9 || r.Interval.Low > 0 && math.Abs(back.Interval.High*r.Interval.Low-1) > 1e-6 {
			t.Fatalf("turned round: %v, %v", r, back)
		}
		if x+y > 0 && !(r.Interval.Low <= r.Ratio && r.Ratio <= r.Interval.High) {
			t.Fatal("the ratio lies outside its interval")
		}
	})
}

// The interval of a rate covers its own mean chance: the sum over counts of Poisson chances whose interval holds the true rate is at least 95 %.
func TestRateCovers(t *testing.T) {
	for _, mean := range []float64{0.3, 1, 2.5, 7, 20} {
		covered, p := 0.0, math.Exp(-mean)
		for n := range 200 {
			if n > 0 {
				p *= mean / float64(n)
			}
			if r := Rate(n, 2, 0.95); r.Low <= mean/2 && mean/2 <= r.High {
				covered += p
			}
		}
		if covered < 0.95 {
			t.Errorf("mean %g: covered in %g", mean, covered)
		}
	}
}

func TestNothingSeen(t *testing.T) {
	r := Ratio(0, 1, 0, 2, 0.95)
	if !math.IsNaN(r.Ratio) || r.P != 1 || r.Interval.Low != 0 || !math.IsInf(r.Interval.High, 1) {
		t.Errorf("two empty records tell %v", r)
	}
	defer func() {
		if recover() == nil {
			t.Error("a rate without exposure was told")
		}
	}()
	Rate(1, 0, 0.95)
}
