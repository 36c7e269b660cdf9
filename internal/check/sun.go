package check

import (
	_ "embed"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/moon"
	"icehand/internal/physics/sun"
)

var sunSlugs = []Slug{
	{"sun_zenith", "degree", "zenith angle of the sun's centre without refraction", skyInputs,
		func(in Inputs) (float64, error) { return sun.At(in.t("time"), position(in)).Zenith().Degrees(), nil }},
	{"sun_azimuth", "degree", "azimuth of the sun's centre from true north", skyInputs,
		func(in Inputs) (float64, error) { return sun.At(in.t("time"), position(in)).Azimuth.Degrees(), nil }},
	{"sun_zenith_apparent", "degree", "zenith angle as seen through air", append(keys("pressure_hpa", "hPa", "air_c", "degC"), skyInputs...),
		func(in Inputs) (float64, error) {
			s := sun.At(in.t("time"), position(in))
			return (s.Zenith() - refraction(in, s.Elevation)).Degrees(), nil
		}},
	{"sun_incidence", "degree", "angle between the sun, as seen through air, and the normal of a tilted plane",
		append(keys("slope_deg", "degree", "faces_west_of_south_deg", "degree", "pressure_hpa", "hPa", "air_c", "degC"), skyInputs...), incidence},
	{"sun_zenith_worst", "degree", "greatest error of the zenith angle in a table of another program, lakes of 44 to 61 N in winter", keys("table", "ephem|erfa"), zenithWorst},
	{"refraction", "degree", "lift of the sun by air", keys("elevation_deg", "degree", "pressure_hpa", "hPa", "air_c", "degC"),
		func(in Inputs) (float64, error) {
			return refraction(in, quantity.Angle(in.n("elevation_deg"))).Degrees(), nil
		}},
	{"sun_distance", "AU", "distance from the Earth to the sun", keys("time", kindTime),
		func(in Inputs) (float64, error) { return sun.Distance(in.t("time")), nil }},
	{"sun_event", "min", "time of an event of a civil date, in minutes after that date's local midnight",
		append(keys("event", "astronomical_dawn|nautical_dawn|civil_dawn|sunrise|transit|sunset|civil_dusk|nautical_dusk|astronomical_dusk"), dayInputs...), sunEvent},
	{"sun_noon_elevation", "degree", "elevation at transit without refraction", dayInputs,
		func(in Inputs) (float64, error) {
			d, _ := day(in)
			return d.NoonElevation.Degrees(), nil
		}},
	{"air_mass", "1", "optical path through air", keys("zenith_deg", "degree"),
		func(in Inputs) (float64, error) { return sun.AirMass(quantity.Angle(in.n("zenith_deg"))), nil }},
	{"clear_sky", "W/m2", "sunlight on level ground under a clear sky", keys("zenith_deg", "degree"),
		func(in Inputs) (float64, error) {
			return float64(sun.ClearSky(90 - quantity.Angle(in.n("zenith_deg")))), nil
		}},
}

var (
	skyInputs = keys("time", kindTime, "lat", "degree", "lon", "degree")
	dayInputs = keys("date", kindDate, "lat", "degree", "lon", "degree", "utc_offset_h", "h")
)

func position(in Inputs) geo.Position { return geo.Position{Lat: in.n("lat"), Lon: in.n("lon")} }

func refraction(in Inputs, e quantity.Angle) quantity.Angle {
	return sun.Refraction(e, quantity.Pressure(in.n("pressure_hpa"))*quantity.Hectopascal, quantity.Celsius(in.n("air_c")))
}

// day gives the events of a date and its local midnight.
func day(in Inputs) (sun.Day, time.Time) {
	zone := time.FixedZone("", int(in.n("utc_offset_h")*3600))
	y, m, d := in.t("date").Date()
	return sun.EventsOn(y, m, d, position(in), zone), time.Date(y, m, d, 0, 0, 0, 0, zone)
}

func sunEvent(in Inputs) (float64, error) {
	d, midnight := day(in)
	e := map[string]sun.Event{
		"astronomical_dawn": d.AstronomicalDawn, "nautical_dawn": d.NauticalDawn, "civil_dawn": d.CivilDawn, "sunrise": d.Sunrise, "transit": {Time: d.Transit},
		"sunset": d.Sunset, "civil_dusk": d.CivilDusk, "nautical_dusk": d.NauticalDusk, "astronomical_dusk": d.AstronomicalDusk,
	}[in.s("event")]
	if e.Passage != sun.Happens {
		return 0, fmt.Errorf("check: sun event: it does not happen, the sun %v that elevation", e.Passage)
	}
	return e.Time.Sub(midnight).Minutes(), nil
}

var moonSlugs = []Slug{
	{"moon_lit", "1", "lit part of the moon's disc", keys("time", kindTime), func(in Inputs) (float64, error) { return moon.Lit(in.t("time")), nil }},
	{"moon_new", "min", "minutes from a time to the next new moon", keys("time", kindTime),
		func(in Inputs) (float64, error) { return moon.NextNew(in.t("time")).Sub(in.t("time")).Minutes(), nil }},
}

// incidence gives the angle between the sun and the normal of a tilted plane [RedaAndreas2004].
func incidence(in Inputs) (float64, error) {
	s := sun.At(in.t("time"), position(in))
	θ := s.Zenith() - refraction(in, s.Elevation)
	rad := func(v float64) float64 { return v * math.Pi / 180 }
	sθ, cθ := math.Sincos(rad(θ.Degrees()))
	sω, cω := math.Sincos(rad(in.n("slope_deg")))
	turn := math.Cos(rad(s.Azimuth.Degrees() - 180 - in.n("faces_west_of_south_deg")))
	return math.Acos(cθ*cω+sω*sθ*turn) * 180 / math.Pi, nil
}

//go:embed tables/sun_position.csv
var sunTable string

// zenithWorst gives the greatest difference from a table of zenith angles.
func zenithWorst(in Inputs) (float64, error) {
	r := csv.NewReader(strings.NewReader(sunTable))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 100 {
		return 0, fmt.Errorf("check: the table of the sun has %d rows: %w", len(rows), err)
	}
	column := map[string]int{"ephem": 3, "erfa": 5}[in.s("table")]
	worst := 0.0
	for _, row := range rows[1:] {
		at, err := time.Parse(time.RFC3339, row[2])
		lat, err1 := strconv.ParseFloat(row[0], 64)
		lon, err2 := strconv.ParseFloat(row[1], 64)
		want, err3 := strconv.ParseFloat(row[column], 64)
		if err := errors.Join(err, err1, err2, err3); err != nil {
			return 0, fmt.Errorf("check: the table of the sun: %w", err)
		}
		worst = math.Max(worst, math.Abs(sun.At(at, geo.Position{Lat: lat, Lon: lon}).Zenith().Degrees()-want))
	}
	return worst, nil
}
