// Package calendar answers how hours of the day reach the calendar of a telephone: it writes iCalendar files [RFC5545].
//
// Start with [Write]. Times are written in UTC, so that no zone has to travel along, and an event keeps its identity: written again
// with the same UID and a later stamp it replaces the one before.
// It assumes that the file goes to people ashore too, so it takes no position. It leaves out reading calendars,
// repetition, and guests to invite.
package calendar

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"icehand/internal/base/fault"
)

// Event is one entry of a calendar.
type Event struct {
	UID                  string    // the same for every version of the event; must not be empty
	Stamp                time.Time // when this version was made
	Start, End           time.Time // End zero = a point in time
	Summary, Description string
	Alarms               []time.Duration // before the start, none negative
}

// Write writes a calendar.
func Write(w io.Writer, events []Event) error {
	o := bufio.NewWriter(w)
	put := func(s string) { _, _ = o.WriteString(Fold(s)) } // the first error is kept for Flush
	for _, s := range []string{"BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//icehand//icehand//EN"} {
		put(s)
	}
	for _, e := range events {
		if e.UID == "" || e.Stamp.IsZero() || e.Start.IsZero() || !e.End.IsZero() && e.End.Before(e.Start) {
			return fault.New(fault.BadInput, "", "the event %q has no identity or no time to stand at", e.Summary)
		}
		put("BEGIN:VEVENT")
		put("UID:" + escape(e.UID))
		put("DTSTAMP:" + utc(e.Stamp))
		put("DTSTART:" + utc(e.Start))
		if !e.End.IsZero() {
			put("DTEND:" + utc(e.End))
		}
		put("SUMMARY:" + escape(e.Summary))
		if e.Description != "" {
			put("DESCRIPTION:" + escape(e.Description))
		}
		for _, before := range e.Alarms {
			put("BEGIN:VALARM")
			put("ACTION:DISPLAY")
			put("DESCRIPTION:" + escape(e.Summary))
			put(fmt.Sprintf("TRIGGER:-PT%dM", max(0, int(before/time.Minute))))
			put("END:VALARM")
		}
		put("END:VEVENT")
	}
	put("END:VCALENDAR")
	if err := o.Flush(); err != nil {
		return fmt.Errorf("calendar: writing: %w", err)
	}
	return nil
}

// maxOctets is the longest line, its end not counted [RFC5545, section 3.1].
const maxOctets = 75

// Fold ends a line, and breaks it where it grows too long, never inside a character.
func Fold(s string) string {
	var b strings.Builder
	n := 0
	for _, r := range s {
		size := utf8.RuneLen(r)
		if n+size > maxOctets {
			b.WriteString("\r\n ")
			n = 1
		}
		b.WriteRune(r)
		n += size
	}
	b.WriteString("\r\n")
	return b.String()
}

// escape writes a text value [RFC5545, section 3.3.11]; control characters have no place in one.
func escape(s string) string {
	s = strings.NewReplacer("\\", "\\\\", ";", "\\;", ",", "\\,", "\r\n", "\\n", "\n", "\\n", "\r", "\\n").Replace(strings.ToValidUTF8(s, "\ufffd"))
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\t' || r == 0x7f {
			return -1
		}
		return r
	}, s)
}

func utc(t time.Time) string { return t.UTC().Format("20060102T150405Z") }
