package field

import (
	"math"
	"slices"
)

// minimise seeks a minimum of f from start by the simplex of Nelder and Mead (1965) with their coefficients. It stops
// when the simplex's values lie within tol of one another or after most evaluations. Infinite values mark forbidden
// ground. Written here because gonum's optimize would pull its whole statistics tree into the phone build.
func minimise(f func([]float64) float64, start []float64, step, tol float64, most int) (best []float64, value float64) {
	type vertex struct {
		x []float64
		v float64
	}
	n, used := len(start), 0
	try := func(x []float64) vertex { used++; return vertex{x, f(x)} }
	s := []vertex{try(slices.Clone(start))}
	for i := range n {
		x := slices.Clone(start)
		x[i] += step
		s = append(s, try(x))
	}
	order := func() {
		slices.SortStableFunc(s, func(a, b vertex) int {
			switch {
			case a.v < b.v:
				return -1
			case a.v > b.v:
				return 1
			}
			return 0
		})
	}
	for order(); n > 0 && used < most && !(math.Abs(s[n].v-s[0].v) < tol); order() {
		centre := make([]float64, n) // of all but the worst
		for _, q := range s[:n] {
			for i := range centre {
				centre[i] += q.x[i] / float64(n)
			}
		}
		along := func(t float64) vertex { // t = -1 is the worst itself, 1 its mirror image
			x := make([]float64, n)
			for i := range x {
				x[i] = centre[i] + t*(centre[i]-s[n].x[i])
			}
			return try(x)
		}
		r := along(1)
		switch {
		case r.v < s[0].v:
			if e := along(2); e.v < r.v {
				r = e
			}
			s[n] = r
			continue
		case r.v < s[n-1].v:
			s[n] = r
			continue
		}
		c := along(-0.5)
		if r.v < s[n].v {
			c = along(0.5)
		}
		if c.v < math.Min(r.v, s[n].v) {
			s[n] = c
			continue
		}
		for k := 1; k <= n; k++ { // shrink towards the best
			x := make([]float64, n)
			for i := range x {
				x[i] = 0.5 * (s[0].x[i] + s[k].x[i])
			}
			s[k] = try(x)
		}
	}
	return s[0].x, s[0].v
}
