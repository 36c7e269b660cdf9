// Package contrast answers whether one rate of counted events is higher than another, and how high a rate may be, with
// intervals that hold for small counts.
//
// Start with [Rate] for one, [Ratio] for two. Both are exact under Poisson counts: events that come independently at a
// steady rate. Fish come in schools, so true doubt is larger; callers must say so. Only the central p-value is offered,
// because it never contradicts its own interval.
// Model note: docs/models/contrast.md.
package contrast

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Interval bounds a figure. High may be +Inf.
type Interval struct{ Low, High float64 }

// Rate gives the exact interval of a rate from events counted over an exposure. It panics without exposure.
func Rate(events int, exposure, level float64) Interval {
	if !(exposure > 0) || events < 0 || !(level > 0 && level < 1) {
		panic("contrast: no exposure, or a count or level that cannot be")
	}
	tail, n := (1-level)/2, float64(events)
	var out Interval
	// (CONTRAST-1)
	out.High = mathext.GammaIncRegCompInv(n+1, tail) / exposure
	if events > 0 {
		out.Low = mathext.GammaIncRegInv(n, tail) / exposure
	}
	return out
}

// Two compares two rates.
type Two struct {
	Ratio    float64 // of the first to the second; NaN without any event, +Inf without any in the second
	Interval Interval
	P        float64 // central two-sided p-value of equal rates
}

// Ratio compares two rates, given how many of all events were the first's. It panics without exposure.
func Ratio(events1 int, exposure1 float64, events2 int, exposure2, level float64) Two {
	if !(exposure1 > 0) || !(exposure2 > 0) || events1 < 0 || events2 < 0 || !(level > 0 && level < 1) {
		panic("contrast: no exposure, or a count or level that cannot be")
	}
	x, y, tail := float64(events1), float64(events2), (1-level)/2
	out := Two{Ratio: x / exposure1 / (y / exposure2), Interval: Interval{0, math.Inf(1)}, P: 1}
	if events1+events2 == 0 {
		out.Ratio = math.NaN()
		return out
	}
	odds := func(p float64) float64 { return p / (1 - p) * exposure2 / exposure1 }
	share := exposure1 / (exposure1 + exposure2)
	// (CONTRAST-2)
	most, least := 1.0, 1.0 // chance of as many, and of as few, when the rates are equal
	if events1 > 0 {
		out.Interval.Low = odds(mathext.InvRegIncBeta(x, y+1, tail))
		most = mathext.RegIncBeta(x, y+1, share)
	}
	if events2 > 0 {
		out.Interval.High = odds(mathext.InvRegIncBeta(x+1, y, 1-tail))
		least = 1 - mathext.RegIncBeta(x+1, y, share)
	}
	// (CONTRAST-3)
	out.P = math.Min(1, 2*math.Min(most, least))
	return out
}
