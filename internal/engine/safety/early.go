package safety

import (
	"fmt"
	"math"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

// Came is a shift of the wind that was seen on the ice.
type Came struct {
	When     time.Time // of the first record that shows it
	Station  string    // that measured it; "": seen on the ice
	From     quantity.Bearing
	Forecast time.Time // when the forecast has it shift; zero: it foretells none
}

// Lead gives how much earlier than foretold the shift came; 0 when it was late or not foretold.
func (c Came) Lead() time.Duration {
	if c.Forecast.IsZero() {
		return 0
	}
	return max(0, c.Forecast.Sub(c.When))
}

// ShiftCame compares what was seen on the ice with the forecast: has the wind turned already? The party came out in the
// wind seen last by then, or else first; the forecast's wind of that hour counts beside it, and a record that has turned
// from either is a shift. Both lists are by time. Records from before coming out, ahead of now, or without direction or speed show none.
func ShiftCame(observed []lake.Observation, forecast []ForecastHour, out, now time.Time, zone *time.Location) (Came, bool) {
	mustHaveZone(zone)
	y, m, d := out.In(zone).Date()
	end := time.Date(y, m, d+1, 0, 0, 0, 0, zone)
	told := findShift(forecast, out, end)
	var refs []quantity.Bearing
	if b, ok := morningWind(forecast, out, end); ok {
		refs = append(refs, b)
	}
	if b, ok := windSeen(observed, out, now, zone); ok {
		refs = append(refs, b)
	}
	for _, o := range observed {
		if !tellsWind(o) || o.When.Before(out) || o.When.After(now.Add(clockSlack)) || o.Wind < shiftWind {
			continue
		}
		for _, ref := range refs {
			if turned(ref, o.From) >= shiftAngle {
				return Came{When: o.When, Station: o.Station, From: o.From, Forecast: told.when}, true
			}
		}
	}
	return Came{}, false
}

// tellsWind tells whether a record has a wind with its direction.
func tellsWind(o lake.Observation) bool {
	return o.WindTold && o.FromTold && !math.IsNaN(float64(o.Wind)) && !math.IsNaN(float64(o.From))
}

// windSeen gives the direction in which the party came out as seen on the ice: the last steady wind of the day by then,
// or else the first one after.
func windSeen(observed []lake.Observation, out, now time.Time, zone *time.Location) (from quantity.Bearing, ok bool) {
	for _, o := range observed { // by time
		if !tellsWind(o) || o.Wind < steadyWind || !sameDay(o.When, out, zone) || o.When.After(now.Add(clockSlack)) {
			continue
		}
		if ok && o.When.After(out) {
			break
		}
		from, ok = o.From, true
	}
	return from, ok
}

// shifted gives the moment that decides whether a crossing was read before or after the wind shifted. Of shifts that have
// come, seen or foretold, the later counts, and of those still ahead the earlier: neither makes a crossing stay open.
func (b *reckoning) shifted() time.Time {
	told, seen := b.shift.when, b.came.When
	if m := b.measured.When; m.After(seen) { // both have come
		seen = m
	}
	if seen.IsZero() {
		return told
	}
	if seen.After(b.in.Now) { // a clock ahead: it has come all the same
		seen = b.in.Now
	}
	switch {
	case told.IsZero() || told.After(b.in.Now):
		return seen
	case seen.After(told):
		return seen
	}
	return told
}

// early adds the deadline of a shift that has been seen on the ice, and that of one that a station measured: each is
// compared with its own kind and the forecast alone, for a hill may turn the wind at one and not at the other. It stands beside the foretold one and never in its place: a
// record a few minutes ahead of the forecast would else take the forecast's doubt away and make the answer later.
func (b *reckoning) early() {
	b.addCame("wind_came", b.came)
	b.addCame("wind_measured", b.measured)
}

func (b *reckoning) addCame(code string, c Came) {
	if c.When.IsZero() {
		return
	}
	travel, away := b.behindBarrier()
	at := b.clock(c.When)
	if c.Station != "" {
		at += " by " + c.Station
	}
	what := fmt.Sprintf("wind turned %s at %s", c.From.Compass(), at)
	switch lead := c.Lead(); {
	case c.Forecast.IsZero():
		what += ", not forecast"
	case lead >= time.Minute:
		what = fmt.Sprintf("wind already %s at %s, %s early", c.From.Compass(), at, leadText(lead))
	}
	b.add(code, c.When, 0, travel, what+"; "+away)
}

// leadText tells a lead in hours from an hour and a half up, else in minutes.
func leadText(d time.Duration) string {
	if d < 90*time.Minute {
		return fmt.Sprintf("%d min", int(d.Minutes()))
	}
	return fmt.Sprintf("%d h", int(d.Round(time.Hour).Hours()))
}
