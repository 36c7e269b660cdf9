// Package intensity learns how a rate of encounters varies over the plane, from observations that each say only: with
// this much exposure, something was met here or nothing was.
//
// Start with [New]; feed it with [Field.Observe], ask it with [Field.At], and call [Field.Age] when time has passed that
// makes old knowledge less certain. [Level] learns the rate's overall size and is kept apart.
// It assumes a log-intensity that is a Gaussian field of compact reach, and overdispersed counts. The field lives on
// nodes of a fixed lattice that come into being where something was observed, each with its covariance to its
// neighbours only, so that neither time nor memory grows with the number of observations or the size of the plane.
// It leaves out motion (package track) and whatever the caller knows beforehand: that goes into the exposure.
// Model note: docs/models/search.md.
package intensity

import (
	"math"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Params are the field's fixed properties.
type Params struct {
	Spacing quantity.Length // of the lattice
	Reach   quantity.Length // the correlation is zero from here on
	SD      float64         // standard deviation of the log-intensity
	Shape   float64         // of the gamma spread of counts: variance = mean + mean^2/Shape
}

const (
	reachNodes = 5 // lattice steps to which a node keeps covariances
	side       = 2*reachNodes + 1
	minGain    = 0.002 // gains below this share of the variance are skipped, negative ones too; our own choice
	least      = 1e-6  // smallest variance kept
)

// cell names a node, and the square whose south-west corner it is.
type cell [2]int32

type node struct {
	mean float64
	cov  [side * side]float64 // to the node at offset (x, y): cov[(y+reachNodes)*side + x+reachNodes]
}

// Field is the belief about the log-intensity relative to what the caller expects: 0 everywhere would mean as expected.
// Its prior makes the mean intensity exactly the expected one.
type Field struct {
	par    Params
	prior  [side * side]float64
	inv    [4][4]float64 // inverse prior covariance of a square's corners
	corner [4][4]float64
	nodes  map[cell]*node
}

// New makes a field that has seen nothing. It panics when a parameter is not positive.
func New(p Params) *Field {
	if !(p.Spacing > 0 && p.Reach > p.Spacing && p.SD > 0 && p.Shape > 0) {
		panic("intensity: parameters must be positive and reach beyond the spacing")
	}
	f := &Field{par: p, nodes: map[cell]*node{}}
	for y := -reachNodes; y <= reachNodes; y++ {
		for x := -reachNodes; x <= reachNodes; x++ {
			f.prior[index(x, y)] = f.kernel(math.Hypot(float64(x), float64(y)) * float64(p.Spacing))
		}
	}
	for i := range 4 {
		for j := range 4 {
			dx, dy := i%2-j%2, i/2-j/2
			f.corner[i][j] = f.prior[index(dx, dy)]
		}
	}
	f.inv = invert(f.corner)
	return f
}

func index(x, y int) int { return (y+reachNodes)*side + x + reachNodes }

// kernel is the prior covariance at a distance in metres.
func (f *Field) kernel(d float64) float64 {
	u := d / float64(f.par.Reach)
	if u >= 1 {
		return 0
	}
	w := (1 - u) * (1 - u) * (1 - u)
	// (PLAN-1) Wendland's C4 function: smooth, positive definite, zero from the reach on
	return f.par.SD * f.par.SD * w * w * (35*u*u + 18*u + 3) / 3
}

// invert gives the inverse of a small symmetric positive matrix by Gauss and Jordan.
func invert(m [4][4]float64) (out [4][4]float64) {
	for i := range 4 {
		out[i][i] = 1
	}
	for i := range 4 {
		p := m[i][i]
		for j := range 4 {
			m[i][j] /= p
			out[i][j] /= p
		}
		for r := range 4 {
			if r == i {
				continue
			}
			q := m[r][i]
			for j := range 4 {
				m[r][j] -= q * m[i][j]
				out[r][j] -= q * out[i][j]
			}
		}
	}
	return out
}

// row is how a place hangs on the four corners of its square.
type row struct {
	corner [4]cell
	weight [4]float64
	rest   float64 // variance that the corners do not explain
}

func (f *Field) row(p geo.Local) (r row) {
	s := float64(f.par.Spacing)
	x, y := math.Floor(p.E/s), math.Floor(p.N/s)
	var k [4]float64
	for i := range 4 {
		cx, cy := x+float64(i%2), y+float64(i/2)
		r.corner[i] = cell{int32(cx), int32(cy)}
		k[i] = f.kernel(math.Hypot(p.E-cx*s, p.N-cy*s))
	}
	r.rest = f.par.SD * f.par.SD
	for i := range 4 {
		// (PLAN-2) kriging weights of the corners; a negative one would let an empty look raise a neighbour
		for j := range 4 {
			r.weight[i] += f.inv[i][j] * k[j]
		}
		r.weight[i] = math.Max(0, r.weight[i])
	}
	for i := range 4 {
		for j := range 4 {
			r.rest -= r.weight[i] * r.weight[j] * f.corner[i][j]
		}
	}
	r.rest = math.Max(0, r.rest)
	return r
}

// moments gives mean and variance of the log-intensity at a row, and the corners' nodes (nil where nothing was seen).
func (f *Field) moments(r *row) (mean, variance float64, at [4]*node) {
	for i, c := range r.corner {
		if at[i] = f.nodes[c]; at[i] != nil {
			mean += r.weight[i] * at[i].mean
		}
	}
	variance = r.rest
	for i := range 4 {
		cov := &f.prior
		if at[i] != nil {
			cov = &at[i].cov
		}
		for j := range 4 {
			variance += r.weight[i] * r.weight[j] * cov[index(j%2-i%2, j/2-i/2)]
		}
	}
	return mean - f.par.SD*f.par.SD/2, math.Max(least, variance), at
}

// At gives mean and variance of the log-intensity at a place, relative to the caller's expectation.
func (f *Field) At(p geo.Local) (mean, variance float64) {
	r := f.row(p)
	mean, variance, _ = f.moments(&r)
	return mean, variance
}

// Observation is what one place said.
type Observation struct {
	Exposure float64 // expected number of encounters if the field were as expected
	Seen     bool    // at least one encounter
	False    float64 // chance that it seems so without any, 0..1
	Weight   float64 // share of a whole observation, 0..1
}

// Observe takes an observation in. It panics on an exposure or weight that is negative or not a number.
func (f *Field) Observe(p geo.Local, o Observation) { f.ObserveWith(p, o, nil) }

// ObserveWith takes an observation in that depends on factors beside the field. What was not expected is shared out among
// field and factors by their variances.
func (f *Field) ObserveWith(p geo.Local, o Observation, factors []*Factor) {
	if !(o.Exposure >= 0 && o.Weight >= 0) {
		panic("intensity: exposure and weight must not be negative")
	}
	if o.Exposure == 0 || o.Weight == 0 {
		return
	}
	r := f.row(p)
	own, v, at := f.moments(&r)
	m := own
	for _, x := range factors {
		m, v = m+x.Share*x.Mean, v+x.Share*x.Share*x.Var
	}
	m1, v1 := f.tilt(m, v, o)
	// (PLAN-4) gain g = P r; z += g (m1 - m)/v; P -= g g' (v - v1)/v^2
	shift, shrink := (m1-m)/v, math.Max(0, (v-v1)/(v*v))
	for _, x := range factors {
		x.take(shift, shrink)
	}
	const width = side + 1 // the square's corners and reachNodes steps around them
	var gains [width * width]float64
	for i := range 4 {
		cov := &f.prior
		if at[i] != nil {
			cov = &at[i].cov
		}
		for y := range side {
			for x := range side {
				gains[(y+i/2)*width+x+i%2] += r.weight[i] * cov[y*side+x]
			}
		}
	}
	for k, g := range gains {
		if g <= minGain*f.par.SD*f.par.SD {
			gains[k] = 0
		}
	}
	f.apply(r.corner[0], gains[:], width, shift, shrink)
}

// apply moves the nodes with a gain; gains run row by row from reachNodes steps south-west of the base.
func (f *Field) apply(base cell, gains []float64, width int, shift, shrink float64) {
	for k, g := range gains {
		if g == 0 {
			continue
		}
		x, y := k%width, k/width
		c := cell{base[0] + int32(x-reachNodes), base[1] + int32(y-reachNodes)}
		nd := f.nodes[c]
		if nd == nil {
			nd = &node{cov: f.prior}
			f.nodes[c] = nd
		}
		nd.mean += g * shift
		gs := g * shrink
		first, last := max(0, x-reachNodes), min(width-1, x+reachNodes) // columns within reach
		for row := max(0, y-reachNodes); row <= min(width-1, y+reachNodes); row++ {
			at := index(first-x, row-y)
			cov, other := nd.cov[at:at+last-first+1], gains[row*width+first:row*width+last+1]
			for i, o := range other {
				cov[i] -= gs * o
			}
		}
		nd.cov[index(0, 0)] = math.Max(least, nd.cov[index(0, 0)])
	}
}

// tilt gives mean and variance of a normal belief after the observation. A doubtful meeting may leave more doubt than there
// was; the variance is not let grow all the same.
func (f *Field) tilt(m, v float64, o Observation) (m1, v1 float64) {
	const points, reach = 25, 5.0 // standard deviations to each side
	sd := math.Sqrt(v)
	var s0, s1, s2 float64
	for i := range points {
		u := reach * (2*float64(i)/(points-1) - 1)
		l := f.none(o.Exposure * math.Exp(m+sd*u))
		if o.Seen {
			l = 1 - (1-o.False)*l
		}
		if o.Weight != 1 {
			l = math.Pow(l, o.Weight)
		}
		w := math.Exp(-u*u/2) * l
		s0 += w
		s1 += w * u
		s2 += w * u * u
	}
	if !(s0 > 0) {
		return m, v
	}
	u := s1 / s0
	return m + sd*u, math.Min(v, v*math.Max(least, s2/s0-u*u))
}

// none is the chance of no encounter at an expected number.
func (f *Field) none(expected float64) float64 {
	if f.par.Shape == 3 {
		a := 1 + expected/3
		return 1 / (a * a * a)
	}
	// (PLAN-3) negative binomial: P(0) = (1 + mu/k)^-k
	return math.Pow(1+expected/f.par.Shape, -f.par.Shape)
}

// Chance gives the mean chance of at least one encounter with an exposure at a place, and the chance at the log-mean
// moved by z standard deviations down and up; extra is variance that all places share.
func (f *Field) Chance(p geo.Local, exposure, extra, z float64) (mean, low, high float64) {
	m, v := f.At(p)
	return f.ChanceOf(m, v, exposure, extra, z)
}

// ChanceOf is [Field.Chance] for a log-intensity of known mean and variance.
func (f *Field) ChanceOf(m, v, exposure, extra, z float64) (mean, low, high float64) {
	sd := math.Sqrt(v)
	none := 0.0
	for i, u := range hermiteNodes {
		none += hermiteWeights[i] * f.none(exposure*math.Exp(m+sd*u))
	}
	wide := math.Sqrt(v + extra)
	mean = 1 - none
	low = math.Min(mean, 1-f.none(exposure*math.Exp(m-z*wide)))
	high = math.Max(mean, 1-f.none(exposure*math.Exp(m+z*wide)))
	return mean, low, high
}

// Seven-point Gauss-Hermite rule for the standard normal [AbramowitzStegun1964, table 25.10, rescaled].
var (
	hermiteNodes   = [7]float64{-3.750439717725742, -2.366759410734541, -1.154405394739968, 0, 1.154405394739968, 2.366759410734541, 3.750439717725742}
	hermiteWeights = [7]float64{0.000548268855972218, 0.030757123967586, 0.240123178605013, 0.457142857142857, 0.240123178605013, 0.030757123967586, 0.000548268855972218}
)

// Age lets knowledge fade: every node keeps the share keep of its mean, and its covariance returns towards the prior.
func (f *Field) Age(keep float64) {
	for _, nd := range f.nodes {
		nd.mean *= keep
		for k := range nd.cov {
			// (PLAN-5) P <- a^2 P + (1 - a^2) K
			nd.cov[k] = keep*keep*nd.cov[k] + (1-keep*keep)*f.prior[k]
		}
	}
}

// Clone gives a copy that may go its own way.
func (f *Field) Clone() *Field {
	c := &Field{}
	c.Become(f)
	return c
}

// Become makes a field a copy of another, which it shares nothing with. It uses the room that it has, so that it costs
// little to do so again and again.
func (f *Field) Become(o *Field) {
	nodes := f.nodes
	if nodes == nil {
		nodes = make(map[cell]*node, len(o.nodes))
	}
	*f = *o
	f.nodes = nodes
	for k := range nodes {
		if o.nodes[k] == nil {
			delete(nodes, k)
		}
	}
	for k, nd := range o.nodes {
		n := nodes[k]
		if n == nil {
			n = &node{}
			nodes[k] = n
		}
		*n = *nd
	}
}

// Nodes gives the number of nodes in use.
func (f *Field) Nodes() int { return len(f.nodes) }
