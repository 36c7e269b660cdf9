package plan

import (
	"math"
	"time"

	"gonum.org/v1/gonum/mathext"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/engine/ground"
	"icehand/internal/stats/search"
	"icehand/internal/stats/track"
)

// Odds is the chance of marks in a look of a stated length: the plain posterior mean, never moved by what is worth trying.
type Odds struct {
	P, Low, High float64 // mean and 80 % range
	Fresh        float64 // chance by schools not yet seen today
	Known        float64 // chance by schools seen today
}

// z80 cuts off a tenth of the normal distribution on each side.
const z80 = 1.2815515655446004

// At moves the filter's clock to an instant without an event.
func (f *Filter) At(t time.Time) { f.advance(t) }

// Now gives the filter's clock.
func (f *Filter) Now() time.Time { return f.now }

// Odds gives the odds at a place now.
func (f *Filter) Odds(p geo.Local, wait time.Duration) Odds {
	d := f.depthAt(p)
	r := f.radius(d)
	exposure := f.exposure(p, d, r, wait)
	m, v := f.field.At(p)
	var o Odds
	var low, high float64
	o.Fresh, low, high = f.field.ChanceOf(m, v, exposure, f.luck(), z80)
	o.Known = f.known(p, r, wait)
	join := func(fresh float64) float64 { return f.either(fresh, o.Known) }
	o.P, o.Low, o.High = join(o.Fresh), join(low), join(high)
	return o
}

// Ground gives the odds of a look at a place and 60 m to each side of it, averaged: what its neighbourhood is worth.
// Places off the water do not count.
func (f *Filter) Ground(p geo.Local, wait time.Duration) Odds {
	const side = 60.0
	sum, n := f.Odds(p, wait), 1.0
	for _, d := range []geo.Local{{E: side}, {E: -side}, {N: side}, {N: -side}} {
		if q := p.Add(d); f.ground == nil || f.ground.OnWater(q) {
			o := f.Odds(q, wait)
			sum = Odds{sum.P + o.P, sum.Low + o.Low, sum.High + o.High, sum.Fresh + o.Fresh, sum.Known + o.Known}
			n++
		}
	}
	return Odds{sum.P / n, sum.Low / n, sum.High / n, sum.Fresh / n, sum.Known / n}
}

// luck is the variance of the logarithm of what all places share: level and day.
func (f *Filter) luck() float64 {
	return f.level.Var + f.day.Var
}

// exposure is the number of unseen schools that a look is expected to meet by all that was learned but the field.
func (f *Filter) exposure(p geo.Local, d depth, r float64, wait time.Duration) float64 {
	return f.expected(p, d) * f.passing(p) * f.par.LookWorth * f.par.Detect * f.sweep(r, wait) * f.shadows.Left(p, f.now) *
		f.learned().at(d, f.par.BandWidth)
}

// known is the chance that a look shows a school seen today.
func (f *Filter) known(p geo.Local, r float64, wait time.Duration) float64 {
	if len(f.schools) == 0 {
		return 0
	}
	wide := math.Sqrt(f.sweep(r, wait) / math.Pi)
	some := 0.0
	for _, s := range f.schools {
		some = f.either(some, f.shows(s, p, wide))
	}
	return some
}

// either is the chance that a look shows something of two: schools are met independently, but what hides one hides all.
func (f *Filter) either(a, b float64) float64 {
	most := f.par.MostSeen
	// (PLAN-41) m (1 - (1 - a/m)(1 - b/m)), a and b at most m
	return a + b - math.Min(a, most)*math.Min(b, most)/most
}

// Sureness gives how well a place's neighbourhood has been looked at: the share of the field's prior variance that looks
// have removed, 0 to 1.
func (f *Filter) Sureness(p geo.Local) float64 {
	_, v := f.field.At(p)
	return num.Clamp(1-v/(f.par.Field.SD*f.par.Field.SD), 0, 1)
}

// DepthWorth gives by which factor looks in the band of a depth have met more than ground in general.
func (f *Filter) DepthWorth(p geo.Local) (factor float64, known bool) {
	d := f.depthAt(p)
	x := f.learned()
	return x.at(d, f.par.BandWidth) / (x.level * x.day * x.form[d.form]), d.known
}

// FormWorth gives by which factor looks over bottom of a place's form have met more than ground in general; false on
// bottom without a form of its own.
func (f *Filter) FormWorth(p geo.Local) (kind ground.FeatureKind, factor float64, ok bool) {
	d := f.depthAt(p)
	if d.form == flat {
		return 0, 1, false
	}
	return ground.FeatureKind(d.form - 1), f.learned().form[d.form], true
}

// Rate is a believed catch in fish by rod-hour with an 80 % range.
type Rate struct{ Mean, Low, High float64 }

// horizon is the time over which a sit is valued.
const horizon = 20 * time.Minute

// Rate gives the catch that one rod may expect at a place over the next twenty minutes, when so many rods fish there.
func (f *Filter) Rate(p geo.Local, rods int) Rate {
	d := f.depthAt(p)
	r := f.radius(d)
	shape, rate := f.bites.Gamma(1)
	scale := shape / rate
	mean, variance := 0.0, 0.0
	for _, s := range f.schools {
		q := f.shows(s, p, r)
		m, v := s.phases.Moments(f.par.Bites)
		c := f.shared(s, rods) * f.par.Landed * scale * 60 // to fish an hour
		m, v = c*m, c*c*v
		// (PLAN-43) a school is there with chance q, then bites at m with variance v
		mean += q * m
		variance += q*(v+m*m/f.par.BiteSpread) + q*(1-q)*m*m
	}
	// unseen schools that pass within the horizon
	e := f.exposure(p, d, r, horizon) * f.par.SitWorth
	mf, vf := f.field.At(p)
	arrive, _, _ := f.field.ChanceOf(mf, vf, e, 0, z80)
	find := f.par.Find / horizon.Hours()
	mean += arrive * find
	variance += arrive * (2 - arrive) * find * find
	variance += mean * mean / shape
	return gammaRate(mean, variance)
}

// shared is the share of a rod's bites that is left when several rods fish one school.
func (f *Filter) shared(s *school, rods int) float64 {
	left := math.Max(2, 0.8*f.season.SchoolSize-s.taken)
	// (PLAN-44) sharing
	return math.Min(1, left/(6*float64(max(1, rods))))
}

// gammaRate gives the range of a gamma distribution of that mean and variance.
func gammaRate(mean, variance float64) Rate {
	if !(mean > 0 && variance > 0) {
		return Rate{}
	}
	// (PLAN-45) a = mean^2/variance, at least 0.1, so that the range holds the mean; b = a/mean
	a := math.Max(0.1, mean*mean/variance)
	return GammaRange(search.Gamma{Shape: a, Rate: a / mean})
}

// School is a school seen today, for saying why.
type School struct {
	At       geo.Local
	Spread   float64 // m, one standard deviation
	Exists   float64
	Feeding  float64 // chance that it feeds now
	LastSeen time.Time
	LastFish time.Time // zero: none
	Taken    int
	Sure     bool // confirmed
}

// Schools lists the schools that may still be about.
func (f *Filter) Schools() []School {
	var out []School
	for _, s := range f.schools {
		out = append(out, School{s.At, math.Sqrt(s.Var), s.Exists, s.phases.Of(track.Feeding), s.lastMark, s.lastFish, int(s.taken), s.confirmed})
	}
	return out
}

// GammaRange gives mean and 80 % range of a gamma belief about a rate.
func GammaRange(g search.Gamma) Rate {
	return Rate{Mean: g.Mean(), Low: mathext.GammaIncRegInv(g.Shape, 0.1) / g.Rate, High: mathext.GammaIncRegInv(g.Shape, 0.9) / g.Rate}
}

// First gives the odds of marks in at least one look at several places. What is not known of the level and of the field
// is shared by all of them, so they are not taken for independent.
func (f *Filter) First(places []geo.Local, wait time.Duration) Odds {
	const points = 15
	shared := f.luck()
	chance := func(z float64) float64 {
		none := 1.0
		for _, p := range places {
			d := f.depthAt(p)
			r := f.radius(d)
			m, v := f.field.At(p)
			e := f.exposure(p, d, r, wait) * math.Exp(m+z*math.Sqrt(v+shared))
			none *= math.Pow(1+e/f.par.Field.Shape, -f.par.Field.Shape) * (1 - f.known(p, r, wait))
		}
		return 1 - none
	}
	sum, weight := 0.0, 0.0
	for i := range points {
		z := 3.5 * (2*float64(i)/(points-1) - 1)
		w := math.Exp(-z * z / 2)
		// (PLAN-49) chance of at least one, averaged over what the places share
		sum += w * chance(z)
		weight += w
	}
	o := Odds{P: sum / weight}
	o.Low, o.High = math.Min(o.P, chance(-z80)), math.Max(o.P, chance(z80))
	return o
}
