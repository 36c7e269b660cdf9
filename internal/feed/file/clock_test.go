package file

import (
	"errors"
	"testing"
	"time"
	_ "time/tzdata" // the zones of the tests on every machine
)

var today = time.Date(2026, 1, 15, 0, 0, 0, 0, time.UTC)

func TestDays(t *testing.T) {
	for _, c := range []struct {
		s     string
		order Order
		want  string // "" = refused
	}{
		{"2026-01-14", "", "2026-01-14"}, {"20260114", "", "2026-01-14"}, {"2026/1/4", "", "2026-01-04"}, {"14 Jan 2026", "", "2026-01-14"}, {"14-Jan-26", "", "2026-01-14"},
		{"Jan 14, 2026", "", "2026-01-14"}, {"January 14 2026", "", "2026-01-14"}, {"Wed 14 Jan 2026", "", "2026-01-14"}, {"Wed, Jan 14, 2026", "", "2026-01-14"}, {"14th Sept. 2025", "", "2025-09-14"},
		{"1/14/26", "", "2026-01-14"}, {"14.1.26", "", "2026-01-14"}, {"7/7/25", "", "2025-07-07"}, {"1/9/26", MonthFirst, "2026-01-09"}, {"9/1/26", DayFirst, "2026-01-09"},
		{"1/9/26", "", ""}, {"1/9/26", OrderMixed, ""}, {"1/14/26", DayFirst, ""}, {"14/1/26", MonthFirst, ""}, {"13/13/26", "", ""},
		{"1/14/87", "", ""}, {"29 Feb 2026", "", ""}, {"29 Feb 2024", "", "2024-02-29"}, {"0000-01-01", "", ""}, {"9999-12-31", "", ""}, {"2026-13-01", "", ""}, {"2026-00-10", "", ""},
		{"46036", "", ""}, {"Jan 14", "", ""}, {"14 Foo 2026", "", ""}, {"", "", ""}, {"yesterday", "", ""},
	} {
		d, _, err := ParseDay(c.s, c.order, today)
		if (err != nil) != (c.want == "") || err == nil && d.String() != c.want {
			t.Errorf("%q %s: %v, %v; want %q", c.s, c.order, d, err, c.want)
		}
	}
	if _, _, err := ParseDay("1/9/26", "", today); !errors.Is(err, ErrDateOrder) {
		t.Error(err)
	}
	if _, _, err := ParseDay("1/14/26", "", time.Time{}); err == nil {
		t.Error("a year of two digits needs today")
	}
	if d, rest, err := ParseDay("2026-01-14T09:05Z", "", today); err != nil || rest != "09:05Z" || d.Day != 14 {
		t.Error(d, rest, err)
	}
}

func TestClocks(t *testing.T) {
	for s, want := range map[string]string{
		"9:05": "09:05", "9.05": "09:05", "0905": "09:05", "905": "09:05", "9:05 am": "09:05", "9:05PM": "21:05", "12:10 a.m.": "00:10", "12 pm": "12:00", "14h05": "14:05", "09:05:30": "09:05", "noon": "12:00",
		"24:00": "", "9:60": "", "13:00 pm": "", "9": "", "9.5": "", "0.378": "", "": "", "soon": "", "2500": "", "14:05+25:00": "",
	} {
		c, err := ParseClock(s)
		got := time.Date(2026, 1, 1, c.Hour, c.Minute, 0, 0, time.UTC).Format("15:04")
		if (err != nil) != (want == "") || err == nil && got != want {
			t.Errorf("%q: %s, %v; want %q", s, got, err, want)
		}
	}
}

// The clocks of Chicago went forward on 2026-03-08 and back on 2026-11-01, at 2 o'clock [TZDB].
func TestInstantsOnTheNightsOfTheClockChange(t *testing.T) {
	chicago, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		d    Day
		hour int
		want []string
	}{
		{Day{2026, 3, 8}, 1, []string{"2026-03-08T07:30:00Z"}}, {Day{2026, 3, 8}, 2, nil}, {Day{2026, 3, 8}, 3, []string{"2026-03-08T08:30:00Z"}},
		{Day{2026, 11, 1}, 0, []string{"2026-11-01T05:30:00Z"}}, {Day{2026, 11, 1}, 1, []string{"2026-11-01T06:30:00Z", "2026-11-01T07:30:00Z"}}, {Day{2026, 11, 1}, 2, []string{"2026-11-01T08:30:00Z"}},
	} {
		got := Instants(c.d, Clock{Hour: c.hour, Minute: 30}, chicago)
		if len(got) != len(c.want) {
			t.Errorf("%v %d:30: %v", c.d, c.hour, got)
			continue
		}
		for i, w := range c.want {
			if got[i].UTC().Format(time.RFC3339) != w {
				t.Errorf("%v %d:30: %v, want %s", c.d, c.hour, got[i], w)
			}
		}
	}
	if got := Instants(Day{2026, 11, 1}, Clock{Hour: 1, Offset: time.UTC}, chicago); len(got) != 1 || got[0].Hour() != 1 {
		t.Error("a stated offset decides:", got)
	}
}
