package ground

import (
	"math"
	"slices"

	"icehand/internal/base/geo"
)

// shore answers inside and distance for an outline of many corners by sorting its edges into bands of northing.
// The parts of an outline may not overlap: water is what lies inside an odd number of rings.
type shore struct {
	edges [][2]geo.Local
	n0    float64 // southern end of band 0
	bandM float64 // height of a band, metres
	bands [][]int // edges that reach into the band
}

func newShore(outline []geo.Polygon) *shore {
	s := &shore{}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, g := range outline {
		for _, ring := range append([][]geo.Local{g.Outer}, g.Holes...) {
			for i, j := 0, len(ring)-1; i < len(ring); j, i = i, i+1 {
				s.edges = append(s.edges, [2]geo.Local{ring[j], ring[i]})
				lo, hi = math.Min(lo, ring[i].N), math.Max(hi, ring[i].N)
			}
		}
	}
	bands := max(1, int(math.Sqrt(float64(len(s.edges)))*2))
	s.n0, s.bandM = lo, (hi-lo)/float64(bands)
	if s.bandM == 0 {
		s.bandM = 1
	}
	s.bands = make([][]int, bands)
	for e, ab := range s.edges {
		for b := s.band(math.Min(ab[0].N, ab[1].N)); b <= s.band(math.Max(ab[0].N, ab[1].N)); b++ {
			s.bands[b] = append(s.bands[b], e)
		}
	}
	return s
}

// band gives the band nearest to a northing.
func (s *shore) band(n float64) int {
	b := math.Floor((n - s.n0) / s.bandM)
	return int(math.Max(0, math.Min(b, float64(len(s.bands)-1))))
}

// contains tells whether p is on water: inside an odd number of rings.
func (s *shore) contains(p geo.Local) bool {
	in := false
	for _, e := range s.bands[s.band(p.N)] {
		if x, ok := s.crossing(e, p.N); ok && p.E < x {
			in = !in
		}
	}
	return in
}

// crossing gives where edge e meets the line of northing n; an edge holds its lower end and not its upper one.
func (s *shore) crossing(e int, n float64) (float64, bool) {
	a, b := s.edges[e][0], s.edges[e][1]
	if (a.N > n) == (b.N > n) {
		return 0, false
	}
	return (b.E-a.E)*(n-a.N)/(b.N-a.N) + a.E, true
}

// distance gives the metres from p to the nearest edge.
func (s *shore) distance(p geo.Local) float64 {
	best := math.Inf(1)
	home := s.band(p.N)
	for away := 0; away < len(s.bands); away++ {
		searched := false
		for _, b := range []int{home - away, home + away} {
			if b < 0 || b >= len(s.bands) || away == 0 && searched {
				continue
			}
			gap := 0.0 // from p to the band
			if south := s.n0 + float64(b)*s.bandM; p.N < south {
				gap = south - p.N
			} else if north := south + s.bandM; p.N > north {
				gap = p.N - north
			}
			if gap >= best {
				continue
			}
			searched = true
			for _, e := range s.bands[b] {
				best = math.Min(best, geo.SegmentDistance(p, s.edges[e][0], s.edges[e][1]))
			}
		}
		if !searched && away > 0 {
			break
		}
	}
	return best
}

// mask tells for every cell whether its centre is on water.
func (s *shore) mask(g Grid) []bool {
	water := make([]bool, g.Len())
	var xs []float64
	for y := range g.NY {
		n := g.Centre(y * g.NX).N
		xs = xs[:0]
		for _, e := range s.bands[s.band(n)] {
			if x, ok := s.crossing(e, n); ok {
				xs = append(xs, x)
			}
		}
		slices.Sort(xs)
		k := 0 // crossings at or west of the cell centre
		for x := range g.NX {
			for k < len(xs) && xs[k] <= g.Centre(y*g.NX+x).E {
				k++
			}
			water[y*g.NX+x] = (len(xs)-k)%2 == 1
		}
	}
	return water
}

// points walks the shore and gives a place every spacingM metres that lies in the window.
func (s *shore) points(w Window, most int) []geo.Local {
	const closest = 50.0 // m; closer shore points tell a field of hundreds of metres nothing new
	length := 0.0
	for _, ab := range s.edges {
		if w.contains(ab[0]) || w.contains(ab[1]) {
			length += float64(ab[0].Distance(ab[1]))
		}
	}
	spacing := math.Max(closest, length/float64(most))
	var out []geo.Local
	next := 0.0 // metres still to walk
	for _, ab := range s.edges {
		l := float64(ab[0].Distance(ab[1]))
		for next < l {
			t := next / l
			p := geo.Local{E: ab[0].E + t*(ab[1].E-ab[0].E), N: ab[0].N + t*(ab[1].N-ab[0].N)}
			if w.contains(p) {
				out = append(out, p)
			}
			next += spacing
		}
		next -= l
	}
	return out
}
