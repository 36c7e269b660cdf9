package cold

import (
	"time"

	"icehand/internal/base/quantity"
)

// The course of falling into ice water, a teaching rule rather than a forecast [Giesbrecht2006].
const (
	BreathControl   = 1 * time.Minute  // to master the gasping
	UsefulMovement  = 10 * time.Minute // hands and arms still work: get out now
	Unconsciousness = 60 * time.Minute // by cooling; sooner without flotation
)

// Carbon monoxide in air, in parts per million by volume.
const (
	COWorkday = 35  // mean over a shift, recommended limit [NIOSHCO]
	COCeiling = 200 // never to be passed, recommended limit [NIOSHCO]
	COLegalUS = 50  // mean over 8 hours, legal limit for US workplaces [OSHACO]
)

// COAlarm is a test point of a household alarm: it must sound within the times at that concentration.
type COAlarm struct {
	PPM              float64
	Earliest, Latest time.Duration
}

// COAlarms lists the test points of [UL2034].
func COAlarms() []COAlarm {
	return []COAlarm{
		{70, 60 * time.Minute, 240 * time.Minute},
		{150, 10 * time.Minute, 50 * time.Minute},
		{400, 4 * time.Minute, 15 * time.Minute},
	}
}

// LowerVent is how high above the floor the lower opening of a heated shelter may be; a second one belongs near the
// top, and both are kept clear of snow [MNDNRShelter].
const LowerVent = 1 * quantity.Foot
