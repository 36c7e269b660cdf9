package icecover

import (
	"math"
	"slices"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Sample is a hole's effective thickness on its day, for [Refit].
type Sample struct {
	Day       string
	At        geo.Local
	Effective quantity.Length
}

// How the ranges are estimated anew; all ours.
const (
	enoughHoles  = 60  // from which it is worth while
	mostRefit    = 100 // newest of them that are used
	leastADay    = 3   // holes of a day, so that its mean means something
	rangeDoubt   = 0.7 // standard deviation of the logarithm of a range about the usual one
	rangeSteps   = 2   // to each side of the usual range
	rangeStep    = 2.0 // factor from step to step
	widestFactor = 3.0 // by which the spread may grow
)

// Refit estimates the ranges of the scatter from an outfit's own holes, newest last, once there are more than sixty: those
// that make the holes most likely whatever each day's mean was, pulled towards the usual ones. The spreads are only ever
// widened, never narrowed: guides drill where they look for thick ice. used is how many holes it rests on, 0 for the usual scatter.
func Refit(samples []Sample) (s Scatter, used int) {
	s = UsualScatter()
	at, day, about := chosen(samples)
	if len(at) <= enoughHoles {
		return s, 0
	}
	best := math.Inf(1)
	for i := -rangeSteps; i <= rangeSteps; i++ {
		for j := -rangeSteps; j <= rangeSteps; j++ {
			try := UsualScatter()
			short, long := float64(i)*math.Log(rangeStep), float64(j)*math.Log(rangeStep)
			try.ShortRange *= quantity.Length(math.Exp(short))
			try.LongRange *= quantity.Length(math.Exp(long))
			if try.ShortRange >= try.LongRange {
				continue
			}
			cost, wider := try.unlikely(at, day, about)
			// (COVER-10)
			cost += (short*short + long*long) / (2 * rangeDoubt * rangeDoubt)
			if cost < best {
				best = cost
				f := quantity.Length(wider)
				s = try
				s.Hole, s.Near, s.Short, s.Long = s.Hole*f, s.Near*f, s.Short*f, s.Long*f
			}
		}
	}
	return s, len(at)
}

// chosen gives the newest holes of days with enough of them, as metres about the mean of all.
func chosen(samples []Sample) (at []geo.Local, day []string, about []float64) {
	n, sum := map[string]int{}, 0.0
	for _, x := range samples {
		n[x.Day]++
	}
	for _, x := range samples[max(0, len(samples)-mostRefit):] {
		if n[x.Day] >= leastADay {
			at, day, about = append(at, x.At), append(day, x.Day), append(about, x.Effective.Metres())
			sum += x.Effective.Metres()
		}
	}
	for i := range about {
		about[i] -= sum / float64(len(about))
	}
	return at, day, about
}

// dayVariance is so large, in m2, that a day's own mean is free: what the zone's column says of a day is not used here.
const dayVariance = 0.25

// unlikely gives how unlikely the holes are, up to a constant, with the spread that suits them best, and by which factor
// that is wider than the usual one.
func (s Scatter) unlikely(at []geo.Local, day []string, about []float64) (cost, wider float64) {
	days := map[string]bool{}
	for _, d := range day {
		days[d] = true
	}
	n := len(at) - len(days)
	l := s.factor(at, day)
	z := slices.Clone(about)
	forward(l, z)
	logs, squares := 0.0, 0.0
	for i := range z {
		logs += math.Log(l[i][i])
		squares += square(z[i])
	}
	// (COVER-11)
	wider = math.Min(math.Max(1, math.Sqrt(squares/float64(n))), widestFactor)
	return logs + float64(n)*math.Log(wider) + squares/(2*wider*wider), wider
}
