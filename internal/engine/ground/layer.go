package ground

import (
	"cmp"
	"context"
	"math"
	"slices"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/stats/field"
)

// ShoreRule says what a surface takes the shoreline for.
type ShoreRule int

// The shoreline rules. None is right for every lake: zero depth at the shore helps on gentle banks and hurts on steep ones.
const (
	NoShorePoints ShoreRule = iota // the shoreline is only a mask
	ZeroAtShore                    // the shoreline is a line of soundings of depth 0
	SquaredDepth                   // the same, and the square of the depth is interpolated: steep banks
)

// String names the rule.
func (r ShoreRule) String() string {
	return [...]string{"no shore points", "zero at shore", "zero at shore, squared depth"}[r]
}

const (
	globalMost  = 200  // data in one system; beyond, neighbourhoods
	nearby      = 32   // data in a neighbourhood
	fitMost     = 96   // data that the search for sill, range and noise sees: 15 ms of factorisations
	banksMost   = 120  // shore points
	extraSigmaM = 0.1  // m, our own choice: the median of error beyond what is stated
	bankSigmaM  = 0.30 // m, our own choice: what an outline's depth 0 is worth
	probes      = 60   // soundings nearest to shore that choose the rule
	probesLeast = 8    // fewer cannot choose
	clusterM    = 100  // m: soundings nearer than this witness one another and are left out together
)

// layer predicts depth from depths alone: the chart's own surface, or that of holes on a lake without a chart.
type layer struct {
	rule   ShoreRule
	data   []field.Datum // transformed, shore points last
	own    int           // how many of them are soundings
	fitted field.Fitted
	solved *field.Field // when data are few
	local  *field.Local // always: it answers the cross-validation
}

// flatMean is the trend of ordinary kriging.
var flatMean = []field.Prior{field.Flat}

// newLayer chooses the shoreline rule by leaving out, in turn, each of the soundings nearest to shore with everything
// within clusterM of it. Banks may be empty: then the rule is NoShorePoints. misses gives the RMSE in metres by rule,
// NaN where it was not tried.
func newLayer(ctx context.Context, data []field.Datum, banks []geo.Local, s *shore) (best *layer, misses [3]float64, err error) {
	misses = [3]float64{math.NaN(), math.NaN(), math.NaN()}
	rules := []ShoreRule{NoShorePoints, ZeroAtShore, SquaredDepth}
	probe := nearestToShore(data, s)
	switch {
	case len(banks) == 0:
		rules = rules[:1]
	case len(probe) < probesLeast:
		rules = rules[2:] // the least regret of the three on made-up lakes with few soundings
	}
	for _, r := range rules {
		if err := ctx.Err(); err != nil {
			return nil, misses, err
		}
		l, err := fitLayer(r, data, banks)
		if err != nil {
			return nil, misses, err
		}
		if len(rules) > 1 {
			misses[r] = l.miss(probe, data)
		}
		if best == nil || misses[r] < misses[best.rule] {
			best = l
		}
	}
	return best, misses, best.solve()
}

// solve solves at once for few data.
func (l *layer) solve() (err error) {
	if len(l.data) <= globalMost {
		l.solved, err = field.Solve(l.fitted.Model, l.data, flatMean)
	}
	return err
}

// dressed transforms the depths as the rule asks and adds the shore points.
func dressed(r ShoreRule, data []field.Datum, banks []geo.Local) *layer {
	l := &layer{rule: r, own: len(data), data: slices.Clone(data)}
	if r != NoShorePoints {
		for _, p := range banks {
			l.data = append(l.data, field.Datum{At: p, Noise: bankSigmaM * bankSigmaM, Trend: []float64{1}})
		}
	}
	if r == SquaredDepth {
		for i, d := range l.data {
			// (GROUND-2) y = d^2 with variance 4 d^2 s^2 + 2 s^4
			l.data[i].Value = d.Value * d.Value
			l.data[i].Noise = 4*d.Value*d.Value*d.Noise + 2*d.Noise*d.Noise
		}
	}
	return l
}

// fitLayer finds sill, range and noise under a rule.
func fitLayer(r ShoreRule, data []field.Datum, banks []geo.Local) (*layer, error) {
	l := dressed(r, data, banks)
	mean := 0.0
	for _, d := range data {
		mean += d.Value / float64(len(data))
	}
	sill, extra := math.Max(variance(data), math.Max(9, square(mean/2))), square(extraSigmaM)
	if r == SquaredDepth {
		typical := math.Max(5, mean)
		sill, extra = 4*typical*typical*sill, 4*typical*typical*extra
	}
	fitted, err := field.Fit(thin(l.data[:l.own]), flatMean, field.Guesses{
		Shape: field.Matern32,
		Sill:  field.Guess{Median: math.Max(sill, 0.01), LogSD: 1},
		Range: field.Guess{Median: 1000, LogSD: 0.4}, // m; our own choice, wide
		Noise: field.Guess{Median: extra, LogSD: 0.5},
	})
	if err != nil {
		return nil, err
	}
	l.fit(fitted)
	return l, nil
}

// fit takes sill, range and noise.
func (l *layer) fit(fitted field.Fitted) {
	l.fitted = fitted
	for i := range l.data {
		l.data[i].Noise += fitted.Noise
	}
	l.local = field.NewLocal(fitted.Model, l.data, flatMean, nearby, true)
}

// raw gives the layer's own value and its standard deviation: smooth where depth is not, so fit to be interpolated.
func (l *layer) raw(p geo.Local) (y, sd float64, err error) {
	var variance float64
	if l.solved != nil {
		y, variance = l.solved.At(p, []float64{1})
	} else if y, variance, err = l.local.At(p, []float64{1}, nil); err != nil {
		return 0, 0, err
	}
	// (GROUND-7) error beyond what was stated may be real bottom: it stays in the spread
	return y, math.Sqrt(variance + l.fitted.Noise), nil
}

// at gives depth and standard deviation in metres; the depth may be negative beyond the bank.
func (l *layer) at(p geo.Local) (meanM, sdM float64, err error) {
	y, sd, err := l.raw(p)
	if err != nil {
		return 0, 0, err
	}
	meanM, sdM = l.depth(y, sd)
	return meanM, sdM, nil
}

// depth turns the layer's own value back into metres.
func (l *layer) depth(y, s float64) (meanM, sdM float64) {
	if l.rule != SquaredDepth {
		return y, s
	}
	root := func(v float64) float64 { return math.Sqrt(math.Max(0, v)) }
	// (GROUND-3) d = sqrt(y), spread = half the width of the roots of y +- s
	return root(y), (root(y+s) - root(y-s)) / 2
}

// miss gives the RMSE in metres at the probes, each predicted without what lies within clusterM of it.
func (l *layer) miss(probe []int, data []field.Datum) float64 {
	s, n := 0.0, 0
	for _, i := range probe {
		near := func(j int) bool { return j < l.own && l.data[j].At.Distance(l.data[i].At) < clusterM }
		y, _, err := l.local.At(l.data[i].At, []float64{1}, near)
		if err != nil { // nothing is left to predict from: no evidence for or against this rule
			continue
		}
		d, _ := l.depth(y, 0)
		e := math.Max(0, d) - data[i].Value
		s += e * e
		n++
	}
	return math.Sqrt(s / float64(n))
}

// nearestToShore gives the soundings that know most of the bank; of very many only every k-th is asked.
func nearestToShore(data []field.Datum, s *shore) []int {
	const asked = 2000
	type probe struct {
		i  int
		dM float64
	}
	var all []probe
	for i := 0; i < len(data); i += 1 + len(data)/asked {
		all = append(all, probe{i, s.distance(data[i].At)})
	}
	slices.SortStableFunc(all, func(a, b probe) int { return cmp.Compare(a.dM, b.dM) })
	out := make([]int, min(probes, len(all)))
	for k := range out {
		out[k] = all[k].i
	}
	return out
}

// thin gives at most fitMost data for the search: two thirds spread over the list, and the nearest neighbour of some
// of them, which tell the noise from the field.
func thin(data []field.Datum) []field.Datum {
	if len(data) <= fitMost {
		return slices.Clone(data)
	}
	places := make([]geo.Local, len(data))
	for i, d := range data {
		places[i] = d.At
	}
	index := field.NewIndex(places)
	const spread = fitMost * 2 / 3
	chosen := map[int]bool{}
	for k := range spread {
		chosen[k*len(data)/spread] = true
	}
	for k := 0; k < spread; k += 2 {
		i := k * len(data) / spread
		for _, j := range index.Nearest(data[i].At, 1, func(j int) bool { return j == i }) {
			chosen[j] = true
		}
	}
	var out []field.Datum
	for i := range data { // in the order of the list: the same data give the same sums
		if chosen[i] {
			out = append(out, data[i])
		}
	}
	return out
}

func variance(data []field.Datum) float64 {
	mean, s := 0.0, 0.0
	for _, d := range data {
		mean += d.Value / float64(len(data))
	}
	for _, d := range data {
		s += (d.Value - mean) * (d.Value - mean) / float64(len(data))
	}
	return s
}

// length writes a fitted spread as a quantity; on squared depths it is brought back to metres at the mean depth.
func (l *layer) length(v float64) quantity.Length {
	if l.rule != SquaredDepth {
		return quantity.Length(math.Sqrt(v))
	}
	d2 := 0.0
	for _, d := range l.data[:l.own] {
		d2 += d.Value / float64(l.own)
	}
	_, sd := l.depth(d2, math.Sqrt(v))
	return quantity.Length(sd)
}
