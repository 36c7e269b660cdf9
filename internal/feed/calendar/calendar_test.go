package calendar

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

// RFC5545, section 3.1: at most 75 octets a line, no character cut. A line of 156 octets, worked out by hand, folds into 75, 75 and 8.
func TestFolding(t *testing.T) {
	line := "DESCRIPTION:" + strings.Repeat("Ice trip plan, é ", 8)
	if len(line) != 156 {
		t.Fatalf("the line has %d octets", len(line))
	}
	var got []int
	for _, l := range strings.Split(strings.TrimSuffix(Fold(line), "\r\n"), "\r\n") {
		got = append(got, len(l))
		if !utf8.ValidString(l) {
			t.Errorf("%q cuts a character", l)
		}
	}
	if fmt.Sprint(got) != "[75 75 8]" {
		t.Error(got)
	}
}

// RFC5545, section 3.3.11: backslash, semicolon, comma and line break are escaped.
func TestEscapes(t *testing.T) {
	for s, want := range map[string]string{"a;b,c\\d": `a\;b\,c\\d`, "two\r\nlines\nmore\rand": `two\nlines\nmore\nand`, "bell\x07": "bell", "\xff": "\ufffd"} {
		if got := escape(s); got != want {
			t.Errorf("%q: %q, want %q", s, got, want)
		}
	}
}

func TestAnEvent(t *testing.T) {
	var b bytes.Buffer
	at := time.Date(2026, 1, 15, 15, 30, 0, 0, time.FixedZone("", -3*3600))
	if err := Write(&b, []Event{{UID: "2026-01-15-turn-back@icehand", Stamp: at.Add(-time.Hour), Start: at, Summary: "Turn back", Description: "Not a forecast;\nadvice only", Alarms: []time.Duration{30 * time.Minute, 0}}}); err != nil {
		t.Fatal(err)
	}
	const want = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//icehand//icehand//EN\r\nBEGIN:VEVENT\r\nUID:2026-01-15-turn-back@icehand\r\nDTSTAMP:20260115T173000Z\r\nDTSTART:20260115T183000Z\r\n" +
		"SUMMARY:Turn back\r\nDESCRIPTION:Not a forecast\\;\\nadvice only\r\nBEGIN:VALARM\r\nACTION:DISPLAY\r\nDESCRIPTION:Turn back\r\nTRIGGER:-PT30M\r\nEND:VALARM\r\n" +
		"BEGIN:VALARM\r\nACTION:DISPLAY\r\nDESCRIPTION:Turn back\r\nTRIGGER:-PT0M\r\nEND:VALARM\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
	if b.String() != want {
		t.Errorf("got\n%s", b.String())
	}
	if err := Write(&b, []Event{{Start: at, Stamp: at}}); err == nil {
		t.Error("an event without identity is written")
	}
	if err := Write(&b, []Event{{UID: "x", Stamp: at, Start: at, End: at.Add(-1)}}); err == nil {
		t.Error("an event that ends before it starts is written")
	}
}

// Whatever the texts, every line has at most 75 octets of whole characters, and no text can open or end a part of the calendar.
func FuzzCalendar(f *testing.F) {
	f.Add("Turn back", "a\nEND:VEVENT\r\nBEGIN:VALARM")
	f.Add(strings.Repeat("é", 100), "\xff\x00;,\\")
	f.Fuzz(func(t *testing.T, summary, description string) {
		var b bytes.Buffer
		at := time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)
		if err := Write(&b, []Event{{UID: "x", Stamp: at, Start: at, Summary: summary, Description: description}}); err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(b.String(), "\r\n")
		parts := 0
		for _, l := range lines {
			if len(l) > maxOctets || !utf8.ValidString(l) || strings.ContainsAny(l, "\r\n") {
				t.Fatalf("%q", l)
			}
			if strings.HasPrefix(l, "BEGIN:") || strings.HasPrefix(l, "END:") {
				parts++
			}
		}
		if parts != 4 {
			t.Fatalf("%d parts in %q", parts, b.String())
		}
	})
}
