package way

import (
	"math"

	"icehand/internal/base/geo"
)

// mask is the share of chance that blank looks have left at a place: 1 where nobody looked for an hour. Fish mix it
// slowly, so it spreads like heat and fades.
type mask struct {
	cols, rows   int
	left         []float32
	next         []float32
	lowX, lowY   int // the part that is not 1
	highX, highY int
	minute       int // to which it is brought
}

const (
	maskM     = 10.0
	maskStep  = 2    // minutes
	mixing    = 0.05 // m2/s
	maskFades = 60.0 // minutes
)

func newMask(widthM, heightM float64) *mask {
	m := &mask{cols: int(widthM/maskM) + 1, rows: int(heightM/maskM) + 1}
	m.left, m.next = make([]float32, m.cols*m.rows), make([]float32, m.cols*m.rows)
	for i := range m.left {
		m.left[i], m.next[i] = 1, 1
	}
	m.lowX, m.lowY = m.cols, m.rows
	return m
}

func (m *mask) cell(p geo.Local) (x, y int) {
	return min(max(0, int(p.E/maskM)), m.cols-1), min(max(0, int(p.N/maskM)), m.rows-1)
}

func (m *mask) at(p geo.Local) float64 {
	x, y := m.cell(p)
	return float64(m.left[y*m.cols+x])
}

// cast takes the chance of what a look over a radius would have shown, with a certainty.
func (m *mask) cast(p geo.Local, radius, certainty float64) {
	x0, y0 := m.cell(geo.Local{E: p.E - 1.6*radius, N: p.N - 1.6*radius})
	x1, y1 := m.cell(geo.Local{E: p.E + 1.6*radius, N: p.N + 1.6*radius})
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			dx, dy := (float64(x)+0.5)*maskM-p.E, (float64(y)+0.5)*maskM-p.N
			q := (dx*dx + dy*dy) / (radius * radius)
			m.left[y*m.cols+x] *= float32(1 - certainty*math.Exp(-0.7*q*q))
		}
	}
	m.lowX, m.lowY, m.highX, m.highY = min(m.lowX, x0), min(m.lowY, y0), max(m.highX, x1), max(m.highY, y1)
}

// advance mixes and fades up to a minute.
func (m *mask) advance(minute int) {
	const c = float32(mixing * maskStep * 60 / (maskM * maskM))
	back := float32(1 - math.Exp(-maskStep/maskFades))
	for ; m.minute+maskStep <= minute; m.minute += maskStep {
		if m.lowX > m.highX {
			continue
		}
		m.lowX, m.lowY = max(1, m.lowX-1), max(1, m.lowY-1)
		m.highX, m.highY = min(m.cols-2, m.highX+1), min(m.rows-2, m.highY+1)
		for y := m.lowY; y <= m.highY; y++ {
			o, n := y*m.cols+m.lowX, m.highX-m.lowX+1
			here, above, below, next := m.left[o-1:o+n+1], m.left[o-m.cols:o-m.cols+n], m.left[o+m.cols:o+m.cols+n], m.next[o:o+n]
			for i := range next {
				v := here[i+1]
				v += c * (here[i] + here[i+2] + above[i] + below[i] - 4*v)
				next[i] = v + back*(1-v)
			}
		}
		m.left, m.next = m.next, m.left
	}
}
