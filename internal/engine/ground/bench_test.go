package ground

import (
	"context"
	"fmt"
	"math"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// bigLake is an ellipse of 17 x 31 km (about 410 km2) with a smooth made-up bottom.
func bigLake(n int) (outline []geo.Polygon, soundings []Sounding) {
	outline = []geo.Polygon{{Outer: ring(0, 0, 8500, 15500, 2000)}}
	r := num.NewStream(1, "big lake")
	for len(soundings) < n {
		p := geo.Local{E: 17000 * (r.Float64() - 0.5), N: 31000 * (r.Float64() - 0.5)}
		q := 1 - math.Pow(p.E/8500, 2) - math.Pow(p.N/15500, 2)
		if q > 0 {
			d := math.Max(0, 12*math.Sqrt(q)+0.8*math.Sin(p.E/400)*math.Cos(p.N/500)+0.2*r.NormFloat64())
			soundings = append(soundings, Sounding{At: p, Depth: quantity.Length(d), ID: fmt.Sprint(len(soundings))})
		}
	}
	return outline, soundings
}

// workArea is 2 x 2 km in the middle.
var workArea = &Window{geo.Local{E: -1000, N: -1000}, geo.Local{E: 1000, N: 1000}}

func workHoles(n int) []Sounding {
	r := num.NewStream(2, "holes")
	var out []Sounding
	for i := range n {
		p := geo.Local{E: 2000 * (r.Float64() - 0.5), N: 2000 * (r.Float64() - 0.5)}
		out = append(out, Sounding{At: p, Depth: quantity.Length(10.5 + 0.8*math.Sin(p.E/400)*math.Cos(p.N/500)), Kind: FromHole, ID: fmt.Sprint(i)})
	}
	return out
}

// The whole lake at its default cell from 100,000 soundings.
func BenchmarkBuild100000Soundings(b *testing.B) {
	outline, soundings := bigLake(100000)
	for b.Loop() {
		if _, err := Build(context.Background(), Input{Outline: outline, Soundings: soundings}); err != nil {
			b.Fatal(err)
		}
	}
}

// A working area of 4 km2 at 10 m cells: 1,000 of 100,000 soundings lie in it, 20 holes.
func BenchmarkSurface4km2Cell10m(b *testing.B) {
	outline, soundings := bigLake(100000)
	soundings = append(soundings, workHoles(20)...)
	for b.Loop() {
		if _, err := Build(context.Background(), Input{Outline: outline, Soundings: soundings, Window: workArea, Cell: 10}); err != nil {
			b.Fatal(err)
		}
	}
}

// A dense survey: 100,000 soundings in 4 km2, 6 m apart.
func BenchmarkSurface4km2Cell10mDense100000(b *testing.B) {
	outline, _ := bigLake(0)
	var soundings []Sounding
	for _, h := range workHoles(100000) {
		h.Kind = FromChart
		soundings = append(soundings, h)
	}
	for b.Loop() {
		if _, err := Build(context.Background(), Input{Outline: outline, Soundings: soundings, Window: workArea, Cell: 10}); err != nil {
			b.Fatal(err)
		}
	}
}

func benchmarkAddHole(b *testing.B, n int) {
	outline, soundings := bigLake(100000)
	c, err := BuildChart(context.Background(), Input{Outline: outline, Soundings: soundings, Window: workArea, Cell: 10})
	if err != nil {
		b.Fatal(err)
	}
	holes := workHoles(n)
	for b.Loop() {
		if _, err := c.Surface(context.Background(), holes); err != nil {
			b.Fatal(err)
		}
	}
}

// The surface after the 20th and the 200th hole of 4 km2 at 10 m cells, the chart prepared before.
func BenchmarkAddHole20(b *testing.B)  { benchmarkAddHole(b, 20) }
func BenchmarkAddHole200(b *testing.B) { benchmarkAddHole(b, 200) }
