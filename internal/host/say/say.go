// Package say answers how the engine's data is put into words and units: the next step, its reasons, odds, ice,
// turn-back time, cold and the evening plan, the same on every page and in every command.
//
// Start with a [Voice] and its [Voice.Step]. Everything here is a pure function of its arguments.
// It assumes that data come from the engine unrounded: rounding happens here, and never so that ice, odds or time
// left look better than they are. It leaves out layout: pages and commands put the sentences where they belong.
package say

import (
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// Longest is how many characters an advice line or its reason may have.
const Longest = 90

// Voice says things in one unit system, zone and moment.
type Voice struct {
	Units quantity.System
	Zone  *time.Location // nil: UTC
	Now   time.Time
	// Hole names a hole on record, as [HoleName] does; nil: holes are not named.
	Hole func(uuid.UUID) string
	// Person names somebody of the party; nil or "": not named.
	Person func(uuid.UUID) string
	// Writer names who wrote with an account at an instant; nil or "": not named.
	Writer func(account uuid.UUID, when time.Time) string
}

func (v Voice) zone() *time.Location {
	if v.Zone == nil {
		return time.UTC
	}
	return v.Zone
}

func (v Voice) today() journal.Day { return journal.DayOf(v.Now, v.zone()) }

// Clock writes the hour and minute of an instant in the lake's zone; "--:--" when it is not known.
func (v Voice) Clock(t time.Time) string {
	if t.IsZero() {
		return "--:--"
	}
	return t.In(v.zone()).Format("15:04")
}

// Date writes a day as people say it: 15 Jan.
func Date(d journal.Day) string {
	t, err := time.Parse(time.DateOnly, string(d))
	if err != nil {
		return string(d)
	}
	return t.Format("2 Jan")
}

// When writes an instant: the clock today, else day and clock.
func (v Voice) When(t time.Time) string {
	if d := journal.DayOf(t, v.zone()); d != v.today() {
		return Date(d) + " " + v.Clock(t)
	}
	return v.Clock(t)
}

// Span writes a length of time to what it deserves: 40 s, 12 min, 2 h 10, 5 d.
func Span(d time.Duration) string {
	if d < 0 {
		d = -d
	}
	switch m := int(d / time.Minute); {
	case d < time.Minute:
		return fmt.Sprintf("%d s", int(d/time.Second))
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m < 24*60 && m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	case m < 24*60:
		return fmt.Sprintf("%d h %02d", m/60, m%60)
	default:
		return fmt.Sprintf("%d d", m/(24*60))
	}
}

// Age writes how old something is: just now, 12 min ago, 2 h ago, 3 d ago. Hours are rounded down past the half hour, so
// that "2 h ago" is at most two and a half hours old.
func Age(d time.Duration) string {
	switch h := d.Hours(); {
	case d < time.Minute:
		return "just now"
	case d < 90*time.Minute:
		return fmt.Sprintf("%d min ago", int(d/time.Minute))
	case h < 23.5:
		return fmt.Sprintf("%.0f h ago", h)
	default:
		return fmt.Sprintf("%.0f d ago", math.Max(1, h/24))
	}
}

// Ago writes the age of an instant.
func (v Voice) Ago(t time.Time) string { return Age(v.Now.Sub(t)) }

// HoleName names a hole: its number today, number and date for an older one.
func HoleName(h *lake.Hole, today journal.Day) string {
	if h.Day == today {
		return fmt.Sprint(h.Number)
	}
	return fmt.Sprintf("%d of %s", h.Number, Date(h.Day))
}

// hole names a hole; empty when it cannot be named.
func (v Voice) hole(id uuid.UUID) string {
	if v.Hole == nil || id == uuid.Nil {
		return ""
	}
	return v.Hole(id)
}

// Place puts a spot into words a mitten can follow: 80 paces WSW of 42, on the line 41 to 42.
func (v Voice) Place(a *advise.Anchor) string {
	if a == nil {
		return "at the place shown on the map"
	}
	name := fmt.Sprint(a.Number)
	if a.Day != "" && journal.Day(a.Day) != v.today() {
		name += " of " + Date(journal.Day(a.Day))
	}
	s := "beside " + name
	if a.Paces > 0 {
		s = fmt.Sprintf("%d paces %s of %s", a.Paces, a.Bearing.Compass(), name)
	}
	if a.OnLine != nil {
		s += fmt.Sprintf(", on the line %d to %d", a.OnLine[0], a.OnLine[1])
	}
	return s
}

// Degrees writes a bearing as whole true degrees: 247 true.
func Degrees(b quantity.Bearing) string {
	return fmt.Sprintf("%03.0f true", math.Mod(math.Round(b.Degrees()), 360))
}

// fit keeps a line to its length; what is too long loses whole words at its end.
func fit(s string) string {
	if utf8.RuneCountInString(s) <= Longest {
		return s
	}
	r := []rune(s)[:Longest-4]
	cut := strings.LastIndexByte(string(r), ' ')
	if cut < 0 {
		cut = len(string(r))
	}
	return strings.TrimRight(string(r)[:cut], " ,;:") + " ..."
}

// first makes the first letter of a sentence large.
func first(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// list joins words: 1, 2 and 3.
func list(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// Few writes a number of things: 1 hole, 3 holes.
func Few(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
