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

// Chart is the part of a surface that does not change as holes come in: grid, masks, shoreline and the chart's own
// depth. It is safe for concurrent use.
type Chart struct {
	shore   *shore
	window  Window
	grid    Grid
	water   []bool
	banks   []geo.Local
	drift   *layer // nil without chart soundings
	misses  [3]float64
	depthM  []float64 // the chart's depth by cell, NaN on land; nil without chart soundings
	sdM     []float64 // its standard deviation by cell
	form    []int8    // the bottom's form by cell; nil without chart soundings
	quality Quality   // the chart's share
}

// reachM: chart soundings further than this beyond the working area do not move its surface (several ranges).
const reachM = 1500.0

// BuildChart prepares outline and chart soundings; holes are refused here and go to [Chart.Surface].
// Chart soundings are first averaged over blocks of two cells' side: detail finer than that is lost, and no more.
func BuildChart(ctx context.Context, in Input) (*Chart, error) {
	if err := checkOutline(in.Outline); err != nil {
		return nil, err
	}
	if in.Window == nil {
		in.Window = in.around()
	}
	c, err := newChart(in)
	if err != nil {
		return nil, err
	}
	for _, s := range in.Soundings {
		if s.Kind != FromChart {
			return nil, fault.New(fault.BadInput, "Give holes when asking for the surface.", "%s %s is not of the chart", s.Kind, s.ID)
		}
	}
	if err := checkSoundings(in.Soundings, c.shore); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	blocks := c.blocks(in.Soundings)
	if len(blocks) == 0 {
		return c, nil
	}
	if c.drift, c.misses, err = newLayer(ctx, blocks, c.banks, c.shore); err != nil {
		return nil, fault.Wrap(err, fault.BadInput, "Look for soundings at one place with very different depths.", "no surface fits the chart soundings")
	}
	c.quality.setRule(c.drift, c.misses)
	if err := c.fill(ctx); err != nil {
		return nil, err
	}
	c.form = (&Surface{shore: c.shore, grid: c.grid, water: c.water, meanM: c.depthM, sdM: c.sdM}).forms()
	return c, nil
}

// newChart lays the grid over a checked outline and masks it.
func newChart(in Input) (*Chart, error) {
	grid, err := newGrid(*in.Window, in.Cell)
	if err != nil {
		return nil, err
	}
	c := &Chart{shore: newShore(in.Outline), window: *in.Window, grid: grid}
	c.water = c.shore.mask(grid)
	c.banks = c.shore.points(c.window.grown(reachM/3), banksMost)
	return c, nil
}

// blocks averages the chart's soundings over squares of two cells' side and counts those out of reach of the working area.
func (c *Chart) blocks(list []Sounding) []field.Datum {
	reach := c.window.grown(reachM)
	near := make([]Sounding, 0, len(list))
	for _, s := range list {
		if reach.contains(s.At) {
			near = append(near, s)
		} else {
			c.quality.ChartBeyond++
		}
	}
	pooled := c.pool(near, 2)
	c.quality.ChartSoundings, c.quality.ChartBlocks = len(list), len(pooled)
	data := make([]field.Datum, len(pooled))
	for i, s := range pooled {
		data[i] = s.datum(1)
	}
	return data
}

// pool averages soundings over squares of some cells' side, in an order that does not depend on theirs.
func (c *Chart) pool(list []Sounding, cells float64) []Sounding {
	side := cells * float64(c.grid.Cell)
	type sum struct{ n, e, north, depth, depth2, variance float64 }
	type key struct{ x, y int }
	sums := map[key]*sum{}
	for _, s := range list {
		k := key{int(math.Floor((s.At.E - c.grid.Origin.E) / side)), int(math.Floor((s.At.N - c.grid.Origin.N) / side))}
		b := sums[k]
		if b == nil {
			b = &sum{}
			sums[k] = b
		}
		d, σ := float64(s.Depth), s.sigmaM()
		b.n++
		b.e += s.At.E
		b.north += s.At.N
		b.depth += d
		b.depth2 += d * d
		b.variance += σ * σ
	}
	keys := make([]key, 0, len(sums))
	for k := range sums {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b key) int { return cmp.Or(cmp.Compare(a.y, b.y), cmp.Compare(a.x, b.x)) })
	out := make([]Sounding, len(keys))
	for i, k := range keys {
		b := sums[k]
		mean := b.depth / b.n
		scatter := math.Max(0, b.depth2/b.n-mean*mean)
		// (GROUND-4) variance of a block's mean: stated error or scatter within, whichever is larger, over n
		v := math.Max(b.variance/b.n, scatter) / b.n
		out[i] = Sounding{At: geo.Local{E: b.e / b.n, N: b.north / b.n}, Depth: quantity.Length(mean), Sigma: quantity.Length(math.Sqrt(v)), Kind: list[0].Kind}
	}
	return out
}

// fill predicts the chart's depth on a lattice and from it at every cell of water.
func (c *Chart) fill(ctx context.Context) error {
	inside := 0
	for _, d := range c.drift.data[:c.drift.own] {
		if c.window.contains(d.At) {
			inside++
		}
	}
	cell := float64(c.grid.Cell)
	// nodes as dense as half the blocks' spacing, two to four cells apart: the finest detail that blocks can carry
	spacing := math.Sqrt(float64(c.grid.Len()) * cell * cell / math.Max(1, float64(inside)))
	step := min(c.stepFor(c.drift.fitted.Model.Range, nodesDepth), max(2, min(4, int(spacing/2/cell))))
	var err error
	c.depthM, c.sdM, err = c.cells(ctx, step, c.drift, nil)
	return err
}

// cells gives a layer's depth and standard deviation at every cell of water; w, when there is one, widens the spread.
func (c *Chart) cells(ctx context.Context, step int, l *layer, w *widening) (depthM, sdM []float64, err error) {
	depthM, sdM, err = c.spread(ctx, step, func(p geo.Local) (y, sd float64, err error) {
		y, sd, err = l.raw(p)
		if w != nil {
			sd *= w.at(p)
		}
		return y, sd, err
	})
	for i := range depthM {
		if c.water[i] {
			depthM[i], sdM[i] = l.depth(depthM[i], sdM[i])
		}
	}
	return depthM, sdM, err
}

// at gives the chart's depth at a lattice node: from its cell where that is water, else by kriging beyond the bank.
func (c *Chart) at(node geo.Local) (meanM, sdM float64, err error) {
	if i, ok := c.grid.Index(node); ok && c.water[i] {
		return math.Max(0, c.depthM[i]), c.sdM[i], nil
	}
	meanM, sdM, err = c.drift.at(node)
	return math.Max(0, meanM), sdM, err
}

// How many lattice nodes stand in a field's range: bilinear interpolation then errs by s^2/8a^2 of the field's own swing
// (Matern 3/2), 1 in 200 for a correction of some decimetres, 1 in 800 for a lake's whole depth.
const (
	nodesCorrection = 5
	nodesDepth      = 10
)

// stepFor gives the lattice step in cells for a field of the given range.
func (c *Chart) stepFor(r quantity.Length, nodes float64) int {
	return max(1, min(8, int(float64(r)/nodes/float64(c.grid.Cell))))
}

// spread calls at for the lattice nodes next to water and interpolates both its answers at the cells of water;
// cells of land are NaN.
func (c *Chart) spread(ctx context.Context, step int, at func(geo.Local) (float64, float64, error)) (a, b []float64, err error) {
	l := newLattice(c.grid, step)
	na, nb := nans(l.nx*l.ny), nans(l.nx*l.ny)
	wanted := make([]bool, l.nx*l.ny)
	for i, wet := range c.water {
		if wet {
			nodes, weights := l.corners(c.grid.Centre(i))
			for k, n := range nodes {
				wanted[n] = wanted[n] || weights[k] > 0
			}
		}
	}
	for n, want := range wanted {
		if n%64 == 0 && ctx.Err() != nil {
			return nil, nil, ctx.Err()
		}
		if want {
			if na[n], nb[n], err = at(l.node(n)); err != nil {
				return nil, nil, err
			}
		}
	}
	a, b = nans(c.grid.Len()), nans(c.grid.Len())
	for i, wet := range c.water {
		if wet {
			nodes, weights := l.corners(c.grid.Centre(i))
			a[i], b[i] = blend(na, nodes, weights), blend(nb, nodes, weights)
		}
	}
	return a, b, nil
}

func nans(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = math.NaN()
	}
	return v
}
