package route

import (
	"math"
	"slices"

	"icehand/internal/base/geo"
)

// smooth pulls a way straight and, on a raster, eases its bends off the middles of cells.
func (s *searcher) smooth(points []geo.Local) []geo.Local {
	points = s.taut(points)
	if s.cells == 0 || len(points) < 3 {
		return points
	}
	for range 3 {
		points = s.taut(s.ease(halved(points)))
	}
	return points
}

// halved puts a bend in the middle of each stretch.
func halved(points []geo.Local) []geo.Local {
	out := points[:1:1]
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		out = append(out, geo.Local{E: (a.E + b.E) / 2, N: (a.N + b.N) / 2}, b)
	}
	return out
}

// taut pulls a way straight wherever that is no dearer.
func (s *searcher) taut(points []geo.Local) []geo.Local {
	for i := 0; i < len(points)-2; i++ {
		for j := len(points) - 1; j > i+1; j-- {
			first, last := i == 0, j == len(points)-1
			c, ok := s.stretch(points[i], points[j], first, last)
			if ok && first && last {
				ok = s.overIn(points[i], points[j])
			}
			if ok && c <= s.costOf(points[i:j+1], first, last) {
				points = slices.Delete(points, i+1, j)
				break
			}
		}
	}
	return points
}

// costOf gives the cost of a way that is known to be one.
func (s *searcher) costOf(points []geo.Local, fromEnds, toEnds bool) float64 {
	sum := 0.0
	for k := 1; k < len(points); k++ {
		c, _ := s.stretch(points[k-1], points[k], fromEnds && k == 1, toEnds && k == len(points)-1)
		sum += c
	}
	return sum
}

// ease shifts each bend by less and less as long as that makes the way cheaper. Where closed cells are
// near, bends stay at the middles of cells.
func (s *searcher) ease(points []geo.Local) []geo.Local {
	const halvings, rounds = 6, 4
	step := s.lattice.cell
	for range halvings {
		for moved, k := true, 0; moved && k < rounds; k++ {
			moved = false
			for i := 1; i < len(points)-1; i++ {
				moved = s.shift(points, i, step) || moved
			}
		}
		step /= 2
	}
	return points
}

// shift moves one bend by a step to the best of eight sides, if one is cheaper.
func (s *searcher) shift(points []geo.Local, i int, step float64) bool {
	a, old, b := points[i-1], points[i], points[i+1]
	first, last := i == 1, i == len(points)-2
	best := s.costOf([]geo.Local{a, old, b}, first, last)
	moved := false
	for k := range 8 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 4)
		at := geo.Local{E: old.E + step*sin, N: old.N + step*cos}
		if !s.roomy(at) {
			continue
		}
		c, ok := s.stretch(a, at, first, false)
		d, ok2 := s.stretch(at, b, false, last)
		if ok && ok2 && c+d < best-slack && s.inOutline(at) {
			best, points[i], moved = c+d, at, true
		}
	}
	return moved
}

// roomy tells whether a place keeps a cell from closed cells.
func (s *searcher) roomy(at geo.Local) bool {
	cell := s.lattice.cell
	for _, e := range []float64{-cell, 0, cell} {
		for _, n := range []float64{-cell, 0, cell} {
			c, ok := s.lattice.cellAt(geo.Local{E: at.E + e, N: at.N + n})
			if !ok || math.IsInf(s.factor(c), 1) {
				return false
			}
		}
	}
	return true
}
