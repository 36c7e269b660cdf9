package sim

import (
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Walk is a walk over the ice in a straight line, for a scout who follows advice in the demo.
type Walk struct {
	From, To geo.Local
	Start    time.Time
	Speed    quantity.Speed // 0: 3.5 km/h, a loaded sled on packed snow (common practice, no source)
}

// At gives where the walker is: at From before the start, at To from the arrival on.
func (w Walk) At(t time.Time) geo.Local {
	speed := w.Speed
	if speed <= 0 {
		speed = 3.5 * quantity.KilometrePerHour
	}
	whole := w.From.Distance(w.To)
	gone := quantity.Length(t.Sub(w.Start).Seconds() * speed.MetresPerSecond())
	switch {
	case gone <= 0 || whole == 0:
		return w.From
	case gone >= whole:
		return w.To
	}
	share := gone.Metres() / whole.Metres()
	return geo.Local{E: mix(w.From.E, w.To.E, share), N: mix(w.From.N, w.To.N, share)}
}
