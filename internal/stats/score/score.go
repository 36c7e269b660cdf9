// Package score judges forecasts of yes or no by what then happened.
//
// Start with [Running]: it keeps the log score of a forecaster beside that of the plainest rival, the rate seen so far,
// so that a model that is no better than a constant is found out while the day is still young.
// It assumes that each forecast was made before its outcome was known. Judging places not looked at is impossible and
// left out.
// Model note: docs/models/search.md.
package score

import "math"

// Running compares a forecaster with the running base rate. The zero value has a rival that knows nothing;
// set Prior to start it from an expected rate.
type Running struct {
	Prior, Strength float64 // rate that the rival starts from, and the number of outcomes it is worth; zero strength: 1 outcome at 1/2
	N, Yes          int
	Model, Rival    float64 // summed log scores, natural logarithm; larger is better
	Brier           float64 // summed squared errors of the model
}

// clip keeps a forecaster from infinite loss: nobody is surer than 1 in 1000 either way.
const clip = 0.001

// Add takes in a forecast and its outcome. Forecasts that are no chance are left out.
func (r *Running) Add(p float64, yes bool) {
	if !(p >= 0 && p <= 1) {
		return
	}
	prior, strength := r.Prior, r.Strength
	if strength <= 0 {
		prior, strength = 0.5, 1
	}
	// (PLAN-15) the rival's rate before this outcome
	base := (prior*strength + float64(r.Yes)) / (strength + float64(r.N))
	r.Model += logScore(p, yes)
	r.Rival += logScore(base, yes)
	out := 0.0
	if yes {
		out = 1
		r.Yes++
	}
	r.N++
	r.Brier += (p - out) * (p - out)
}

func logScore(p float64, yes bool) float64 {
	p = math.Min(1-clip, math.Max(clip, p))
	// (PLAN-16) log score
	if yes {
		return math.Log(p)
	}
	return math.Log1p(-p)
}

// Gain gives by how much the model leads, in natural log units; negative when it trails.
func (r *Running) Gain() float64 { return r.Model - r.Rival }
