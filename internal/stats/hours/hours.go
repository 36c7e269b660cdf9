// Package hours answers at which times of the day events come, from counts whose exposure is known: a curve over the day
// learned over many days, whether the record tells it from a flat one, and spells within a day.
//
// Start with [Learn] for the curve, [Deviance] for flatness, [FitGamma] for how rates differ, [Find] for spells of a day.
// It assumes that counts are Poisson about a rate times their exposure, but for a scatter that is learned with them, and
// that a day differs from another by one factor. It knows no clock: the caller says what a bin is. It leaves out why
// somebody was there at that hour: whoever only goes when it is good learns nothing of the other hours.
// Model note: docs/models/hours.md.
package hours

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mathext"

	"icehand/internal/stats/search"
)

// Counts are events by bin and the exposure in which they came; exposure is in any unit of time, the same throughout.
type Counts struct{ Events, Exposure []float64 }

// Deviance compares the rates of bins with one common rate: the deviance, its degrees of freedom, and the chance that as
// much comes of one rate. Bins without exposure are left out. It panics when the two lists differ in length.
func Deviance(c Counts) (deviance float64, df int, p float64) {
	check(c, len(c.Events))
	events, exposure := total(c)
	df = -1
	if events == 0 {
		return 0, 0, 1
	}
	for b, t := range c.Exposure {
		if t == 0 {
			continue
		}
		df++
		y, μ := c.Events[b], events/exposure*t
		// (HOUR-1) D = 2 Σ (y ln(y/μ) - (y - μ)) [McCullagh1989]
		if y > 0 {
			deviance += 2 * y * math.Log(y/μ)
		}
		deviance -= 2 * (y - μ)
	}
	if df < 1 {
		return 0, 0, 1
	}
	return deviance, df, mathext.GammaIncRegComp(float64(df)/2, math.Max(0, deviance)/2)
}

// ErrAlike is what [FitGamma] gives when rates differ no more than chance makes them: there is nothing to fit.
var ErrAlike = errors.New("hours: fitting a gamma: the rates do not differ")

// mostShape bounds the fitted shape: rates that differ by less than 3 % are alike.
const mostShape = 1000

// FitGamma gives the gamma from which the rates of several counts were drawn, by the largest marginal likelihood.
func FitGamma(c Counts) (search.Gamma, error) {
	check(c, len(c.Events))
	events, _ := total(c)
	n := 0
	for _, t := range c.Exposure {
		if t > 0 {
			n++
		}
	}
	if events == 0 || n < 2 {
		return search.Gamma{}, ErrAlike
	}
	lo, hi := math.Log(1e-3), math.Log(mostShape)
	const golden, steps = 0.6180339887498949, 40 // to 1e-7 of the logarithm
	for range steps {
		a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
		if marginal(c, math.Exp(a)) < marginal(c, math.Exp(b)) {
			lo = a
		} else {
			hi = b
		}
	}
	shape := math.Exp((lo + hi) / 2)
	if shape > 0.99*mostShape {
		return search.Gamma{}, ErrAlike
	}
	return search.Gamma{Shape: shape, Rate: rateFor(c, shape)}, nil
}

// rateFor gives the rate that fits best with a shape.
func rateFor(c Counts, a float64) float64 {
	lo, hi := -30.0, 30.0 // of its logarithm
	for range 50 {
		b := math.Exp((lo + hi) / 2)
		// (HOUR-2) a n/b = Σ (a + y)/(b + t); the left minus the right, times b, falls with b
		sum := 0.0
		for i, t := range c.Exposure {
			if t > 0 {
				sum += a - b*(a+c.Events[i])/(b+t)
			}
		}
		if sum > 0 {
			lo = math.Log(b)
		} else {
			hi = math.Log(b)
		}
	}
	return math.Exp((lo + hi) / 2)
}

// marginal gives the log likelihood of a shape with the rate that fits best, but for a constant.
func marginal(c Counts, a float64) float64 {
	b, sum := rateFor(c, a), 0.0
	base, _ := math.Lgamma(a)
	for i, t := range c.Exposure {
		if t > 0 {
			g, _ := math.Lgamma(a + c.Events[i])
			// (HOUR-3) ln Γ(a + y) - ln Γ(a) + a ln b - (a + y) ln(b + t)
			sum += g - base + a*math.Log(b) - (a+c.Events[i])*math.Log(b+t)
		}
	}
	return sum
}

func total(c Counts) (events, exposure float64) {
	for b := range c.Events {
		if c.Exposure[b] > 0 {
			events, exposure = events+c.Events[b], exposure+c.Exposure[b]
		}
	}
	return events, exposure
}

func check(c Counts, bins int) {
	if len(c.Events) != bins || len(c.Exposure) != bins {
		panic("hours: the lists differ in length")
	}
	for b := range c.Events {
		if !(c.Events[b] >= 0 && c.Exposure[b] >= 0) {
			panic("hours: a count or an exposure is below 0")
		}
	}
}
