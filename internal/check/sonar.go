package check

import (
	"math"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/physics/sonar"
)

var sonarSlugs = []Slug{
	{"sound_speed", "m/s", "speed of sound in pure water", keys("water_c", "degC"),
		func(in Inputs) (float64, error) { return sonar.SoundSpeed(water(in)).MetresPerSecond(), nil }},
	{"sound_speed_difference", "m/s", "disagreement of the two fits of the speed of sound", keys("water_c", "degC"),
		func(in Inputs) (float64, error) {
			return (sonar.SoundSpeed(water(in)) - sonar.BilaniukWong(water(in))).MetresPerSecond(), nil
		}},
	{"true_depth", "m", "depth behind a shown one", keys("shown_m", "m", "assumed_m_s", "m/s", "water_c", "degC"),
		func(in Inputs) (float64, error) {
			return sonar.TrueDepth(length(in, "shown_m"), quantity.Speed(in.n("assumed_m_s")), sonar.SoundSpeed(water(in))).Metres(), nil
		}},
	{"range_resolution", "m", "least difference of range of two echoes", keys("water_c", "degC", "pulse_us", "us"),
		func(in Inputs) (float64, error) {
			return sonar.RangeResolution(sonar.SoundSpeed(water(in)), pulse(in)).Metres(), nil
		}},
	{"wavelength", "mm", "wavelength", keys("water_c", "degC", "frequency_khz", "kHz"),
		func(in Inputs) (float64, error) {
			return float64(sonar.Wavelength(sonar.SoundSpeed(water(in)), khz(in)) / quantity.Millimetre), nil
		}},
	{"disc_power", "1", "power of a disc off its axis, by x = ka sin(angle)", keys("x", "1"),
		func(in Inputs) (float64, error) { r := sonar.DiscResponse(in.n("x")); return r * r, nil }},
	{"disc_level", "dB", "the same as a level", keys("x", "1"),
		func(in Inputs) (float64, error) {
			return 20 * math.Log10(math.Abs(sonar.DiscResponse(in.n("x")))), nil
		}},
	{"disc_beam", "degree", "full beam of a disc to half the power, one way", keys("water_c", "degC", "frequency_khz", "kHz", "disc_mm", "mm"),
		func(in Inputs) (float64, error) {
			return float64(sonar.DiscBeam(sonar.SoundSpeed(water(in)), khz(in), quantity.Length(in.n("disc_mm"))*quantity.Millimetre)), nil
		}},
	{"two_way_solid_angle", "sr", "equivalent two-way solid angle", keys("ka", "1"),
		func(in Inputs) (float64, error) { return float64(sonar.TwoWaySolidAngle(in.n("ka"))), nil }},
	{"targets_per_pulse", "1", "targets in the volume of a pulse", keys("sound_m_s", "m/s", "pulse_us", "us", "solid_angle_sr", "sr", "range_m", "m", "targets_per_m3", "1/m3"),
		func(in Inputs) (float64, error) {
			return sonar.TargetsPerPulse(quantity.Speed(in.n("sound_m_s")), pulse(in), quantity.SolidAngle(in.n("solid_angle_sr")), length(in, "range_m"), in.n("targets_per_m3")), nil
		}},
	{"footprint_width", "m", "width of a cone", keys("depth_m", "m", "cone_deg", "degree"),
		func(in Inputs) (float64, error) { return cone(in).Footprint(length(in, "depth_m")).Metres(), nil }},
	{"footprint_area", "m2", "area of a cone", keys("depth_m", "m", "cone_deg", "degree"),
		func(in Inputs) (float64, error) { return float64(cone(in).FootprintArea(length(in, "depth_m"))), nil }},
	{"layer_volume", "m3", "volume of a cone between two depths", keys("top_m", "m", "bottom_m", "m", "cone_deg", "degree"),
		func(in Inputs) (float64, error) {
			return float64(cone(in).LayerVolume(length(in, "top_m"), length(in, "bottom_m"))), nil
		}},
	{"flat_hidden", "m", "height hidden above a flat bottom", keys("depth_m", "m", "off_axis_deg", "degree", "sound_m_s", "m/s", "pulse_us", "us"),
		func(in Inputs) (float64, error) {
			return sonar.FlatHidden(length(in, "depth_m"), quantity.Angle(in.n("off_axis_deg")), quantity.Speed(in.n("sound_m_s")), pulse(in)).Metres(), nil
		}},
	{"slope_hidden", "m", "height hidden on the axis by a sloping bottom", slopeInputs,
		func(in Inputs) (float64, error) { h, _ := slope(in); return h.Metres(), nil }},
	{"slope_smear", "m", "range over which the echo of a sloping bottom is smeared", slopeInputs,
		func(in Inputs) (float64, error) { _, s := slope(in); return s.Metres(), nil }},
	{"mean_dwell", "s", "mean time that a small target stays in a footprint", keys("footprint_m", "m", "speed_m_s", "m/s"),
		func(in Inputs) (float64, error) {
			return sonar.MeanDwell(length(in, "footprint_m"), quantity.Speed(in.n("speed_m_s"))).Seconds(), nil
		}},
	{"fresh_look_time", "s", "wait worth one look at a fresh place", keys("radius_m", "m", "speed_m_s", "m/s"),
		func(in Inputs) (float64, error) {
			return sonar.FreshLookTime(length(in, "radius_m"), quantity.Speed(in.n("speed_m_s"))).Seconds(), nil
		}},
	{"pass_chance", "1", "chance that a target comes by during a wait", keys("radius_m", "m", "speed_m_s", "m/s", "per_hectare", "1/ha", "wait_s", "s"),
		func(in Inputs) (float64, error) {
			return sonar.PassChance(length(in, "radius_m"), quantity.Speed(in.n("speed_m_s")), quantity.NumberDensity(in.n("per_hectare"))*quantity.PerHectare, seconds(in, "wait_s")), nil
		}},
	{"presence_chance", "1", "chance of a target in reach at once", keys("radius_m", "m", "per_hectare", "1/ha"),
		func(in Inputs) (float64, error) {
			return sonar.PresenceChance(length(in, "radius_m"), quantity.NumberDensity(in.n("per_hectare"))*quantity.PerHectare), nil
		}},
	{"swept_targets", "1", "targets met by a look that lasts a while", keys("radius_m", "m", "speed_m_s", "m/s", "per_hectare", "1/ha", "wait_s", "s"),
		func(in Inputs) (float64, error) {
			return sonar.Swept(length(in, "radius_m"), quantity.Speed(in.n("speed_m_s")), quantity.NumberDensity(in.n("per_hectare"))*quantity.PerHectare, seconds(in, "wait_s")), nil
		}},
}

var slopeInputs = keys("depth_m", "m", "cone_deg", "degree", "slope_deg", "degree")

func slope(in Inputs) (hidden, smear quantity.Length) {
	return sonar.SlopeHidden(length(in, "depth_m"), cone(in), quantity.Angle(in.n("slope_deg")))
}

func cone(in Inputs) sonar.Beam { return sonar.Beam(in.n("cone_deg")) }

func water(in Inputs) quantity.Celsius { return quantity.Celsius(in.n("water_c")) }

func khz(in Inputs) quantity.Frequency {
	return quantity.Frequency(in.n("frequency_khz")) * quantity.Kilohertz
}

func pulse(in Inputs) time.Duration {
	return time.Duration(in.n("pulse_us") * float64(time.Microsecond))
}

func seconds(in Inputs, key string) time.Duration {
	return time.Duration(in.n(key) * float64(time.Second))
}
