package chart

import (
	"fmt"
	"math"
	"slices"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// maxPairs bounds the search for crossings, so that a hostile tangle is refused and not pondered.
const maxPairs = 30_000_000

// edge is one side of a ring on the lake's plane.
type edge struct {
	a, b          geo.Local
	polygon, ring int
	index, of     int // the edge's place in its ring, to know its neighbours
}

func (e edge) ringName() string {
	if e.ring == 0 {
		return fmt.Sprintf("the outer ring of polygon %d", e.polygon+1)
	}
	return fmt.Sprintf("island %d of polygon %d", e.ring, e.polygon+1)
}

// check looks at the shape of an outline: its extent, rings that cross, islands outside, pieces inside pieces. It
// rejects in p what would mask the wrong water, and otherwise writes extent and area into the summary.
func check(polygons []Polygon, p *file.Preview) {
	lo, hi := bounds(polygons)
	frame := geo.NewFrame(geo.Position{Lat: (lo.Lat + hi.Lat) / 2, Lon: (lo.Lon + hi.Lon) / 2})
	if lo.Lat < -85 || hi.Lat > 85 || hi.Lon-lo.Lon > 30 {
		p.Reject("", "", fmt.Sprintf("it spans %.1f degrees of longitude and reaches %.1f degrees of latitude, which is no lake", hi.Lon-lo.Lon, math.Max(-lo.Lat, hi.Lat)), "Export the one lake alone.")
		return
	}
	southwest, northeast := frame.Local(lo), frame.Local(hi)
	width, height := quantity.Length(northeast.E-southwest.E), quantity.Length(northeast.N-southwest.N)
	if max(width, height) > maxExtent || max(width, height) < minExtent {
		p.Reject("", "", fmt.Sprintf("it is %.0f m wide and %.0f m high, which is no lake to fish", width.Metres(), height.Metres()), "Export the one lake alone, in degrees.")
		return
	}
	plane := make([]geo.Polygon, len(polygons))
	var edges []edge
	area, points, islands := 0.0, 0, 0
	for i, g := range polygons {
		for k, ring := range append([][]geo.Position{g.Outer}, g.Islands...) {
			local := make([]geo.Local, len(ring))
			for j, q := range ring {
				local[j] = frame.Local(q)
			}
			for j := range local {
				edges = append(edges, edge{local[j], local[(j+1)%len(local)], i, k, j, len(local)})
			}
			area += ringArea(local)
			points += len(ring)
			if k == 0 {
				plane[i].Outer = local
			} else {
				plane[i].Holes = append(plane[i].Holes, local)
				islands++
			}
		}
	}
	if !checkCrossings(edges, p) {
		return
	}
	checkNesting(plane, p)
	p.Summary = append(p.Summary,
		fmt.Sprintf("Outline: %d points, %d islands, %.1f km2 of water.", points, islands, area/1e6),
		fmt.Sprintf("It reaches %.1f km north to south and %.1f km west to east, from %s to %s.", float64(height/quantity.Kilometre), float64(width/quantity.Kilometre), lo.DecimalText(), hi.DecimalText()))
}

// ringArea gives the signed area in square metres, positive for a ring that runs counter-clockwise.
func ringArea(ring []geo.Local) float64 {
	sum := 0.0
	for i, j := 0, len(ring)-1; i < len(ring); j, i = i, i+1 {
		a, b := ring[j].Sub(ring[0]), ring[i].Sub(ring[0])
		sum += a.E*b.N - b.E*a.N
	}
	return sum / 2
}

// checkCrossings rejects an outline any two of whose edges meet, other than neighbours at their common point. Edges are
// swept from west to east, so that only those which overlap in longitude are compared.
func checkCrossings(edges []edge, p *file.Preview) bool {
	west := func(e edge) float64 { return math.Min(e.a.E, e.b.E) }
	slices.SortFunc(edges, func(x, y edge) int {
		switch d := west(x) - west(y); {
		case d < 0:
			return -1
		case d > 0:
			return 1
		}
		return 0
	})
	var open []edge
	pairs := 0
	for _, e := range edges {
		still := open[:0]
		for _, o := range open {
			if math.Max(o.a.E, o.b.E) < west(e) {
				continue
			}
			still = append(still, o)
			if math.Max(o.a.N, o.b.N) < math.Min(e.a.N, e.b.N) || math.Min(o.a.N, o.b.N) > math.Max(e.a.N, e.b.N) || neighbours(e, o) {
				continue
			}
			if geo.SegmentsCross(e.a, e.b, o.a, o.b) {
				p.Reject("", "", crossing(e, o), "Redraw that stretch of shore and export it again.")
				return false
			}
		}
		open = append(still, e)
		if pairs += len(still); pairs > maxPairs {
			p.Reject("", "", "its outline is too tangled to be checked", "Simplify it.")
			return false
		}
	}
	return true
}

// neighbours tells whether two edges follow each other in one ring.
func neighbours(a, b edge) bool {
	if a.polygon != b.polygon || a.ring != b.ring {
		return false
	}
	d := a.index - b.index
	return d == 1 || d == -1 || d == a.of-1 || d == 1-a.of
}

func crossing(a, b edge) string {
	if a.polygon == b.polygon && a.ring == b.ring {
		first, second := min(a.index, b.index)+1, max(a.index, b.index)+1
		return fmt.Sprintf("%s crosses itself between its points %d and %d", a.ringName(), first, second)
	}
	if a.polygon > b.polygon || a.polygon == b.polygon && a.ring > b.ring {
		a, b = b, a
	}
	return fmt.Sprintf("%s crosses %s", a.ringName(), b.ringName())
}

// checkNesting rejects an island outside its water and a polygon inside another. No rings cross here, so one point of a
// ring tells for all.
func checkNesting(plane []geo.Polygon, p *file.Preview) {
	for i, g := range plane {
		outer := geo.Polygon{Outer: g.Outer}
		for k, island := range g.Holes {
			if !outer.Contains(island[0]) {
				p.Reject("", "", fmt.Sprintf("island %d of polygon %d lies outside it", k+1, i+1), "The first ring of a polygon is the shore, the others are islands.")
			}
		}
		for j, o := range plane {
			if i != j && (geo.Polygon{Outer: o.Outer}).Contains(g.Outer[0]) && !insideIsland(o, g.Outer[0]) {
				p.Reject("", "", fmt.Sprintf("polygon %d lies inside polygon %d", i+1, j+1), "If it is an island, make it a hole of the lake's polygon; if it is a depth area, leave it out.")
			}
		}
	}
}

// insideIsland allows a pond on an island.
func insideIsland(g geo.Polygon, q geo.Local) bool {
	for _, h := range g.Holes {
		if (geo.Polygon{Outer: h}).Contains(q) {
			return true
		}
	}
	return false
}
