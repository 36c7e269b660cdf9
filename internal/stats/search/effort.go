package search

import "math"

// Split shares a total of effort over cells so that the chance of detection is greatest, where effort x in the right
// cell detects with 1-exp(-x) [Koopman1980]. Unlikely cells get none until the best are worked down. The chances need
// not sum to one; it panics when all are zero and there is effort to share.
func Split(p []float64, total float64) []float64 {
	notNegative(total)
	notNegative(p...)
	x := make([]float64, len(p))
	if total == 0 {
		return x
	}
	likely := 0
	for _, pi := range p {
		if pi > 0 {
			likely++
		}
	}
	if likely == 0 {
		panic("search: no cell to share effort over")
	}
	// The multiplier λ falls as effort grows. Cells drop out one by one until all that are left want effort.
	in := make([]bool, len(p))
	for i, pi := range p {
		in[i] = pi > 0
	}
	for {
		sum, n := 0.0, 0
		for i, pi := range p {
			if in[i] {
				sum += math.Log(pi)
				n++
			}
		}
		logλ := (sum - total) / float64(n)
		dropped := false
		for i, pi := range p {
			x[i] = 0
			if !in[i] {
				continue
			}
			// (SEARCH-11)
			x[i] = math.Log(pi) - logλ
			if x[i] < 0 {
				in[i], dropped = false, true
			}
		}
		if !dropped {
			return x
		}
	}
}

// Detection gives the chance of detection of a split. It panics when the lengths differ.
func Detection(p, x []float64) float64 {
	if len(p) != len(x) {
		panic("search: as many efforts as cells are wanted")
	}
	P := 0.0
	for i := range p {
		notNegative(p[i], x[i])
		// (SEARCH-12)
		P += p[i] * -math.Expm1(-x[i])
	}
	return P
}

// Blank gives the chance that it is here after all, when a look that detects with chance d saw nothing.
func Blank(p, d float64) float64 {
	probability(p, d)
	if p*d == 1 {
		panic("search: a certain detection did not happen")
	}
	// (SEARCH-13)
	return p * (1 - d) / (1 - p*d)
}

// BlankIntensity gives the expected number in a cell after a blank look; unlike [Blank] it allows for several [Mahler2003].
func BlankIntensity(v, d float64) float64 {
	notNegative(v)
	probability(d)
	// (SEARCH-14)
	return v * (1 - d)
}

// Existence gives the expected number that a detection stands for, by the intensity it could have come from and the
// intensity of false detections [Mahler2003]. It panics when both are zero.
func Existence(L, κ float64) float64 {
	notNegative(L, κ)
	positive(L + κ)
	// (SEARCH-15)
	return L / (L + κ)
}

// BlobLook gives the chance that a look with a Gaussian footprint detects a target whose place is known as a Gaussian
// blob: R2 the square of the footprint's scale, V the variance of the blob in each direction, d2 the squared distance.
func BlobLook(pd, R2, V, d2 float64) float64 {
	probability(pd)
	positive(R2)
	notNegative(V, d2)
	S := R2 + 2*V
	// (SEARCH-16)
	return pd * R2 / S * math.Exp(-d2/S)
}

// LogNormalMean gives the mean of a quantity whose logarithm is normal with that mean and variance [Moller1998].
func LogNormalMean(m, v float64) float64 {
	notNegative(v)
	// (SEARCH-17)
	return math.Exp(m + v/2)
}
