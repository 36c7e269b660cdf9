// Package num holds the small numeric tools that every model shares: seeded random streams, tolerances, quantising.
//
// Start with [NewStream] for randomness: a seed is always an argument, and named children keep experiments apart.
// Results of floating-point work differ in the last bits between machines, so scores are rounded with [Quantise]
// before they are ranked. Statistics proper live in the stats packages.
package num

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// NewStream gives a random stream that depends only on the seed and the names.
// Streams with different names are independent for practical purposes, so adding a consumer does not shift another.
func NewStream(seed uint64, names ...string) *rand.Rand {
	h := fnv.New64a()
	for _, n := range names {
		h.Write([]byte(n))
		h.Write([]byte{0})
	}
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// Quantise rounds x to a multiple of step, so that equal scores on two machines rank equal.
// It panics when step is not positive.
func Quantise(x, step float64) float64 {
	if !(step > 0) {
		panic("num: quantise step must be positive")
	}
	return math.Round(x/step) * step
}

// Close tells whether a and b differ by at most tol, absolutely.
func Close(a, b, tol float64) bool { return math.Abs(a-b) <= tol }

// Clamp brings x into lo..hi.
func Clamp(x, lo, hi float64) float64 { return math.Min(hi, math.Max(lo, x)) }

// Logistic is 1/(1+exp(-x)), without overflow.
func Logistic(x float64) float64 {
	if x >= 0 {
		return 1 / (1 + math.Exp(-x))
	}
	e := math.Exp(x)
	return e / (1 + e)
}

// NormalCDF is the standard normal distribution function.
func NormalCDF(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }
