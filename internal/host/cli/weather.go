package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
	"icehand/internal/feed/weather"
	"icehand/internal/feed/weather/fetch"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/keep/sqlite"
)

type weatherCmd struct {
	Provider string `help:"Service to ask first: nws, metno or openmeteo; else by the settings." placeholder:"NAME"`
	Observed bool   `help:"Ask what the nearest station measured too, and hold the forecast against it (US National Weather Service only)."`
	Save     bool   `help:"Write the forecast into the record with its issue time, to be read without signal."`
}

// weatherSettings are this machine's own, out of icehand.json and the environment. They are never journaled: the key is
// the outfit's, and the next machine has its own way to the network.
type weatherSettings struct {
	Contact   string                    `json:"contact"`
	Providers []fetch.Provider          `json:"providers"`
	Base      map[fetch.Provider]string `json:"base"`
	Key       string                    `json:"openmeteo_key"`
}

const setContact = `Set it once in icehand.json: {"weather": {"contact": "you@your-outfit.example"}}, or in ICEHAND_WEATHER_CONTACT.`

// weatherSettings reads the settings; the environment counts before the file.
func (g *Globals) weatherSettings() (weatherSettings, error) {
	var all struct {
		Weather weatherSettings `json:"weather"`
	}
	path := filepath.Join(g.Data, sqlite.SettingsFile)
	f, err := os.Open(path)
	if err == nil {
		defer f.Close()
		err = json.NewDecoder(io.LimitReader(f, 1<<20)).Decode(&all)
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) { // the cause could repeat the key that stands in the file
		return all.Weather, fault.New(fault.BadInput, "Mend it: it must be JSON, as docs/commands.md shows.", "%s cannot be read", path)
	}
	s := all.Weather
	if v := g.env.Getenv("ICEHAND_WEATHER_CONTACT"); v != "" {
		s.Contact = v
	}
	if v := g.env.Getenv("ICEHAND_WEATHER_PROVIDERS"); v != "" {
		s.Providers = nil
		for _, p := range strings.Split(v, ",") {
			s.Providers = append(s.Providers, fetch.Provider(strings.TrimSpace(p)))
		}
	}
	if v := g.env.Getenv("ICEHAND_WEATHER_OPENMETEO_KEY"); v != "" {
		s.Key = v
	}
	base := map[fetch.Provider]string{}
	for _, p := range []fetch.Provider{fetch.NWS, fetch.METNorway, fetch.OpenMeteo} {
		base[p] = s.Base[p]
		if v := g.env.Getenv("ICEHAND_WEATHER_" + strings.ToUpper(string(p)) + "_URL"); v != "" {
			base[p] = v
		}
	}
	s.Base = base
	return s, nil
}

// order puts the chosen service first; those of the settings stand in when it fails.
func (c weatherCmd) order(s weatherSettings) []fetch.Provider {
	rest := s.Providers
	if len(rest) == 0 {
		rest = []fetch.Provider{fetch.NWS, fetch.METNorway}
		if s.Key != "" {
			rest = append(rest, fetch.OpenMeteo)
		}
	}
	if c.Provider == "" {
		return rest
	}
	return append([]fetch.Provider{fetch.Provider(c.Provider)}, rest...) // one named twice is asked once
}

func (c weatherCmd) Run(ctx context.Context, g *Globals) error {
	settings, err := g.weatherSettings()
	if err != nil {
		return err
	}
	if settings.Contact == "" {
		return fault.New(fault.Missing, setContact, "the weather services want a contact, and none is set")
	}
	client, err := fetch.New(fetch.Options{Contact: settings.Contact, Version: g.env.Version, Order: c.order(settings), Base: settings.Base, Key: settings.Key,
		Folder: filepath.Join(g.Data, "weather"), Clock: g.env.Clock, Tell: func(s string) { fmt.Fprintln(g.env.Err, s) }})
	if err != nil {
		return err
	}
	lake, err := g.lakeWeather(ctx)
	if err != nil {
		return err
	}
	pack, err := client.Fetch(ctx, lake.at)
	if err != nil {
		return err
	}
	written := 0
	var seen *measured
	if c.Observed {
		seen = measuredAt(ctx, client, lake.at, &pack)
	}
	if c.Save {
		var why string
		if written, why, err = g.saveWeather(ctx, lake, pack); err != nil {
			return err
		}
		if why != "" {
			pack.Notes = append(pack.Notes, why)
		}
		n, err := g.saveMeasured(ctx, lake, seen)
		if err != nil {
			return err
		}
		written += n
	}
	if g.JSON {
		answer := weatherAnswer(pack, lake, g.env.Clock(), written)
		answer.Measured = seen.answer(lake.zone)
		return g.printJSON(answer)
	}
	printWeather(g, pack, lake)
	seen.print(g, lake.zone)
	g.say("Advice only. A forecast is no look at the sky.")
	if written > 0 {
		g.say("%s: wrote %d entries", pack.Name, written)
	}
	return nil
}

// lakeWeather is what the record says before a service is asked.
type lakeWeather struct {
	at     geo.Position // the lake's origin: no spot
	zone   *time.Location
	issued time.Time // of the newest forecast on record; zero: none, or not told
}

func (g *Globals) lakeWeather(ctx context.Context) (l lakeWeather, err error) {
	s, err := g.read(ctx)
	if err != nil {
		return l, err
	}
	defer s.close()
	info, err := s.Info(ctx)
	if err != nil {
		return l, err
	}
	if !info.Known {
		return l, fault.New(fault.Missing, "Import the outline first: icehand import OUTLINE.geojson --tz ZONE.", "a forecast needs a lake, and none is recorded yet")
	}
	l = lakeWeather{at: info.Frame.Origin(), zone: info.Zone}
	err = s.Read(ctx, func(v desk.View) error {
		if f := v.Lake.Layer("forecast"); f != nil && f.Issued != 0 {
			l.issued = time.UnixMilli(f.Issued)
		}
		return nil
	})
	return l, err
}

// saveWeather writes a pack into the record, unless what is there was made later: the newest entry counts, and an old
// answer must not hide a fresh one.
func (g *Globals) saveWeather(ctx context.Context, l lakeWeather, p fetch.Pack) (written int, why string, err error) {
	if made := p.Forecast.Issued; !made.IsZero() && l.issued.After(made) {
		return 0, "Nothing was written: the record holds a forecast issued later, " + say.Age(g.env.Clock().Sub(l.issued)) + ".", nil
	}
	r, done, err := g.reader(ctx)
	if err != nil {
		return 0, "", err
	}
	defer done()
	rep, err := r.commit(ctx, p.Name, p.Data, file.Options{As: file.Weather})
	if err != nil {
		return 0, "", err
	}
	if rep.Written == 0 {
		why = "Nothing was written: this forecast is on record already."
	}
	return rep.Written, why, nil
}

// shownHours is how far ahead the hours are printed; --json lists them all.
const shownHours = 24 * time.Hour

func printWeather(g *Globals, p fetch.Pack, l lakeWeather) {
	now := g.env.Clock()
	age, issued := p.Age(now)
	if issued {
		g.say("%s, issued %s, %s.", p.Forecast.Source, p.Forecast.Issued.In(l.zone).Format("2006-01-02 15:04"), say.Age(age))
	} else {
		g.say("%s, fetched %s; its issue time is not told, so the turn-back time counts dusk early.", p.Forecast.Source, say.Age(age))
	}
	if p.Copy {
		g.say("No service answered with a fresh forecast: this is the last good copy, fetched %s.", say.Age(now.Sub(p.Fetched)))
	}
	if p.Stale {
		g.say("Too old to plan on: the turn-back time counts dusk early.")
	}
	g.lines("note: ", p.Notes...)
	voice := say.Voice{Units: g.system(), Zone: l.zone, Now: now}
	for _, h := range p.Forecast.Hours {
		if h.Start.Add(time.Hour).After(now) && h.Start.Before(now.Add(shownHours)) {
			g.say("  %s  %s", h.Start.In(l.zone).Format("2 Jan 15:04"), hourText(voice, h))
		}
	}
	g.say("%s", creditOf(p))
}

// hourText says an hour; what is not told is said to be so.
func hourText(v say.Voice, h weather.Hour) string {
	parts := []string{"air not told", "wind not told"}
	if h.Temperature != nil {
		parts[0] = v.Units.TemperatureText(*h.Temperature)
	}
	if h.Wind != nil {
		var gust quantity.Speed
		if h.Gust != nil {
			gust = *h.Gust
		}
		var from quantity.Bearing
		if h.WindFrom != nil {
			from = *h.WindFrom
		}
		parts[1] = v.Wind(*h.Wind, gust, from, h.WindFrom != nil)
	}
	if h.Snow != nil && *h.Snow > 0 {
		parts = append(parts, snowText(v.Units, *h.Snow))
	} else if h.Precip != nil && *h.Precip > 0 {
		parts = append(parts, "snow or rain")
	}
	if h.Visibility != nil && *h.Visibility < 10*quantity.Kilometre {
		parts = append(parts, "sight "+v.Units.DistanceText(*h.Visibility))
	}
	return strings.Join(parts, ", ")
}

// snowText says the snow of an hour to a tenth, since a millimetre an hour already counts up over a day.
func snowText(u quantity.System, l quantity.Length) string {
	if u == quantity.US {
		return fmt.Sprintf("snow %.1f in", l.Inches())
	}
	return fmt.Sprintf("snow %.1f cm", l.Centimetres())
}

func creditOf(p fetch.Pack) string {
	if p.Forecast.Licence != "" {
		return weather.Credit(p.Forecast.Source, p.Forecast.Licence)
	}
	return "Weather data from the US National Weather Service."
}

// weatherJSON is what --json prints. A null is unknown.
type weatherJSON struct {
	Provider     fetch.Provider    `json:"provider"`
	Source       string            `json:"source"`
	Issued       string            `json:"issued,omitempty"`
	Fetched      string            `json:"fetched"`
	AgeS         int64             `json:"age_s"`
	Stale        bool              `json:"stale"`
	Copy         bool              `json:"copy"`
	Notes        []string          `json:"notes"`
	Credit       string            `json:"credit"`
	SavedEntries int               `json:"saved_entries"`
	Hours        []weatherHourJSON `json:"hours"`
	Measured     *measuredJSON     `json:"measured,omitempty"`
}

type weatherHourJSON struct {
	Start   string   `json:"start"`
	Air     *float64 `json:"air_c"`
	Wind    *float64 `json:"wind_kmh"`
	Gust    *float64 `json:"gust_kmh"`
	From    *float64 `json:"from_true_deg"`
	Sky     *float64 `json:"cloud"`
	Snow    *float64 `json:"snow_mm"`
	Precip  *float64 `json:"precip_mm"`
	Visible *float64 `json:"sight_m"`
}

func weatherAnswer(p fetch.Pack, l lakeWeather, now time.Time, saved int) weatherJSON {
	age, issued := p.Age(now)
	out := weatherJSON{Provider: p.Provider, Source: p.Forecast.Source, Fetched: p.Fetched.In(l.zone).Format(time.RFC3339), AgeS: int64(age.Seconds()),
		Stale: p.Stale, Copy: p.Copy, Notes: append([]string{}, p.Notes...), Credit: creditOf(p), SavedEntries: saved, Hours: []weatherHourJSON{}}
	if issued {
		out.Issued = p.Forecast.Issued.In(l.zone).Format(time.RFC3339)
	}
	for _, h := range p.Forecast.Hours {
		out.Hours = append(out.Hours, hourJSON(h, l.zone))
	}
	return out
}

// scaled gives a value in another unit, to a hundredth; nil stays unknown.
func scaled[T ~float64](v *T, unit float64) *float64 {
	if v == nil {
		return nil
	}
	x := round(float64(*v)/unit, 2)
	return &x
}
