// Package search answers the classic questions of looking for something that is somewhere: what a pattern of looks
// finds, how to share effort, what a blank look teaches, and when to leave a place that pays less and less.
//
// Start with [SquareGridHit] for spacing, [Split] for sharing effort, [Blank] for a look that found nothing, and
// [Gamma] for the rate of rare events at a place.
// Probabilities and ratios are plain numbers; times and rates may be in any unit as long as one call uses one.
// The functions panic on a caller's mistake (a negative size, a probability outside 0 to 1, not a number).
// It leaves out planning over a map: that belongs where costs and hazards are known.
// Model note: docs/models/search-theory.md.
package search

import (
	"math"
	"time"

	"icehand/internal/base/quantity"
)

// Coverage gives the area swept as a share of the area searched, which can exceed 1.
func Coverage(width quantity.Length, v quantity.Speed, t time.Duration, area quantity.Area) float64 {
	W, A := width.Metres(), float64(area)
	notNegative(W, v.MetresPerSecond(), t.Seconds())
	positive(A)
	// (SEARCH-1)
	return W * v.MetresPerSecond() * t.Seconds() / A
}

// RandomDetection gives the chance that a random search of that coverage detects [Koopman1980].
func RandomDetection(C float64) float64 {
	notNegative(C)
	// (SEARCH-2)
	return -math.Expm1(-C)
}

// ExhaustiveDetection gives the chance for sweeps laid side by side without a gap or an overlap.
func ExhaustiveDetection(C float64) float64 {
	notNegative(C)
	// (SEARCH-3)
	return math.Min(1, C)
}

// InverseCubeDetection gives the chance for parallel sweeps of a sensor that fades with the cube of the distance: between
// the other two, and the most that neat spacing adds [Koopman1980] [Washburn].
func InverseCubeDetection(C float64) float64 {
	notNegative(C)
	// (SEARCH-4)
	return math.Erf(math.Sqrt(math.Pi) / 2 * C)
}

// AtLeastOne gives the chance that at least one of n independent looks succeeds.
func AtLeastOne(p float64, n int) float64 {
	probability(p)
	notNegative(float64(n))
	// (SEARCH-5)
	return 1 - math.Pow(1-p, float64(n))
}

// LooksFor gives the number of independent looks that brings the chance of at least one success to a level below 1.
// It panics when p is 0: no number does.
func LooksFor(p, level float64) int {
	probability(p, level)
	if p == 0 || level == 1 {
		panic("search: no number of looks is enough")
	}
	if p == 1 {
		return 1
	}
	// (SEARCH-6) rounded up, with room for the last bits of the logarithms
	return int(math.Ceil(math.Log1p(-level)/math.Log1p(-p) - 1e-9))
}

// SquareGridHit gives the chance that a circle, dropped anywhere, covers a point of a square grid, by the ratio of its
// radius to the spacing [BarryNicholson1993].
func SquareGridHit(X float64) float64 {
	notNegative(X)
	if X >= math.Sqrt2/2 {
		return 1
	}
	// (SEARCH-7)
	return circleInCell(X, 4)
}

// TriangularGridHit gives the same for a grid of equilateral triangles.
func TriangularGridHit(X float64) float64 {
	notNegative(X)
	if X >= 1/math.Sqrt(3) {
		return 1
	}
	// (SEARCH-8)
	return circleInCell(X, 6) / (math.Sqrt(3) / 2)
}

// circleInCell gives the area of a circle of radius X inside the cell of its grid point, whose sides, so many, lie half
// a spacing away: the circle less a segment for each side.
func circleInCell(X float64, sides float64) float64 {
	segment := 0.0
	if X > 0.5 {
		segment = X*X*math.Acos(1/(2*X)) - math.Sqrt(X*X-0.25)/2
	}
	return math.Pi*X*X - sides*segment
}

// SquareGridRatio gives the ratio of radius to spacing at which a square grid hits with a chance below 1.
func SquareGridRatio(hit float64) float64 {
	probability(hit)
	lo, hi := 0.0, math.Sqrt2/2
	for range 60 {
		mid := (lo + hi) / 2
		if SquareGridHit(mid) < hit {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// SquareSpacing gives the widest square grid that no circle of that radius slips through.
func SquareSpacing(radius quantity.Length) quantity.Length {
	// (SEARCH-9)
	return quantity.Length(radius.Metres() * math.Sqrt2)
}

// TriangularSpacing gives the widest grid of equilateral triangles that no circle of that radius slips through.
func TriangularSpacing(radius quantity.Length) quantity.Length {
	// (SEARCH-10)
	return quantity.Length(radius.Metres() * math.Sqrt(3))
}

// notNegative panics on a negative number or one that is not a number.
func notNegative(xs ...float64) {
	for _, x := range xs {
		if !(x >= 0) {
			panic("search: negative or not a number")
		}
	}
}

// positive panics on anything that is not above zero.
func positive(xs ...float64) {
	for _, x := range xs {
		if !(x > 0) {
			panic("search: not above zero")
		}
	}
}

// probability panics outside 0 to 1.
func probability(xs ...float64) {
	for _, x := range xs {
		if !(x >= 0 && x <= 1) {
			panic("search: probability outside 0 to 1")
		}
	}
}
