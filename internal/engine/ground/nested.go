package ground

import (
	"math"
	"slices"

	"icehand/internal/base/quantity"
)

// Nested is the coarse surface of a whole lake with the fine one of a working area in it, to be drawn as one.
type Nested struct {
	Whole *Surface
	Near  *Surface // nil: there is none
}

// values gives a value of both surfaces by cell; cells of the whole lake that the fine surface covers are NaN, as is
// whatever is not known.
func (n Nested) values(value func(Depth) float64) (whole, near []float64) {
	whole = n.Whole.values(value)
	if n.Near == nil {
		return whole, nil
	}
	near = n.Near.values(value)
	// a coarse cell within the border stays coarse: lines then overlap by up to that much, and no gap is left
	g, rim := n.Near.grid, float64(n.Whole.grid.Cell)
	for i := range whole {
		p := n.Whole.grid.Centre(i)
		if _, covered := g.Index(p); !covered {
			continue
		}
		e, north := p.E-g.Origin.E, p.N-g.Origin.N
		if min(e, north, float64(g.NX)*float64(g.Cell)-e, float64(g.NY)*float64(g.Cell)-north) >= rim {
			whole[i] = math.NaN()
		}
	}
	return whole, near
}

func (s *Surface) values(value func(Depth) float64) []float64 {
	out := nans(s.grid.Len())
	for i := range out {
		if z := s.Cell(i); z.Known {
			out[i] = value(z)
		}
	}
	return out
}

// Isolines gives the lines of equal value: fine ones in the working area, coarse ones beyond.
func (n Nested) Isolines(value func(Depth) float64, at []float64) []Isoline {
	whole, near := n.values(value)
	out := Isolines(n.Whole.grid, whole, at)
	if n.Near != nil {
		out = slices.Concat(Isolines(n.Near.grid, near, at), out)
	}
	return out
}

// PictureGrid gives the grid of a picture: over the whole lake, as fine as the fine surface but of about so many cells at
// most; the whole lake's own where that is no coarser.
func (n Nested) PictureGrid(most int) Grid {
	g := n.Whole.grid
	if n.Near == nil {
		return g
	}
	width, height := float64(g.NX)*float64(g.Cell), float64(g.NY)*float64(g.Cell)
	cell := max(float64(n.Near.grid.Cell), math.Sqrt(width*height/float64(most)))
	if cell >= float64(g.Cell) {
		return g
	}
	return Grid{Origin: g.Origin, Cell: quantity.Length(cell), NX: int(math.Ceil(width / cell)), NY: int(math.Ceil(height / cell))}
}

// Picture gives a value by cell of [Nested.PictureGrid], NaN where nothing is known. Beyond the working area coarse values
// are blended between their cells.
func (n Nested) Picture(value func(Depth) float64, most int) []float64 {
	g := n.PictureGrid(most)
	whole := n.Whole.values(value)
	if g == n.Whole.grid {
		return whole
	}
	near := n.Near.values(value)
	out, between := nans(g.Len()), newLattice(n.Whole.grid, 1)
	for i := range out {
		p := g.Centre(i)
		if k, ok := n.Near.grid.Index(p); ok {
			out[i] = near[k]
		} else if k, ok := n.Whole.grid.Index(p); ok && !math.IsNaN(whole[k]) {
			nodes, weights := between.corners(p)
			out[i] = blend(whole, nodes, weights)
		}
	}
	return out
}
