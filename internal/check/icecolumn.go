package check

import (
	"fmt"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/physics/ice"
)

// winterInputs are those of a made-up steady winter from open water on, over the usual site.
var winterInputs = keys("days", "day", "air_c", "degC", "snowfall_kg_m2_day", "kg/m2 a day")

var columnSlugs = []Slug{
	{"column_growth_per_day", "cm", "mean growth by day of the column in a steady winter", winterInputs,
		func(in Inputs) (float64, error) {
			c, err := wintered(in)
			return c.Total().Centimetres() / in.n("days"), err
		}},
	{"column_thickness", "cm", "ice of the column at the end of a steady winter", winterInputs,
		func(in Inputs) (float64, error) {
			c, err := wintered(in)
			return c.Total().Centimetres(), err
		}},
	{"column_white_share", "1", "share of white ice in it", winterInputs,
		func(in Inputs) (float64, error) {
			c, err := wintered(in)
			return float64(c.White / c.Total()), err
		}},
	{"column_snow_to_ice", "1", "share of the snow caught by the ice that became white ice or slush", winterInputs,
		func(in Inputs) (float64, error) {
			c, err := wintered(in)
			caught := ice.UsualSite().Catch * in.n("snowfall_kg_m2_day") * (in.n("days") - 1) // the first day's fell into the water
			return 1 - float64(c.Snow)/caught, err
		}},
	{"column_loss_over_growth", "1", "days of a steady winter over the days that steady warm air takes to melt its ice", append(keys("spring_air_c", "degC"), winterInputs...),
		func(in Inputs) (float64, error) {
			c, err := wintered(in)
			lost := 0
			for ; err == nil && c.Total() > 0; lost++ {
				if lost > 365 {
					return 0, fmt.Errorf("check: melting the column: it outlasts a year")
				}
				c = c.Step(ice.Weather{Air: quantity.Celsius(in.n("spring_air_c")), Span: oneDay}, ice.UsualSite())
			}
			return in.n("days") / float64(lost), err
		}},
	{"column_flooded_freeboard", "m", "height of the top above the water once heavy snow has flooded the ice", keys("clear_m", "m", "snow_m", "m", "snow_kg_m3", "kg/m3"),
		func(in Inputs) (float64, error) {
			c := ice.Column{Clear: length(in, "clear_m"), Snow: snowLoad(in), SnowDensity: quantity.Density(in.n("snow_kg_m3"))}
			c = c.Step(ice.Weather{Span: oneDay}, ice.Site{Air: ice.UsualAir, Conduct: 1})
			return c.Freeboard().Metres(), nil
		}},
}

var movingSlugs = []Slug{
	{"critical_speed", "m/s", "speed of the slowest wave in the sheet", keys("clear_m", "m", "depth_m", "m", "modulus_gpa", "GPa"),
		func(in Inputs) (float64, error) {
			return ice.CriticalSpeed(length(in, "clear_m"), length(in, "depth_m"), gigapascals(in)).MetresPerSecond(), nil
		}},
	{"heavy_speed", "km/h", "limit for a load near the calculated one", nil,
		func(Inputs) (float64, error) { return ice.HeavySpeed.KilometresPerHour(), nil }},
	{"moving_limit", "km/h", "limit for a load in motion", keys("load_kg", "kg", "calculated_kg", "kg", "clear_m", "m", "depth_m", "m"),
		func(in Inputs) (float64, error) {
			m := ice.MovingAdvice(quantity.Mass(in.n("load_kg")), quantity.Mass(in.n("calculated_kg")), length(in, "clear_m"), length(in, "depth_m"))
			return m.Limit.KilometresPerHour(), nil
		}},
	{"unknown_depth_speed", "m/s", "published speed where the depth is not known; the program's own is slower", nil,
		func(Inputs) (float64, error) { return ice.UnknownDepthSpeed.MetresPerSecond(), nil }},
	{"shore_angle", "degree", "least angle at which to meet the shoreline", nil,
		func(Inputs) (float64, error) { return ice.ShoreAngle.Degrees(), nil }},
}

const oneDay = 24 * time.Hour

// wintered runs the column of the usual site through a steady winter.
func wintered(in Inputs) (ice.Column, error) {
	var c ice.Column
	days := in.n("days")
	if days < 1 || days > 365 || days != float64(int(days)) {
		return c, fmt.Errorf("check: running the column: days must be a whole number from 1 to 365")
	}
	for range int(days) {
		w := ice.Weather{Air: quantity.Celsius(in.n("air_c")), Snowfall: quantity.SurfaceDensity(in.n("snowfall_kg_m2_day")), Span: oneDay}
		c = c.Step(w, ice.UsualSite())
	}
	return c, nil
}
