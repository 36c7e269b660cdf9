package desk

import (
	"context"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
)

// Cold is the cold and shelter watch, with what it rests on.
type Cold struct {
	At       time.Time
	Air      quantity.Celsius
	Wind     quantity.Speed // at 10 m
	AirTold  bool
	WindTold bool
	Seen     time.Time // when it was observed; zero: from the forecast, or not known
	Station  string    // that measured it; "": seen on the ice, or nothing was observed
	Mixed    bool      // one of air and wind was observed, the other comes from the forecast
	Ride     quantity.Speed
	Cold     safety.ColdAnswer
	Watch    safety.WatchAnswer
	Warm     map[uuid.UUID]time.Time // when each was last warm, or came onto the ice
	Since    time.Time               // a heater burns since
	Alarm    time.Time               // its alarm was tried
}

// ColdWatch answers whose turn in the warm it is, and how hard the air bites; with the wind of a ride where somebody rides.
func (d *Desk) ColdWatch(ctx context.Context, ride quantity.Speed) (c Cold, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		hours, _, err := d.forecast(ctx)
		if err != nil {
			return err
		}
		now := d.Clock()
		c = Cold{At: now, Ride: ride, Warm: map[uuid.UUID]time.Time{}}
		c.weather(d.weather(now, hours))
		c.Cold = safety.ColdWatch(safety.ColdInput{Air: c.Air, AirTold: c.AirTold, Wind: c.Wind, WindTold: c.WindTold, Ride: ride})
		c.Watch = safety.Watch(d.watch(&c, now))
		return nil
	})
	return c, err
}

// weather takes what was seen on the ice before what a station measured, and that before what was forecast. Air and wind
// of one look go together; the other of them is the forecast's.
func (c *Cold) weather(w Now) {
	if h := w.Hour; h != nil {
		c.Air, c.AirTold, c.Wind, c.WindTold = h.Air, h.AirTold, h.Wind, h.WindTold
	}
	o := w.Observed
	if o == nil || !o.AirTold && !o.WindTold {
		o = w.Measured
	}
	if o != nil {
		c.Station = o.Station
		if o.AirTold {
			c.Air, c.AirTold, c.Seen = o.Air, true, o.When
		}
		if o.WindTold {
			c.Wind, c.WindTold, c.Seen = o.Wind, true, o.When
		}
		c.Mixed = c.AirTold && c.WindTold && o.AirTold != o.WindTold
	}
}

// watch gathers what was seen of people, heater and vents today.
func (d *Desk) watch(c *Cold, now time.Time) safety.WatchInput {
	today := journal.DayOf(now, d.lake.Zone)
	in := safety.WatchInput{Now: now, Cold: c.Cold}
	wet := map[uuid.UUID]time.Time{}
	for _, x := range d.party.OnIce(now) {
		c.Warm[x.Person] = x.Since
		if x.OnIce && (in.Out.IsZero() || x.Since.Before(in.Out)) {
			in.Out = x.Since
		}
	}
	for _, w := range d.party.Watched {
		if w.Day != today || w.When.After(now) {
			continue
		}
		switch w.What {
		case "warm":
			c.Warm[w.Person] = later(c.Warm[w.Person], w.When)
		case "wet":
			wet[w.Person] = w.When
		case "dry":
			delete(wet, w.Person)
		case "faces":
			in.Faces = w.When
		case "heater_on":
			if in.Heater.IsZero() {
				in.Heater = w.When
			}
		case "heater_off":
			in.Heater = time.Time{}
		case "vents":
			in.Vents = w.When
		case "co_alarm":
			in.COAlarm = w.When
		}
	}
	c.Since, c.Alarm = in.Heater, in.COAlarm
	for _, g := range d.outToday(today, now) {
		in.People = append(in.People, safety.Watched{Person: g.ID, Age: g.Age, Warm: c.Warm[g.ID], Wet: wet[g.ID]})
	}
	return in
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// outToday gives everybody of a day who is not surely ashore: who was never reported counts as out.
func (d *Desk) outToday(day journal.Day, now time.Time) (out []*party.Guest) {
	ashore := map[uuid.UUID]bool{}
	for _, x := range d.party.OnIce(now) {
		ashore[x.Person] = !x.OnIce
	}
	for _, g := range d.party.Guests {
		if g.Day == day && !ashore[g.ID] {
			out = append(out, g)
		}
	}
	return out
}

// Watched records something of the cold and shelter watch.
func (d *Desk) Watched(ctx context.Context, a Act, what string, person uuid.UUID) error {
	return d.record(ctx, a, func(a Act) error {
		if person != uuid.Nil && d.party.Guest(person) == nil {
			return fault.New(fault.NotFound, "Choose somebody of today.", "that person is not on record")
		}
		return d.write(ctx, item{a.ID, a.At, &journal.Watch{What: what, Person: person}})
	})
}
