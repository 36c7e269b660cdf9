package desk

import (
	"context"
	"encoding/json"
	"strconv"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/geo/wmm"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// Guide is how to walk home, or to a hole, from where the phone stands.
type Guide struct {
	At       time.Time
	Here     advise.Place
	FromHole *lake.Hole // the newest hole of the day, when its place stands in for a fix
	To       *lake.Hole // nil: home
	Line     []geo.Local
	Steer    safety.Steer
	Straight quantity.Length
	Bearing  quantity.Bearing // straight, true
	Pace     quantity.Length  // of whoever walks
	Paced    bool             // Pace was measured
	Walker   uuid.UUID        // whose pace it is; zero: whoever carries the phone
	Field    wmm.Field        // for compass bearings; see Declined
	Declined bool             // false: the date lies outside the magnetic model
	Back     safety.TurnBack
	Hazards  []*lake.Hazard // across the straight way to a hole
	Guessed  bool           // the landing is a guess
}

// Guide answers which way now: home, or to a hole along the straight line from where the walk began; from nil: from here. The paces are those
// of a walker, or of whoever carries the phone when nobody is named.
func (d *Desk) Guide(ctx context.Context, hole uuid.UUID, from *geo.Local, walker uuid.UUID) (g Guide, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		hours, issued, err := d.forecast(ctx)
		if err != nil {
			return err
		}
		now := d.Clock()
		today := journal.DayOf(now, d.lake.Zone)
		if walker != uuid.Nil && d.party.Guest(walker) == nil {
			return fault.New(fault.NotFound, "Choose somebody of today.", "that person is not on record")
		}
		g = Guide{At: now, Here: d.here(now), Walker: walker}
		at := g.Here.At
		if !g.Here.Known {
			if g.FromHole = d.newestHole(today); g.FromHole == nil {
				return fault.New(fault.Missing, "Turn the phone's location on, or walk by compass and the line's marks.", "no fix and no hole of today: where you stand is not known")
			}
			at = g.FromHole.At
		}
		g.Back = d.turnBack(now, advise.Place{At: at, Known: true}, hours, issued)
		landing, told := d.landing(today)
		target := d.lake.Frame.Local(landing)
		if g.Guessed = !told; hole != uuid.Nil {
			if g.To = d.lake.Hole(hole); g.To == nil || !g.To.Placed {
				return fault.New(fault.NotFound, "Choose a hole that has a place.", "that hole is not on record, or has no place")
			}
			target = g.To.At
			g.Line = []geo.Local{at, target}
			if from != nil {
				g.Line[0] = *from
			}
			g.Hazards = Across(d.lake.Hazards, at, target)
		} else {
			g.Line = g.Back.Way.Line
		}
		if len(g.Line) > 0 {
			morning, _ := d.morningLine(today, target, now)
			g.Steer = safety.SteerAlong(g.steerLine(hole, morning), at)
		}
		g.Straight, g.Bearing = at.Distance(target), at.BearingTo(target)
		g.Pace, g.Paced = d.pace(walker, now)
		if f, err := wmm.At(d.lake.Frame.Position(at), 0, now); err == nil {
			g.Field, g.Declined = f, true
		}
		return nil
	})
	return g, err
}

// steerLine gives the line that guidance follows: this morning's own, homeward, where the way home is that line, so that metres off it can be told; a way
// home begins where the phone stands, and nobody is ever off it.
func (g *Guide) steerLine(hole uuid.UUID, morning []geo.Local) []geo.Local {
	if hole != uuid.Nil || !g.Back.Way.OnMorningLine() || len(morning) < 2 {
		return g.Line
	}
	out := make([]geo.Local, len(morning))
	for i, p := range morning {
		out[len(morning)-1-i] = p
	}
	return out
}

// pace gives the length of a person's pace that was measured, of whoever carries the phone when nobody is named, or the usual one.
func (d *Desk) pace(person uuid.UUID, now time.Time) (quantity.Length, bool) {
	if person != uuid.Nil {
		if p := d.paceOf(person); p >= leastPace && p <= mostPace {
			return p, true
		}
		return lake.Pace, false
	}
	if p := d.options(now).Pace; p >= leastPace && p <= mostPace {
		return p, true
	}
	return lake.Pace, false
}

// Paces that somebody can have: a child's in deep snow to a tall adult's on bare ice; ours.
const (
	leastPace = 0.3 * quantity.Metre
	mostPace  = 1.1 * quantity.Metre
)

// SetPace learns the length of a pace from paces counted between two holes: that of whoever carries the phone, in which every answer in paces is told
// from then on, or that of a person.
func (d *Desk) SetPace(ctx context.Context, a Act, person, from, to uuid.UUID, paces int) error {
	return d.record(ctx, a, func(a Act) error {
		x, y := d.lake.Hole(from), d.lake.Hole(to)
		if x == nil || y == nil || !x.Placed || !y.Placed {
			return fault.New(fault.NotFound, "Choose two holes that have places.", "a hole of that walk has no place")
		}
		pace := quantity.Length(x.At.Distance(y.At).Metres() / float64(max(1, paces)))
		if paces < leastCounted || pace < leastPace || pace > mostPace {
			return fault.New(fault.BadInput, "Count again between two holes at least 40 paces apart.", "%d paces over %s cannot be", paces, quantity.SI.DistanceText(x.At.Distance(y.At)))
		}
		if person == uuid.Nil {
			return d.write(ctx, item{a.ID, a.At, &journal.Setting{Key: paceSetting, Value: json.RawMessage(strconv.FormatInt(pace.Millimetres(), 10))}})
		}
		if d.party.Guest(person) == nil {
			return fault.New(fault.NotFound, "Choose somebody of today.", "that person is not on record")
		}
		return d.amend(ctx, a, person, map[string]any{"pace_mm": pace.Millimetres()}, "paces counted between two holes")
	})
}

// paceOf gives the pace of a person that was measured, today or on the newest day on which somebody of that name was out; 0: none.
func (d *Desk) paceOf(person uuid.UUID) quantity.Length {
	g := d.party.Guest(person)
	if g == nil {
		return 0
	}
	if g.Pace > 0 {
		return g.Pace
	}
	name, pace := d.text(context.Background(), g.Name), quantity.Length(0)
	day := journal.Day("")
	for _, o := range d.party.Guests {
		if o.Pace > 0 && o.Day > day && o.Day <= g.Day && name != "" && d.text(context.Background(), o.Name) == name {
			pace, day = o.Pace, o.Day
		}
	}
	return pace
}

// paceSetting is the length of the guide's pace, in mm.
const paceSetting = "pace_mm"

// leastCounted is how many paces a count must have, so that the error of two fixes stays under a tenth or so; ours.
const leastCounted = 40

// Across gives the hazards in force that a straight way runs into.
func Across(hazards []*lake.Hazard, from, to geo.Local) (out []*lake.Hazard) {
	const step = 10.0 // m
	n := max(1, int(from.Distance(to).Metres()/step)+1)
	for _, h := range hazards {
		for i := 0; h.InForce() && i <= n; i++ {
			t := float64(i) / float64(n)
			if h.Distance(geo.Local{E: from.E + t*(to.E-from.E), N: from.N + t*(to.N-from.N)}) < step {
				out = append(out, h)
				break
			}
		}
	}
	return out
}

// Whiteout gives the choice between staying and going when nothing can be seen.
func (d *Desk) Whiteout(ctx context.Context) (a safety.WhiteoutAnswer, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		hours, issued, err := d.forecast(ctx)
		if err != nil {
			return err
		}
		now := d.Clock()
		here := d.here(now)
		in := safety.WhiteoutInput{Now: now, Back: d.turnBack(now, here, hours, issued), Fix: here.Known, Accuracy: here.Accuracy}
		for _, c := range d.party.Counts {
			if !c.When.After(now) && journal.DayOf(c.When, d.lake.Zone) == journal.DayOf(now, d.lake.Zone) {
				in.Counted, in.Missing = c.When, len(c.Missing)
			}
		}
		a = safety.Whiteout(in)
		return nil
	})
	return a, err
}
