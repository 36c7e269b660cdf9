package check

import (
	"fmt"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
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
