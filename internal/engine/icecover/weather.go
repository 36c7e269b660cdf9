package icecover

import (
	"fmt"
	"math"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/physics/ice"
)

// Hour is the weather of an hour, as far as it is told.
type Hour struct {
	Start             time.Time
	Air               quantity.Celsius
	Snow              quantity.Length // new snow in the hour
	AirTold, SnowTold bool
	Rain              bool           // told to fall on the ice, warm or not
	Wind              quantity.Speed // at 10 m
	From              quantity.Bearing
	WindTold          bool // with its direction
}

// How hours become steps; all ours.
const (
	stepSpan     = 6 * time.Hour // follows days that thaw and freeze
	longestGap   = 12            // steps, three days, that are filled in a straight line between their neighbours
	usualSnow    = 1.2           // kg/m2 a day, taken where nobody told the snowfall: to leave it out would make the ice too thick
	hiddenThaw   = 3             // hours of weather in a row that nobody knows and that can hide no thaw
	snowCountsIn = 24            // hours in which heavy snow is summed
)

// Steps brings hours of any order into steps of weather from one moment to another, the later of two tellings of an hour
// counting. Gaps of up to three days are filled in between; the first step must be known, and what is missing at the end
// is taken as the last known step for at most one step. It is an error where more is missing, and names the gap.
func Steps(from, to time.Time, hours []Hour) ([]ice.Weather, error) {
	if !to.After(from) {
		return nil, nil
	}
	n := int((to.Sub(from) + stepSpan - 1) / stepSpan)
	air, known := make([]float64, n), make([]int, n)
	snow, snowKnown := make([]float64, n), make([]int, n)
	for _, h := range latest(from, to, hours) {
		k := int(h.Start.Sub(from) / stepSpan)
		if h.AirTold {
			air[k], known[k] = air[k]+h.Air.Degrees(), known[k]+1
		}
		if h.SnowTold {
			snow[k], snowKnown[k] = snow[k]+h.Snow.Metres(), snowKnown[k]+1
		}
	}
	last := -1
	for k := range air {
		if known[k] == 0 {
			continue
		}
		air[k] /= float64(known[k])
		if gap := k - last - 1; gap > longestGap || gap > 0 && last < 0 {
			return nil, gapError(from, last, k)
		}
		for i := last + 1; i < k; i++ {
			u := float64(i-last) / float64(k-last)
			air[i] = air[last] + u*(air[k]-air[last])
		}
		last = k
	}
	if last < 0 || n-1-last > 1 {
		return nil, gapError(from, last, n)
	}
	if last == n-2 {
		air[n-1] = air[last]
	}
	out := make([]ice.Weather, n)
	for k := range out {
		span := min(stepSpan, to.Sub(from.Add(time.Duration(k)*stepSpan)))
		w := ice.Weather{Air: quantity.Celsius(air[k]), Span: span, Snowfall: quantity.SurfaceDensity(usualSnow * span.Hours() / 24)}
		if snowKnown[k] > 0 {
			w.Snowfall = quantity.SurfaceDensity(snow[k] * float64(ice.FreshSnow) * span.Hours() / float64(snowKnown[k]))
		}
		out[k] = w
	}
	return out, nil
}

func gapError(from time.Time, last, next int) error {
	at := func(k int) string { return from.Add(time.Duration(k) * stepSpan).UTC().Format("2006-01-02 15:04") }
	return fmt.Errorf("icecover: bringing hours into steps: no air temperature from %s to %s UTC", at(last+1), at(next))
}

// latest gives the hours that begin between two moments, each once: what is told later in the list counts, member by
// member.
func latest(from, to time.Time, hours []Hour) []Hour {
	at := map[int64]int{}
	var out []Hour
	for _, h := range hours {
		h.AirTold = h.AirTold && !math.IsNaN(h.Air.Degrees()) && !math.IsInf(h.Air.Degrees(), 0)
		h.SnowTold = h.SnowTold && h.Snow >= 0 && h.Snow < deepestSnow
		if h.Start.Before(from) || !h.Start.Before(to) || !h.AirTold && !h.SnowTold && !h.Rain {
			continue
		}
		key := h.Start.Truncate(time.Hour).Unix()
		i, seen := at[key]
		if !seen {
			at[key] = len(out)
			out = append(out, h)
			continue
		}
		if h.AirTold {
			out[i].Air, out[i].AirTold = h.Air, true
		}
		if h.SnowTold {
			out[i].Snow, out[i].SnowTold = h.Snow, true
		}
		out[i].Rain = out[i].Rain || h.Rain // rain that one source told and another did not ends readings all the same
	}
	return out
}

// Events lists what the weather of the last week did that ends the worth of readings: thaw, rain, heavy snow, and spells
// that nobody knows.
func Events(now time.Time, hours []Hour) []Event {
	const span = int(frostLasts / time.Hour)
	start := now.Truncate(time.Hour).Add(-time.Duration(span) * time.Hour)
	byHour := make([]Hour, span)
	for _, h := range latest(start, start.Add(frostLasts), hours) {
		byHour[int(h.Start.Sub(start)/time.Hour)] = h
	}
	var out []Event
	spell := func(cause Cause, least int, in func(Hour) bool) {
		for i := 0; i < span; i++ {
			k := i
			for k < span && in(byHour[k]) {
				k++
			}
			if k-i >= least {
				out = append(out, Event{cause, start.Add(time.Duration(i) * time.Hour), start.Add(time.Duration(k) * time.Hour)})
			}
			i = k
		}
	}
	spell(Thaw, 1, func(h Hour) bool { return h.AirTold && h.Air > 0 })
	spell(Rain, 1, func(h Hour) bool { return h.Rain })
	spell(Unknown, hiddenThaw+1, func(h Hour) bool { return !h.AirTold })
	sum, heavy := quantity.Length(0), false
	for i := range byHour {
		sum += byHour[i].Snow
		if i >= snowCountsIn {
			sum -= byHour[i-snowCountsIn].Snow
		}
		if now := sum > SnowCounts; now && !heavy {
			out = append(out, Event{Cause: HeavySnow, From: start.Add(time.Duration(i) * time.Hour)})
		}
		heavy = sum > SnowCounts
	}
	return out
}
