package cli

import (
	"context"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
)

func (a *asker) askNext(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time  *time.Time `json:"time"`
		Scout *askPoint  `json:"scout"`
		Rods  []struct {
			Rod  int      `json:"rod"`
			Hole *askHole `json:"hole"`
		} `json:"rods"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	var q desk.Question
	if m.Scout != nil {
		l, err := a.local(ctx, *m.Scout)
		if err != nil {
			return nil, err
		}
		q.From = &advise.Place{At: l, Known: true, Fixed: at}
		a.desk.Stand(*q.From)
	}
	if m.Rods != nil {
		q.Rods = []advise.Rod{}
		for _, r := range m.Rods {
			id, err := a.hole(ctx, r.Hole, at)
			if err != nil {
				return nil, err
			}
			q.Rods = append(q.Rods, advise.Rod{Number: r.Rod, Hole: id})
		}
		if err := a.fillRods(ctx, q.Rods, at); err != nil {
			return nil, err
		}
	}
	step, err := a.desk.NextFor(ctx, q)
	if err != nil {
		return nil, err
	}
	home, err := a.desk.TurnBack(ctx)
	if err != nil {
		return nil, err
	}
	sh, err := newShaper(ctx, a.desk, a.g)
	if err == nil && a.g.Data != a.g.env.Home { // a record that is kept holds what was advised
		t := sh.voice.Step(step)
		err = a.desk.JournalStep(ctx, step, desk.Shown{Sentence: t.Sentence, Reason: t.Reason})
	}
	return sh.step(step, home), err
}

// fillRods puts the stated rods where their holes are, since their sits began.
func (a *asker) fillRods(ctx context.Context, rods []advise.Rod, at time.Time) error {
	return a.desk.Read(ctx, func(v desk.View) error {
		for i := range rods {
			rods[i].Since = at
			if h := v.Lake.Hole(rods[i].Hole); h != nil && h.Placed {
				rods[i].At = h.At
			}
			for _, s := range v.Party.RodsAt(at) {
				if s.Rod == rods[i].Number && s.Hole == rods[i].Hole {
					rods[i].Since, rods[i].Sit = s.From, s.ID
				}
			}
		}
		return nil
	})
}

func (a *asker) askOdds(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time *time.Time `json:"time"`
		At   *askPoint  `json:"at"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	if _, err := a.at(m.Time); err != nil {
		return nil, err
	}
	if m.At == nil {
		return nil, fault.New(fault.BadInput, `Give "at".`, "odds of no place")
	}
	l, err := a.local(ctx, *m.At)
	if err != nil {
		return nil, err
	}
	o, why, err := a.desk.OddsAt(ctx, l)
	if err != nil {
		return nil, err
	}
	sh, err := newShaper(ctx, a.desk, a.g)
	if err != nil {
		return nil, err
	}
	out := map[string]any{"odds": round(o.P, 4), "odds_of": odds(o), "reasons": sh.why(why)}
	if z, err := a.desk.DepthAt(ctx, l); err == nil && z.Known {
		out["depth_m"], out["depth_spread_m"] = round(z.Mean.Metres(), 2), round(z.Spread.Metres(), 2)
	}
	return out, nil
}

func (a *asker) askEvening(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time *time.Time `json:"time"`
		Date string     `json:"date"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	sh, err := newShaper(ctx, a.desk, a.g)
	if err != nil {
		return nil, err
	}
	day, ok := dayOf(m.Date, at, sh.zone)
	if !ok {
		return nil, fault.New(fault.BadInput, "Write 2026-01-15, today or tomorrow.", "%q is not a date", m.Date)
	}
	p, err := a.desk.Evening(ctx, day)
	if err != nil {
		return nil, err
	}
	return sh.evening(p), nil
}

func (a *asker) askTurnBack(ctx context.Context, line []byte) (any, error) {
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
	if m.At != nil {
		l, err := a.local(ctx, *m.At)
		if err != nil {
			return nil, err
		}
		a.desk.Stand(advise.Place{At: l, Known: true, Fixed: at})
	}
	t, err := a.desk.TurnBack(ctx)
	if err != nil {
		return nil, err
	}
	sh, err := newShaper(ctx, a.desk, a.g)
	return sh.turnBack(t), err
}

func (a *asker) askIce(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time *time.Time `json:"time"`
		At   *askPoint  `json:"at"`
		Load string     `json:"load"`
		Kg   float64    `json:"kg"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	if _, err := a.at(m.Time); err != nil {
		return nil, err
	}
	if m.Load == "" {
		m.Load = "on_foot"
	}
	if !safety.KnownClass(m.Load) || m.Kg < 0 {
		return nil, fault.New(fault.BadInput, "Use on_foot, group, snow_machine, side_by_side, car or truck, and a mass above zero.", "load %q of %g kg", m.Load, m.Kg)
	}
	var where *geo.Local
	if m.At != nil {
		l, err := a.local(ctx, *m.At)
		if err != nil {
			return nil, err
		}
		where = &l
	}
	ans, err := a.desk.Ice(ctx, where, safety.Load{Class: m.Load, Mass: quantity.Mass(m.Kg)})
	if err != nil {
		return nil, err
	}
	sh, err := newShaper(ctx, a.desk, a.g)
	return sh.ice(ans), err
}
