package sim

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// The winter: ice, snow, air and wind by date. Every number here is invented.

// sheetAges gives ice and snow of the main basin by date, linear between.
var sheetAges = []struct {
	day           journal.Day
	iceCM, snowCM float64
}{
	{"2025-11-24", 4, 0}, {"2025-12-08", 16, 6}, {"2025-12-15", 22, 5}, {"2025-12-22", 29, 7}, {"2026-01-05", 38.5, 8},
	{"2026-01-15", 43.5, 10}, {"2026-01-19", 48, 14}, {"2026-02-02", 56, 17},
}

// airOf gives for each day the air at 07:00 and at 15:00.
var airOf = map[journal.Day][2]float64{
	"2025-12-31": {-6, -1}, "2026-01-01": {-2, 2}, "2026-01-02": {0, 3}, "2026-01-03": {1, 3}, "2026-01-04": {-1, 2}, "2026-01-05": {-4, 1},
	"2026-01-06": {-12, -6}, "2026-01-07": {-18, -11}, "2026-01-08": {-21, -12}, "2026-01-09": {-24, -14}, "2026-01-10": {-19, -10},
	"2026-01-11": {-15, -8}, "2026-01-12": {-20, -12}, "2026-01-13": {-23, -13}, "2026-01-14": {-21, -12}, "2026-01-15": {-17, -11},
	"2026-01-16": {-22, -15}, "2026-01-17": {-25, -16}, "2026-01-18": {-24, -17},
}

// winds lists every change of wind and sky; each holds until the next.
var winds = []struct {
	day   journal.Day
	hour  int
	kmh   float64
	from  float64 // degrees
	cloud int64   // percent
}{
	{"2026-01-01", 0, 14, 200, 90}, {"2026-01-02", 6, 18, 210, 100}, {"2026-01-03", 5, 16, 220, 100}, {"2026-01-04", 3, 34, 310, 80},
	{"2026-01-05", 0, 22, 320, 40}, {"2026-01-06", 0, 12, 330, 10}, {"2026-01-07", 4, 8, 300, 0}, {"2026-01-08", 9, 10, 280, 10},
	{"2026-01-09", 0, 5, 240, 0}, {"2026-01-10", 8, 14, 200, 50}, {"2026-01-11", 10, 20, 190, 90}, {"2026-01-12", 2, 24, 310, 30},
	{"2026-01-13", 0, 9, 300, 0}, {"2026-01-14", 6, 7, 260, 10}, {"2026-01-15", 0, 12, 225, 0}, {"2026-01-15", 11, 12, 225, 60},
	{"2026-01-15", 15, 15, 240, 70}, {"2026-01-15", 17, 24, 315, 80}, {"2026-01-16", 6, 18, 320, 20}, {"2026-01-17", 0, 10, 300, 0},
}

// Air gives the air temperature: coldest at 07:00, warmest at 15:00, half a cosine between.
func Air(at time.Time) quantity.Celsius {
	day := journal.DayOf(at, zone)
	mark := func(d journal.Day, warm int) (time.Time, float64) { return clock(d, 7+8*warm, 0), airOf[d][warm] }
	before := journal.DayOf(at.AddDate(0, 0, -1), zone)
	after := journal.DayOf(at.AddDate(0, 0, 1), zone)
	t0, a := mark(before, 1)
	t1, b := mark(day, 0)
	if !at.Before(t1) {
		t0, a = t1, b
		t1, b = mark(day, 1)
	}
	if !at.Before(t1) {
		t0, a = t1, b
		t1, b = mark(after, 0)
	}
	u := at.Sub(t0).Hours() / t1.Sub(t0).Hours()
	return quantity.Celsius(mix(a, b, (1-math.Cos(math.Pi*u))/2))
}

// Wind gives the wind at 10 m, where it comes from, and the share of the sky that is covered in percent.
func Wind(at time.Time) (speed quantity.Speed, from quantity.Bearing, cloudPercent int64) {
	w := winds[0]
	for _, x := range winds {
		if !clock(x.day, x.hour, 0).After(at) {
			w = x
		}
	}
	return quantity.Speed(w.kmh) * quantity.KilometrePerHour, quantity.NewBearing(w.from), w.cloud
}

// basin gives ice and snow of the main basin in centimetres.
func basin(at time.Time) (iceCM, snowCM float64) {
	first := sheetAges[0]
	if at.Before(clock(first.day, 12, 0)) {
		return 0, 0
	}
	for i := 1; i < len(sheetAges); i++ {
		a, b := sheetAges[i-1], sheetAges[i]
		t0, t1 := clock(a.day, 12, 0), clock(b.day, 12, 0)
		if at.Before(t1) {
			u := at.Sub(t0).Hours() / t1.Sub(t0).Hours()
			return mix(a.iceCM, b.iceCM, u), mix(a.snowCM, b.snowCM, u)
		}
	}
	last := sheetAges[len(sheetAges)-1]
	return last.iceCM, last.snowCM
}

// Ice gives the true thickness of the ice: the basin's, uneven by a few per cent, and thin over warm seeps and current.
func (l *Lake) Ice(p geo.Local, at time.Time) quantity.Length {
	cm, _ := basin(at)
	weak := 1.0
	for _, o := range l.Springs {
		d := p.Sub(o.At)
		e, n := d.E/(2*o.East.Metres()), d.N/(2*o.North.Metres())
		weak *= 1 - 0.9*math.Exp(-(e*e+n*n)/2)
	}
	throatM := geo.SegmentDistance(p, l.Throat[0], l.Throat[1])
	weak *= 1 - 0.75*math.Exp(-throatM*throatM/2/(450*450))
	// (SIM-2) ice = H(date) * (1 + 0.025 f(place)) * weak places
	return quantity.Length(cm*(1+0.025*fieldAt(l.sheet, p))*weak) * quantity.Centimetre
}

// Snow gives the depth of snow on the ice, drifted unevenly.
func (l *Lake) Snow(p geo.Local, at time.Time) quantity.Length {
	_, cm := basin(at)
	return quantity.Length(cm*math.Max(0.2, 1+0.35*fieldAt(l.sheet, geo.Local{E: p.N, N: p.E}))) * quantity.Centimetre
}
