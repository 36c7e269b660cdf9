// Package ensemble answers what many runs of a model, each a little different, make of a reading: the ensemble Kalman
// filter, one number at a time.
//
// Start with [New], fill each variable's members, run the model on the members, and call [Ensemble.Update] with what
// every member would have read and what was read; then [Quantile], [Mean] and [Spread] of any variable, or of anything
// worked out from the members.
// It assumes that readings err independently of each other and of the members, and that reading and variables hang
// together about linearly over the spread of the members. Bounds (a thickness below zero) are the caller's to keep,
// after every update. It is the square-root form: it needs no random numbers, and the same members and readings give the
// same result to the last bit. It leaves out localisation: with a hundred members and a dozen variables the false
// correlations are small, and [Ensemble.Inflate] makes up for them.
// Model note: docs/models/icecover.md.
package ensemble

import (
	"math"
	"slices"
)

// Ensemble holds variables by member.
type Ensemble struct {
	variables [][]float64
	scratch   []float64
}

// New makes an ensemble of zeros. It panics on fewer than two members or no variable.
func New(variables, members int) *Ensemble {
	if variables < 1 || members < 2 {
		panic("ensemble: at least one variable and two members are wanted")
	}
	e := &Ensemble{variables: make([][]float64, variables), scratch: make([]float64, members)}
	block := make([]float64, variables*members)
	for v := range e.variables {
		e.variables[v] = block[v*members : (v+1)*members : (v+1)*members]
	}
	return e
}

// Members gives the number of members.
func (e *Ensemble) Members() int { return len(e.scratch) }

// Variable gives a variable's value for every member; writing to it changes the ensemble.
func (e *Ensemble) Variable(v int) []float64 { return e.variables[v] }

// Observation is one number read.
type Observation struct {
	Value float64
	Error float64 // standard deviation, above zero
}

// Update moves all variables towards a reading, by how each hangs together with what the members predict for it. It
// gives the surprise: how many standard deviations of the expected difference the reading lay above the prediction. It
// panics when the predictions are not one a member, or the reading's error is not above zero.
func (e *Ensemble) Update(predicted []float64, o Observation) (surprise float64) {
	if len(predicted) != e.Members() || !(o.Error > 0) || math.IsNaN(o.Value) {
		panic("ensemble: an update wants one prediction a member, a number read and an error above zero")
	}
	ȳ := Mean(predicted)
	y := e.scratch // deviations
	for i, p := range predicted {
		y[i] = p - ȳ
	}
	n1, R := float64(e.Members()-1), o.Error*o.Error
	// (ENS-1)
	S := dot(y, y) / n1
	d := o.Value - ȳ
	if S == 0 {
		return d / math.Sqrt(R) // all members agree: nothing hangs together with it
	}
	// (ENS-3)
	α := 1 / (1 + math.Sqrt(R/(S+R)))
	for _, x := range e.variables {
		// (ENS-2)
		K := dot(x, y) / n1 / (S + R)
		for i := range x {
			// (ENS-4)
			x[i] += float64(K * (d - float64(α*y[i])))
		}
	}
	return d / math.Sqrt(S+R)
}

// Inflate widens the spread of every variable about its mean by a factor, against the overconfidence of a small
// ensemble.
func (e *Ensemble) Inflate(factor float64) {
	for _, x := range e.variables {
		mean := Mean(x)
		for i := range x {
			// (ENS-5)
			x[i] = mean + float64(factor*(x[i]-mean))
		}
	}
}

// dot is the sum of products. With deviations on one side the other need not be centred.
func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += float64(a[i] * b[i])
	}
	return sum
}

// Mean is the mean of the values.
func Mean(values []float64) float64 {
	sum := 0.0
	for _, x := range values {
		sum += x
	}
	return sum / float64(len(values))
}

// Spread is the standard deviation of the values, as an estimate for what they are drawn from.
func Spread(values []float64) float64 {
	mean, sum := Mean(values), 0.0
	for _, x := range values {
		sum += float64((x - mean) * (x - mean))
	}
	return math.Sqrt(sum / float64(len(values)-1))
}

// Quantile gives the value below which the share p of what the values are drawn from lies [HyndmanFan1996, definition
// 6]: a little outside the share of the values themselves, as a small ensemble never reaches its own ends. It panics
// without values and on a share outside 0 to 1. The values are left as they are.
func Quantile(values []float64, p float64) float64 {
	if len(values) == 0 || !(p >= 0 && p <= 1) {
		panic("ensemble: a quantile wants values and a share from 0 to 1")
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	// (ENS-6)
	at := p*float64(len(sorted)+1) - 1
	k := int(math.Floor(at))
	switch {
	case k < 0:
		return sorted[0]
	case k >= len(sorted)-1:
		return sorted[len(sorted)-1]
	}
	return sorted[k] + float64((at-float64(k))*(sorted[k+1]-sorted[k]))
}
