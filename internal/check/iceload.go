package check

import (
	"fmt"
	"math"

	"icehand/internal/base/quantity"
	"icehand/internal/physics/ice"
)

var loadSlugs = []Slug{
	{"gold_load_us", "lb", "load by P = A h2 with A in psi", keys("strength_psi", "psi", "clear_in", "in"),
		func(in Inputs) (float64, error) {
			return ice.GoldLoad(quantity.Pressure(in.n("strength_psi"))*quantity.PoundPerSquareInch, inches(in, "clear_in")).Pounds(), nil
		}},
	{"gold_load", "kg", "load by P = A h2", keys("strength_kg_cm2", "kg/cm2", "effective_cm", "cm"),
		func(in Inputs) (float64, error) {
			return ice.GoldLoad(quantity.Pressure(in.n("strength_kg_cm2"))*quantity.KilogramPerSquareCentimetre, centimetres(in, "effective_cm")).Kilograms(), nil
		}},
	{"gold_strength", "kg/cm2", "A that a published load and thickness imply", keys("load_kg", "kg", "effective_cm", "cm"),
		func(in Inputs) (float64, error) {
			a := ice.GoldStrength(quantity.Mass(in.n("load_kg")), centimetres(in, "effective_cm"))
			return float64(a / quantity.KilogramPerSquareCentimetre), nil
		}},
	{"psi_in_kg_cm2", "kg/cm2", "conversion of a strength", keys("strength_psi", "psi"),
		func(in Inputs) (float64, error) {
			return float64(quantity.Pressure(in.n("strength_psi")) * quantity.PoundPerSquareInch / quantity.KilogramPerSquareCentimetre), nil
		}},
	{"manual_load", "short ton", "military rough guide", keys("clear_in", "in"),
		func(in Inputs) (float64, error) {
			return float64(ice.ManualLoad(inches(in, "clear_in")) / quantity.ShortTon), nil
		}},
	{"smith_thickness", "in", "thickness 4 S sqrt(W)", keys("load_short_ton", "short ton", "factor", "1"),
		func(in Inputs) (float64, error) {
			return ice.SmithThickness(quantity.Mass(in.n("load_short_ton"))*quantity.ShortTon, in.n("factor")).Inches(), nil
		}},
	{"standing_thickness", "in", "thickness that the program's formula asks for a stay of more than two hours", keys("load_short_ton", "short ton"),
		func(in Inputs) (float64, error) {
			return ice.Strength{}.StandingStrength().Required(quantity.Mass(in.n("load_short_ton")) * quantity.ShortTon).Inches(), nil
		}},
	{"fairbanks_thickness", "in", "thickness 5 sqrt(W)", keys("load_short_ton", "short ton"),
		func(in Inputs) (float64, error) {
			return ice.FairbanksThickness(quantity.Mass(in.n("load_short_ton")) * quantity.ShortTon).Inches(), nil
		}},
	{"effective_thickness", "cm", "clear ice that white on clear ice stands for", keys("clear_cm", "cm", "white_cm", "cm"),
		func(in Inputs) (float64, error) { return effective(in).Centimetres(), nil }},
	{"calculated_load", "kg", "load for white on clear ice at the program's default strength", keys("clear_cm", "cm", "white_cm", "cm"),
		func(in Inputs) (float64, error) { return ice.Strength{}.Load(effective(in)).Kilograms(), nil }},
	{"table_thickness", "cm", "thickness that an agency's table asks for; the upper end of a printed range", tableInputs,
		func(in Inputs) (float64, error) {
			h, err := tableThickness(in)
			return h.Centimetres(), err
		}},
	{"table_thickness_us", "in", "the same in inches", tableInputs,
		func(in Inputs) (float64, error) {
			h, err := tableThickness(in)
			return h.Inches(), err
		}},
	{"thaw_factor", "1", "factor on the required thickness after hours above 0 C out of the last 24", keys("hours_above", "h"),
		func(in Inputs) (float64, error) {
			n := in.n("hours_above")
			if n < 0 || n > 23 {
				return 0, fmt.Errorf("check: thaw: hours must be 0 to 23")
			}
			hourly := make([]quantity.Celsius, 48)
			for i := range hourly {
				hourly[i] = -5
				if len(hourly)-i <= int(n) {
					hourly[i] = 1
				}
			}
			return ice.Thaw(hourly).Thickness, nil
		}},
	{"mild_thickness", "in", "thickness in mild weather for one that serves in cold weather", keys("cold_in", "in"),
		func(in Inputs) (float64, error) {
			hourly := make([]quantity.Celsius, 72)
			for i := range hourly {
				hourly[i] = -2
			}
			return ice.Mild(hourly).Thickness * in.n("cold_in"), nil
		}},
	{"current_laxer", "percent", "by how much more of the load the program leaves over flowing water than a chart; 0 where it leaves less", keys("chart_change_percent", "percent"),
		func(in Inputs) (float64, error) {
			d := ice.Worst([]ice.Finding{ice.Flow(ice.Present)})
			return max(0, (d.Load(1).Kilograms()-1)*100-in.n("chart_change_percent")), nil
		}},
	{"current_thickness", "cm", "thickness over flowing water for one that serves over still water", keys("still_cm", "cm"),
		func(in Inputs) (float64, error) {
			d := ice.Worst([]ice.Finding{ice.Flow(ice.Present)})
			return d.Required(centimetres(in, "still_cm")).Centimetres(), nil
		}},
	{"manual_mild_thickness", "in", "thickness by the military rough guide and the program's rule of mild weather, rounded up to the inch as tables print it", keys("load_short_ton", "short ton"),
		func(in Inputs) (float64, error) {
			hourly := make([]quantity.Celsius, 72)
			for i := range hourly {
				hourly[i] = -2
			}
			cold := 4 * math.Sqrt(in.n("load_short_ton")) // of P = h2/16
			return math.Ceil(ice.Mild(hourly).Thickness*cold - 1e-9), nil
		}},
	{"wet_crack_load_change", "percent", "change of the load beside a wet crack", nil,
		func(Inputs) (float64, error) {
			d := ice.Worst([]ice.Finding{ice.Cracked(ice.WetCrack)})
			return (d.Load(1).Kilograms() - 1) * 100, nil
		}},
	{"vehicle_spacing", "ft", "spacing between vehicles", nil,
		func(Inputs) (float64, error) { return ice.VehicleSpacing.Feet(), nil }},
	{"longest_parking", "h", "longest stay of a vehicle in one place", nil,
		func(Inputs) (float64, error) { return ice.LongestParking.Hours(), nil }},
	{"test_hole_spacing", "m", "greatest gap between test holes on a new line", keys("water", "still|flowing"),
		func(in Inputs) (float64, error) {
			if in.s("water") == "still" {
				return ice.HoleSpacing.Metres(), nil
			}
			return ice.HoleSpacingFlow.Metres(), nil
		}},
	{"characteristic_length", "m", "length over which a floating sheet spreads a load", keys("clear_m", "m", "modulus_gpa", "GPa"),
		func(in Inputs) (float64, error) {
			return ice.CharacteristicLength(length(in, "clear_m"), gigapascals(in)).Metres(), nil
		}},
	{"load_influence", "1", "weight of a load at a distance in characteristic lengths", keys("s", "1"),
		func(in Inputs) (float64, error) { return ice.Influence(in.n("s")), nil }},
	{"sag", "mm", "deflection under one load", keys("load_kg", "kg", "clear_m", "m", "modulus_gpa", "GPa"),
		func(in Inputs) (float64, error) {
			return float64(ice.Sag(quantity.Mass(in.n("load_kg")), length(in, "clear_m"), gigapascals(in)) / quantity.Millimetre), nil
		}},
	{"rim_load", "kg", "standing load that brings the rim of a hole in bare ice to the water", keys("clear_m", "m"),
		func(in Inputs) (float64, error) {
			h := length(in, "clear_m")
			return ice.RimLoad(h, ice.Freeboard(h, 0, 0)).Kilograms(), nil
		}},
}

var tableInputs = keys("table", kindText, "class", "on foot|group|snow machine|side-by-side|car|truck")

func tableThickness(in Inputs) (quantity.Length, error) {
	for _, t := range ice.Tables() {
		if t.Source != in.s("table") {
			continue
		}
		for _, c := range ice.Classes() {
			if c.String() != in.s("class") {
				continue
			}
			if h, ok := t.Required(c); ok {
				return h, nil
			}
			return 0, fmt.Errorf("check: %s is not covered by table %s", c, t.Source)
		}
	}
	return 0, fmt.Errorf("check: no table %q", in.s("table"))
}

func effective(in Inputs) quantity.Length {
	return ice.Effective([]ice.Layer{{Kind: ice.White, Thickness: centimetres(in, "white_cm")}, {Kind: ice.Clear, Thickness: centimetres(in, "clear_cm")}}).Thickness
}

func centimetres(in Inputs, key string) quantity.Length {
	return quantity.Length(in.n(key)) * quantity.Centimetre
}

func inches(in Inputs, key string) quantity.Length { return quantity.Length(in.n(key)) * quantity.Inch }

func gigapascals(in Inputs) quantity.Pressure {
	return quantity.Pressure(in.n("modulus_gpa")*1e9) * quantity.Pascal
}
