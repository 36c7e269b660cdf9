package icecover

import (
	"math"
	"testing"
	"time"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// Each rule from both sides of its line, and at unknown.
func TestExpiry(t *testing.T) {
	read := time.Date(2026, 1, 15, 9, 0, 0, 0, time.UTC)
	h := func(hours float64) time.Time { return read.Add(time.Duration(hours * float64(time.Hour))) }
	for _, c := range []struct {
		name   string
		events []Event
		hours  float64 // after the reading, at which it stops counting
		why    Cause
	}{
		{"frost", nil, 7 * 24, OldAge},
		{"thaw", []Event{{Thaw, h(30), h(33)}}, 54, Thaw},
		{"rain", []Event{{Rain, h(30), h(33)}}, 54, Rain},
		{"heavy snow", []Event{{HeavySnow, h(30), h(48)}}, 54, HeavySnow},
		{"unknown weather counts as thaw", []Event{{Unknown, h(30), h(33)}}, 54, Unknown},
		{"thaw over before the hole was drilled", []Event{{Thaw, h(-30), h(-1)}}, 7 * 24, OldAge},
		{"thaw going on when it was drilled", []Event{{Thaw, h(-30), h(1)}}, 24, Thaw},
		{"thaw so late that age comes first", []Event{{Thaw, h(160), h(161)}}, 7 * 24, OldAge},
		{"broken up", []Event{{BrokenUp, h(5), time.Time{}}}, 5, BrokenUp},
		{"water level", []Event{{LevelChanged, h(5), h(5)}}, 5, LevelChanged},
		{"crack", []Event{{NewCrack, h(5), h(5)}}, 5, NewCrack},
		{"crack opened before", []Event{{NewCrack, h(-1), h(-1)}}, 7 * 24, OldAge},
		{"level changing while it was drilled", []Event{{LevelChanged, h(-1), h(1)}}, 0, LevelChanged},
		{"the first of several", []Event{{Thaw, h(50), h(51)}, {NewCrack, h(60), h(60)}, {Rain, h(70), h(71)}}, 60, NewCrack},
		{"a cause that is not listed", []Event{{"flood", h(3), h(3)}}, 3, "flood"},
	} {
		until, why := Expiry(read, c.events)
		if !until.Equal(h(c.hours)) || why != c.why {
			t.Errorf("%s: %v %s, want %v %s", c.name, until.Sub(read), why, c.hours, c.why)
		}
		for _, now := range []struct {
			at     time.Time
			counts bool
		}{{until.Add(-time.Second), true}, {until, false}} {
			if now.at.Before(read) {
				continue
			}
			if ok, _ := Counts(read, now.at, c.events); ok != now.counts {
				t.Errorf("%s: at %v counts %v", c.name, now.at.Sub(read), ok)
			}
		}
	}
	if ok, why := Counts(read, read.Add(-4*time.Minute), nil); !ok {
		t.Errorf("a clock a little ahead: %s", why)
	}
	if ok, why := Counts(read, read.Add(-6*time.Minute), nil); ok || why != DrilledFuture {
		t.Errorf("dated ahead: %v %s", ok, why)
	}
}

// For decisions nothing is ever above what was drilled; a plan counts growth at half; melt counts in full for both.
func TestCarry(t *testing.T) {
	at := time.Date(2026, 1, 15, 9, 0, 0, 0, time.UTC)
	day := func(n int) time.Time { return time.Date(2026, 1, 15+n, 0, 0, 0, 0, time.UTC) }
	changes := []Change{
		{day(0), 0.5, 0.5}, // over before the hole
		{day(1), 0.02, 0.001}, {day(2), 0.02, 0}, {day(3), 0, 0.03}, {day(4), 0.01, 0},
	}
	got := Carry(0.40, at, changes)
	if math.Abs(got.ForDecision.Metres()-(0.40-0.031)) > 1e-12 || math.Abs(got.ForPlan.Metres()-(0.40-0.031+0.015)) > 1e-12 {
		t.Errorf("%+v", got)
	}
	rng := num.NewStream(8, "carry")
	for range 300 {
		h := quantity.Length(0.6 * rng.Float64())
		var cs []Change
		for n := range rng.IntN(12) {
			cs = append(cs, Change{day(n), quantity.Length(0.03 * rng.Float64()), quantity.Length(0.1 * rng.Float64() * float64(rng.IntN(2)))})
		}
		c := Carry(h, at, cs)
		if c.ForDecision > h || c.ForDecision < 0 || c.ForPlan < c.ForDecision {
			t.Fatalf("%v: %+v", h, c)
		}
	}
}
