package sonar

import (
	"math"
	"time"

	"icehand/internal/base/quantity"
)

// The encounter functions treat what is sought as discs that are scattered at random over the plane and each go straight
// on at one speed, like a gas in two dimensions. Radius is that of the sought disc and of the footprint together.
// Speed is the weakest input by far.

// MeanDwell gives how long one small target stays in a footprint that it crosses, on average.
func MeanDwell(footprint quantity.Length, v quantity.Speed) time.Duration {
	D := footprint.Metres()
	// (SONAR-14)
	return seconds(math.Pi / 4 * D / v.MetresPerSecond())
}

// FreshLookTime gives the wait that brings as many encounters as one look at a fresh place.
func FreshLookTime(radius quantity.Length, v quantity.Speed) time.Duration {
	R := radius.Metres()
	// (SONAR-15)
	return seconds(math.Pi * R / (2 * v.MetresPerSecond()))
}

// PresenceChance gives the chance that a fresh place has at least one target in reach at once.
func PresenceChance(radius quantity.Length, density quantity.NumberDensity) float64 {
	R, n := radius.Metres(), float64(density)
	// (SONAR-16)
	return -math.Expm1(-n * math.Pi * R * R)
}

// PassChance gives the chance that at least one target comes into reach during a wait.
func PassChance(radius quantity.Length, v quantity.Speed, density quantity.NumberDensity, wait time.Duration) float64 {
	R, n, t := radius.Metres(), float64(density), wait.Seconds()
	// (SONAR-17)
	return -math.Expm1(-2 * R * v.MetresPerSecond() * n * t)
}

// Swept gives the expected number of targets met by a look that starts at a fresh place and lasts a while.
func Swept(radius quantity.Length, v quantity.Speed, density quantity.NumberDensity, wait time.Duration) float64 {
	R, D, t := radius.Metres(), float64(density), wait.Seconds()
	// (SONAR-18)
	return D * (math.Pi*R*R + 2*R*v.MetresPerSecond()*t)
}

func seconds(s float64) time.Duration {
	if !(s >= 0 && s < 1e9) { // also for a speed of zero: nothing moves, so no wait is ever enough
		panic("sonar: speed must be above zero and size not negative")
	}
	return time.Duration(s * float64(time.Second))
}
