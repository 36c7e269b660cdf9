package sim

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// OutlineGeoJSON gives the shore as the file that a guide would have: one polygon with its islands.
func (l *Lake) OutlineGeoJSON() []byte {
	rings := make([][][2]float64, 0, 1+len(l.Outline.Holes))
	for _, ring := range append([][]geo.Local{l.Outline.Outer}, l.Outline.Holes...) {
		var line [][2]float64
		for _, p := range ring {
			line = append(line, l.lonLat(p))
		}
		rings = append(rings, append(line, line[0]))
	}
	return encode(map[string]any{
		"type": "FeatureCollection",
		"features": []any{map[string]any{
			"type":       "Feature",
			"properties": map[string]any{"name": l.Name, "note": "invented"},
			"geometry":   map[string]any{"type": "Polygon", "coordinates": rings},
		}},
	})
}

// lineGeoJSON gives a travelled line.
func (l *Lake) lineGeoJSON(line []geo.Local) []byte {
	var points [][2]float64
	for _, p := range line {
		points = append(points, l.lonLat(p))
	}
	return encode(map[string]any{"type": "Feature", "properties": map[string]any{},
		"geometry": map[string]any{"type": "LineString", "coordinates": points}})
}

// lonLat gives a place to the seventh decimal, as GeoJSON orders it.
func (l *Lake) lonLat(p geo.Local) [2]float64 {
	q := l.Position(p)
	return [2]float64{num.Quantise(q.Lon, 1e-7), num.Quantise(q.Lat, 1e-7)}
}

// encode writes JSON of maps and numbers, which cannot fail.
func encode(v any) []byte {
	b, err := json.Marshal(v)
	if err != nil {
		panic("sim: writing JSON: " + err.Error())
	}
	return b
}

// How the old chart errs.
const (
	chartLineM   = 380.0 // m between its lines, and between the soundings on a line
	chartTooDeep = 1.08
	chartErrorM  = 0.25 // m
	chartTitle   = "LAKE TAMARINGEN  soundings by hand lead  (invented)\nsheet 2 of 2\n"
)

// SoundingsOptions says how [Lake.SoundingsCSV] has to be read: the file does not say its unit.
const SoundingsOptions = "map.Sounding=depth&unit=ft"

// SoundingsCSV gives the old chart's soundings as a file with odd headers, depths in whole feet, and its number of
// soundings. The chart is 8 per cent too deep, and its lines missed the crest of Cinder Bar.
func (l *Lake) SoundingsCSV(seed uint64) ([]byte, int) {
	rng := num.NewStream(seed, "chart")
	var b bytes.Buffer
	b.WriteString(chartTitle + "Pt.,LAT,LONG,Sounding,Bot.\n")
	rows := 0
	for e := -spanE / 2; e < spanE/2; e += chartLineM {
		for n := -spanN / 2; n < spanN/2; n += chartLineM {
			p := geo.Local{E: e + 40*rng.NormFloat64(), N: n + 90*rng.NormFloat64()}
			errM := chartErrorM * rng.NormFloat64()
			if !l.Water(p) || l.Outline.ShoreDistance(p) < 40 {
				continue
			}
			rows++
			feet := math.Max(1, math.Round((l.ChartDepth(p).Metres()*chartTooDeep+errM)/quantity.Foot.Metres()))
			bottom := "mud"
			if cinderBar.rise(p) > 0.3 || saltboxReef.rise(p) > 0.3 {
				bottom = "hard"
			}
			at := l.Position(p)
			fmt.Fprintf(&b, "%d,%.5f,%.5f,%.0f,%s\n", rows, at.Lat, at.Lon, feet, bottom)
		}
	}
	return b.Bytes(), rows
}

// forecastHours is how far the forecast reaches.
const forecastHours = 60

// ForecastJSON gives the forecast of 15 January in the shape of a gridpoint of the US National Weather Service: layers of
// values, equal neighbours merged.
func ForecastJSON(issued time.Time) []byte {
	start := issued.Truncate(time.Hour)
	layer := func(uom string, value func(time.Time) float64) map[string]any {
		return map[string]any{"uom": uom, "values": intervals(start, value)}
	}
	kmh := func(t time.Time) float64 { s, _, _ := Wind(t); return math.Round(s.KilometresPerHour()) }
	none := func(time.Time) float64 { return 0 }
	return encode(map[string]any{
		"type": "Feature",
		"properties": map[string]any{
			"updateTime":                issued.UTC().Format(time.RFC3339),
			"validTimes":                fmt.Sprintf("%s/PT%dH", start.UTC().Format(time.RFC3339), forecastHours),
			"temperature":               layer("wmoUnit:degC", func(t time.Time) float64 { return math.Round(2*Air(t).Degrees()) / 2 }),
			"windSpeed":                 layer("wmoUnit:km_h-1", kmh),
			"windGust":                  layer("wmoUnit:km_h-1", func(t time.Time) float64 { return math.Round(1.5 * kmh(t)) }),
			"windDirection":             layer("wmoUnit:degree_(angle)", func(t time.Time) float64 { _, from, _ := Wind(t); return from.Degrees() }),
			"skyCover":                  layer("wmoUnit:percent", func(t time.Time) float64 { _, _, cloud := Wind(t); return float64(cloud) }),
			"visibility":                layer("wmoUnit:m", func(time.Time) float64 { return 16_000 }),
			"snowfallAmount":            layer("wmoUnit:mm", none),
			"quantitativePrecipitation": layer("wmoUnit:mm", none),
		},
	})
}

// intervals gives the values of an hourly series, equal neighbours merged into one interval.
func intervals(start time.Time, value func(time.Time) float64) []map[string]any {
	var out []map[string]any
	for h := 0; h < forecastHours; {
		from, v, n := start.Add(time.Duration(h)*time.Hour), value(start.Add(time.Duration(h)*time.Hour)), 1
		for h+n < forecastHours && value(start.Add(time.Duration(h+n)*time.Hour)) == v {
			n++
		}
		out = append(out, map[string]any{"validTime": from.UTC().Format(time.RFC3339) + "/PT" + strconv.Itoa(n) + "H", "value": v})
		h += n
	}
	return out
}
