package cli

import (
	"context"
	"math"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/weather"
	"icehand/internal/feed/weather/fetch"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

// measured is what a station near the lake measured, beside the forecast's hour of the newest reading.
type measured struct {
	fetch.Measured
	told *weather.Hour // nil: the forecast has no such hour
}

// measuredAt asks the stations. Without a reading the forecast stands all the same, and a note says why there is none.
func measuredAt(ctx context.Context, client *fetch.Client, at geo.Position, p *fetch.Pack) *measured {
	m, err := client.Observed(ctx, at)
	p.Notes = append(p.Notes, m.Notes...)
	if err != nil {
		f := fault.Public(err)
		p.Notes = append(p.Notes, "Nothing measured: "+f.Message)
		return nil
	}
	return &measured{m, p.Forecast.At(m.Newest().When)}
}

// saveMeasured writes the readings into the record as those of a station; those on record already are passed over.
func (g *Globals) saveMeasured(ctx context.Context, l lakeWeather, m *measured) (int, error) {
	if m == nil {
		return 0, nil
	}
	s, err := g.write(ctx)
	if err != nil {
		return 0, err
	}
	defer s.close()
	info, err := s.Info(ctx)
	if err != nil {
		return 0, err
	}
	var items []desk.Item
	for _, r := range m.Readings {
		w := &journal.Weather{Station: m.Station.ID, Unit: "C"}
		if r.Temperature != nil {
			tenths := int64(math.Round(r.Temperature.Degrees() * 10))
			w.Air = &tenths
		}
		if r.Wind != nil {
			mms := int64(math.Round(r.Wind.MetresPerSecond() * 1000))
			w.Wind, w.WindHeight = &mms, "mast"
		}
		if r.WindFrom != nil {
			degrees := int64(math.Round(r.WindFrom.Degrees()))
			w.From = &degrees
		}
		if w.Air == nil && w.Wind == nil || w.Check() != nil { // beyond what the record takes for possible
			continue
		}
		id := journal.ContentID(info.ID, journal.KindWeather, m.Station.ID+" "+r.When.Format(time.RFC3339))
		items = append(items, desk.Item{ID: id, At: r.When, Body: w})
	}
	return s.Batch(ctx, m.Data, items, nil)
}

// print says what was measured against what was told for that hour.
func (m *measured) print(g *Globals, zone *time.Location) {
	if m == nil {
		return
	}
	now := g.env.Clock()
	v := say.Voice{Units: g.system(), Zone: zone, Now: now}
	r := m.Newest()
	g.say("Measured %s by station %s (%s), %s %s of the lake, not on the ice:", v.Ago(r.When), m.Station.ID, m.Station.Name, v.Units.DistanceText(m.Distance), m.Toward.Compass())
	g.say("  %s  %s", r.When.In(zone).Format("2 Jan 15:04 -07:00"), hourText(v, readingHour(r)))
	if m.told == nil {
		g.say("  The forecast does not cover that hour.")
	} else {
		g.say("  The forecast had %s.", hourText(v, weather.Hour{Temperature: m.told.Temperature, Wind: m.told.Wind, Gust: m.told.Gust, WindFrom: m.told.WindFrom}))
	}
	if m.Stale {
		g.say("Too old to stand for now: look at the wind on the ice.")
	}
}

func readingHour(r weather.Reading) weather.Hour {
	return weather.Hour{Start: r.When, Temperature: r.Temperature, Wind: r.Wind, Gust: r.Gust, WindFrom: r.WindFrom}
}

// measuredJSON is what --json prints of a station. A null is unknown; differences are measured less forecast.
type measuredJSON struct {
	Station   string            `json:"station"`
	Name      string            `json:"name"`
	DistanceM float64           `json:"distance_m"`
	Stale     bool              `json:"stale"`
	Readings  []weatherHourJSON `json:"readings"`
	AirMinus  *float64          `json:"air_minus_forecast_c"`
	WindMinus *float64          `json:"wind_minus_forecast_kmh"`
	Turned    *float64          `json:"from_minus_forecast_deg"` // -180 to 180, clockwise positive
}

func (m *measured) answer(zone *time.Location) *measuredJSON {
	if m == nil {
		return nil
	}
	out := &measuredJSON{Station: m.Station.ID, Name: m.Station.Name, DistanceM: math.Round(m.Distance.Metres()), Stale: m.Stale}
	for _, r := range m.Readings {
		out.Readings = append(out.Readings, hourJSON(readingHour(r), zone))
	}
	r, h := m.Newest(), m.told
	if h == nil {
		return out
	}
	if r.Temperature != nil && h.Temperature != nil {
		d := *r.Temperature - *h.Temperature
		out.AirMinus = scaled(&d, 1)
	}
	if r.Wind != nil && h.Wind != nil {
		d := *r.Wind - *h.Wind
		out.WindMinus = scaled(&d, float64(quantity.KilometrePerHour))
	}
	if r.WindFrom != nil && h.WindFrom != nil {
		d := math.Remainder(r.WindFrom.Degrees()-h.WindFrom.Degrees(), 360)
		out.Turned = scaled(&d, 1)
	}
	return out
}

// hourJSON gives an hour with its instant in the lake's zone, offset and all.
func hourJSON(h weather.Hour, zone *time.Location) weatherHourJSON {
	return weatherHourJSON{Start: h.Start.In(zone).Format(time.RFC3339), Air: scaled(h.Temperature, 1), Wind: scaled(h.Wind, float64(quantity.KilometrePerHour)),
		Gust: scaled(h.Gust, float64(quantity.KilometrePerHour)), From: scaled(h.WindFrom, 1), Sky: scaled(h.Sky, 1), Snow: scaled(h.Snow, float64(quantity.Millimetre)),
		Precip: scaled(h.Precip, float64(quantity.Millimetre)), Visible: scaled(h.Visibility, 1)}
}
