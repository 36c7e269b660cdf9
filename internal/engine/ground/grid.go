package ground

import (
	"math"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Grid is a grid of square cells on the lake's plane. Cell 0 lies south-west, numbers run eastwards, then northwards.
type Grid struct {
	Origin geo.Local // the south-west corner of cell 0
	Cell   quantity.Length
	NX, NY int
}

// Len gives the number of cells.
func (g Grid) Len() int { return g.NX * g.NY }

// Centre gives the middle of cell i.
func (g Grid) Centre(i int) geo.Local {
	c := float64(g.Cell)
	return geo.Local{E: g.Origin.E + (float64(i%g.NX)+0.5)*c, N: g.Origin.N + (float64(i/g.NX)+0.5)*c}
}

// Index gives the cell that holds p; ok is false outside the grid.
func (g Grid) Index(p geo.Local) (i int, ok bool) {
	x, y := math.Floor((p.E-g.Origin.E)/float64(g.Cell)), math.Floor((p.N-g.Origin.N)/float64(g.Cell))
	if !(x >= 0 && y >= 0 && x < float64(g.NX) && y < float64(g.NY)) {
		return 0, false
	}
	return int(y)*g.NX + int(x), true
}

// newGrid covers the window with cells whose edges lie on whole multiples of the cell, so that a grid does not shift
// when the window grows.
func newGrid(w Window, cell quantity.Length) (Grid, error) {
	width, height := w.Max.E-w.Min.E, w.Max.N-w.Min.N
	if !(width > 0 && height > 0) || math.IsInf(width+height, 0) {
		return Grid{}, fault.New(fault.BadInput, "Choose a working area that overlaps the lake.", "the working area is empty")
	}
	if cell == 0 {
		cell = roundCell(width * height)
	}
	c := float64(cell)
	if !(c > 0) || math.IsInf(c, 0) {
		return Grid{}, fault.New(fault.BadInput, "Choose a cell of some metres.", "the cell's size %v m is not positive", c)
	}
	x0, y0 := math.Floor(w.Min.E/c), math.Floor(w.Min.N/c)
	nx, ny := math.Max(1, math.Ceil(w.Max.E/c)-x0), math.Max(1, math.Ceil(w.Max.N/c)-y0)
	if nx*ny > mostCells {
		return Grid{}, fault.New(fault.BadInput, "Choose larger cells or a smaller working area.",
			"the working area has %.0f cells, more than %d", nx*ny, mostCells)
	}
	return Grid{Origin: geo.Local{E: x0 * c, N: y0 * c}, Cell: cell, NX: int(nx), NY: int(ny)}, nil
}

// roundCell gives the smallest of 10, 20, 50, 100, 200, ... m that keeps the area below plentyCells.
func roundCell(areaM2 float64) quantity.Length {
	for c := 10.0; ; c *= 10 {
		for _, f := range []float64{1, 2, 5} {
			if areaM2/(c*f*c*f) <= plentyCells {
				return quantity.Length(c * f)
			}
		}
	}
}

// lattice is a coarser set of nodes over a grid; values between them are bilinear.
type lattice struct {
	origin geo.Local // the first node
	stepM  float64
	nx, ny int
}

// newLattice lays nodes step cells apart so that every cell centre lies between four of them.
func newLattice(g Grid, step int) lattice {
	return lattice{
		origin: g.Centre(0),
		stepM:  float64(step) * float64(g.Cell),
		nx:     (g.NX-1+step-1)/step + 1,
		ny:     (g.NY-1+step-1)/step + 1,
	}
}

func (l lattice) node(i int) geo.Local {
	return geo.Local{E: l.origin.E + float64(i%l.nx)*l.stepM, N: l.origin.N + float64(i/l.nx)*l.stepM}
}

// corners gives the nodes round p with their bilinear weights; p is brought inside the lattice first.
func (l lattice) corners(p geo.Local) (nodes [4]int, weights [4]float64) {
	split := func(u float64, n int) (int, float64) {
		u = math.Max(0, math.Min(u, float64(n-1)))
		i := min(int(u), max(0, n-2))
		return i, u - float64(i)
	}
	i, u := split((p.E-l.origin.E)/l.stepM, l.nx)
	j, v := split((p.N-l.origin.N)/l.stepM, l.ny)
	i1, j1 := min(i+1, l.nx-1), min(j+1, l.ny-1)
	// (GROUND-1) bilinear weights
	return [4]int{j*l.nx + i, j*l.nx + i1, j1*l.nx + i, j1*l.nx + i1},
		[4]float64{(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v}
}

// blend gives the weighted mean of the corners whose value is known (not NaN); NaN when none is.
func blend(values []float64, nodes [4]int, weights [4]float64) float64 {
	s, w := 0.0, 0.0
	for k, i := range nodes {
		if v := values[i]; weights[k] > 0 && !math.IsNaN(v) {
			s += weights[k] * v
			w += weights[k]
		}
	}
	if w == 0 {
		return math.NaN()
	}
	return s / w
}
