package intensity

import (
	"math"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
)

func TestFactorPriorMeanIsOne(t *testing.T) {
	x := NewFactor(0.5)
	if got := math.Exp(x.Mean + x.Var/2); !num.Close(got, 1, 1e-12) {
		t.Errorf("mean factor %g", got)
	}
}

// Many blanks far apart bring the shared factor down and hits bring it up; a field alone would learn nothing from afar.
func TestFactorLearnsWhatPlacesShare(t *testing.T) {
	p := Params{Spacing: 100, Reach: 800, SD: 1, Shape: 3}
	for _, seen := range []bool{false, true} {
		f, x := New(p), NewFactor(0.5)
		was := *x
		for i := range 40 {
			f.ObserveWith(geo.Local{E: 5000 * float64(i)}, Observation{Exposure: 0.4, Seen: seen, Weight: 1}, []*Factor{x})
			x.Settle()
		}
		if x.Var >= was.Var || (x.Mean > was.Mean) != seen {
			t.Errorf("seen %v: from %+v to %+v", seen, was, *x)
		}
		x.Age(0)
		if !num.Close(x.Mean, was.Mean, 1e-12) || !num.Close(x.Var, was.Var, 1e-12) {
			t.Errorf("nothing kept, still %+v", *x)
		}
	}
}

// Without other uncertainty a factor takes the whole of a surprise, so prediction follows what is seen: 30 % of 600 looks
// of exposure 0.1 show something, which needs a rate of about 3.8 times the expected.
func TestPredictionFollowsWhatIsSeen(t *testing.T) {
	f, x := New(Params{Spacing: 100, Reach: 800, SD: 1.3, Shape: 3}), NewFactor(0.5)
	p := geo.Local{E: 50, N: 50}
	for i := range 600 {
		f.ObserveWith(p, Observation{Exposure: 0.1, Seen: i%10 < 3, Weight: 1}, []*Factor{x})
		x.Settle()
	}
	m, v := f.At(p)
	got, _, _ := f.ChanceOf(m+x.Mean, v+x.Var, 0.1, 0, 0)
	if !num.Close(got, 0.3, 0.06) { // sampling error of 600 looks is 0.019; the rest is what covariances left out cost
		t.Errorf("predicted %.3f after 0.300 seen", got)
	}
}
