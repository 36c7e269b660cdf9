package route

import (
	"math"

	"icehand/internal/base/geo"
)

// lattice is the raster of cells by which edges are looked up and, with costs, ways are searched.
type lattice struct {
	e0, n0, cell float64 // m
	w, h         int
}

func (l lattice) centre(i int) geo.Local {
	return geo.Local{E: l.e0 + (float64(i%l.w)+0.5)*l.cell, N: l.n0 + (float64(i/l.w)+0.5)*l.cell}
}

// cellAt gives the cell of a place.
func (l lattice) cellAt(p geo.Local) (int, bool) {
	x, y := math.Floor((p.E-l.e0)/l.cell), math.Floor((p.N-l.n0)/l.cell)
	if !(x >= 0 && y >= 0 && x < float64(l.w) && y < float64(l.h)) {
		return 0, false
	}
	return int(y)*l.w + int(x), true
}

// around gives the range of columns and rows within a distance of a rectangle, cut to the lattice.
func (l lattice) around(lo, hi geo.Local, d float64) (i0, i1, j0, j1 int) {
	cut := func(v float64, n int) int { return int(math.Max(-1, math.Min(float64(n), math.Floor(v)))) }
	i0, i1 = max(cut((lo.E-d-l.e0)/l.cell, l.w), 0), min(cut((hi.E+d-l.e0)/l.cell, l.w), l.w-1)
	j0, j1 = max(cut((lo.N-d-l.n0)/l.cell, l.h), 0), min(cut((hi.N+d-l.n0)/l.cell, l.h), l.h-1)
	return i0, i1, j0, j1
}

// within calls visit with the cells whose middle lies within a distance of a place.
func (l lattice) within(p geo.Local, d float64, visit func(cell int)) {
	i0, i1, j0, j1 := l.around(p, p, d)
	for j := j0; j <= j1; j++ {
		for i := i0; i <= i1; i++ {
			if c := j*l.w + i; l.centre(c).Distance(p).Metres() <= d {
				visit(c)
			}
		}
	}
}

// latticeAround gives some thousand cells over everything that the edges keep a way from.
func latticeAround(edges []edge) lattice {
	lo, hi := geo.Local{E: math.Inf(1), N: math.Inf(1)}, geo.Local{E: math.Inf(-1), N: math.Inf(-1)}
	for _, e := range edges {
		for _, q := range []geo.Local{e.a, e.b} {
			lo.E, lo.N = math.Min(lo.E, q.E-1.1*e.keepM-1), math.Min(lo.N, q.N-1.1*e.keepM-1)
			hi.E, hi.N = math.Max(hi.E, q.E+1.1*e.keepM+1), math.Max(hi.N, q.N+1.1*e.keepM+1)
		}
	}
	if len(edges) == 0 {
		return lattice{cell: 1, w: 1, h: 1}
	}
	const across = 64
	cell := math.Max(hi.E-lo.E, hi.N-lo.N) / across
	return lattice{e0: lo.E, n0: lo.N, cell: cell, w: int(math.Ceil((hi.E - lo.E) / cell)), h: int(math.Ceil((hi.N - lo.N) / cell))}
}

// fillBins enters each edge in the cells that reach into its distance.
func (p *Plane) fillBins() {
	l := p.lattice
	p.bins = make([][]int32, l.w*l.h)
	for k, e := range p.edges {
		d := e.keepM + l.cell*math.Sqrt2/2 + slack
		lo := geo.Local{E: math.Min(e.a.E, e.b.E), N: math.Min(e.a.N, e.b.N)}
		hi := geo.Local{E: math.Max(e.a.E, e.b.E), N: math.Max(e.a.N, e.b.N)}
		i0, i1, j0, j1 := l.around(lo, hi, d)
		for j := j0; j <= j1; j++ {
			for i := i0; i <= i1; i++ {
				if c := j*l.w + i; geo.SegmentDistance(l.centre(c), e.a, e.b) <= d {
					p.bins[c] = append(p.bins[c], int32(k))
				}
			}
		}
	}
}

// clear tells whether a place keeps its distance from the edges that pass the filter.
func (p *Plane) clear(at geo.Local, heed func(edge) bool) bool {
	c, ok := p.lattice.cellAt(at)
	if !ok {
		return p.region.Costs == nil // beyond the lattice there are no edges
	}
	for _, k := range p.bins[c] {
		if e := p.edges[k]; heed(e) && geo.SegmentDistance(at, e.a, e.b) < e.keepM-slack {
			return false
		}
	}
	return true
}

// inObstacle tells whether a place lies in a filled obstacle.
func (p *Plane) inObstacle(at geo.Local) bool {
	for _, o := range p.region.Obstacles {
		if len(o.Points) >= 3 && (geo.Polygon{Outer: o.Points}).Contains(at) {
			return true
		}
	}
	return false
}

// inOutline tells whether a place lies inside the outline.
func (p *Plane) inOutline(at geo.Local) bool {
	return len(p.region.Outline.Outer) == 0 || p.region.Outline.Contains(at)
}

// findCorners puts points round each end of an edge at its distance, so that from one to the next a way keeps it, and
// points before, in and behind each gap. Shortest ways bend at such points alone [LozanoPerez1979].
func (p *Plane) findCorners() {
	seen := map[geo.Local]bool{}
	all := func(edge) bool { return true }
	add := func(at geo.Local, reachM float64) {
		if _, on := p.lattice.cellAt(at); (on || p.region.Costs == nil) && p.clear(at, all) && p.inOutline(at) && !p.inObstacle(at) {
			p.corners = append(p.corners, corner{at, reachM})
		}
	}
	for _, e := range p.edges {
		for _, q := range []geo.Local{e.a, e.b} {
			if seen[q] {
				continue
			}
			seen[q] = true
			n := 16
			if e.keepM < 1 {
				n = 8
			}
			// (ROUTE-1) a ring of points whose sides touch the circle of the distance
			r := e.keepM / math.Cos(math.Pi/float64(n))
			for k := range n {
				s, c := math.Sincos(2 * math.Pi * float64(k) / float64(n))
				add(geo.Local{E: q.E + r*s, N: q.N + r*c}, 3*e.keepM)
			}
		}
	}
	for _, b := range p.region.Barriers {
		for _, g := range b.Gaps {
			f := geo.FootOn(b.Points, g.At)
			d := b.Points[f.Leg+1].Sub(b.Points[f.Leg])
			if l := math.Hypot(d.E, d.N); l > 0 {
				off := math.Max(b.Keep.Metres(), leastKeep) + g.Width.Metres()
				for _, side := range []float64{-off, 0, off} {
					add(geo.Local{E: f.At.E + side*d.N/l, N: f.At.N - side*d.E/l}, 3*off)
				}
			}
		}
	}
}

// linkCells is how far, in cells, a corner is linked to the middles of cells.
const linkCells = 2

// link joins the corners to the cells and corners round about.
func (p *Plane) link() {
	p.near, p.linked = map[int32][]int32{}, make([][]int32, len(p.corners))
	cell := p.lattice.cell
	for k, c := range p.corners {
		p.lattice.within(c.at, linkCells*cell, func(i int) { p.near[int32(i)] = append(p.near[int32(i)], int32(k)) })
		for m := range k {
			o := p.corners[m]
			if d := o.at.Distance(c.at).Metres(); d <= math.Max(3*cell, math.Max(c.reachM, o.reachM)) {
				p.linked[k] = append(p.linked[k], int32(m))
				p.linked[m] = append(p.linked[m], int32(k))
			}
		}
	}
}
