package sim

import (
	"math"
	"math/rand/v2"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// The shape of the lake and its named places, metres east and north of its middle. Every number here is invented.

const (
	spanE, spanN = 17_000.0, 31_000.0

	outerFloorM  = 7.9  // m; floor outside the Long Flat
	bumpM        = 0.06 // m; standard deviation of the small bumps of the bottom
	chartBarTopM = 8.4  // m; what the old chart's lines caught of Cinder Bar
)

var (
	longFlat             = geo.Local{E: -2800, N: -4000} // the middle of the mud plain, 8.4 by 14 km
	flatHalfE, flatHalfN = 4200.0, 7000.0

	harrowLanding = geo.Local{E: -8100, N: -10600}
	gullPoint     = geo.Local{E: -8000, N: -9700}
	coldDock      = geo.Local{E: 7400, N: -8900}
	crossing      = geo.Local{E: -7250, N: -9880}

	cinderBar   = rise{at: geo.Local{E: -4900, N: -9250}, alongM: 620, acrossM: 240, axis: quantity.NewBearing(20), topM: 6.1}
	saltboxReef = rise{at: geo.Local{E: 3900, N: -5600}, alongM: 300, acrossM: 220, axis: quantity.NewBearing(70), topM: 3.0}
	owlTrough   = rise{at: geo.Local{E: 2700, N: 1500}, alongM: 1900, acrossM: 700, axis: quantity.NewBearing(350), topM: 15.2}

	kettleSprings = []Oval{
		{At: geo.Local{E: 6300, N: 2400}, East: 40 * quantity.Metre, North: 70 * quantity.Metre},
		{At: geo.Local{E: 6550, N: 2850}, East: 75 * quantity.Metre, North: 100 * quantity.Metre},
		{At: geo.Local{E: 6150, N: 3200}, East: 45 * quantity.Metre, North: 40 * quantity.Metre},
	}
	islands = []Oval{
		{At: geo.Local{E: 4300, N: 6300}, East: 520 * quantity.Metre, North: 330 * quantity.Metre},
		{At: geo.Local{E: -4700, N: 5200}, East: 240 * quantity.Metre, North: 400 * quantity.Metre},
	}
)

// rise is an oblong hill of the bottom, or a trough.
type rise struct {
	at              geo.Local
	alongM, acrossM float64          // half axes at which the rise has fallen to 0.61
	axis            quantity.Bearing // of the long half axis
	topM            float64          // depth at the middle
}

// rise gives the share of the full height at a place, 1 in the middle. The top is flat, the flanks are steep.
func (r rise) rise(p geo.Local) float64 {
	s, c := math.Sincos(r.axis.Degrees() * math.Pi / 180)
	d := p.Sub(r.at)
	along, across := (d.E*s+d.N*c)/r.alongM, (d.E*c-d.N*s)/r.acrossM
	q := along*along + across*across
	return math.Exp(-q * q / 2)
}

// ring gives the oval's outline, clockwise as a hole of a polygon is drawn.
func (o Oval) ring() []geo.Local {
	out := make([]geo.Local, 40)
	for i := range out {
		s, c := math.Sincos(-2 * math.Pi * float64(i) / float64(len(out)))
		out[i] = geo.Local{E: o.At.E + o.East.Metres()*c, N: o.At.N + o.North.Metres()*s}
	}
	return out
}

// corners of the shore in kilometres, anticlockwise from Pike Street in the south.
var corners = [][2]float64{
	{0, -15.5}, {2.5, -15.2}, {4.6, -13.6}, {6.2, -11.5}, {7.5, -8.9}, {8.0, -6.2}, {8.0, -3.5}, {8.5, -0.5}, {8.2, 2.2},
	{7.9, 4.6}, {7.6, 6.8}, {6.9, 9.1}, {3.6, 10.8}, {1.2, 11.5}, {0.75, 12.1}, {0.75, 12.8}, {1.1, 13.4}, {2.6, 14.2},
	{1.8, 15.3}, {0.2, 15.5}, {-1.8, 15.0}, {-2.2, 13.9}, {-0.4, 13.3}, {-0.15, 12.8}, {-0.15, 12.1}, {-0.8, 11.4},
	{-3.0, 10.6}, {-5.6, 9.0}, {-7.0, 6.4}, {-7.3, 4.0}, {-7.8, 1.5}, {-8.5, -1.5}, {-8.2, -4.2}, {-8.4, -6.2},
	{-8.5, -8.4}, {-8.4, -9.3}, {-7.8, -9.7}, {-8.2, -10.2}, {-8.2, -10.9}, {-7.4, -11.9}, {-5.4, -13.2}, {-3.3, -14.6},
	{-1.5, -15.3},
}

// shoreline rounds the corners, bends the line a little at random and brings it to the lake's span.
func shoreline(rng *rand.Rand) []geo.Local {
	ring := make([]geo.Local, len(corners))
	for i, c := range corners {
		ring[i] = geo.Local{E: 1000 * c[0], N: 1000 * c[1]}
	}
	for range 3 {
		ring = cutCorners(ring)
	}
	bends := waves(rng, 500, 1500)
	for i, p := range ring {
		const bendM = 35
		ring[i] = geo.Local{E: p.E + bendM*fieldAt(bends[:12], p), N: p.N + bendM*fieldAt(bends[12:], p)}
	}
	low, high := ring[0], ring[0]
	for _, p := range ring {
		low = geo.Local{E: math.Min(low.E, p.E), N: math.Min(low.N, p.N)}
		high = geo.Local{E: math.Max(high.E, p.E), N: math.Max(high.N, p.N)}
	}
	for i, p := range ring {
		ring[i] = geo.Local{E: ((p.E-low.E)/(high.E-low.E) - 0.5) * spanE, N: ((p.N-low.N)/(high.N-low.N) - 0.5) * spanN}
	}
	return ring
}

// cutCorners replaces every corner by two points on its sides, a quarter of the way along.
func cutCorners(ring []geo.Local) []geo.Local {
	out := make([]geo.Local, 0, 2*len(ring))
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		out = append(out, geo.Local{E: mix(a.E, b.E, 0.25), N: mix(a.N, b.N, 0.25)}, geo.Local{E: mix(a.E, b.E, 0.75), N: mix(a.N, b.N, 0.75)})
	}
	return out
}
