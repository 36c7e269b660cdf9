package way

import (
	"math"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"

	"icehand/internal/base/geo"
)

// kernel is what is believed of how the logarithm of the schools' density varies before anything was seen.
type kernel struct {
	level   float64    // standard deviation of the lake's or day's level
	ground  float64    // of the field over the ground
	lengths [2]float64 // m, half of the field's variance each
	depth   float64    // of the curve over depth, which varies over depthM metres
}

// depthM is the length over which the curve over depth varies.
const depthM = 1.5

// field is a Gaussian belief about that logarithm: a level, a curve over depth and a field over the ground, held on nodes
// 100 m apart. Each observation moves it by matching moments; cost does not grow with their number.
type field struct {
	k     kernel
	cols  int
	rows  int
	z     []float64
	p     []float64 // covariance, n x n
	prior []float64
	g     []float64    // scratch of learn
	krige [][4]float64 // weights of the four nodes around, by place within the mesh
	shift float64      // makes the prior mean density that of the season
}

const (
	nodeM      = 100.0
	meshes     = 10 // subdivisions of a mesh for kriging
	depthNodes = 14
	shallowest = 2.0 // m, first depth node; one a metre
)

func newField(k kernel, widthM, heightM float64) *field {
	f := &field{k: k, cols: int(widthM/nodeM) + 2, rows: int(heightM/nodeM) + 2}
	n := 1 + depthNodes + f.cols*f.rows
	f.z, f.g, f.p, f.prior = make([]float64, n), make([]float64, n), make([]float64, n*n), make([]float64, n*n)
	f.prior[0] = k.level * k.level
	for i := range depthNodes {
		for j := range depthNodes {
			d := float64(i-j) / depthM
			f.prior[(1+i)*n+1+j] = k.depth * k.depth * math.Exp(-d*d/2)
		}
	}
	o := 1 + depthNodes
	for a := range f.cols * f.rows {
		for b := range f.cols * f.rows {
			f.prior[(o+a)*n+o+b] = f.cov(nodeM*float64(a%f.cols-b%f.cols), nodeM*float64(a/f.cols-b/f.cols))
		}
		f.prior[(o+a)*n+o+a] += 1e-6
	}
	copy(f.p, f.prior)
	f.setKrige()
	f.shift = -(k.level*k.level + k.ground*k.ground + k.depth*k.depth) / 2
	return f
}

// cov is the ground field's covariance at a distance.
func (f *field) cov(dx, dy float64) float64 {
	d2, s := dx*dx+dy*dy, f.k.ground*f.k.ground/2
	return s*math.Exp(-d2/(2*f.k.lengths[0]*f.k.lengths[0])) + s*math.Exp(-d2/(2*f.k.lengths[1]*f.k.lengths[1]))
}

// setKrige works out the weights that tie a place to its four nodes; straight-line weights would lose variance.
func (f *field) setKrige() {
	corner := [4][2]float64{{0, 0}, {nodeM, 0}, {0, nodeM}, {nodeM, nodeM}}
	K := mat.NewDense(4, 4, nil)
	for i, a := range corner {
		for j, b := range corner {
			K.Set(i, j, f.cov(a[0]-b[0], a[1]-b[1]))
		}
		K.Set(i, i, K.At(i, i)*(1+1e-6))
	}
	for m := range meshes * meshes {
		x, y := (float64(m%meshes)+0.5)*nodeM/meshes, (float64(m/meshes)+0.5)*nodeM/meshes
		b := mat.NewVecDense(4, nil)
		for i, a := range corner {
			b.SetVec(i, f.cov(a[0]-x, a[1]-y))
		}
		var w mat.VecDense
		if err := w.SolveVec(K, b); err != nil {
			panic("way: kriging weights: " + err.Error())
		}
		f.krige = append(f.krige, [4]float64{w.AtVec(0), w.AtVec(1), w.AtVec(2), w.AtVec(3)})
	}
}

// row is how a place reads the state: level, two depth nodes, four ground nodes.
type row struct {
	at [7]int
	w  [7]float64
}

func (f *field) row(p geo.Local, depth float64) (r row) {
	r.at[0], r.w[0] = 0, 1
	u := math.Max(0, math.Min(depth-shallowest, depthNodes-1.001))
	i := int(u)
	r.at[1], r.w[1] = 1+i, 1-(u-float64(i))
	r.at[2], r.w[2] = 2+i, u-float64(i)
	x, y := math.Max(0, p.E)/nodeM, math.Max(0, p.N)/nodeM
	cx, cy := min(int(x), f.cols-2), min(int(y), f.rows-2)
	mx, my := min(int((x-float64(cx))*meshes), meshes-1), min(int((y-float64(cy))*meshes), meshes-1)
	o := 1 + depthNodes + cy*f.cols + cx
	for k, node := range [4]int{o, o + 1, o + f.cols, o + f.cols + 1} {
		r.at[3+k], r.w[3+k] = node, f.krige[my*meshes+mx][k]
	}
	return r
}

// read gives mean and variance of the logarithm of the factor on the season's density.
func (f *field) read(r *row) (mean, variance float64) {
	n := len(f.z)
	mean = f.shift
	for a, i := range r.at {
		mean += r.w[a] * f.z[i]
		for b, j := range r.at[:a] {
			variance += 2 * r.w[a] * r.w[b] * f.p[i*n+j]
		}
		variance += r.w[a] * r.w[a] * f.p[i*n+i]
	}
	return mean, math.Max(variance, 1e-6)
}

// learn takes in that a place with so much exposure (schools expected by the season's density) showed y schools. shape is
// of the gamma that spreads the count; 0 is a plain Poisson count.
func (f *field) learn(r row, exposure, y, shape float64) {
	m, v := f.read(&r)
	s := math.Sqrt(v)
	var sum, sum1, sum2 float64
	const points, span = 25, 4.2
	best := math.Inf(-1)
	var logs, xs [points]float64
	for k := range points {
		u := span * (2*float64(k)/(points-1) - 1)
		eta := m + s*u
		like := y*eta - exposure*math.Exp(eta)
		if shape > 0 {
			like = -shape * math.Log1p(exposure*math.Exp(eta)/shape)
			if y > 0 {
				like = y * math.Log(-math.Expm1(like))
			}
		}
		logs[k], xs[k] = like-u*u/2, eta
		best = math.Max(best, logs[k])
	}
	for k := range points {
		w := math.Exp(logs[k] - best)
		sum += w
		sum1 += w * xs[k]
		sum2 += w * xs[k] * xs[k]
	}
	m1 := sum1 / sum
	v1 := math.Min(v, math.Max(sum2/sum-m1*m1, 1e-6))
	if v-v1 < 1e-4*v && math.Abs(m1-m) < 1e-3*s {
		return
	}
	clear(f.g)
	g := f.g
	for a, i := range r.at {
		blas64.Axpy(r.w[a], f.column(i), f.vector(g))
	}
	step, shrink := (m1-m)/v, (v-v1)/(v*v)
	for i, gi := range g {
		f.z[i] += gi * step
		if math.Abs(gi) < 1e-4*v {
			continue
		}
		blas64.Axpy(-gi*shrink, f.vector(g), f.column(i))
	}
}

func (f *field) vector(v []float64) blas64.Vector { return blas64.Vector{N: len(v), Inc: 1, Data: v} }

// column is a row or column of the covariance, which is symmetric.
func (f *field) column(i int) blas64.Vector {
	n := len(f.z)
	return f.vector(f.p[i*n : (i+1)*n])
}

// age lets the belief fade towards the prior over a night: a share keep of each part's deviation stays.
func (f *field) age(level, depth, ground float64) {
	n := len(f.z)
	keep := make([]float64, n)
	for i := range keep {
		switch {
		case i == 0:
			keep[i] = level
		case i <= depthNodes:
			keep[i] = depth
		default:
			keep[i] = ground
		}
	}
	for i := range n {
		f.z[i] *= keep[i]
		for j := range n {
			a := keep[i] * keep[j]
			f.p[i*n+j] = a*f.p[i*n+j] + (1-a)*f.prior[i*n+j]
		}
	}
}

// reset forgets everything.
func (f *field) reset() {
	clear(f.z)
	copy(f.p, f.prior)
}
