package cli

import (
	"cmp"
	"context"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
)

type tripCmd struct {
	Date     string `help:"Day of the trip: a date, today or tomorrow." default:"today" placeholder:"DATE"`
	Landing  string `help:"Where the party gets onto the ice: latitude, longitude." placeholder:"POS"`
	Rods     int64  `help:"Rods of the party; 4 when nothing is on record." placeholder:"N"`
	Travel   string `help:"How the party travels: foot, machine or vehicle; foot when nothing is on record." enum:",foot,machine,vehicle" default:"" placeholder:"HOW"`
	Aim      string `help:"Aim of the day: action, numbers, size, first_fish or learning." placeholder:"AIM"`
	Target   string `help:"Species." placeholder:"NAME"`
	Ashore   string `help:"Hour agreed to be ashore: 16:30." placeholder:"TIME"`
	Drill    string `help:"Ice that the batteries can drill, all holes together: 30 m." placeholder:"LENGTH"`
	Legal    string `name:"legal-close" help:"Hour from which fishing is not lawful, also on later days: 17:30, or none." placeholder:"TIME"`
	Fuel     string `help:"Hour until which battery and fuel last: 15:30, or none." placeholder:"TIME"`
	Crossing string `help:"Hour by which the last ridge or crack must lie behind: 15:00, or none." placeholder:"TIME"`
	Cold     string `help:"Hour until which whoever is coldest can be out: 14:00, or none." placeholder:"TIME"`
	PackUp   string `name:"pack-up" help:"Minutes that packing up takes, also on later days: 10 to 120, or none for the usual 20." placeholder:"MIN"`
	Margin   string `help:"Minutes kept in hand before the turn-back time, also on later days: 30 to 180, or none for 30." placeholder:"MIN"`
}

// hours gives the hours that were typed, by key; "none" takes one back.
func (c tripCmd) hours() map[string]string {
	told := map[string]string{}
	for which, typed := range map[string]string{desk.LegalClose: c.Legal, desk.FuelUntil: c.Fuel, desk.CrossingBy: c.Crossing, desk.ColdUntil: c.Cold, desk.PackUp: c.PackUp, desk.Margin: c.Margin} {
		switch typed {
		case "":
		case "none":
			told[which] = ""
		default:
			told[which] = typed
		}
	}
	return told
}

// body turns what was typed into the journal's entry and its instant. What was not typed stays as it is on record for the day.
func (c tripCmd) body(now time.Time, zone *time.Location, known func(journal.Day) *journal.Trip) (*journal.Trip, time.Time, error) {
	day, ok := dayOf(c.Date, now, zone)
	if !ok {
		return nil, now, fault.New(fault.BadInput, "Write 2026-01-15, today or tomorrow.", "%q is not a date", c.Date)
	}
	old := known(day)
	if old == nil {
		old = &journal.Trip{Rods: 4, Travel: "foot"}
	}
	if c.Rods < 0 {
		return nil, now, fault.New(fault.BadInput, "Count from 1.", "%d rods", c.Rods)
	}
	body, at, err := desk.TripText{Day: day, Landing: c.Landing, Rods: cmp.Or(c.Rods, old.Rods), Travel: cmp.Or(c.Travel, old.Travel), Aim: cmp.Or(c.Aim, old.Aim),
		Target: cmp.Or(c.Target, old.Target), Ashore: c.Ashore, Drill: c.Drill}.Trip(now, zone)
	if err != nil {
		return nil, at, err
	}
	if body.Landing == nil {
		body.Landing = old.Landing
	}
	if body.Metres == nil {
		body.Metres = old.Metres
	}
	body.Agreed = cmp.Or(body.Agreed, old.Agreed)
	if body.Aim == old.Aim {
		body.AimFor = old.AimFor
	}
	return body, at, nil
}

// record writes the trip.
func (c tripCmd) record(ctx context.Context, d *desk.Desk) error {
	info, err := d.Info(ctx)
	if err != nil {
		return err
	}
	var known party.View
	err = d.Read(ctx, func(v desk.View) error {
		known = *v.Party
		return nil
	})
	if err != nil {
		return err
	}
	body, at, err := c.body(d.Clock(), info.Zone, func(day journal.Day) *journal.Trip {
		if t := known.Trip(day); t != nil {
			b := desk.TripBody(*t)
			return &b
		}
		return nil
	})
	if err != nil {
		return err
	}
	return d.PlanTrip(ctx, desk.Act{At: at}, body, c.hours())
}

func (c tripCmd) Run(ctx context.Context, g *Globals) error {
	if err := g.record(ctx, "/local/trip", c); err != nil {
		return err
	}
	return g.saved()
}

// noAim is the fault of an aim that is none.
func noAim(aim string) error {
	return fault.New(fault.BadInput, "Use "+strings.Join(say.Aims(), ", ")+".", "%q is no aim of a day", aim)
}
