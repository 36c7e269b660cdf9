package cli

import (
	"context"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

type tripCmd struct {
	Date    string `help:"Day of the trip: a date, today or tomorrow." default:"today" placeholder:"DATE"`
	Landing string `help:"Where the party gets onto the ice: latitude, longitude." placeholder:"POS"`
	Rods    int64  `help:"Rods of the party." default:"4"`
	Travel  string `help:"How the party travels: foot, machine or vehicle." enum:"foot,machine,vehicle" default:"foot"`
	Aim     string `help:"Aim of the day: action, numbers, size, first_fish or learning." placeholder:"AIM"`
	Target  string `help:"Species." placeholder:"NAME"`
	Ashore  string `help:"Hour agreed to be ashore: 16:30." placeholder:"TIME"`
	Drill   string `help:"Ice that the batteries can drill, all holes together: 30 m." placeholder:"LENGTH"`
}

// body turns what was typed into the journal's entry and its instant.
func (c tripCmd) body(now time.Time, zone *time.Location) (*journal.Trip, time.Time, error) {
	day, ok := dayOf(c.Date, now, zone)
	if !ok {
		return nil, now, fault.New(fault.BadInput, "Write 2026-01-15, today or tomorrow.", "%q is not a date", c.Date)
	}
	return desk.TripText{Day: day, Landing: c.Landing, Rods: c.Rods, Travel: c.Travel, Aim: c.Aim, Target: c.Target, Ashore: c.Ashore, Drill: c.Drill}.Trip(now, zone)
}

// record writes the trip.
func (c tripCmd) record(ctx context.Context, d *desk.Desk) error {
	info, err := d.Info(ctx)
	if err != nil {
		return err
	}
	body, at, err := c.body(d.Clock(), info.Zone)
	if err != nil {
		return err
	}
	return d.Plan(ctx, desk.Act{At: at}, body)
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
