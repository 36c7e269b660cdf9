// Package world answers what is under the ice of made-up lakes on which ways of searching are compared: schools that
// live by habits of four different kinds, what a sonar shows of them, and what a rod takes. Every number is invented;
// no result from it is a catch forecast.
//
// Start with [Families], then [NewLake], [Lake.Day] and [Day.Run]. A [Day] never changes and serves all ways that are
// compared; a [Run] is one way's copy, in which fish are taken. Schools that nobody touches swim alike in all runs.
// It assumes nothing of the engine and shares no model with it. It leaves out walleye, ice that is not good to walk on,
// and weather. Only rehearse and tests may import it; ways of searching never see it.
// Model note: docs/models/rehearsal.md.
package world

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// The working area in metres, its south-west corner at the origin.
const (
	WidthM  = 2000.0
	HeightM = 1500.0
)

// Length of a day on the ice, from half past seven.
const (
	Length  = 510 * time.Minute
	minutes = 510
)

// Season is the time of the winter: 0 is early ice, 1 the middle, 2 late ice.
type Season float64

// The stages.
const (
	Early Season = 0
	Mid   Season = 1
	Late  Season = 2
)

// of reads a value given for early, mid and late ice.
func (s Season) of(v [3]float64) float64 {
	u := num.Clamp(float64(s), 0, 2)
	if u <= 1 {
		return v[0] + (v[1]-v[0])*u
	}
	return v[1] + (v[2]-v[1])*(u-1)
}

// phase is what a school does.
type phase uint8

const (
	resting phase = iota
	travelling
	feeding
)

// place is ground that fish keep to: a patch, a station on a contour, a bed or a hollow.
type place struct {
	x, y       float64
	long, wide float64 // semi-axes, m; wide 0: round
	cos, sin   float64 // of the long axis
	worth      float64
	lasting    float64 // standard normal: the part of its worth that outlasts the winter
	region     int     // part of the lake that wakes together
}

// Lake is a made-up lake. It does not change within a winter.
type Lake struct {
	Family Family
	Seed   uint64

	depth    []float64 // m, on the nodes of the depth grid
	chart    []float64 // m, as the guide's chart has it
	places   []place
	regions  [][2]float64
	lateM    float64 // minutes by which this lake's fish run late
	depthOff float64 // m by which its fish stand deeper than is usual
	landing  geo.Local
}

const (
	gridM    = 20.0
	gridCols = int(WidthM/gridM) + 1
	gridRows = int(HeightM/gridM) + 1
)

// NewLake makes a lake of a family. winter tells winters on one lake apart: part of what places are worth stays.
func NewLake(f Family, seed uint64, winter int) *Lake {
	l := &Lake{Family: f, Seed: seed}
	d := seeded(seed, 1)
	l.depth = relief(&d, f)
	l.chart = charted(&d, l.depth)
	l.lateM = 40 * d.normal()
	l.depthOff = 0.6 * d.normal()
	l.landing = geo.Local{E: d.between(300, WidthM-300), N: 0}
	f.habits.settle(l, &d)
	year := seeded(seed, 2, uint64(winter))
	for i := range l.places {
		p := &l.places[i]
		// (REHEARSE-1) ln w = c (0.7 lasting + sqrt(1 - 0.49) of this winter)
		p.worth = math.Exp(f.contrast * (0.7*p.lasting + math.Sqrt(1-0.49)*year.normal()))
	}
	return l
}

// Landing gives where the party comes onto the working area.
func (l *Lake) Landing() geo.Local { return l.landing }

// Depth gives the depth.
func (l *Lake) Depth(p geo.Local) quantity.Length { return quantity.Length(at(l.depth, p.E, p.N)) }

// Chart gives the depth as the guide's chart has it.
func (l *Lake) Chart(p geo.Local) quantity.Length { return quantity.Length(at(l.chart, p.E, p.N)) }

// Inside tells whether a place lies in the working area.
func Inside(p geo.Local) bool { return p.E >= 0 && p.E <= WidthM && p.N >= 0 && p.N <= HeightM }

// at reads a grid by straight lines between nodes; outside it takes the edge.
func at(grid []float64, x, y float64) float64 {
	u, v := num.Clamp(x/gridM, 0, float64(gridCols-1)-1e-9), num.Clamp(y/gridM, 0, float64(gridRows-1)-1e-9)
	i, j := int(u), int(v)
	u, v = u-float64(i), v-float64(j)
	k := j*gridCols + i
	return (1-v)*((1-u)*grid[k]+u*grid[k+1]) + v*((1-u)*grid[k+gridCols]+u*grid[k+gridCols+1])
}

// slope gives the gradient of the depth, m by m.
func (l *Lake) slope(x, y float64) (gx, gy float64) {
	const h = 15.0
	return (at(l.depth, x+h, y) - at(l.depth, x-h, y)) / (2 * h), (at(l.depth, x, y+h) - at(l.depth, x, y-h)) / (2 * h)
}

// relief draws the bottom: a plane that falls away from the landing, and swells of several lengths.
func relief(d *dice, f Family) []float64 {
	type swell struct{ kx, ky, phase, m float64 }
	var swells []swell
	for i := range 9 {
		long := d.between(350, 1600)
		if i >= 6 {
			long = d.between(120, 300)
		}
		a := d.between(0, 2*math.Pi)
		m := f.reliefM * math.Sqrt(long/1600) * d.between(0.4, 1)
		swells = append(swells, swell{2 * math.Pi / long * math.Cos(a), 2 * math.Pi / long * math.Sin(a), d.between(0, 2*math.Pi), m})
	}
	out := make([]float64, gridCols*gridRows)
	for k := range out {
		x, y := float64(k%gridCols)*gridM, float64(k/gridCols)*gridM
		z := f.shallowM + (f.deepM-f.shallowM)*y/HeightM
		for _, s := range swells {
			z += s.m * math.Cos(s.kx*x+s.ky*y+s.phase)
		}
		out[k] = num.Clamp(z, 3, 16)
	}
	return out
}

// charted gives the depth as a chart has it: smoother, and a few decimetres out over some hundred metres.
func charted(d *dice, depth []float64) []float64 {
	const step = 15 // nodes: 300 m
	cols, rows := gridCols/step+2, gridRows/step+2
	off := make([]float64, cols*rows)
	for i := range off {
		off[i] = 0.35 * d.normal()
	}
	out := make([]float64, len(depth))
	for k := range out {
		i, j := k%gridCols, k/gridCols
		u, v := float64(i%step)/step, float64(j%step)/step
		q := j/step*cols + i/step
		out[k] = depth[k] + (1-v)*((1-u)*off[q]+u*off[q+1]) + v*((1-u)*off[q+cols]+u*off[q+cols+1])
	}
	return out
}
