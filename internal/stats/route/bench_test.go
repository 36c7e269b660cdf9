package route

import (
	"context"
	"fmt"
	"math"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// lake gives a region of 31 by 17 km with a wavy bank of n corners, a barrier with two gaps, and twenty obstacles.
func lake(n int, cell quantity.Length) Region {
	r := Region{Keep: 10, Ends: 30}
	for k := range n {
		s, c := math.Sincos(2 * math.Pi * float64(k) / float64(n))
		d := 1 + 0.06*math.Sin(2*math.Pi*9*float64(k)/float64(n))
		r.Outline.Outer = append(r.Outline.Outer, geo.Local{E: 8500 * s * d, N: 15500 * c * d})
	}
	r.Barriers = []Barrier{{Points: []geo.Local{{E: -9500, N: 3000}, {E: 0, N: 2000}, {E: 9500, N: 2500}}, Keep: 50,
		Gaps: []Gap{{At: geo.Local{E: -4000, N: 2421}, Width: 20}, {At: geo.Local{E: 5000, N: 2263}, Width: 20}}}}
	for k := range 20 {
		s, c := math.Sincos(float64(k))
		r.Obstacles = append(r.Obstacles, Obstacle{[]geo.Local{{E: 300 * s * float64(k), N: 600 * c * float64(k)}}, quantity.Length(100 + 10*k)})
	}
	if cell > 0 {
		r.Costs = NewCosts(geo.Local{E: -9100, N: -16500}, geo.Local{E: 9100, N: 16500}, cell, func(p geo.Local) float64 {
			return 1 + math.Floor(1.9*math.Abs(math.Sin(p.E/900)*math.Cos(p.N/1300)))
		})
	}
	return r
}

var landing, far = geo.Local{E: -3000, N: -13500}, geo.Local{E: 2000, N: 13000}

func BenchmarkWay(b *testing.B) {
	for _, c := range []struct {
		name    string
		corners int
		cell    quantity.Length
	}{{"corners-60", 60, 0}, {"corners-240", 240, 0}, {"cells-100m", 240, 100}, {"cells-50m", 1000, 50}} {
		p := Prepare(lake(c.corners, c.cell))
		b.Run(fmt.Sprintf("lake-31x17km/%s/nodes-%d", c.name, len(p.corners)), func(b *testing.B) {
			for b.Loop() {
				if w, err := p.Way(context.Background(), far, landing); err != nil || w.Outcome != Found {
					b.Fatal(w, err)
				}
			}
		})
	}
}

func BenchmarkField(b *testing.B) {
	for _, cell := range []quantity.Length{100, 50} {
		p := Prepare(lake(1000, cell))
		b.Run(fmt.Sprintf("lake-31x17km/cells-%.0fm", float64(cell)), func(b *testing.B) {
			for b.Loop() {
				if _, err := p.Field(context.Background(), landing, quantity.Length(math.Inf(1))); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkPrepare(b *testing.B) {
	r := lake(1000, 50)
	for b.Loop() {
		Prepare(r)
	}
}
