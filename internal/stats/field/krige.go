package field

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"

	"icehand/internal/base/geo"
)

// Datum is one measurement.
type Datum struct {
	At    geo.Local
	Value float64
	Noise float64   // variance of the measurement's own error, 0 for an exact one
	Trend []float64 // the basis functions of the trend at this place, one for each coefficient
}

// Prior is what is known beforehand of a coefficient of the trend. An infinite SD knows nothing.
type Prior struct {
	Mean, SD float64
}

// Flat is the prior of classical ordinary and universal kriging.
var Flat = Prior{SD: math.Inf(1)}

// ErrSingular appears when the data contradict the model's exactness: two exact measurements at one place, or fewer
// data than coefficients with flat priors. Give the data some noise or the coefficients a prior.
var ErrSingular = errors.New("field: the kriging system is singular")

// Field is a solved kriging system: all data, one factorisation. It is safe for concurrent use.
type Field struct {
	model Model
	data  []Datum
	prior []Prior
	l     []float64    // lower factor of K, row after row
	wf    [][]float64  // L^-1 F, one slice for each coefficient
	wy    []float64    // L^-1 (z - F b0)
	trend mat.Cholesky // of A; unused without coefficients
	shift []float64    // posterior mean of the coefficients less their prior mean
	beta  []float64    // posterior mean of the coefficients
	dual  []float64    // K^-1 (z - F beta)
}

// Solve sets up prediction from the data. The slice of data is kept, not copied. It panics when a datum's basis does
// not match the priors or a number is not finite, and returns [ErrSingular] when the system cannot be solved.
func Solve(m Model, data []Datum, prior []Prior) (*Field, error) {
	m.check()
	checkData(data, prior)
	return solve(m, data, prior, &room{})
}

// room is where a system is worked out; a caller that solves thousands, one after the other, hands the same to all.
type room struct{ k, l []float64 }

// solve is Solve for checked input; the field uses the room until it is no longer asked.
func solve(m Model, data []Datum, prior []Prior, w *room) (*Field, error) {
	n := len(data)
	f := &Field{model: m, data: data, prior: prior}
	if n > 0 {
		w.k, w.l = slices.Grow(w.k[:0], n*n)[:n*n], slices.Grow(w.l[:0], n*n)[:n*n]
		m.covariances(data, w.k)
		// straight to the factorisation: mat.Cholesky would also estimate the condition of K, a third of the time, unasked
		u, ok := lapack64.Potrf(blas64.Symmetric{Uplo: blas.Upper, N: n, Stride: n, Data: w.k})
		if !ok {
			return nil, ErrSingular
		}
		for i := range n {
			for j := i; j < n; j++ {
				w.l[j*n+i] = u.Data[i*n+j]
			}
		}
		f.l = w.l
	}
	return f, f.solveTrend()
}

// covariances fills the upper half of K, row after row.
func (m Model) covariances(data []Datum, k []float64) {
	n := len(data)
	// (FIELD-5) covariance of the data: residual and, on the diagonal, measurement error
	for i := range data {
		k[i*n+i] = m.covariance(0) + data[i].Noise
		for j := i + 1; j < n; j++ {
			k[i*n+j] = m.covariance(dist(data[i].At, data[j].At))
		}
	}
}

func checkData(data []Datum, prior []Prior) {
	for i, d := range data {
		if len(d.Trend) != len(prior) {
			panic(fmt.Sprintf("field: datum %d has %d basis values, the trend %d coefficients", i, len(d.Trend), len(prior)))
		}
		s := d.At.E + d.At.N + d.Value + d.Noise + floats.Sum(d.Trend)
		if math.IsNaN(s) || math.IsInf(s, 0) || d.Noise < 0 {
			panic(fmt.Sprintf("field: datum %d is not finite or has negative noise", i))
		}
	}
	for _, p := range prior {
		if !(p.SD > 0) || math.IsNaN(p.Mean) || math.IsInf(p.Mean, 0) {
			panic("field: a prior needs a finite mean and a positive spread")
		}
	}
}

// solveTrend finds the coefficients by generalised least squares together with their priors.
func (f *Field) solveTrend() error {
	n, p := len(f.data), len(f.prior)
	f.wy = make([]float64, n)
	for i, d := range f.data {
		f.wy[i] = d.Value
		for c, b := range f.prior {
			f.wy[i] -= b.Mean * d.Trend[c]
		}
	}
	f.forward(f.wy)
	f.wf = make([][]float64, p)
	for c := range f.wf {
		col := make([]float64, n)
		for i, d := range f.data {
			col[i] = d.Trend[c]
		}
		f.forward(col)
		f.wf[c] = col
	}
	f.beta, f.shift = make([]float64, p), make([]float64, p)
	if p > 0 {
		// (FIELD-6) A = F' K^-1 F + B^-1
		a := mat.NewSymDense(p, nil)
		r := mat.NewVecDense(p, nil)
		for c := range f.wf {
			for d := c; d < p; d++ {
				a.SetSym(c, d, floats.Dot(f.wf[c], f.wf[d]))
			}
			a.SetSym(c, c, a.At(c, c)+1/(f.prior[c].SD*f.prior[c].SD)) // 1/Inf is 0: a flat prior
			r.SetVec(c, floats.Dot(f.wf[c], f.wy))
		}
		if !f.trend.Factorize(a) || f.trend.Cond() > 1e15 {
			return ErrSingular
		}
		// (FIELD-7) beta = b0 + A^-1 F' K^-1 (z - F b0)
		s := mat.NewVecDense(p, f.shift)
		if err := f.trend.SolveVecTo(s, r); err != nil {
			return ErrSingular
		}
		for c := range f.beta {
			f.beta[c] = f.prior[c].Mean + f.shift[c]
		}
	}
	f.dual = append([]float64(nil), f.wy...)
	for c := range f.wf {
		floats.AddScaled(f.dual, -f.shift[c], f.wf[c])
	}
	f.backward(f.dual)
	return nil
}

// forward replaces v by L^-1 v.
func (f *Field) forward(v []float64) {
	n := len(v)
	for i := range v {
		row := f.l[i*n : i*n+i+1]
		v[i] = (v[i] - floats.Dot(row[:i], v[:i])) / row[i]
	}
}

// backward replaces v by L'^-1 v.
func (f *Field) backward(v []float64) {
	n := len(v)
	for i := n - 1; i >= 0; i-- {
		row := f.l[i*n : i*n+i+1]
		v[i] /= row[i]
		floats.AddScaled(v[:i], -v[i], row[:i])
	}
}

// At gives mean and variance of the field at p, measurement error left out; trend holds the basis functions there.
func (f *Field) At(p geo.Local, trend []float64) (mean, variance float64) {
	if len(trend) != len(f.prior) {
		panic("field: the basis at a prediction must match the trend")
	}
	k := make([]float64, len(f.data))
	for i := range f.data {
		k[i] = f.model.covariance(dist(f.data[i].At, p))
	}
	// (FIELD-8) mean = t' beta + k' K^-1 (z - F beta)
	mean = floats.Dot(trend, f.beta) + floats.Dot(k, f.dual)
	f.forward(k)
	// (FIELD-9) variance = C(0) - k' K^-1 k + u' A^-1 u with u = t - F' K^-1 k
	variance = f.model.covariance(0) - floats.Dot(k, k) + f.trendVariance(trend, k)
	return mean, math.Max(0, variance) // rounding may leave -1e-16 at an exact datum
}

// Coefficients gives the trend's coefficients and their standard deviations, given the data.
func (f *Field) Coefficients() (mean, sd []float64) {
	p := len(f.prior)
	mean, sd = append([]float64(nil), f.beta...), make([]float64, p)
	if p > 0 {
		var inv mat.SymDense
		if f.trend.InverseTo(&inv) == nil {
			for c := range sd {
				sd[c] = math.Sqrt(inv.At(c, c))
			}
		}
	}
	return mean, sd
}

// LogLikelihood gives the log density of the data with the coefficients integrated out over their priors. With flat
// priors it is the restricted likelihood (REML) up to a constant that does not depend on the covariance.
func (f *Field) LogLikelihood() float64 {
	// (FIELD-10) -1/2 [ (n-q) ln 2pi + ln|K| + ln|A| + ln|B| + y' K^-1 y - r' A^-1 r ]
	s := floats.Dot(f.wy, f.wy)
	n, logDet := len(f.data), 0.0
	for i := range f.data {
		logDet += 2 * math.Log(f.l[i*n+i])
	}
	s += logDet
	free := len(f.data)
	if len(f.prior) > 0 {
		s += f.trend.LogDet()
	}
	for c, b := range f.prior {
		s -= f.shift[c] * floats.Dot(f.wf[c], f.wy)
		if math.IsInf(b.SD, 1) {
			free--
			continue
		}
		s += 2 * math.Log(b.SD)
	}
	return -0.5 * (s + float64(free)*math.Log(2*math.Pi))
}

// dist is the distance in metres; plain sqrt is several times faster than Hypot and cannot overflow on a lake.
func dist(a, b geo.Local) float64 {
	dE, dN := a.E-b.E, a.N-b.N
	return math.Sqrt(dE*dE + dN*dN)
}
