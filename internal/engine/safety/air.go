package safety

import (
	"math"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/physics/ice"
)

const (
	airHours = 72 // hours of air temperature that the rules want
	airGap   = 2  // unknown hours between known ones that are filled, so that three-hourly records serve
)

// weatherOf is what the air of the last days says. known is false when thaw can neither be shown nor ruled out.
type weatherOf struct {
	thaw, mild, brittle ice.Finding
	known               bool
}

// judgeAir applies the rules of physics/ice to the hours up to now.
func judgeAir(now time.Time, hours []AirHour) weatherOf {
	h := hourly72(now, hours)
	w := weatherOf{thaw: ice.Thaw(h), mild: ice.Mild(h), brittle: ice.Brittle(h)}
	w.known = w.thaw.State != ice.Unknown
	return w
}

// hourly72 brings the hours into one series that ends now, not a number where unknown. Of two values for an hour the
// warmer counts, and short gaps take the warmer neighbour: thaw is the worse mistake.
func hourly72(now time.Time, hours []AirHour) []quantity.Celsius {
	out := make([]quantity.Celsius, airHours)
	for i := range out {
		out[i] = quantity.Celsius(math.NaN())
	}
	for _, h := range hours {
		back := now.Sub(h.Start)
		if back < 0 || back >= airHours*time.Hour || math.IsNaN(float64(h.Air)) {
			continue
		}
		if T := &out[airHours-1-int(back/time.Hour)]; !(*T >= h.Air) {
			*T = h.Air
		}
	}
	last := -1
	for i, T := range out {
		if math.IsNaN(float64(T)) {
			continue
		}
		if gap := i - last - 1; last >= 0 && gap > 0 && gap <= airGap {
			for k := last + 1; k < i; k++ {
				out[k] = max(out[last], T)
			}
		}
		last = i
	}
	// the hours since the last record of a three-hourly series
	for k := last + 1; last >= 0 && k < airHours && airHours-1-last <= airGap; k++ {
		out[k] = out[last]
	}
	return out
}
