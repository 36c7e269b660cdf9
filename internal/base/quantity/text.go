package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

func floor(x float64) float64 { return math.Floor(x) }

func roundInt(x float64) int64 { return int64(math.Round(x)) }

// DepthText prints a depth: one decimal of a metre, or whole feet.
func (s System) DepthText(l Length) string {
	if s == US {
		return fmt.Sprintf("%.0f ft", l.Feet())
	}
	return fmt.Sprintf("%.1f m", l.Metres())
}

// IceText prints an ice or snow thickness: whole centimetres, or inches to the half, rounded down, so that ice is
// never made to look thicker than it was read.
func (s System) IceText(l Length) string {
	if s == US {
		half := math.Floor(l.Inches()*2+1e-9) / 2
		return strconv.FormatFloat(half, 'f', -1, 64) + " in"
	}
	return fmt.Sprintf("%.0f cm", math.Floor(l.Centimetres()+1e-9))
}

// IceUpText is [System.IceText] rounded up: for what ice is asked to be, and for what weakens it.
func (s System) IceUpText(l Length) string {
	step := Centimetre
	if s == US {
		step = Inch / 2
	}
	n := math.Floor(float64(l/step) + 1e-9)
	if Length(n)*step+Millimetre/100 < l {
		n++
	}
	return s.IceText(Length(n) * step)
}

// FishText prints the length of a fish: whole centimetres, or inches to the quarter.
func (s System) FishText(l Length) string {
	if s == US {
		return strconv.FormatFloat(math.Round(l.Inches()*4)/4, 'f', -1, 64) + " in"
	}
	return fmt.Sprintf("%.0f cm", l.Centimetres())
}

// DistanceText prints a distance over the ice, to two figures or so.
func (s System) DistanceText(l Length) string { return s.distance(l, math.Round) }

// FarText is [System.DistanceText] rounded up: a reading out of reach must not look within it, nor a fix better than it is.
func (s System) FarText(l Length) string {
	return s.distance(l, func(x float64) float64 { return max(0, math.Ceil(x-1e-6)) })
}

// NearText is [System.DistanceText] rounded down: how far a reading speaks must not look farther, nor too near far enough.
func (s System) NearText(l Length) string {
	return s.distance(l, func(x float64) float64 { return math.Floor(x + 1e-6) })
}

// distance prints a distance in steps that suit it, to which whole brings it.
func (s System) distance(l Length, whole func(float64) float64) string {
	if s == US {
		switch yd := float64(l / Yard); {
		case yd < 100:
			return fmt.Sprintf("%.0f yd", whole(yd))
		case yd < 880:
			return fmt.Sprintf("%.0f yd", whole(yd/10)*10)
		default:
			return fmt.Sprintf("%.1f mi", whole(float64(l/Mile)*10)/10)
		}
	}
	switch m := l.Metres(); {
	case m < 100:
		return fmt.Sprintf("%.0f m", whole(m))
	case m < 950:
		return fmt.Sprintf("%.0f m", whole(m/10)*10)
	default:
		return fmt.Sprintf("%.1f km", whole(m/100)/10)
	}
}

// MassText prints a load: whole kilograms or pounds.
func (s System) MassText(m Mass) string {
	if s == US {
		return fmt.Sprintf("%.0f lb", m.Pounds())
	}
	return fmt.Sprintf("%.0f kg", m.Kilograms())
}

// TemperatureText prints a temperature to the degree.
func (s System) TemperatureText(c Celsius) string {
	v, unit := c.Degrees(), "C"
	if s == US {
		v, unit = c.Fahrenheit(), "F"
	}
	r := math.Round(v)
	if r == 0 {
		r = 0 // no "-0"
	}
	return fmt.Sprintf("%.0f %s", r, unit)
}

// WindText prints a wind speed to the unit.
func (s System) WindText(v Speed) string {
	if s == US {
		return fmt.Sprintf("%.0f mph", v.MilesPerHour())
	}
	return fmt.Sprintf("%.0f km/h", v.KilometresPerHour())
}

var compass = [16]string{"N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"}

// Compass gives the nearest of the 16 compass points.
func (b Bearing) Compass() string {
	return compass[int(math.Floor(float64(NewBearing(float64(b)+11.25))/22.5))%16]
}

// ParseCompass reads a compass point ("NW") or degrees ("315").
func ParseCompass(s string) (Bearing, bool) {
	t := strings.ToUpper(strings.TrimSpace(s))
	for i, p := range compass {
		if t == p {
			return Bearing(22.5 * float64(i)), true
		}
	}
	t = strings.TrimSuffix(strings.TrimSuffix(t, "DEG"), "°")
	v, err := strconv.ParseFloat(strings.TrimSpace(t), 64)
	if err != nil || v < 0 || v > 360 {
		return 0, false
	}
	return NewBearing(v), true
}
