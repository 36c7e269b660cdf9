package route

import (
	"context"
	"encoding/csv"
	"errors"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// way searches and fails on an error.
func way(t testing.TB, p *Plane, from, to geo.Local) Way {
	t.Helper()
	w, err := p.Way(context.Background(), from, to)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

type numbers []float64

func parse(t *testing.T, s string) (out numbers) {
	t.Helper()
	for _, f := range strings.Fields(s) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

// raster makes costs with the middle of cell (0, 0) at the origin.
func raster(w, h int, cell float64, patches numbers) *Costs {
	c := NewCosts(geo.Local{E: -cell / 2, N: -cell / 2}, geo.Local{E: (float64(w) - 0.5) * cell, N: (float64(h) - 0.5) * cell}, quantity.Length(cell), nil)
	for ; len(patches) >= 5; patches = patches[5:] {
		for j := int(patches[2]); j <= int(patches[3]); j++ {
			for i := int(patches[0]); i <= int(patches[1]); i++ {
				c.Factor[j*w+i] = patches[4]
			}
		}
	}
	return c
}

// scipy 1.10.1 csgraph.dijkstra and geometry, testdata/cases.csv: steps equal the printed digits, ways at any angle come
// within 1 % of the exact length and are never dearer than steps.
func TestReferenceCases(t *testing.T) {
	f, err := os.Open("testdata/cases.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) != 10 {
		t.Fatal(len(rows), err)
	}
	for _, row := range rows[1:] {
		t.Run(row[0], func(t *testing.T) {
			size, from, to, steps, exact := parse(t, row[1]+" "+row[2]+" "+row[3]), parse(t, row[4]), parse(t, row[5]), parse(t, row[7]), parse(t, row[8])
			cell := size[2]
			p := Prepare(Region{Costs: raster(int(size[0]), int(size[1]), cell, parse(t, row[6]))})
			a, b := geo.Local{E: from[0] * cell, N: from[1] * cell}, geo.Local{E: to[0] * cell, N: to[1] * cell}
			s, err := p.Steps(context.Background(), a, b)
			if err != nil {
				t.Fatal(err)
			}
			w := way(t, p, a, b)
			if math.IsInf(steps[0], 1) {
				if s.Outcome != NoWay || w.Outcome != NoWay || w.Points != nil || !math.IsInf(float64(w.Cost), 1) {
					t.Fatalf("a way where there is none: %+v %+v", s, w)
				}
				return
			}
			if math.Abs(s.Cost.Metres()-steps[0]) > 1e-6 { // printed to 1e-6
				t.Errorf("steps cost %.6f, want %.6f", s.Cost.Metres(), steps[0])
			}
			if w.Cost > s.Cost+1e-9 {
				t.Errorf("any angle costs %.6f, steps %.6f", w.Cost.Metres(), s.Cost.Metres())
			}
			if len(exact) > 0 && math.Abs(w.Cost.Metres()-exact[0]) > 0.01*exact[0] {
				t.Errorf("any angle costs %.3f, exact %.3f", w.Cost.Metres(), exact[0])
			}
			t.Logf("any angle %.3f by %v", w.Cost.Metres(), w.Points)
			if back := way(t, p, b, a); back.Cost != w.Cost {
				t.Errorf("back costs %.9f, there %.9f", back.Cost.Metres(), w.Cost.Metres())
			}
		})
	}
}

// The patch of factor 4 has an exact answer on the plane: round its corners, (14.5, 7.5) and (25.5, 7.5) in cells.
func TestDearPatchExact(t *testing.T) {
	p := Prepare(Region{Costs: raster(41, 21, 50, numbers{15, 25, 8, 12, 4})})
	w := way(t, p, geo.Local{N: 500}, geo.Local{E: 2000, N: 500})
	if exact := 50 * (2*math.Hypot(14.5, 2.5) + 11); w.Cost.Metres() < exact-1e-6 || w.Cost.Metres() > 1.001*exact {
		t.Errorf("%.3f, exact %.3f", w.Cost.Metres(), exact)
	}
}

// Round a disc: two tangents and an arc, in closed form; the ring of 16 points is at most 1.3 % of the arc too long.
func TestRoundADisc(t *testing.T) {
	const r, d = 100.0, 400.0
	p := Prepare(Region{Obstacles: []Obstacle{{Points: []geo.Local{{}}, Keep: r}}})
	w := way(t, p, geo.Local{E: -d}, geo.Local{E: d})
	arc := r * (math.Pi - 2*math.Acos(r/d))
	exact := 2*math.Sqrt(d*d-r*r) + arc
	if got := w.Length.Metres(); got < exact-1e-6 || got > exact+0.013*arc+0.002*exact {
		t.Errorf("%.3f m, exact %.3f", got, exact)
	}
}

// The square obstacle of the reference cases as a polygon: exact to the centimetre that ways keep.
func TestRoundASquare(t *testing.T) {
	square := []geo.Local{{E: 700, N: 200}, {E: 1300, N: 200}, {E: 1300, N: 800}, {E: 700, N: 800}}
	w := way(t, Prepare(Region{Obstacles: []Obstacle{{Points: square}}}), geo.Local{N: 500}, geo.Local{E: 2000, N: 500})
	if got, exact := w.Length.Metres(), 2123.154621; got < exact || got > exact+0.05 {
		t.Errorf("%.6f m, exact %.6f: %v", got, exact, w.Points)
	}
	// from corner to corner lies through it
	if w := way(t, Prepare(Region{Obstacles: []Obstacle{{Points: square}}}), geo.Local{E: 699, N: 199}, geo.Local{E: 1301, N: 801}); w.Length.Metres() < 1200 {
		t.Errorf("%.1f m through the square", w.Length.Metres())
	}
}

// A barrier is crossed at its gaps alone; without one there is no way, and never a straight line.
func TestBarrier(t *testing.T) {
	line := []geo.Local{{E: 0, N: -5000}, {E: 0, N: 0}, {E: 50, N: 5000}}
	box := geo.Polygon{Outer: []geo.Local{{E: -1000, N: -2000}, {E: 1000, N: -2000}, {E: 1000, N: 2000}, {E: -1000, N: 2000}}}
	from, to := geo.Local{E: -500}, geo.Local{E: 500}
	for _, costs := range []*Costs{nil, NewCosts(box.Outer[0], box.Outer[2], 50, nil)} {
		region := func(gaps ...Gap) Region {
			return Region{Outline: box, Costs: costs, Barriers: []Barrier{{Points: line, Keep: 30, Gaps: gaps}}}
		}
		if w := way(t, Prepare(region()), from, to); w.Outcome != NoWay || w.Points != nil {
			t.Errorf("no gap: %+v", w)
		}
		if w := way(t, Prepare(region(Gap{At: geo.Local{E: -200, N: -300}, Width: 10})), from, to); w.Outcome != NoWay {
			t.Errorf("a gap 200 m off the barrier: %+v", w)
		}
		for _, at := range []geo.Local{{N: -800}, {E: 3, N: 0}, {E: 8, N: 907}} {
			for _, width := range []quantity.Length{2, 10} {
				w := way(t, Prepare(region(Gap{At: at, Width: width})), from, to)
				best := from.Distance(at).Metres() + at.Distance(to).Metres()
				if w.Outcome != Found || w.Length.Metres() < best-float64(width)-6 || w.Length.Metres() > 1.02*best+10 {
					t.Errorf("gap at %v, %g m wide: %.1f m of some %.1f (%v)", at, float64(width), w.Length.Metres(), best, w.Outcome)
				}
				crossings := 0
				for i := 1; i < len(w.Points); i++ {
					for k := 1; k < len(line); k++ {
						if geo.SegmentsCross(w.Points[i-1], w.Points[i], line[k-1], line[k]) {
							crossings++
							if off := geo.SegmentDistance(at, w.Points[i-1], w.Points[i]); off > float64(width)/2+6 {
								t.Errorf("crosses %.1f m from the gap", off)
							}
						}
					}
				}
				if crossings == 0 {
					t.Errorf("gap at %v: the way does not cross there", at)
				}
			}
		}
	}
}

// Standing in an obstacle, on closed ground or off the outline is said and not walked over.
func TestBlockedEnds(t *testing.T) {
	box := geo.Polygon{Outer: []geo.Local{{}, {E: 1000}, {E: 1000, N: 1000}, {N: 1000}}}
	disc := Obstacle{Points: []geo.Local{{E: 500, N: 500}}, Keep: 100}
	ring := Obstacle{Points: []geo.Local{{E: 700, N: 700}, {E: 900, N: 700}, {E: 900, N: 900}, {E: 700, N: 900}}}
	free := geo.Local{E: 100, N: 100}
	for _, costs := range []*Costs{nil, NewCosts(geo.Local{E: -100, N: -100}, geo.Local{E: 1100, N: 1100}, 25, func(p geo.Local) float64 {
		if p.Distance(geo.Local{E: 100, N: 900}) < 60 {
			return math.Inf(1)
		}
		return 1
	})} {
		p := Prepare(Region{Outline: box, Keep: 10, Ends: 30, Obstacles: []Obstacle{disc, ring}, Costs: costs})
		for at, blocked := range map[geo.Local]bool{
			{E: 580, N: 500}: true, {E: 601, N: 500}: false, {E: 800, N: 800}: true, {E: 500, N: -25}: true, {E: 500, N: -15}: false, {E: 500, N: 5}: false,
			{E: 100, N: 900}: costs != nil,
		} {
			want := Found
			if blocked {
				want = FromBlocked
			}
			if w := way(t, p, at, free); w.Outcome != want {
				t.Errorf("from %v: outcome %d, want %d", at, w.Outcome, want)
			}
			if blocked {
				want = ToBlocked
			}
			if w := way(t, p, free, at); w.Outcome != want {
				t.Errorf("to %v: outcome %d, want %d", at, w.Outcome, want)
			}
		}
		if w := way(t, p, free, free); w.Outcome != Found || w.Length != 0 || len(w.Points) != 1 {
			t.Errorf("nowhere to go: %+v", w)
		}
	}
}

// Ends reach across the bank, but no way runs along behind it: from bay to bay round a spit, not over it.
func TestEndsDoNotWalkAshore(t *testing.T) {
	// a lake with a spit 100 m wide from the south
	lake := geo.Polygon{Outer: []geo.Local{{}, {E: 450}, {E: 450, N: 800}, {E: 550, N: 800}, {E: 550}, {E: 1000}, {E: 1000, N: 1000}, {N: 1000}}}
	for _, costs := range []*Costs{nil, NewCosts(geo.Local{E: -100, N: -100}, geo.Local{E: 1100, N: 1100}, 20, nil)} {
		p := Prepare(Region{Outline: lake, Ends: 20, Costs: costs})
		w := way(t, p, geo.Local{E: 400, N: -10}, geo.Local{E: 600, N: -10})
		if w.Outcome != Found || w.Length.Metres() < 1600 {
			t.Errorf("%+v", w)
		}
		// and from a landing that lies ashore to one beyond the corner of the lake
		if w := way(t, p, geo.Local{E: -10, N: 500}, geo.Local{E: 300, N: -10}); w.Outcome != Found || math.Abs(w.Length.Metres()-math.Hypot(310, 510)) > 5 {
			t.Errorf("%+v", w)
		}
	}
}

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	p := Prepare(Region{Costs: raster(41, 21, 50, numbers{20, 20, 0, 20, math.Inf(1)})})
	if w, err := p.Way(ctx, geo.Local{N: 500}, geo.Local{E: 2000, N: 500}); !errors.Is(err, context.Canceled) || w.Outcome == Found {
		t.Errorf("%+v %v", w, err)
	}
	if f, err := p.Field(ctx, geo.Local{N: 500}, quantity.Length(math.Inf(1))); !errors.Is(err, context.Canceled) || f != nil {
		t.Errorf("%v %v", f, err)
	}
}

func TestPrepareRefuses(t *testing.T) {
	two := []geo.Local{{}, {E: 1}}
	for name, r := range map[string]Region{
		"outline":   {Outline: geo.Polygon{Outer: two}},
		"hole":      {Outline: geo.Polygon{Outer: []geo.Local{{}, {E: 1}, {N: 1}}, Holes: [][]geo.Local{two}}},
		"obstacle":  {Obstacles: []Obstacle{{}}},
		"barrier":   {Barriers: []Barrier{{Points: two[:1]}}},
		"keep":      {Keep: -1},
		"nan":       {Obstacles: []Obstacle{{Points: []geo.Local{{E: math.NaN()}}}}},
		"factor":    {Costs: &Costs{Cell: 1, W: 1, H: 1, Factor: []float64{0}}},
		"too few":   {Costs: &Costs{Cell: 1, W: 2, H: 2, Factor: []float64{1}}},
		"gap width": {Barriers: []Barrier{{Points: two, Gaps: []Gap{{Width: quantity.Length(math.NaN())}}}}},
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: accepted", name)
				}
			}()
			Prepare(r)
		}()
	}
}

// made gives a region of random discs, rings and a barrier with a gap in a box of 2 km, reproducible by seed.
func made(seed uint64, obstacles int, costs bool) Region {
	rng := num.NewStream(seed, "made")
	at := func() geo.Local { return geo.Local{E: rng.Float64() * 2000, N: rng.Float64() * 2000} }
	r := Region{Outline: geo.Polygon{Outer: []geo.Local{{E: -200, N: -200}, {E: 2200, N: -200}, {E: 2200, N: 2200}, {E: -200, N: 2200}}}, Keep: 5}
	for k := range obstacles {
		c, keep := at(), quantity.Length(5+40*rng.Float64())
		switch k % 3 {
		case 0:
			r.Obstacles = append(r.Obstacles, Obstacle{[]geo.Local{c}, keep + 40})
		case 1:
			r.Obstacles = append(r.Obstacles, Obstacle{[]geo.Local{c, {E: c.E + 300*rng.Float64() - 150, N: c.N + 300*rng.Float64() - 150}}, keep})
		default:
			var ring []geo.Local
			n := 3 + rng.IntN(5)
			for i := range n {
				s, co := math.Sincos(2 * math.Pi * float64(i) / float64(n))
				d := 30 + 120*rng.Float64()
				ring = append(ring, geo.Local{E: c.E + d*s, N: c.N + d*co})
			}
			r.Obstacles = append(r.Obstacles, Obstacle{ring, keep})
		}
	}
	y := 600 + 800*rng.Float64()
	r.Barriers = []Barrier{{Points: []geo.Local{{E: -300, N: y}, {E: 1000, N: y + 100}, {E: 2300, N: y}}, Keep: 20,
		Gaps: []Gap{{At: geo.Local{E: 1000, N: y + 100}, Width: 20}, {At: geo.Local{E: 200, N: y + 38}, Width: 20}}}}
	if costs {
		r.Costs = NewCosts(geo.Local{E: -200, N: -200}, geo.Local{E: 2200, N: 2200}, 40, func(p geo.Local) float64 {
			return 1 + math.Floor(2.9*math.Abs(math.Sin(p.E/300)*math.Cos(p.N/400)))
		})
	}
	return r
}

// cornerSlack bounds what the rings of points round corners add to a way: 1.3 % of a full turn round each, far more than any way takes.
func cornerSlack(r Region) float64 {
	sum := 0.0
	for _, o := range r.Obstacles {
		sum += 0.013 * 2 * math.Pi * o.Keep.Metres()
	}
	return sum
}

// On random regions: the same there and back; never nearer to anything than allowed; not cheaper when an obstacle is
// added; not dearer than ways made by hand; on a raster, within 1 % (plus half a cell at the ends) of the corners' ways.
func TestProperties(t *testing.T) {
	for _, costs := range []bool{false, true} {
		found, unreached := 0, 0
		for seed := range uint64(15) {
			r := made(seed, 14, costs)
			p, fewer := Prepare(r), r
			fewer.Obstacles = r.Obstacles[1:]
			q := Prepare(fewer)
			rng := num.NewStream(seed, "ends")
			for range 4 {
				a, b := geo.Local{E: rng.Float64() * 2000, N: rng.Float64() * 500}, geo.Local{E: rng.Float64() * 2000, N: 1500 + rng.Float64()*500}
				w, back, less := way(t, p, a, b), way(t, p, b, a), way(t, q, a, b)
				if w.Outcome != Found {
					unreached++
					if back.Outcome == Found {
						t.Errorf("seed %d: %v-%v: a way back and none there", seed, a, b)
					}
					continue
				}
				found++
				if back.Cost != w.Cost {
					t.Errorf("seed %d: there %.9f, back %.9f", seed, w.Cost.Metres(), back.Cost.Metres())
				}
				slackM := cornerSlack(r)
				if costs {
					slackM = 0.01 * w.Cost.Metres()
				}
				if less.Outcome != Found || less.Cost.Metres() > w.Cost.Metres()+slackM {
					t.Errorf("seed %d: %.3f with an obstacle fewer, %.3f with it", seed, less.Cost.Metres(), w.Cost.Metres())
				}
				checkClear(t, r, w)
				byHand(t, p, w, seed)
			}
		}
		if found < 30 || unreached > 30 {
			t.Errorf("costs %v: only %d ways, %d without", costs, found, unreached)
		}
	}
}

// checkClear holds a way against the shapes themselves, every half metre.
func checkClear(t *testing.T, r Region, w Way) {
	t.Helper()
	for i := 1; i < len(w.Points); i++ {
		a, b := w.Points[i-1], w.Points[i]
		n := math.Ceil(a.Distance(b).Metres() * 2)
		for k := 0.0; k <= n; k++ {
			at := geo.Local{E: a.E + k/n*(b.E-a.E), N: a.N + k/n*(b.N-a.N)}
			for _, o := range r.Obstacles {
				d := at.Distance(o.Points[0]).Metres()
				if len(o.Points) > 1 {
					ring := geo.Polygon{Outer: o.Points}
					if d = ring.ShoreDistance(at); len(o.Points) > 2 && ring.Contains(at) {
						d = 0
					}
				}
				if d < o.Keep.Metres()-1e-5 {
					t.Fatalf("%v lies %.3f m from an obstacle that wants %.3f", at, d, o.Keep.Metres())
				}
			}
			if !r.Outline.Contains(at) {
				t.Fatalf("%v lies outside", at)
			}
			for _, bar := range r.Barriers {
				if f := geo.FootOn(bar.Points, at); math.Abs(f.Off.Metres()) < bar.Keep.Metres()-1e-5 {
					gap := math.Inf(1)
					for _, g := range bar.Gaps {
						gap = math.Min(gap, math.Abs((f.Along-geo.FootOn(bar.Points, g.At).Along).Metres())-g.Width.Metres()/2-bar.Keep.Metres())
					}
					if gap > 0.01 {
						t.Fatalf("%v lies %.2f m from a barrier and %.2f m beside its gap", at, f.Off.Metres(), gap)
					}
				}
			}
		}
	}
}

// byHand bends a way at random and holds the search to what still may be walked.
func byHand(t *testing.T, p *Plane, w Way, seed uint64) {
	t.Helper()
	s, rng := p.probe(), num.NewStream(seed, "hand")
	for range 200 {
		points := append([]geo.Local(nil), w.Points...)
		for i := 1; i < len(points)-1; i++ {
			points[i] = geo.Local{E: points[i].E + 20*rng.NormFloat64(), N: points[i].N + 20*rng.NormFloat64()}
		}
		if rng.IntN(2) == 0 && len(points) > 2 { // leave one out
			k := 1 + rng.IntN(len(points)-2)
			points = append(points[:k], points[k+1:]...)
		}
		cost, valid := 0.0, true
		for i := 1; i < len(points) && valid; i++ {
			c, ok := s.stretch(points[i-1], points[i], i == 1, i == len(points)-1)
			cost, valid = cost+c, ok
		}
		allowed := cornerSlack(p.region)
		if p.region.Costs != nil {
			allowed = 0.01 * cost // nodes are the middles of cells
		}
		if valid && cost+allowed < w.Cost.Metres() {
			t.Errorf("seed %d: by hand %.3f, found %.3f", seed, cost, w.Cost.Metres())
		}
	}
}

// The two searches agree where both apply: corners exactly, a raster of factor 1 within 1 %.
func TestRasterAgainstCorners(t *testing.T) {
	compared := 0
	for seed := range uint64(20) {
		r := made(seed, 12, false)
		exact := Prepare(r)
		r.Costs = NewCosts(geo.Local{E: -200, N: -200}, geo.Local{E: 2200, N: 2200}, 40, nil)
		fast := Prepare(r)
		a, b := geo.Local{E: 150 * float64(seed%7), N: -100}, geo.Local{E: 2000 - 90*float64(seed), N: 2100}
		w, g := way(t, exact, a, b), way(t, fast, a, b)
		if w.Outcome != g.Outcome {
			t.Errorf("seed %d: corners say %d, raster %d", seed, w.Outcome, g.Outcome)
			continue
		}
		if w.Outcome == Found {
			compared++
			if ratio := float64(g.Length / w.Length); ratio < 1-0.003 || ratio > 1.01 {
				t.Errorf("seed %d: raster %.2f, corners %.2f", seed, g.Length.Metres(), w.Length.Metres())
			}
		}
	}
	if compared < 10 {
		t.Errorf("only %d compared", compared)
	}
}

// The field agrees with single searches, within what the search at any angle promises, and its ways are real.
func TestField(t *testing.T) {
	r := made(3, 14, true)
	p := Prepare(r)
	home := geo.Local{E: 100, N: -50}
	f, err := p.Field(context.Background(), home, quantity.Length(math.Inf(1)))
	if err != nil {
		t.Fatal(err)
	}
	rng := num.NewStream(8, "field")
	reached := 0
	for range 60 {
		at := geo.Local{E: rng.Float64() * 2000, N: rng.Float64() * 2000}
		w, g := way(t, p, at, home), f.Way(at)
		if w.Outcome != g.Outcome {
			t.Errorf("%v: search says %d, field %d", at, w.Outcome, g.Outcome)
			continue
		}
		if w.Outcome != Found {
			if !math.IsInf(float64(f.Cost(at)), 1) {
				t.Errorf("%v: costs %v without a way", at, f.Cost(at))
			}
			continue
		}
		reached++
		// the field is not smoothed: up to 3 % too dear, never too cheap
		if ratio := float64(f.Cost(at) / w.Cost); ratio < 0.999 || ratio > 1.03 || g.Cost > f.Cost(at)+1e-6 {
			t.Errorf("%v: field %.2f, its way %.2f, search %.2f", at, f.Cost(at).Metres(), g.Cost.Metres(), w.Cost.Metres())
		}
		if g.Points[0] != at || g.Points[len(g.Points)-1] != home {
			t.Errorf("%v: a way from %v to %v", at, g.Points[0], g.Points[len(g.Points)-1])
		}
		checkClear(t, r, g)
	}
	if reached < 30 {
		t.Errorf("only %d reached", reached)
	}
	// within a limit: nothing dearer, and all that is cheaper
	half, err := p.Field(context.Background(), home, 1000)
	if err != nil {
		t.Fatal(err)
	}
	inside := 0
	for i := range r.Costs.Factor {
		c := half.Cell(i)
		if !math.IsInf(float64(c), 1) {
			inside++
			if c > 1000 || math.Abs(float64(c-f.Cell(i))) > 1e-9 {
				t.Fatalf("cell %d costs %v within the limit, %v without", i, c, f.Cell(i))
			}
		} else if f.Cell(i) < 1000 {
			t.Fatalf("cell %d costs %v and was not reached", i, f.Cell(i))
		}
	}
	if inside < 50 || inside > len(r.Costs.Factor)/2 {
		t.Errorf("%d cells within 1000 m", inside)
	}
}

// FuzzWay: whatever the region, a way that is found keeps clear, begins and ends where asked, and is no shorter than straight.
func FuzzWay(f *testing.F) {
	f.Add(uint64(1), 5, true, 100.0, 100.0, 1900.0, 1900.0)
	f.Add(uint64(2), 0, false, -200.0, 0.0, 2200.0, 0.0)
	f.Fuzz(func(t *testing.T, seed uint64, n int, costs bool, e1, n1, e2, n2 float64) {
		if s := e1 - e1 + n1 - n1 + e2 - e2 + n2 - n2; s != 0 || n < 0 || n > 20 {
			return
		}
		r := made(seed, n, costs)
		a, b := geo.Local{E: e1, N: n1}, geo.Local{E: e2, N: n2}
		w := way(t, Prepare(r), a, b)
		if w.Outcome != Found {
			if w.Points != nil {
				t.Error("points of no way")
			}
			return
		}
		if w.Points[0] != a || w.Points[len(w.Points)-1] != b || w.Length.Metres() < a.Distance(b).Metres()*(1-1e-12) {
			t.Errorf("%v-%v: %+v", a, b, w)
		}
		checkClear(t, r, w)
	})
}

// A passage far narrower than a cell is found by the points round its corners.
func TestNarrowPassage(t *testing.T) {
	box := geo.Polygon{Outer: []geo.Local{{}, {E: 2000}, {E: 2000, N: 1000}, {N: 1000}}}
	wall := func(n1, n2 float64) Obstacle {
		return Obstacle{Points: []geo.Local{{E: 950, N: n1}, {E: 1050, N: n1}, {E: 1050, N: n2}, {E: 950, N: n2}}, Keep: 5}
	}
	for clear, want := range map[float64]Outcome{2: Found, -0.5: NoWay} {
		gap := 10 + clear // both keep 5 m
		p := Prepare(Region{Outline: box, Obstacles: []Obstacle{wall(-100, 330), wall(330+gap, 1100)}, Costs: NewCosts(box.Outer[0], box.Outer[2], 100, nil)})
		w := way(t, p, geo.Local{E: 300, N: 700}, geo.Local{E: 1700, N: 700})
		if w.Outcome != want {
			t.Errorf("%g m clear: outcome %d, want %d", clear, w.Outcome, want)
		}
	}
}
