package rehearse

import (
	"math"
	"slices"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

// seer knows every school's place, size and doing at this moment, not what it will do. It walks and drills like anybody,
// keeps to what it has begun, and counts schools that overlap. It is a strong reference, not a proven best.
type seer struct {
	run   *world.Run
	b     way.Briefing
	worth float64 // of a good fish
}

func newSeer(run *world.Run) way.Way { return &seer{run: run} }

// How long the seer thinks that a school goes on as it does, and how much better the new must be; set on tuning days.
const (
	seerHorizon = 14.0 // minutes
	seerMargin  = 1.1
)

func (s *seer) Begin(b way.Briefing) geo.Local {
	s.b, s.worth = b, 2
	if b.Aim == way.Size {
		s.worth = 6
	}
	// towed to where most bites are within a walk
	best, bestSum := b.Start, -1.0
	schools := s.run.Schools(0)
	for _, c := range schools {
		sum := 0.0
		for _, o := range schools {
			if d := float64(c.At.Distance(o.At)); d < 300 {
				sum += (o.Bites + 0.1) * math.Exp(-d/100)
			}
		}
		if sum > bestSum {
			best, bestSum = c.At, sum
		}
	}
	return best
}

func (s *seer) Looked(way.Look)  {}
func (s *seer) Caught(way.Catch) {}
func (s *seer) End()             {}

// rate is the worth a minute of a rod at a place now.
func (s *seer) rate(p geo.Local, now time.Duration) float64 {
	bites, good := s.run.Bites(p, now)
	return bites * (1 + (s.worth-1)*good)
}

func (s *seer) walkMinutes(a, b geo.Local) float64 {
	return float64(a.Distance(b)) / float64(s.b.Walk) / 60
}

// gain is what going to a place with that rate is worth over the horizon, against staying, when it takes so long.
func gain(there, here, minutes float64) float64 {
	// (REHEARSE-11) gain = there (H - t) - here H margin
	return there*math.Max(0, seerHorizon-minutes) - here*seerHorizon*seerMargin
}

func (s *seer) Guest(v *way.View, rod int) way.Order {
	g := v.Guests[rod]
	here := 0.0
	if g.Fishing {
		here = s.rate(g.At, v.Now)
	}
	best, bestGain := -1, 0.0
	for h := max(0, len(v.Holes)-80); h < len(v.Holes); h++ {
		if v.Holes[h].Rod != way.Scout || v.Shut(h) {
			continue
		}
		t := s.walkMinutes(g.At, v.Holes[h].At) + 1
		if t > seerHorizon {
			continue
		}
		if x := gain(s.rate(v.Holes[h].At, v.Now), here, t); x > bestGain {
			best, bestGain = h, x
		}
	}
	switch {
	case best >= 0:
		return way.Order{Do: way.Move, Hole: best}
	case g.Fishing:
		return way.Order{Do: way.Stay}
	}
	// rather near a hole than idle
	for h := len(v.Holes) - 1; h >= 0; h-- {
		if v.Holes[h].Rod == way.Scout && !v.Shut(h) {
			return way.Order{Do: way.Move, Hole: h}
		}
	}
	return way.Order{Do: way.Wait}
}

func (s *seer) Scout(v *way.View) way.Order {
	schools := s.run.Feeding(v.Now)
	here := make([]float64, len(v.Guests))
	for i, g := range v.Guests {
		if g.Hole >= 0 {
			here[i] = s.rate(v.Holes[g.Hole].At, v.Now)
		}
	}
	drill := (20 + 55*float64(s.b.Ice)) / 60
	var best geo.Local
	bestScore := 0.0
	for _, c := range schools {
		if c.Bites < 0.05 || !s.b.Inside(c.At) {
			continue
		}
		reach := s.walkMinutes(v.Scout, c.At) + drill
		if reach > seerHorizon {
			continue
		}
		there := s.rate(c.At, v.Now)
		free := 0
		for h := max(0, len(v.Holes)-80); h < len(v.Holes); h++ {
			if v.Holes[h].Rod == way.Scout && float64(v.Holes[h].At.Distance(c.At)) < 0.7*c.RadiusM {
				free++
			}
		}
		var gains []float64
		for i, g := range v.Guests {
			gains = append(gains, gain(there, here[i], math.Max(reach, s.walkMinutes(g.At, c.At))+1))
		}
		slices.SortFunc(gains, func(a, b float64) int {
			if a > b {
				return -1
			} else if a < b {
				return 1
			}
			return 0
		})
		sum, n := 0.0, 0.0
		for j := free; j < len(gains); j++ {
			if x := gains[j] - there*drill*n; x > 0 {
				sum, n = sum+x, n+1
			}
		}
		if n == 0 {
			continue
		}
		if score := sum / (reach + drill*(n-1)); score > bestScore {
			best, bestScore = c.At, score
		}
	}
	if bestScore == 0 {
		return way.Order{Do: way.Wait}
	}
	return way.Order{Do: way.Drill, At: s.point(v, best)}
}

// point is the best place for a hole over a school that is not on top of another.
func (s *seer) point(v *way.View, about geo.Local) geo.Local {
	best, bestRate := about, -1.0
	for k := range 14 {
		r, a := 1.5*math.Sqrt(float64(k)), 2.4*float64(k)
		p := about.Add(geo.Local{E: r * math.Sin(a), N: r * math.Cos(a)})
		if !s.b.Inside(p) || slices.ContainsFunc(v.Holes, func(h way.Hole) bool { return h.At.Distance(p) < 1.2 && !taken(h, v.Now) }) {
			continue
		}
		if x := s.rate(p, v.Now); x > bestRate {
			best, bestRate = p, x
		}
	}
	return best
}

// taken tells whether a hole has frozen shut, so that another may be drilled beside it.
func taken(h way.Hole, now time.Duration) bool { return now-h.Used > way.Refreeze }
