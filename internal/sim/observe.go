package sim

import (
	"math"
	"math/rand/v2"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// What a sonar shows and what a rod feels. Every number in this file is invented.

const (
	halfBeam   = 10 * math.Pi / 180 // radians
	falseMarks = 0.005              // chance of an echo that is no fish, in half a minute
)

// shown is the share of a school's fish that stand clear of the bottom, by phase.
var shown = [...]float64{resting: 0.45, travelling: 0.8, feeding: 1}

// bitesMinute is how often a rod in the middle of a school gets a bite, by phase.
var bitesMinute = [...]float64{resting: 0.05, travelling: 0.15, feeding: 2.2}

// cover gives how much of a school's density reaches a place: nearly all inside, little beyond the radius.
func (s *school) cover(p geo.Local) float64 {
	d := p.Sub(s.at)
	q2 := (d.E*d.E + d.N*d.N) / (s.radiusM * s.radiusM)
	if q2 > 2.5 { // 1.6 radii
		return 0
	}
	return math.Exp(-q2 * q2)
}

// Marks gives how many separate echoes a look of some seconds shows. The world is brought to the time of the look.
func (w *World) Marks(at geo.Local, when time.Time, seconds float64) int {
	w.Advance(when)
	footM := w.Lake.Depth(at).Metres() * math.Tan(halfBeam)
	mean := falseMarks * seconds / 30
	for i := range w.schools {
		s := &w.schools[i]
		if c := s.cover(at); c > 0 {
			// (SIM-4) mean echoes = fish/m2 * footprint * shown * cover * turnover
			turnover := 1 + seconds/240
			mean += s.fish / (math.Pi * s.radiusM * s.radiusM) * math.Pi * footM * footM * shown[s.does] * c * turnover
		}
	}
	return poisson(w.see, math.Min(mean, 30))
}

// Bite is a take. A bite that is not landed has no length.
type Bite struct {
	Landed bool
	Length quantity.Length
}

// Bites gives the takes of one rod that fishes for some seconds up to a time. What is landed is missing from its school
// and makes it shy. The world is brought to the time.
func (w *World) Bites(at geo.Local, when time.Time, seconds float64) []Bite {
	w.Advance(when)
	var out []Bite
	for i := range w.schools {
		s := &w.schools[i]
		c := s.cover(at)
		if c == 0 {
			continue
		}
		// (SIM-5) mean bites = rate of the phase * minutes * cover * exp(-taken/60)
		for range poisson(w.see, bitesMinute[s.does]*seconds/60*c*math.Exp(-s.taken/60)) {
			b := Bite{Landed: w.see.Float64() < 0.72}
			if b.Landed {
				b.Length = s.length(w.see.Float64(), w.see.NormFloat64())
				s.fish--
				s.taken++
			}
			out = append(out, b)
		}
	}
	return out
}

// length draws one fish of the school: about 24.5 cm when good, 17.5 cm when small.
func (s *school) length(u, z float64) quantity.Length {
	cm := 17.5 + 1.8*z
	if u < s.goodShare {
		cm = 24.5 + 2.2*z
	}
	return quantity.Length(num.Clamp(cm, 9, 38)) * quantity.Centimetre
}

// poisson draws a count by multiplying uniform numbers, which is quick for the small means here.
func poisson(rng *rand.Rand, mean float64) int {
	n, product, floor := 0, rng.Float64(), math.Exp(-mean)
	for product > floor {
		n++
		product *= rng.Float64()
	}
	return n
}
