package icecover

import (
	"math"
	"time"

	"icehand/internal/base/quantity"
)

// Change is what a step of weather did to effective thickness.
type Change struct {
	Until        time.Time // end of the step
	Growth, Melt quantity.Length
}

// Carried is an older reading carried to a later moment.
type Carried struct {
	ForDecision quantity.Length // melt taken off in full, growth not counted: never above what was drilled
	ForPlan     quantity.Length // melt in full and growth at half: a forecast, to be marked so
}

const growthCounts = 0.5 // share of growth that a plan may count; ours

// Carry takes an effective thickness drilled at a moment through the changes after it. A step that was under way when
// the hole was drilled counts with its melt and not with its growth.
func Carry(drilled quantity.Length, at time.Time, changes []Change) Carried {
	decide, plan := drilled.Metres(), drilled.Metres()
	began := time.Time{} // of the step: the end of the one before
	for _, ch := range changes {
		if ch.Until.After(at) {
			decide -= math.Max(0, ch.Melt.Metres())
			plan -= math.Max(0, ch.Melt.Metres())
			if !began.IsZero() && !began.Before(at) {
				// (COVER-5)
				plan += growthCounts * math.Max(0, ch.Growth.Metres())
			}
		}
		began = ch.Until
	}
	return Carried{quantity.Length(math.Max(0, decide)), quantity.Length(math.Max(0, plan))}
}

// Cause is what ends the worth of a reading.
type Cause string

// The causes.
const (
	OldAge        Cause = "age"           // a week of frost has passed
	Thaw          Cause = "thaw"          // air above 0 C
	Rain          Cause = "rain"          // on the ice
	HeavySnow     Cause = "snow"          // more than 10 cm of new snow, see SnowCounts
	Unknown       Cause = "unknown"       // weather that nobody knows, which may have been a thaw
	BrokenUp      Cause = "broken_up"     // by wind
	LevelChanged  Cause = "level_changed" // of the water
	NewCrack      Cause = "crack"         // within reach
	DrilledFuture Cause = "clock"         // the reading is dated ahead of now: its clock cannot be believed
)

// When a reading stops counting; all ours.
const (
	frostLasts = 7 * 24 * time.Hour       // with nothing but frost
	softLasts  = 24 * time.Hour           // after the onset of thaw, rain, heavy snow or unknown weather
	SnowCounts = 10 * quantity.Centimetre // new snow that counts as heavy
	clockSlack = 5 * time.Minute          // by which clocks may differ
)

// Event is something that happened to the ice.
type Event struct {
	Cause Cause
	From  time.Time
	Until time.Time // last moment of it; at From or unset for something that happened at once
}

// Expiry gives the moment from which a reading no longer counts in decisions, and why: a week after it was drilled; a
// day after the onset of thaw, rain, heavy snow or unknown weather; at once where the ice broke, the water level changed
// or a crack opened. What was over before the hole was drilled does not count against it; what was still going on counts
// from then. Any other cause ends the reading at once.
func Expiry(read time.Time, events []Event) (time.Time, Cause) {
	expires, why := read.Add(frostLasts), OldAge
	for _, e := range events {
		last := e.Until
		if last.Before(e.From) {
			last = e.From
		}
		if last.Before(read) {
			continue
		}
		at := e.From
		if at.Before(read) {
			at = read
		}
		switch e.Cause {
		case OldAge:
			continue
		case Thaw, Rain, HeavySnow, Unknown:
			at = at.Add(softLasts)
		}
		if at.Before(expires) {
			expires, why = at, e.Cause
		}
	}
	return expires, why
}

// Counts tells whether a reading still counts at a moment, and if not, why.
func Counts(read, now time.Time, events []Event) (bool, Cause) {
	if read.After(now.Add(clockSlack)) {
		return false, DrilledFuture
	}
	expires, why := Expiry(read, events)
	if !now.Before(expires) {
		return false, why
	}
	return true, ""
}
