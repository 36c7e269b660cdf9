package hours

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"icehand/internal/stats/search"
)

// Day is what one day brought.
type Day struct {
	Counts
	Age float64 // in days
}

// Curve is the rate by bin against its mean over the day.
type Curve struct {
	Bins             []Factor
	Events, Exposure float64 // on record, not faded
	Days             int     // with exposure
	Scatter          float64 // how much more counts scatter than independent events
	Flat             float64 // chance that a flat day gives counts as uneven as these, the scatter taken into account
}

// Factor is a rate against the day's mean, with an 80 % range.
type Factor struct{ Mean, Low, High float64 }

// Our own choice, all of it.
const (
	shape      = 6.0  // of a bin's belief about its prior: a spread of 0.41
	levelShape = 2.0  // of a day's rate about the lake's, until enough days tell
	fewDays    = 6    // from which the days' own spread is fitted
	fade       = 40.0 // days in which a day's weight falls by a factor e
	guess      = 3.0  // scatter before anything was seen, as if told by as many events
	guessed    = 10.0
	rounds     = 12 // by then nothing moves by a thousandth
)

// smoothing is what a bin learns of itself and of its neighbours on either side.
var smoothing = [3]float64{0.25, 0.5, 0.25}

// Learn gives the curve of days whose bins are shrunk to a prior one. Its mean over the bins is 1. It panics when a day
// has not as many bins as the prior, or when a prior is not above 0.
func Learn(prior []float64, days []Day) Curve {
	l := learner{prior: make([]float64, len(prior)), days: days, scatter: guess}
	mean := 0.0
	for _, p := range prior {
		if !(p > 0) {
			panic("hours: a prior is not above 0")
		}
		mean += p / float64(len(prior))
	}
	for b, p := range prior {
		l.prior[b] = p / mean
	}
	for _, d := range days {
		check(d.Counts, len(prior))
		if y, t := total(d.Counts); t > 0 {
			l.events, l.exposure, l.known = l.events+y, l.exposure+t, l.known+1
		}
	}
	l.bins = make([]search.Gamma, len(prior))
	l.factor = append([]float64(nil), l.prior...)
	l.level = make([]float64, len(days))
	for range rounds {
		l.levels()
		l.scatters()
		l.shrink()
	}
	return l.curve()
}

// learner is the state between rounds.
type learner struct {
	prior, factor    []float64
	days             []Day
	level            []float64 // by day: events by exposure in a middling bin
	bins             []search.Gamma
	scatter          float64
	events, exposure float64
	known            int
}

func (l *learner) weight(d Day) float64 { return math.Exp(-math.Max(0, d.Age) / fade) }

// levels gives every day its rate, shrunk to that of all days.
func (l *learner) levels() {
	c := Counts{make([]float64, len(l.days)), make([]float64, len(l.days))}
	for i, d := range l.days {
		for b, t := range d.Exposure {
			if t > 0 {
				c.Events[i] += d.Events[b] / l.scatter
				c.Exposure[i] += l.factor[b] * t / l.scatter
			}
		}
	}
	y, t := total(c)
	if t == 0 || y == 0 {
		return
	}
	prior := search.Gamma{Shape: levelShape, Rate: levelShape * t / y}
	if l.known >= fewDays {
		if g, err := FitGamma(c); err == nil {
			prior = g
		} else {
			prior = search.Gamma{Shape: mostShape, Rate: mostShape * t / y}
		}
	}
	for i := range l.days {
		// (HOUR-4) L = (a + Σy/φ)/(b + Σfe/φ)
		l.level[i] = prior.Update(c.Events[i], c.Exposure[i]).Mean()
	}
}

// scatters compares counts with what is expected of them.
func (l *learner) scatters() {
	squares, expected := 0.0, 0.0
	for i, d := range l.days {
		for b, t := range d.Exposure {
			μ := l.level[i] * l.factor[b] * t
			squares += (d.Events[b] - μ) * (d.Events[b] - μ)
			expected += μ
		}
	}
	// (HOUR-5) φ = (Σ(y-μ)² + guess)/(Σμ + guessed), at least 1: not by each bin's own expectation, which may be next to nothing
	l.scatter = math.Max(1, (squares+guess*guessed)/(expected+guessed))
}

// shrink brings the bins up to date.
func (l *learner) shrink() {
	n := len(l.prior)
	y, t := make([]float64, n), make([]float64, n)
	for i, d := range l.days {
		w := l.weight(d) / l.scatter
		for b, e := range d.Exposure {
			if e > 0 {
				y[b] += w * d.Events[b]
				t[b] += w * l.level[i] * l.prior[b] * e
			}
		}
	}
	mean := 0.0
	for b := range l.prior {
		var Y, T, sum float64
		for k, s := range smoothing {
			if c := b + k - 1; c >= 0 && c < n {
				Y, T, sum = Y+s*y[c], T+s*t[c], sum+s
			}
		}
		// (HOUR-6) g ~ gamma(k + Y/φ, k + T/φ), Y and T of the bin and its neighbours; f = c g
		l.bins[b] = search.Gamma{Shape: shape, Rate: shape}.Update(Y/sum, T/sum)
		l.factor[b] = l.prior[b] * l.bins[b].Mean()
		mean += l.factor[b] / float64(n)
	}
	for b := range l.factor {
		l.factor[b] /= mean
	}
}

func (l *learner) curve() Curve {
	out := Curve{Events: l.events, Exposure: l.exposure, Days: l.known, Scatter: l.scatter, Bins: make([]Factor, len(l.prior))}
	pooled := Counts{make([]float64, len(l.prior)), make([]float64, len(l.prior))}
	for b, g := range l.bins {
		c := l.factor[b] / g.Mean() // to the curve's own mean
		out.Bins[b] = Factor{l.factor[b], c * mathext.GammaIncRegInv(g.Shape, 0.1) / g.Rate, c * mathext.GammaIncRegInv(g.Shape, 0.9) / g.Rate}
		for i, d := range l.days {
			pooled.Events[b] += d.Events[b]
			pooled.Exposure[b] += l.level[i] * d.Exposure[b]
		}
	}
	deviance, df, _ := Deviance(pooled)
	out.Flat = 1
	if df > 0 {
		// (HOUR-7) D/φ against chi-square
		out.Flat = mathext.GammaIncRegComp(float64(df)/2, math.Max(0, deviance)/l.scatter/2)
	}
	return out
}

// At gives the factor at a place among the bins, from 0 to their number: bins are joined by straight lines between their
// middles.
func (c Curve) At(x float64) Factor {
	n := len(c.Bins)
	x = math.Min(math.Max(x-0.5, 0), float64(n-1))
	i := int(math.Min(math.Floor(x), float64(n-1)))
	j, w := min(i+1, n-1), x-float64(i)
	mix := func(a, b float64) float64 { return (1-w)*a + w*b }
	a, b := c.Bins[i], c.Bins[j]
	return Factor{mix(a.Mean, b.Mean), mix(a.Low, b.Low), mix(a.High, b.High)}
}

// Best gives the stretch of bins about the best one in which the rate lies above the day's mean by a tenth; ok is false
// when not even the best one is surely above it (nine to one), or when the record does not tell the day from a flat one
// (one in ten).
func (c Curve) Best() (from, to int, ok bool) {
	const above, doubt = 1.1, 0.1
	best := 0
	for b := range c.Bins {
		if c.Bins[b].Mean > c.Bins[best].Mean {
			best = b
		}
	}
	if len(c.Bins) == 0 || c.Bins[best].Low <= 1 || c.Flat > doubt {
		return 0, 0, false
	}
	from, to = best, best+1
	for from > 0 && c.Bins[from-1].Mean > above {
		from--
	}
	for to < len(c.Bins) && c.Bins[to].Mean > above {
		to++
	}
	return from, to, true
}
