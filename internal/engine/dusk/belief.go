package dusk

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"icehand/internal/base/geo"
	"icehand/internal/stats/search"
)

// Prior beliefs about the rate; all our own assumption, common practice, no source.
const (
	levelMean  = 0.3 // walleye a line-hour, aimed at them, in the band, on a sharp edge
	levelShape = 1.0 // wide: 8 times in 10 between a tenth and 2.3 times the mean
	hourShape  = 4.0
	edgeShape  = 6.0
	spotShape  = 2.0
)

// factors are the gammas whose product is the rate, for one light that may be.
type factors struct {
	level search.Gamma
	hour  [hours]search.Gamma
	edge  [2]search.Gamma // flat, edged
	spot  []search.Gamma
}

// Belief is what is believed of a lake's walleye: its light, its level, its hours, its edges and its spots. A nil Belief is
// that of a lake without a record.
type Belief struct {
	factors [lots]factors
	weight  [lots]float64
	spots   []spotRecord
	scatter float64
	hours   float64 // line-hours after walleye
	beside  float64
	fish    int
}

func priorFactors(spots int) factors {
	f := factors{level: gamma(levelShape, levelMean), spot: make([]search.Gamma, spots)}
	for h := range f.hour {
		f.hour[h] = gamma(hourShape, hourPrior[h%heights])
	}
	for e := range f.edge {
		f.edge[e] = gamma(edgeShape, 1)
	}
	for s := range f.spot {
		f.spot[s] = gamma(spotShape, 1)
	}
	return f
}

func gamma(shape, mean float64) search.Gamma { return search.Gamma{Shape: shape, Rate: shape / mean} }

// Learn fits a belief to a tally.
func (t *Tally) Learn() *Belief {
	if t == nil {
		t = &Tally{}
	}
	b := &Belief{scatter: t.dispersion(), hours: t.Hours, beside: t.Beside, fish: t.Fish}
	var evidence [lots]float64
	best := math.Inf(-1)
	prior := lotPrior()
	for i := range lots {
		b.factors[i], evidence[i] = t.fit(i, b.scatter)
		evidence[i] += math.Log(prior[i])
		best = math.Max(best, evidence[i])
	}
	sum := 0.0
	for i := range lots {
		// (DUSK-9) weight of a light ~ prior * exp(evidence)
		b.weight[i] = math.Exp(evidence[i] - best)
		sum += b.weight[i]
	}
	for i := range lots {
		b.weight[i] /= sum
	}
	b.spots = t.spotRecords()
	return b
}

// fit finds the gammas for one light by coordinate ascent, and the bound on the log evidence at them.
func (t *Tally) fit(lot int, φ float64) (factors, float64) {
	f, prior := priorFactors(len(t.spots)), priorFactors(len(t.spots))
	e := make([]float64, len(t.cells))
	for k := range t.cells {
		e[k] = t.cells[k].exposure[lot] / φ
	}
	mean := func(k int) float64 { return e[k] * f.of(t.cells[k].cell) }
	for range fitSteps {
		// (DUSK-7) each factor's gamma: its prior's shape plus the fish, its prior's rate plus the exposure times the other factors' means
		a, r := prior.level.Shape, prior.level.Rate
		for k := range t.cells {
			a, r = a+t.cells[k].fish/φ, r+mean(k)/f.level.Mean()
		}
		f.level = search.Gamma{Shape: a, Rate: r}
		t.update(f.hour[:], prior.hour[:], φ, mean, func(c cell) int { return c.hour })
		t.update(f.edge[:], prior.edge[:], φ, mean, func(c cell) int { return edged(c.edged) })
		t.update(f.spot, prior.spot, φ, mean, func(c cell) int { return c.spot })
	}
	// (DUSK-8) bound = E ln p(fish) - Σ KL(posterior, prior)
	bound := t.logs[lot] / φ
	for k := range t.cells {
		bound += t.cells[k].fish/φ*f.meanLog(t.cells[k].cell) - mean(k)
	}
	bound -= divergence(f.level, prior.level)
	for h := range f.hour {
		bound -= divergence(f.hour[h], prior.hour[h])
	}
	for g := range f.edge {
		bound -= divergence(f.edge[g], prior.edge[g])
	}
	for s := range f.spot {
		bound -= divergence(f.spot[s], prior.spot[s])
	}
	return f, bound
}

const fitSteps = 25 // the equations then hold to a thousandth of the fish in the tests

// update makes one kind of factor anew from the others.
func (t *Tally) update(to, prior []search.Gamma, φ float64, mean func(int) float64, of func(cell) int) {
	fish, exposure := make([]float64, len(to)), make([]float64, len(to))
	for k := range t.cells {
		j := of(t.cells[k].cell)
		if j == elsewhere {
			continue
		}
		fish[j] += t.cells[k].fish / φ
		exposure[j] += mean(k) / to[j].Mean()
	}
	for j := range to {
		to[j] = search.Gamma{Shape: prior[j].Shape + fish[j], Rate: prior[j].Rate + exposure[j]}
	}
}

func edged(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// of gives the mean rate of a cell by unit of exposure.
func (f *factors) of(c cell) float64 {
	m := f.level.Mean() * f.hour[c.hour].Mean() * f.edge[edged(c.edged)].Mean()
	if c.spot != elsewhere {
		m *= f.spot[c.spot].Mean()
	}
	return m
}

func (f *factors) meanLog(c cell) float64 {
	m := meanLog(f.level) + meanLog(f.hour[c.hour]) + meanLog(f.edge[edged(c.edged)])
	if c.spot != elsewhere {
		m += meanLog(f.spot[c.spot])
	}
	return m
}

func meanLog(g search.Gamma) float64 { return mathext.Digamma(g.Shape) - math.Log(g.Rate) }

// divergence gives Kullback and Leibler's divergence of one gamma from another.
func divergence(q, p search.Gamma) float64 {
	lq, _ := math.Lgamma(q.Shape)
	lp, _ := math.Lgamma(p.Shape)
	return (q.Shape-p.Shape)*mathext.Digamma(q.Shape) - lq + lp + p.Shape*(math.Log(q.Rate)-math.Log(p.Rate)) + q.Shape*(p.Rate-q.Rate)/q.Rate
}

// lots gives the weight of each light that may be.
func (b *Belief) lots() [lots]float64 {
	if b == nil {
		return lotPrior()
	}
	return b.weight
}

// spotRecord is a spot with the fish that were landed there.
type spotRecord struct {
	at   geo.Local
	fish float64
}

func (t *Tally) spotRecords() []spotRecord {
	out := make([]spotRecord, len(t.spots))
	for i, p := range t.spots {
		out[i].at = p
	}
	for _, c := range t.cells {
		if c.spot != elsewhere {
			out[c.spot].fish += c.fish
		}
	}
	return out
}

// spotAt gives the factor of a place for one light: that of the nearest spot on record, fading with the distance.
func (b *Belief) spotAt(p geo.Local, lot int) search.Gamma {
	prior := gamma(spotShape, 1)
	best := -1
	for i, s := range b.spots {
		if d := s.at.Distance(p); d <= 2*spotSize && (best < 0 || d < b.spots[best].at.Distance(p)) {
			best = i
		}
	}
	if best < 0 {
		return prior
	}
	g, d := b.factors[lot].spot[best], float64(b.spots[best].at.Distance(p)/spotSize)
	// (DUSK-10) what the spot taught counts the less the farther it lies
	k := math.Exp(-d * d)
	return search.Gamma{Shape: prior.Shape + k*(g.Shape-prior.Shape), Rate: prior.Rate + k*(g.Rate-prior.Rate)}
}

// load is exposure by light that may be and hour, at one place.
type load [lots][hours]float64

// catch gives the belief about the walleye that one rod lands under a load: the gamma nearest to the product of what is not
// known, with its mean and its mean logarithm.
func (b *Belief) catch(p geo.Local, edge float64, x *load) search.Gamma {
	mean, log := 0.0, 0.0
	for i := range lots {
		f := &b.factors[i]
		s, e := b.spotAt(p, i), f.edge[edged(edge > 0.5)]
		m, v := 0.0, 0.0
		for h, y := range x[i] {
			m += f.hour[h].Mean() * y
			v += f.hour[h].Mean() / f.hour[h].Rate * y * y
		}
		if m <= 0 {
			continue
		}
		hour := search.Gamma{Shape: m * m / v, Rate: m / v}
		// (DUSK-11) E x = Σ w Π E factor, E ln x = Σ w Σ E ln factor; the sum over the hours counts as one gamma
		mean += b.weight[i] * hour.Mean() * f.level.Mean() * s.Mean() * e.Mean()
		log += b.weight[i] * (meanLog(hour) + meanLog(f.level) + meanLog(s) + meanLog(e))
	}
	if mean <= 0 {
		return search.Gamma{Shape: levelShape, Rate: math.Inf(1)}
	}
	a := shapeOf(math.Log(mean) - log)
	return search.Gamma{Shape: a, Rate: a / mean}
}

// shapeOf gives the shape of the gamma whose logarithm's mean lies that far below the logarithm of its mean.
func shapeOf(gap float64) float64 {
	lo, hi := 1e-3, 1e6
	for range 60 {
		// (DUSK-12) ln a - digamma(a) falls with a
		if mid := math.Sqrt(lo * hi); math.Log(mid)-mathext.Digamma(mid) > gap {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.Sqrt(lo * hi)
}

// Told gives how much the belief rests on: line-hours after walleye, line-hours after something else, walleye landed.
func (b *Belief) Told() (aimed, beside float64, fish int) {
	if b == nil {
		return 0, 0, 0
	}
	return b.hours, b.beside, b.fish
}
