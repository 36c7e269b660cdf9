// Package safety answers what may be said of the ice, the cold and the way home, and may veto every other answer of the
// engine: is the ice here below what a stated load asks for, when must the party start home, and may this hop be advised?
//
// Start with [TurnBackTime], [Ice] and [Hop]; [NewHopper] asks about many hops at once, [Standing] about all that stands
// on the ice. [ColdWatch] and [WayHome] answer smaller questions. Nothing here ever answers that ice is good: whatever is unknown is reported as
// unknown and makes the answer stricter. It assumes that readings and hazards are on the lake's plane and honestly timed.
// The columns of the lake's zones come in from icecover and can only lower a figure below what was drilled. It leaves out
// the shore in [Ice]. Guarded: plan and advise import this package, never the reverse.
// Model note: docs/models/safety.md.
package safety

import (
	"math"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

// Refusal says why no figure is given, or why the answer is stricter.
type Refusal struct {
	Code string // far, thaw_day, hazard, shore, ...: see the model note
	Text string // one plain sentence, at most 90 characters
}

// AirHour is an hour's air temperature.
type AirHour struct {
	Start time.Time
	Air   quantity.Celsius
}

// Nearest is the nearest ice reading with its age and distance.
type Nearest struct {
	Reading  *lake.IceReading
	Age      time.Duration
	Distance quantity.Length
	Bearing  quantity.Bearing // from the place asked about to the reading
}

// HazardNear is a hazard with its distance.
type HazardNear struct {
	Hazard   *lake.Hazard
	Age      time.Duration
	Distance quantity.Length
}

// ForecastHour is one hour of the weather ahead. Told says which members are known.
type ForecastHour struct {
	Start                                                                 time.Time
	Air                                                                   quantity.Celsius
	Wind, Gust                                                            quantity.Speed
	From                                                                  quantity.Bearing
	Snow                                                                  quantity.Length // in the hour
	Sight                                                                 quantity.Length
	Cloud                                                                 float64
	AirTold, WindTold, GustTold, FromTold, SnowTold, SightTold, CloudTold bool
}

// wind gives the wind, when it is told and a number.
func (h ForecastHour) wind() (quantity.Speed, bool) {
	return h.Wind, h.WindTold && !math.IsNaN(float64(h.Wind))
}

// mustHaveZone panics on a caller's mistake: without a zone nobody knows which day it is.
func mustHaveZone(zone *time.Location) {
	if zone == nil {
		panic("safety: no time zone")
	}
}

// dayOf numbers the civil days in the lake's zone.
func dayOf(t time.Time, zone *time.Location) int {
	y, m, d := t.In(zone).Date()
	return (y*100+int(m))*100 + d
}

// sameDay tells whether two instants fall on one civil day in the lake's zone.
func sameDay(a, b time.Time, zone *time.Location) bool { return dayOf(a, zone) == dayOf(b, zone) }
