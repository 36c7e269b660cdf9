package check

import (
	"fmt"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

var geoSlugs = []Slug{
	{"plane_distance", "m", "distance on the lake's plane with its origin at the first point", fromTo,
		func(in Inputs) (float64, error) { a, b := ends(in); return a.Distance(b).Metres(), nil }},
	{"plane_bearing", "degree", "bearing on the lake's plane with its origin at the first point", fromTo,
		func(in Inputs) (float64, error) { a, b := ends(in); return a.BearingTo(b).Degrees(), nil }},
	{"plane_end", "degree", "latitude or longitude of the point at a bearing and distance, on the plane with its origin at the start",
		keys("lat", "degree", "lon", "degree", "bearing_deg", "degree", "distance_m", "m", "which", "lat|lon"),
		func(in Inputs) (float64, error) {
			f := geo.NewFrame(position(in))
			p := f.Position(geo.Local{}.Toward(quantity.NewBearing(in.n("bearing_deg")), length(in, "distance_m")))
			if in.s("which") == "lat" {
				return p.Lat, nil
			}
			return p.Lon, nil
		}},
	{"utm", "m", "coordinate on the Universal Transverse Mercator grid", keys("lat", "degree", "lon", "degree", "which", "easting|northing"),
		func(in Inputs) (float64, error) {
			u := position(in).ToUTM()
			if in.s("which") == "easting" {
				return u.Easting, nil
			}
			return u.Northing, nil
		}},
	{"utm_zone", "1", "zone on the Universal Transverse Mercator grid", keys("lat", "degree", "lon", "degree"),
		func(in Inputs) (float64, error) { return float64(position(in).ToUTM().Zone), nil }},
	{"coordinate", "degree", "one coordinate as people write it", keys("text", kindText),
		func(in Inputs) (float64, error) { return geo.ParseCoordinate(in.s("text")) }},
	{"length_text", "m", "a length as people write it, with its unit", keys("text", kindText),
		func(in Inputs) (float64, error) {
			l, _, err := quantity.ParseLength(in.s("text"), 0)
			return l.Metres(), err
		}},
	{"speed_text", "m/s", "a speed as people write it, with its unit", keys("text", kindText),
		func(in Inputs) (float64, error) {
			v, err := quantity.ParseSpeed(in.s("text"), 0)
			return v.MetresPerSecond(), err
		}},
	{"mass_text", "kg", "a mass as people write it, with its unit", keys("text", kindText),
		func(in Inputs) (float64, error) {
			m, err := quantity.ParseMass(in.s("text"), 0)
			return m.Kilograms(), err
		}},
	{"temperature_text", "degC", "a temperature as people write it, with its unit", keys("text", kindText),
		func(in Inputs) (float64, error) {
			T, err := quantity.ParseTemperature(in.s("text"), quantity.SI)
			return T.Degrees(), err
		}},
	{"compass", "1", "1 when a bearing has the stated compass point, else 0", keys("bearing_deg", "degree", "point", kindText),
		func(in Inputs) (float64, error) {
			if _, ok := quantity.ParseCompass(in.s("point")); !ok {
				return 0, fmt.Errorf("check: %q is no compass point", in.s("point"))
			}
			if quantity.NewBearing(in.n("bearing_deg")).Compass() == in.s("point") {
				return 1, nil
			}
			return 0, nil
		}},
}

var fromTo = keys("lat1", "degree", "lon1", "degree", "lat2", "degree", "lon2", "degree")

func ends(in Inputs) (a, b geo.Local) {
	p := geo.Position{Lat: in.n("lat1"), Lon: in.n("lon1")}
	q := geo.Position{Lat: in.n("lat2"), Lon: in.n("lon2")}
	f := geo.NewFrame(p)
	return f.Local(p), f.Local(q)
}
