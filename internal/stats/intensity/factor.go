package intensity

import "math"

// Factor is a Gaussian belief about the logarithm of something that an intensity is multiplied by at many places: the
// rate's overall size, a day's luck, what a class of places is worth. Its prior makes the mean factor 1.
type Factor struct {
	Mean, Var float64 // of the logarithm
	Prior     float64 // variance before anything was seen
	Share     float64 // power with which it enters the present observation

	precision, weighted float64 // what observations since the last [Factor.Settle] add to 1/Var and to Mean/Var
}

// NewFactor makes a factor that has seen nothing.
func NewFactor(sd float64) *Factor {
	if !(sd > 0) {
		panic("intensity: a factor needs a positive standard deviation")
	}
	return &Factor{Mean: -sd * sd / 2, Var: sd * sd, Prior: sd * sd, Share: 1}
}

// leastKnown is the share of its prior variance that a factor keeps: observations share more than the field can tell.
const leastKnown = 0.1

// take keeps the factor's share of what was not expected until it is settled.
func (x *Factor) take(shift, shrink float64) {
	g := x.Share * x.Var
	// (PLAN-60) the same gain as the field's, covariances between field and factors left out
	mean, v := x.Mean+g*shift, math.Max(leastKnown*x.Prior, x.Var-g*g*shrink)
	x.precision += 1/v - 1/x.Var
	x.weighted += mean/v - x.Mean/x.Var
}

// Settle takes in what was observed since it was last called. Between two calls the order of observations that share no
// node of the field does not matter, since all were weighed against the same factor.
func (x *Factor) Settle() {
	p := 1/x.Var + x.precision
	x.Mean = (x.Mean/x.Var + x.weighted) / p
	x.Var = math.Max(leastKnown*x.Prior, 1/p)
	x.precision, x.weighted = 0, 0
}

// Age lets knowledge fade, as [Field.Age] does.
func (x *Factor) Age(keep float64) {
	x.Settle()
	prior := -x.Prior / 2
	// (PLAN-61) z <- a z about the prior mean, v <- a^2 v + (1 - a^2) v0
	x.Mean = prior + keep*(x.Mean-prior)
	x.Var = keep*keep*x.Var + (1-keep*keep)*x.Prior
}
