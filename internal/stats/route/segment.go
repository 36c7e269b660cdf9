package route

import (
	"math"

	"icehand/internal/base/geo"
)

// probe walks straight stretches. It remembers which edges a stretch was held against, so it serves one goroutine.
type probe struct {
	*Plane
	stamp []uint32 // by edge: the stretch that it was last held against
	now   uint32
}

func (p *Plane) probe() *probe { return &probe{Plane: p, stamp: make([]uint32, len(p.edges))} }

// tie is the share of a stretch within which it passes through the corner of four cells.
const tie = 1e-7

// stretch gives the cost of the straight stretch a-b, and whether it may be walked. An end of the way may lie across the
// outline by the region's Ends. Cells that touch at a corner alone are no way between them: both cells beside it must be open.
func (s *probe) stretch(a, b geo.Local, aEnds, bEnds bool) (float64, bool) {
	length := a.Distance(b).Metres()
	part, heed := s.rein(a, b, length, aEnds, bEnds)
	s.now++
	l := s.lattice
	x, y, dx, dy := (a.E-l.e0)/l.cell, (a.N-l.n0)/l.cell, (b.E-a.E)/l.cell, (b.N-a.N)/l.cell
	t, last := 0.0, 1.0
	if s.region.Costs == nil {
		if t, last = clip(x, dx, float64(l.w), t, last); t < last {
			t, last = clip(y, dy, float64(l.h), t, last)
		}
		if !(t < last) {
			return length, true // passes by all edges
		}
	}
	i, stepX, nextX, everyX := start(x, dx, t, l.w, s.region.Costs == nil)
	j, stepY, nextY, everyY := start(y, dy, t, l.h, s.region.Costs == nil)
	cost := 0.0
	for {
		if !l.has(i, j) {
			return 0, false
		}
		c := j*l.w + i
		end := math.Min(last, math.Min(nextX, nextY))
		// (ROUTE-2) the cost of a stretch: the factor summed along it
		cost += s.factor(c) * (end - t) * length
		if math.IsInf(s.factor(c), 1) || !s.clearOf(c, [2]geo.Local{a, b}, part, heed) {
			return 0, false
		}
		if t = end; t >= last {
			return cost, true
		}
		switch {
		case math.Abs(nextX-nextY) < tie:
			if !s.open(i+stepX, j) || !s.open(i, j+stepY) {
				return 0, false
			}
			i, j, nextX, nextY = i+stepX, j+stepY, nextX+everyX, nextY+everyY
		case nextX < nextY:
			i, nextX = i+stepX, nextX+everyX
		default:
			j, nextY = j+stepY, nextY+everyY
		}
		if s.region.Costs == nil && !l.has(i, j) {
			return cost, true // left the lattice by a rounding; all edges lie behind
		}
	}
}

// rein gives the part of a stretch that must heed the outline; false: none of it.
func (s *probe) rein(a, b geo.Local, length float64, aEnds, bEnds bool) ([2]geo.Local, bool) {
	share := math.Min(1, s.region.Ends.Metres()/math.Max(length, slack))
	part := [2]geo.Local{a, b}
	lo, hi := 0.0, 1.0
	if aEnds && share > 0 {
		lo = share
		part[0] = geo.Local{E: a.E + lo*(b.E-a.E), N: a.N + lo*(b.N-a.N)}
	}
	if bEnds && share > 0 {
		hi = 1 - share
		part[1] = geo.Local{E: a.E + hi*(b.E-a.E), N: a.N + hi*(b.N-a.N)}
	}
	return part, lo < hi
}

// clearOf tells whether the stretch keeps its distance from the edges near a cell that it was not yet held against: all of
// it from obstacles and barriers, a part of it from the outline.
func (s *probe) clearOf(c int, whole, part [2]geo.Local, heed bool) bool {
	for _, k := range s.bins[c] {
		if s.stamp[k] == s.now {
			continue
		}
		s.stamp[k] = s.now
		e := &s.edges[k]
		at := whole
		if e.outline {
			if at = part; !heed {
				continue
			}
		}
		if geo.SegmentGap(at[0], at[1], e.a, e.b) < e.keepM-slack {
			return false
		}
	}
	return true
}

func (l lattice) has(i, j int) bool { return i >= 0 && j >= 0 && i < l.w && j < l.h }

// factor gives what a metre costs in a cell.
func (p *Plane) factor(c int) float64 {
	if p.region.Costs == nil {
		return 1
	}
	return p.region.Costs.Factor[c]
}

// open tells whether a cell may be walked.
func (p *Plane) open(i, j int) bool {
	if !p.lattice.has(i, j) {
		return p.region.Costs == nil
	}
	return !math.IsInf(p.factor(j*p.lattice.w+i), 1)
}

// clip cuts the share lo..hi of a stretch to where x + t dx lies between 0 and n; lo >= hi when nothing is left.
func clip(x, dx, n, lo, hi float64) (float64, float64) {
	if dx == 0 {
		if x < 0 || x >= n {
			return 1, 0
		}
		return lo, hi
	}
	t0, t1 := -x/dx, (n-x)/dx
	return math.Max(lo, math.Min(t0, t1)), math.Min(hi, math.Max(t0, t1))
}

// start gives along one axis the cell at share t of a stretch, the step from cell to cell, the share at which the next
// cell begins and the share that a cell takes.
func start(x, dx, t float64, n int, cut bool) (cell, step int, next, every float64) {
	cell = int(math.Floor(math.Max(-1, math.Min(float64(n), x+t*dx))))
	if cut { // a stretch cut to the lattice begins in it, whatever the rounding
		cell = max(0, min(n-1, cell))
	}
	switch {
	case dx > 0:
		return cell, 1, (float64(cell+1) - x) / dx, 1 / dx
	case dx < 0:
		return cell, -1, (float64(cell) - x) / dx, -1 / dx
	}
	return cell, 0, math.Inf(1), math.Inf(1)
}
