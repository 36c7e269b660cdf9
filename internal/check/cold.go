package check

import (
	"fmt"

	"icehand/internal/base/quantity"
	"icehand/internal/physics/cold"
)

var coldSlugs = []Slug{
	{"wind_chill_si", "degC", "wind chill, form in degrees Celsius and km/h", keys("air_c", "degC", "wind_kmh", "km/h"),
		func(in Inputs) (float64, error) {
			index, _ := cold.WindChill(quantity.Celsius(in.n("air_c")), kmh(in.n("wind_kmh")))
			return index.Degrees(), nil
		}},
	{"wind_chill_us", "degF", "wind chill, form in degrees Fahrenheit and mph", keys("air_f", "degF", "wind_mph", "mph"),
		func(in Inputs) (float64, error) {
			index, _ := cold.WindChillUS(quantity.Fahrenheit(in.n("air_f")), quantity.Speed(in.n("wind_mph"))*quantity.MilePerHour)
			return index.Fahrenheit(), nil
		}},
	{"frostbite_formula", "min", "time to frostbite of the quickest 5 %, the bare formula", keys("air_c", "degC", "wind_kmh", "km/h"),
		func(in Inputs) (float64, error) {
			t, ok := cold.FrostbiteFormula(quantity.Celsius(in.n("air_c")), kmh(in.n("wind_kmh")))
			if !ok {
				return 0, fmt.Errorf("check: frostbite: air too warm for the formula")
			}
			return t.Minutes(), nil
		}},
	{"frostbite_shown", "min", "time to frostbite as shown: the shorter of the formula and the hazard band", keys("air_c", "degC", "wind_kmh", "km/h"),
		func(in Inputs) (float64, error) {
			f := cold.FrostbiteTime(quantity.Celsius(in.n("air_c")), kmh(in.n("wind_kmh")))
			if !f.Possible {
				return 0, fmt.Errorf("check: frostbite: air too warm for the formula")
			}
			return f.Time.Minutes(), nil
		}},
	{"frostbite_band", "min", "edge of the hazard band of a wind chill", keys("index_c", "degC", "edge", "soonest|latest"),
		func(in Inputs) (float64, error) {
			b := cold.BandOf(quantity.Celsius(in.n("index_c")))
			if in.s("edge") == "soonest" {
				return b.Soonest.Minutes(), nil
			}
			return b.Latest.Minutes(), nil
		}},
	{"immersion", "min", "time of a stage after falling into ice water", keys("stage", "breath|movement|consciousness"),
		func(in Inputs) (float64, error) {
			switch in.s("stage") {
			case "breath":
				return cold.BreathControl.Minutes(), nil
			case "movement":
				return cold.UsefulMovement.Minutes(), nil
			}
			return cold.Unconsciousness.Minutes(), nil
		}},
	{"co_alarm", "min", "time within which a carbon monoxide alarm must sound", keys("ppm", "ppm", "edge", "earliest|latest"),
		func(in Inputs) (float64, error) {
			for _, a := range cold.COAlarms() {
				if a.PPM != in.n("ppm") {
					continue
				}
				if in.s("edge") == "earliest" {
					return a.Earliest.Minutes(), nil
				}
				return a.Latest.Minutes(), nil
			}
			return 0, fmt.Errorf("check: carbon monoxide: no alarm point at %v ppm", in.n("ppm"))
		}},
	{"co_limit", "ppm", "limit of carbon monoxide in air", keys("limit", "workday|ceiling|legal_us"),
		func(in Inputs) (float64, error) {
			return map[string]float64{"workday": cold.COWorkday, "ceiling": cold.COCeiling, "legal_us": cold.COLegalUS}[in.s("limit")], nil
		}},
	{"shelter_vent_height", "ft", "greatest height of a shelter's lower opening above the floor", nil,
		func(Inputs) (float64, error) { return cold.LowerVent.Feet(), nil }},
}

func kmh(v float64) quantity.Speed { return quantity.Speed(v) * quantity.KilometrePerHour }
