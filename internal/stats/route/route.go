// Package route finds the cheapest way over a plane region with obstacles, barriers that have gaps, and ground that is
// dearer in places; and how far from home one can be and still get back.
//
// Start with [Prepare] and [Plane.Way]; [Plane.Field] works out all places at once. A region without costs is searched
// along the corners of its obstacles, which is exact but for the rounding of corners; one with costs on a raster, at any
// angle. "No way" is a result and never a straight line.
// It assumes that what blocks the way is in the region: a barrier drawn short of the edge leaves a way round its end,
// and ground that nobody looked at counts like any other. It leaves out time: what opens, shuts or ages is the caller's.
// Model note: docs/models/route.md.
package route

import (
	"math"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Region is where a way may run.
type Region struct {
	Outline   geo.Polygon     // inside of it; no outer ring: everywhere
	Keep      quantity.Length // kept from the outline's edges
	Ends      quantity.Length // an end may lie this far across that: a landing on the bank, a poor fix; never across an obstacle
	Obstacles []Obstacle
	Barriers  []Barrier
	Costs     *Costs // nil: all ground alike
}

// Obstacle is ground that no way touches: one point, a line of two, or a filled ring of three and more. The ring need
// not repeat its first point.
type Obstacle struct {
	Points []geo.Local
	Keep   quantity.Length // kept from it; less than a centimetre counts as one
}

// Barrier is a line that may be crossed at its gaps alone.
type Barrier struct {
	Points []geo.Local
	Keep   quantity.Length // kept from it beside the gaps; less than a centimetre counts as one
	Gaps   []Gap
}

// Gap is an opening in a barrier, at the barrier's point nearest to At. It opens nothing when At lies further from the
// barrier than half the width and Keep.
type Gap struct {
	At    geo.Local
	Width quantity.Length // clear, all of it beyond Keep from what stands to both sides
}

// Costs is a raster of what a metre costs, row after row from the south-west. Outside of it there is no way, so it must
// reach over the ends too, ashore as they may be.
type Costs struct {
	Corner geo.Local // south-west corner of the first cell
	Cell   quantity.Length
	W, H   int
	Factor []float64 // above 0; +Inf: closed
}

// NewCosts makes a raster that covers a rectangle, its factors asked at the middle of each cell; nil asks nothing and
// means 1. It panics on a rectangle or cell of no size.
func NewCosts(southWest, northEast geo.Local, cell quantity.Length, factor func(geo.Local) float64) *Costs {
	size := northEast.Sub(southWest)
	if !(cell > 0) || !(size.E > 0) || !(size.N > 0) {
		panic("route: a raster of no size")
	}
	c := &Costs{Corner: southWest, Cell: cell, W: int(math.Ceil(size.E / cell.Metres())), H: int(math.Ceil(size.N / cell.Metres()))}
	c.Factor = make([]float64, c.W*c.H)
	l := c.lattice()
	for i := range c.Factor {
		c.Factor[i] = 1
		if factor != nil {
			c.Factor[i] = factor(l.centre(i))
		}
	}
	return c
}

func (c *Costs) lattice() lattice {
	return lattice{e0: c.Corner.E, n0: c.Corner.N, cell: c.Cell.Metres(), w: c.W, h: c.H}
}

// Outcome says what became of a search.
type Outcome int

// The outcomes.
const (
	Found       Outcome = iota
	NoWay               // nothing known leads there
	FromBlocked         // the start lies in an obstacle or too near to one, off the outline, or on closed ground
	ToBlocked           // the same of the goal
)

// Way is a way that was found, or why none was.
type Way struct {
	Outcome Outcome
	Points  []geo.Local     // from start to goal; none unless found
	Length  quantity.Length // +Inf unless found
	Cost    quantity.Length // what it costs in metres of ground of factor 1; +Inf unless found
}

func none(o Outcome) Way {
	inf := quantity.Length(math.Inf(1))
	return Way{Outcome: o, Length: inf, Cost: inf}
}

// Plane is a region made ready for searching. It is safe for concurrent use.
type Plane struct {
	region  Region
	edges   []edge
	lattice lattice
	bins    [][]int32 // edges near each cell of the lattice
	corners []corner
	near    map[int32][]int32 // with costs: corners linked to a cell
	linked  [][]int32         // with costs: corners linked to a corner
	least   float64           // smallest factor
}

// edge is a stretch that a way keeps away from.
type edge struct {
	a, b    geo.Local
	keepM   float64
	outline bool
}

// corner is a point at which a way may bend round an edge's end.
type corner struct {
	at     geo.Local
	reachM float64 // other corners that it is linked to on a raster
}

const (
	leastKeep = 0.01 // m; ways touch nothing, so that a way through a corner of an obstacle is none
	slack     = 1e-6 // m, for rounding where a way runs just along its distance
)

// Prepare makes a region ready. It panics on what no region has: a ring of two points, a barrier of one, a distance that
// is negative or not a number, factors of 0 or too few of them.
func Prepare(r Region) *Plane {
	r.check()
	p := &Plane{region: r, least: 1}
	p.addRing(r.Outline.Outer, r.Keep, true)
	for _, h := range r.Outline.Holes {
		p.addRing(h, r.Keep, true)
	}
	for _, o := range r.Obstacles {
		p.addRing(o.Points, o.Keep, false)
	}
	for _, b := range r.Barriers {
		for _, piece := range b.pieces() {
			for i := 1; i < len(piece); i++ {
				p.addEdge(piece[i-1], piece[i], b.Keep, false)
			}
		}
	}
	if r.Costs != nil {
		p.lattice = r.Costs.lattice()
		p.least = math.Inf(1)
		for _, f := range r.Costs.Factor {
			p.least = math.Min(p.least, f)
		}
	} else {
		p.lattice = latticeAround(p.edges)
	}
	p.fillBins()
	p.findCorners()
	if r.Costs != nil {
		p.link()
	}
	return p
}

func (r Region) check() {
	distances := []quantity.Length{r.Keep, r.Ends}
	points := append([]geo.Local(nil), r.Outline.Outer...)
	if n := len(r.Outline.Outer); n > 0 && n < 3 {
		panic("route: an outline of fewer than three points")
	}
	for _, h := range r.Outline.Holes {
		if len(h) < 3 {
			panic("route: a hole of fewer than three points")
		}
		points = append(points, h...)
	}
	for _, o := range r.Obstacles {
		if len(o.Points) == 0 {
			panic("route: an obstacle of no points")
		}
		distances, points = append(distances, o.Keep), append(points, o.Points...)
	}
	for _, b := range r.Barriers {
		if len(b.Points) < 2 {
			panic("route: a barrier of fewer than two points")
		}
		distances, points = append(distances, b.Keep), append(points, b.Points...)
		for _, g := range b.Gaps {
			distances, points = append(distances, g.Width), append(points, g.At)
		}
	}
	for _, d := range distances {
		if !(d >= 0) || math.IsInf(float64(d), 0) {
			panic("route: a distance that is negative or not a number")
		}
	}
	for _, q := range points {
		if s := q.E - q.E + q.N - q.N; s != 0 {
			panic("route: a point that is not a number")
		}
	}
	if c := r.Costs; c != nil {
		if !(c.Cell > 0) || c.W < 1 || c.H < 1 || len(c.Factor) != c.W*c.H {
			panic("route: a raster that does not fit its factors")
		}
		for _, f := range c.Factor {
			if !(f > 0) {
				panic("route: a factor that is not above 0")
			}
		}
	}
}

func (p *Plane) addRing(ring []geo.Local, keep quantity.Length, outline bool) {
	for i, a := range ring {
		p.addEdge(a, ring[(i+1)%len(ring)], keep, outline)
		if len(ring) == 2 {
			break
		}
	}
}

func (p *Plane) addEdge(a, b geo.Local, keep quantity.Length, outline bool) {
	p.edges = append(p.edges, edge{a, b, math.Max(keep.Metres(), leastKeep), outline})
}

// pieces gives what is left of a barrier beside its gaps.
func (b Barrier) pieces() [][]geo.Local {
	first := geo.FootOn(b.Points, b.Points[0])
	total := (first.Along + first.Ahead).Metres()
	closed := [][2]float64{{0, total}}
	for _, g := range b.Gaps {
		f := geo.FootOn(b.Points, g.At)
		half := g.Width.Metres()/2 + math.Max(b.Keep.Metres(), leastKeep)
		if !(g.Width > 0) || math.Abs(f.Off.Metres()) > half {
			continue
		}
		lo, hi := f.Along.Metres()-half, f.Along.Metres()+half
		var left [][2]float64
		for _, c := range closed {
			if c[0] < lo {
				left = append(left, [2]float64{c[0], math.Min(c[1], lo)})
			}
			if c[1] > hi {
				left = append(left, [2]float64{math.Max(c[0], hi), c[1]})
			}
		}
		closed = left
	}
	var out [][]geo.Local
	for _, c := range closed {
		out = append(out, stretch(b.Points, c[0], c[1]))
	}
	return out
}

// stretch gives the part of a line between two distances along it.
func stretch(line []geo.Local, lo, hi float64) []geo.Local {
	out := []geo.Local{geo.PointAlong(line, quantity.Length(lo))}
	along := 0.0
	for i := 1; i < len(line); i++ {
		along += line[i-1].Distance(line[i]).Metres()
		if along > lo && along < hi {
			out = append(out, line[i])
		}
	}
	return append(out, geo.PointAlong(line, quantity.Length(hi)))
}
