package say

import (
	"fmt"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/dusk"
	"icehand/internal/physics/sun"
	"icehand/internal/trade/journal"
)

// SunLine is a named height of the sun and when it passes it.
type SunLine struct {
	Key   string // for programs: civil_dawn
	Name  string // for people: civil dawn
	Event sun.Event
	Clock string // "--:--" when the sun does not pass it
	Says  string // the name, with what is unusual about it
}

// ComputedSun ends every table of the sun.
const ComputedSun = "Computed, not the official table: where a rule hangs on sunrise or sunset, the local table decides."

// Sun lists the heights of a solar day, in their order, and says how long the day is; noon is the day's by the clock.
func (v Voice) Sun(e sun.Day, noon time.Time) (lines []SunLine, length string) {
	for _, x := range []SunLine{
		{Key: "astronomical_dawn", Name: "astronomical dawn", Event: e.AstronomicalDawn}, {Key: "nautical_dawn", Name: "nautical dawn", Event: e.NauticalDawn},
		{Key: "civil_dawn", Name: "civil dawn", Event: e.CivilDawn}, {Key: "sunrise", Name: "sunrise", Event: e.Sunrise},
		{Key: "sunset", Name: "sunset", Event: e.Sunset}, {Key: "civil_dusk", Name: "civil dusk", Event: e.CivilDusk},
		{Key: "nautical_dusk", Name: "nautical dusk", Event: e.NauticalDusk}, {Key: "astronomical_dusk", Name: "astronomical dusk", Event: e.AstronomicalDusk},
	} {
		x.Clock, x.Says = "--:--", fmt.Sprintf("%s: the sun %s that height all day", x.Name, x.Event.Passage)
		if x.Event.Passage == sun.Happens {
			x.Clock, x.Says = v.Clock(x.Event.Time), x.Name+v.otherDay(x.Event.Time, noon)
		}
		lines = append(lines, x)
	}
	return lines, fmt.Sprintf("%s; sun highest %s at %.0f degrees", dayLength(e.Length()), v.Clock(e.Transit), e.NoonElevation.Degrees())
}

// dayLength says how long the sun is up.
func dayLength(d time.Duration) string {
	switch {
	case d <= 0:
		return "the sun does not rise"
	case d >= 24*time.Hour:
		return "the sun does not set"
	}
	return "day " + Span(d)
}

// otherDay says that an event of a solar day falls on the civil date before or after it, as it does far north.
func (v Voice) otherDay(t, noon time.Time) string {
	switch d, day := journal.DayOf(t, v.zone()), journal.DayOf(noon, v.zone()); {
	case d < day:
		return ", the day before"
	case d > day:
		return ", the day after"
	}
	return ""
}

// DaylightText is a day's light at the fish.
type DaylightText struct {
	Head    string // where, under what, and the band
	Course  []LightLine
	Dark    string // instead of a course: there is no light to speak of
	Windows string
	Unknown []string // what of the cover is not known, a sentence each
}

// LightLine is the light at the fish at an hour.
type LightLine struct {
	Clock  string
	Range  string // 0.3 to 12 lux
	About  string
	InBand string // chance of the walleye band
}

// DaylightText says a day's light at the fish.
func (v Voice) DaylightText(d dusk.Daylight, c dusk.Cover, depth quantity.Length) DaylightText {
	snow := v.layer(c.Snow) + " of snow"
	if c.Snow[1] <= 0 {
		snow = "no snow"
	}
	t := DaylightText{Head: "Light at " + v.Units.DepthText(depth) + " under " + snow + " and " + v.layer(c.Ice) + " of ice"}
	if c.Melting {
		t.Head += ", wet on top"
	}
	low, high := dusk.Band()
	t.Head += fmt.Sprintf("; walleye band %.0f to %.0f lux", float64(low), float64(high))
	for _, l := range d.Course {
		about := "about " + luxText(l.Middle)
		if l.Middle < leastLux {
			about = "mostly " + luxText(l.Middle)
		}
		t.Course = append(t.Course, LightLine{v.Clock(l.At), luxText(l.Range.Low) + " to " + luxText(l.Range.High) + " lux", about, Fraction(l.InBand)})
	}
	if len(d.Course) == 0 {
		t.Dark = "too dark all day"
	}
	if t.Windows = v.Windows(d.Windows, dusk.Range{depth, depth}); t.Windows == "" {
		t.Windows = "The light there is not known to come into the walleye band."
	}
	t.Unknown = v.CoverUnknown(c)
	return t
}

// Daylight says a day's light at the fish, a line each.
func (v Voice) Daylight(d dusk.Daylight, c dusk.Cover, depth quantity.Length) []string {
	t := v.DaylightText(d, c, depth)
	out := []string{t.Head + ":"}
	for _, l := range t.Course {
		out = append(out, fmt.Sprintf("  %s  %s, %s; in the walleye band %s", l.Clock, l.Range, l.About, l.InBand))
	}
	if t.Dark != "" {
		out = append(out, "  "+t.Dark)
	}
	return append(append(out, t.Windows), t.Unknown...)
}
