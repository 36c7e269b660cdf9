package sim

import (
	"fmt"
	"math"
	"strings"
	"time"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// StationFirst is the first day of the made-up weather station's file: a week and more before the basin froze.
const StationFirst = "2025-11-14"

// stationID is no station's.
const stationID = "TMX00000001"

// StationDaily gives the days of the made-up weather station near the lake up to a day, as a file of GHCN-Daily [GHCND].
func StationDaily(seed uint64, until time.Time) []byte {
	type month struct{ tmax, tmin, snow [31]int }
	months := map[string]*month{}
	var order []string
	for t := clock(StationFirst, 12, 0); !t.After(until); t = t.AddDate(0, 0, 1) {
		key := t.In(zone).Format("200601")
		m := months[key]
		if m == nil {
			m = &month{}
			for i := range 31 {
				m.tmax[i], m.tmin[i], m.snow[i] = missingDaily, missingDaily, missingDaily
			}
			months[key], order = m, append(order, key)
		}
		i := t.In(zone).Day() - 1
		high, low := stationDay(seed, t)
		_, snowCM := basin(t)
		m.tmax[i], m.tmin[i], m.snow[i] = inTenths(high), inTenths(low), int(snowCM*10*landSnow)
	}
	var out strings.Builder
	for _, key := range order {
		m := months[key]
		for _, e := range []struct {
			element string
			values  [31]int
		}{{"TMAX", m.tmax}, {"TMIN", m.tmin}, {"SNWD", m.snow}} {
			fmt.Fprintf(&out, "%s%s%s", stationID, key, e.element)
			for _, v := range e.values {
				fmt.Fprintf(&out, "%5d  W", v)
			}
			out.WriteByte('\n')
		}
	}
	return []byte(out.String())
}

const (
	missingDaily = -9999
	landSnow     = 1.4 // snow on land by snow on the ice; invented
)

func inTenths(c quantity.Celsius) int { return int(math.Round(c.Degrees() * 10)) }

// stationDay gives the highest and lowest air of a day: the demo's own where it has them, else colder week by week with
// some weather, in the same words as the rest of the made-up winter.
func stationDay(seed uint64, t time.Time) (high, low quantity.Celsius) {
	if a, ok := airOf[journal.DayOf(t, zone)]; ok {
		return quantity.Celsius(a[1]), quantity.Celsius(a[0])
	}
	weeks := t.Sub(clock(StationFirst, 12, 0)).Hours() / (7 * 24)
	weather := num.NewStream(seed, "station", t.In(zone).Format(time.DateOnly)).NormFloat64()
	mean := -4 - 1.1*weeks + 2.5*weather
	return quantity.Celsius(mean + 4), quantity.Celsius(mean - 4)
}
