package ground

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// readTable reads a numeric table and fails when it has fewer rows than it must.
func readTable(t testing.TB, name string, atLeast int) map[string][]float64 {
	t.Helper()
	file, err := os.Open("../../stats/field/testdata/" + name) // the tables are kept once
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

// bowl is 1 in the middle of the made-up lake's ellipse and 0 on its shore.
func bowl(p geo.Local) float64 {
	a, b := (p.E-3000)/2900, (p.N-2000)/1850
	return 1 - a*a - b*b
}

// oldChart is the made-up chart: 15 % too deep, rounded to a metre, without the lake's hump and hole.
func oldChart(p geo.Local) float64 {
	return math.RoundToEven(1.15 * 11 * math.Sqrt(math.Max(0, bowl(p))))
}

// lakeDepth is the made-up lake of lake_soundings.csv; bank 0.5 is steep, 1 gentle.
func lakeDepth(p geo.Local, bank float64) float64 {
	g := func(e, n, w, h float64) float64 {
		return math.Exp(-(math.Pow((p.E-e)/w, 2) + math.Pow((p.N-n)/h, 2)))
	}
	return math.Max(0, 11*math.Pow(math.Max(0, bowl(p)), bank)-3.5*g(3900, 2300, 350, 260)+2.5*g(1700, 1500, 500, 400))
}

// ring draws an ellipse.
func ring(e, n, w, h float64, corners int) []geo.Local {
	var out []geo.Local
	for i := range corners {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(corners))
		out = append(out, geo.Local{E: e + w*c, N: n + h*s})
	}
	return out
}

// outline is the shore of the made-up lake, with an island when asked.
func outline(islands ...[]geo.Local) []geo.Polygon {
	return []geo.Polygon{{Outer: ring(3000, 2000, 2900, 1850, 360), Holes: islands}}
}

// chartSoundings samples the old chart every step metres.
func chartSoundings(step float64) []Sounding {
	var out []Sounding
	for n := step / 2; n < 4000; n += step {
		for e := step / 2; e < 6000; e += step {
			if p := (geo.Local{E: e, N: n}); bowl(p) > 0 {
				out = append(out, Sounding{At: p, Depth: quantity.Length(oldChart(p)), Sigma: chartSigma})
			}
		}
	}
	return out
}

// lakeHoles gives the first n soundings of the table as holes.
func lakeHoles(t testing.TB, n int) []Sounding {
	s := readTable(t, "lake_soundings.csv", 140)
	var out []Sounding
	for i := range n {
		out = append(out, Sounding{At: geo.Local{E: s["x_m"][i], N: s["y_m"][i]}, Depth: quantity.Length(s["depth_obs_m"][i]),
			Sigma: holeSigma, Kind: FromHole, ID: fmt.Sprint(i + 1)})
	}
	return out
}

// madeUp is a lake with a random bottom: a few smooth humps and troughs on the bowl, and a chart with errors of its own.
type madeUp struct {
	bumps [12][4]float64 // east, north, width, height
	scale float64        // of the chart
	shift float64        // of the chart
	known int            // so many bumps are on the chart
	bank  float64
}

func newMadeUp(r *rand.Rand) madeUp {
	m := madeUp{scale: 1 + 0.1*r.NormFloat64(), shift: 0.4 * r.NormFloat64(), known: r.IntN(10), bank: 0.5 + 0.5*r.Float64()}
	for i := range m.bumps {
		m.bumps[i] = [4]float64{6000 * r.Float64(), 4000 * r.Float64(), 200 + 500*r.Float64(), 1.2 * r.NormFloat64()}
	}
	return m
}

func (m madeUp) sum(p geo.Local, bumps int) float64 {
	d := 11 * math.Pow(math.Max(0, bowl(p)), m.bank)
	for _, b := range m.bumps[:bumps] {
		q := math.Pow((p.E-b[0])/b[2], 2) + math.Pow((p.N-b[1])/b[2], 2)
		d += b[3] * math.Exp(-q) * math.Min(1, 3*math.Max(0, bowl(p)))
	}
	return math.Max(0, d)
}

func (m madeUp) depth(p geo.Local) float64 { return m.sum(p, len(m.bumps)) }
func (m madeUp) chart(p geo.Local) float64 {
	return math.Max(0, math.RoundToEven(m.shift+m.scale*m.sum(p, m.known)))
}

// somewhere gives a random place on the lake, off the very bank.
func somewhere(r *rand.Rand) geo.Local {
	for {
		if p := (geo.Local{E: 6000 * r.Float64(), N: 4000 * r.Float64()}); bowl(p) > 0.02 {
			return p
		}
	}
}

// rmse compares a surface with the truth at random places and counts how often the truth lies in the 90 % band.
func rmse(t testing.TB, s *Surface, truth func(geo.Local) float64, at []geo.Local) (errM, covered float64) {
	t.Helper()
	for _, p := range at {
		d := s.At(p)
		if !d.Known {
			t.Fatalf("%v: no depth", p)
		}
		e := float64(d.Mean) - truth(p)
		errM += e * e / float64(len(at))
		if math.Abs(e) <= 1.6449*float64(d.Spread) { // 90 % of a normal distribution
			covered += 1 / float64(len(at))
		}
	}
	return math.Sqrt(errM), covered
}
