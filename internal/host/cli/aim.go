package cli

import (
	"context"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
)

type aimCmd struct {
	Aim string `arg:"" optional:"" help:"numbers, size, action, first_fish or learning; without it the aim in force is printed." placeholder:"AIM"`
	For string `help:"With first_fish: the guest whose first fish it is, by name." placeholder:"NAME"`
}

// record writes the aim.
func (c aimCmd) record(ctx context.Context, d *desk.Desk) error {
	if say.AimWord(c.Aim) == "" {
		return noAim(c.Aim)
	}
	if c.For != "" && c.Aim != "first_fish" {
		return fault.New(fault.BadInput, "Use icehand aim first_fish --for NAME.", "only a first fish is somebody's")
	}
	who := uuid.Nil
	if c.For != "" {
		err := d.Read(ctx, func(v desk.View) (err error) {
			who, err = v.GuestNamed(c.For)
			return err
		})
		if err != nil {
			return err
		}
	}
	return d.SetAim(ctx, desk.Act{}, c.Aim, who)
}

func (c aimCmd) Run(ctx context.Context, g *Globals) error {
	if c.Aim == "" {
		return c.show(ctx, g)
	}
	if err := g.record(ctx, "/local/aim", c); err != nil {
		return err
	}
	return g.saved()
}

// show prints the aim in force.
func (c aimCmd) show(ctx context.Context, g *Globals) error {
	if c.For != "" {
		return fault.New(fault.BadInput, "Use icehand aim first_fish --for NAME.", "a guest is named and no aim")
	}
	return g.question(ctx, func(s *session, _ shaper) error {
		return s.Read(ctx, func(v desk.View) error {
			aim, name := "", ""
			if t := v.Party.Trip(v.Today); t != nil {
				aim, name = t.Aim, v.PersonName(t.AimFor)
			}
			if g.JSON {
				return g.printJSON(map[string]string{"aim": aim, "for": name})
			}
			switch {
			case aim == "":
				g.say("The aim of the day was not told; numbers are weighed.")
			case name != "":
				g.say("%s, for %s", say.AimWord(aim), name)
			default:
				g.say("%s", say.AimWord(aim))
			}
			return nil
		})
	})
}

// doNotThere rules a place out for the day.
func (a *asker) doNotThere(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time *time.Time `json:"time"`
		At   *askPoint  `json:"at"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	if m.At == nil {
		return nil, fault.New(fault.BadInput, `Give "at".`, "no place was told")
	}
	p, err := a.local(ctx, *m.At)
	if err == nil {
		err = a.desk.NotThere(ctx, desk.Act{At: at}, p)
	}
	if err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}
