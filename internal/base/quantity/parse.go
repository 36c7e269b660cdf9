package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// lengthUnits maps what people write to a unit. A bare "m" is metres: minutes never reach this table.
var lengthUnits = map[string]Length{
	"m": Metre, "metre": Metre, "metres": Metre, "meter": Metre, "meters": Metre, "mtr": Metre,
	"cm": Centimetre, "centimetre": Centimetre, "centimetres": Centimetre, "centimeter": Centimetre, "centimeters": Centimetre,
	"mm": Millimetre, "millimetre": Millimetre, "millimetres": Millimetre, "millimeter": Millimetre, "millimeters": Millimetre,
	"km": Kilometre, "kilometre": Kilometre, "kilometres": Kilometre, "kilometer": Kilometre, "kilometers": Kilometre,
	"ft": Foot, "foot": Foot, "feet": Foot, "'": Foot, "’": Foot, "′": Foot,
	"in": Inch, "inch": Inch, "inches": Inch, "\"": Inch, "”": Inch, "″": Inch, "''": Inch,
	"yd": Yard, "yard": Yard, "yards": Yard, "mi": Mile, "mile": Mile, "miles": Mile,
	"fathom": 6 * Foot, "fathoms": 6 * Foot, "ftm": 6 * Foot,
}

// LengthUnit gives the unit that a word names ("ft", "metres", "in.").
func LengthUnit(word string) (Length, bool) {
	u, ok := lengthUnits[strings.TrimSuffix(strings.ToLower(strings.TrimSpace(word)), ".")]
	return u, ok
}

// number splits s into a leading number and the rest. A decimal comma is read as a point when it cannot group
// thousands ("11,6"); "1,600" is refused, since it may mean either.
func number(s string) (v float64, rest string, err error) {
	s = strings.TrimSpace(s)
	i := 0
	for i < len(s) && (s[i] >= '0' && s[i] <= '9' || s[i] == '.' || s[i] == ',' || (i == 0 && (s[i] == '-' || s[i] == '+'))) {
		i++
	}
	digits := s[:i]
	if n := strings.Count(digits, ","); n > 0 {
		k := strings.IndexByte(digits, ',')
		if n > 1 || strings.Contains(digits, ".") || len(digits)-k-1 == 3 {
			return 0, "", fmt.Errorf("quantity: %q: a comma may group thousands or mark decimals; write a point", s)
		}
		digits = strings.Replace(digits, ",", ".", 1)
	}
	v, err = strconv.ParseFloat(digits, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, "", fmt.Errorf("quantity: %q is not a number", s)
	}
	return v, strings.TrimSpace(s[i:]), nil
}

// ParseNumber reads a plain number with nothing behind it.
func ParseNumber(s string) (float64, error) {
	v, rest, err := number(s)
	if err != nil {
		return 0, err
	}
	if rest != "" {
		return 0, fmt.Errorf("quantity: %q: %q after the number", s, rest)
	}
	return v, nil
}

// ParseLength reads a length as people write it: 11.6 m, 38', 14", 4'6", 4 ft 6 in, 38.
// A number without a unit takes the fallback; a fallback of 0 means that a bare number is refused.
// The returned word is the unit as typed ("" when the fallback was used).
func ParseLength(s string, fallback Length) (Length, string, error) {
	v, rest, err := number(s)
	if err != nil {
		return 0, "", err
	}
	if rest == "" {
		if fallback == 0 {
			return 0, "", fmt.Errorf("quantity: %q has no unit", s)
		}
		return Length(v) * fallback, "", nil
	}
	word, tail := splitUnit(rest)
	u, ok := LengthUnit(word)
	if !ok {
		return 0, "", fmt.Errorf("quantity: %q: unknown unit of length %q", s, word)
	}
	total := Length(v) * u
	if tail == "" {
		return total, word, nil
	}
	if u != Foot { // only feet and inches are compounded
		return 0, "", fmt.Errorf("quantity: %q: %q after the unit", s, tail)
	}
	v2, rest2, err := number(tail)
	if err != nil || v2 < 0 || v2 >= 12 || v < 0 {
		return 0, "", fmt.Errorf("quantity: %q: inches after feet must be 0 to under 12", s)
	}
	w2, tail2 := splitUnit(rest2)
	if u2, ok := LengthUnit(w2); rest2 != "" && (!ok || u2 != Inch) || tail2 != "" {
		return 0, "", fmt.Errorf("quantity: %q: expected inches after feet", s)
	}
	return total + Length(v2)*Inch, word, nil
}

// splitUnit cuts a unit word (letters, or quote marks) off the front.
func splitUnit(s string) (word, tail string) {
	isLetter := func(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' }
	for i, r := range s {
		if i == 0 && !isLetter(r) {
			if strings.HasPrefix(s, "''") {
				return s[:2], strings.TrimSpace(s[2:])
			}
			_, n := utf8.DecodeRuneInString(s) // a byte that is no rune is one byte long
			return s[:n], strings.TrimSpace(s[n:])
		}
		if !isLetter(r) {
			return s[:i], strings.TrimSpace(strings.TrimPrefix(s[i:], "."))
		}
	}
	return s, ""
}

var massUnits = map[string]Mass{
	"kg": Kilogram, "kilogram": Kilogram, "kilograms": Kilogram, "g": Gram, "gram": Gram, "grams": Gram,
	"t": Tonne, "tonne": Tonne, "tonnes": Tonne, "lb": Pound, "lbs": Pound, "pound": Pound, "pounds": Pound, "oz": Pound / 16, "ounce": Pound / 16, "ounces": Pound / 16,
}

// ParseMass reads a mass with its unit (450 kg, 1.2 t, 990 lb). A bare number takes the fallback; 0 refuses it.
func ParseMass(s string, fallback Mass) (Mass, error) {
	v, rest, err := number(s)
	if err != nil {
		return 0, err
	}
	if rest == "" && fallback != 0 {
		return Mass(v) * fallback, nil
	}
	u, ok := massUnits[strings.TrimSuffix(strings.ToLower(rest), ".")]
	if !ok {
		return 0, fmt.Errorf("quantity: %q needs a unit of mass: kg, t, lb", s)
	}
	return Mass(v) * u, nil
}

// ParseTemperature reads -17 C, 1.4 F or -17°C. A bare number takes the system's unit.
func ParseTemperature(s string, sys System) (Celsius, error) {
	v, rest, err := number(s)
	if err != nil {
		return 0, err
	}
	switch strings.ToLower(strings.TrimLeft(rest, "° ")) {
	case "c", "celsius", "degc":
		return Celsius(v), nil
	case "f", "fahrenheit", "degf":
		return Fahrenheit(v), nil
	case "":
		if sys == US {
			return Fahrenheit(v), nil
		}
		return Celsius(v), nil
	}
	return 0, fmt.Errorf("quantity: %q needs C or F", s)
}

var speedUnits = map[string]Speed{
	"m/s": MetrePerSecond, "ms": MetrePerSecond, "mps": MetrePerSecond, "km/h": KilometrePerHour, "kmh": KilometrePerHour,
	"kph": KilometrePerHour, "kmph": KilometrePerHour, "mph": MilePerHour, "kt": Knot, "kts": Knot, "kn": Knot, "knots": Knot, "knot": Knot,
}

// SpeedUnit gives the unit that a word names.
func SpeedUnit(word string) (Speed, bool) {
	u, ok := speedUnits[strings.ToLower(strings.TrimSpace(word))]
	return u, ok
}

// ParseSpeed reads a speed with its unit (12 km/h, 7 mph, 5 m/s, 10 kt). A bare number takes the fallback; 0 refuses it.
func ParseSpeed(s string, fallback Speed) (Speed, error) {
	v, rest, err := number(s)
	if err != nil {
		return 0, err
	}
	if rest == "" && fallback != 0 {
		return Speed(v) * fallback, nil
	}
	u, ok := SpeedUnit(rest)
	if !ok {
		return 0, fmt.Errorf("quantity: %q needs a unit of speed: km/h, m/s, mph, kt", s)
	}
	return Speed(v) * u, nil
}
