package field

import (
	"cmp"
	"math"
	"slices"
)

// simplex is the state of a search: n+1 vertices, best first.
type simplex struct {
	f    func([]float64) float64
	s    []vertex
	used int // evaluations of f
}

// vertex is a place and its value.
type vertex struct {
	x []float64
	v float64
}

// minimise seeks a minimum of f from start by the simplex of Nelder and Mead [NelderMead1965] with their coefficients.
// It stops when the simplex's values lie within tol of one another or after most evaluations. Infinite values mark
// forbidden ground. Written here because gonum's optimize would pull its whole statistics tree into the phone build.
func minimise(f func([]float64) float64, start []float64, step, tol float64, most int) (best []float64, value float64) {
	m := simplex{f: f}
	m.s = append(m.s, m.try(slices.Clone(start)))
	for i := range start {
		x := slices.Clone(start)
		x[i] += step
		m.s = append(m.s, m.try(x))
	}
	n := len(start)
	for m.order(); n > 0 && m.used < most && !(m.s[n].v-m.s[0].v < tol); m.order() {
		m.move()
	}
	return m.s[0].x, m.s[0].v
}

func (m *simplex) try(x []float64) vertex {
	m.used++
	return vertex{x, m.f(x)}
}

func (m *simplex) order() {
	slices.SortStableFunc(m.s, func(a, b vertex) int { return cmp.Compare(a.v, b.v) })
}

// move replaces the worst vertex by a better one or, when there is none, draws all towards the best.
func (m *simplex) move() {
	n := len(m.s) - 1
	r := m.along(1)
	switch {
	case r.v < m.s[0].v:
		if e := m.along(2); e.v < r.v {
			r = e
		}
		m.s[n] = r
		return
	case r.v < m.s[n-1].v:
		m.s[n] = r
		return
	}
	inward := -0.5
	if r.v < m.s[n].v {
		inward = 0.5
	}
	c := m.along(inward)
	if c.v < math.Min(r.v, m.s[n].v) {
		m.s[n] = c
		return
	}
	for k := 1; k <= n; k++ {
		x := make([]float64, n)
		for i := range x {
			x[i] = 0.5 * (m.s[0].x[i] + m.s[k].x[i])
		}
		m.s[k] = m.try(x)
	}
}

// along tries the line from the worst vertex (t = -1) through the centre of the others (0) to its mirror image (1).
func (m *simplex) along(t float64) vertex {
	n := len(m.s) - 1
	x := make([]float64, n)
	for i := range x {
		centre := 0.0
		for _, q := range m.s[:n] {
			centre += q.x[i] / float64(n)
		}
		x[i] = centre + t*(centre-m.s[n].x[i])
	}
	return m.try(x)
}
