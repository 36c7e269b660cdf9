package safety

import (
	"fmt"
	"math"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

// The numbers that make weather a deadline. Common practice without a published figure unless said.
const (
	shiftAngle  = 60.0                           // degrees between the wind at coming out and now
	shiftWind   = 15 * quantity.KilometrePerHour // with at least this much wind
	steadyWind  = 5 * quantity.KilometrePerHour  // less has no direction to speak of
	frontGust   = 50 * quantity.KilometrePerHour //
	poorSight   = 1000 * quantity.Metre          //
	heavySnow   = 10 * quantity.Millimetre       // in an hour
	baseDoubt   = 35 * time.Minute               // of a forecast's times
	moreDoubt   = 5 * time.Minute                // for each hour started beyond freshFor
	freshFor    = 6 * time.Hour                  //
	staleAfter  = 12 * time.Hour                 // then a forecast counts no more as one
	noForecast  = 60 * time.Minute               // dusk counted earlier without a forecast of the wind
	noSnowTold  = 30 * time.Minute               // dusk counted earlier when a forecast tells neither snow nor sight
	longestStep = 3 * time.Hour                  // for which an hour of a coarse forecast stands
)

// shift is the first hour in which the wind has turned from that of the morning.
type shift struct {
	when time.Time // zero: none in sight
	from quantity.Bearing
}

// findShift looks for the first hour whose wind comes from another side than when the party came out. A shift that has
// come counts on: a crack stays open when the wind drops.
func findShift(hours []ForecastHour, out, end time.Time) shift {
	first := -1
	for i, h := range hours {
		v, told := h.between(out, end)
		switch {
		case !told:
		case first < 0:
			if v >= steadyWind {
				first = i
			}
		case v >= shiftWind && turned(hours[first].From, h.From) >= shiftAngle:
			return shift{when: h.Start, from: h.From}
		}
	}
	return shift{}
}

// morningWind gives the direction in which the party comes out by the forecast: that of the first steady wind.
func morningWind(hours []ForecastHour, out, end time.Time) (quantity.Bearing, bool) {
	for _, h := range hours {
		if v, told := h.between(out, end); told && v >= steadyWind {
			return h.From, true
		}
	}
	return 0, false
}

// between gives the wind of an hour between coming out and the end, when its direction is told too.
func (h ForecastHour) between(out, end time.Time) (quantity.Speed, bool) {
	v, told := h.wind()
	return v, told && h.FromTold && !math.IsNaN(float64(h.From)) && h.Start.Add(time.Hour).After(out) && h.Start.Before(end)
}

// What takes the relief out of the snow: a closed sky, falling snow, or poor sight. Common practice, no source.
const (
	closedSky = 0.9
	flatSight = 3 * quantity.Kilometre
)

// FlatLight tells whether the snow shows no relief now: by what was seen last, as far as it says, else by the forecast's hour. nil: none.
// What nobody told is not flat light: dusk and the front have their own deadlines.
func FlatLight(seen *lake.Observation, hour *ForecastHour) bool {
	if seen != nil && (seen.CloudTold || seen.SightTold || seen.Snowing != "") {
		return seen.CloudTold && seen.Cloud >= closedSky || seen.SightTold && seen.Sight < flatSight || seen.Snowing == "light" || seen.Snowing == "heavy"
	}
	return hour != nil && (hour.CloudTold && hour.Cloud >= closedSky || hour.SightTold && hour.Sight < flatSight || hour.SnowTold && hour.Snow > 0)
}

// turned gives the angle between two directions, 0 to 180 degrees.
func turned(a, b quantity.Bearing) float64 {
	return math.Abs(math.Remainder(float64(a-b), 360))
}

// age gives how old the forecast is; known is false without a time of issue.
func (b *reckoning) age() (age time.Duration, known bool) {
	if b.in.Issued.IsZero() {
		return 0, false
	}
	return max(0, b.in.Now.Sub(b.in.Issued)), true
}

// doubt gives the uncertainty of a forecast's times: it grows with the forecast's age.
func (b *reckoning) doubt() time.Duration {
	age, known := b.age()
	if !known {
		age = staleAfter
	}
	if age <= freshFor {
		return baseDoubt
	}
	// (SAFETY-3)
	return baseDoubt + time.Duration(math.Ceil((age-freshFor).Hours()))*moreDoubt
}

// weather adds the deadlines of the forecast.
func (b *reckoning) weather() {
	doubt, home := b.doubt(), b.out.Way.Travel
	b.early()
	if s := b.shift; !s.when.IsZero() {
		travel, away := b.behindBarrier()
		b.add("wind_shift", s.when, doubt, travel, fmt.Sprintf("wind to %s about %s; %s", s.from.Compass(), b.clock(s.when), away))
	}
	landing := b.away("landing", home)
	if h, ok := b.firstHour(gusty); ok {
		gust := max(h.Gust, 0)
		if v, told := h.wind(); told {
			gust = max(gust, v)
		}
		b.add("front", h.Start, doubt, home, fmt.Sprintf("gusts of %s about %s; %s", quantity.SI.WindText(gust), b.clock(h.Start), landing))
	}
	if h, ok := b.firstHour(blind); ok {
		what := "heavy snow"
		if h.SightTold && h.Sight < poorSight {
			what = "sight under 1 km"
		}
		b.add("sight", h.Start, doubt, home, fmt.Sprintf("%s about %s; %s", what, b.clock(h.Start), landing))
	}
}

// behindBarrier gives the travel that must be done before a shift: it opens the last ridge or crack, which must lie behind
// by then.
func (b *reckoning) behindBarrier() (travel time.Duration, away string) {
	if b.barrier == nil {
		return b.out.Way.Travel, b.away("landing", b.out.Way.Travel)
	}
	return b.toCross, b.away(hazardWord(b.barrier.hazard.What), b.toCross)
}

func gusty(h ForecastHour) bool {
	v, told := h.wind()
	return h.GustTold && h.Gust >= frontGust || told && v >= frontGust
}

func blind(h ForecastHour) bool {
	return h.SightTold && h.Sight < poorSight || h.SnowTold && h.Snow >= heavySnow
}

// firstHour gives the first hour of the day, from now on, of which something is true. What is over does not count.
func (b *reckoning) firstHour(is func(ForecastHour) bool) (ForecastHour, bool) {
	from, end := b.from(), b.noon.Add(12*time.Hour)
	for i, h := range b.hours {
		until := h.Start.Add(longestStep)
		if i+1 < len(b.hours) && b.hours[i+1].Start.Before(until) {
			until = b.hours[i+1].Start
		}
		if until.After(from) && h.Start.Before(end) && is(h) {
			return h, true
		}
	}
	return ForecastHour{}, false
}

// from gives the moment from which the weather of the day matters.
func (b *reckoning) from() time.Time {
	if b.in.Now.Before(b.in.Out) {
		return b.in.Out
	}
	return b.in.Now
}

// forecastGap gives how much earlier dusk counts for want of a forecast, and says why.
func (b *reckoning) forecastGap(dusk time.Time) (time.Duration, string) {
	age, known := b.age()
	switch {
	case len(b.hours) == 0:
		return noForecast, "No forecast: dusk counts 60 min early."
	case !known:
		return noForecast, "The forecast's time of issue is not known: dusk counts 60 min early."
	case age > staleAfter:
		old := fmt.Sprintf("%d h", int(age.Hours()))
		if age >= 48*time.Hour {
			old = fmt.Sprintf("%d days", int(age.Hours()/24))
		}
		return noForecast, "The forecast is " + old + " old: dusk counts 60 min early."
	}
	wind := b.reach(func(h ForecastHour) bool {
		v, told := h.wind()
		return told && (h.FromTold || v < steadyWind)
	})
	whiteout := b.reach(func(h ForecastHour) bool { return h.SnowTold || h.SightTold })
	switch {
	case wind.Before(dusk):
		return noForecast, fmt.Sprintf("No wind forecast after %s: dusk counts 60 min early.", b.clock(wind))
	case whiteout.Before(dusk):
		return noSnowTold, fmt.Sprintf("Neither snow nor sight forecast after %s: dusk counts 30 min early.", b.clock(whiteout))
	}
	return 0, ""
}

// reach gives how far from now on the forecast tells something without a gap.
func (b *reckoning) reach(tells func(ForecastHour) bool) time.Time {
	reach := b.from()
	for _, h := range b.hours {
		if end := h.Start.Add(longestStep); tells(h) && !h.Start.After(reach) && end.After(reach) {
			reach = end
		}
	}
	return reach
}
