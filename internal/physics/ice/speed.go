package ice

import (
	"math"

	"icehand/internal/base/quantity"
)

// A load that moves makes waves in the sheet. At the speed of the slowest wave they pile up under it.

// The moduli between which a sheet's answer to a moving load was found to lie.
const (
	SoftModulus  = 0.5e9 * quantity.Pascal // what a measurement on sea ice comes to [Takizawa1988]
	StiffModulus = 9e9 * quantity.Pascal   // sound cold freshwater ice; textbook value, unverified
)

// Band is a band of speeds.
type Band struct {
	Low, High quantity.Speed
}

// CriticalBand gives the speeds between which the slowest wave of the sheet travels, for all it may be made of. It
// panics on a negative thickness or depth.
func CriticalBand(thickness, depth quantity.Length) Band {
	return Band{CriticalSpeed(thickness, depth, SoftModulus), CriticalSpeed(thickness, depth, StiffModulus)}
}

// CriticalSpeed gives the speed of the slowest wave in a sheet over water of that depth [Squire1996], formula
// unverified. It is at most [ShallowSpeed].
func CriticalSpeed(thickness, depth quantity.Length, modulus quantity.Pressure) quantity.Speed {
	mustNotBeNegative(depth.Metres(), "depth")
	l, H := CharacteristicLength(thickness, modulus).Metres(), depth.Metres()
	if H == 0 || l == 0 {
		return 0
	}
	c2 := func(κ float64) float64 { return waveSpeedSquared(κ/l, thickness.Metres(), H, l) }
	// The squared speed falls and then rises with the wave number. In shallow water it falls hardly at all, so the
	// limit of long waves is one of the candidates.
	best, at := standardGravity*H, 0.0
	const perDecade = 16
	for i := -4 * perDecade; i <= perDecade; i++ {
		κ := math.Pow(10, float64(i)/perDecade)
		if v := c2(κ); v < best {
			best, at = v, κ
		}
	}
	step := math.Pow(10, 1.0/perDecade)
	for lo, hi := at/step, at*step; hi-lo > 1e-7*hi; { // nothing to refine, and no round, when the longest waves won
		a, b := lo+(hi-lo)/3, hi-(hi-lo)/3
		va, vb := c2(a), c2(b)
		best = math.Min(best, math.Min(va, vb))
		if va < vb {
			hi = b
		} else {
			lo = a
		}
	}
	return quantity.Speed(math.Sqrt(best))
}

// waveSpeedSquared is the squared speed of a wave of wave number k in a sheet of thickness h and characteristic length l
// over water of depth H, in metres and seconds.
func waveSpeedSquared(k, h, H, l float64) float64 {
	g, th := standardGravity, math.Tanh(k*H)
	kl := k * l
	ratio := float64(ClearDensity / WaterDensity)
	// (ICE-40)
	return g / k * (kl*kl*kl*kl + 1) * th / (1 + k*h*ratio*th)
}

// ShallowSpeed gives the speed of the longest waves, which no critical speed exceeds.
func ShallowSpeed(depth quantity.Length) quantity.Speed {
	mustNotBeNegative(depth.Metres(), "depth")
	// (ICE-41)
	return quantity.Speed(math.Sqrt(standardGravity * depth.Metres()))
}

// The numbers of the advice on moving loads.
const (
	HeavySpeed        = 15 * quantity.KilometrePerHour // [ManitobaRoads] [SKHighways]
	heavyLoad         = 7000 * quantity.Kilogram       // from here always [ManitobaRoads]
	lightShare        = 0.5                            // of the calculated load, up to which a vehicle is not near it [FederalGuide503]
	thickEnough       = 75 * quantity.Centimetre       // under it a vehicle near the calculated load goes slowly [FederalGuide503]
	ShoreReach        = 100 * quantity.Metre           // of shore, bars and oncoming vehicles; ours
	shoreShare        = 0.5                            // of the speed of the longest waves there; ours
	ShoreAngle        = 45 * quantity.Degree           // least angle at which to meet the shoreline [FederalGuide503]
	unknownDepth      = 1 * quantity.Metre             // taken where the depth is not known: the slowest waves; ours
	UnknownDepthSpeed = 6.7 * quantity.MetrePerSecond  // what a military model takes there [FrankensteinJones2023], a comparison: ours is slower
)

// Moving is what a load in motion should mind. It names only limits and never a speed to reach: faster than the band is
// no way out of it.
type Moving struct {
	Band       Band           // of the slowest waves; do not ride steadily in it
	Limit      quantity.Speed // not to be exceeded: the low end of the band, or less
	Shore      quantity.Speed // not to be exceeded within ShoreReach of shore, bars and oncoming vehicles
	Near       bool           // the load is near the calculated load, or that is not known, or it is heavy: go slowly everywhere
	DepthKnown bool           // false: judged as over a metre of water
}

// MovingAdvice gives the limits for a load over ice of which so much was drilled. Calculated is the load formula's
// figure after all discounts, 0 when there is none; depth is 0 or not a number when it is not known. It panics on a
// negative thickness or load.
func MovingAdvice(load, calculated quantity.Mass, thickness, depth quantity.Length) Moving {
	mustNotBeNegative(load.Kilograms(), "load")
	m := Moving{DepthKnown: depth > 0}
	if !m.DepthKnown {
		depth = unknownDepth
	}
	m.Band = CriticalBand(thickness, depth)
	m.Near = !(load.Kilograms() <= lightShare*calculated.Kilograms()) && thickness < thickEnough || load >= heavyLoad
	m.Limit = m.Band.Low
	if m.Near {
		m.Limit = min(m.Limit, HeavySpeed)
	}
	// (ICE-42)
	m.Shore = min(m.Limit, quantity.Speed(shoreShare*ShallowSpeed(depth).MetresPerSecond()))
	return m
}
