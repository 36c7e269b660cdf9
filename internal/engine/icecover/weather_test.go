package icecover

import (
	"testing"
	"time"

	"icehand/internal/base/quantity"
)

var noon = time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)

// hourly gives hours from a moment on with one air temperature.
func hourly(from time.Time, n int, air quantity.Celsius) []Hour {
	out := make([]Hour, n)
	for i := range out {
		out[i] = Hour{Start: from.Add(time.Duration(i) * time.Hour), Air: air, AirTold: true}
	}
	return out
}

func TestSteps(t *testing.T) {
	hours := hourly(noon, 30, -10)
	hours[1].Air = -4
	hours[7].Snow, hours[7].SnowTold = quantity.Centimetre, true
	hours = append(hours, Hour{Start: noon, Air: -16, AirTold: true}) // told again: this counts
	steps, err := Steps(noon, noon.Add(29*time.Hour), hours)
	if err != nil || len(steps) != 5 {
		t.Fatalf("%d steps, %v", len(steps), err)
	}
	if steps[0].Air != -10 || steps[0].Span != 6*time.Hour || steps[4].Span != 5*time.Hour {
		t.Errorf("%+v", steps)
	}
	// untold snow is 1.2 kg/m2 a day; a centimetre of new snow in one told hour of six stands for six such hours of 120 kg/m3
	if s := float64(steps[0].Snowfall); s < 0.299 || s > 0.301 {
		t.Errorf("untold snow %v", s)
	}
	if s := float64(steps[1].Snowfall); s < 7.19 || s > 7.21 {
		t.Errorf("told snow %v", s)
	}
	if none, err := Steps(noon, noon, nil); err != nil || none != nil {
		t.Error("no time at all")
	}
}

// Gaps from both sides of three days, at the start and at the end.
func TestStepsGaps(t *testing.T) {
	day := 24 * time.Hour
	with := func(from, n int) []Hour { return hourly(noon.Add(time.Duration(from)*time.Hour), n, -10) }
	for _, c := range []struct {
		name  string
		hours []Hour
		until time.Duration
		ok    bool
	}{
		{"three days missing", append(with(0, 6), with(6+72, 6)...), 84 * time.Hour, true},
		{"a step more", append(with(0, 6), with(6+78, 6)...), 90 * time.Hour, false},
		{"start missing", with(6, 20), day, false},
		{"one step missing at the end", with(0, 18), day, true},
		{"two steps missing at the end", with(0, 12), day, false},
		{"nothing known", nil, day, false},
	} {
		if steps, err := Steps(noon, noon.Add(c.until), c.hours); (err == nil) != c.ok || c.ok && len(steps) != int(c.until/stepSpan) {
			t.Errorf("%s: %d steps, %v", c.name, len(steps), err)
		}
	}
	warmer := append(with(0, 6), hourly(noon.Add(18*time.Hour), 6, -4)...)
	steps, err := Steps(noon, noon.Add(day), warmer)
	if err != nil || steps[1].Air != -8 || steps[2].Air != -6 {
		t.Errorf("a gap is filled in a straight line: %+v %v", steps, err)
	}
}

func TestEvents(t *testing.T) {
	begin := noon.Add(-7 * 24 * time.Hour)
	frost := hourly(begin, 7*24, -5)
	if e := Events(noon, frost); len(e) != 0 {
		t.Errorf("a week of frost: %+v", e)
	}
	frost[50].Air, frost[51].Air, frost[52].Air = 0.1, 0.2, 0
	for i := 100; i < 104; i++ {
		frost[i].AirTold = false
	}
	for i := 120; i < 130; i++ {
		frost[i].Snow, frost[i].SnowTold = 1.01*cm, true
	}
	got := Events(noon, frost)
	want := []Event{{Thaw, begin.Add(50 * time.Hour), begin.Add(52 * time.Hour)}, {Unknown, begin.Add(100 * time.Hour), begin.Add(104 * time.Hour)},
		{Cause: HeavySnow, From: begin.Add(129 * time.Hour)}}
	if len(got) != len(want) {
		t.Fatalf("%+v", got)
	}
	for i := range want {
		if got[i].Cause != want[i].Cause || !got[i].From.Equal(want[i].From) || !got[i].Until.Equal(want[i].Until) {
			t.Errorf("%+v, want %+v", got[i], want[i])
		}
	}
	frost[100].AirTold = true
	for i := 120; i < 130; i++ {
		frost[i].Snow = cm
	}
	if got = Events(noon, frost); len(got) != 1 || got[0].Cause != Thaw {
		t.Errorf("three unknown hours and 10 cm of snow: %+v", got)
	}
	frost[110].Rain = true // freezing rain
	if got = Events(noon, append(frost, Hour{Start: frost[110].Start, Air: -3, AirTold: true})); len(got) != 2 || got[1].Cause != Rain || !got[1].From.Equal(frost[110].Start) {
		t.Errorf("rain: %+v", got)
	}
	if got = Events(noon, nil); len(got) != 1 || got[0].Cause != Unknown {
		t.Errorf("nothing known: %+v", got)
	}
}
