package safety

import (
	"math"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Steer is how to follow a line from where somebody stands: how far off it, which way back, and what comes next.
type Steer struct {
	Off     quantity.Length  // off the line, never negative
	Right   bool             // the place lies right of the line; meaningless on it
	On      bool             // within the corridor
	Back    quantity.Bearing // to the nearest point of the line, true; meaningless on the line itself
	To      geo.Local        // the next point to walk to
	Bearing quantity.Bearing // to it from here, true
	Leg     quantity.Length  // to it from here
	Turns   bool             // it is a bend of the line, not its end
	Then    quantity.Bearing // of the leg after it, true; only with Turns
	Left    quantity.Length  // to the end along the line, the way back to it included
}

// The numbers of guidance along a line; ours.
const (
	corridor = 15.0 // m to each side: half the spacing of test holes, within which a reading speaks [Barrhead]
	straight = 5.0  // m: points of the line this near to the way straight on are no bend, about what a fix is off
	reached  = 1.0  // m
	sharp    = 30.0 // degrees: a sharper turn is always walked to, or one leg is taken for the other beside it
)

// SteerAlong says how to follow a line to its end. On the line the next bend is named; off it the nearest point of the line comes first,
// since the ice was read there and not beside it. Where a line crosses itself it may name either leg. It panics on a line of no points.
func SteerAlong(line []geo.Local, here geo.Local) Steer {
	foot := geo.FootOn(line, here)
	s := Steer{Off: quantity.Length(math.Abs(foot.Off.Metres())), Right: foot.Off > 0, Back: here.BearingTo(foot.At)}
	s.On = s.Off.Metres() <= corridor
	s.Left = foot.Ahead + s.Off
	if !s.On {
		s.To, s.Bearing, s.Leg = foot.At, s.Back, s.Off
		if next, ok := bendAfter(line, foot.Leg, foot.At); ok {
			s.Turns, s.Then = true, foot.At.BearingTo(next)
		}
		return s
	}
	i := nextBend(line, foot.Leg, here)
	s.To = line[i]
	if next, ok := bendAfter(line, i, s.To); ok {
		s.Turns, s.Then = true, s.To.BearingTo(next)
	}
	s.Bearing, s.Leg = here.BearingTo(s.To), here.Distance(s.To)
	return s
}

// nextBend gives the farthest point of the line that can be walked to straight on, past those that are as good as reached.
func nextBend(line []geo.Local, leg int, here geo.Local) int {
	last := len(line) - 1
	i := min(leg+1, last)
	for i < last && here.Distance(line[i]).Metres() < reached {
		i++
	}
	for first := i; i < last; i++ {
		if i > 0 && turned(line[i-1].BearingTo(line[i]), line[i].BearingTo(line[i+1])) >= sharp {
			return i
		}
		for _, p := range line[first : i+1] {
			if geo.SegmentDistance(p, here, line[i+1]) > straight {
				return i
			}
		}
	}
	return i
}

// bendAfter gives the next point of a line past a place on one of its legs.
func bendAfter(line []geo.Local, leg int, from geo.Local) (geo.Local, bool) {
	for i := leg + 1; i < len(line); i++ {
		if from.Distance(line[i]) > quantity.Metre {
			return line[i], true
		}
	}
	return geo.Local{}, false
}
