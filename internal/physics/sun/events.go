package sun

import (
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Elevations of the sun's centre, without refraction, that define the events [USNOGlossary].
const (
	RiseSet      quantity.Angle = -50 * quantity.ArcMinute // 34' mean refraction and 16' radius
	Civil        quantity.Angle = -6 * quantity.Degree
	Nautical     quantity.Angle = -12 * quantity.Degree
	Astronomical quantity.Angle = -18 * quantity.Degree
)

// Passage tells whether and when the sun passes an elevation in a day.
type Passage int

// The passages. The zero value is a passage that happens.
const (
	Happens    Passage = iota
	StaysAbove         // the sun does not come down to that elevation
	StaysBelow         // the sun does not come up to that elevation
)

func (p Passage) String() string {
	return [...]string{"happens", "stays above", "stays below"}[p]
}

// Event is one passage. Time is zero unless it happens.
type Event struct {
	Passage Passage
	Time    time.Time
}

// Day holds the events of one solar day: the half day before the transit that falls on a civil date, and the half day
// after it. Far north a dusk can therefore carry the next civil date; its Time says so.
type Day struct {
	AstronomicalDawn, NauticalDawn, CivilDawn, Sunrise Event
	Transit                                            time.Time
	NoonElevation                                      quantity.Angle // at transit, without refraction
	Sunset, CivilDusk, NauticalDusk, AstronomicalDusk  Event
}

// NeverRises tells whether the sun stays down all day.
func (d Day) NeverRises() bool {
	return d.Sunrise.Passage == StaysBelow && d.Sunset.Passage == StaysBelow
}

// NeverSets tells whether the sun stays up all day.
func (d Day) NeverSets() bool {
	return d.Sunrise.Passage == StaysAbove && d.Sunset.Passage == StaysAbove
}

// NoCivilNight tells whether the night after this day stays as light as civil twilight.
func (d Day) NoCivilNight() bool { return d.CivilDusk.Passage == StaysAbove }

// Length gives the time from sunrise to sunset, 0 or 24 hours in the polar cases.
func (d Day) Length() time.Duration {
	start, end := d.Transit.Add(-12*time.Hour), d.Transit.Add(12*time.Hour)
	switch d.Sunrise.Passage {
	case StaysBelow:
		start = d.Transit
	case Happens:
		start = d.Sunrise.Time
	}
	switch d.Sunset.Passage {
	case StaysBelow:
		end = d.Transit
	case Happens:
		end = d.Sunset.Time
	}
	return end.Sub(start)
}

// EventsOn gives the events of a civil date at a place; times are in the given zone. Year, month and day are read as
// [time.Date] reads them. It panics when the place is not a position or the zone is nil.
func EventsOn(year int, month time.Month, day int, p geo.Position, zone *time.Location) Day {
	noon := time.Date(year, month, day, 12, 0, 0, 0, zone)
	transit := transitNear(noon, p)
	before := func(h quantity.Angle) Event { return passage(transit, -12*time.Hour, h, p) }
	after := func(h quantity.Angle) Event { return passage(transit, 12*time.Hour, h, p) }
	return Day{
		AstronomicalDawn: before(Astronomical), NauticalDawn: before(Nautical), CivilDawn: before(Civil), Sunrise: before(RiseSet),
		Transit: transit, NoonElevation: At(transit, p).Elevation,
		Sunset: after(RiseSet), CivilDusk: after(Civil), NauticalDusk: after(Nautical), AstronomicalDusk: after(Astronomical),
	}
}

// transitNear finds the meridian passage nearest to t. The hour angle runs 15 degrees an hour to within 0.01, so
// three steps settle it far below a second.
func transitNear(t time.Time, p geo.Position) time.Time {
	for range 3 {
		hours := orbitAt(t).hourAngle(t, p.Lon) / 15
		t = t.Add(-time.Duration(hours * float64(time.Hour)))
	}
	return t
}

// passage finds when the sun passes elevation h between the transit and half a day from it, to a tenth of a second.
// Over that half day the elevation falls steadily from its highest to its lowest, but for the sun's own drift in
// declination, at most 0.2 degrees in the half day, which matters only within minutes of the lowest point.
func passage(transit time.Time, half time.Duration, h quantity.Angle, p geo.Position) Event {
	if At(transit, p).Elevation < h {
		return Event{Passage: StaysBelow}
	}
	if At(transit.Add(half), p).Elevation > h {
		return Event{Passage: StaysAbove}
	}
	above, below := time.Duration(0), half
	for (above - below).Abs() > 100*time.Millisecond {
		mid := (above + below) / 2
		if At(transit.Add(mid), p).Elevation > h {
			above = mid
		} else {
			below = mid
		}
	}
	return Event{Time: transit.Add(below)}
}
