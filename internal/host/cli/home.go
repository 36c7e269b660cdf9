package cli

import (
	"context"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
)

type homeCmd struct {
	From     string `help:"Where you stand: latitude, longitude." placeholder:"POS"`
	Card     bool   `help:"Print the rescue card too: the position in every format a rescuer may ask for."`
	Hole     int64  `help:"Lead to a hole of today instead of home." placeholder:"NUMBER"`
	Paces    string `help:"Tell it in the paces of somebody of today." placeholder:"NAME"`
	Whiteout bool   `help:"Print the whiteout sheet: stay or go, and what the record knows of each condition."`
}

func (c homeCmd) Run(ctx context.Context, g *Globals) error {
	return g.question(ctx, func(s *session, sh shaper) error {
		from, err := s.place(ctx, c.From)
		if err != nil {
			return err
		}
		if from != nil {
			s.Stand(*from)
		}
		if c.Whiteout {
			return g.whiteout(ctx, s, sh)
		}
		if c.Card {
			if err := g.card(ctx, s, sh); err != nil || g.JSON {
				return err
			}
		}
		t, err := s.TurnBack(ctx)
		if err != nil {
			return err
		}
		guide, lost := c.guide(ctx, s)
		if lost != nil && (c.Hole != 0 || c.Paces != "" || fault.CodeOf(lost) != fault.Missing) {
			return lost
		}
		if g.JSON {
			out := sh.turnBack(t)
			if lost == nil {
				out.Guide = sh.guide(guide)
			}
			return g.printJSON(out)
		}
		w := sh.voice.TurnBack(t)
		g.turnBack(w)
		g.say("Way home: %s", w.Way)
		if lost == nil {
			g.guide(sh.voice.Guide(guide))
		}
		g.say("Deadlines, by latest start:")
		g.lines("  ", w.All...)
		g.say("%s", say.AdviceOnly)
		return nil
	})
}

// guide asks which way now: home, or to the hole that was named.
func (c homeCmd) guide(ctx context.Context, s *session) (desk.Guide, error) {
	hole := uuid.Nil
	if c.Hole != 0 {
		err := s.Read(ctx, func(d desk.View) error {
			for _, h := range d.Lake.HolesOn(d.Today) {
				if h.Number == c.Hole && h.Placed {
					hole = h.ID
				}
			}
			return nil
		})
		if err == nil && hole == uuid.Nil {
			err = fault.New(fault.NotFound, "icehand export csv lists the holes.", "no hole %d of today has a place", c.Hole)
		}
		if err != nil {
			return desk.Guide{}, err
		}
	}
	walker, err := c.walker(ctx, s)
	if err != nil {
		return desk.Guide{}, err
	}
	return s.Guide(ctx, hole, nil, walker)
}

// walker finds the person in whose paces to tell.
func (c homeCmd) walker(ctx context.Context, s *session) (who uuid.UUID, err error) {
	if c.Paces == "" {
		return uuid.Nil, nil
	}
	err = s.Read(ctx, func(d desk.View) error {
		who, err = d.GuestNamed(c.Paces)
		return err
	})
	return who, err
}

// guide prints which way now.
func (g *Globals) guide(t say.GuideText) {
	g.say("%s, step by step:", t.Title)
	g.lines("  ", t.Side, t.Walk+" "+t.Far, t.Then)
	g.lines("  ", t.Bars...)
	g.lines("  ", t.Left, t.Speed, t.Fix, t.Basis, say.CompassWarning)
}

// card prints the rescue card.
func (g *Globals) card(ctx context.Context, s *session, sh shaper) error {
	r, err := s.Rescue(ctx)
	if err != nil {
		return err
	}
	if g.JSON {
		return g.printJSON(sh.rescue(r))
	}
	t := sh.voice.Rescue(r)
	g.say("%s", say.AdviceOnly)
	g.say("Grid (USNG, MGRS)   %s", t.Grid)
	g.say("Degrees, minutes    %s", t.Minutes)
	g.say("Decimal degrees     %s", t.Decimal)
	g.say("UTM                 %s", t.UTM)
	g.lines("", t.Sure, t.Landing+".", t.Home, t.Approach, t.People+".")
	g.say("Read aloud:")
	for _, part := range append(t.GridAloud, t.MinutesAloud...) {
		g.say("  %-11s %s", part.Text, part.Words)
	}
	g.say("")
	return nil
}

// conditionJSON is one condition for going in a whiteout.
type conditionJSON struct {
	Code string `json:"code"`
	Is   string `json:"is"`
	Text string `json:"text"`
}

// whiteoutJSON is the whiteout sheet.
type whiteoutJSON struct {
	Choice     string          `json:"choice"`
	Threats    []string        `json:"threats"`
	Conditions []conditionJSON `json:"conditions"`
	Barred     bool            `json:"barred"`
}

// whiteout prints the whiteout sheet.
func (g *Globals) whiteout(ctx context.Context, s *session, sh shaper) error {
	a, err := s.Whiteout(ctx)
	if err != nil {
		return err
	}
	t := sh.voice.Whiteout(a)
	if g.JSON {
		out := whiteoutJSON{Choice: t.Choice, Threats: append([]string{}, t.Threats...), Barred: a.Barred}
		for i, c := range t.Conditions {
			out.Conditions = append(out.Conditions, conditionJSON{a.Conditions[i].Code, c.Mark, c.Text})
		}
		return g.printJSON(out)
	}
	g.say("%s", t.Choice)
	g.lines("  ", t.Threats...)
	g.say("Go only if all of this holds:")
	for _, c := range t.Conditions {
		g.say("  %-10s %s", c.Mark, c.Text)
	}
	g.lines("", t.Barred, say.AdviceOnly)
	return nil
}

// guideJSON is which way now.
type guideJSON struct {
	Line     bool     `json:"line_known"`
	OffM     float64  `json:"off_line_m"`
	Side     string   `json:"side,omitempty"` // right or left of the line
	On       bool     `json:"in_corridor"`
	True     float64  `json:"walk_true_deg"`
	Magnetic *float64 `json:"walk_magnetic_deg,omitempty"`
	WalkM    float64  `json:"walk_m"`
	Paces    float64  `json:"walk_paces"`
	Then     *float64 `json:"then_true_deg,omitempty"`
	LeftM    float64  `json:"left_m"`
	SpeedKMH float64  `json:"speed_kmh"`
	Measured bool     `json:"speed_measured"`
	PaceM    float64  `json:"pace_m"`
	Text     []string `json:"text"`
}

func (s shaper) guide(g desk.Guide) *guideJSON {
	t, x := s.voice.Guide(g), g.Steer
	out := &guideJSON{Line: len(g.Line) > 0, OffM: round(x.Off.Metres(), 0), On: x.On, True: round(x.Bearing.Degrees(), 0), WalkM: round(x.Leg.Metres(), 0),
		Paces: round(x.Leg.Metres()/g.Pace.Metres(), 0), LeftM: round(x.Left.Metres(), 0), SpeedKMH: round(g.Back.Way.Pace.KilometresPerHour(), 1),
		Measured: g.Back.Way.Measured, PaceM: round(g.Pace.Metres(), 2), Text: []string{}}
	if x.Off >= 1 {
		out.Side = map[bool]string{true: "right", false: "left"}[x.Right]
	}
	if g.Declined {
		m := round(g.Field.Magnetic(x.Bearing).Degrees(), 0)
		out.Magnetic = &m
	}
	if x.Turns {
		then := round(x.Then.Degrees(), 0)
		out.Then = &then
	}
	for _, line := range []string{t.Side, t.Walk, t.Far, t.Then, t.Left, t.Speed, t.Fix, t.Basis} {
		if line != "" {
			out.Text = append(out.Text, line)
		}
	}
	return out
}
