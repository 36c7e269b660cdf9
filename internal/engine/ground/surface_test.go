package ground

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

var ctx = context.Background()

// build fails the test when there is no surface.
func build(t testing.TB, in Input) *Surface {
	t.Helper()
	s, err := Build(ctx, in)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// checkPlaces are the 68 places of the gstat tables.
func checkPlaces(t testing.TB) []geo.Local {
	g := readTable(t, "lake_grid_gstat.csv", 68)
	var at []geo.Local
	for i := range g["x_m"] {
		at = append(at, geo.Local{E: g["x_m"][i], N: g["y_m"][i]})
	}
	return at
}

func steep(p geo.Local) float64 { return lakeDepth(p, 0.5) }

// Ten holes mend a poor chart: gstat 2.1-0 had 1.27 m for the chart alone, 0.50 m with ten holes and 1.94 m for the
// same holes without the chart (lake_learning_curve.csv; covariances set by hand, chart known everywhere).
// Ours fits its own covariance, has priors and sees the chart as soundings 100 m apart, so the curve is reproduced
// from below: never worse than gstat by more than a tenth, and for the chart alone and ten holes near it.
func TestLearningCurve(t *testing.T) {
	curve := readTable(t, "lake_learning_curve.csv", 6)
	at := checkPlaces(t)
	chart, err := BuildChart(ctx, Input{Outline: outline(), Soundings: chartSoundings(100)})
	if err != nil {
		t.Fatal(err)
	}
	for row, n := range curve["n_holes"] {
		holes := lakeHoles(t, int(n))
		s, err := chart.Surface(ctx, holes)
		if err != nil {
			t.Fatal(err)
		}
		with, _ := rmse(t, s, steep, at)
		without, _ := rmse(t, build(t, Input{Outline: outline(), Soundings: holes, Window: &chart.window}), steep, at)
		t.Logf("%3.0f holes: with chart %.3f m (gstat %.3f), without %.3f m (gstat %.3f)", n, with, curve["ked_chart"][row], without, curve["ok_no_chart"][row])
		if with > 1.1*curve["ked_chart"][row] || without > 1.1*curve["ok_no_chart"][row] {
			t.Errorf("%.0f holes: worse than gstat", n)
		}
		if n == 10 && math.Abs(with-0.50410) > 0.15 {
			t.Errorf("ten holes: %.3f m, gstat 0.504", with)
		}
	}
	s, err := chart.Surface(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	if alone, _ := rmse(t, s, steep, at); math.Abs(alone-1.2651) > 0.15 {
		t.Errorf("chart alone: %.3f m, gstat 1.265", alone)
	}
}

// The 90 % band must hold the truth at 85 to 95 places of 100, over lakes with random bottoms and random chart errors.
func TestSpreadIsHonest(t *testing.T) {
	window := &Window{geo.Local{}, geo.Local{E: 6000, N: 4000}}
	charts := map[uint64]*Chart{} // by seed: the chart is the costly part, and the same for any number of holes
	for _, c := range []struct {
		holes int
		chart bool
	}{{10, true}, {30, true}, {80, true}, {10, false}, {30, false}, {80, false}} {
		mean, lowest := 0.0, 1.0
		lakes := 20.0
		if c.chart {
			lakes = 10 // they cost ten times as much
		}
		low, high := 0.85, 0.95
		if testing.Short() {
			lakes, low, high = 3, 0.8, 0.97
		}
		for seed := range uint64(lakes) {
			r := num.NewStream(seed, "coverage")
			m := newMadeUp(r)
			in := Input{Outline: outline(), Cell: 30, Window: window}
			if c.chart {
				for _, d := range chartSoundings(150) {
					d.Depth = quantity.Length(m.chart(d.At))
					in.Soundings = append(in.Soundings, d)
				}
			}
			chart, err := charts[seed], error(nil)
			if chart == nil || !c.chart {
				chart, err = BuildChart(ctx, in)
			}
			if err != nil {
				t.Fatal(err)
			}
			if c.chart {
				charts[seed] = chart
			}
			s, err := chart.Surface(ctx, m.holes(r, c.holes))
			if err != nil {
				t.Fatal(err)
			}
			var at []geo.Local
			for range 200 {
				at = append(at, somewhere(r))
			}
			_, covered := rmse(t, s, m.depth, at)
			mean += covered / lakes
			lowest = math.Min(lowest, covered)
		}
		t.Logf("%d holes, chart %v: the 90 %% band holds %.3f, on the worst lake %.2f", c.holes, c.chart, mean, lowest)
		if mean < low || mean > high || lowest < 0.6 {
			t.Errorf("%d holes, chart %v: the 90 %% band holds %.3f of the truth, on the worst lake %.2f", c.holes, c.chart, mean, lowest)
		}
	}
}

// holes measures n random places of a made-up lake with an error of 0.15 m.
func (m madeUp) holes(r *rand.Rand, n int) []Sounding {
	var out []Sounding
	for range n {
		p := somewhere(r)
		d := math.Max(0, m.depth(p)+0.15*r.NormFloat64())
		out = append(out, Sounding{At: p, Depth: quantity.Length(d), Sigma: holeSigma, Kind: FromHole})
	}
	return out
}

// Misses twice and half as large as claimed must widen and narrow the spread by about as much, and none leave it alone;
// what a hole's own error explains is no fault of the surface.
func TestSpreadIsScaledByItsMisses(t *testing.T) {
	r := num.NewStream(9, "widen")
	for _, c := range []struct {
		scale, stated float64
		n             int
		low, high     float64
	}{{1, 0.02, 0, 1, 1}, {1, 0.02, 200, 0.88, 1.14}, {2, 0.02, 200, 1.7, 2.2}, {0.5, 0.02, 200, 0.4, 0.65}, {0.5, 9, 200, 0.8, 1.25}, {2, 0.02, 3, 1, 2}} {
		var gaps []gap
		for range c.n {
			gaps = append(gaps, gap{math.Sqrt(square(c.scale)*0.25+c.stated) * r.NormFloat64(), 0.25, c.stated})
		}
		if f := factor(gaps); f < c.low-1e-9 || f > c.high+1e-9 {
			t.Errorf("%d misses %g times as large: factor %.2f, want %g to %g", c.n, c.scale, f, c.low, c.high)
		}
	}
}

// Thin plate with 60 soundings [Virtanen2020, scipy 1.10.1 RBFInterpolator, thin_plate_spline, smoothing 0.01, coordinates in km]
// had RMSE 0.594, 0.710, 0.281 m (steep), 0.502, 0.342, 0.379 (middling) and 0.431, 0.278, 0.449 (gentle) for no shore
// points, zero at shore and squared depth. The rule must be chosen so that the outcome is near the best of the three.
func TestShoreRule(t *testing.T) {
	for _, c := range []struct {
		name string
		bank float64
		best float64 // of scipy's three
		not  ShoreRule
	}{{"steep", 0.5, 0.281, ZeroAtShore}, {"middling", 0.75, 0.342, NoShorePoints}, {"gentle", 1, 0.278, NoShorePoints}} {
		t.Run(c.name, func(t *testing.T) {
			holes := lakeHoles(t, 60)
			noise := readTable(t, "lake_soundings.csv", 140)
			for i := range holes {
				n := noise["depth_obs_m"][i] - noise["depth_true_m"][i]
				holes[i].Depth = quantity.Length(math.Max(0, lakeDepth(holes[i].At, c.bank)+n))
			}
			s := build(t, Input{Outline: outline(), Soundings: holes, Cell: 20, Window: &Window{geo.Local{}, geo.Local{E: 6000, N: 4000}}})
			var at []geo.Local
			for e := 150.0; e < 6000; e += 150 {
				for n := 150.0; n < 4000; n += 150 {
					if p := (geo.Local{E: e, N: n}); bowl(p) > 0 {
						at = append(at, p)
					}
				}
			}
			got, _ := rmse(t, s, func(p geo.Local) float64 { return lakeDepth(p, c.bank) }, at)
			q := s.Report()
			t.Logf("%s: RMSE %.3f m by %s, scipy's best %.3f; tried %.3v", c.name, got, q.Rule, c.best, q.RuleErrors)
			if got > 1.2*c.best {
				t.Errorf("RMSE %.3f m by %s, scipy's best rule %.3f", got, q.Rule, c.best)
			}
			if q.Rule == c.not {
				t.Errorf("chose %s, the worst there", q.Rule)
			}
		})
	}
}

// Depth is known on water only, inside the working area only, and never on an island.
func TestMasks(t *testing.T) {
	island := ring(2600, 2000, 150, 100, 24)
	w := &Window{geo.Local{E: 2000, N: 1500}, geo.Local{E: 3200, N: 2600}}
	s := build(t, Input{Outline: outline(island), Soundings: lakeHolesOff(t, island), Window: w, Cell: 20})
	onIsland, outside, onLand, lake := geo.Local{E: 2600, N: 2000}, geo.Local{E: 4500, N: 2000}, geo.Local{E: 50, N: 50}, geo.Local{E: 2300, N: 2000}
	for _, c := range []struct {
		name         string
		p            geo.Local
		known, water bool
	}{{"lake", lake, true, true}, {"island", onIsland, false, false}, {"outside the working area", outside, false, true}, {"land", onLand, false, false}} {
		if got := s.At(c.p).Known; got != c.known || s.OnWater(c.p) != c.water {
			t.Errorf("%s: known %v, on water %v", c.name, got, s.OnWater(c.p))
		}
	}
	if d := s.ShoreDistance(geo.Local{E: 2300, N: 2000}); math.Abs(float64(d)-150) > 1 { // the island's western tip is at 2450
		t.Errorf("%v m to the island, want 150", float64(d))
	}
	known := 0
	for i := range s.Grid().Len() {
		p := s.Grid().Centre(i)
		if s.Cell(i).Known != s.OnWater(p) || s.CellOnWater(i) != s.OnWater(p) {
			t.Fatalf("cell %d at %v: %+v", i, p, s.Cell(i))
		}
		if s.Cell(i).Known {
			known++
			if d := s.Cell(i); d.Mean < 0 || !(d.Spread > 0) {
				t.Fatalf("cell %d: %+v", i, d)
			}
		}
	}
	if known < 1000 {
		t.Errorf("only %d cells known", known)
	}
}

// lakeHolesOff gives the lake's holes without those on an island.
func lakeHolesOff(t testing.TB, island []geo.Local) []Sounding {
	return slices.DeleteFunc(lakeHoles(t, 140), func(h Sounding) bool { return geo.Polygon{Outer: island}.Contains(h.At) })
}

// An outline alone already tells land from water, and no depth.
func TestWithoutSoundings(t *testing.T) {
	s := build(t, Input{Outline: outline()})
	mid := geo.Local{E: 3000, N: 2000}
	if s.At(mid).Known || !s.OnWater(mid) || math.Abs(float64(s.ShoreDistance(mid))-1850) > 1 || !math.IsNaN(s.Slope(mid)) {
		t.Errorf("%+v %v %v", s.At(mid), s.OnWater(mid), s.ShoreDistance(mid))
	}
	if c := s.Contours([]quantity.Length{5}); len(c) != 0 {
		t.Errorf("%d contours of nothing", len(c))
	}
	if q := s.Report(); q.ChartSoundings+q.Holes+q.Compared != 0 {
		t.Errorf("%+v", q)
	}
}

// Turning lake, holes and chart together turns the surface. Grid, blocks and quadrants stay upright, so depths agree
// to centimetres, not to the last bit.
func TestTurnedLake(t *testing.T) {
	sin, cos := math.Sincos(0.5)
	turn := func(p geo.Local) geo.Local {
		return geo.Local{E: cos*p.E - sin*p.N + 7000, N: sin*p.E + cos*p.N - 3000}
	}
	for _, chart := range []bool{false, true} {
		in := Input{Outline: outline(), Soundings: lakeHoles(t, 60), Cell: 20, Window: &Window{geo.Local{}, geo.Local{E: 6000, N: 4000}}}
		if chart {
			in.Soundings = append(in.Soundings, chartSoundings(100)...)
		}
		turned := Input{Outline: []geo.Polygon{{}}, Cell: 20, Window: &Window{geo.Local{E: 4500, N: -3500}, geo.Local{E: 12500, N: 4000}}}
		for _, p := range in.Outline[0].Outer {
			turned.Outline[0].Outer = append(turned.Outline[0].Outer, turn(p))
		}
		for _, d := range in.Soundings {
			d.At = turn(d.At)
			turned.Soundings = append(turned.Soundings, d)
		}
		a, b := build(t, in), build(t, turned)
		sum, n := 0.0, 0.0
		for _, p := range checkPlaces(t) {
			if x, y := a.At(p), b.At(turn(p)); x.Known && y.Known {
				sum, n = sum+square(float64(x.Mean-y.Mean)), n+1
				if r := y.Spread / x.Spread; r < 0.7 || r > 1.4 {
					t.Errorf("chart %v, %v: spread %v against %v", chart, p, x.Spread, y.Spread)
				}
			}
		}
		if rms := math.Sqrt(sum / n); n < 60 || rms > 0.06 {
			t.Errorf("chart %v: turned surface differs by %.3f m at %.0f places", chart, rms, n)
		}
	}
}

// The order in which holes arrive changes nothing, and building at once equals adding to a prepared chart.
func TestOrderOfArrival(t *testing.T) {
	holes, chart := lakeHoles(t, 140), chartSoundings(150)
	w := &Window{geo.Local{E: 2000, N: 1000}, geo.Local{E: 4000, N: 3000}}
	whole := build(t, Input{Outline: outline(), Soundings: append(slices.Clone(chart), holes...), Window: w})
	c, err := BuildChart(ctx, Input{Outline: outline(), Soundings: chart, Window: w})
	if err != nil {
		t.Fatal(err)
	}
	slices.Reverse(holes)
	s, err := c.Surface(ctx, holes)
	if err != nil {
		t.Fatal(err)
	}
	for i := range s.Grid().Len() {
		if whole.Cell(i) != s.Cell(i) {
			t.Fatalf("cell %d: %+v against %+v", i, whole.Cell(i), s.Cell(i))
		}
	}
}

// A hole pulls the surface to itself and narrows the spread there.
func TestAHoleIsHeard(t *testing.T) {
	c, err := BuildChart(ctx, Input{Outline: outline(), Soundings: chartSoundings(100), Window: &Window{geo.Local{E: 2000, N: 1000}, geo.Local{E: 4000, N: 3000}}, Cell: 10})
	if err != nil {
		t.Fatal(err)
	}
	h := Sounding{At: geo.Local{E: 3005, N: 2005}, Depth: 9, Kind: FromHole, ID: "4"}
	before, _ := c.Surface(ctx, nil)
	after, err := c.Surface(ctx, []Sounding{h})
	if err != nil {
		t.Fatal(err)
	}
	a, b := before.At(h.At), after.At(h.At)
	if !(b.Spread < a.Spread/2) || math.Abs(float64(b.Mean-h.Depth)) > 0.5 || math.Abs(float64(a.Mean-h.Depth)) < 2 {
		t.Errorf("before %+v, after %+v, hole %v", a, b, h.Depth)
	}
}

// Bilinear interpolation between lattice nodes must cost no more than the model note says: 2 cm RMS, here against
// predicting every place anew.
func TestLatticeError(t *testing.T) {
	c, err := BuildChart(ctx, Input{Outline: outline(), Window: &Window{geo.Local{E: 2000, N: 1000}, geo.Local{E: 4000, N: 3000}}, Cell: 10})
	if err != nil {
		t.Fatal(err)
	}
	holes := lakeHoles(t, 140)
	s, err := c.Surface(ctx, holes)
	if err != nil {
		t.Fatal(err)
	}
	if step := c.stepFor(s.Report().Range, nodesDepth); step < 4 {
		t.Fatalf("lattice step of %d cells tests little", step)
	}
	slices.SortFunc(holes, func(a, b Sounding) int { // as Surface does
		if a.At.N < b.At.N {
			return -1
		}
		return 1
	})
	var data []datum
	for _, h := range holes {
		data = append(data, h.datum(1))
	}
	l, _, err := newLayer(ctx, data, c.banks, c.shore)
	if err != nil {
		t.Fatal(err)
	}
	widen := widening{c.shore, s.Report().Widened}
	r := num.NewStream(1, "lattice")
	sum, sumSD := 0.0, 0.0
	for range 500 {
		p := geo.Local{E: 2000 + 2000*r.Float64(), N: 1000 + 2000*r.Float64()}
		m, sd, err := l.at(p)
		if err != nil {
			t.Fatal(err)
		}
		d := s.At(p)
		sum += square(float64(d.Mean)-m) / 500
		sumSD += square(float64(d.Spread)-widen.at(p)*sd) / 500
	}
	t.Logf("lattice: %.4f m RMS in depth, %.4f m in spread", math.Sqrt(sum), math.Sqrt(sumSD))
	if math.Sqrt(sum) > 0.02 || math.Sqrt(sumSD) > 0.02 {
		t.Errorf("lattice: %.4f m RMS in depth, %.4f m in spread", math.Sqrt(sum), math.Sqrt(sumSD))
	}
}

// A plane bottom has the plane's slope.
func TestSlope(t *testing.T) {
	s := plane(t, 40, 40, func(p geo.Local) float64 { return 5 + 0.03*p.E + 0.04*p.N })
	if got := s.Slope(geo.Local{E: 200, N: 200}); math.Abs(got-0.05) > 1e-9 {
		t.Errorf("%g, want 0.05", got)
	}
	if !math.IsNaN(s.Slope(geo.Local{E: -500, N: 0})) {
		t.Error("slope outside")
	}
}

// A build that nobody waits for stops.
func TestCancelled(t *testing.T) {
	done, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := Build(done, Input{Outline: outline(), Soundings: chartSoundings(200)}); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

// 100,000 soundings of a dense survey, 6 m apart: averaging over blocks of 20 m may cost at most 5 cm RMS on a bottom
// whose humps are hundreds of metres wide.
func TestDenseSurvey(t *testing.T) {
	outline, _ := bigLake(0)
	var soundings []Sounding
	for _, h := range workHoles(100000) {
		h.Kind = FromChart
		soundings = append(soundings, h)
	}
	s := build(t, Input{Outline: outline, Soundings: soundings, Window: workArea, Cell: 10})
	r := num.NewStream(7, "dense")
	var at []geo.Local
	for range 500 {
		at = append(at, geo.Local{E: 1900 * (r.Float64() - 0.5), N: 1900 * (r.Float64() - 0.5)})
	}
	got, _ := rmse(t, s, func(p geo.Local) float64 { return 10.5 + 0.8*math.Sin(p.E/400)*math.Cos(p.N/500) }, at)
	if got > 0.05 {
		t.Errorf("%.3f m", got)
	}
	if q := s.Report(); q.ChartSoundings != 100000 || q.ChartBlocks < 9000 || q.ChartBlocks > 10500 {
		t.Errorf("%+v", q)
	}
}

// The reported error must be near the true one, and holes drilled side by side must not flatter it.
func TestReportedError(t *testing.T) {
	holes := lakeHoles(t, 60)
	w := &Window{geo.Local{}, geo.Local{E: 6000, N: 4000}}
	s := build(t, Input{Outline: outline(), Soundings: append(chartSoundings(150), holes...), Window: w, Cell: 40})
	q := s.Report()
	truth, _ := rmse(t, s, steep, checkPlaces(t))
	if r := float64(q.RMSE) / truth; r < 0.6 || r > 1.7 || math.Abs(float64(q.MeanError)) > 0.15 || q.MeanSquareZ < 0.4 || q.MeanSquareZ > 1.6 {
		t.Errorf("true error %.3f m; %+v", truth, q)
	}
	if q.Holes != 60 || q.Compared != 60 || q.Clusters > 60 || q.Clusters < 50 {
		t.Errorf("%+v", q)
	}
	if q.ChartScale < 0.8 || q.ChartScale > 0.95 { // the chart is 15 % too deep: 1/1.15 = 0.87
		t.Errorf("scale of the chart %.3f", q.ChartScale)
	}
	twins := slices.Clone(holes)
	for _, h := range holes {
		h.At.E += 8
		h.Depth = quantity.Length(steep(h.At))
		twins = append(twins, h)
	}
	both := build(t, Input{Outline: outline(), Soundings: append(chartSoundings(150), twins...), Window: w, Cell: 40}).Report()
	if both.Compared != 120 || both.Clusters != q.Clusters || both.RMSE < q.RMSE*3/4 {
		t.Errorf("twins 8 m apart: RMSE %.3f m in %d clusters, before %.3f m in %d", float64(both.RMSE), both.Clusters, float64(q.RMSE), q.Clusters)
	}
}

// More holes than a surface solves at once are pooled by cell: the surface stays close to the one from fewer holes of
// the same bottom, and the order of arrival still does not matter.
func TestManyHolesArePooled(t *testing.T) {
	var many []Sounding
	r := num.NewStream(3, "many")
	for range 3 * globalMost {
		p := geo.Local{E: 1500 + 60*r.Float64(), N: 1500 + 60*r.Float64()}
		many = append(many, Sounding{At: p, Depth: quantity.Length(lakeDepth(p, 1)), Kind: FromHole})
	}
	c, err := BuildChart(context.Background(), Input{Outline: outline(), Soundings: chartSoundings(200), Cell: 100})
	if err != nil {
		t.Fatal(err)
	}
	s, err := c.Surface(context.Background(), many)
	if err != nil {
		t.Fatal(err)
	}
	q := s.Report()
	if q.Holes != len(many) || q.Pooled >= globalMost || q.Pooled < 1 {
		t.Errorf("%d holes became %d", q.Holes, q.Pooled)
	}
	slices.Reverse(many)
	back, err := c.Surface(context.Background(), many)
	if err != nil {
		t.Fatal(err)
	}
	at := geo.Local{E: 1530, N: 1530}
	a, b := s.At(at), back.At(at)
	if !a.Known || math.Abs(float64(a.Mean-b.Mean)) > 1e-6 {
		t.Errorf("%v and, in reverse order, %v", a, b)
	}
	if miss := math.Abs(float64(a.Mean) - lakeDepth(at, 1)); miss > 0.5 {
		t.Errorf("off by %.2f m among %d holes", miss, len(many))
	}
}
