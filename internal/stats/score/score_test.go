package score

import (
	"math"
	"testing"

	"icehand/internal/base/num"
)

// By hand: forecasts 0.8 yes, 0.2 no; the rival starts at 1/2 worth one outcome: 0.5, then (0.5+1)/2 = 0.75.
func TestRunningByHand(t *testing.T) {
	var r Running
	r.Add(0.8, true)
	r.Add(0.2, false)
	if want := 2 * math.Log(0.8); !num.Close(r.Model, want, 1e-12) {
		t.Errorf("model %g, want %g", r.Model, want)
	}
	if want := math.Log(0.5) + math.Log(0.25); !num.Close(r.Rival, want, 1e-12) {
		t.Errorf("rival %g, want %g", r.Rival, want)
	}
	if !num.Close(r.Brier, 0.08, 1e-12) || r.N != 2 || r.Yes != 1 {
		t.Errorf("%+v", r)
	}
	r.Add(math.NaN(), true)
	if r.N != 2 {
		t.Error("a forecast that is no chance was counted")
	}
}

// A forecaster that knows leads a constant rate, one that has it backwards trails; the truth beats its own noise.
func TestTheBetterForecasterLeads(t *testing.T) {
	rng := num.NewStream(5, "score")
	good, bad := Running{Prior: 0.2, Strength: 4}, Running{Prior: 0.2, Strength: 4}
	for range 400 {
		p := 0.05
		if rng.Float64() < 0.5 {
			p = 0.5
		}
		yes := rng.Float64() < p
		good.Add(p, yes)
		bad.Add(0.55-p, yes)
	}
	if good.Gain() < 10 || bad.Gain() > -10 {
		t.Errorf("good %g, backwards %g", good.Gain(), bad.Gain())
	}
}
