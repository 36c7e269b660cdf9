package desk

import (
	"icehand/internal/base/fault"
	"icehand/internal/engine/safety"
	"icehand/internal/feed/weather"
)

// noOutline gives the fault of a lake whose shore is not known, or the trouble with its layers.
func (d *Desk) noOutline() error {
	if d.ground.trouble != nil {
		return d.ground.trouble
	}
	return fault.New(fault.Missing, "Import it: icehand import OUTLINE.geojson.", "the lake's outline is not recorded yet")
}

// forecastHours brings a forecast's hours into the engine's form.
func forecastHours(f weather.Forecast) []safety.ForecastHour {
	out := make([]safety.ForecastHour, 0, len(f.Hours))
	for _, h := range f.Hours {
		x := safety.ForecastHour{Start: h.Start}
		if h.Temperature != nil {
			x.Air, x.AirTold = *h.Temperature, true
		}
		if h.Wind != nil {
			x.Wind, x.WindTold = *h.Wind, true
		}
		if h.Gust != nil {
			x.Gust, x.GustTold = *h.Gust, true
		}
		if h.WindFrom != nil {
			x.From, x.FromTold = *h.WindFrom, true
		}
		if h.Snow != nil {
			x.Snow, x.SnowTold = *h.Snow, true
		}
		if h.Visibility != nil {
			x.Sight, x.SightTold = *h.Visibility, true
		}
		if h.Sky != nil {
			x.Cloud, x.CloudTold = *h.Sky, true
		}
		out = append(out, x)
	}
	return out
}
