package ice

import (
	"math"

	"icehand/internal/base/quantity"
)

// The plate of ice as a spring lies on it: textbook values, unverified.
const (
	ShortModulus = 5e9 * quantity.Pascal // Young's modulus for minutes
	LongModulus  = 1e9 * quantity.Pascal // what creep leaves of it after two hours and more
	poisson      = 1.0 / 3
)

// CharacteristicLength gives the length over which a floating sheet spreads a load.
func CharacteristicLength(thickness quantity.Length, modulus quantity.Pressure) quantity.Length {
	mustNotBeNegative(thickness.Metres(), "thickness")
	mustNotBeNegative(modulus.Pascals(), "modulus")
	h, E, ν := thickness.Metres(), modulus.Pascals(), poisson
	// (ICE-18)
	D := E * h * h * h / (12 * (1 - ν*ν))
	return quantity.Length(math.Pow(D/(float64(WaterDensity)*standardGravity), 0.25))
}

// Influence gives how much a load weighs at a distance of s characteristic lengths, relative to right under it, judged
// by deflection. Stress falls off faster, so this is careful. It falls below zero beyond 3.9: see [Together].
func Influence(s float64) float64 {
	mustNotBeNegative(s, "distance")
	if s > 8 { // below a thousandth, and the series loses its digits
		return 0
	}
	// (ICE-19)
	return -4 / math.Pi * kei(s)
}

// kei is the Kelvin function of order 0, by its power series [AbramowitzStegun1964, 9.9.10 and 9.9.12]; good to 1e-9 up to 8.
func kei(x float64) float64 {
	if x == 0 {
		return -math.Pi / 4
	}
	u := x * x / 4
	ber, bei, sum := 0.0, 0.0, 0.0
	term := 1.0              // u^n/(n!)^2
	ψ := -0.5772156649015329 // digamma of n+1
	sign := 1.0
	for n := 0; n < 60; n++ {
		if n%2 == 0 {
			ber += sign * term
		} else {
			bei += sign * term
			sum += sign * ψ * term
			sign = -sign
		}
		term *= u / float64((n+1)*(n+1))
		ψ += 1 / float64(n+1)
	}
	return -math.Log(x/2)*bei - math.Pi/4*ber + sum
}

// PointLoad is a load at a distance from the spot that is judged.
type PointLoad struct {
	Mass     quantity.Mass
	Distance quantity.Length
}

// Together gives what loads around a spot come to as one load at that spot. Judge it under every load: calling all to
// one hole makes them one load. It is never less than the loads at no distance, and a far load never takes anything off.
// With [ShortModulus] it serves the load formula; with [LongModulus] it is what weighs on the rim of a hole after hours,
// see [RimLoad].
func Together(loads []PointLoad, thickness quantity.Length, modulus quantity.Pressure) quantity.Mass {
	l := CharacteristicLength(thickness, modulus).Metres()
	sum := 0.0
	for _, p := range loads {
		mustNotBeNegative(p.Mass.Kilograms(), "load")
		mustNotBeNegative(p.Distance.Metres(), "distance")
		φ := 1.0
		if p.Distance > 0 {
			if l == 0 { // no ice spreads nothing, and carries nothing either
				continue
			}
			φ = math.Max(0, Influence(p.Distance.Metres()/l))
		}
		// (ICE-20)
		sum += p.Mass.Kilograms() * φ
	}
	return quantity.Mass(sum)
}

// Sag gives how far a sheet bends down under one load, before it creeps with [ShortModulus] and after with [LongModulus].
func Sag(load quantity.Mass, thickness quantity.Length, modulus quantity.Pressure) quantity.Length {
	l := CharacteristicLength(thickness, modulus).Metres()
	// (ICE-21)
	return quantity.Length(load.Kilograms() / (8 * float64(WaterDensity) * l * l))
}

// RimLoad gives the standing load that presses the rim of a hole down to the water where the top now stands that high
// above it, 0 when it is awash already.
func RimLoad(thickness, freeboard quantity.Length) quantity.Mass {
	l := CharacteristicLength(thickness, LongModulus).Metres()
	// (ICE-22)
	return quantity.Mass(8 * float64(WaterDensity) * l * l * math.Max(0, freeboard.Metres()))
}
