// Package priors says what is believed before the first look: the stage of the season, the depths that perch keep in it,
// how many schools there may be, and how activity runs over the day. All of it is wide and moves with the outfit's own record.
//
// Start with [StageOf], then [Of]. Nothing here is a forecast: the numbers set where a search begins and how fast it
// learns. It assumes roaming perch on a big lake of little structure. The outfit's record is added by package plan.
// Model note: docs/models/search.md.
package priors

import (
	"math"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/physics/sun"
	"icehand/internal/stats/track"
	"icehand/internal/trade/journal"
)

// Stage is a stage of the season.
type Stage string

// The stages.
const (
	Early Stage = "early"
	Mid   Stage = "mid"
	Late  Stage = "late"
)

// StageInput is what the stage is told from, best first; unknown members are left zero.
type StageInput struct {
	Day      journal.Day
	FreezeUp journal.Day     // when the main basin closed
	Ice      quantity.Length // median total thickness of the last days
	North    bool            // the lake lies north of the equator
}

// Basis says what a stage was told from.
type Basis string

// The bases.
const (
	ByFreezeUp Basis = "freeze_up"
	ByIce      Basis = "ice"
	ByDate     Basis = "date"
	ByNothing  Basis = "nothing"
)

const (
	// our own choice on the trade's usage, common practice, no source
	earlyDays = 25
	midDays   = 60
	earlyIce  = 35 * quantity.Centimetre
	midIce    = 65 * quantity.Centimetre
)

// StageOf gives the stage and what it was told from. Without anything it says mid, the widest.
func StageOf(in StageInput) (Stage, Basis) {
	if days, ok := daysBetween(in.FreezeUp, in.Day); ok {
		switch {
		case days < earlyDays:
			return Early, ByFreezeUp
		case days < midDays:
			return Mid, ByFreezeUp
		}
		return Late, ByFreezeUp
	}
	if in.Ice > 0 && in.Ice < earlyIce { // thick ice comes with a long winter or a cold one; thin ice only with a young one
		return Early, ByIce
	}
	day, err := time.Parse(time.DateOnly, string(in.Day))
	if err != nil {
		if in.Ice >= midIce {
			return Late, ByIce
		}
		return Mid, ByNothing
	}
	if !in.North {
		day = day.AddDate(0, 6, 0)
	}
	switch m := day.Month(); {
	case m == time.November || m == time.December:
		return Early, ByDate
	case m == time.January || m == time.February && day.Day() < 15:
		return Mid, ByDate
	case m >= time.February && m <= time.May:
		return Late, ByDate
	}
	return Mid, ByNothing
}

// daysBetween counts civil days; ok is false when either day is unknown, or the order makes no winter.
func daysBetween(from, to journal.Day) (int, bool) {
	a, errA := time.Parse(time.DateOnly, string(from))
	b, errB := time.Parse(time.DateOnly, string(to))
	if errA != nil || errB != nil {
		return 0, false
	}
	d := int(b.Sub(a).Hours() / 24)
	return d, d >= 0 && d < 240
}

// Season is what is believed of the lake before the first look.
type Season struct {
	Stage  Stage
	Depth  quantity.Length // preferred
	Spread quantity.Length // standard deviation of that preference, wide
	// Schools at the preferred depth, by square metre.
	Density      float64
	SchoolRadius quantity.Length
	SchoolSize   float64 // fish, median
	Speed        quantity.Speed
	Phases       track.Rates
	Good         float64 // share of schools that bite well
	Big          float64 // share of schools of good fish
}

// Of gives the beliefs of a stage. Every number is our own assumption, common practice, no source, save the depths, which
// lie within the 9 to 18 m at which most perch were found under ice [HergenraderHasler1966].
func Of(s Stage) Season {
	out := Season{
		Stage: s, Speed: 0.04 * quantity.MetrePerSecond, Good: 0.5, Big: 0.3,
		Phases: track.Rates{Rest: 60 * time.Minute, Travel: 8 * time.Minute, Feed: 25 * time.Minute},
		Spread: 4 * quantity.Metre, // wide: a depth 3 m off costs a search a third of its worth
	}
	perKm2 := 1e-6
	switch s {
	case Early:
		out.Depth, out.Density, out.SchoolRadius, out.SchoolSize = 10*quantity.Metre, 260*perKm2, 7.0*quantity.Metre, 30
	case Late:
		out.Depth, out.Density, out.SchoolRadius, out.SchoolSize = 13.5*quantity.Metre, 80*perKm2, 14.5*quantity.Metre, 250
	default:
		out.Depth, out.Density, out.SchoolRadius, out.SchoolSize = 11.5*quantity.Metre, 165*perKm2, 9.5*quantity.Metre, 70
	}
	return out
}

// Told gives the beliefs of somebody who names the depths at which fish are found at this time. There are as many schools
// as before, in a narrower band.
func (s Season) Told(low, high quantity.Length) Season {
	before := s.Spread
	s.Depth, s.Spread = (low+high)/2, max((high-low)/2, quantity.Metre)
	s.Density *= float64(before / s.Spread)
	return s
}

// DepthPreference gives the share of the preferred depth's schools that is expected at a depth known to within spread.
// An unknown depth (known false) gives the middling share.
func (s Season) DepthPreference(depth, spread quantity.Length, known bool) float64 {
	if !known {
		return unknownDepth
	}
	d, w := float64(depth-s.Depth), float64(s.Spread)
	v := w*w + float64(spread)*float64(spread)
	// (PLAN-20) Gaussian preference, blurred by what is not known of the depth
	p := w / math.Sqrt(v) * math.Exp(-d*d/(2*v))
	return math.Max(p, faintDepth)
}

const (
	unknownDepth = 0.5  // our own choice
	faintDepth   = 0.05 // our own choice: no water is ruled out before it was tried
)

// Activity gives how active perch are at an instant against their mean by day: two humps, a high one in mid-morning and
// a lower one in mid-afternoon, little at night [HergenraderHasler1966]; heights and widths are our own assumption.
func Activity(day sun.Day, at time.Time) float64 {
	if day.Sunrise.Passage != sun.Happens || day.Sunset.Passage != sun.Happens {
		return 1
	}
	length := day.Sunset.Time.Sub(day.Sunrise.Time).Seconds()
	x := at.Sub(day.Sunrise.Time).Seconds() / length
	hump := func(middle, width float64) float64 {
		return math.Exp(-(x - middle) * (x - middle) / (2 * width * width))
	}
	// (PLAN-21) a(x) = 0.45 + 1.0 hump(0.28, 0.12) + 0.55 hump(0.75, 0.12), x the share of the day gone
	a := 0.45 + 1.0*hump(0.28, 0.12) + 0.55*hump(0.75, 0.12)
	if x < -0.05 || x > 1.05 {
		a = 0.3
	}
	return a
}
