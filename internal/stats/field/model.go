// Package field answers what the value of a scattered measurement is between the places where it was measured, and how
// sure that is: kriging, in other words regression with a Gaussian process on the plane.
//
// Start with [Solve] and [Field.At] for up to a few hundred data; [NewLocal] predicts from the nearest data only when
// there are thousands; [Field.Block] averages over a square; [Fit] finds sill, range and noise by likelihood;
// [Field.LeaveOut] tells how far predictions miss.
// It assumes an isotropic, stationary residual around a trend that is linear in given basis functions, Gaussian errors
// with known variance, and places on one plane. Anisotropy and more than one variable are left out: nothing here
// needs them. Values carry no unit: a variance is in the square of whatever the values are in.
// Model note: docs/models/field.md.
package field

import (
	"math"

	"icehand/internal/base/quantity"
)

// Shape names a correlation function of distance.
type Shape int

// The shapes, from rough to smooth. Range means the scale a of each formula, as in gstat's vgm().
const (
	Exponential Shape = iota // exp(-h/a): continuous, with a cusp at every datum
	Spherical                // 1 - 1.5 h/a + 0.5 (h/a)^3 up to a, then 0
	Matern32                 // (1 + h/a) exp(-h/a): once differentiable, no cusps
	Gaussian                 // exp(-(h/a)^2): very smooth; ill-conditioned without nugget or noise
)

// String names the shape.
func (s Shape) String() string {
	return [...]string{"exponential", "spherical", "Matern 3/2", "Gaussian"}[s]
}

// Model is the covariance of the residual. Nugget is real variation at distances too short to see: predictions meet
// the data exactly. The error of a measurement is not part of the field; it stands in [Datum] and is filtered out.
type Model struct {
	Shape  Shape
	Sill   float64         // variance of the continuous part, without the nugget
	Range  quantity.Length // scale of distance
	Nugget float64         // variance that is shared only at distance zero
}

// Covariance gives the covariance of the residual between two places at distance h.
func (m Model) Covariance(h quantity.Length) float64 { return m.covariance(float64(h)) }

// covariance takes h in metres.
func (m Model) covariance(hM float64) float64 {
	c := m.Sill * m.Shape.correlation(hM/float64(m.Range))
	if hM == 0 {
		c += m.Nugget
	}
	return c
}

// correlation takes u = h/a.
func (s Shape) correlation(u float64) float64 {
	switch s {
	case Exponential:
		// (FIELD-1)
		return math.Exp(-u)
	case Spherical:
		if u >= 1 {
			return 0
		}
		// (FIELD-2)
		return 1 - 1.5*u + 0.5*u*u*u
	case Matern32:
		// (FIELD-3)
		return (1 + u) * math.Exp(-u)
	case Gaussian:
		// (FIELD-4)
		return math.Exp(-u * u)
	}
	panic("field: unknown shape of correlation")
}

// check panics on a model that no covariance can have: a mistake of the caller.
func (m Model) check() {
	if !(m.Sill >= 0) || !(m.Range > 0) || !(m.Nugget >= 0) || math.IsInf(m.Sill+m.Nugget, 0) || math.IsInf(float64(m.Range), 0) {
		panic("field: sill and nugget must be finite and not negative, the range positive")
	}
}
