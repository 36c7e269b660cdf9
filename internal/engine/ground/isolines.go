package ground

import (
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Isoline is a line of one value of some field over the lake's plane.
type Isoline struct {
	Value  float64
	Line   []geo.Local
	Closed bool
}

// Isolines gives the lines of equal value of any field on a grid, as [Surface.Contours] does for depth: values by cell,
// NaN where the field is not known, larger values on the lines' right.
func Isolines(g Grid, values []float64, at []float64) []Isoline {
	if len(values) != g.Len() {
		panic("ground: isolines of a field that does not cover its grid")
	}
	s := Surface{grid: g, meanM: values}
	var out []Isoline
	for _, v := range at {
		for _, c := range s.Contours([]quantity.Length{quantity.Length(v)}) { // the level is a bare number here
			out = append(out, Isoline{v, c.Line, c.Closed})
		}
	}
	return out
}
