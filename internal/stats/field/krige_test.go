package field

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"strconv"
	"testing"

	"icehand/internal/base/geo"
)

// readTable reads a numeric table and fails when it has fewer rows than it must.
func readTable(t testing.TB, name string, atLeast int) map[string][]float64 {
	t.Helper()
	file, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	r := csv.NewReader(file)
	r.Comment = '#'
	r.TrimLeadingSpace = true
	rows, err := r.ReadAll()
	if err != nil || len(rows) < atLeast+1 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	out := map[string][]float64{}
	for c, h := range rows[0] {
		for _, row := range rows[1:] {
			v, err := strconv.ParseFloat(row[c], 64)
			if err != nil {
				t.Fatalf("%s: column %s: %v", name, h, err)
			}
			out[h] = append(out[h], v)
		}
	}
	return out
}

// chart is the made-up old chart: 15 % too deep, rounded to a metre, without the hump and the hole.
func chart(p geo.Local) float64 {
	a, b := (p.E-3000)/2900, (p.N-2000)/1850
	return math.RoundToEven(1.15 * 11 * math.Sqrt(math.Max(0, 1-a*a-b*b)))
}

const soundingNoise = 0.0225 // m2, as in the gstat calls

// constant is the trend of ordinary kriging, onChart that of kriging with the chart as external drift.
func constant(geo.Local) []float64      { return []float64{1} }
func onChart(p geo.Local) []float64     { return []float64{1, chart(p)} }
func nothing(geo.Local) []float64       { return nil }
func flat(n int) []Prior                { return []Prior{Flat, Flat}[:n] }
func place(e, n float64) geo.Local      { return geo.Local{E: e, N: n} }
func near(a, b, tolerance float64) bool { return math.Abs(a-b) <= tolerance }

// soundings gives the first n soundings of the made-up lake, and its shore at depth 0 when asked.
func soundings(t testing.TB, n int, shore bool, trend func(geo.Local) []float64) []Datum {
	s := readTable(t, "lake_soundings.csv", 140)
	var data []Datum
	for i := range n {
		p := place(s["x_m"][i], s["y_m"][i])
		data = append(data, Datum{At: p, Value: s["depth_obs_m"][i], Noise: soundingNoise, Trend: trend(p)})
	}
	if shore {
		b := readTable(t, "lake_shore.csv", 60)
		for i := range b["x_m"] {
			p := place(b["x_m"][i], b["y_m"][i])
			data = append(data, Datum{At: p, Noise: soundingNoise, Trend: trend(p)})
		}
	}
	return data
}

// gstat 2.1-0 on R 4.2.2; the calls stand on top of testdata/lake_grid_gstat.csv.
func TestKrigingAgainstGstat(t *testing.T) {
	g := readTable(t, "lake_grid_gstat.csv", 68)
	for _, c := range []struct {
		name  string
		model Model
		data  []Datum
		trend func(geo.Local) []float64
		prior []Prior
	}{
		{"ok_sph", Model{Shape: Spherical, Sill: 12, Range: 2500}, soundings(t, 140, true, constant), constant, flat(1)},
		{"ok_mat15", Model{Shape: Matern32, Sill: 12, Range: 900}, soundings(t, 140, true, constant), constant, flat(1)},
		{"ked", Model{Shape: Exponential, Sill: 1.5, Range: 500}, soundings(t, 140, false, onChart), onChart, flat(2)},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := Solve(c.model, c.data, c.prior)
			if err != nil {
				t.Fatal(err)
			}
			for i := range g["x_m"] {
				p := place(g["x_m"][i], g["y_m"][i])
				mean, variance := f.At(p, c.trend(p))
				if wm, wv := g[c.name+"_pred"][i], g[c.name+"_var"][i]; !near(mean, wm, 1e-8) || !near(variance, wv, 1e-8) {
					t.Errorf("%v: %.12f, variance %.12f; gstat %.12f, %.12f", p, mean, variance, wm, wv)
				}
			}
		})
	}
}

// gstat 2.1-0 on R 4.2.2; the calls stand on top of testdata/lake_learning_curve.csv.
func TestLearningCurveAgainstGstat(t *testing.T) {
	g := readTable(t, "lake_grid_gstat.csv", 68)
	curve := readTable(t, "lake_learning_curve.csv", 6)
	exp, mat := Model{Shape: Exponential, Sill: 1.5, Range: 500}, Model{Shape: Matern32, Sill: 12, Range: 900}
	for row, n := range curve["n_holes"] {
		for _, c := range []struct {
			column string
			model  Model
			trend  func(geo.Local) []float64
			less   func(geo.Local) float64 // taken from the data before, added after
		}{
			{"ok_no_chart", mat, constant, func(geo.Local) float64 { return 0 }},
			{"ked_chart", exp, onChart, func(geo.Local) float64 { return 0 }},
			{"sk_residual", exp, nothing, chart},
		} {
			data := soundings(t, int(n), false, c.trend)
			for i := range data {
				data[i].Value -= c.less(data[i].At)
			}
			f, err := Solve(c.model, data, flat(len(c.trend(geo.Local{}))))
			if err != nil {
				t.Fatal(err)
			}
			s := 0.0
			for i := range g["x_m"] {
				p := place(g["x_m"][i], g["y_m"][i])
				mean, _ := f.At(p, c.trend(p))
				e := mean + c.less(p) - g["depth_true_m"][i]
				s += e * e
			}
			rmse := math.Sqrt(s / float64(len(g["x_m"])))
			if want := curve[c.column][row]; !near(rmse, want, 0.00001) {
				t.Errorf("%.0f soundings, %s: RMSE %.5f, gstat %.5f", n, c.column, rmse, want)
			}
		}
	}
}

// Without noise the field meets its data, with measurement error it does not, with a nugget it does [Cressie1993, 3.2.1].
func TestNuggetIsNotMeasurementError(t *testing.T) {
	exact := soundings(t, 40, false, constant)
	for i := range exact {
		exact[i].Noise = 0
	}
	noisy := soundings(t, 40, false, constant)
	m := Model{Shape: Matern32, Sill: 12, Range: 900}
	withNugget := m
	withNugget.Nugget = soundingNoise
	for _, c := range []struct {
		name  string
		model Model
		data  []Datum
		meets bool
	}{{"exact", m, exact, true}, {"nugget", withNugget, exact, true}, {"measurement error", m, noisy, false}} {
		f, err := Solve(c.model, c.data, flat(1))
		if err != nil {
			t.Fatal(err)
		}
		moved := 0
		for _, d := range c.data {
			mean, variance := f.At(d.At, d.Trend)
			if c.meets && (!near(mean, d.Value, 1e-6) || variance > 1e-6) {
				t.Errorf("%s: %.6f ± %.6f at a datum of %.6f", c.name, mean, math.Sqrt(variance), d.Value)
			}
			if !c.meets && !near(mean, d.Value, 1e-3) {
				moved++
			}
			if !c.meets && !(variance > 0 && variance < soundingNoise) {
				t.Errorf("%s: variance %.6f must lie between 0 and that of one measurement", c.name, variance)
			}
		}
		if !c.meets && moved < 30 {
			t.Errorf("only %d of 40 data filtered", moved)
		}
	}
	// A little beside a datum, nugget and error of the same size predict the same mean [Cressie1993, 3.2.1].
	a, _ := Solve(withNugget, exact, flat(1))
	b, _ := Solve(m, noisy, flat(1))
	p := exact[0].At.Add(place(0.001, 0))
	ma, va := a.At(p, constant(p))
	mb, vb := b.At(p, constant(p))
	if !near(ma, mb, 1e-9) || !near(va, vb+soundingNoise, 1e-9) {
		t.Errorf("beside the datum: nugget %.6f, %.6f; error %.6f, %.6f", ma, va, mb, vb)
	}
}

func TestSolveRefusesWhatCannotBeSolved(t *testing.T) {
	m := Model{Shape: Exponential, Sill: 1, Range: 100}
	twice := []Datum{{At: place(1, 1), Value: 1, Trend: []float64{1}}, {At: place(1, 1), Value: 2, Trend: []float64{1}}}
	if _, err := Solve(m, twice, flat(1)); !errors.Is(err, ErrSingular) {
		t.Errorf("two exact data at one place: %v", err)
	}
	if _, err := Solve(m, nil, flat(1)); !errors.Is(err, ErrSingular) {
		t.Errorf("no data and a flat mean: %v", err)
	}
	one := []Datum{{At: place(1, 1), Value: 1, Noise: 0.1, Trend: []float64{1, 8}}}
	if _, err := Solve(m, one, flat(2)); !errors.Is(err, ErrSingular) {
		t.Errorf("one datum for two flat coefficients: %v", err)
	}
	for name, call := range map[string]func(){
		"NaN":            func() { _, _ = Solve(m, []Datum{{Value: math.NaN()}}, nil) },
		"basis":          func() { _, _ = Solve(m, one, flat(1)) },
		"negative noise": func() { _, _ = Solve(m, []Datum{{Noise: -1}}, nil) },
		"range":          func() { _, _ = Solve(Model{Sill: 1}, nil, nil) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s did not panic", name)
				}
			}()
			call()
		}()
	}
}

// Without data the priors are all there is: mean t'b0, variance C(0) + t'Bt.
func TestPriorsAlone(t *testing.T) {
	f, err := Solve(Model{Shape: Matern32, Sill: 0.5, Range: 100}, nil, []Prior{{Mean: 0, SD: 0.5}, {Mean: 1, SD: 0.1}})
	if err != nil {
		t.Fatal(err)
	}
	mean, variance := f.At(place(3, 4), []float64{1, 10})
	if !near(mean, 10, 1e-12) || !near(variance, 0.5+0.25+1, 1e-12) {
		t.Errorf("%v %v", mean, variance)
	}
}
