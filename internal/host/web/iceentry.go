package web

import (
	"fmt"
	"math"
	"strings"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/trade/lake"
)

// An ice reading is one form: one tap on each thing that was read, and a last one on the thickness, which saves all of
// it. Nothing is filled in beforehand: what was not tapped was not read.

// chipRow is one thing that a hole tells, with figures about the likely one.
type chipRow struct {
	Name, Word string
	Chips      []chipView
}

type chipView struct{ Name, Value, Text string }

// chipsEach is how many figures a row offers.
const chipsEach = 5

// entry lays out the figures: about the column's where it is known, since snow has fallen since the last hole, else about
// the last reading's.
func (view *iceView) entry(v *visit, about quantity.Length, last *lake.IceReading, column *icecover.Estimate) {
	white, snow, water := 3*quantity.Centimetre, 8*quantity.Centimetre, 2*quantity.Centimetre
	if last != nil {
		white, snow, water = lastOr(last.WhiteTold, last.White, white), lastOr(last.SnowTold, last.Snow, snow), lastOr(last.WaterTold, last.Water, water)
	}
	if column != nil {
		white, snow, water = column.White.Middle, column.Snow.Middle, column.Water.Middle
	}
	step, unit := quantity.Centimetre, "cm"
	if v.settings.Units == quantity.US {
		step, unit = quantity.Inch/2, "in"
	}
	view.Rows = []chipRow{
		chips("white", "White of it, "+unit, white, step, unit, 0),
		chips("snow", "Snow on top, "+unit, snow, 2*step, unit, 0),
		chips("water", "Water below the top, "+unit, water, step, unit, math.Inf(-1)),
	}
	view.Flags = []chipView{{"slush", "yes", "slush"}, {"layered", "yes", "layered"}, {"grey", "yes", "grey"}, {"rotten", "yes", "candled"}, {"current", "yes", "current"}, {"crack", "wet", "wet crack"}}
	middle := max(math.Round(float64(about/step)), 5)
	for i := -4.0; i <= 4; i++ {
		value, text := figure(middle+i, step, unit)
		view.Totals = append(view.Totals, chipView{"total", value, text + " " + unit})
	}
}

func lastOr(told bool, l, other quantity.Length) quantity.Length {
	if told {
		return l
	}
	return other
}

// chips gives figures in steps about a middle, none below the least.
func chips(name, word string, middle, step quantity.Length, unit string, least float64) chipRow {
	row := chipRow{Name: name, Word: word}
	first := max(math.Round(float64(middle/step))-2, least)
	for i := range chipsEach {
		value, text := figure(first+float64(i), step, unit)
		row.Chips = append(row.Chips, chipView{name, value, text})
	}
	return row
}

// figure writes so many steps as the form sends them and as they are read.
func figure(n float64, step quantity.Length, unit string) (value, text string) {
	x := n * float64(step/quantity.Centimetre)
	if unit == "in" {
		x = n * float64(step/quantity.Inch)
	}
	text = strings.Replace(fmt.Sprintf("%g", x), "-0", "0", 1)
	if x < 0 {
		text = fmt.Sprintf("%g", x)
	}
	return text + " " + unit, text
}
