package way

import (
	"math"
	"time"

	"icehand/internal/base/geo"
)

const trackStep = 2 * time.Minute

// Phases of a school as the planner thinks of them, and two qualities.
const (
	rests = iota
	travels
	feeds
	phases
)

const (
	poor = iota
	rich
	qualities
)

// landedMinute is how many fish a minute a rod takes from a school, by phase and quality; the planner's own guess.
var landedMinute = [phases][qualities]float64{rests: {0.01, 0.03}, travels: {0.02, 0.05}, feeds: {0.2, 0.6}}

// belief is the chance of each phase and quality. It sums to one.
type belief [phases][qualities]float64

var usualBelief = belief{rests: {0.3, 0.25}, travels: {0.1, 0.08}, feeds: {0.14, 0.13}}

// phase changes in a step of two minutes: rests half an hour, travels eight minutes, feeds twenty-five.
const (
	wakes  = 2.0 / 35
	arrive = 2.0 / 8
	eats   = 0.55 // chance that it feeds where it arrives
	sated  = 2.0 / 25
)

// track is a school that was seen.
type track struct {
	at        geo.Local
	v         float64 // variance of its place, m2
	exists    float64
	b         belief
	big       float64 // chance that it is a school of good fish
	first     time.Duration
	mark      time.Duration // newest mark or fish
	fish      time.Duration // newest fish
	taken     float64
	rods      int
	confirmed bool
}

func newTrack(at geo.Local, now time.Duration) *track {
	return &track{at: at, v: 16, exists: 0.95, b: usualBelief, big: 0.3, first: now, mark: now, fish: -time.Hour}
}

// step takes the belief through two minutes.
func (t *track) step(f *future, now time.Duration) {
	if t.rods == 0 {
		t.v += 14 * trackStep.Minutes()
	}
	t.b = changed(t.b, math.Min(1.5, 0.1*t.taken), f.hunger(now))
}

// changed moves the phases on; pressure lets a fished school feed shorter and seldom.
func changed(b belief, pressure, hunger float64) belief {
	for q := range qualities {
		r, tr, fe := b[rests][q], b[travels][q], b[feeds][q]
		stop := math.Min(0.9, sated*(1+pressure))
		eat := eats * hunger / (1 + 0.5*pressure)
		b[rests][q] = r*(1-wakes) + tr*arrive*(1-eat) + fe*stop
		b[travels][q] = tr*(1-arrive) + r*wakes
		b[feeds][q] = fe*(1-stop) + tr*arrive*eat
	}
	return b
}

func (t *track) alive(now time.Duration) bool {
	return t.rods > 0 || t.exists > 0.08 && now-t.mark < 150*time.Minute
}

// shows is the chance that a look at a place shows the school.
func (t *track) shows(p geo.Local, reach float64) float64 {
	d := float64(t.at.Distance(p))
	s := reach*reach + 2*t.v
	// (REHEARSE-9) q = d e R^2/(R^2 + 2V) exp(-x^2/(R^2 + 2V))
	return detect * t.exists * reach * reach / s * math.Exp(-d*d/s)
}

// seen moves the track to a sighting.
func (t *track) seen(at geo.Local, now time.Duration, v float64) {
	gain := t.v / (t.v + 60)
	if t.v > 200 {
		gain = 1
	}
	t.at = geo.Local{E: t.at.E + gain*(at.E-t.at.E), N: t.at.N + gain*(at.N-t.at.N)}
	t.v = math.Max(v, t.v*(1-gain))
	t.exists = math.Max(t.exists, 0.95)
	if now-t.first >= 30*time.Second {
		t.confirmed = true
	}
	t.mark = now
}

// moved weighs how marks were seen to move.
func (t *track) moved(how string) {
	var like [phases]float64
	switch how {
	case "still":
		like = [phases]float64{1.5, 0.4, 0.6}
	case "slow":
		like = [phases]float64{0.9, 1, 1.2}
	case "fast":
		like = [phases]float64{0.5, 1.8, 1.3}
	default:
		return
	}
	for ph := range phases {
		for q := range qualities {
			t.b[ph][q] *= like[ph]
		}
	}
	t.norm()
}

// bites weighs a time with so many landed fish; minutes and fish may come apart, since the likelihood is a product.
func (t *track) bites(minutes float64, fish int) {
	for ph := range phases {
		for q := range qualities {
			r := landedMinute[ph][q]
			t.b[ph][q] *= math.Exp(-r*minutes) * math.Pow(r, float64(fish))
		}
	}
	t.norm()
}

func (t *track) caught(good bool, now time.Duration) {
	t.taken++
	t.fish = now
	like := [2]float64{0.2, 0.9} // chance of a good fish in a school of small and of good ones
	small, big := 1-like[0], 1-like[1]
	if good {
		small, big = like[0], like[1]
	}
	t.big = t.big * big / (t.big*big + (1-t.big)*small)
}

func (t *track) norm() {
	sum := 0.0
	for ph := range phases {
		sum += t.b[ph][poor] + t.b[ph][rich]
	}
	for ph := range phases {
		t.b[ph][poor] /= sum
		t.b[ph][rich] /= sum
	}
}

// mix takes over a share of another's belief.
func (t *track) mix(o *track, a float64) {
	for ph := range phases {
		for q := range qualities {
			t.b[ph][q] = a*o.b[ph][q] + (1-a)*t.b[ph][q]
		}
	}
	t.big = a*o.big + (1-a)*t.big
	t.taken = math.Max(t.taken, a*o.taken)
}

func (t *track) feeding() float64 { return t.b[feeds][poor] + t.b[feeds][rich] }

// future tables the fish that a rod may expect from each phase and quality over the next minutes.
type future struct {
	// fish[h][phase][quality] within h+1 steps
	fish  [20][phases][qualities]float64
	hours float64
}

func newFuture() *future {
	f := &future{}
	for ph := range phases {
		for q := range qualities {
			var b belief
			b[ph][q] = 1
			sum := 0.0
			for h := range f.fish {
				for p2 := range phases {
					sum += b[p2][q] * landedMinute[p2][q] * trackStep.Minutes()
				}
				f.fish[h][ph][q] = sum
				b = changed(b, 0.4, 1)
			}
		}
	}
	return f
}

// hunger is the day's curve around 1: two humps, hardly more than hinted at.
func (f *future) hunger(now time.Duration) float64 {
	m := now.Minutes()
	hump := func(mid, width float64) float64 { return math.Exp(-(m - mid) * (m - mid) / (2 * width * width)) }
	return 0.8 + 0.5*hump(140, 80) + 0.3*hump(400, 70)
}

// best is the highest rate in fish a minute over horizons of 5 to 40 minutes.
func (f *future) best(b *belief) float64 {
	best := 0.0
	for h := 2; h < len(f.fish); h++ {
		best = math.Max(best, f.over(b, h)/(trackStep.Minutes()*float64(h+1)))
	}
	return best
}

// over is the expected fish within h+1 steps.
func (f *future) over(b *belief, h int) float64 {
	sum := 0.0
	for ph := range phases {
		for q := range qualities {
			sum += b[ph][q] * f.fish[h][ph][q]
		}
	}
	return sum
}
