package field

import (
	"math"

	"icehand/internal/base/quantity"
)

// Guess is what is known beforehand of a positive parameter: its logarithm is normal around that of the median.
// LogSD 0 fixes the parameter; an infinite LogSD knows nothing and only starts the search there.
type Guess struct {
	Median, LogSD float64
}

// Guesses says what may be fitted.
type Guesses struct {
	Shape Shape
	Sill  Guess // variance
	Range Guess // metres
	Noise Guess // variance of error common to all data on top of each one's own; a median of 0 adds none
}

// Fitted is the outcome of [Fit].
type Fitted struct {
	Model         Model
	Noise         float64 // variance to add to every datum's own noise
	LogLikelihood float64 // of the data, without the guesses' share
}

// the search in logarithms stays within a factor of e^7, about 1100, of the median
const widest = 7.0

// Fit finds sill, range and noise that make the data, together with the guesses, most likely (maximum a posteriori;
// with flat guesses and flat priors of the trend, REML). The search needs no derivatives: three starts along the
// range, then the simplex of Nelder and Mead from the best. It returns [ErrSingular] when no start can be solved.
// Cost grows with the cube of the number of data: some 150 factorisations.
func Fit(data []Datum, prior []Prior, g Guesses) (Fitted, error) {
	free, at := g.unpack()
	work := append([]Datum(nil), data...)
	objective := func(x []float64) float64 {
		pull := 0.0
		for i, p := range free {
			if math.Abs(x[i]) > widest {
				return math.Inf(1)
			}
			if !math.IsInf(p.LogSD, 1) {
				// (FIELD-13) the guesses' share: half the squared distance from the median in logs
				pull += 0.5 * x[i] * x[i] / (p.LogSD * p.LogSD)
			}
		}
		m, noise := at(x)
		ll, err := likelihood(work, data, noise, m, prior)
		if err != nil {
			return math.Inf(1)
		}
		return pull - ll
	}
	best, bestAt := math.Inf(1), make([]float64, len(free))
	for _, shift := range []float64{0, math.Log(3), -math.Log(3)} { // a third, one and three times the range
		x := make([]float64, len(free))
		if i := g.rangeIndex(); i >= 0 {
			x[i] = shift
		}
		if v := objective(x); v < best {
			best, bestAt = v, x
		}
	}
	if math.IsInf(best, 1) {
		return Fitted{}, ErrSingular
	}
	// 0.001 in log likelihood is far below what any data can tell apart
	bestAt, _ = minimise(objective, bestAt, 0.4, 1e-3, 60*len(free))
	m, noise := at(bestAt)
	ll, err := likelihood(work, data, noise, m, prior)
	return Fitted{m, noise, ll}, err
}

// likelihood solves for the data with extra noise; work is scratch of the same length.
func likelihood(work, data []Datum, noise float64, m Model, prior []Prior) (float64, error) {
	for i := range data {
		work[i].Noise = data[i].Noise + noise
	}
	f, err := Solve(m, work, prior)
	if err != nil {
		return 0, err
	}
	return f.LogLikelihood(), nil
}

// unpack lists the free parameters and gives the function from their log ratios to a model and a noise.
func (g Guesses) unpack() (free []Guess, at func(x []float64) (Model, float64)) {
	all := [3]Guess{g.Sill, g.Range, g.Noise}
	for i, p := range all {
		if !(p.LogSD >= 0) || !(p.Median >= 0) || p.Median == 0 && (i < 2 || p.LogSD > 0) {
			panic("field: a guess needs a positive median and a spread that is not negative")
		}
		if p.LogSD > 0 {
			free = append(free, p)
		}
	}
	return free, func(x []float64) (Model, float64) {
		var v [3]float64
		k := 0
		for i, p := range all {
			v[i] = p.Median
			if p.LogSD > 0 {
				v[i] *= math.Exp(x[k])
				k++
			}
		}
		return Model{Shape: g.Shape, Sill: v[0], Range: quantity.Length(v[1])}, v[2]
	}
}

// rangeIndex gives the place of the range among the free parameters, -1 when it is fixed.
func (g Guesses) rangeIndex() int {
	switch {
	case g.Range.LogSD == 0:
		return -1
	case g.Sill.LogSD == 0:
		return 0
	}
	return 1
}
