package ice

import (
	"math"
	"testing"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// The slowest wave by brute force: a million wave numbers.
func TestCriticalSpeedBrute(t *testing.T) {
	for _, c := range []struct{ h, H, E float64 }{{0.3, 50, 5e9}, {0.3, 2, 5e9}, {0.175, 6.8, 4e8}, {0.05, 1, 9e9}, {0.8, 200, 9e9}, {0.1, 0.3, 5e8}, {0.01, 10, 5e9}} {
		ρ := float64(WaterDensity)
		D := c.E * c.h * c.h * c.h / (12 * (1 - 1.0/9))
		best := 9.80665 * c.H
		for k := 1e-5; k < 300; k *= 1.00002 {
			th := math.Tanh(k * c.H)
			ω2 := (D*math.Pow(k, 5)/ρ + 9.80665*k) * th / (1 + k*c.h*0.917*th)
			best = math.Min(best, ω2/(k*k))
		}
		near(t, "critical speed", CriticalSpeed(quantity.Length(c.h), quantity.Length(c.H), quantity.Pressure(c.E)).MetresPerSecond(), math.Sqrt(best), 1e-6)
	}
}

// Never above the longest waves; faster on thicker and stiffer ice and over deeper water.
func TestCriticalSpeedMonotone(t *testing.T) {
	rng := num.NewStream(21, "speed")
	for range 400 {
		h, H := quantity.Length(0.02+rng.Float64()), quantity.Length(0.2+40*rng.Float64()*rng.Float64())
		E := quantity.Pressure(5e8 + 8.5e9*rng.Float64())
		c := CriticalSpeed(h, H, E)
		if c > ShallowSpeed(H) || c <= 0 {
			t.Fatalf("%v over %v: %v above the longest waves", h, H, c)
		}
		// over shallow water thicker ice is a little heavier before it is stiffer: a hair below the longest waves
		const hair = 2e-3
		if up := CriticalSpeed(h*1.1, H, E); float64(up) < float64(c)*(1-hair) {
			t.Fatalf("%v over %v: %v, thicker %v", h, H, c, up)
		}
		if CriticalSpeed(h, H*1.1, E) < c-1e-9 || CriticalSpeed(h, H, E*1.1) < c-1e-9 {
			t.Fatalf("%v over %v: %v, not faster over deeper water or with stiffer ice", h, H, c)
		}
		b := CriticalBand(h, H)
		if b.Low > c+1e-9 || b.High < c-1e-9 {
			t.Fatalf("%v outside %v", c, b)
		}
	}
	if CriticalSpeed(0.3, 0, ShortModulus) != 0 || CriticalSpeed(0, 10, ShortModulus) != 0 {
		t.Error("no water or no ice: no wave")
	}
}

// In deep water the speed goes as the eighth root of the modulus: 0.5 GPa gives about 26 % less, 9 GPa 8 % more than 5.
func TestBandWidth(t *testing.T) {
	mid, b := CriticalSpeed(0.3, 100, ShortModulus), CriticalBand(0.3, 100)
	near(t, "low", float64(b.Low/mid), math.Pow(0.1, 1.0/8), 0.02)
	near(t, "high", float64(b.High/mid), math.Pow(1.8, 1.0/8), 0.01)
}

// Each rule from both sides of its line, and at unknown.
func TestMovingAdvice(t *testing.T) {
	for _, c := range []struct {
		name             string
		load, calculated quantity.Mass
		thickness, depth quantity.Length
		near             bool
	}{
		{"half the load", 400, 800, 0.3, 10, false},
		{"above half", 401, 800, 0.3, 10, true},
		{"no figure", 100, 0, 0.3, 10, true},
		{"no figure that is a number", 100, quantity.Mass(math.NaN()), 0.3, 10, true},
		{"above half on 75 cm", 401, 800, 0.75, 10, false},
		{"above half on 74 cm", 401, 800, 0.74, 10, true},
		{"7 t on thick ice", 7000, 100000, 1, 10, true},
		{"less than 7 t on thick ice", 6999, 100000, 1, 10, false},
	} {
		m := MovingAdvice(c.load, c.calculated, c.thickness, c.depth)
		if m.Near != c.near || !m.DepthKnown || m.Limit > m.Band.Low || m.Shore > m.Limit || m.Near && m.Limit > HeavySpeed {
			t.Errorf("%s: %+v", c.name, m)
		}
	}
	known := MovingAdvice(100, 1000, 0.3, 10)
	for _, d := range []quantity.Length{0, -3, quantity.Length(math.NaN())} {
		m := MovingAdvice(100, 1000, 0.3, d)
		if m.DepthKnown || m.Limit >= known.Limit || m.Limit >= UnknownDepthSpeed || m.Shore >= m.Limit || !(m.Shore > 0) {
			t.Errorf("depth %v: %+v", d, m)
		}
	}
	// near the shore: half the speed of the longest waves, 8 km/h over 2 m
	near(t, "shore", MovingAdvice(100, 1000, 0.3, 2).Shore.KilometresPerHour(), math.Sqrt(9.80665*2)/2*3.6, 1e-9)
}

// No limit lies above the band, whatever is asked: faster than the band is never advice.
func TestMovingNeverBeyondTheBand(t *testing.T) {
	rng := num.NewStream(22, "moving")
	for range 300 {
		m := MovingAdvice(quantity.Mass(8000*rng.Float64()), quantity.Mass(9000*rng.Float64()), quantity.Length(rng.Float64()), quantity.Length(30*rng.Float64()))
		if m.Limit > m.Band.Low || m.Shore > m.Limit || m.Band.Low > m.Band.High {
			t.Fatalf("%+v", m)
		}
	}
}
