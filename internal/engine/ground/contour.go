package ground

import (
	"math"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Contour is a line of one depth. A closed one does not repeat its first point; an open one ends where the known depth
// ends: at a bank or at the edge of the working area.
type Contour struct {
	Level  quantity.Length
	Line   []geo.Local
	Closed bool
}

// Contours gives the lines of the asked depths, deeper water on their right, by marching squares between cell centres.
func (s *Surface) Contours(levels []quantity.Length) []Contour {
	var out []Contour
	for _, level := range levels {
		out = append(out, join(s.segments(float64(level)), level)...)
	}
	return out
}

// crossing names the side of a square that a contour cuts: from node lo to its eastern or northern neighbour.
type crossing struct {
	lo    int
	north bool
}

// segment is one step of a contour.
type segment struct {
	from, to crossing
	a, b     geo.Local
}

// segments walks all squares of four known neighbours.
func (s *Surface) segments(levelM float64) []segment {
	var out []segment
	nx := s.grid.NX
	for y := range s.grid.NY - 1 {
		for x := range nx - 1 {
			sw := y*nx + x
			corner := [4]int{sw, sw + 1, sw + nx + 1, sw + nx} // anticlockwise from the south-west
			var v [4]float64
			sum := 0.0
			for k, i := range corner {
				v[k] = s.meanM[i] - levelM
				sum += v[k]
			}
			if math.IsNaN(sum) {
				continue
			}
			out = append(out, s.square(corner, v, sum)...)
		}
	}
	return out
}

// square gives the steps of a contour through one square: each enters where, going anticlockwise round the square,
// shallow turns to deep, and leaves where deep turns to shallow, so deeper water stays on the right.
func (s *Surface) square(corner [4]int, v [4]float64, sum float64) []segment {
	deep := func(k int) bool { return v[k%4] > 0 }
	var in, out []int // sides: k runs from corner k to corner k+1
	for k := range 4 {
		switch {
		case !deep(k) && deep(k+1):
			in = append(in, k)
		case deep(k) && !deep(k+1):
			out = append(out, k)
		}
	}
	var steps []segment
	for _, i := range in {
		// the deep run begins behind side i and ends at the next side out; on a saddle whose middle is deep, the two
		// deep corners hang together, and each line cuts off a shallow corner instead
		o := out[0]
		if len(out) == 2 {
			next := (i + 1) % 4 // sides in and out alternate on a saddle
			if sum > 0 {
				next = (i + 3) % 4
			}
			o = next
		}
		a, pa := s.cut(corner, v, i)
		b, pb := s.cut(corner, v, o)
		steps = append(steps, segment{a, b, pa, pb})
	}
	return steps
}

// cut gives the name and place of the crossing on side k of a square.
func (s *Surface) cut(corner [4]int, v [4]float64, k int) (crossing, geo.Local) {
	i, j := corner[k], corner[(k+1)%4]
	vi, vj := v[k], v[(k+1)%4]
	if i > j { // the same side seen from the neighbouring square must give the same place to the last bit
		i, j, vi, vj = j, i, vj, vi
	}
	p, q := s.grid.Centre(i), s.grid.Centre(j)
	t := vi / (vi - vj)
	return crossing{i, j != i+1}, geo.Local{E: p.E + t*(q.E-p.E), N: p.N + t*(q.N-p.N)}
}

// join strings steps together: every crossing is left by at most one step and entered by at most one.
func join(steps []segment, level quantity.Length) []Contour {
	leaving := make(map[crossing]int, len(steps))
	entered := make(map[crossing]bool, len(steps))
	for i, s := range steps {
		leaving[s.from] = i
		entered[s.to] = true
	}
	used := make([]bool, len(steps))
	follow := func(i int) Contour {
		start := steps[i].from
		c := Contour{Level: level, Line: []geo.Local{steps[i].a}}
		for {
			used[i] = true
			if steps[i].to == start {
				c.Closed = true
				return c
			}
			c.Line = append(c.Line, steps[i].b)
			next, ok := leaving[steps[i].to]
			if !ok || used[next] {
				return c
			}
			i = next
		}
	}
	var out []Contour
	for i, s := range steps { // open lines first, from their beginning
		if !entered[s.from] {
			out = append(out, follow(i))
		}
	}
	for i := range steps {
		if !used[i] {
			out = append(out, follow(i))
		}
	}
	return out
}
