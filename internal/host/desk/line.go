package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/simplify"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// Line is a travelled line on record, its parts put together.
type Line struct {
	ID       uuid.UUID // of its first part
	Day      journal.Day
	Purpose  string // out, home, scouting; "": not told
	Travel   string
	From, To time.Time
	Fixes    int // on record
	Bad      int // of them left out: off by more than 25 m or not told how far, out of order, or out of reach
	Length   quantity.Length
	Moving   time.Duration // without its stops
	People   []uuid.UUID
	Points   []geo.Local // of the usable fixes
	Timed    bool        // its fixes carry times
}

// LineFix is one fix of a line that a phone recorded.
type LineFix struct {
	When     time.Time
	At       geo.Position
	Accuracy quantity.Length // 0: not told
}

// LineAct is a part of a line that a phone recorded.
type LineAct struct {
	Act
	Of      uuid.UUID // first part of the line; the part's own for the first
	Purpose string
	Travel  string // "": as the day's trip tells
	People  []uuid.UUID
	Fixes   []LineFix
}

// What a part of a line may be: at most a fix a second for an hour, none of them farther than a drive from the lake; ours.
const (
	mostFixes = 3600
	farOff    = 200 * quantity.Kilometre
)

// RecordLine keeps a part of a line. Poor fixes are kept with what they say of themselves, and left out wherever the line is used. A part that is sent
// again counts once. The newest usable fix is where the phone stands. poor is how many were left out.
func (d *Desk) RecordLine(ctx context.Context, a LineAct) (poor int, err error) {
	err = d.record(ctx, a.Act, func(act Act) error {
		if err := d.checkLine(a, d.Clock()); err != nil {
			return err
		}
		good, bad := safety.Usable(d.local(a.Fixes))
		if poor = bad; d.log.Find(act.ID) != nil { // sent again
			return nil
		}
		first, last := a.Fixes[0].When, a.Fixes[len(a.Fixes)-1].When
		blob, err := lineJSON(a.Fixes)
		if err != nil {
			return err
		}
		hash, err := d.store.PutBlob(ctx, blob)
		if err != nil {
			return fault.Wrap(err, fault.NotSaved, "Try again.", "the line was not saved")
		}
		body := &journal.Track{Blob: hash, Points: int64(len(a.Fixes)), From: first.UnixMilli(), To: last.UnixMilli(), Purpose: a.Purpose, Travel: a.Travel, People: a.People}
		if a.Of != act.ID {
			body.Of = a.Of
		}
		if err := d.write(ctx, item{act.ID, last, body}); err != nil {
			return err
		}
		if len(good) > 0 && good[len(good)-1].When.After(d.stood.Fixed) {
			f := good[len(good)-1]
			d.stood.At, d.stood.Known, d.stood.Accuracy, d.stood.Fixed = f.At, true, f.Accuracy, f.When
		}
		return nil
	})
	return poor, err
}

// checkLine refuses a part that cannot be. The caller holds mu.
func (d *Desk) checkLine(a LineAct, now time.Time) error {
	const again = "Stop recording and start it again."
	switch {
	case len(a.Fixes) == 0 || len(a.Fixes) > mostFixes:
		return fault.New(fault.BadInput, again, "a part of a line with %d fixes", len(a.Fixes))
	case a.Purpose != "out" && a.Purpose != "home" && a.Purpose != "scouting":
		return fault.New(fault.BadInput, "Start with one of the three keys: out, home, scouting.", "a line that is neither out, home nor scouting")
	}
	for i, f := range a.Fixes {
		switch {
		case !f.At.Valid() || math.IsNaN(float64(f.Accuracy)) || f.Accuracy < 0 || f.Accuracy > 100*quantity.Kilometre:
			return fault.New(fault.BadInput, again, "fix %d of the line cannot be read", i+1)
		case d.lake.Frame.Local(f.At).Distance(geo.Local{}) > farOff:
			return fault.New(fault.BadInput, "Look at the phone's location and at which lake is open.", "fix %d of the line lies %.0f km from the lake", i+1, d.lake.Frame.Local(f.At).Distance(geo.Local{}).Metres()/1000)
		case f.When.After(now.Add(5 * time.Minute)):
			return fault.New(fault.BadInput, "Check the phone's clock.", "fix %d of the line lies in the future", i+1)
		case now.Sub(f.When) > 36*time.Hour:
			return fault.New(fault.BadInput, "Check the phone's clock.", "fix %d of the line is more than a day and a half old", i+1)
		case i > 0 && f.When.Before(a.Fixes[i-1].When):
			return fault.New(fault.BadInput, again, "fix %d of the line is older than the one before it", i+1)
		}
	}
	for _, p := range a.People {
		if d.party.Guest(p) == nil {
			return fault.New(fault.NotFound, "Choose people of today.", "somebody of the line is not on record")
		}
	}
	return nil
}

// local puts fixes on the lake's plane.
func (d *Desk) local(fixes []LineFix) []safety.Fix {
	out := make([]safety.Fix, 0, len(fixes))
	for _, f := range fixes {
		out = append(out, safety.Fix{When: f.When, At: d.lake.Frame.Local(f.At), Accuracy: f.Accuracy})
	}
	return out
}

// TakeBackLine retracts a line with all of its parts.
func (d *Desk) TakeBackLine(ctx context.Context, a Act, line uuid.UUID) error {
	return d.record(ctx, a, func(a Act) error {
		var items []item
		for _, t := range d.lake.Tracks {
			switch {
			case t.ID == line:
				items = append(items, item{a.ID, a.At, &journal.Retract{Target: t.ID, Why: "undo"}})
			case t.Of == line:
				items = append(items, item{journal.ContentID(d.lake.ID, journal.KindRetract, a.ID.String()+t.ID.String()), a.At, &journal.Retract{Target: t.ID, Why: "undo"}})
			}
		}
		if len(items) == 0 {
			return fault.New(fault.NotFound, "Look at the list again.", "that line is not on record")
		}
		return d.write(ctx, items...)
	})
}

// Lines gives the lines of today, by time.
func (d *Desk) Lines(ctx context.Context) (out []Line, err error) {
	err = d.with(ctx, func() error {
		now := d.Clock()
		today := journal.DayOf(now, d.lake.Zone)
		for _, l := range d.recorded(today, now) {
			if l.Day == today {
				out = append(out, l)
			}
		}
		return nil
	})
	return out, err
}

// recorded gives the lines on record from a day up to now, by their first part, their parts put together.
func (d *Desk) recorded(since journal.Day, now time.Time) []Line {
	var out []*Line
	parts := map[uuid.UUID][]safety.Fix{}
	byID := map[uuid.UUID]*Line{}
	for _, t := range d.lake.Tracks {
		if t.Day < since || t.When.After(now.Add(5*time.Minute)) {
			continue
		}
		id := t.ID
		if t.Of != uuid.Nil {
			id = t.Of
		}
		l := byID[id]
		if l == nil { // also when the first part has not arrived
			l = &Line{ID: id, Day: t.Day, Purpose: t.Purpose, Travel: t.Travel, From: time.UnixMilli(t.From), To: time.UnixMilli(t.To), People: t.People}
			if l.Travel == "" {
				l.Travel = d.travelOn(t.Day)
			}
			byID[id], out = l, append(out, l)
		}
		l.From, l.To = earliest(l.From, time.UnixMilli(t.From)), latest(l.To, time.UnixMilli(t.To))
		parts[id] = append(parts[id], d.fixesOf(t)...)
	}
	lines := make([]Line, 0, len(out))
	for _, l := range out {
		l.measure(parts[l.ID])
		lines = append(lines, *l)
	}
	return lines
}

// measure works out what the fixes of a line tell.
func (l *Line) measure(fixes []safety.Fix) {
	l.Fixes = len(fixes)
	l.Timed = len(fixes) > 0 && !fixes[0].When.IsZero()
	if !l.Timed { // a line that somebody drew or another instrument recorded
		l.Length, l.Moving = lineLength(fixes), l.To.Sub(l.From)
	} else {
		slices.SortStableFunc(fixes, func(a, b safety.Fix) int { return a.When.Compare(b.When) })
		l.Length, l.Moving = safety.Moving(fixes)
		fixes, l.Bad = safety.Usable(fixes)
	}
	for _, f := range fixes {
		l.Points = append(l.Points, f.At)
	}
}

// travelOn gives how the party travels on a day; nobody told: on foot.
func (d *Desk) travelOn(day journal.Day) string {
	if t := d.party.Trip(day); t != nil {
		return t.Travel
	}
	return "foot"
}

func earliest(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func latest(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// lineFeature is a line as it is kept: a GeoJSON feature, longitude first; see docs/journal-format.md.
type lineFeature struct {
	Type     string `json:"type"`
	Geometry struct {
		Type        string      `json:"type"`
		Coordinates [][]float64 `json:"coordinates"`
	} `json:"geometry"`
	Properties struct {
		Times    []int64 `json:"time_ms,omitempty"`
		Accuracy []int64 `json:"accuracy_mm,omitempty"`
	} `json:"properties"`
}

// lineJSON writes fixes as they are kept.
func lineJSON(fixes []LineFix) ([]byte, error) {
	f := lineFeature{Type: "Feature"}
	f.Geometry.Type = "LineString"
	if len(fixes) == 1 {
		f.Geometry.Type = "MultiPoint" // a line has two points
	}
	for _, x := range fixes {
		accuracy := int64(-1)
		if x.Accuracy > 0 {
			accuracy = max(1, x.Accuracy.Millimetres())
		}
		f.Geometry.Coordinates = append(f.Geometry.Coordinates, []float64{math.Round(x.At.Lon*1e7) / 1e7, math.Round(x.At.Lat*1e7) / 1e7})
		f.Properties.Times = append(f.Properties.Times, x.When.UnixMilli())
		f.Properties.Accuracy = append(f.Properties.Accuracy, accuracy)
	}
	b, err := json.Marshal(f)
	if err != nil {
		return nil, fmt.Errorf("desk: writing a line: %w", err)
	}
	return b, nil
}

// fixesOf reads the points of a line; none when they cannot be read or have not arrived, which teaches nothing.
func (d *Desk) fixesOf(t lake.Track) []safety.Fix {
	if l, known := d.lines[t.Blob]; known {
		return l
	}
	data, err := d.store.Blob(context.Background(), t.Blob)
	if err != nil {
		return nil // it may still arrive
	}
	var f lineFeature
	var out []safety.Fix
	if json.Unmarshal(data, &f) == nil {
		p := f.Properties
		timed := len(p.Times) == len(f.Geometry.Coordinates) && len(p.Accuracy) == len(p.Times)
		for i, c := range f.Geometry.Coordinates {
			if len(c) < 2 || !(geo.Position{Lat: c[1], Lon: c[0]}).Valid() {
				continue
			}
			x := safety.Fix{At: d.lake.Frame.Local(geo.Position{Lat: c[1], Lon: c[0]})}
			if timed {
				x.When, x.Accuracy = time.UnixMilli(p.Times[i]), quantity.FromMillimetres(p.Accuracy[i])
			}
			out = append(out, x)
		}
	}
	d.lines[t.Blob] = out
	return out
}

// thinLine leaves out the points of a line that tell less than detail, in metres.
func thinLine(points []geo.Local, detail float64) []geo.Local {
	line := make(orb.LineString, len(points))
	for i, p := range points {
		line[i] = orb.Point{p.E, p.N}
	}
	line = simplify.DouglasPeucker(detail).LineString(line)
	out := make([]geo.Local, len(line))
	for i, p := range line {
		out[i] = geo.Local{E: p[0], N: p[1]}
	}
	return out
}
