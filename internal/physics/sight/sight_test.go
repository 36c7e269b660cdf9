package sight

import (
	"math"
	"testing"

	"icehand/internal/base/quantity"
)

// Half a unit of the last printed digit everywhere.
func TestChecks(t *testing.T) {
	miles := func(l quantity.Length) float64 { return float64(l / nauticalMile) }
	for _, c := range []struct {
		source    string
		got, want float64
		tolerance float64
	}{
		// a discussion of the tables of [Bowditch2002] among navigators, with 1.169 for the constant: 70 ft and 100 ft
		{"NavList2005/70 ft", miles(Horizon(70 * quantity.Foot)), 9.8, 0.05},
		{"NavList2005/70 ft to 100 ft", miles(Range(70*quantity.Foot, 100*quantity.Foot)), 21.5, 0.05},
		{"NavList2005/10 ft to 6 ft", miles(Range(10*quantity.Foot, 6*quantity.Foot)), 6.6, 0.05},
		// the metric constant as it should read, 2.12 by square root of a metre
		{"NavList2012/1 m", miles(Horizon(quantity.Metre)), 2.12, 0.005},
		// the 6/6 letter at 20 ft is 8.87 mm high, five minutes of arc
		{"Snellen1862/20 ft", 60 * float64(Angle(8.87*quantity.Millimetre, 20*quantity.Foot).Degrees()), 5, 0.003},
	} {
		t.Run(c.source, func(t *testing.T) {
			if math.Abs(c.got-c.want) > c.tolerance {
				t.Errorf("%g, want %g", c.got, c.want)
			}
		})
	}
}

// A higher eye sees farther, both ends count alike, and what is twice as far looks half as high.
func TestInvariants(t *testing.T) {
	a, b := 1.7*quantity.Metre, 6*quantity.Metre
	if !(Horizon(b) > Horizon(a)) || Horizon(0) != 0 || Range(a, b) != Range(b, a) {
		t.Errorf("%g %g", Horizon(a), Horizon(b))
	}
	near, far := Angle(a, 1000*quantity.Metre).Degrees(), Angle(a, 2000*quantity.Metre).Degrees()
	if math.Abs(near/far-2) > 1e-5 {
		t.Errorf("%g and %g degrees", near, far)
	}
	defer func() {
		if recover() == nil {
			t.Error("an eye below the ground was taken")
		}
	}()
	Horizon(-a)
}
