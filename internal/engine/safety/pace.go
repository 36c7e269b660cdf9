package safety

import (
	"slices"
	"time"

	"icehand/internal/base/quantity"
)

// walkShare is the share of a grown walker's pace that an age keeps up over snow; common practice, no source.
var walkShare = map[string]float64{"child": 0.7, "elder": 0.8}

// WalkShare gives the share of a grown walker's pace that somebody of an age keeps up: 1 for an adult.
func WalkShare(age string) float64 {
	if s, ok := walkShare[age]; ok {
		return s
	}
	return 1
}

// SlowestOf gives the factor on the time home of a party in which these ages are out: the slowest member's, at least 1.
// Only walkers are slower for their age: whoever rides, rides along.
func SlowestOf(travel string, ages []string) float64 {
	slowest := 1.0
	if rides(travel) {
		return slowest
	}
	for _, age := range ages {
		slowest = max(slowest, 1/WalkShare(age))
	}
	return slowest
}

// rides tells whether a way of travel is one in which nobody walks; what is not known counts as walking.
func rides(travel string) bool { return travel == "machine" || travel == "vehicle" }

// Stretch is a piece of travel on record.
type Stretch struct {
	Length quantity.Length
	Took   time.Duration
	Party  bool // the party's line out or home; else a leg of whoever drills, its end drilled within the time
}

// What may be learned from. Ours: shorter pieces tell of stops and of fixes, slower ones of something else than travel.
const (
	leastLine  = 500 * quantity.Metre
	leastLeg   = 150 * quantity.Metre
	leastLegs  = 3
	leastSpeed = 1 * quantity.KilometrePerHour
)

// LearnedSpeed gives today's measured speed: that of the party's own lines together; without one the middle leg of whoever drills, which may only
// slow the careful default, since the party is seldom quicker. 0: too little on record. No speed passes the most of the way of travel.
func LearnedSpeed(travel string, record []Stretch) quantity.Speed {
	pace, known := paces[travel]
	if !known {
		pace = paces["foot"]
	}
	metres, seconds := 0.0, 0.0
	var legs []float64
	for _, s := range record {
		v := s.Length.Metres() / s.Took.Seconds()
		switch {
		case s.Took <= 0 || v < leastSpeed.MetresPerSecond():
		case s.Party && s.Length >= leastLine:
			metres, seconds = metres+s.Length.Metres(), seconds+s.Took.Seconds()
		case !s.Party && s.Length >= leastLeg:
			legs = append(legs, v)
		}
	}
	switch {
	case seconds > 0:
		// (SAFETY-4)
		return min(quantity.Speed(metres/seconds), pace.most)
	case len(legs) >= leastLegs:
		slices.Sort(legs)
		return min(quantity.Speed(legs[(len(legs)-1)/2]), pace.usual)
	}
	return 0
}
