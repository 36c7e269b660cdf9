package desk

import (
	"context"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
)

// TurnBack answers: when must we start home?
func (d *Desk) TurnBack(ctx context.Context) (t safety.TurnBack, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		hours, issued, err := d.forecast(ctx)
		if err != nil {
			return err
		}
		now := d.Clock()
		t = d.turnBack(now, d.here(now), hours, issued)
		return nil
	})
	return t, err
}

// SetTurnBack overrides the turn-back time with a new one and one of five reasons. The time computed at that moment is
// kept with it, so that a fact learned later ends the override.
func (d *Desk) SetTurnBack(ctx context.Context, a Act, until time.Time, reason string) error {
	return d.record(ctx, a, func(a Act) error {
		hours, issued, err := d.forecast(ctx)
		if err != nil {
			return err
		}
		now := d.Clock()
		computed := d.turnBack(now, d.here(now), hours, issued).Computed
		return d.write(ctx, item{a.ID, a.At, &journal.TurnBack{Until: until.UnixMilli(), Reason: reason, Computed: computed.UnixMilli()}})
	})
}

// landing gives where the party got onto the ice on a day: as the trip tells it, else the day's first hole.
func (d *Desk) landing(day journal.Day) (geo.Position, bool) {
	if t := d.party.Trip(day); t != nil && t.Landing != nil {
		return *t.Landing, true
	}
	for _, h := range d.lake.HolesOn(day) {
		if h.Placed {
			return d.lake.Frame.Position(h.At), false
		}
	}
	for i := len(d.party.Trips) - 1; i >= 0; i-- { // the landing used last
		if l := d.party.Trips[i].Landing; l != nil {
			return *l, true
		}
	}
	return d.lake.Frame.Origin(), false
}

func (d *Desk) turnBack(now time.Time, here advise.Place, hours []safety.ForecastHour, issued time.Time) safety.TurnBack {
	today := journal.DayOf(now, d.lake.Zone)
	landing, told := d.landing(today)
	in := safety.TurnBackInput{Now: now, Zone: d.lake.Zone, Day: string(today), Landing: landing, Frame: d.lake.Frame,
		Travel: "foot", Forecast: hours, Issued: issued}
	if !told {
		in.LandingUnknown = true
	}
	home := d.lake.Frame.Local(landing)
	in.Farthest = home
	for _, h := range d.lake.HolesOn(today) {
		if h.Placed && h.At.Distance(home) > in.Farthest.Distance(home) {
			in.Farthest = h.At
		}
	}
	if here.Known {
		at := here.At
		in.Here = &at
	}
	if t := d.party.Trip(today); t != nil {
		in.Travel, in.Agreed = t.Travel, t.Agreed
	}
	if holes := d.lake.HolesOn(today); len(holes) > 0 {
		in.Out = holes[0].Drilled
	}
	in.Way = d.morningLine(today, home)
	for _, h := range d.lake.Hazards {
		if h.InForce() && (h.What == "ridge" || h.What == "crack") {
			in.Crossings = append(in.Crossings, h)
		}
	}
	in.Hazards = d.lake.Hazards
	if n := len(d.party.TurnBack); n > 0 {
		if o := d.party.TurnBack[n-1]; journal.DayOf(o.When, d.lake.Zone) == today {
			in.Override = &safety.Override{Set: o.When, Until: o.Until, Reason: o.Reason, Computed: o.Computed}
		}
	}
	return safety.TurnBackTime(in)
}

// morningLine gives the line travelled and read this morning: the landing, then the holes whose ice was read before
// the first look of the day.
func (d *Desk) morningLine(day journal.Day, home geo.Local) []geo.Local {
	line := []geo.Local{home}
	first := time.Time{}
	for _, l := range d.lake.Looks {
		if h := d.lake.Hole(l.Hole); h != nil && h.Day == day {
			first = l.When
			break
		}
	}
	for _, r := range d.lake.Ice {
		if r.Day == day && r.Placed && (first.IsZero() || !r.When.After(first)) {
			line = append(line, r.At)
		}
	}
	if len(line) == 1 {
		return nil
	}
	return line
}
