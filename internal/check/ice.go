package check

import (
	"fmt"

	"icehand/internal/base/quantity"
	"icehand/internal/physics/ice"
)

// growthInputs are those of a sheet that grows under snow and moving air.
var growthInputs = keys("start_m", "m", "frost_c_day", "degC day", "air_w_m2k", "W/m2K", "snow_m", "m", "snow_w_mk", "W/mK")

var iceSlugs = []Slug{
	{"stefan_alpha", "cm/sqrt(degC day)", "Stefan's coefficient of bare ice", keys("k_w_mk", "W/mK", "ice_kg_m3", "kg/m3"),
		func(in Inputs) (float64, error) {
			α := ice.StefanAlpha(quantity.Conductivity(in.n("k_w_mk")), quantity.Density(in.n("ice_kg_m3")))
			return float64(α / ice.CentimetrePerRootCelsiusDay), nil
		}},
	{"stefan_alpha_us", "in/sqrt(degF day)", "the same in English units", keys("k_w_mk", "W/mK", "ice_kg_m3", "kg/m3"),
		func(in Inputs) (float64, error) {
			α := ice.StefanAlpha(quantity.Conductivity(in.n("k_w_mk")), quantity.Density(in.n("ice_kg_m3")))
			return float64(α / ice.InchPerRootFahrenheitDay), nil
		}},
	{"fitted_alpha", "cm/sqrt(degC day)", "published coefficient for surroundings, named as the program lists them", keys("surroundings", kindText, "edge", "low|high"),
		func(in Inputs) (float64, error) {
			α, err := fittedAlpha(in)
			return float64(α / ice.CentimetrePerRootCelsiusDay), err
		}},
	{"fitted_alpha_us", "in/sqrt(degF day)", "the same in English units", keys("surroundings", kindText, "edge", "low|high"),
		func(in Inputs) (float64, error) {
			α, err := fittedAlpha(in)
			return float64(α / ice.InchPerRootFahrenheitDay), err
		}},
	{"stefan_thickness_us", "in", "thickness by the square-root law", keys("alpha_us", "in/sqrt(degF day)", "frost_f_day", "degF day"),
		func(in Inputs) (float64, error) {
			h := ice.Stefan(ice.Alpha(in.n("alpha_us"))*ice.InchPerRootFahrenheitDay, quantity.DegreeDays(in.n("frost_f_day"))*quantity.FahrenheitDay)
			return h.Inches(), nil
		}},
	{"frost_sum", "degC day", "freezing degree-days of daily means since freeze-up", keys("means_c", kindList),
		func(in Inputs) (float64, error) {
			var means []quantity.Celsius
			for _, T := range in.l("means_c") {
				means = append(means, quantity.Celsius(T))
			}
			S, _ := ice.FreezingDegreeDays(means)
			return float64(S), nil
		}},
	{"air_transfer", "W/m2K", "heat that air carries from a bare surface", keys("wind", "calm|usual|windy"),
		func(in Inputs) (float64, error) {
			return map[string]float64{"calm": float64(ice.CalmAir), "usual": float64(ice.UsualAir), "windy": float64(ice.WindyAir)}[in.s("wind")], nil
		}},
	{"water_heat", "W/m2", "heat from the water to the ice over an open basin", nil,
		func(Inputs) (float64, error) { return float64(ice.WaterHeat), nil }},
	{"ice_growth", "m", "thickness after a spell of frost, closed form; no snow is snow_m=0", growthInputs,
		func(in Inputs) (float64, error) { return grown(in).Metres(), nil }},
	{"ice_growth_added_us", "in", "thickness added by a spell of frost on bare ice", keys("start_in", "in", "frost_f_day", "degF day", "air_w_m2k", "W/m2K"),
		func(in Inputs) (float64, error) {
			start := quantity.Length(in.n("start_in")) * quantity.Inch
			h := ice.Grow(start, quantity.DegreeDays(in.n("frost_f_day"))*quantity.FahrenheitDay, ice.AirFilm(quantity.HeatTransfer(in.n("air_w_m2k"))))
			return (h - start).Inches(), nil
		}},
	{"ice_growth_per_day", "cm", "clear ice that a day adds", keys("air_c", "degC", "clear_m", "m", "snow_m", "m", "snow_w_mk", "W/mK", "air_w_m2k", "W/m2K", "water_w_m2", "W/m2"),
		func(in Inputs) (float64, error) {
			h := ice.GrowthPerDay(quantity.Celsius(in.n("air_c")), length(in, "clear_m"), above(in), quantity.Irradiance(in.n("water_w_m2")))
			return h.Centimetres(), nil
		}},
	{"ice_melt", "cm", "clear ice that a degree-day takes from a bare top", keys("air_w_m2k", "W/m2K"),
		func(in Inputs) (float64, error) {
			return ice.Melt(1, quantity.HeatTransfer(in.n("air_w_m2k"))).Centimetres(), nil
		}},
	{"snow_conductivity", "W/mK", "conductivity of dry snow", keys("snow_g_cm3", "g/cm3"),
		func(in Inputs) (float64, error) {
			return float64(ice.SnowConductivity(quantity.Density(in.n("snow_g_cm3")) * quantity.GramPerCubicCentimetre)), nil
		}},
	{"white_ice_density", "kg/m3", "density of white ice", nil,
		func(Inputs) (float64, error) { return float64(ice.WhiteDensity), nil }},
	{"flooding_load", "kg/m2", "load by area that presses the top of the ice to the water", keys("clear_m", "m", "white_m", "m"),
		func(in Inputs) (float64, error) {
			return float64(ice.FloodingLoad(length(in, "clear_m"), length(in, "white_m"))), nil
		}},
	{"flooding_snow_ratio", "1", "depth of snow over thickness of clear ice at which a hole floods", keys("snow_kg_m3", "kg/m3"),
		func(in Inputs) (float64, error) {
			return float64(ice.FloodingLoad(1, 0)) / in.n("snow_kg_m3"), nil
		}},
	{"freeboard", "m", "height of the ice above the water", keys("clear_m", "m", "white_m", "m", "snow_m", "m", "snow_kg_m3", "kg/m3"),
		func(in Inputs) (float64, error) {
			return ice.Freeboard(length(in, "clear_m"), length(in, "white_m"), snowLoad(in)).Metres(), nil
		}},
	{"slush_depth", "m", "slush that forms when water comes up into the snow", keys("clear_m", "m", "white_m", "m", "snow_m", "m", "snow_kg_m3", "kg/m3", "packing", "1"),
		func(in Inputs) (float64, error) {
			d := ice.SlushDepth(length(in, "clear_m"), length(in, "white_m"), snowLoad(in), quantity.Density(in.n("snow_kg_m3")), in.n("packing"))
			return d.Metres(), nil
		}},
	{"parking_area", "m2", "area by vehicle at which its weight equals the buoyancy of bare clear ice", keys("vehicle_kg", "kg", "clear_m", "m"),
		func(in Inputs) (float64, error) {
			return in.n("vehicle_kg") / float64(ice.FloodingLoad(length(in, "clear_m"), 0)), nil
		}},
}

func fittedAlpha(in Inputs) (ice.Alpha, error) {
	for _, s := range ice.FittedAlphas() {
		if s.Name != in.s("surroundings") {
			continue
		}
		if in.s("edge") == "low" {
			return s.Low, nil
		}
		return s.High, nil
	}
	return 0, fmt.Errorf("check: fitted coefficient: no surroundings %q", in.s("surroundings"))
}

func above(in Inputs) ice.Resistance {
	return ice.AirFilm(quantity.HeatTransfer(in.n("air_w_m2k"))) + ice.Cover(length(in, "snow_m"), quantity.Conductivity(in.n("snow_w_mk")))
}

func grown(in Inputs) quantity.Length {
	return ice.Grow(length(in, "start_m"), quantity.DegreeDays(in.n("frost_c_day")), above(in))
}

func snowLoad(in Inputs) quantity.SurfaceDensity {
	return ice.SnowLoad(length(in, "snow_m"), quantity.Density(in.n("snow_kg_m3")))
}

// length reads an input that is in metres.
func length(in Inputs, key string) quantity.Length {
	return quantity.Length(in.n(key)) * quantity.Metre
}
