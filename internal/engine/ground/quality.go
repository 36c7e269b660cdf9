package ground

import (
	"math"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/stats/field"
)

// Quality tells what a surface was made of and how far it misses soundings that it was not shown.
type Quality struct {
	ChartSoundings int // given
	ChartBeyond    int // of them out of reach of the working area, so without influence on it
	ChartBlocks    int // block means that the rest became
	Holes          int // given
	Pooled         int // holes or means of holes within a cell that they became: fewer when there are many

	// Cross-validation over the holes: whole clusters, holes within 100 m of one another, left out together.
	Clusters    int             // 0 or 1: nothing could be left out, the four below are 0
	Compared    int             // holes predicted from the others
	RMSE        quantity.Length // of predicted less measured depth
	MeanError   quantity.Length // the same, signed: positive is too deep
	MeanSquareZ float64         // near 1 when the spread is honest, above 1 when it is too narrow

	Rule       ShoreRule         // the shoreline rule in force
	RuleErrors []quantity.Length // RMSE near shore by rule, NaN for a rule not tried; empty without soundings

	// What the holes say of the chart: depth = offset + scale times the chart's depth. Both 0 without a chart.
	ChartOffset quantity.Length
	ChartScale  float64

	// Fitted: spread and scale of distance of the residual, and the error of a hole beyond what was stated.
	Sill, Range, Noise quantity.Length
}

const validateMost = 256 // holes in the cross-validation; of more, a spread of this many

func (q *Quality) setRule(l *layer, misses [3]float64) {
	q.Rule = l.rule
	q.RuleErrors = nil
	for _, m := range misses {
		q.RuleErrors = append(q.RuleErrors, quantity.Length(m))
	}
}

func (q *Quality) setFit(f field.Fitted, sill, noise quantity.Length) {
	q.Sill, q.Range, q.Noise = sill, f.Model.Range, noise
}

// validate leaves out cluster after cluster of holes. The first q.Pooled data are the holes, whatever follows is shore
// and stays in. depth turns a predicted value and its spread into metres.
func (q *Quality) validate(m field.Model, data []field.Datum, prior []field.Prior, depth func(y, sd float64) (float64, float64)) error {
	if q.Pooled > validateMost {
		var some []field.Datum
		for k := range validateMost {
			some = append(some, data[k*q.Pooled/validateMost])
		}
		data = append(some, data[q.Pooled:]...)
	}
	holes := min(q.Pooled, validateMost)
	places := make([]geo.Local, holes)
	for i := range places {
		places[i] = data[i].At
	}
	f, err := field.Solve(m, data, prior)
	if err != nil {
		return err
	}
	if b, _ := f.Coefficients(); len(b) == 2 {
		q.ChartOffset, q.ChartScale = quantity.Length(b[0]), b[1]
	}
	groups := field.Clusters(places, clusterM)
	if len(groups) < 2 {
		return nil
	}
	misses, err := f.LeaveOut(groups)
	if err != nil {
		return err
	}
	for i, miss := range misses {
		y, sd := depth(miss.Predicted, math.Sqrt(miss.Variance))
		z, _ := depth(miss.Observed, 0)
		misses[i].Predicted, misses[i].Observed, misses[i].Variance = math.Max(0, y), z, sd*sd
	}
	s := field.Summarise(misses)
	q.Clusters, q.Compared = len(groups), s.N
	q.RMSE, q.MeanError, q.MeanSquareZ = quantity.Length(s.RMSE), quantity.Length(s.MeanError), s.MeanSquareZ
	return nil
}
