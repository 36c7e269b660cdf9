package say

import (
	"regexp"
	"strconv"
	"strings"

	"icehand/internal/base/quantity"
)

// overrides are the five reasons for another turn-back time, in the order in which they are offered.
var overrides = []struct{ code, words string }{
	{"forecast_better", "the forecast is better"}, {"way_shorter", "the way home is shorter"}, {"crossing_read", "the crossing was read again"},
	{"party_faster", "the party is faster"}, {"agreed_ashore", "agreed with the shore"},
}

// OverrideReasons lists the codes of the reasons.
func OverrideReasons() []string {
	var out []string
	for _, o := range overrides {
		out = append(out, o.code)
	}
	return out
}

// OverrideReason says why another turn-back time was set; "" for a code that is none of the five.
func OverrideReason(code string) string {
	for _, o := range overrides {
		if o.code == code {
			return o.words
		}
	}
	return ""
}

// siNumber is a figure with the unit that the engine's own sentences print. Temperatures are not among them: there a
// difference cannot be told from a reading.
var siNumber = regexp.MustCompile(`(\d+(?:\.\d+)?) (km/h|km|kg|m)\b`)

// Local brings the figures of an engine's sentence into the voice's units: the engine writes SI, rounded already. What
// cannot be brought over keeps its figure and its unit.
func (v Voice) Local(s string) string {
	if v.Units != quantity.US {
		return s
	}
	return siNumber.ReplaceAllStringFunc(s, func(m string) string {
		p := siNumber.FindStringSubmatch(m)
		x, err := strconv.ParseFloat(p[1], 64)
		if err != nil {
			return m
		}
		switch p[2] {
		case "km/h":
			return v.Units.WindText(quantity.Speed(x) * quantity.KilometrePerHour)
		case "kg":
			return v.Units.MassText(quantity.Mass(x) * quantity.Kilogram)
		case "km":
			return v.Units.DistanceText(quantity.Length(x) * quantity.Kilometre)
		}
		switch {
		case strings.Contains(s, "speaks for"):
			return v.Units.NearText(quantity.Length(x))
		case strings.Contains(s, "Now within"): // of a fix
			return v.Units.FarText(quantity.Length(x))
		}
		return v.Units.DistanceText(quantity.Length(x))
	})
}
