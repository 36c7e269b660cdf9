package desk

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/engine/safety"
	"icehand/internal/feed/station"
	"icehand/internal/feed/weather"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// coverCache holds the columns of the lake's zones until something of ice or weather is recorded or an hour goes by, the
// weather of each layer, and the scatter of the ice, which is worked out once a day.
type coverCache struct {
	key     uint64 // of all that the columns are made of
	hour    time.Time
	cover   safety.Cover
	ok      bool
	zones   map[icecover.Zone]*icecover.Cover // for looking ahead
	layers  map[uuid.UUID][]icecover.Hour
	today   journal.Day
	scatter icecover.Scatter
}

// Numbers of the season's weather.
const (
	leadDays      = 7   // of weather before freeze-up, which leave room for its doubt
	longestSeason = 300 // days after which a day of freeze-up is another winter's
)

// cover gives what weather and holes make of the zones' ice. Where the weather since freeze-up is not on record, or the
// day of freeze-up, there is no column and the reason is told. The caller holds mu.
func (d *Desk) cover(ctx context.Context, now time.Time) (safety.Cover, error) {
	c := &d.covers
	hour := now.Truncate(time.Hour)
	key := d.coverKey()
	if c.ok && c.key == key && c.hour.Equal(hour) {
		return c.cover, nil
	}
	hours, err := d.seasonHours(ctx)
	if err != nil {
		return safety.Cover{}, err
	}
	out := safety.Cover{Events: append(icecover.Events(now, hours), d.ended(now)...)}
	if s := d.surface(); s != nil {
		out.Shore = func(p geo.Local) (quantity.Length, bool) {
			if !s.OnWater(p) {
				return 0, true
			}
			return s.ShoreDistance(p), true
		}
	}
	out.Scatter = d.scatter(now, out.Shore)
	out.Fetch = d.fetch(now, hours)
	c.zones = nil
	if out.Missing = d.noFreezeUp(now); out.Missing == "" {
		if err := d.columns(ctx, now, hours, &out); err != nil {
			if ctx.Err() != nil {
				return safety.Cover{}, err
			}
			out.Columns, out.Missing = nil, "No ice column: the weather since freeze-up is not on record."
		}
	}
	*c = coverCache{key: key, hour: hour, cover: out, ok: true, zones: c.zones, layers: c.layers, today: c.today, scatter: c.scatter}
	return out, nil
}

// fetchStep is the step in which the shore upwind is looked for.
const fetchStep = 50.0 // m

// fetch gives the distance to the shore upwind, up to a step beyond the lee; nil while no wind is known to prevail.
func (d *Desk) fetch(now time.Time, hours []icecover.Hour) func(geo.Local) quantity.Length {
	s := d.surface()
	if s == nil || d.noFreezeUp(now) != "" {
		return nil
	}
	past := slices.DeleteFunc(slices.Clone(hours), func(h icecover.Hour) bool { return h.Start.After(now) })
	from, prevails := icecover.Prevailing(d.lake.FreezeUp.Midnight(d.lake.Zone), past)
	if !prevails {
		return nil
	}
	sin, cos := math.Sincos(from.Degrees() * math.Pi / 180)
	return func(p geo.Local) quantity.Length {
		walked := 0.0
		for walked <= icecover.LeeReach.Metres() && s.OnWater(geo.Local{E: p.E + walked*sin, N: p.N + walked*cos}) {
			walked += fetchStep
		}
		return quantity.Length(walked)
	}
}

// ahead carries a zone's column on to a moment by the forecast; nil where column or forecast do not reach. The caller
// holds mu and has asked for the cover.
func (d *Desk) ahead(ctx context.Context, zone icecover.Zone, until time.Time) *icecover.Estimate {
	c := d.covers.zones[zone]
	if c == nil || !until.After(c.Now()) {
		return nil
	}
	hours, err := d.seasonHours(ctx)
	if err != nil {
		return nil
	}
	steps, err := icecover.Steps(c.Now(), until, hours)
	if err != nil {
		return nil
	}
	c = c.Copy()
	for _, w := range steps {
		if c.Advance(w) != nil {
			return nil
		}
	}
	e := c.Estimate()
	return &e
}

// coverKey changes with every reading, observation, layer and day of freeze-up.
func (d *Desk) coverKey() uint64 {
	h := fnv.New64a()
	fmt.Fprint(h, d.lake.FreezeUp, len(d.lake.Layers), d.lake.Layer("outline") != nil, d.ended(d.Clock()))
	for _, r := range d.lake.Ice {
		fmt.Fprint(h, *r)
	}
	for _, o := range d.lake.Observed {
		fmt.Fprint(h, o.When.Unix(), o.AirTold, o.Air, o.WindTold, o.Wind, o.From)
	}
	return h.Sum64()
}

// noFreezeUp says why no column can begin, or nothing.
func (d *Desk) noFreezeUp(now time.Time) string {
	if d.lake.FreezeUp == "" {
		return "No ice column: the day of freeze-up is not on record."
	}
	since := now.Sub(d.lake.FreezeUp.Midnight(d.lake.Zone))
	if since < 0 || since > longestSeason*24*time.Hour {
		return "No ice column: this winter's day of freeze-up is not on record."
	}
	return ""
}

// columns runs the column of every zone, once a hole was read anywhere this winter.
func (d *Desk) columns(ctx context.Context, now time.Time, hours []icecover.Hour, out *safety.Cover) error {
	freezeUp := d.lake.FreezeUp.Midnight(d.lake.Zone).Add(12 * time.Hour)
	start := freezeUp.AddDate(0, 0, -leadDays)
	steps, err := icecover.Steps(start, now, hours)
	if err != nil {
		return fmt.Errorf("desk: ice columns: %w", err)
	}
	byZone := map[icecover.Zone][]*lake.IceReading{}
	for _, r := range d.lake.Ice {
		if r.Placed && r.When.After(start) && !r.When.After(now) {
			byZone[out.Zone(r.At)] = append(byZone[out.Zone(r.At)], r)
		}
	}
	out.Columns, d.covers.zones = map[icecover.Zone]safety.Column{}, map[icecover.Zone]*icecover.Cover{}
	for _, zone := range icecover.Zones(out.Fetch != nil) { // one without a hole learns from the others
		if len(byZone) == 0 {
			break
		}
		var others []*lake.IceReading
		for _, other := range icecover.Zones(out.Fetch != nil) {
			if other != zone {
				others = append(others, byZone[other]...)
			}
		}
		z, err := icecover.Among(ctx, icecover.Options{FreezeUp: freezeUp, Start: start, Seed: d.opt.Seed, Elsewhere: others}, steps, byZone[zone])
		if err != nil {
			return fmt.Errorf("desk: ice columns: %w", err)
		}
		column := safety.Column{Estimate: z.Estimate, Trail: z.Trail}
		for _, l := range z.Lessons {
			column.Odd = column.Odd || l.Tempered && journal.DayOf(l.At, d.lake.Zone) == journal.DayOf(now, d.lake.Zone)
		}
		out.Columns[zone], d.covers.zones[zone] = column, z.Ahead
	}
	return nil
}

// scatter gives how the ice differs from place to place, from the holes up to yesterday.
func (d *Desk) scatter(now time.Time, shore func(geo.Local) (quantity.Length, bool)) icecover.Scatter {
	c, today := &d.covers, journal.DayOf(now, d.lake.Zone)
	if c.today != today {
		var past []*lake.IceReading
		for _, r := range d.lake.Ice {
			if r.Day < today {
				past = append(past, r)
			}
		}
		c.scatter, _ = icecover.Refit(safety.Samples(past, d.lake.Zone, shore))
		c.today = today
	}
	return c.scatter
}

// seasonHours joins the weather on record, the better told later: days of a station, forecasts in the order of their
// issue, what was seen on the ice.
func (d *Desk) seasonHours(ctx context.Context) ([]icecover.Hour, error) {
	if d.covers.layers == nil {
		d.covers.layers = map[uuid.UUID][]icecover.Hour{}
	}
	var out []icecover.Hour
	for _, what := range []string{"station", "forecast"} {
		for i := range d.lake.Layers {
			l := &d.lake.Layers[i]
			if l.What != what {
				continue
			}
			hours, read := d.covers.layers[l.ID]
			if !read {
				var err error
				if hours, err = d.layerHours(ctx, l); err != nil {
					var f *fault.Error
					if !errors.As(err, &f) || f.Code != fault.BadInput {
						return nil, err
					}
				}
				d.covers.layers[l.ID] = hours
			}
			out = append(out, hours...)
		}
	}
	for _, o := range d.lake.Observed {
		wind := o.WindTold && o.FromTold
		if o.AirTold || wind {
			out = append(out, icecover.Hour{Start: o.When.Truncate(time.Hour), Air: o.Air, AirTold: o.AirTold, Wind: o.Wind, From: o.From, WindTold: wind})
		}
	}
	return out, nil
}

func (d *Desk) layerHours(ctx context.Context, l *lake.Layer) ([]icecover.Hour, error) {
	data, opt, err := d.layer(ctx, l)
	if err != nil {
		return nil, err
	}
	if opt.Zone == nil {
		opt.Zone = d.lake.Zone
	}
	if l.What == "station" {
		r, _, err := station.Read(l.Name, data, opt)
		if err != nil {
			return nil, fmt.Errorf("desk: station: %w", err)
		}
		return stationHours(r, d.lake.Zone), nil
	}
	f, _, err := weather.Read(l.Name, bytes.Clone(data), opt)
	if err != nil {
		return nil, fmt.Errorf("desk: forecast: %w", err)
	}
	return weatherHours(f), nil
}

// weatherHours brings a forecast's hours into the column's form.
func weatherHours(f weather.Forecast) []icecover.Hour {
	var out []icecover.Hour
	for _, h := range f.Hours {
		x := icecover.Hour{Start: h.Start}
		if h.Temperature != nil {
			x.Air, x.AirTold = *h.Temperature, true
		}
		if h.Snow != nil {
			x.Snow, x.SnowTold = *h.Snow, true
		}
		if h.Wind != nil && h.WindFrom != nil {
			x.Wind, x.From, x.WindTold = *h.Wind, *h.WindFrom, true
		}
		x.Rain = h.Precip != nil && *h.Precip >= leastRain && (h.Snow == nil || *h.Snow == 0) && (h.Temperature == nil || *h.Temperature > coldestRain)
		out = append(out, x)
	}
	return out
}

// What of a forecast's precipitation is rain where no snow is told: ours.
const (
	leastRain   = quantity.Millimetre / 5
	coldestRain = quantity.Celsius(-2)
)

// stationHours spreads a station's days over their hours: the mean, and what the snow on the ground grew by as new snow.
func stationHours(r station.Record, zone *time.Location) []icecover.Hour {
	var out []icecover.Hour
	for i, day := range r.Days {
		mean, ok := day.Mean()
		if !ok {
			continue
		}
		x := icecover.Hour{Air: mean, AirTold: true}
		if i > 0 && day.Snow != nil && r.Days[i-1].Snow != nil {
			x.Snow, x.SnowTold = max(0, *day.Snow-*r.Days[i-1].Snow)/24, true
		}
		start := time.Date(day.Date.Year, day.Date.Month, day.Date.Day, 0, 0, 0, 0, zone)
		for h := range 24 {
			x.Start = start.Add(time.Duration(h) * time.Hour)
			out = append(out, x)
		}
	}
	return out
}
