package ground

import (
	"cmp"
	"context"
	"math"
	"slices"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/stats/field"
)

// Surface is the depth of the working area on a grid. It does not change and is safe for concurrent use.
type Surface struct {
	shore   *shore
	grid    Grid
	water   []bool
	meanM   []float64 // by cell; NaN where no depth is known
	sdM     []float64
	form    []int8 // by cell, of the chart; nil without one
	quality Quality
}

// Depth is what a surface says of a place. Spread is one standard deviation. Without Known both are meaningless.
type Depth struct {
	Mean, Spread quantity.Length
	Known        bool
}

// Priors of the chart's errors, before any hole has been drilled; our own choice, common practice, no source: the
// water level moves by some decimetres, an old chart is a tenth too deep or too shallow, and the bottom between its
// soundings differs by some decimetres over some hundred metres.
var (
	chartTrend   = []field.Prior{{Mean: 0, SD: 0.5}, {Mean: 1, SD: 0.1}} // offset in m, scale
	chartGuesses = field.Guesses{
		Shape: field.Matern32,
		Sill:  field.Guess{Median: 0.5, LogSD: 1},  // m2
		Range: field.Guess{Median: 300, LogSD: .7}, // m
		Noise: field.Guess{Median: 0.01, LogSD: 1}, // m2
	}
)

// doubtedHoles: with few holes the residual's size is mostly the prior's, which knows nothing of this chart's gaps. Ours.
const doubtedHoles = 5

// Surface corrects the chart by all holes so far; without a chart it is made of the holes alone.
func (c *Chart) Surface(ctx context.Context, holes []Sounding) (*Surface, error) {
	for _, h := range holes {
		if h.Kind != FromHole {
			return nil, fault.New(fault.BadInput, "Give chart soundings when preparing the chart.", "%s %s is not a hole", h.Kind, h.ID)
		}
	}
	if err := checkSoundings(holes, c.shore); err != nil {
		return nil, err
	}
	// in an order of their own, so that the order of arrival changes nothing
	holes = slices.Clone(holes)
	slices.SortFunc(holes, func(a, b Sounding) int {
		return cmp.Or(cmp.Compare(a.At.N, b.At.N), cmp.Compare(a.At.E, b.At.E), cmp.Compare(a.Depth, b.Depth), cmp.Compare(a.ID, b.ID))
	})
	s := &Surface{shore: c.shore, grid: c.grid, water: c.water, form: c.form, quality: c.quality}
	s.quality.Holes = len(holes)
	if len(holes) > globalMost {
		holes = c.pool(holes, 1) // finer than a cell is not shown; a season's holes crowd into few cells of a coarse grid
	}
	s.quality.Pooled = len(holes)
	var err error
	switch {
	case c.drift != nil:
		err = c.correct(ctx, s, holes)
	case len(holes) > 0:
		err = c.fromHoles(ctx, s, holes)
	default:
		s.meanM, s.sdM = nans(c.grid.Len()), nans(c.grid.Len())
	}
	if err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, fault.Wrap(err, fault.BadInput, "Look for holes at one place with very different depths.", "no surface fits the holes")
	}
	for i, m := range s.meanM {
		s.meanM[i] = math.Max(0, m) // NaN stays NaN
	}
	return s, nil
}

// correct fills the surface with a + b chart + residual.
func (c *Chart) correct(ctx context.Context, s *Surface, holes []Sounding) error {
	data := make([]field.Datum, len(holes))
	known := 0.0 // variance of the chart's own depth that the residual at the holes holds already
	for i, h := range holes {
		m, sd, err := c.drift.at(h.At)
		if err != nil {
			return err
		}
		data[i] = h.datum(1, math.Max(0, m))
		known += sd * sd / (float64(len(holes)) + doubtedHoles)
	}
	fitted, err := field.Fit(thin(data), chartTrend, chartGuesses)
	if err != nil {
		return err
	}
	for i := range data {
		data[i].Noise += fitted.Noise
	}
	at, err := predictor(fitted.Model, data, chartTrend)
	if err != nil {
		return err
	}
	w, err := s.quality.validate(fitted.Model, data, holes, chartTrend, c.shore, func(y, sd float64) (float64, float64) { return y, sd })
	if err != nil {
		return err
	}
	// the correction is smooth, the chart need not be: interpolate the first, take the second from its own grid
	moved, sd, err := c.spread(ctx, c.stepFor(fitted.Model.Range, nodesCorrection), func(p geo.Local) (float64, float64, error) {
		chartM, chartSD, err := c.at(p)
		if err != nil {
			return 0, 0, err
		}
		mean, variance, err := at(p, []float64{1, chartM})
		// (GROUND-6) where the chart itself is less sure than at the holes, the residual is larger by the same ratio
		// (GROUND-7) error beyond what was stated may be real bottom: it stays in the spread
		variance = variance*(1+math.Max(0, square(chartSD)-known)/fitted.Model.Sill) + fitted.Noise
		return mean - chartM, w.at(p) * math.Sqrt(variance), err
	})
	if err != nil {
		return err
	}
	for i := range moved {
		// (GROUND-5) depth = a + b chart + residual
		moved[i] += math.Max(0, c.depthM[i])
	}
	s.meanM, s.sdM = moved, sd
	s.quality.setFit(fitted, quantity.Length(math.Sqrt(fitted.Model.Sill)), quantity.Length(math.Sqrt(fitted.Noise)))
	return nil
}

// fromHoles fills the surface by ordinary kriging of the holes.
func (c *Chart) fromHoles(ctx context.Context, s *Surface, holes []Sounding) error {
	data := make([]field.Datum, len(holes))
	for i, h := range holes {
		data[i] = h.datum(1)
	}
	l, misses, err := newLayer(ctx, data, c.banks, c.shore)
	if err != nil {
		return err
	}
	w, err := s.quality.validate(l.fitted.Model, l.data, holes, flatMean, c.shore, l.depth)
	if err != nil {
		return err
	}
	if s.meanM, s.sdM, err = c.cells(ctx, c.stepFor(l.fitted.Model.Range, nodesDepth), l, &w); err != nil {
		return err
	}
	s.quality.setRule(l, misses)
	s.quality.setFit(l.fitted, l.length(l.fitted.Model.Sill), l.length(l.fitted.Noise))
	return nil
}

// datum turns a sounding into a datum with the given basis of the trend.
func (d Sounding) datum(trend ...float64) field.Datum {
	return field.Datum{At: d.At, Value: float64(d.Depth), Noise: square(d.sigmaM()), Trend: trend}
}

// predictor solves for few data at once and for many by neighbourhoods.
func predictor(m field.Model, data []field.Datum, prior []field.Prior) (func(geo.Local, []float64) (float64, float64, error), error) {
	if len(data) > globalMost {
		l := field.NewLocal(m, data, prior, nearby, false)
		return func(p geo.Local, t []float64) (float64, float64, error) { return l.At(p, t, nil) }, nil
	}
	f, err := field.Solve(m, data, prior)
	return func(p geo.Local, t []float64) (float64, float64, error) {
		mean, variance := f.At(p, t)
		return mean, variance, nil
	}, err
}

func square(x float64) float64 { return x * x }

// Grid gives the geometry of the cells.
func (s *Surface) Grid() Grid { return s.grid }

// Cell gives the depth of cell i; on land it is not known. It panics outside the grid.
func (s *Surface) Cell(i int) Depth {
	if !s.water[i] || math.IsNaN(s.meanM[i]) {
		return Depth{}
	}
	return Depth{Mean: quantity.Length(s.meanM[i]), Spread: quantity.Length(s.sdM[i]), Known: true}
}

// CellOnWater tells whether the centre of cell i is on water.
func (s *Surface) CellOnWater(i int) bool { return s.water[i] }

// At gives the depth at a place; not known on land, outside the outline and outside the working area.
func (s *Surface) At(p geo.Local) Depth {
	if _, ok := s.grid.Index(p); !ok || !s.shore.contains(p) {
		return Depth{}
	}
	nodes, weights := newLattice(s.grid, 1).corners(p)
	mean, sd := blend(s.meanM, nodes, weights), blend(s.sdM, nodes, weights)
	if math.IsNaN(mean) {
		return Depth{}
	}
	return Depth{Mean: quantity.Length(mean), Spread: quantity.Length(sd), Known: true}
}

// OnWater tells whether p lies inside the outline and on no island; it also answers outside the working area.
func (s *Surface) OnWater(p geo.Local) bool { return s.shore.contains(p) }

// ShoreDistance gives the distance from p, on water or on land, to the nearest bank of mainland or island.
func (s *Surface) ShoreDistance(p geo.Local) quantity.Length {
	return quantity.Length(s.shore.distance(p))
}

// Slope gives the steepness of the bottom at p, rise over run; NaN where the depth around p is not known.
func (s *Surface) Slope(p geo.Local) float64 {
	h := s.grid.Cell
	// the difference to both sides, or to one where the other is land
	along := func(e, n float64) float64 {
		a, mid, b := s.At(p.Sub(geo.Local{E: e, N: n})), s.At(p), s.At(p.Add(geo.Local{E: e, N: n}))
		switch {
		case a.Known && b.Known:
			return float64((b.Mean - a.Mean) / (2 * h))
		case mid.Known && b.Known:
			return float64((b.Mean - mid.Mean) / h)
		case mid.Known && a.Known:
			return float64((mid.Mean - a.Mean) / h)
		}
		return math.NaN()
	}
	return math.Hypot(along(float64(h), 0), along(0, float64(h)))
}

// Report gives how good the surface is.
func (s *Surface) Report() Quality {
	q := s.quality
	q.RuleErrors = slices.Clone(q.RuleErrors)
	return q
}
