package field

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// nodes and weights of the four-point rule of Gauss and Legendre on -1..1 [AbramowitzStegun1964, table 25.4].
var (
	gaussNodes   = [4]float64{-0.861136311594053, -0.339981043584856, 0.339981043584856, 0.861136311594053}
	gaussWeights = [4]float64{0.347854845137454, 0.652145154862546, 0.652145154862546, 0.347854845137454}
)

// Block gives mean and variance of the field's average over an upright square: what a value says that stands for an
// area. trend gives the basis functions at a place. Measurement error is left out, and a nugget averages out.
func (f *Field) Block(centre geo.Local, side quantity.Length, trend func(geo.Local) []float64) (mean, variance float64) {
	var places []geo.Local
	var weights []float64
	for i, y := range gaussNodes {
		for j, x := range gaussNodes {
			places = append(places, geo.Local{E: centre.E + x*float64(side)/2, N: centre.N + y*float64(side)/2})
			weights = append(weights, gaussWeights[i]*gaussWeights[j]/4)
		}
	}
	smooth := f.model
	smooth.Nugget = 0
	// (FIELD-14) averages over the square: of the basis, of the covariances with the data, of those within the square
	t := make([]float64, len(f.prior))
	k := make([]float64, len(f.data))
	within := 0.0
	for a, p := range places {
		basis := trend(p)
		if len(basis) != len(f.prior) {
			panic("field: the basis at a prediction must match the trend")
		}
		floats.AddScaled(t, weights[a], basis)
		for i := range f.data {
			k[i] += weights[a] * smooth.covariance(dist(f.data[i].At, p))
		}
		for b, q := range places {
			within += weights[a] * weights[b] * smooth.covariance(dist(p, q))
		}
	}
	mean = floats.Dot(t, f.beta) + floats.Dot(k, f.dual)
	f.forward(k)
	return mean, math.Max(0, within-floats.Dot(k, k)+f.trendVariance(t, k))
}

// trendVariance gives the share of the coefficients in a variance, for basis t and k = L^-1 of the covariances.
func (f *Field) trendVariance(t, k []float64) float64 {
	if len(t) == 0 {
		return 0
	}
	u := mat.NewVecDense(len(t), nil)
	for c := range t {
		u.SetVec(c, t[c]-floats.Dot(f.wf[c], k))
	}
	var au mat.VecDense
	if f.trend.SolveVecTo(&au, u) != nil {
		return 0
	}
	return mat.Dot(u, &au)
}
