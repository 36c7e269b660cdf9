package field

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Miss compares a datum with what the other data say of it.
type Miss struct {
	Datum     int     // index of the datum
	Predicted float64 // from the data outside its group
	Observed  float64
	Variance  float64 // of the observation, its own noise included
}

// Error is predicted less observed.
func (m Miss) Error() float64 { return m.Predicted - m.Observed }

// inverse gives K^-1.
func (f *Field) inverse() (q mat.SymDense, err error) {
	n := len(f.data)
	k := make([]float64, n*n)
	f.model.covariances(f.data, k)
	var chol mat.Cholesky
	if !chol.Factorize(mat.NewSymDense(n, k)) || chol.InverseTo(&q) != nil {
		return q, ErrSingular
	}
	return q, nil
}

// LeaveOut predicts every listed datum from the data outside its group, in closed form: no system is solved anew
// except one of the size of the group. Groups of one give leave-one-out; data that were measured side by side belong
// in one group (see [Clusters]), or the miss looks smaller than it is. It panics when an index is out of range and
// returns [ErrSingular] when what remains cannot fix the trend.
func (f *Field) LeaveOut(groups [][]int) ([]Miss, error) {
	n, p := len(f.data), len(f.prior)
	if n == 0 {
		return nil, nil
	}
	q, err := f.inverse()
	if err != nil {
		return nil, err
	}
	// (FIELD-11) Q = K^-1 - K^-1 F A^-1 F' K^-1
	if p > 0 {
		g := mat.NewDense(n, p, nil)
		for c, w := range f.wf {
			col := append([]float64(nil), w...)
			f.backward(col)
			g.SetCol(c, col)
		}
		var ag, gag mat.Dense
		if f.trend.SolveTo(&ag, g.T()) != nil {
			return nil, ErrSingular
		}
		gag.Mul(g, &ag)
		for i := range n {
			for j := i; j < n; j++ {
				q.SetSym(i, j, q.At(i, j)-gag.At(i, j))
			}
		}
	}
	var out []Miss
	for _, group := range groups {
		m := len(group)
		qg := mat.NewSymDense(m, nil)
		r := mat.NewVecDense(m, nil)
		for a, i := range group {
			if i < 0 || i >= n {
				panic(fmt.Sprintf("field: no datum %d to leave out of %d", i, n))
			}
			r.SetVec(a, f.dual[i]) // Q (z - F b0) equals K^-1 (z - F beta)
			for b := a; b < m; b++ {
				qg.SetSym(a, b, q.At(i, group[b]))
			}
		}
		var chol mat.Cholesky
		if !chol.Factorize(qg) || chol.Cond() > 1e14 {
			return nil, ErrSingular
		}
		// (FIELD-12) observed less predicted = Qgg^-1 (Q y)g, with covariance Qgg^-1
		var e mat.VecDense
		var cov mat.SymDense
		if chol.SolveVecTo(&e, r) != nil || chol.InverseTo(&cov) != nil {
			return nil, ErrSingular
		}
		for a, i := range group {
			z := f.data[i].Value
			out = append(out, Miss{Datum: i, Predicted: z - e.AtVec(a), Observed: z, Variance: cov.At(a, a)})
		}
	}
	return out, nil
}

// Summary sums up cross-validation. With honest variances MeanSquareZ is near 1; above 1 the field is surer of itself
// than it may be.
type Summary struct {
	N           int
	MeanError   float64 // predicted less observed
	RMSE        float64
	MeanSquareZ float64 // mean of (error / standard deviation) squared
}

// Summarise gives the summary of some misses; all NaN without any.
func Summarise(misses []Miss) Summary {
	var e, e2, z2 float64
	for _, m := range misses {
		e += m.Error()
		e2 += m.Error() * m.Error()
		z2 += m.Error() * m.Error() / m.Variance
	}
	n := float64(len(misses))
	return Summary{N: len(misses), MeanError: e / n, RMSE: math.Sqrt(e2 / n), MeanSquareZ: z2 / n}
}

// Singles gives the groups of leave-one-out over n data.
func Singles(n int) [][]int {
	g := make([][]int, n)
	for i := range g {
		g[i] = []int{i}
	}
	return g
}

// Clusters joins places that are nearer than gap to one another, directly or through others, into groups; groups come
// in the order of their first place.
func Clusters(places []geo.Local, gap quantity.Length) [][]int {
	parent := make([]int, len(places))
	for i := range parent {
		parent[i] = i
	}
	root := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	for i := range places {
		for j := range i {
			if dist(places[i], places[j]) < float64(gap) {
				if a, b := root(i), root(j); a < b {
					parent[b] = a
				} else {
					parent[a] = b
				}
			}
		}
	}
	at := map[int]int{} // root -> group
	var groups [][]int
	for i := range places {
		r := root(i)
		g, ok := at[r]
		if !ok {
			g = len(groups)
			at[r] = g
			groups = append(groups, nil)
		}
		groups[g] = append(groups[g], i)
	}
	return groups
}
