package track

import "time"

// Phase is what a target does.
type Phase int

// The phases, in the order in which they follow one another.
const (
	Resting Phase = iota
	Travelling
	Feeding
	phases
)

// Rates are the mean stays in each phase.
type Rates struct {
	Rest, Travel, Feed time.Duration
}

// Qualities is the number of classes of target, poor and good, that never change.
const Qualities = 2

// Phases is the belief over phase and quality of one target; it sums to 1.
type Phases [phases][Qualities]float64

// Steady gives the long-run belief with a share good of good targets.
func Steady(r Rates, good float64) Phases {
	total := float64(r.Rest + r.Travel + r.Feed)
	var b Phases
	for p, stay := range []time.Duration{r.Rest, r.Travel, r.Feed} {
		// (PLAN-13) long-run share = mean stay over the mean cycle
		s := float64(stay) / total
		b[p] = [Qualities]float64{s * (1 - good), s * good}
	}
	return b
}

// Step lets time pass.
func (b *Phases) Step(r Rates, dt time.Duration) {
	const longest = 2 * time.Minute // steps short against every stay
	for dt > 0 {
		d := min(dt, longest)
		dt -= d
		// (PLAN-14) cyclic chain, Euler steps
		out := [phases]float64{share(d, r.Rest), share(d, r.Travel), share(d, r.Feed)}
		for q := range Qualities {
			rest, travel, feed := b[Resting][q]*out[Resting], b[Travelling][q]*out[Travelling], b[Feeding][q]*out[Feeding]
			b[Resting][q] += feed - rest
			b[Travelling][q] += rest - travel
			b[Feeding][q] += travel - feed
		}
	}
}

func share(d, stay time.Duration) float64 {
	if stay <= d {
		return 1
	}
	return float64(d) / float64(stay)
}

// Weigh multiplies the belief by likelihoods and makes it sum to 1 again. Likelihoods that are all 0 change nothing.
func (b *Phases) Weigh(like Phases) {
	sum := 0.0
	for p := range b {
		for q := range b[p] {
			sum += b[p][q] * like[p][q]
		}
	}
	if !(sum > 0) {
		return
	}
	for p := range b {
		for q := range b[p] {
			b[p][q] *= like[p][q] / sum
		}
	}
}

// Mix moves the belief to a share of itself and the rest of another.
func (b *Phases) Mix(other Phases, own float64) {
	for p := range b {
		for q := range b[p] {
			b[p][q] = own*b[p][q] + (1-own)*other[p][q]
		}
	}
}

// Of gives the chance of a phase.
func (b *Phases) Of(p Phase) float64 { return b[p][0] + b[p][1] }

// Mean gives the mean of a value by phase.
func (b *Phases) Mean(value [phases]float64) float64 {
	sum := 0.0
	for p := range b {
		sum += b.Of(Phase(p)) * value[p]
	}
	return sum
}

// Moments gives mean and variance of a value that depends on phase and quality.
func (b *Phases) Moments(value Phases) (mean, variance float64) {
	second := 0.0
	for p := range b {
		for q := range b[p] {
			mean += b[p][q] * value[p][q]
			second += b[p][q] * value[p][q] * value[p][q]
		}
	}
	return mean, max(0, second-mean*mean)
}
