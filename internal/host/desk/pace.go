package desk

import (
	"context"
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// agesOut gives the ages of everybody of a day who is not surely ashore.
func (d *Desk) agesOut(day journal.Day, now time.Time) (ages []string) {
	for _, g := range d.outToday(day, now) {
		ages = append(ages, g.Age)
	}
	return ages
}

// travelled gives what the record says of a day's travel so far: the party's lines out and home, and the legs from hole
// to hole of whoever drilled them.
func (d *Desk) travelled(day journal.Day, now time.Time) (out []safety.Stretch) {
	for _, t := range d.lake.Tracks {
		if t.Day == day && !t.When.After(now) && t.Purpose != "scouting" {
			out = append(out, safety.Stretch{Length: d.lineLength(t), Took: time.Duration(t.To-t.From) * time.Millisecond, Party: true})
		}
	}
	left := map[uuid.UUID]time.Time{} // when each hole was left: the last record at it before the next hole
	for _, l := range d.lake.Looks {
		left[l.Hole] = l.When
	}
	before := map[uuid.UUID]*lake.Hole{} // by writer
	for _, h := range d.lake.HolesOn(day) {
		if !h.Placed || h.Drilled.After(now) {
			continue
		}
		if a := before[h.Writer]; a != nil {
			from := a.Drilled
			if l := left[a.ID]; l.After(from) && l.Before(h.Drilled) {
				from = l
			}
			out = append(out, safety.Stretch{Length: a.At.Distance(h.At), Took: h.Drilled.Sub(from)})
		}
		before[h.Writer] = h
	}
	return out
}

// lineLength gives the length of a travelled line, a GeoJSON line of WGS 84; 0 when its points cannot be read, which teaches nothing.
func (d *Desk) lineLength(t lake.Track) quantity.Length {
	if l, known := d.lines[t.Blob]; known {
		return l
	}
	data, err := d.store.Blob(context.Background(), t.Blob)
	if err != nil {
		return 0 // it may still arrive
	}
	var line struct {
		Geometry struct {
			Coordinates [][]float64 `json:"coordinates"`
		} `json:"geometry"`
	}
	length := quantity.Length(0)
	if json.Unmarshal(data, &line) == nil {
		var last *geo.Local
		for _, c := range line.Geometry.Coordinates {
			if len(c) < 2 {
				last = nil
				continue
			}
			at := d.lake.Frame.Local(geo.Position{Lat: c[1], Lon: c[0]})
			if last != nil {
				length += last.Distance(at)
			}
			last = &at
		}
	}
	d.lines[t.Blob] = length
	return length
}
