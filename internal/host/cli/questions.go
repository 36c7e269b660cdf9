package cli

import (
	"context"
	"fmt"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/physics/sun"
	"icehand/internal/trade/journal"
)

// question opens the record for reading and gives f its session and shapes.
func (g *Globals) question(ctx context.Context, f func(*session, shaper) error) error {
	s, err := g.read(ctx)
	if err != nil {
		return err
	}
	defer s.close()
	sh, err := newShaper(ctx, s.Desk, g)
	if err != nil {
		return err
	}
	return f(s, sh)
}

type nextCmd struct {
	From   string `help:"Where you stand: latitude, longitude; else where the record last puts you." placeholder:"POS"`
	Aim    string `help:"Ask for another aim than the day's: numbers, size, action, first_fish or learning. Nothing is recorded." placeholder:"AIM"`
	Budget int    `help:"Places to weigh: 600 for a first answer, 2400 for one thought over." default:"600" placeholder:"N"`
	Why    bool   `help:"Print alternatives, rods and deadlines at length too."`
	Brief  bool   `help:"Leave the ten answers out."`
}

const mostPlaces = 10000 // weighed in seconds

// wrong tells which flag asks for what is not there.
func (c nextCmd) wrong() error {
	if c.Aim != "" && say.AimWord(c.Aim) == "" {
		return noAim(c.Aim)
	}
	if c.Budget < 1 || c.Budget > mostPlaces {
		return fault.New(fault.BadInput, fmt.Sprintf("Give --budget a count of places from 1 to %d.", mostPlaces), "%d places cannot be weighed", c.Budget)
	}
	return nil
}

func (c nextCmd) Run(ctx context.Context, g *Globals) error {
	if err := c.wrong(); err != nil {
		return err
	}
	return g.question(ctx, func(s *session, sh shaper) error {
		from, err := s.place(ctx, c.From)
		if err != nil {
			return err
		}
		guess := from == nil
		if guess {
			from = s.lastPlace(ctx)
		} else {
			s.Stand(*from)
		}
		step, err := s.NextFor(ctx, desk.Question{From: from, Guess: guess, Aim: c.Aim, Budget: c.Budget})
		if err != nil {
			return err
		}
		home, err := s.TurnBack(ctx)
		if err != nil {
			return err
		}
		if g.JSON {
			return g.printJSON(sh.step(step, home))
		}
		var answers []say.Answer
		if !c.Brief {
			answers = sh.voice.Answers(step)
		}
		c.print(g, sh.voice.Step(step), answers, sh.voice.TurnBack(home))
		return nil
	})
}

func (c nextCmd) print(g *Globals, w say.StepText, answers []say.Answer, t say.TurnBackText) {
	g.turnBack(t)
	g.say("")
	g.say("%s", w.Sentence)
	g.say("%s", w.Reason)
	for _, f := range w.Facts {
		g.say("  %s", f)
	}
	g.lines("  ", w.Spread, w.Ice, w.TossUp, w.Plain)
	for _, a := range w.Others {
		g.say("or: %s: %s, %s", a.Sentence, a.Odds, a.Cost)
		if c.Why {
			g.lines("      ", a.Reason, a.Ice)
		}
	}
	for _, r := range w.Rods {
		g.say("%s", strings.TrimSuffix(r.Sentence+". "+r.Rate, " "))
		g.lines("  ", r.Reason)
	}
	g.second(w.Second, c.Why)
	for _, a := range answers {
		g.say("")
		g.say("%2d  %s", a.Number, a.Question)
		g.lines("    ", a.Lines...)
	}
	if c.Brief && len(w.Changes) > 0 {
		g.say("What would change it:")
		g.lines("  ", w.Changes...)
	}
	g.say("")
	if c.Why {
		g.say("Deadlines, by latest start:")
		g.lines("  ", t.All...)
	}
	g.say("%s", say.CheckRules)
}

// lines prints the texts that are there, each on its line.
func (g *Globals) lines(indent string, texts ...string) {
	for _, x := range texts {
		if x != "" {
			g.say("%s%s", indent, x)
		}
	}
}

func (g *Globals) turnBack(t say.TurnBackText) {
	g.say("%s  %s, %s", t.Clock, t.Label, t.Left)
	g.lines("  ", t.Reason, t.Override)
	g.lines("  ", t.Unknown...)
}

type eveningCmd struct {
	Date string `help:"Day to plan: a date, today or tomorrow." default:"tomorrow" placeholder:"DATE"`
}

func (c eveningCmd) Run(ctx context.Context, g *Globals) error {
	return g.question(ctx, func(s *session, sh shaper) error {
		day, ok := dayOf(c.Date, s.now, s.zone)
		if !ok {
			return fault.New(fault.BadInput, "Write 2026-01-15, today or tomorrow.", "%q is not a date", c.Date)
		}
		plan, err := s.Evening(ctx, day)
		if err != nil {
			return err
		}
		quality, err := s.Quality(ctx)
		if err != nil {
			return err
		}
		if g.JSON {
			out := sh.evening(plan)
			out.Depths = depths(quality)
			return g.printJSON(out)
		}
		printEvening(g, sh.voice.Evening(plan))
		g.say("%s", sh.voice.Depths(quality))
		return nil
	})
}

func printEvening(g *Globals, t say.EveningText) {
	g.say("%s (%s)", t.Title, t.Stage)
	for _, x := range t.Times {
		g.say("  %s  %s", x.Clock, x.What)
	}
	for _, s := range t.Starts {
		g.say("")
		g.say("%s  %s, %s", s.Letter, s.Depth, s.Where)
		g.lines("   ", s.Travel, s.Odds, s.First, s.Rate, s.GiveUp)
		g.lines("   ", s.Why...)
		g.lines("   ! ", s.Barred...)
	}
	g.say("")
	g.lines("", t.Pattern, t.Budget)
	for _, x := range t.Second {
		g.second(x, true)
	}
	g.lines("", t.Dusk...)
	if len(t.Changes) > 0 {
		g.say("What would change the plan:")
		g.lines("  ", t.Changes...)
	}
	g.say("")
	g.printIce(t.Ice)
	g.turnBack(t.TurnBack)
	g.lines("", t.Evidence, t.Footer)
}

type lightCmd struct {
	Date string `help:"Day: a date, today or tomorrow." default:"today" placeholder:"DATE"`
	Pos  string `name:"at-place" help:"Where: latitude, longitude; else the lake." placeholder:"POS"`
	TZ   string `name:"tz" help:"Time zone, when there is no lake on record." placeholder:"ZONE"`
	fishLight
}

func (c lightCmd) Run(ctx context.Context, g *Globals) error {
	pos, zone, now, err := c.place(ctx, g)
	if err != nil {
		return err
	}
	day, ok := dayOf(c.Date, now, zone)
	if !ok {
		return fault.New(fault.BadInput, "Write 2026-01-15, today or tomorrow.", "%q is not a date", c.Date)
	}
	noon := day.Midnight(zone).Add(12 * time.Hour)
	if _, err := c.question(day, g.system()); err != nil {
		return err
	}
	y, m, d := noon.Date()
	events := sun.EventsOn(y, m, d, pos, zone)
	rows, length := say.Voice{Units: g.system(), Zone: zone, Now: now}.Sun(events, noon)
	sky := sun.At(now, pos)
	var below []string
	var shape *daylightJSON
	switch {
	case c.Pos == "":
		below, shape, err = c.atFish(ctx, g, day)
	case c.Save:
		err = fault.New(fault.BadInput, "Leave --at-place out.", "--save keeps the clarity of the lake on record, not of another place")
	default:
		below, shape, err = c.elsewhere(g, day, pos, zone)
	}
	if err != nil {
		return err
	}
	if g.JSON {
		return c.printJSON(g, day, zone, now, sky, events, rows, shape)
	}
	g.say("%s", day)
	for _, r := range rows {
		g.say("  %s  %s", r.Clock, r.Says)
	}
	up := ""
	if day == journal.DayOf(now, zone) {
		up = fmt.Sprintf("; now at %.0f", sky.Elevation.Degrees())
	}
	g.say("  %s%s", length, up)
	g.lines("", below...)
	g.say("%s", say.ComputedSun)
	return nil
}

func (c lightCmd) printJSON(g *Globals, day journal.Day, zone *time.Location, now time.Time, sky sun.Sky, events sun.Day, rows []say.SunLine, shape *daylightJSON) error {
	out := map[string]any{"day": string(day), "day_length_min": round(events.Length().Minutes(), 0), "transit": events.Transit.In(zone).Format(time.RFC3339), "noon_elevation_deg": round(float64(events.NoonElevation.Degrees()), 2),
		"now": map[string]any{"time": now.In(zone).Format(time.RFC3339), "elevation_deg": round(sky.Elevation.Degrees(), 2), "azimuth_true_deg": round(sky.Azimuth.Degrees(), 1)}}
	for _, r := range rows {
		out[r.Key] = r.Event.Passage.String()
		if r.Event.Passage == sun.Happens {
			out[r.Key] = r.Event.Time.In(zone).Format(time.RFC3339)
		}
	}
	if shape != nil {
		out["at_fish"] = shape
	}
	return g.printJSON(out)
}

// place gives where and in which zone: as typed, else the lake on record.
func (c lightCmd) place(ctx context.Context, g *Globals) (pos geo.Position, zone *time.Location, now time.Time, err error) {
	if c.Pos == "" {
		err = g.question(ctx, func(s *session, _ shaper) error {
			info, err := s.Info(ctx)
			if err == nil && !info.Known {
				err = fault.New(fault.Missing, "Give --at-place LAT,LON --tz ZONE.", "no lake is recorded yet")
			}
			if err == nil {
				pos, zone, now = info.Frame.Origin(), info.Zone, s.now
			}
			return err
		})
		return pos, zone, now, err
	}
	if pos, err = geo.ParsePosition(c.Pos); err != nil {
		return pos, nil, now, err
	}
	if zone, err = time.LoadLocation(c.TZ); err != nil || c.TZ == "" {
		return pos, nil, now, fault.New(fault.BadInput, "Give --tz with a name of the IANA list.", "the time zone %q is not known", c.TZ)
	}
	now = g.env.Clock()
	if g.At != "" {
		now, err = parseTime(g.At, now, zone)
	}
	return pos, zone, now, err
}
