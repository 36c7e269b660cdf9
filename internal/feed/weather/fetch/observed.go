package fetch

import (
	"cmp"
	"context"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
	"icehand/internal/feed/weather"
)

// Measured is what the nearest station that reports has measured lately.
type Measured struct {
	Station  weather.Station
	Distance quantity.Length   // from the lake's place
	Toward   quantity.Bearing  // where it lies, from the lake
	Readings []weather.Reading // by time, the newest last; at least one
	Stale    bool              // the newest is too old to stand for now
	Data     []byte            // the answer as it came
	Notes    []string          // what went wrong on the way, a plain sentence each
}

// The numbers of asking stations. Ours.
const (
	farthest      = 60 * quantity.Kilometre // a station beyond has another weather
	stationsAsked = 3                       // at most, the nearest first
	lookBack      = 6 * time.Hour           // readings older than this are not asked for
	readingsAsked = 24
)

// Observed asks the US National Weather Service what a station near a place has measured: the nearest one with a reading
// that stands for now, else the newest reading of those asked, marked stale. Only that service tells it.
func (c *Client) Observed(ctx context.Context, at geo.Position) (Measured, error) {
	if !at.Valid() {
		panic("fetch: no place")
	}
	at = coarse(at)
	i := slices.IndexFunc(c.services, func(s *service) bool { return s.provider == NWS })
	if i < 0 {
		return Measured{}, fault.New(fault.Missing, "Add nws to the services.", "only the US National Weather Service tells what stations measure, and it is not among the services")
	}
	s := c.services[i]
	near, err := c.stations(ctx, s, at)
	if err != nil {
		return Measured{}, c.noReading(ctx, []string{sentence(s.title(), err)})
	}
	var notes []string
	var best Measured
	for _, m := range near[:min(len(near), stationsAsked)] {
		m, err := c.readings(ctx, s, m)
		switch {
		case ctx.Err() != nil:
			return Measured{}, c.noReading(ctx, nil)
		case err != nil:
			notes = append(notes, sentence("Station "+m.Station.ID, err))
			continue
		case !m.Stale:
			m.Notes = append(notes, m.Notes...)
			return m, nil
		}
		notes = append(notes, fmt.Sprintf("Station %s has been silent since %s.", m.Station.ID, m.Newest().When.Format("2006-01-02 15:04 UTC")))
		if len(best.Readings) == 0 || m.Newest().When.After(best.Newest().When) {
			best = m
		}
	}
	if len(best.Readings) == 0 {
		if len(near) == 0 {
			notes = append(notes, fmt.Sprintf("No station lies within %.0f km.", farthest.Metres()/1000))
		}
		return Measured{}, c.noReading(ctx, notes)
	}
	best.Notes = notes
	return best, nil
}

// Newest gives the newest reading.
func (m Measured) Newest() weather.Reading { return m.Readings[len(m.Readings)-1] }

func (c *Client) noReading(ctx context.Context, notes []string) error {
	if ctx.Err() != nil {
		return fault.Wrap(ctx.Err(), fault.Unavailable, "Repeat it where there is a signal.", "the stations were not asked to the end")
	}
	return fault.New(fault.Unavailable, "Look at the wind on the ice, and repeat it where there is a signal.", "no station near the lake told its weather. %s", strings.Join(notes, " "))
}

func sentence(who string, err error) string {
	return fmt.Sprintf("%s: %s.", who, strings.TrimRight(strings.Map(printable, err.Error()), "."))
}

// stations gives those near a place, the nearest first, without readings.
func (c *Client) stations(ctx context.Context, s *service, at geo.Position) ([]Measured, error) {
	cell, _, err := c.forecastPath(ctx, s, at)
	if err != nil {
		return nil, err
	}
	a, err := c.get(ctx, s, cell+"/stations", nil)
	if err != nil {
		return nil, err
	}
	list, err := weather.ReadStations(a.Body, file.Options{MaxBytes: maxBody})
	if err != nil {
		return nil, err
	}
	_ = c.copies.keep(s, cell+"/stations", nil, a.stored) // without it they are asked for again
	var near []Measured
	for _, st := range list {
		if d, toward := geo.Between(at, st.At); d <= farthest {
			near = append(near, Measured{Station: st, Distance: d, Toward: toward})
		}
	}
	slices.SortStableFunc(near, func(a, b Measured) int { return cmp.Compare(a.Distance, b.Distance) })
	return near, nil
}

// readings asks one station. The times asked for are whole hours, so that a question repeated is the same question.
func (c *Client) readings(ctx context.Context, s *service, m Measured) (Measured, error) {
	now := c.opt.Clock()
	from := now.Add(-lookBack).UTC().Truncate(time.Hour)
	query := url.Values{"start": {from.Format(time.RFC3339)}, "limit": {fmt.Sprint(readingsAsked)}}
	path := "/stations/" + m.Station.ID + "/observations"
	a, err := c.get(ctx, s, path, query)
	if err != nil {
		return m, err
	}
	list, _, err := weather.ReadReadings(a.Body, file.Options{MaxBytes: maxBody, Zone: time.UTC, Today: now})
	switch {
	case err != nil:
		return m, err
	case len(list) == 0:
		return m, fmt.Errorf("it told nothing in the last %.0f hours", lookBack.Hours())
	}
	m.Readings, m.Data, m.Notes = list, a.Body, a.notes
	m.Stale = m.Newest().Stale(now)
	return m, nil
}
