package safety

import (
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

func saw(when time.Time, wind quantity.Speed, from quantity.Bearing) lake.Observation {
	return lake.Observation{When: when, Wind: wind, From: from, WindTold: true, FromTold: true}
}

// The made-up day with the shift foretold for 17:00 and seen at 15:00: whoever has not started yet starts now.
func TestAShiftSeenTwoHoursEarlyBindsTheWayHome(t *testing.T) {
	in := morning()
	in.Now = at(15, 5)
	in.Issued = at(14, 0)
	before := TurnBackTime(in)
	in.Observed = []lake.Observation{saw(at(7, 0), 10*kmh, 225), saw(at(15, 0), 22*kmh, 315)}
	b := TurnBackTime(in)
	d := deadline(t, b, "wind_came")
	if b.Binding.Code != "wind_came" || !d.When.Equal(at(15, 0)) || d.Doubt != 0 || !b.At.Before(before.At) || !b.At.Before(in.Now) {
		t.Errorf("bound by %s at %v, before it was %v", b.Binding.Code, b.At, before.At)
	}
	if !strings.HasPrefix(d.Text, "wind already NW at 15:00, 2 h early; ") || len(d.Text) > 90 {
		t.Errorf("%q", d.Text)
	}
	// (SAFETY-1) by hand: nothing but travel, packing and margin comes off
	if want := at(15, 0).Add(-d.Travel - 20*time.Minute - 30*time.Minute); !d.Start.Equal(want) || d.Travel < 40*time.Minute {
		t.Errorf("start %v, want %v", d.Start, want)
	}
	if kept := deadline(t, b, "wind_shift"); !kept.When.Equal(at(17, 0)) {
		t.Errorf("the foretold shift has gone: %+v", kept)
	}
	// the crossing was read at 06:58, before the shift that has come: nobody may count on it
	if len(b.Way.Line) != 0 && b.Way.Basis == before.Way.Basis {
		t.Errorf("way %+v", b.Way)
	}
}

func TestShiftsSeenFromBothSides(t *testing.T) {
	out, now := at(6, 0), at(12, 0)
	sw := saw(at(6, 30), 10*kmh, 225)
	for _, c := range []struct {
		name     string
		seen     []lake.Observation
		forecast []ForecastHour
		want     bool
	}{
		{"nothing seen", nil, hourly(17), false},
		{"as foretold", []lake.Observation{saw(at(11, 0), 20*kmh, 225)}, hourly(17), false},
		{"60 degrees off the forecast's morning", []lake.Observation{saw(at(11, 0), 15*kmh, 285)}, hourly(25), true},
		{"59 degrees off the forecast's morning", []lake.Observation{saw(at(11, 0), 15*kmh, 284)}, hourly(25), false},
		{"60 degrees off the wind seen", []lake.Observation{sw, saw(at(11, 0), 15*kmh, 165)}, nil, true},
		{"59 degrees off the wind seen", []lake.Observation{sw, saw(at(11, 0), 15*kmh, 166)}, nil, false},
		{"a light wind", []lake.Observation{saw(at(11, 0), 14.9*kmh, 315)}, hourly(17), false},
		{"through north", []lake.Observation{saw(at(7, 0), 10*kmh, 330), saw(at(11, 0), 20*kmh, 40)}, nil, true},
		{"no direction", []lake.Observation{{When: at(11, 0), Wind: 20 * kmh, WindTold: true}}, hourly(17), false},
		{"no speed", []lake.Observation{{When: at(11, 0), From: 315, FromTold: true}}, hourly(17), false},
		{"one record and no forecast", []lake.Observation{saw(at(11, 0), 20*kmh, 315)}, nil, false},
		{"yesterday", []lake.Observation{sw, saw(at(11, 0).AddDate(0, 0, -1), 20*kmh, 315)}, hourly(17), false},
		{"before coming out", []lake.Observation{saw(at(5, 59), 20*kmh, 315)}, hourly(17), false},
		{"at coming out", []lake.Observation{saw(at(6, 0), 20*kmh, 315)}, hourly(17), true},
		{"a clock 15 min ahead", []lake.Observation{saw(at(12, 15), 20*kmh, 315)}, hourly(17), true},
		{"a clock 16 min ahead", []lake.Observation{saw(at(12, 16), 20*kmh, 315)}, hourly(17), false},
		{"a calm morning has no direction", []lake.Observation{saw(at(6, 0), 4.9*kmh, 225), saw(at(11, 0), 20*kmh, 315)}, nil, false},
		{"the last wind before coming out counts", []lake.Observation{saw(at(4, 0), 10*kmh, 315), saw(at(5, 0), 10*kmh, 225), saw(at(11, 0), 20*kmh, 225)}, nil, false},
		{"it turned and turned back", []lake.Observation{sw, saw(at(10, 0), 20*kmh, 315), saw(at(11, 0), 20*kmh, 225)}, nil, true},
	} {
		if came, ok := ShiftCame(c.seen, c.forecast, out, now, zone); ok != c.want {
			t.Errorf("%s: %v, %+v", c.name, ok, came)
		}
	}
}

func TestWordsOfAShiftSeen(t *testing.T) {
	for _, c := range []struct {
		turns        int
		hour, minute int
		want         string
	}{
		{17, 15, 0, "wind already NW at 15:00, 2 h early; "}, {17, 16, 20, "wind already NW at 16:20, 40 min early; "},
		{17, 17, 10, "wind turned NW at 17:10; "}, {25, 15, 0, "wind turned NW at 15:00, not forecast; "},
	} {
		in := morning()
		in.Now, in.Forecast = at(18, 0), hourly(c.turns)
		in.Observed = []lake.Observation{saw(at(c.hour, c.minute), 22*kmh, 315)}
		if d := deadline(t, TurnBackTime(in), "wind_came"); !strings.HasPrefix(d.Text, c.want) {
			t.Errorf("%q, want %q", d.Text, c.want)
		}
	}
}

// A shift foretold for noon came at three: a crossing read in between was read before the wind turned.
func TestACrossingReadBeforeALateShiftIsShut(t *testing.T) {
	for _, c := range []struct {
		read int // o'clock
		open bool
	}{{11, false}, {13, false}, {16, true}} {
		in := morning()
		in.Now, in.Forecast = at(16, 30), hourly(12)
		wall, crossing := ridge()
		crossing.When = at(c.read, 0)
		in.Hazards = []*lake.Hazard{wall, crossing}
		in.Observed = []lake.Observation{saw(at(7, 0), 10*kmh, 225), saw(at(15, 0), 22*kmh, 315)}
		if w := TurnBackTime(in).Way; (w.Basis == "this morning's line") != c.open {
			t.Errorf("read at %d: %+v", c.read, w)
		}
	}
}

// What is seen on the ice never makes the turn-back time later, whatever was foretold, read and overridden.
func TestWhatIsSeenNeverMakesItLater(t *testing.T) {
	const seed = 20260115
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 1))
	bound := 0
	for range 3000 {
		in := morning()
		in.Now = at(6+r.IntN(14), r.IntN(60))
		in.Issued = at(5, 0).Add(-time.Duration(r.IntN(12)) * time.Hour)
		in.Forecast = hourly(r.IntN(30))
		for i := range in.Forecast {
			if r.IntN(6) == 0 {
				in.Forecast[i].From = quantity.Bearing(r.IntN(360))
			}
		}
		if r.IntN(8) == 0 {
			in.Forecast = nil
		}
		for i := range in.Hazards { // the crossing was read at any hour
			if in.Hazards[i].Report == "crossing" {
				read := *in.Hazards[i]
				read.When = at(6+r.IntN(14), 30)
				in.Hazards[i] = &read
			}
		}
		if r.IntN(3) == 0 {
			in.Override = &Override{Set: in.Now, Until: at(12+r.IntN(6), 0), Reason: "crossing_read", Computed: at(12+r.IntN(6), 0)}
		}
		without := TurnBackTime(in)
		for h := range 14 {
			if r.IntN(3) == 0 {
				in.Observed = append(in.Observed, saw(at(5+h, r.IntN(60)), quantity.Speed(r.IntN(40))*kmh, quantity.Bearing(r.IntN(360))))
			}
		}
		with := TurnBackTime(in)
		if with.At.After(without.At) || with.Computed.After(without.Computed) {
			t.Fatalf("%v, without what was seen %v: at %v of the forecast %+v, seen %+v", with.At, without.At, in.Now, without.Binding, in.Observed)
		}
		if with.Binding.Code == "wind_came" {
			bound++
		}
	}
	if bound < 300 {
		t.Errorf("what was seen bound only %d of 3000 days: the test shows little", bound)
	}
}

// A shift at a station makes the answer earlier, takes nothing from what was seen on the ice, and never counts a crossing
// as read after the shift that was read between the two.
func TestAShiftMeasuredStandsBesideTheOneSeen(t *testing.T) {
	measured := func(when time.Time, wind quantity.Speed, from quantity.Bearing) lake.Observation {
		o := saw(when, wind, from)
		o.Station = "KZZA"
		return o
	}
	in := morning()
	in.Now, in.Issued = at(15, 5), at(14, 0)
	plain := TurnBackTime(in)
	in.Measured = []lake.Observation{measured(at(7, 0), 10*kmh, 225), measured(at(14, 53), 22*kmh, 315)}
	b := TurnBackTime(in)
	d := deadline(t, b, "wind_measured")
	if !d.When.Equal(at(14, 53)) || !b.At.Before(plain.At) || !strings.HasPrefix(d.Text, "wind already NW at 14:53 by KZZA, 2 h early; ") {
		t.Errorf("%+v, %v, without it %v", d, b.At, plain.At)
	}
	// the hill at the station: its wind differs from the ice's all day and has not turned
	in.Observed = []lake.Observation{saw(at(7, 0), 10*kmh, 225)}
	in.Forecast = nil
	in.Measured = []lake.Observation{measured(at(7, 0), 20*kmh, 315), measured(at(14, 53), 20*kmh, 315)}
	for _, d := range TurnBackTime(in).All {
		if d.Code == "wind_measured" || d.Code == "wind_came" {
			t.Errorf("%+v", d)
		}
	}
	r := reckoning{in: TurnBackInput{Now: at(15, 5)}, came: Came{When: at(14, 0)}, measured: Came{When: at(12, 0)}}
	if got := r.shifted(); !got.Equal(at(14, 0)) {
		t.Errorf("the earlier of two shifts counts: %v", got)
	}
	r.came, r.measured = r.measured, r.came
	if got := r.shifted(); !got.Equal(at(14, 0)) {
		t.Errorf("the station's later shift is forgotten: %v", got)
	}
}
