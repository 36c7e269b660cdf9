// Package sim answers what a guide's journal could look like: a made-up lake, roaming schools under its ice, days of
// guiding on it, and the demo that is made from them. Everything in it is invented; no result from it is a catch forecast.
//
// Start with [NewDemo] for a filled journal, with [NewLake] and [NewWorld] for a lake and its fish, with [World.GuideDay]
// for one day of searching by line and spiral. The same seed gives the same world, day and demo on one machine.
// It assumes nothing of the engine and shares no model with it: the fish here move and are seen by rules of their own, so
// that advice can be tried on them without being told the answer. Only host/cli and tests may import it.
// It leaves out walleye, other guides' parties, and any bearing on a real water.
// Model note: docs/models/sim.md.
package sim

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/trade/journal"
)

// Zone is the lake's zone. The lake lies in open ocean at 45 W, so that nobody takes it for a real water; there UTC-3
// is the sun's own time.
const Zone = "Etc/GMT+3"

// zone needs no time-zone database: the offset never changes.
var zone = time.FixedZone(Zone, -3*3600)

// origin of the lake's plane: the middle of the lake.
var origin = geo.Position{Lat: 47.9, Lon: -45}

// clock gives an instant of a civil day in the lake's zone.
func clock(day journal.Day, hour, minute int) time.Time {
	return day.Midnight(zone).Add(time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute)
}

// smoothstep rises from 0 at a to 1 at b without corners.
func smoothstep(a, b, x float64) float64 {
	u := math.Min(1, math.Max(0, (x-a)/(b-a)))
	return u * u * (3 - 2*u)
}

// mix goes from a at 0 to b at 1.
func mix(a, b, share float64) float64 { return a + (b-a)*share }
