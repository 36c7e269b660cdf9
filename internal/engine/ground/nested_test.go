package ground

import (
	"math"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Two surfaces of one bottom drawn as one: a wave 120 m long, which cells of 100 m miss, is drawn in the working area and
// nowhere else, no line of the coarse surface runs into it by more than a cell, and the picture shows each where it is.
func TestNestedIsDrawnAsOne(t *testing.T) {
	wave := func(p geo.Local) float64 { return 8 + math.Sin(p.E*2*math.Pi/120) }
	surface := func(origin geo.Local, cell float64, n int, depth func(geo.Local) float64) *Surface {
		s := &Surface{grid: Grid{Origin: origin, Cell: quantity.Length(cell), NX: n, NY: n}}
		for i := range s.grid.Len() {
			s.meanM, s.sdM, s.water = append(s.meanM, depth(s.grid.Centre(i))), append(s.sdM, 1), append(s.water, true)
		}
		return s
	}
	flat := func(p geo.Local) float64 { return 7.5 + p.N/4000 } // 8 m at 2,000 m north
	n := Nested{Whole: surface(geo.Local{}, 100, 40, flat), Near: surface(geo.Local{E: 1000, N: 1000}, 20, 100, wave)}
	mean := func(d Depth) float64 { return d.Mean.Metres() }
	inside := func(p geo.Local, by float64) bool {
		return p.E > 1000+by && p.E < 3000-by && p.N > 1000+by && p.N < 3000-by
	}
	fine, coarse := 0, 0
	for _, l := range n.Isolines(mean, []float64{8}) {
		step := l.Line[0].Distance(l.Line[1]).Metres()
		switch within := inside(l.Line[len(l.Line)/2], 0); {
		case within && step < 40:
			fine++
		case !within:
			coarse++
		}
		for _, p := range l.Line {
			if step > 90 && inside(p, 101) {
				t.Fatalf("a coarse line runs into the working area at %v", p)
			}
		}
	}
	if fine < 30 || coarse != 2 { // two crossings a wave; the line at 2,000 m north on either side
		t.Errorf("%d fine lines, %d coarse ones", fine, coarse)
	}
	g, picture := n.PictureGrid(1_000_000), n.Picture(mean, 1_000_000)
	if g.Cell != 20 || len(picture) != g.Len() {
		t.Fatalf("%v, %d values", g, len(picture))
	}
	for _, p := range []geo.Local{{E: 2010, N: 2010}, {E: 1490, N: 2570}} {
		if i, _ := g.Index(p); math.Abs(picture[i]-wave(g.Centre(i))) > 1e-9 {
			t.Errorf("inside at %v: %g", p, picture[i])
		}
	}
	if i, _ := g.Index(geo.Local{E: 500, N: 3300}); math.Abs(picture[i]-flat(g.Centre(i))) > 1e-9 {
		t.Errorf("beyond: %g", picture[i])
	}
	if g := n.PictureGrid(10_000); g.Len() > 10_500 || g.Cell <= 20 {
		t.Errorf("%d cells of %v for 10,000", g.Len(), g.Cell)
	}
	if alone := (Nested{Whole: n.Whole}); alone.PictureGrid(1e6) != n.Whole.grid || len(alone.Isolines(mean, []float64{8})) != 1 || len(alone.Picture(mean, 1e6)) != 1600 {
		t.Error("without a fine surface the coarse one is not drawn as it is")
	}
}
