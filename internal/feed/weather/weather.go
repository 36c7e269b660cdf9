// Package weather answers which weather a forecast file announces, hour by hour.
//
// Start with [Read], which takes an hourly CSV, the gridpoint JSON of the US National Weather Service [NWSAPI], the
// Locationforecast of MET Norway [METNorway] or the hourly JSON of Open-Meteo [OpenMeteo].
// [Forecast.Stale] tells whether it may still be planned on. Pure: asking the services lives in package fetch.
// It assumes that every number states its unit: an unknown unit refuses the file, never a guess. A value that is not
// given stays unknown (nil), which is not calm, not clear and not warm. It leaves out warnings, text forecasts and the snow
// that already lies, which these files do not carry.
package weather

import (
	"fmt"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// Hour is the weather from Start to one hour later. A nil value is unknown.
type Hour struct {
	Start       time.Time // UTC
	Temperature *quantity.Celsius
	Wind, Gust  *quantity.Speed
	WindFrom    *quantity.Bearing
	Sky         *float64         // fraction of the sky that is covered, 0 to 1
	Snow        *quantity.Length // that falls in the hour
	Precip      *quantity.Length // of water, rain and melted snow alike, in the hour
	Visibility  *quantity.Length
}

// Forecast is a series of hours in order of time, each at most once; gaps are possible.
type Forecast struct {
	Source  string
	Licence string    // under which the data may be shown; "" = the file is not of a service that asks for it
	Issued  time.Time // zero = the file does not say
	Hours   []Hour
}

// StaleAfter is the age beyond which a forecast must not be planned on without saying so: a service has been seen to
// serve a grid several days old as if nothing had happened. Common practice, no source.
const StaleAfter = 12 * time.Hour

// Age gives the time since the forecast was issued; known is false when the file does not say.
func (f Forecast) Age(now time.Time) (age time.Duration, known bool) {
	if f.Issued.IsZero() {
		return 0, false
	}
	return now.Sub(f.Issued), true
}

// Stale tells whether the forecast is older than [StaleAfter], issued in the future, or of unknown age.
func (f Forecast) Stale(now time.Time) bool {
	age, known := f.Age(now)
	return !known || age > StaleAfter || age < -time.Hour // clocks differ a little
}

// Read reads a forecast. Rows of the preview are lines of a CSV file, intervals of a gridpoint, or
// the times of the other services.
func Read(name string, data []byte, opt file.Options) (Forecast, file.Preview, error) {
	p := file.Preview{Kind: file.Weather, Name: name}
	var f Forecast
	var err error
	if file.LooksJSON(data) {
		f, err = readJSON(data, opt, &p)
	} else {
		f, err = readCSV(data, opt, &p)
	}
	if err == nil && p.Err() == nil && len(f.Hours) == 0 {
		p.Reject("", "", "it gives the weather of no hour", "See the list of rows.")
	}
	if err == nil {
		err = p.Err()
	}
	if err != nil {
		return Forecast{}, p, err
	}
	summarise(f, opt.Zone, &p)
	return f, p, nil
}

// layer is one quantity of an hour: how it is set, what it may be.
type layer struct {
	meaning file.Meaning
	json    string  // the name of the layer in a gridpoint
	lo, hi  float64 // SI; what lies outside is refused as an error of the file
	amount  bool    // a total over its interval, spread evenly over the hours
	set     func(h *Hour, v float64)
	known   func(h Hour) bool
}

// layers in the order of the summary. The bounds keep out unit mistakes and no-data codes; they lie beyond what has been
// measured on Earth. Common practice, no source.
var layers = []layer{
	{file.Temperature, "temperature", -90, 60, false, func(h *Hour, v float64) { c := quantity.Celsius(v); h.Temperature = &c }, func(h Hour) bool { return h.Temperature != nil }},
	{file.Wind, "windSpeed", 0, 120, false, func(h *Hour, v float64) { s := quantity.Speed(v); h.Wind = &s }, func(h Hour) bool { return h.Wind != nil }},
	{file.Gust, "windGust", 0, 120, false, func(h *Hour, v float64) { s := quantity.Speed(v); h.Gust = &s }, func(h Hour) bool { return h.Gust != nil }},
	{file.WindFrom, "windDirection", 0, 360, false, func(h *Hour, v float64) { b := quantity.NewBearing(v); h.WindFrom = &b }, func(h Hour) bool { return h.WindFrom != nil }},
	{file.Sky, "skyCover", 0, 1, false, func(h *Hour, v float64) { h.Sky = &v }, func(h Hour) bool { return h.Sky != nil }},
	{file.Snow, "snowfallAmount", 0, 3, true, func(h *Hour, v float64) { l := quantity.Length(v); h.Snow = &l }, func(h Hour) bool { return h.Snow != nil }},
	{file.Precip, "quantitativePrecipitation", 0, 1, true, func(h *Hour, v float64) { l := quantity.Length(v); h.Precip = &l }, func(h Hour) bool { return h.Precip != nil }},
	{file.Visibility, "visibility", 0, 500_000, false, func(h *Hour, v float64) { l := quantity.Length(v); h.Visibility = &l }, func(h Hour) bool { return h.Visibility != nil }},
}

// within tells whether a value in SI is possible for the layer.
func (l layer) within(v float64) bool { return v >= l.lo && v <= l.hi }

// summarise says which hours the forecast covers and what it leaves unknown.
func summarise(f Forecast, zone *time.Location, p *file.Preview) {
	if zone == nil {
		zone = time.UTC
	}
	first, last := f.Hours[0].Start, f.Hours[len(f.Hours)-1].Start.Add(time.Hour)
	show := func(t time.Time) string { return t.In(zone).Format("2006-01-02 15:04 -07:00") }
	p.Summary = append(p.Summary, fmt.Sprintf("Forecast: %d hours from %s to %s.", len(f.Hours), show(first), show(last)))
	if f.Licence != "" {
		p.Summary = append(p.Summary, Credit(f.Source, f.Licence))
	}
	if f.Issued.IsZero() {
		p.Remark(0, "", "", "the file does not say when it was issued: its age is unknown", "")
	} else {
		p.Summary = append(p.Summary, "Issued "+show(f.Issued)+".")
	}
	for i := 1; i < len(f.Hours); i++ {
		if gap := f.Hours[i].Start.Sub(f.Hours[i-1].Start); gap != time.Hour {
			p.Remark(0, "", "", fmt.Sprintf("nothing is given from %s to %s", show(f.Hours[i-1].Start.Add(time.Hour)), show(f.Hours[i].Start)), "")
		}
	}
	for _, l := range layers {
		n := 0
		for _, h := range f.Hours {
			if l.known(h) {
				n++
			}
		}
		if n < len(f.Hours) {
			p.Remark(0, "", "", fmt.Sprintf("%s is unknown in %d of %d hours", l.meaning, len(f.Hours)-n, len(f.Hours)), "")
		}
	}
}
