package safety

import (
	"math"
	"testing"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

// The slowest member sets the pace on foot, nobody does on a machine, and an age that nobody told counts as grown.
func TestSlowestOf(t *testing.T) {
	for _, c := range []struct {
		travel string
		ages   []string
		want   float64
	}{
		{"foot", nil, 1}, {"foot", []string{"adult", ""}, 1}, {"foot", []string{"adult", "elder"}, 1.25}, {"foot", []string{"elder", "child", "adult"}, 1 / 0.7},
		{"", []string{"child"}, 1 / 0.7}, {"machine", []string{"child"}, 1}, {"vehicle", []string{"elder"}, 1},
	} {
		if got := SlowestOf(c.travel, c.ages); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s with %v: %v, want %v", c.travel, c.ages, got, c.want)
		}
	}
}

func TestLearnedSpeed(t *testing.T) {
	line := func(metres quantity.Length, min float64) Stretch {
		return Stretch{Length: metres, Took: time.Duration(min * float64(time.Minute)), Party: true}
	}
	leg := func(metres quantity.Length, min float64) Stretch {
		return Stretch{Length: metres, Took: time.Duration(min * float64(time.Minute))}
	}
	for name, c := range map[string]struct {
		travel string
		record []Stretch
		want   float64 // km/h
	}{
		"nothing":                   {"foot", nil, 0},
		"the party's line":          {"foot", []Stretch{line(2000, 30)}, 4},
		"two lines count as one":    {"foot", []Stretch{line(1000, 20), line(3000, 40)}, 4},
		"no more than the most":     {"foot", []Stretch{line(3000, 20)}, 5},
		"the most of a machine":     {"machine", []Stretch{line(10000, 15)}, 25},
		"a short line is no travel": {"foot", []Stretch{line(499, 30)}, 0},
		"slower than 1 km/h stood":  {"foot", []Stretch{line(500, 31)}, 0},
		"no time, no speed":         {"foot", []Stretch{line(2000, 0)}, 0},
		"two legs are too few":      {"foot", []Stretch{leg(200, 6), leg(200, 6)}, 0},
		"the middle leg":            {"foot", []Stretch{leg(200, 5), leg(200, 6), leg(200, 8)}, 2},
		"legs only slow":            {"foot", []Stretch{leg(400, 4), leg(400, 4), leg(400, 4)}, 3},
		"short legs do not count":   {"foot", []Stretch{leg(149, 6), leg(149, 6), leg(149, 6)}, 0},
		"the line before the legs":  {"foot", []Stretch{line(2000, 30), leg(200, 8), leg(200, 8), leg(200, 8)}, 4},
	} {
		if got := LearnedSpeed(c.travel, c.record).KilometresPerHour(); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %.3f km/h, want %.3f", name, got, c.want)
		}
	}
}

// A child among the party never makes the turn-back time later, whatever else is known.
func TestSlowerMembersTurnBackEarlier(t *testing.T) {
	in := morning()
	grown := TurnBackTime(in)
	in.Slowest = SlowestOf(in.Travel, []string{"adult", "child"})
	if child := TurnBackTime(in); !child.At.Before(grown.At) {
		t.Errorf("with a child %v, without %v", child.At, grown.At)
	}
}

// Flat light from both sides of each line, and at unknown; what was seen goes before the forecast.
func TestFlatLight(t *testing.T) {
	seen := func(o lake.Observation) *lake.Observation { return &o }
	hour := func(h ForecastHour) *ForecastHour { return &h }
	for name, c := range map[string]struct {
		seen *lake.Observation
		hour *ForecastHour
		want bool
	}{
		"nothing known":            {nil, nil, false},
		"closed sky":               {seen(lake.Observation{Cloud: 0.9, CloudTold: true}), nil, true},
		"broken sky":               {seen(lake.Observation{Cloud: 0.89, CloudTold: true}), nil, false},
		"sight under 3 km":         {seen(lake.Observation{Sight: 2999, SightTold: true}), nil, true},
		"sight of 3 km":            {seen(lake.Observation{Sight: 3000, SightTold: true}), nil, false},
		"light snow":               {seen(lake.Observation{Snowing: "light"}), nil, true},
		"no snow":                  {seen(lake.Observation{Snowing: "none"}), nil, false},
		"forecast of a closed sky": {nil, hour(ForecastHour{Cloud: 1, CloudTold: true}), true},
		"forecast not told":        {nil, hour(ForecastHour{Cloud: 1}), false},
		"forecast of snow":         {nil, hour(ForecastHour{Snow: 0.001, SnowTold: true}), true},
		"seen before forecast":     {seen(lake.Observation{Cloud: 0, CloudTold: true}), hour(ForecastHour{Cloud: 1, CloudTold: true}), false},
		"only air was seen":        {seen(lake.Observation{Air: -10, AirTold: true}), hour(ForecastHour{Cloud: 1, CloudTold: true}), true},
	} {
		if got := FlatLight(c.seen, c.hour); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// Battery and fuel are a deadline like any other: 14:30 - 0:20 packing - 0:30 margin - the way home.
func TestFuelIsADeadline(t *testing.T) {
	in := morning()
	in.Fuel = at(14, 30)
	b := TurnBackTime(in)
	d := deadline(t, b, "fuel")
	if want := at(14, 30).Add(-50*time.Minute - b.Way.Travel); b.Binding.Code != "fuel" || !d.Start.Equal(want) {
		t.Errorf("bound by %s, start %v, want %v", b.Binding.Code, d.Start, want)
	}
	in.Fuel = time.Time{}
	if has(TurnBackTime(in), "fuel") {
		t.Error("a deadline that nobody told")
	}
}
