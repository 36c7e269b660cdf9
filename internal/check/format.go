package check

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/feed/calendar"
	"icehand/internal/feed/file"
	"icehand/internal/feed/grid"
	"icehand/internal/feed/nmea"
	"icehand/internal/feed/station"
	"icehand/internal/feed/weather"
)

var formatSlugs = []Slug{
	{"nmea_checksum", "1", "checksum of a sentence of NMEA 0183, written with its dollar sign", keys("sentence", kindText), func(in Inputs) (float64, error) {
		return float64(nmea.Checksum(strings.TrimPrefix(in.s("sentence"), "$"))), nil
	}},
	{"nmea_depth", "m", "depth below the surface told by a sentence DPT or DBT, checksum and all", keys("sentence", kindText), nmeaDepth},
	{"nmea_position", "degree", "latitude or longitude told by a sentence RMC or GGA, checksum and all", keys("sentence", kindText, "which", "lat|lon"), nmeaPosition},
	{"calendar_fold", "1", "octets of a line of iCalendar's physical lines, counted from 1; the text, a blank behind it, is repeated", keys("start", kindText, "text", kindText, "times", "1", "line", "1"), foldedLine},
	{"grid_value", "1", "value of an ESRI ASCII grid at a point; numbers row by row from the north", gridInputs, func(in Inputs) (float64, error) { return gridAt(in) }},
	{"grid_known", "1", "1 when an ESRI ASCII grid has data at a point, else 0", gridInputs, func(in Inputs) (float64, error) {
		v, err := gridAt(in)
		return claim(!math.IsNaN(v)), err
	}},
	{"interval_hours", "h", "whole hours that a forecast's interval covers, start and duration as ISO 8601 has them", keys("interval", kindText),
		func(in Inputs) (float64, error) {
			f, err := gridpoint("temperature", "wmoUnit:degC", in.s("interval"), 0)
			return float64(len(f.Hours)), err
		}},
	{"nws_hour", "1", "value of a gridpoint layer of the US National Weather Service for the hour at a time: m/s, degC, mm, degree or part of 1",
		keys("layer", "temperature|windSpeed|windGust|windDirection|skyCover|snowfallAmount|quantitativePrecipitation", "unit", kindText, "interval", kindText, "value", "1", "time", kindTime), nwsHour},
	{"metno_hour", "1", "value that MET Norway tells for the hour at a time, told at another: m/s or mm", keys("field", "wind_speed|precipitation_amount", "told", kindTime, "value", "1", "time", kindTime), metnoHour},
	{"openmeteo_hour", "h", "hour of the day, UTC, in which precipitation falls that Open-Meteo stamps with a local time", keys("stamp", kindText, "utc_offset_h", "h", "mm", "mm"), openMeteoHour},
	{"station_frost", "degC day", "freezing-degree days of the made-up station: days without a mean left out, filled in, or filled in and thaw taken off",
		keys("rule", "skip|fill|net"), stationFrost},
}

func sentence(in Inputs, want ...string) (kind string, fields []string, err error) {
	address, fields, err := nmea.Parse(in.s("sentence"))
	if err != nil {
		return "", nil, err
	}
	for _, w := range want {
		if strings.HasSuffix(address, w) {
			return w, fields, nil
		}
	}
	return "", nil, fmt.Errorf("check: a sentence %q is none of %v", clip(address), want)
}

func nmeaDepth(in Inputs) (float64, error) {
	kind, fields, err := sentence(in, "DPT", "DBT")
	if err != nil {
		return 0, err
	}
	read := nmea.ParseDPT
	if kind == "DBT" {
		read = nmea.ParseDBT
	}
	d, err := read(fields)
	return d.UnderSurface().Metres(), err
}

func nmeaPosition(in Inputs) (float64, error) {
	kind, fields, err := sentence(in, "RMC", "GGA")
	if err != nil {
		return 0, err
	}
	read := nmea.ParseRMC
	if kind == "GGA" {
		read = nmea.ParseGGA
	}
	f, err := read(fields)
	switch {
	case err != nil:
		return 0, err
	case !f.Known:
		return 0, fmt.Errorf("check: the sentence has no position")
	case in.s("which") == "lat":
		return f.Pos.Lat, nil
	}
	return f.Pos.Lon, nil
}

func foldedLine(in Inputs) (float64, error) {
	n, line := in.n("times"), int(in.n("line"))
	if !(n >= 0 && n <= 1000) {
		return 0, fmt.Errorf("check: a text %g times", n)
	}
	lines := strings.Split(strings.TrimSuffix(calendar.Fold(in.s("start")+strings.Repeat(in.s("text")+" ", int(n))), "\r\n"), "\r\n")
	if line < 1 || line > len(lines) {
		return 0, fmt.Errorf("check: %d physical lines", len(lines))
	}
	return float64(len(lines[line-1])), nil
}

var gridInputs = keys("columns", "1", "rows", "1", "west", "m", "south", "m", "cell_m", "m", "no_data", "1", "values", kindList, "x", "m", "y", "m")

func gridAt(in Inputs) (float64, error) {
	var b strings.Builder
	fmt.Fprintf(&b, "ncols %g\nnrows %g\nxllcorner %g\nyllcorner %g\ncellsize %g\nNODATA_value %g\n", in.n("columns"), in.n("rows"), in.n("west"), in.n("south"), in.n("cell_m"), in.n("no_data"))
	for _, v := range in.l("values") {
		fmt.Fprintf(&b, "%g ", v)
	}
	g, err := grid.Read([]byte(b.String()))
	if err != nil {
		return 0, err
	}
	for row := range g.Rows {
		for column := range g.Columns {
			if v, x, y := g.At(column, row); math.Abs(in.n("x")-x) <= g.Dx/2 && math.Abs(in.n("y")-y) <= g.Dy/2 {
				return v, nil
			}
		}
	}
	return 0, fmt.Errorf("check: the point lies outside the grid")
}

// forecast reads an answer of a service that is made here with one value in it.
func forecast(doc any) (weather.Forecast, error) {
	raw, err := json.Marshal(doc)
	if err != nil {
		return weather.Forecast{}, fmt.Errorf("check: making an answer: %w", err)
	}
	f, _, err := weather.Read("made-up", raw, file.Options{Zone: time.UTC})
	return f, err
}

type object = map[string]any

func gridpoint(layer, unit, interval string, v float64) (weather.Forecast, error) {
	values := []object{{"validTime": interval, "value": v}}
	return forecast(object{"properties": object{"updateTime": "2026-01-14T10:52:11+00:00", layer: object{"uom": unit, "values": values}}})
}

// hourAt finds the hour that begins at a time.
func hourAt(f weather.Forecast, t time.Time) (weather.Hour, error) {
	for _, h := range f.Hours {
		if h.Start.Equal(t) {
			return h, nil
		}
	}
	return weather.Hour{}, fmt.Errorf("check: the answer tells nothing of that hour")
}

func nwsHour(in Inputs) (float64, error) {
	f, err := gridpoint(in.s("layer"), in.s("unit"), in.s("interval"), in.n("value"))
	if err != nil {
		return 0, err
	}
	h, err := hourAt(f, in.t("time"))
	if err != nil {
		return 0, err
	}
	switch mm := func(l *quantity.Length) float64 { return l.Metres() * 1000 }; {
	case h.Temperature != nil:
		return h.Temperature.Degrees(), nil
	case h.Wind != nil:
		return h.Wind.MetresPerSecond(), nil
	case h.Gust != nil:
		return h.Gust.MetresPerSecond(), nil
	case h.WindFrom != nil:
		return h.WindFrom.Degrees(), nil
	case h.Sky != nil:
		return *h.Sky, nil
	case h.Snow != nil:
		return mm(h.Snow), nil
	case h.Precip != nil:
		return mm(h.Precip), nil
	}
	return 0, fmt.Errorf("check: the hour has no value")
}

func metnoHour(in Inputs) (float64, error) {
	data := object{"instant": object{"details": object{"air_temperature": -10}}}
	if name := in.s("field"); name == "wind_speed" {
		data["instant"] = object{"details": object{name: in.n("value")}}
	} else {
		data["next_1_hours"] = object{"details": object{name: in.n("value")}}
	}
	f, err := forecast(object{"properties": object{
		"meta":       object{"updated_at": "2026-01-14T10:52:11Z", "units": object{"air_temperature": "celsius", "wind_speed": "m/s", "precipitation_amount": "mm"}},
		"timeseries": []object{{"time": in.t("told").UTC().Format(time.RFC3339), "data": data}},
	}})
	if err != nil {
		return 0, err
	}
	h, err := hourAt(f, in.t("time"))
	switch {
	case err != nil:
		return 0, err
	case in.s("field") == "wind_speed" && h.Wind != nil:
		return h.Wind.MetresPerSecond(), nil
	case in.s("field") == "precipitation_amount" && h.Precip != nil:
		return h.Precip.Metres() * 1000, nil
	}
	return 0, fmt.Errorf("check: the hour has no value")
}

// openMeteoHour makes three hours of an answer with rain at the stamp alone.
func openMeteoHour(in Inputs) (float64, error) {
	const layout = "2006-01-02T15:04"
	stamp, err := time.Parse(layout, in.s("stamp"))
	if err != nil {
		return 0, fmt.Errorf("check: %q is not a time like %s", clip(in.s("stamp")), layout)
	}
	var times []string
	for i := -2; i <= 2; i++ {
		times = append(times, stamp.Add(time.Duration(i)*time.Hour).Format(layout))
	}
	f, err := forecast(object{"utc_offset_seconds": in.n("utc_offset_h") * 3600, "hourly_units": object{"time": "iso8601", "precipitation": "mm"},
		"hourly": object{"time": times, "precipitation": []float64{0, 0, in.n("mm"), 0, 0}}})
	if err != nil {
		return 0, err
	}
	for _, h := range f.Hours {
		if h.Precip != nil && *h.Precip > 0 {
			return float64(h.Start.UTC().Hour()), nil
		}
	}
	return 0, fmt.Errorf("check: no hour has rain")
}

//go:embed tables/station.dly
var stationFile []byte

func stationFrost(in Inputs) (float64, error) {
	r, _, err := station.Read("station.dly", stationFile, file.Options{})
	if err != nil {
		return 0, err
	}
	if in.s("rule") == "skip" {
		var own []quantity.Celsius
		for _, d := range r.Days {
			if m, ok := d.Mean(); ok {
				own = append(own, m)
			}
		}
		frost, _ := station.Sums(own)
		return float64(frost), nil
	}
	means, _, _, err := r.LastSpan()
	if err != nil {
		return 0, err
	}
	frost, net := station.Sums(means)
	if in.s("rule") == "net" {
		return float64(net), nil
	}
	return float64(frost), nil
}
