package fetch

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/feed/weather/standin"
)

func (w *world) observed(order ...Provider) (Measured, error) {
	w.t.Helper()
	w.opt.Order = order
	c, err := New(w.opt)
	if err != nil {
		w.t.Fatal(err)
	}
	return c.Observed(context.Background(), lake)
}

// The nearer station is asked, though the service lists another one first, and only whole hours and a limit are told.
func TestTheNearestStationIsAsked(t *testing.T) {
	w := newWorld(t)
	m, err := w.observed()
	if err != nil {
		t.Fatal(err)
	}
	// by the haversine on a sphere of 6371 km, by hand: 16.4 km, 110 degrees from 46.2 N 93.7 W to 46.15 N 93.5 W
	if m.Station.ID != "KZZA" || m.Station.Name != "Made-up Airfield East" || m.Distance < 16_300 || m.Distance > 16_500 || m.Toward.Compass() != "ESE" {
		t.Errorf("%+v", m)
	}
	r := m.Newest()
	if len(m.Readings) != 4 || m.Stale || *r.Temperature != -14.4 || *r.WindFrom != 320 || fmt.Sprintf("%.2f %.2f", *r.Wind, *r.Gust) != "7.20 10.80" || !r.When.Equal(time.Date(2026, 1, 14, 17, 53, 0, 0, time.UTC)) {
		t.Errorf("%+v", r)
	}
	if first := m.Readings[0]; first.Temperature != nil || first.Wind == nil {
		t.Errorf("a questioned value is taken: %+v", first)
	}
	if calm := m.Readings[1]; *calm.Wind != 0 || calm.WindFrom != nil {
		t.Errorf("a calm has a direction: %+v", calm)
	}
	var asked []string
	for _, r := range w.srv.Seen() {
		asked = append(asked, r.Path+"?"+r.Query)
	}
	if got := strings.Join(asked, " "); got != "/points/46.2,-93.7? /gridpoints/ABC/91,117/stations? /stations/KZZA/observations?limit=24&start=2026-01-14T12%3A00%3A00Z" {
		t.Error(got)
	}
	w.srv.Set(standin.Trouble{})
	if _, err := w.observed(); err != nil || len(w.srv.Seen()) != 1 {
		t.Errorf("the cell or its stations were asked for again: %v %+v", err, w.srv.Seen())
	}
}

func TestReadingsThatAreStaleOrMissing(t *testing.T) {
	for _, c := range []struct {
		name    string
		trouble standin.Trouble
		station string
		stale   bool
		note    string // in the notes, or in the error when there is no station
	}{
		{"one is silent", standin.Trouble{Silent: []string{"KZZA"}}, "KZZB", false, "Station KZZA: it told nothing in the last 6 hours."},
		{"at the age that is fresh", standin.Trouble{Old: 113 * time.Minute}, "KZZA", false, ""},
		{"a minute more", standin.Trouble{Old: 114 * time.Minute}, "KZZA", true, "Station KZZA has been silent since 2026-01-14 15:59 UTC."},
		{"all are silent", standin.Trouble{Silent: []string{"KZZA", "KZZB"}}, "", false, "no station near the lake told its weather"},
		{"none is near", standin.Trouble{Lonely: true}, "", false, "No station lies within 60 km."},
		{"an unknown unit", standin.Trouble{Unit: "K"}, "", false, `temperature is in the unit "K", which is not known here`},
		{"fields that no document names", standin.Trouble{Unknown: true}, "KZZA", false, ""},
		{"no temperatures", standin.Trouble{Null: true}, "KZZA", false, ""},
		{"busy at first", standin.Trouble{Refuse: []int{503, 429}}, "KZZA", false, ""},
		{"cut off", standin.Trouble{Truncate: true}, "", false, "broke off"},
		{"its clock is off", standin.Trouble{Skew: time.Hour}, "KZZA", false, "clock is 1h0m0s behind"},
	} {
		w := newWorld(t)
		w.srv.Set(c.trouble)
		m, err := w.observed()
		said := strings.Join(m.Notes, " ")
		if err != nil {
			said = err.Error()
			if fault.CodeOf(err) != fault.Unavailable {
				t.Errorf("%s: %v", c.name, err)
			}
		}
		if m.Station.ID != c.station || m.Stale != c.stale || !strings.Contains(said, c.note) || c.note == "" && said != "" {
			t.Errorf("%s: station %q, stale %v, %s", c.name, m.Station.ID, m.Stale, said)
		}
	}
	w := newWorld(t)
	if _, err := w.observed(METNorway); fault.CodeOf(err) != fault.Missing {
		t.Errorf("a service without stations: %v", err)
	}
}

// On the nights of the clock changes of 2026 in America/Chicago (8 March, 1 November) each reading is an instant of its
// own, told in an offset that changes on the way [TZDB].
func TestReadingsOfTheNightsOfClockChanges(t *testing.T) {
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	for _, day := range []time.Time{time.Date(2026, 3, 8, 0, 0, 0, 0, zone), time.Date(2026, 11, 1, 0, 0, 0, 0, zone)} {
		w := newWorld(t)
		w.now = day.Add(5 * time.Hour)
		w.srv.Set(standin.Trouble{Night: day})
		m, err := w.observed()
		if err != nil {
			t.Fatal(err)
		}
		for i, r := range m.Readings[1:] {
			if r.When.Sub(m.Readings[i].When) != time.Hour {
				t.Errorf("%v after %v", r.When.In(zone), m.Readings[i].When.In(zone))
			}
		}
		if len(m.Readings) != 23 && len(m.Readings) != 24 {
			t.Errorf("%d readings on %v", len(m.Readings), day)
		}
	}
}
