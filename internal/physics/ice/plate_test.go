package ice

import (
	"math"
	"testing"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// Table of [AbramowitzStegun1964, table 9.12] as remembered, unverified: kei(1) = -0.494995, kei(2) = -0.202400; and the first zero, 3.9147.
func TestKei(t *testing.T) {
	near(t, "kei 0", kei(0), -math.Pi/4, 0)
	near(t, "kei near 0", kei(1e-6), -math.Pi/4, 1e-9)
	near(t, "kei 1", kei(1), -0.494995, 5e-7)
	near(t, "kei 2", kei(2), -0.202400, 5e-7)
	near(t, "zero", kei(3.9147), 0, 1e-5)
	// far out, the leading term of the asymptotic series, good to 1/(8 x)
	for x := 6.0; x <= 8; x += 0.5 {
		lead := -math.Sqrt(math.Pi/(2*x)) * math.Exp(-x/math.Sqrt2) * math.Sin(x/math.Sqrt2+math.Pi/8)
		if math.Abs(kei(x)-lead) > math.Sqrt(math.Pi/(2*x))*math.Exp(-x/math.Sqrt2)/(6*x) {
			t.Errorf("kei %v: %v, asymptotically %v", x, kei(x), lead)
		}
	}
}

// Loads together weigh at least as much as any of them at its own spot, and less the farther they stand apart.
func TestTogether(t *testing.T) {
	rng := num.NewStream(5, "plate")
	for range 500 {
		h := quantity.Length(0.05 + 0.5*rng.Float64())
		own := quantity.Mass(110)
		r := quantity.Length(20 * rng.Float64())
		at := func(d quantity.Length) quantity.Mass {
			return Together([]PointLoad{{own, 0}, {100, d}, {400, 2 * d}}, h, ShortModulus)
		}
		if at(r) < own || at(r) > 610 || at(r+0.1) > at(r)+1e-9 || math.Abs(float64(at(0))-610) > 1e-9 {
			t.Fatalf("ice %v, distance %v: %v, a little farther %v", h, r, at(r), at(r+0.1))
		}
	}
	// four people of 100 kg within a metre on 10 cm are one load: above the 350 kg of the formula
	four := Together([]PointLoad{{100, 0}, {100, 1}, {100, 1}, {100, 1}}, 0.1, ShortModulus)
	if four <= (Strength{}).Load(0.1) {
		t.Errorf("four together %v", four)
	}
	if got := Together([]PointLoad{{100, 0}, {100, 3}}, 0, ShortModulus); got != 100 {
		t.Errorf("no ice: %v", got)
	}
}

// Creep makes a standing load sink deeper, and bare ice of 10 cm floats 8.3 mm high.
func TestStanding(t *testing.T) {
	if Sag(400, 0.1, LongModulus) <= Sag(400, 0.1, ShortModulus) {
		t.Error("creep")
	}
	f := Freeboard(0.1, 0, 0)
	near(t, "freeboard", f.Metres(), 0.0083, 1e-9)
	near(t, "rim", Sag(RimLoad(0.1, f), 0.1, LongModulus).Metres(), f.Metres(), 1e-12)
	if RimLoad(0.1, -0.01) != 0 {
		t.Error("awash already")
	}
}

// Twice the thickness for a stay of more than two hours, t = 4 S sqrt(W) with S = 2: a quarter ton asks for 4 in [Smith2004].
func TestStandingStrength(t *testing.T) {
	load := 0.25 * quantity.ShortTon
	near(t, "thickness", Strength{}.StandingStrength().Required(load).Inches(), SmithThickness(load, 2).Inches(), 0.005)
	low, err := LowerStrength(1.5 * quantity.KilogramPerSquareCentimetre)
	if err != nil || low.StandingStrength() != low {
		t.Errorf("a strength below it is kept: %v %v", low.StandingStrength(), err)
	}
	if _, err := LowerStrength(3.51 * quantity.KilogramPerSquareCentimetre); err == nil {
		t.Error("the strength was raised")
	}
}
