package advise

import (
	"math"
	"testing"

	"icehand/internal/base/num"
)

// Independent fish scatter as their mean; fish that come in schools scatter more, and the record is then worth less.
func TestDispersionOfTheRecord(t *testing.T) {
	rng := num.NewStream(4, "dispersion")
	poisson := func(mean float64) float64 {
		n, p, l := -1.0, 1.0, math.Exp(-mean)
		for ; p > l; n++ {
			p *= rng.Float64()
		}
		return n
	}
	var even, schools []effort
	for range 400 {
		h := 0.2 + rng.Float64()
		even = append(even, effort{hours: h, fish: poisson(2 * h)})
		bout := 0.0
		if rng.Float64() < 0.2 {
			bout = 10
		}
		schools = append(schools, effort{hours: h, fish: poisson(bout * h)})
	}
	// the standard error of a scatter of 1 from 400 sits is sqrt(2/399) = 0.07, and the guess adds 10 x 4 / 410 = 0.1
	if φ := dispersion(even); math.Abs(φ-1.1) > 0.25 {
		t.Errorf("independent fish: %g", φ)
	}
	if φ := dispersion(schools); φ < 3 {
		t.Errorf("fish in schools: %g", φ)
	}
	if φ := dispersion(nil); φ != 5 {
		t.Errorf("no record: %g", φ)
	}
}
