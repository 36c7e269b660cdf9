package say

import (
	"fmt"
	"math"
	"strings"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/engine/safety"
	"icehand/internal/physics/ice"
)

// figureWord says where the figure of an answer comes from: a hole, or the low end of the estimate below it.
func figureWord(a safety.IceAnswer) string {
	if a.Effective < a.Basis.Least {
		return "is the low end of the estimate"
	}
	return "read"
}

func statedWord(a safety.IceAnswer) string {
	if a.Near > 0 {
		return "that stand together"
	}
	return "stated"
}

// ceilFigures rounds a load up to two figures of the unit that is printed.
func ceilFigures(s quantity.System, m quantity.Mass) quantity.Mass {
	unit := quantity.Kilogram
	if s == quantity.US {
		unit = quantity.Pound
	}
	n, step := float64(m/unit), 1.0
	for n/step >= 1000 {
		step *= 10
	}
	return quantity.Mass(max(0, math.Ceil(n/step-1e-9))*step) * unit
}

// restsOn says what the figure rests on.
func (v Voice) restsOn(a safety.IceAnswer) []string {
	b := a.Basis
	var out []string
	if b.Least > 0 {
		out = append(out, fmt.Sprintf("As clear ice: thinnest hole here %s, low end of the estimate %s. The lesser counts.", v.Units.IceText(b.Least), v.Units.IceText(b.Spot.Low)))
	}
	if a.Carries > 0 {
		out = append(out, fmt.Sprintf("Formula: %.3g kg/cm2 times the thickness squared, less what the conditions take.", float64(a.Strength.Pressure()/quantity.KilogramPerSquareCentimetre)))
	}
	if b.Column != nil {
		out = append(out, v.Column(*b.Column, b.Zone)...)
		if b.Odd {
			out = append(out, "Holes of today lie far from what was expected: read again, or the ice there is another.")
		}
	} else if b.Missing != "" {
		out = append(out, b.Missing)
	}
	if b.Ahead != nil {
		out = append(out, fmt.Sprintf("Forecast for %s: total %s, snow %s. A forecast counts in no figure: read it again.", v.When(b.Ahead.At), v.span(b.Ahead.Total), v.span(b.Ahead.Snow)))
	}
	return out
}

// zones name the parts of the lake.
var zones = map[icecover.Zone]string{icecover.Shore: "along the shore", icecover.Open: "away from the shore",
	icecover.Lee: "in the lee of the shore", icecover.Windward: "on the blown ice"}

// Column says what the column of a zone says: nine chances of ten lie between the figures.
func (v Voice) Column(e icecover.Estimate, zone icecover.Zone) []string {
	parts := []string{"total " + v.span(e.Total), "white " + v.span(e.White), "snow " + v.span(e.Snow)}
	if e.Slush >= 0.05 {
		parts = append(parts, "slush "+tenths(e.Slush))
	}
	return []string{fmt.Sprintf("Estimate %s, %s: %s.", zones[zone], v.When(e.At), strings.Join(parts, ", ")),
		"An estimate from weather and holes: it only ever lowers what was drilled."}
}

// tenths says a chance.
func tenths(p float64) string { return fmt.Sprintf("%.0f in 10", math.Max(1, math.Round(10*p))) }

// span says a range, once when both ends print alike.
func (v Voice) span(r icecover.Range) string {
	low, high := v.Units.IceText(r.Low), v.Units.IceText(r.High)
	if low == high {
		return low
	}
	number, _, _ := strings.Cut(low, " ")
	return number + " to " + high
}

// inMotion says the limits of a vehicle in motion. None of them is a speed to reach.
func (v Voice) inMotion(m *ice.Moving) []string {
	if m == nil {
		return nil
	}
	limit, shore, reach := v.limit(m.Limit), v.limit(m.Shore), v.Units.DistanceText(ice.ShoreReach)
	out := []string{"In motion at most " + limit + "; within " + reach + " of shore, bars and oncoming vehicles at most " + shore + "."}
	low, high := v.limit(m.Band.Low), v.limit(m.Band.High)
	number, _, _ := strings.Cut(low, " ")
	if low == high {
		number = "about"
	} else {
		number += " to"
	}
	out = append(out, fmt.Sprintf("Waves under the sheet run at %s %s here: stay well under that. Meet the shore at %.0f degrees or more.", number, high, ice.ShoreAngle.Degrees()))
	if !m.DepthKnown {
		out = append(out, "Depth not known here: judged as over 1 m of water.")
	}
	return out
}

// limit says a speed rounded down.
func (v Voice) limit(s quantity.Speed) string {
	unit := quantity.KilometrePerHour
	if v.Units == quantity.US {
		unit = quantity.MilePerHour
	}
	return v.Units.WindText(quantity.Speed(math.Floor(float64(s/unit)+1e-9)) * unit)
}

// Tested says how far a line was read.
func (v Voice) Tested(t safety.Tested) []string {
	var out []string
	switch {
	case t.Length == 0:
		return nil
	case t.Untested == 0:
		out = append(out, fmt.Sprintf("Holes of today within %s of each other along the %s. %s", v.Units.FarText(t.Spacing), v.Units.DistanceText(t.Length), TestAsYouGo))
	default:
		out = append(out, fmt.Sprintf("Untested over %s of the %s, first %s from the start: no hole of today within %s. Spud ahead.",
			v.Units.FarText(t.Untested), v.Units.FarText(t.Length), v.Units.NearText(t.First), v.Units.NearText(t.Spacing/2)))
	}
	if t.Hazards > 0 {
		out = append(out, "Through "+Few(t.Hazards, "hazard", "hazards")+" in force: go round.")
	}
	return out
}

// StoodText is what may be said of a load that stands on the ice.
type StoodText struct {
	Says  string   // what it is, since when, by when it is to be moved
	Lines []string // what is on its spot, the water level, its distance from other vehicles
	Due   bool     // something of it calls for moving it now
}

// Stood says a standing load.
func (v Voice) Stood(s safety.Stood) StoodText {
	t := StoodText{Says: fmt.Sprintf("%s, %s, since %s, %s", s.What, v.Units.MassText(s.Mass), v.When(s.Since), Span(s.For)), Due: s.Overdue || s.Over || s.Rim == safety.RimReached || s.TooNear > 0}
	if s.Overdue {
		t.Says += ": move it"
	} else {
		t.Says += ", move it by " + v.Clock(s.Due)
	}
	add := func(format string, args ...any) { t.Lines = append(t.Lines, fmt.Sprintf(format, args...)) }
	together := v.Units.MassText(ceilFigures(v.Units, s.Together))
	switch {
	case s.Over:
		add("%s on its spot, more than the calculated load of %s: move it now.", together, v.Units.MassText(floorFigures(v.Units, s.Carries)))
	case s.Carries > 0:
		add("%s on its spot; calculated load %s for its stay, a figure of comparison.", together, v.Units.MassText(floorFigures(v.Units, s.Carries)))
	default:
		add("%s on its spot; no load figure.", together)
		for _, r := range s.Refusals {
			add("%s", first(v.Local(r.Text)))
		}
	}
	switch s.Rim {
	case safety.RimReached:
		add("By the water level read, hours of it bring the water to the rim: move it now.")
	case safety.RimUnknown:
		add("Water level not read beside it: read the hole there. Water rising means move.")
	}
	if s.TooNear > 0 {
		add("%s from another vehicle: keep %s.", v.Units.NearText(s.TooNear), v.Units.FarText(ice.VehicleSpacing))
	}
	return t
}

// BadIce says in a word what bars a figure at a hole.
func BadIce(state string) string {
	switch state {
	case "rotten":
		return "candled"
	case "not_floating":
		return "not floating"
	}
	return state
}
