package cli

import (
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

type planCmd struct {
	Sheet  string `help:"Leave a trip plan ashore: a JSON file, see docs/commands.md." placeholder:"FILE"`
	Date   string `help:"Day of that plan: a date, today or tomorrow." default:"today" placeholder:"DATE"`
	Tell   string `help:"Record what happened: check_in, returning, call_party, look_for, call_rescue, incident, incident_over." placeholder:"WHAT"`
	Note   string `help:"Who did it, what came of it." placeholder:"WORDS"`
	OpenBy string `name:"open-by" help:"Open the sealed points in this name; only while the party is overdue or an incident runs." placeholder:"NAME"`
}

func (c planCmd) Run(ctx context.Context, g *Globals) error {
	switch {
	case c.Sheet != "":
		return c.leave(ctx, g)
	case c.Tell != "":
		if err := g.record(ctx, "/local/tell", told(c.Tell, c.Note)); err != nil {
			return err
		}
		return g.saved()
	case c.OpenBy != "":
		return c.open(ctx, g)
	}
	return g.question(ctx, func(s *session, sh shaper) error {
		o, err := s.Overdue(ctx)
		if err != nil {
			return err
		}
		t := sh.voice.Overdue(o)
		if g.JSON {
			return g.printJSON(overdueJSON(o, t, sh))
		}
		g.say("%s", t.State)
		g.lines("  ", t.By, t.Out, t.CheckIn)
		if t.Next != "" {
			g.say("NOW: %s", t.Next)
		}
		g.say("%s", say.SuspectTrouble)
		for _, x := range t.Steps {
			g.say("  %s  %s (%s)", x.Clock, x.What, x.Note)
		}
		if o.Plan == nil {
			g.say("No trip plan is left ashore.")
		} else {
			g.say("Watching: %s", o.Sheet.Watcher)
		}
		for _, x := range o.Sheet.Calls {
			g.say("  %s  %s", x.Who, x.Number)
		}
		g.lines("", t.Log...)
		g.say("%s", t.Basis)
		return nil
	})
}

// open opens the sealed points and prints them.
func (c planCmd) open(ctx context.Context, g *Globals) error {
	s, err := g.write(ctx)
	if err != nil {
		return err
	}
	defer s.close()
	points, err := s.OpenSealed(ctx, desk.Act{}, c.OpenBy)
	if err != nil {
		return err
	}
	for _, p := range points {
		grid, err := p.At.GridSquare(8)
		if err != nil {
			return err
		}
		g.say("%s  %s  %s  %s", p.Name, grid, p.At.DMMText(), p.At.DecimalText())
	}
	return nil
}

type overdueStepJSON struct {
	Do    string `json:"do"`
	At    string `json:"at"`
	Short bool   `json:"short"`
	Due   bool   `json:"due"`
	Taken string `json:"taken,omitempty"`
}

type watchingJSON struct {
	Day      string            `json:"day"`
	State    string            `json:"state"`
	Text     string            `json:"text"`
	By       string            `json:"by,omitempty"`
	Agreed   bool              `json:"agreed"`
	Overdue  bool              `json:"overdue"`
	Out      int               `json:"not_ashore"`
	CheckIn  string            `json:"check_in,omitempty"`
	Missed   bool              `json:"check_in_missed"`
	Steps    []overdueStepJSON `json:"steps"`
	Next     string            `json:"next,omitempty"`
	Watcher  string            `json:"watcher,omitempty"`
	Incident string            `json:"incident_since,omitempty"`
}

func overdueJSON(o desk.Overdue, t say.OverdueText, sh shaper) watchingJSON {
	at := func(x time.Time) string {
		if x.IsZero() {
			return ""
		}
		return sh.time(x)
	}
	a := o.Answer
	out := watchingJSON{Day: string(o.Day), State: a.State, Text: t.State, By: at(a.By), Agreed: a.Agreed, Overdue: a.Overdue, Out: o.Out, CheckIn: at(a.CheckIn), Missed: a.Missed, Steps: []overdueStepJSON{}, Watcher: o.Sheet.Watcher,
		Incident: at(o.Incident)}
	for i, s := range a.Steps {
		out.Steps = append(out.Steps, overdueStepJSON{s.Do, at(s.At), s.Short, s.Due, at(s.Taken)})
		if i == a.Next && s.Due {
			out.Next = s.Do
		}
	}
	return out
}

// planFile is a trip plan in a file.
type planFile struct {
	desk.Sheet
	Out     string             `json:"out"`
	CheckIn int64              `json:"check_in_min"`
	Sealed  string             `json:"sealed"`
	Steps   []journal.PlanStep `json:"steps"`
}

// text gives the plan of a day.
func (f planFile) text(day journal.Day) desk.PlanText {
	return desk.PlanText{Day: day, Sheet: f.Sheet, Sealed: f.Sealed, Out: f.Out, CheckIn: f.CheckIn, Steps: f.Steps}
}

// told makes of a word what is told: a step of the plan by its own name.
func told(what, note string) tellCmd {
	if slices.Contains(journal.PlanSteps(), what) {
		return tellCmd{What: "step", Step: what, Note: note}
	}
	return tellCmd{What: what, Note: note}
}

// leave reads a trip plan from a file and records it.
func (c planCmd) leave(ctx context.Context, g *Globals) error {
	name := filepath.Base(c.Sheet)
	raw, err := os.ReadFile(c.Sheet)
	if errors.Is(err, fs.ErrNotExist) {
		return fault.New(fault.NotFound, "Check the name.", "there is no file %s", name)
	}
	if err != nil {
		return fault.Wrap(err, fault.BadInput, "Name a file that can be read.", "%s cannot be read", name)
	}
	var f planFile
	dec := json.NewDecoder(strings.NewReader(string(raw)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&f); err != nil {
		return fault.Wrap(err, fault.BadInput, "docs/commands.md gives the fields.", "%s is no trip plan: %s", name, err)
	}
	var day journal.Day
	err = g.question(ctx, func(s *session, _ shaper) error {
		ok := false
		if day, ok = dayOf(c.Date, s.now, s.zone); !ok {
			return fault.New(fault.BadInput, "Write 2026-01-15, today or tomorrow.", "%q is not a date", c.Date)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if err := g.record(ctx, "/local/plan", leaveCmd{f.text(day)}); err != nil {
		return err
	}
	return g.saved()
}

type leaveCmd struct{ Plan desk.PlanText }

func (c leaveCmd) record(ctx context.Context, d *desk.Desk) error {
	return d.LeaveAshore(ctx, desk.Act{}, c.Plan)
}

type tellCmd struct{ What, Step, Note string }

func (c tellCmd) record(ctx context.Context, d *desk.Desk) error {
	return d.Tell(ctx, desk.Act{}, c.What, c.Step, c.Note)
}
