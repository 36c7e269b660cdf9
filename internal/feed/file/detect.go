package file

import (
	"errors"
	"path/filepath"
	"strings"
)

// Detect tells what a file holds and by what it was recognised. Kind "" means that it was not: the reason then says why.
// It never reads more than the top of a CSV file and the first feature or two of a JSON file that carry the answer.
func Detect(name string, data []byte) (Kind, string) {
	format, err := FormatOf(data, Options{})
	if err != nil {
		return "", err.Error()
	}
	if format != FormatTable && format != FormatJSON {
		return detectFormat(format, data)
	}
	ext := strings.ToLower(filepath.Ext(name))
	if LooksJSON(data) || ext == ".json" || ext == ".geojson" {
		return detectJSON(data)
	}
	return detectTable(data[:min(len(data), topOfTable)])
}

// topOfTable is how much of a CSV file is looked at.
const topOfTable = 256 << 10

func detectJSON(data []byte) (Kind, string) {
	b, err := JSON(data, Options{})
	if err != nil {
		return "", err.Error()
	}
	props := Member(b, "properties")
	if Member(props, "updateTime") != nil || Member(Member(props, "temperature"), "uom") != nil {
		return Weather, "a gridpoint forecast: it has layers with units and an issue time"
	}
	if Member(props, "timeseries") != nil {
		return Weather, "a forecast by time: it has a list of times with their weather"
	}
	if Member(Member(b, "hourly"), "time") != nil {
		return Weather, "a forecast in hourly columns"
	}
	if dailyClimate(b) {
		return Station, "daily climate of a weather station"
	}
	switch geometryIn(b, 0) {
	case "Polygon", "MultiPolygon":
		return Outline, "GeoJSON with polygons"
	case "Point", "MultiPoint":
		return Soundings, "GeoJSON with points"
	case "LineString", "MultiLineString":
		return "", "GeoJSON with lines only: an outline must be a polygon, soundings must be points"
	}
	return "", "JSON, but neither GeoJSON with polygons or points nor a forecast"
}

// dailyClimate tells whether the first feature of a GeoJSON file is a day of a weather station, as GeoMet has it.
func dailyClimate(b []byte) (so bool) {
	_ = Elements(Member(b, "features"), func(_ int, v []byte) error { // no list: no day
		props := Member(v, "properties")
		so = Member(props, "CLIMATE_IDENTIFIER") != nil && Member(props, "LOCAL_DATE") != nil
		return errEnough
	})
	return so
}

// geometryIn finds the first geometry that says what a GeoJSON file is; an area outranks points beside it.
func geometryIn(b []byte, level int) string {
	if level > MaxNesting/2 {
		return ""
	}
	kind, _ := JSONString(Member(b, "type"))
	var list []byte
	switch kind {
	case "Feature":
		return geometryIn(Member(b, "geometry"), level+1)
	case "FeatureCollection":
		list = Member(b, "features")
	case "GeometryCollection":
		list = Member(b, "geometries")
	default:
		return kind
	}
	best := ""
	_ = Elements(list, func(i int, v []byte) error { // no list: no geometry
		g := geometryIn(v, level+1)
		if best == "" || strings.HasSuffix(g, "Polygon") {
			best = g
		}
		if strings.HasSuffix(g, "Polygon") || i >= 100 {
			return errEnough
		}
		return nil
	})
	return best
}

// errEnough ends a walk early.
var errEnough = errors.New("file: enough seen")

// detectTable tells the kinds of CSV apart by the columns that only one of them has.
func detectTable(data []byte) (Kind, string) {
	has := func(t *Table, list ...Meaning) []string {
		var found []string
		for _, m := range list {
			if i := t.Column(m); i >= 0 {
				found = append(found, quote(t.Header[i]))
			}
		}
		return found
	}
	if t, err := OpenTable(data, Holes, Options{}); err == nil {
		when := has(t, Date, Time)
		what := has(t, Marks, Kept, PutBack, Ice, Lengths, Lure, Minutes)
		if len(when) > 0 && len(what) > 0 {
			return Holes, "a hole log by its columns " + strings.Join(append(when, what...), ", ")
		}
	}
	if t, err := OpenTable(data, Weather, Options{}); err == nil {
		when, what := has(t, Time, Date), has(t, Temperature, Wind, Gust, Sky, Precip, Visibility)
		if len(when) > 0 && len(what) > 0 {
			return Weather, "hours of weather by its columns " + strings.Join(append(when, what...), ", ")
		}
	}
	t, err := OpenTable(data, Soundings, Options{})
	if err != nil {
		return "", "its columns are not those of soundings, of a hole log or of a forecast; say which it is with --as soundings, --as holes or --as weather"
	}
	depth, where := has(t, Depth, Elevation, askZ), has(t, Position, Lat, LatDMM, Easting, askX)
	if len(depth) > 0 && len(where) > 0 {
		return Soundings, "soundings by its columns " + strings.Join(append(where, depth...), ", ")
	}
	return "", "it has columns of soundings, but not both a depth and a position; name them with --as soundings --map HEADER=depth"
}
