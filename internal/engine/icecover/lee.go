package icecover

import (
	"math"
	"time"

	"icehand/internal/base/quantity"
)

// LeeReach is how far out from the upwind shore drifts settle; ours. Within it a place lies in the lee, beyond it the wind
// blows the snow off.
const LeeReach = 1 * quantity.Kilometre

// When a wind counts as the prevailing one; all ours.
const (
	driftWind   = 5.0 // m/s at 10 m, below which hardly any snow moves
	driftHours  = 48  // of such wind since freeze-up
	driftSteady = 0.5 // length of the sum of all drift over the sum of its lengths
)

// Prevailing gives where the wind that moves the snow comes from; false while too few hours of it are told, or while it
// comes from everywhere. Of several tellings of one hour the last counts.
func Prevailing(since time.Time, hours []Hour) (quantity.Bearing, bool) {
	told := map[time.Time]Hour{}
	for _, h := range hours {
		if h.WindTold && !h.Start.Before(since) {
			told[h.Start.Truncate(time.Hour).UTC()] = h
		}
	}
	east, north, all, n := 0.0, 0.0, 0.0, 0
	for _, h := range told {
		v := h.Wind.MetresPerSecond()
		if !(v >= driftWind) {
			continue
		}
		// (COVER-14)
		q := v * v * v
		sin, cos := math.Sincos(h.From.Degrees() * math.Pi / 180)
		east, north, all, n = east+q*sin, north+q*cos, all+q, n+1
	}
	if n < driftHours || math.Hypot(east, north) < driftSteady*all {
		return 0, false
	}
	return quantity.NewBearing(math.Round(math.Atan2(east, north) * 180 / math.Pi)), true
}
