package ground

import (
	"cmp"
	"math"
	"slices"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// FeatureKind is what a part of the bottom is.
type FeatureKind int

// The kinds.
const (
	Basin      FeatureKind = iota // a closed hollow, deeper than all that surrounds it
	Hump                          // a closed rise, shallower than all that surrounds it
	Edge                          // steep bottom: where a bank or a side of a hump falls away
	Transition                    // the foot of an edge: where steep turns flat

	Kinds = iota // number of kinds
)

// String names the kind.
func (k FeatureKind) String() string { return [...]string{"basin", "hump", "edge", "transition"}[k] }

// Feature is a part of the bottom with a form of its own.
type Feature struct {
	Kind    FeatureKind
	At      geo.Local       // deepest, shallowest or steepest place of it
	Depth   quantity.Length // there
	Rise    quantity.Length // of a hump over the water round it, of a basin below its rim; of an edge the steepness over a hundred metres
	Area    quantity.Area
	Certain bool // the rise is more than the surface's own doubt of it
	Cells   []int
}

// Options of the search for features; all our own choice, common practice, no source.
const (
	leastRise     = 0.5   // m: less is within what a chart errs
	leastCells    = 4     // fewer are specks of the grid
	steepLeast    = 0.01  // rise over run: less is a flat everywhere
	steepShare    = 0.85  // quantile of the lake's own slopes above which bottom counts as steep
	footReachM    = 60.0  // m from a steep cell to its foot
	mostFeatures  = 60    // of a kind, the largest
	levelStepM    = 0.25  // m between the levels that are flooded
	widestShare   = 0.25  // of the known water: a wider hollow is the lake itself
	outmostShare  = 0.25  // of a rise: less of it is the flat about it
	doubtOfRise   = 1.645 // standard deviations that a certain rise exceeds
	slopeRunMetre = 100.0
)

// Features lists basins, humps, edges and transitions of the bottom, each kind from the largest. They are what the mean
// surface shows: where the spread is wide, Certain is false.
func (s *Surface) Features() []Feature {
	out := slices.Concat(s.closed(Basin), s.closed(Hump))
	edges, steep := s.edges()
	return append(append(out, edges...), s.transitions(steep)...)
}

// closed finds closed hollows or rises: level by level, the cells beyond the level that hang together and touch neither
// land nor the rim of what is known. The widest of nested ones whose rise is told is kept.
func (s *Surface) closed(kind FeatureKind) []Feature {
	sign := 1.0
	if kind == Hump {
		sign = -1
	}
	lo, hi, known := math.Inf(1), math.Inf(-1), 0
	for i := range s.meanM {
		if s.known(i) {
			lo, hi = math.Min(lo, sign*s.meanM[i]), math.Max(hi, sign*s.meanM[i])
			known++
		}
	}
	taken := make([]bool, len(s.meanM))
	var out []Feature
	// (GROUND-9) a basin at level l: a connected part of depth > l that no path leaves; humps with the sign turned
	for level := levelStepM * math.Ceil(lo/levelStepM); level < hi; level += levelStepM {
		for _, part := range s.parts(func(i int) bool { return s.known(i) && sign*s.meanM[i] > level }) {
			best, free := part[0], true
			for _, i := range part {
				if s.atRim(i) || taken[i] {
					free = false
					break
				}
				if sign*s.meanM[i] > sign*s.meanM[best] {
					best = i
				}
			}
			rise := sign*s.meanM[best] - level
			if !free || len(part) < leastCells || rise < leastRise || float64(len(part)) > widestShare*float64(known) {
				continue
			}
			for _, i := range part {
				taken[i] = true
			}
			out = append(out, s.feature(kind, best, part, rise, rise > doubtOfRise*s.sdM[best]))
		}
	}
	return largest(out)
}

// edges finds steep bottom that hangs together, and marks it.
func (s *Surface) edges() (out []Feature, steep []bool) {
	slope := make([]float64, len(s.meanM))
	var all []float64
	for i := range slope {
		slope[i] = math.NaN()
		if s.known(i) {
			if slope[i] = s.Slope(s.grid.Centre(i)); !math.IsNaN(slope[i]) {
				all = append(all, slope[i])
			}
		}
	}
	steep = make([]bool, len(slope))
	if len(all) == 0 {
		return nil, steep
	}
	slices.Sort(all)
	// (GROUND-10) steep: above the 85th of a hundred slopes of this lake, and never below 1 in 100
	bound := math.Max(steepLeast, all[int(steepShare*float64(len(all)-1))])
	for i, b := range slope {
		steep[i] = b > bound
	}
	for _, part := range s.parts(func(i int) bool { return steep[i] }) {
		if len(part) < leastCells {
			continue
		}
		best := slices.MaxFunc(part, func(a, b int) int { return cmp.Compare(slope[a], slope[b]) })
		rise := slope[best] * slopeRunMetre
		out = append(out, s.feature(Edge, best, part, rise, rise > doubtOfRise*s.sdM[best]))
	}
	return largest(out), steep
}

// transitions finds the foot of steep bottom: flat cells within reach of a steep one that are deeper than it.
func (s *Surface) transitions(steep []bool) []Feature {
	r := max(1, int(footReachM/float64(s.grid.Cell)))
	foot := make([]bool, len(steep))
	for i, is := range steep {
		if !is {
			continue
		}
		x, y := i%s.grid.NX, i/s.grid.NX
		for v := max(0, y-r); v <= min(s.grid.NY-1, y+r); v++ {
			for u := max(0, x-r); u <= min(s.grid.NX-1, x+r); u++ {
				// (GROUND-11) foot: not steep, within 60 m of steep bottom and deeper
				if k := v*s.grid.NX + u; s.known(k) && !steep[k] && s.meanM[k] > s.meanM[i] && square(float64(u-x))+square(float64(v-y)) <= square(float64(r)) {
					foot[k] = true
				}
			}
		}
	}
	var out []Feature
	for _, part := range s.parts(func(i int) bool { return foot[i] }) {
		if len(part) < leastCells {
			continue
		}
		best := slices.MaxFunc(part, func(a, b int) int { return cmp.Compare(s.meanM[a], s.meanM[b]) })
		shallowest := slices.MinFunc(part, func(a, b int) int { return cmp.Compare(s.meanM[a], s.meanM[b]) })
		rise := s.meanM[best] - s.meanM[shallowest]
		out = append(out, s.feature(Transition, best, part, rise, rise > doubtOfRise*s.sdM[best]))
	}
	return largest(out)
}

func (s *Surface) feature(kind FeatureKind, at int, cells []int, riseM float64, certain bool) Feature {
	c := float64(s.grid.Cell)
	return Feature{Kind: kind, At: s.grid.Centre(at), Depth: quantity.Length(s.meanM[at]), Rise: quantity.Length(riseM),
		Area: quantity.Area(float64(len(cells)) * c * c), Certain: certain, Cells: cells}
}

// largest keeps the largest, in an order that does not hang on how they were found.
func largest(list []Feature) []Feature {
	slices.SortFunc(list, func(a, b Feature) int {
		return cmp.Or(cmp.Compare(len(b.Cells), len(a.Cells)), cmp.Compare(a.At.N, b.At.N), cmp.Compare(a.At.E, b.At.E))
	})
	return list[:min(len(list), mostFeatures)]
}

func (s *Surface) known(i int) bool { return s.water[i] && !math.IsNaN(s.meanM[i]) }

// atRim tells whether a cell touches land, unknown water or the end of the grid.
func (s *Surface) atRim(i int) bool {
	near, n := s.beside(i)
	for _, k := range near[:n] {
		if !s.known(k) {
			return true
		}
	}
	return n < len(near)
}

// beside gives the up to four neighbours of a cell.
func (s *Surface) beside(i int) (near [4]int, n int) {
	x, y := i%s.grid.NX, i/s.grid.NX
	add := func(ok bool, k int) {
		if ok {
			near[n] = k
			n++
		}
	}
	add(x > 0, i-1)
	add(x < s.grid.NX-1, i+1)
	add(y > 0, i-s.grid.NX)
	add(y < s.grid.NY-1, i+s.grid.NX)
	return near, n
}

// parts gives the sets of cells that hang together and satisfy is, each in rising order of cells found.
func (s *Surface) parts(is func(i int) bool) [][]int {
	seen := make([]bool, len(s.meanM))
	var out [][]int
	for i := range seen {
		if seen[i] || !is(i) {
			continue
		}
		seen[i] = true
		part := []int{i}
		for k := 0; k < len(part); k++ {
			near, n := s.beside(part[k])
			for _, j := range near[:n] {
				if !seen[j] && is(j) {
					seen[j] = true
					part = append(part, j)
				}
			}
		}
		out = append(out, part)
	}
	return out
}

// noForm marks a cell that belongs to no feature.
const noForm = -1

// FormAt gives the form of the bottom at a place, by the chart alone: holes drilled later move depths, not forms, so that
// what was learned of a form stays true of the same ground. False where no certain feature is, and without a chart.
func (s *Surface) FormAt(p geo.Local) (kind FeatureKind, ok bool) {
	i, inside := s.grid.Index(p)
	if !inside || s.form == nil || s.form[i] == noForm {
		return 0, false
	}
	return FeatureKind(s.form[i]), true
}

// forms tells the form of the bottom at every cell: the kind of the smallest certain feature that holds it, else noForm. The
// outermost of a hollow or a rise is flat to anybody who stands there, and is left out.
func (s *Surface) forms() []int8 {
	form := make([]int8, len(s.meanM))
	for i := range form {
		form[i] = noForm
	}
	list := s.Features()
	slices.SortStableFunc(list, func(a, b Feature) int { return cmp.Compare(len(b.Cells), len(a.Cells)) })
	for _, f := range list {
		if !f.Certain {
			continue
		}
		for _, i := range f.Cells {
			// (GROUND-12) the smallest certain feature that holds the cell; of a closed one, what stands a quarter of its rise from its rim
			if (f.Kind == Basin || f.Kind == Hump) && math.Abs(s.meanM[i]-float64(f.Depth)) > (1-outmostShare)*float64(f.Rise) {
				continue
			}
			form[i] = int8(f.Kind)
		}
	}
	return form
}
