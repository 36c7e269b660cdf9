package file

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"icehand/internal/base/quantity"
)

// ErrNoUnit tells that neither a cell nor its column states a unit.
var ErrNoUnit = errors.New("no unit is stated")

// Plain reads a plain number with a point, or a comma that can only be decimal.
func Plain(s string) (float64, error) {
	v, err := quantity.ParseNumber(s)
	if err != nil {
		return 0, errors.New("not a plain number")
	}
	return v, nil
}

// vulgar maps the fractions that inches are read in.
var vulgar = map[string]string{"1/8": ".125", "1/4": ".25", "3/8": ".375", "1/2": ".5", "5/8": ".625", "3/4": ".75", "7/8": ".875",
	"⅛": ".125", "¼": ".25", "⅜": ".375", "½": ".5", "⅝": ".625", "¾": ".75", "⅞": ".875"}

// Length reads a length as a guide writes it: what [quantity.ParseLength] reads, and inches with fractions (9 1/2").
// typed is the unit in the cell, or else the fallback's word; fallback "" refuses a bare number with [ErrNoUnit].
func Length(s, fallback string) (l quantity.Length, typed string, err error) {
	if len(s) > 40 {
		return 0, "", errors.New("not a length")
	}
	s = decimalFraction(s)
	unit, _ := quantity.LengthUnit(fallback)
	if _, err := quantity.ParseNumber(s); err == nil && unit == 0 {
		return 0, "", ErrNoUnit
	}
	l, typed, err = quantity.ParseLength(s, unit)
	if err != nil {
		return 0, "", errors.New("not a length")
	}
	if math.IsInf(float64(l), 0) || math.IsNaN(float64(l)) {
		return 0, "", errors.New("not a length")
	}
	if typed == "" {
		typed = fallback
	}
	return l, typed, nil
}

// decimalFraction turns 9 1/2, 9½ and 1/2 into decimals and leaves everything else alone.
func decimalFraction(s string) string {
	if !strings.ContainsAny(s, "/⅛¼⅜½⅝¾⅞") {
		return s
	}
	for f, d := range vulgar {
		i := strings.Index(s, f)
		if i < 0 {
			continue
		}
		whole, rest := strings.TrimRight(s[:i], " -"), s[i+len(f):]
		if rest != "" && rest[0] >= '0' && rest[0] <= '9' {
			return s
		}
		if whole == "" {
			return "0" + d + rest
		}
		if _, err := strconv.Atoi(whole); err == nil && (s[i-1] == ' ' || s[i-1] == '-' || f[0] > '9') {
			return whole + d + rest
		}
	}
	return s
}
