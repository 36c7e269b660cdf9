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
	MeanSquareZ float64         // near 1 when the model's own spread is honest, above 1 when it is too narrow
	Widened     [2]float64      // what spreads are multiplied by for that: near shore, and elsewhere; 1 without evidence

	Rule       ShoreRule         // the shoreline rule in force
	RuleErrors []quantity.Length // RMSE near shore by rule, NaN for a rule not tried; empty without soundings

	// What the holes say of the chart: depth = offset + scale times the chart's depth. Both 0 without a chart.
	ChartOffset quantity.Length
	ChartScale  float64

	// Fitted: spread and scale of distance of the residual, and the error of a hole beyond what was stated.
	Sill, Range, Noise quantity.Length
}

const (
	validateMost = 256   // holes in the cross-validation; of more, a spread of this many
	nearShoreM   = 200.0 // m; ours: banks bend otherwise than the open bottom, so their misses are counted apart
	widenLogSD   = 0.3   // ours: how far off the model's own spread is held to be before any hole is left out
	widenMost    = 3.0   // and at most, either way
)

// widening is what spreads are multiplied by, near shore and elsewhere.
type widening struct {
	shore *shore
	by    [2]float64
}

// at gives the factor at a place: within nearShoreM of the bank it goes over from one to the other.
func (w widening) at(p geo.Local) float64 {
	if w.by[0] == w.by[1] {
		return w.by[1]
	}
	t := math.Min(1, w.shore.distance(p)/nearShoreM)
	return w.by[0] + t*(w.by[1]-w.by[0])
}

// gap is a hole predicted from the others: by how much it was missed, the variance that the surface claims there, and
// that of the hole's own stated error; metres.
type gap struct{ missM, claimed, stated float64 }

// factor gives what the claimed spread must be multiplied by for the misses to be likely.
func factor(gaps []gap) float64 {
	best, at := math.Inf(1), 1.0
	const step = 0.02 // in ln f
	for k := math.Ceil(-math.Log(widenMost) / step); k*step <= math.Log(widenMost); k++ {
		x := k * step
		// (GROUND-8) ln f normal about 0; a miss is normal with variance f^2 claimed + stated
		sum := 0.5 * square(x/widenLogSD)
		for _, g := range gaps {
			v := math.Exp(2*x)*g.claimed + g.stated
			sum += 0.5 * (math.Log(v) + square(g.missM)/v)
		}
		if sum < best {
			best, at = sum, math.Exp(x)
		}
	}
	return at
}

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

// validate leaves out cluster after cluster of holes, and tells what spreads are multiplied by. The first q.Pooled data
// are the holes, whatever follows is shore and stays in. depth turns a predicted value and its spread into metres.
func (q *Quality) validate(m field.Model, data []field.Datum, holes []Sounding, prior []field.Prior, s *shore, depth func(y, sd float64) (float64, float64)) (widening, error) {
	same := widening{s, [2]float64{1, 1}}
	q.Widened = same.by
	if q.Pooled > validateMost {
		var some []field.Datum
		var kept []Sounding
		for k := range validateMost {
			i := k * q.Pooled / validateMost
			some, kept = append(some, data[i]), append(kept, holes[i])
		}
		data, holes = append(some, data[q.Pooled:]...), kept
	}
	places := make([]geo.Local, len(holes))
	for i := range places {
		places[i] = data[i].At
	}
	f, err := field.Solve(m, data, prior)
	if err != nil {
		return same, err
	}
	if b, _ := f.Coefficients(); len(b) == 2 {
		q.ChartOffset, q.ChartScale = quantity.Length(b[0]), b[1]
	}
	groups := field.Clusters(places, clusterM)
	if len(groups) < 2 {
		return same, nil
	}
	misses, err := f.LeaveOut(groups)
	if err != nil {
		return same, err
	}
	var gaps [2][]gap // near shore, elsewhere
	for i, miss := range misses {
		y, sd := depth(miss.Predicted, math.Sqrt(miss.Variance))
		z, _ := depth(miss.Observed, 0)
		misses[i].Predicted, misses[i].Observed, misses[i].Variance = math.Max(0, y), z, sd*sd
		side := 1
		if s.distance(places[miss.Datum]) < nearShoreM {
			side = 0
		}
		stated := square(holes[miss.Datum].sigmaM())
		gaps[side] = append(gaps[side], gap{misses[i].Error(), math.Max(sd*sd-stated, 1e-6), stated})
	}
	sum := field.Summarise(misses)
	q.Clusters, q.Compared = len(groups), sum.N
	q.RMSE, q.MeanError, q.MeanSquareZ = quantity.Length(sum.RMSE), quantity.Length(sum.MeanError), sum.MeanSquareZ
	w := widening{s, [2]float64{factor(gaps[0]), factor(gaps[1])}}
	q.Widened = w.by
	return w, nil
}
