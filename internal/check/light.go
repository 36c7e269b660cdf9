package check

import (
	"icehand/internal/base/quantity"
	"icehand/internal/engine/dusk"
	"icehand/internal/physics/light"
)

var lightSlugs = []Slug{
	{"light_fraction", "1", "share of the surface light that reaches a depth", columnInputs,
		func(in Inputs) (float64, error) { return lightFraction(in), nil }},
	{"light_at_depth", "lux", "light at a depth, from the light on the surface", append(keys("surface_lux", "lux"), columnInputs...),
		func(in Inputs) (float64, error) { return in.n("surface_lux") * lightFraction(in), nil }},
	{"light_attenuation", "1/m", "attenuation by a layer, typical value", keys("layer", "clear|white|snow"),
		func(in Inputs) (float64, error) {
			return map[string]float64{"clear": float64(light.TypicalClear), "white": float64(light.TypicalWhite), "snow": float64(light.TypicalSnow)}[in.s("layer")], nil
		}},
	{"surface_illuminance", "lux", "light of a clear moonless sky on level ground", keys("elevation_deg", "degree", "edge", "low|middle|high"),
		func(in Inputs) (float64, error) {
			r := light.Surface(quantity.Angle(in.n("elevation_deg")))
			return map[string]float64{"low": float64(r.Low), "middle": float64(r.Middle()), "high": float64(r.High)}[in.s("edge")], nil
		}},
	{"walleye_band", "lux", "light in which walleye are most active", keys("edge", "low|high"),
		func(in Inputs) (float64, error) {
			low, high := dusk.Band()
			return map[string]float64{"low": float64(low), "high": float64(high)}[in.s("edge")], nil
		}},
}

var columnInputs = keys("albedo", "1", "snow_m", "m", "snow_per_m", "1/m", "white_m", "m", "white_per_m", "1/m", "clear_m", "m", "clear_per_m", "1/m", "depth_m", "m", "water_per_m", "1/m")

func lightFraction(in Inputs) float64 {
	k := func(key string) quantity.Attenuation { return quantity.Attenuation(in.n(key)) }
	return light.Fraction(
		light.Column{Snow: length(in, "snow_m"), White: length(in, "white_m"), Clear: length(in, "clear_m"), Depth: length(in, "depth_m")},
		light.Optics{Albedo: in.n("albedo"), Snow: k("snow_per_m"), White: k("white_per_m"), Clear: k("clear_per_m"), Water: k("water_per_m")})
}
