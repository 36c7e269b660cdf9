package desk

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
)

// TackleText is a [TackleAsk] as a person writes it, in a command or a form; what is empty is the usual.
type TackleText struct {
	Depth, Mass, Of, Line, Diameter, Tip, Bite, Current, Lean, Aside, Lure, Water string
	Unit                                                                          quantity.Length // of a bare depth; 0: metres
}

func (t TackleText) unit() quantity.Length {
	if t.Unit == 0 {
		return quantity.Metre
	}
	return t.Unit
}

func milligrams(m quantity.Mass) int64 { return int64(math.Round(float64(m / (quantity.Gram / 1000)))) }

// Ask reads what was written.
func (t TackleText) Ask() (q TackleAsk, err error) {
	q = usualTackle
	if q.Lure = strings.TrimSpace(t.Lure); q.Lure != "" {
		q.Mass, q.Of = 0, "" // those of its timed drop, where they are not told
	}
	length := func(into *quantity.Length, s, what string, unit, lo, hi quantity.Length, such string) {
		if s = strings.TrimSpace(s); s == "" || err != nil {
			return
		}
		l, _, bad := quantity.ParseLength(s, unit)
		if bad != nil || !(l >= lo && l <= hi) {
			err = fault.New(fault.BadInput, fmt.Sprintf("Write it as %s.", such), "%q is no %s", s, what)
			return
		}
		*into = l
	}
	length(&q.Depth, t.Depth, "depth to drop to", t.unit(), 0.3, 100, "11 m or 36 ft")
	length(&q.Diameter, t.Diameter, "thickness of a line", quantity.Millimetre, 0.03*quantity.Millimetre, 1.5*quantity.Millimetre, "0.15 mm or 0.006 in")
	length(&q.Bite, t.Bite, "way that a fish moves a lure", quantity.Centimetre, 0.1*quantity.Centimetre, 2*quantity.Metre, "2 cm or 1 in")
	length(&q.Aside, t.Aside, "way aside", t.unit(), 0.05, 10, "0.5 m or 2 ft")
	choose := func(into *string, s, what string, of []string) {
		if s = strings.ToLower(strings.TrimSpace(s)); s == "" || err != nil {
			return
		}
		if !slices.Contains(of, s) {
			err = fault.New(fault.BadInput, "Choose one of "+strings.Join(of, ", ")+".", "%q is no %s", s, what)
			return
		}
		*into = s
	}
	choose(&q.Of, t.Of, "stuff of a lure that is known", TackleWeights())
	choose(&q.Line, t.Line, "stuff of a line that is known", TackleLines())
	choose(&q.Tip, t.Tip, "kind of tip", TackleTips())
	if err != nil {
		return q, err
	}
	if s := strings.TrimSpace(t.Mass); s != "" {
		m, bad := quantity.ParseMass(s, quantity.Gram)
		if bad != nil || !(m >= 0.1*quantity.Gram && m <= 500*quantity.Gram) {
			return q, fault.New(fault.BadInput, "Write it as 3 g or 0.1 oz.", "%q is no weight of a lure", s)
		}
		q.Mass = m
	}
	return q, t.flow(&q)
}

// flow reads current, lean and water.
func (t TackleText) flow(q *TackleAsk) error {
	number := func(s, suffix string) (float64, error) {
		return quantity.ParseNumber(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), suffix)))
	}
	if t.Current != "" && t.Lean != "" {
		return fault.New(fault.BadInput, "Give the current, or the lean of the line that tells it.", "a current and a lean are told together")
	}
	if t.Current != "" {
		x, err := number(t.Current, "cm/s")
		if err != nil || !(x >= 0 && x <= 100) {
			return fault.New(fault.BadInput, "Write centimetres a second, such as 3 cm/s.", "%q is no current under ice", t.Current)
		}
		q.Current = quantity.Speed(x / 100)
	}
	if t.Lean != "" {
		x, err := number(t.Lean, "deg")
		if err != nil || !(x > 0 && x < 80) {
			return fault.New(fault.BadInput, "Write degrees from the plumb line, such as 5.", "%q is no lean of a line", t.Lean)
		}
		q.Lean = quantity.Angle(x) * quantity.Degree
	}
	if t.Water != "" {
		c, err := quantity.ParseTemperature(t.Water, quantity.SI)
		if err != nil || !(c >= 0 && c <= 4) {
			return fault.New(fault.BadInput, "Water under ice has 0 to 4 C.", "%q is no temperature of water under ice", t.Water)
		}
		q.Water = c
	}
	return nil
}
