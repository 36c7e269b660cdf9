package icecover

import (
	"context"
	"math"
	"slices"
	"testing"
	"time"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

func runWith(t *testing.T, days int, own, elsewhere []*lake.IceReading) Estimate {
	t.Helper()
	o := options
	o.Elsewhere = elsewhere
	z, err := Among(context.Background(), o, steady(days), own)
	if err != nil {
		t.Fatal(err)
	}
	return z.Estimate
}

// Zones share freeze-up, air and weather: a zone without a hole is known better, and nearer to what was drilled, once
// another was drilled; it is never known as well as the one that was.
func TestZonesShareWhatTheyTeach(t *testing.T) {
	blind := runWith(t, 60, nil, nil)
	high := blind.Total.High.Centimetres()
	var holes []*lake.IceReading
	for _, e := range []float64{0, 900, 1800} {
		holes = append(holes, hole(55, e, high, 3, 8, 1))
	}
	taught, own := runWith(t, 60, nil, holes), runWith(t, 60, holes, nil)
	width := func(e Estimate) float64 { return (e.Total.High - e.Total.Low).Centimetres() }
	if !(width(own) < width(taught) && width(taught) < 0.95*width(blind)) {
		t.Errorf("90 %% of the members span %.1f cm blind, %.1f taught from elsewhere, %.1f with own holes", width(blind), width(taught), width(own))
	}
	if !(blind.Total.Middle < taught.Total.Middle && taught.Total.Middle < own.Total.Middle) {
		t.Errorf("middle %v blind, %v taught, %v with own holes of %.0f cm", blind.Total.Middle, taught.Total.Middle, own.Total.Middle, high)
	}
	if taught.Deciding > blind.Deciding {
		t.Errorf("thick ice elsewhere lifted the figure from %v to %v", blind.Deciding, taught.Deciding)
	}
}

// Whatever is drilled in another zone never lifts the zone's figure, and layers found there part nothing here.
func TestElsewhereNeverLifts(t *testing.T) {
	rng := num.NewStream(12, "elsewhere")
	lowered := 0
	for range 40 {
		own := []*lake.IceReading{hole(40, 0, 25+10*rng.Float64(), 4, 8, 1)}
		other := hole(41+rng.IntN(12), 0, 5+50*rng.Float64(), 10*rng.Float64(), 20*rng.Float64(), 1)
		other.Layered, other.Slush = rng.IntN(3) == 0, rng.IntN(3) == 0
		before, after := runWith(t, 55, own, nil), runWith(t, 55, own, []*lake.IceReading{other})
		if after.Deciding > before.Deciding || after.Parted {
			t.Errorf("%v elsewhere: figure %v became %v, parted %v", other.Total, before.Deciding, after.Deciding, after.Parted)
		}
		if after.Deciding < before.Deciding {
			lowered++
		}
	}
	if lowered < 10 {
		t.Errorf("lowered %d times of 40", lowered)
	}
}

// A wind prevails from 48 hours of 5 m/s on, when it comes mostly from one side; each line from both sides, and unknown.
func TestPrevailing(t *testing.T) {
	blow := func(n int, speed quantity.Speed, from ...float64) (out []Hour) {
		for i := range n {
			out = append(out, Hour{Start: began.Add(time.Duration(i) * time.Hour), Wind: speed, From: quantity.NewBearing(from[i%len(from)]), WindTold: true})
		}
		return out
	}
	untold := blow(60, 8, 300)
	for i := range untold {
		untold[i].WindTold = false
	}
	for _, c := range []struct {
		name  string
		hours []Hour
		from  float64
		known bool
	}{
		{"48 h", blow(48, 8, 300), 300, true}, {"47 h", blow(47, 8, 300), 0, false}, {"5 m/s", blow(60, 5, 300), 300, true}, {"4.9 m/s", blow(60, 4.9, 300), 0, false},
		{"two sides 119 apart", blow(60, 8, 0, 119), 60, true}, {"two sides 121 apart", blow(60, 8, 0, 121), 0, false}, {"opposite", blow(60, 8, 0, 180), 0, false}, {"not told", untold, 0, false}, {"none", nil, 0, false},
		{"one hour told fifty times", slices.Repeat(blow(1, 8, 300), 50), 0, false},
	} {
		from, known := Prevailing(began, c.hours)
		if known != c.known || known && math.Abs(from.Degrees()-c.from) > 1 {
			t.Errorf("%s: %v %v", c.name, from, known)
		}
	}
	if _, known := Prevailing(began.Add(13*time.Hour), blow(60, 8, 300)); known {
		t.Error("wind before freeze-up counts")
	}
}
