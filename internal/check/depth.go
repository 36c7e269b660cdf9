package check

import (
	"math"
	"sync"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/stats/field"
)

// The rows on depth speak of a made-up lake of 5.8 x 3.7 km: 140 soundings with bounded noise, 60 shore points of depth 0,
// and an old chart of it. Its points come from the minimal standard generator [ParkMiller1988], so that any language can
// make them again.

// minimal is the minimal standard generator.
type minimal uint64

func (m *minimal) next() float64 {
	*m = 16807 * *m % 2147483647
	return float64(*m) / 2147483647
}

func rounded(x float64, digits int) float64 {
	k := math.Pow10(digits)
	return math.RoundToEven(x*k) / k
}

// bowl is 1 in the middle of the lake and 0 at its shore.
func bowl(p geo.Local) float64 {
	return 1 - math.Pow((p.E-3000)/2900, 2) - math.Pow((p.N-2000)/1850, 2)
}

// lakeChart is the old chart: 15 % too deep, rounded to a metre, without the hump and the hole.
func lakeChart(p geo.Local) float64 {
	return math.RoundToEven(1.15 * 11 * math.Sqrt(math.Max(0, bowl(p))))
}

// lakeDepth is the true depth.
func lakeDepth(p geo.Local) float64 {
	bump := func(e, n, w, h float64) float64 {
		return math.Exp(-(math.Pow((p.E-e)/w, 2) + math.Pow((p.N-n)/h, 2)))
	}
	return math.Max(0, 11*math.Sqrt(math.Max(0, bowl(p)))-3.5*bump(3900, 2300, 350, 260)+2.5*bump(1700, 1500, 500, 400))
}

// lakePoints gives the soundings, then the shore points.
var lakePoints = sync.OnceValue(func() []field.Datum {
	var out []field.Datum
	place, a, b, c := minimal(20260220), minimal(77), minimal(78), minimal(79)
	for len(out) < 140 {
		x := rounded(6000*place.next(), 1)
		p := geo.Local{E: x, N: rounded(4000*place.next(), 1)}
		if bowl(p) < 0 {
			continue
		}
		noise := rounded(0.30*(a.next()+b.next()+c.next()-1.5), 2)
		out = append(out, field.Datum{At: p, Value: rounded(rounded(lakeDepth(p), 2)+noise, 2)})
	}
	for degree := 0; degree < 360; degree += 6 {
		sin, cos := math.Sincos(float64(degree) * math.Pi / 180)
		out = append(out, field.Datum{At: geo.Local{E: rounded(3000+2900*cos, 1), N: rounded(2000+1850*sin, 1)}})
	}
	return out
})

// lakeField is a way to krige the lake.
type lakeField struct {
	data  []field.Datum
	model field.Model
	prior []field.Prior
	basis func(geo.Local) []float64
}

// newLakeField sets up the model of a row: ordinary kriging with the shore, or the chart as drift without it. What is not
// the continuous field is the soundings' own error, or a nugget.
func newLakeField(in Inputs) lakeField {
	shapes := map[string]field.Shape{"exponential": field.Exponential, "spherical": field.Spherical, "matern32": field.Matern32}
	f := lakeField{model: field.Model{Shape: shapes[in.s("shape")], Sill: in.n("sill_m2"), Range: quantity.Length(in.n("range_m"))},
		prior: []field.Prior{field.Flat}, basis: func(geo.Local) []float64 { return []float64{1} }}
	f.data = append(f.data, lakePoints()...)
	if in.s("trend") == "chart" {
		f.data, f.prior = f.data[:140], append(f.prior, field.Flat)
		f.basis = func(p geo.Local) []float64 { return []float64{1, lakeChart(p)} }
	}
	if in.s("rest") == "nugget" {
		f.model.Nugget = in.n("rest_m2")
	}
	for i := range f.data {
		if in.s("rest") == "error" {
			f.data[i].Noise = in.n("rest_m2")
		}
		f.data[i].Trend = f.basis(f.data[i].At)
	}
	return f
}

var fieldKeys = []string{"trend", "constant|chart", "shape", "exponential|spherical|matern32", "sill_m2", "m2", "range_m", "m", "rest", "error|nugget", "rest_m2", "m2"}

func fieldInputs(more ...string) []Input {
	return keys(append(append([]string(nil), fieldKeys...), more...)...)
}

// at gives mean and variance at a place from all data, or from the nearest when nearest is above 0.
func (f lakeField) at(in Inputs) (mean, variance float64, err error) {
	p := geo.Local{E: in.n("east_m"), N: in.n("north_m")}
	if n := int(in.n("nearest")); n > 0 {
		return field.NewLocal(f.model, f.data, f.prior, n, false).At(p, f.basis(p), nil)
	}
	k, err := field.Solve(f.model, f.data, f.prior)
	if err != nil {
		return 0, 0, err
	}
	if side := in.n("side_m"); side > 0 {
		mean, variance = k.Block(p, quantity.Length(side), f.basis)
		return mean, variance, nil
	}
	mean, variance = k.At(p, f.basis(p))
	return mean, variance, nil
}

// leftOut sums up leaving out each sounding in turn, the shore left in.
func (f lakeField) leftOut() (field.Summary, error) {
	k, err := field.Solve(f.model, f.data, f.prior)
	if err != nil {
		return field.Summary{}, err
	}
	misses, err := k.LeaveOut(field.Singles(140))
	return field.Summarise(misses), err
}

// trueError gives the root mean square error at 68 places of the first soundings alone, with the chart as drift or without.
func (f lakeField) trueError(holes int) (float64, error) {
	k, err := field.Solve(f.model, f.data[:min(holes, 140)], f.prior)
	if err != nil {
		return 0, err
	}
	sum, n := 0.0, 0.0
	for e := 250.0; e < 6000; e += 500 {
		for north := 250.0; north < 4000; north += 500 {
			p := geo.Local{E: e, N: north}
			if bowl(p) < 0 {
				continue
			}
			m, _ := k.At(p, f.basis(p))
			sum += math.Pow(m-rounded(lakeDepth(p), 4), 2)
			n++
		}
	}
	return math.Sqrt(sum / n), nil
}

var depthSlugs = []Slug{
	{"lake_depth", "m", "depth of the made-up lake by kriging; side_m above 0 averages over a square, nearest above 0 uses so many data", fieldInputs("east_m", "m", "north_m", "m", "side_m", "m", "nearest", "1"),
		func(in Inputs) (float64, error) { m, _, err := newLakeField(in).at(in); return m, err }},
	{"lake_depth_variance", "m2", "variance of the same", fieldInputs("east_m", "m", "north_m", "m", "side_m", "m", "nearest", "1"),
		func(in Inputs) (float64, error) { _, v, err := newLakeField(in).at(in); return v, err }},
	{"lake_left_out_mean", "m", "mean of observed less predicted, each sounding left out in turn", fieldInputs(),
		func(in Inputs) (float64, error) { s, err := newLakeField(in).leftOut(); return -s.MeanError, err }},
	{"lake_left_out_rmse", "m", "root mean square of the same", fieldInputs(),
		func(in Inputs) (float64, error) { s, err := newLakeField(in).leftOut(); return s.RMSE, err }},
	{"lake_left_out_z2", "1", "mean square of the same over its standard deviation", fieldInputs(),
		func(in Inputs) (float64, error) { s, err := newLakeField(in).leftOut(); return s.MeanSquareZ, err }},
	{"lake_depth_error", "m", "true root mean square error at 68 places with the first soundings alone", fieldInputs("holes", "1"),
		func(in Inputs) (float64, error) { return newLakeField(in).trueError(int(in.n("holes"))) }},
	{"lake_chart_error", "m", "root mean square error of the chart itself at 68 places", nil,
		func(Inputs) (float64, error) {
			sum, n := 0.0, 0.0
			for e := 250.0; e < 6000; e += 500 {
				for north := 250.0; north < 4000; north += 500 {
					if p := (geo.Local{E: e, N: north}); bowl(p) >= 0 {
						sum += math.Pow(lakeChart(p)-rounded(lakeDepth(p), 4), 2)
						n++
					}
				}
			}
			return math.Sqrt(sum / n), nil
		}},
}
