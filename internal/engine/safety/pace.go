package safety

import (
	"slices"
	"time"

	"github.com/google/uuid"

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

// rides tells whether a way of travel is one in which nobody walks; what is not known counts as walking.
func rides(travel string) bool { return travel == "machine" || travel == "vehicle" }

// Stretch is a piece of travel on record.
type Stretch struct {
	Length quantity.Length
	Took   time.Duration
	Party  bool        // the party's line out or home; else a leg of whoever drills, its end drilled within the time
	Who    []uuid.UUID // who is known to have come along
}

// Walker is somebody who has to come home.
type Walker struct {
	ID  uuid.UUID
	Age string
}

// Paced is the pace of a party, as [TurnBackInput] takes it.
type Paced struct {
	Speed   quantity.Speed // 0: not measured
	Slowest float64        // factor on the time for the slowest member, at least 1
	Earlier bool           // Speed was measured on earlier days, not today
}

// PartyPace learns the pace of a party: today's, else that of its lines of earlier days; legs between holes may only slow either. The slowest
// of the walkers binds: one who is known to have come along on a line of today has its measured pace, anybody else the share of their age.
func PartyPace(travel string, today, earlier []Stretch, walkers []Walker) Paced {
	p := Paced{Speed: LearnedSpeed(travel, today), Slowest: 1}
	usual := paceOf(travel).usual
	lined := slices.ContainsFunc(today, func(s Stretch) bool { return s.Party && s.travels(leastLine) })
	if v := earlierSpeed(travel, earlier); v > 0 && !lined && (p.Speed == 0 || p.Speed >= usual) {
		p.Speed, p.Earlier = v, true
	}
	if rides(travel) || len(walkers) == 0 {
		return p
	}
	base, own := p.Speed, 0
	if base == 0 {
		base = usual
	}
	slowest := paceOf("machine").most
	for _, w := range walkers {
		v := quantity.Speed(base.MetresPerSecond() * WalkShare(w.Age))
		if measured := ownSpeed(travel, today, w.ID); measured > 0 {
			v, own = measured, own+1
		}
		slowest = min(slowest, v)
	}
	if own == len(walkers) && !lined { // everybody's own pace is known: nobody stands in for them
		return Paced{Speed: slowest, Slowest: 1}
	}
	// (SAFETY-6)
	p.Slowest = base.MetresPerSecond() / min(base, slowest).MetresPerSecond()
	return p
}

// ownSpeed gives the pace of somebody on the lines of today on which they are known to have come along; 0: none.
func ownSpeed(travel string, today []Stretch, who uuid.UUID) quantity.Speed {
	metres, seconds := 0.0, 0.0
	for _, s := range today {
		if slices.Contains(s.Who, who) && s.travels(leastLine) {
			metres, seconds = metres+s.Length.Metres(), seconds+s.Took.Seconds()
		}
	}
	if seconds == 0 {
		return 0
	}
	return min(quantity.Speed(metres/seconds), paceOf(travel).most)
}

// leastDays is how many lines of earlier days tell a pace; ours.
const leastDays = 3

// earlierSpeed gives the pace that three in four of the party's lines of earlier days kept up; 0: too few of them.
func earlierSpeed(travel string, earlier []Stretch) quantity.Speed {
	var v []float64
	for _, s := range earlier {
		if s.Party && s.travels(leastLine) {
			v = append(v, s.Length.Metres()/s.Took.Seconds())
		}
	}
	if len(v) < leastDays {
		return 0
	}
	slices.Sort(v)
	return min(quantity.Speed(v[(len(v)-1)/4]), paceOf(travel).most)
}

// travels tells whether a stretch is long enough and too quick to have been standing.
func (s Stretch) travels(least quantity.Length) bool {
	return s.Took > 0 && s.Length >= least && s.Length.Metres()/s.Took.Seconds() >= leastSpeed.MetresPerSecond()
}

// paceOf gives the paces of a way of travel; what is not known counts as walking.
func paceOf(travel string) struct{ usual, most quantity.Speed } {
	if p, known := paces[travel]; known {
		return p
	}
	return paces["foot"]
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
	pace := paceOf(travel)
	metres, seconds := 0.0, 0.0
	var legs []float64
	for _, s := range record {
		switch {
		case s.Party && s.travels(leastLine):
			metres, seconds = metres+s.Length.Metres(), seconds+s.Took.Seconds()
		case !s.Party && s.travels(leastLeg):
			legs = append(legs, s.Length.Metres()/s.Took.Seconds())
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
