package desk

import (
	"context"
	"fmt"
	"math"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/geo/wmm"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// Rescue is what a rescuer may ask for: where, in every format, how sure and how old that is, from where to come, and
// how many people.
type Rescue struct {
	At          time.Time
	Known       bool // a fresh fix
	Position    geo.Position
	Accuracy    quantity.Length // 0 when the fix tells none
	Fixed       time.Time       // of the fix, or of the hole that stands in for it
	FromHole    string          // "" for a fix; else the hole whose place stands in
	AtLanding   bool            // neither fix nor hole of today: the landing's place stands in
	Grid        geo.GridSquare  // US National Grid and MGRS, 10 m
	FromLanding quantity.Length
	Bearing     quantity.Bearing // from the landing to the party, true
	Magnetic    quantity.Bearing // the same by a compass; see Declined
	Declined    bool             // false: the date lies outside the magnetic model, so no compass bearing is given
	Home        quantity.Bearing // from the party to the landing, true
	HomeMag     quantity.Bearing
	Landing     geo.Position
	LandingGrid geo.GridSquare
	Guessed     bool // the landing is a guess
	OnIce       int
	Way         safety.Way
	Read        WayRead
}

// WayRead is what was read today on the way home, which is how rescuers come.
type WayRead struct {
	Holes       int
	Least, Most quantity.Length
	Last        time.Time
	Crossings   []*lake.Hazard // read today, by time
}

// readOn gathers what was read on a line today.
func (d *Desk) readOn(line []geo.Local, today journal.Day, now time.Time) (w WayRead) {
	if len(line) < 2 {
		return w
	}
	on := func(p geo.Local) bool { return math.Abs(geo.FootOn(line, p).Off.Metres()) <= lineReach.Metres() }
	for _, r := range d.lake.Ice {
		if r.Day != today || !r.Placed || r.When.After(now) || !on(r.At) {
			continue
		}
		if w.Holes++; w.Holes == 1 || r.Total < w.Least {
			w.Least = r.Total
		}
		w.Most = max(w.Most, r.Total)
		w.Last = latest(w.Last, r.When)
	}
	for _, h := range d.lake.Hazards {
		if h.Report == "crossing" && h.InForce() && len(h.Points) > 0 && journal.DayOf(h.When, d.lake.Zone) == today && !h.When.After(now) && on(h.Points[0]) {
			w.Crossings = append(w.Crossings, h)
		}
	}
	return w
}

// Rescue gives the rescue card's facts. Without a fresh fix the newest hole of the day stands in, and is named.
func (d *Desk) Rescue(ctx context.Context) (r Rescue, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		now := d.Clock()
		here := d.here(now)
		r = Rescue{At: now, Known: here.Known, Accuracy: here.Accuracy, Fixed: here.Fixed}
		today := journal.DayOf(now, d.lake.Zone)
		landing, told := d.landing(today)
		r.Landing, r.Guessed = landing, !told
		at := here.At
		switch h := d.newestHole(today); {
		case here.Known:
		case h != nil:
			at, r.Accuracy, r.Fixed, r.FromHole = h.At, h.Accuracy, h.Drilled, fmt.Sprint(h.Number)
		case told:
			at, r.Accuracy, r.Fixed, r.AtLanding = d.lake.Frame.Local(landing), 0, now, true
		default:
			return fault.New(fault.Missing, "Turn the phone's location on, or say where you are from the landing.", "no fix and no hole of today: the position is not known")
		}
		if r.Position = d.lake.Frame.Position(at); r.AtLanding {
			r.Position = landing
		}
		if r.Grid, err = r.Position.GridSquare(8); err != nil {
			return err
		}
		if r.LandingGrid, err = landing.GridSquare(8); err != nil {
			return err
		}
		hours, issued, err := d.forecast(ctx)
		if err != nil {
			return err
		}
		r.Way = d.turnBack(now, here, hours, issued).Way
		r.Read = d.readOn(r.Way.Line, today, now)
		r.FromLanding, r.Bearing = geo.Between(landing, r.Position)
		_, r.Home = geo.Between(r.Position, landing)
		if field, err := wmm.At(r.Position, 0, now); err == nil {
			r.Declined, r.Magnetic, r.HomeMag = true, field.Magnetic(r.Bearing), field.Magnetic(r.Home)
		}
		for _, w := range d.party.OnIce(now) {
			r.OnIce += one(w.OnIce)
		}
		return nil
	})
	return r, err
}

// newestHole gives the newest hole of a day that has a place, or nil.
func (d *Desk) newestHole(day journal.Day) *lake.Hole {
	holes := d.lake.HolesOn(day)
	for i := len(holes) - 1; i >= 0; i-- {
		if holes[i].Placed {
			return holes[i]
		}
	}
	return nil
}
