package rehearse

import (
	"math"
	"testing"

	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

func word(p float64) string {
	switch {
	case p >= 0.5:
		return "high"
	case p >= 0.2:
		return "mid"
	}
	return "low"
}

// Worked by hand: two days with four and two looks.
func TestCalibrationByHand(t *testing.T) {
	days := [][]Forecast{{{P: 0.05}, {P: 0.15, Hit: true}, {P: 0.2, Hit: true}, {P: 1, Hit: true}}, {{P: 0.25}, {P: 0.07}}}
	c := calibrate("hand", days, word)
	if c.Looks != 6 || len(c.Tenths) != 10 || len(c.Words) != 3 {
		t.Fatalf("%+v", c)
	}
	for _, want := range []struct {
		got        Share
		looks      int
		told, seen float64
	}{
		{c.Tenths[0], 2, 0.06, 0}, {c.Tenths[1], 1, 0.15, 1}, {c.Tenths[2], 2, 0.225, 0.5}, {c.Tenths[9], 1, 1, 1},
		{c.Words[0], 3, 0.09, 1.0 / 3}, {c.Words[1], 2, 0.225, 0.5}, {c.Words[2], 1, 1, 1},
	} {
		if want.got.Looks != want.looks || math.Abs(want.got.Told-want.told) > 1e-12 || math.Abs(want.got.Seen.Value-want.seen) > 1e-12 {
			t.Errorf("%+v %v, want %d looks, told %v, seen %v", want.got, want.got.Seen, want.looks, want.told, want.seen)
		}
	}
	if c.Tenths[5].Seen != nil {
		t.Error("a tenth without looks has a share")
	}
	if r := Word(word).ranges(); r[0].To != 0.2 || r[1].From != 0.2 || r[1].To != 0.5 || r[2].To != 1 {
		t.Errorf("ranges %+v", r)
	}
}

// The engine tells odds for the looks that it asks of the scout.
func TestEngineTellsOdds(t *testing.T) {
	d := world.NewLake(world.Families()[0], 44, 0).Day(world.Early, 0)
	run := d.Run()
	o, err := Walk(d, run, find("engine").make(setting{d, run, newSurfaces(), firstLook}), Brief(d, 3, way.Numbers, 1, 0))
	if err != nil {
		t.Fatal(err)
	}
	if len(o.Forecasts) < 20 {
		t.Errorf("%d forecasts, %d holes", len(o.Forecasts), o.Holes)
	}
	for _, f := range o.Forecasts {
		if !(f.P >= 0 && f.P <= 1 && f.Known <= f.P+1e-9) {
			t.Errorf("forecast %+v", f)
		}
	}
}
