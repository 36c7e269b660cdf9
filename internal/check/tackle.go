package check

import (
	"math"

	"icehand/internal/base/quantity"
	"icehand/internal/physics/tackle"
)

var tackleSlugs = []Slug{
	{"line_stretch", "m", "stretch of a line by its modulus", keys("force_n", "N", "out_m", "m", "line_mm", "mm", "modulus_gpa", "GPa"),
		func(in Inputs) (float64, error) {
			r := tackle.Rig{Out: length(in, "out_m"), Diameter: lineOf(in), Modulus: in.n("modulus_gpa") * 1e9, Tip: math.Inf(1)}
			return r.Stretch(quantity.Force(in.n("force_n"))).Metres(), nil
		}},
	{"line_stretch_measured", "m", "stretch of a line by its strain under another pull", keys("strain", "1", "at_lbf", "lbf", "force_n", "N", "out_m", "m"),
		func(in Inputs) (float64, error) {
			return tackle.StretchFromStrain(in.n("strain"), quantity.Force(in.n("at_lbf"))*quantity.PoundForce, quantity.Force(in.n("force_n")), length(in, "out_m")).Metres(), nil
		}},
	{"sink_speed", "m/s", "speed at which a sphere sinks, by its mass", keys("mass_g", "g", "density", "kg/m3", "water_c", "degC"),
		func(in Inputs) (float64, error) {
			return sinker(in).Terminal(tackle.WaterAt(water(in))).MetresPerSecond(), nil
		}},
	{"sink_time", "s", "time that a sphere sinks to a depth", keys("mass_g", "g", "density", "kg/m3", "water_c", "degC", "depth_m", "m"),
		func(in Inputs) (float64, error) {
			return sinker(in).Sink(tackle.WaterAt(water(in)), length(in, "depth_m")).Seconds(), nil
		}},
	{"grain_speed", "m/s", "speed at which a sphere sinks, by its diameter", keys("diameter_mm", "mm", "density", "kg/m3", "water_c", "degC"),
		func(in Inputs) (float64, error) {
			w := tackle.Sphere(quantity.Length(in.n("diameter_mm"))*quantity.Millimetre, quantity.Density(in.n("density")))
			return w.Terminal(tackle.WaterAt(water(in))).MetresPerSecond(), nil
		}},
	{"line_drag", "1", "drag coefficient of a line across a current", keys("line_mm", "mm", "current_m_s", "m/s", "water_c", "degC"),
		func(in Inputs) (float64, error) {
			w := tackle.WaterAt(water(in))
			return tackle.LineDrag(float64(w.Density) * in.n("current_m_s") * lineOf(in).Metres() / w.Viscosity), nil
		}},
	{"line_aside", "m", "how far aside a current carries a sphere on a line", keys("mass_g", "g", "density", "kg/m3", "line_mm", "mm", "water_c", "degC", "depth_m", "m", "current_m_s", "m/s"),
		func(in Inputs) (float64, error) {
			return tackle.Drift(sinker(in), lineOf(in), tackle.WaterAt(water(in)), length(in, "depth_m"), quantity.Speed(in.n("current_m_s"))).Aside.Metres(), nil
		}},
}

func sinker(in Inputs) tackle.Weight {
	return tackle.Weight{Mass: quantity.Mass(in.n("mass_g")) * quantity.Gram, Density: quantity.Density(in.n("density"))}
}

func lineOf(in Inputs) quantity.Length {
	return quantity.Length(in.n("line_mm")) * quantity.Millimetre
}
