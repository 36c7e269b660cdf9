package ground

import (
	"errors"
	"math"
	"strings"
	"testing"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/stats/field"
)

type datum = field.Datum

// plane makes a surface of 10 m cells from a formula; NaN means land.
func plane(t testing.TB, nx, ny int, depth func(geo.Local) float64) *Surface {
	t.Helper()
	g := Grid{Cell: 10, NX: nx, NY: ny}
	e, n := float64(nx)*10, float64(ny)*10
	s := &Surface{grid: g, shore: newShore([]geo.Polygon{{Outer: []geo.Local{{}, {E: e}, {E: e, N: n}, {N: n}}}})}
	for i := range g.Len() {
		d := depth(g.Centre(i))
		s.meanM, s.sdM, s.water = append(s.meanM, d), append(s.sdM, 0.1), append(s.water, !math.IsNaN(d))
	}
	return s
}

// A cone's contours are circles: one closed line a level, of the right radius, deeper water on its right.
func TestContoursOfACone(t *testing.T) {
	mid := geo.Local{E: 500, N: 500}
	s := plane(t, 100, 100, func(p geo.Local) float64 { return 20 - float64(p.Distance(mid))/20 })
	lines := s.Contours([]quantity.Length{5, 10, 15})
	if len(lines) != 3 {
		t.Fatalf("%d lines", len(lines))
	}
	for _, c := range lines {
		want := 20 * (20 - float64(c.Level))
		if !c.Closed || len(c.Line) < 20 {
			t.Errorf("level %v: closed %v, %d points", float64(c.Level), c.Closed, len(c.Line))
		}
		area := 0.0 // positive when the line runs anticlockwise
		for i, p := range c.Line {
			q := c.Line[(i+1)%len(c.Line)]
			area += (p.E-mid.E)*(q.N-mid.N) - (q.E-mid.E)*(p.N-mid.N)
			if d := float64(p.Distance(mid)); math.Abs(d-want) > 0.5 { // chords of 10 m on the smallest circle sag 0.13 m
				t.Errorf("level %v: point at %.2f m, want %.2f", float64(c.Level), d, want)
			}
			if p.Distance(q) > 15 {
				t.Errorf("level %v: a step of %.1f m", float64(c.Level), float64(p.Distance(q)))
			}
		}
		if area > 0 {
			t.Errorf("level %v: deeper water is on the left", float64(c.Level))
		}
	}
}

// Every line on random bottoms is closed or ends where known depth ends, no step is lost, and the interpolated depth
// along it is the level.
func TestContoursCloseOrEndAtAnEdge(t *testing.T) {
	r := num.NewStream(3, "contours")
	closed, open := 0, 0
	for range 20 {
		s := plane(t, 30, 20, func(geo.Local) float64 {
			if r.Float64() < 0.03 {
				return math.NaN()
			}
			return 10 * r.Float64()
		})
		lines := s.Contours([]quantity.Length{5})
		points := 0
		for _, c := range lines {
			points += len(c.Line)
			if c.Closed {
				closed++
				points++ // the step back to the first point
				continue
			}
			open++
			for _, end := range []geo.Local{c.Line[0], c.Line[len(c.Line)-1]} {
				if !s.atEdge(end) {
					t.Fatalf("a line ends in open water at %v", end)
				}
			}
		}
		if steps := len(s.segments(5)); points-len(lines) != steps {
			t.Errorf("%d steps in the lines, %d in the squares", points-len(lines), steps)
		}
	}
	if closed == 0 || open == 0 {
		t.Errorf("%d closed, %d open lines: too few to test", closed, open)
	}
}

// atEdge tells whether one of the squares on either side of a point on a grid line is missing or has an unknown corner.
func (s *Surface) atEdge(p geo.Local) bool {
	for _, step := range []geo.Local{{E: 1, N: 1}, {E: -1, N: 1}, {E: 1, N: -1}, {E: -1, N: -1}} {
		x, y := math.Floor((p.E+step.E*1e-6-5)/10), math.Floor((p.N+step.N*1e-6-5)/10)
		if x < 0 || y < 0 || int(x) >= s.grid.NX-1 || int(y) >= s.grid.NY-1 {
			return true
		}
		sw := int(y)*s.grid.NX + int(x)
		if math.IsNaN(s.meanM[sw] + s.meanM[sw+1] + s.meanM[sw+s.grid.NX] + s.meanM[sw+s.grid.NX+1]) {
			return true
		}
	}
	return false
}

// On a saddle the middle decides which corners hang together.
func TestSaddle(t *testing.T) {
	for mid, joined := range map[float64]bool{4: true, 0.5: false} { // depth of the two deep corners; shallow ones are -1
		s := plane(t, 2, 2, func(p geo.Local) float64 {
			if (p.E < 10) == (p.N < 10) {
				return mid
			}
			return -1
		})
		steps := s.segments(0)
		if len(steps) != 2 {
			t.Fatalf("%d steps", len(steps))
		}
		// a line that cuts off a corner passes between it and the middle
		for _, step := range steps {
			m := geo.Local{E: (step.a.E + step.b.E) / 2, N: (step.a.N + step.b.N) / 2}
			nearDeep := (m.E < 10) == (m.N < 10)
			if nearDeep == joined {
				t.Errorf("deep corners of %v m: line through %v", mid, m)
			}
		}
	}
}

// Bands must answer as testing every edge does.
func TestShoreAgainstAllEdges(t *testing.T) {
	r := num.NewStream(4, "shore")
	rough := geo.Polygon{}
	for i := range 200 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 200)
		d := 800 + 400*r.Float64()
		rough.Outer = append(rough.Outer, geo.Local{E: d * c, N: d * s})
	}
	rough.Holes = [][]geo.Local{ring(100, 50, 80, 40, 12), ring(-300, 200, 30, 90, 9)}
	second := geo.Polygon{Outer: ring(3000, 100, 300, 200, 30)}
	s := newShore([]geo.Polygon{rough, second})
	for range 5000 {
		p := geo.Local{E: 6000*r.Float64() - 2000, N: 5000*r.Float64() - 2500}
		want := math.Min(rough.ShoreDistance(p), second.ShoreDistance(p))
		if got := s.distance(p); math.Abs(got-want) > 1e-9 {
			t.Fatalf("%v: %g m, want %g", p, got, want)
		}
		if got := s.contains(p); got != (rough.Contains(p) || second.Contains(p)) {
			t.Fatalf("%v: on water %v", p, got)
		}
	}
	g := Grid{Origin: geo.Local{E: -1300, N: -1300}, Cell: 17, NX: 300, NY: 160}
	for i, wet := range s.mask(g) {
		if wet != s.contains(g.Centre(i)) {
			t.Fatalf("cell %d: %v", i, wet)
		}
	}
}

func TestGrid(t *testing.T) {
	g, err := newGrid(Window{geo.Local{E: -95, N: 12}, geo.Local{E: 101, N: 60}}, 10)
	if err != nil || g.Origin != (geo.Local{E: -100, N: 10}) || g.NX != 21 || g.NY != 5 {
		t.Fatalf("%+v %v", g, err)
	}
	for i := range g.Len() {
		if k, ok := g.Index(g.Centre(i)); !ok || k != i {
			t.Fatalf("cell %d comes back as %d", i, k)
		}
	}
	for _, p := range []geo.Local{{E: -100.01, N: 20}, {E: 110, N: 20}, {E: 0, N: 9.99}, {E: 0, N: 60}, {E: math.NaN(), N: 20}} {
		if i, ok := g.Index(p); ok {
			t.Errorf("%v is in cell %d", p, i)
		}
	}
	big, err := newGrid(Window{geo.Local{}, geo.Local{E: 17000, N: 31000}}, 0)
	if err != nil || big.Len() > plentyCells*11/10 || big.Cell != 100 {
		t.Errorf("%+v %v", big, err)
	}
	for name, w := range map[string]Window{"empty": {geo.Local{E: 1}, geo.Local{}}, "nothing": emptyWindow()} {
		if _, err := newGrid(w, 10); err == nil {
			t.Errorf("%s accepted", name)
		}
	}
	if _, err := newGrid(Window{geo.Local{}, geo.Local{E: 1e6, N: 1e6}}, 1); err == nil {
		t.Error("a million million cells accepted")
	}
}

// Whatever cannot be true is refused, by name and with a way to mend it; nothing is left out silently.
func TestRefusals(t *testing.T) {
	lake := outline()
	good := Sounding{At: geo.Local{E: 3000, N: 2000}, Depth: 10, Kind: FromHole, ID: "I12"}
	with := func(change func(*Sounding)) []Sounding {
		bad := good
		bad.ID = "I43"
		change(&bad)
		return []Sounding{good, bad}
	}
	for _, c := range []struct {
		name string
		in   Input
		says string
		code fault.Code
	}{
		{"negative depth", Input{Outline: lake, Soundings: with(func(s *Sounding) { s.Depth = -3 })}, "hole I43", fault.BadInput},
		{"NaN depth", Input{Outline: lake, Soundings: with(func(s *Sounding) { s.Depth = quantity.Length(math.NaN()) })}, "hole I43", fault.BadInput},
		{"too deep", Input{Outline: lake, Soundings: with(func(s *Sounding) { s.Depth = 3800 })}, "hole I43", fault.BadInput},
		{"no position", Input{Outline: lake, Soundings: with(func(s *Sounding) { s.At.E = math.NaN() })}, "hole I43", fault.BadInput},
		{"on land", Input{Outline: lake, Soundings: with(func(s *Sounding) { s.At = geo.Local{E: 60, N: 2000} })}, "hole I43 lies on land, 40 m", fault.BadInput},
		{"negative error", Input{Outline: lake, Soundings: with(func(s *Sounding) { s.Sigma = -1 })}, "hole I43", fault.BadInput},
		{"nameless chart", Input{Outline: lake, Soundings: []Sounding{{Depth: -1, At: good.At}, {Depth: -1, At: good.At}}}, "chart sounding number 1", fault.BadInput},
		{"no outline", Input{Soundings: []Sounding{good}}, "no lake outline", fault.Missing},
		{"thin outline", Input{Outline: []geo.Polygon{{Outer: []geo.Local{{}, {E: 1}}}}}, "2 corners", fault.BadInput},
		{"working area off the lake", Input{Outline: lake, Cell: 10, Window: &Window{geo.Local{E: 5}, geo.Local{}}}, "working area is empty", fault.BadInput},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Build(ctx, c.in)
			var f *fault.Error
			if !errors.As(err, &f) || f.Code != c.code || !strings.Contains(f.Message, c.says) || f.Hint == "" {
				t.Errorf("%v", err)
			}
		})
	}
	// a hole a little beyond the drawn bank is the outline's fault, not the hole's
	near := good
	near.At = geo.Local{E: 80, N: 2000}
	if _, err := Build(ctx, Input{Outline: lake, Soundings: []Sounding{good, near}}); err != nil {
		t.Errorf("20 m beyond the bank: %v", err)
	}
	if _, err := BuildChart(ctx, Input{Outline: lake, Soundings: []Sounding{good}}); err == nil {
		t.Error("the chart took a hole")
	}
	c, err := BuildChart(ctx, Input{Outline: lake})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.Surface(ctx, []Sounding{{At: good.At, Depth: 3}}); err == nil {
		t.Error("the surface took a chart sounding for a hole")
	}
}

// Soundings out of reach are counted, not lost in silence.
func TestBeyondReachIsCounted(t *testing.T) {
	in := Input{Outline: outline(), Soundings: chartSoundings(100), Window: &Window{geo.Local{E: 300, N: 1800}, geo.Local{E: 700, N: 2200}}}
	q := build(t, in).Report()
	if q.ChartBeyond < 500 || q.ChartBlocks+q.ChartBeyond != q.ChartSoundings {
		t.Errorf("%+v", q)
	}
}

// Two holes at one place that disagree are no failure: both have their error.
func TestHolesThatDisagree(t *testing.T) {
	p := geo.Local{E: 3000, N: 2000}
	s := build(t, Input{Outline: outline(), Soundings: []Sounding{
		{At: p, Depth: 10, Kind: FromHole, ID: "1"}, {At: p, Depth: 12, Kind: FromHole, ID: "2"}, {At: geo.Local{E: 3200, N: 2000}, Depth: 11, Kind: FromHole, ID: "3"}}})
	if d := s.At(p); d.Mean < 10.3 || d.Mean > 11.7 {
		t.Errorf("%+v", d)
	}
}
