package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/engine/safety"
	"icehand/internal/physics/sun"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
)

// Overdue is how a trip stands with those who watch for it, and the plan that they hold.
type Overdue struct {
	Now      time.Time
	Day      journal.Day // of the trip: yesterday's, while somebody of it is out
	Answer   safety.OverdueAnswer
	Plan     *party.Plan // nil: none was left ashore
	Sheet    Sheet
	Sealed   bool // exact points lie sealed
	Heard    time.Time
	People   []uuid.UUID // of the trip, whoever is not surely ashore first
	Out      int
	Log      []Happened
	Incident time.Time // its clock runs since; zero: none
	Chilled  bool
}

// Happened is what was recorded between party and shore.
type Happened struct {
	When       time.Time
	What, Step string
	Note       string
}

// watchedDay gives the day of the trip that is watched: the first of the last days with somebody of it out, else today.
func (d *Desk) watchedDay(now time.Time) journal.Day {
	today := journal.DayOf(now, d.lake.Zone)
	for back := 2; back > 0; back-- {
		day := journal.DayOf(now.AddDate(0, 0, -back), d.lake.Zone)
		for _, w := range d.party.OnIce(now) {
			if g := d.party.Guest(w.Person); g != nil && w.OnIce && g.Day == day {
				return day
			}
		}
	}
	return today
}

// Overdue answers: how does the trip stand with those who watch for it, and what is the next step?
func (d *Desk) Overdue(ctx context.Context) (o Overdue, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		o, err = d.overdue(ctx, d.Clock())
		return err
	})
	return o, err
}

func (d *Desk) overdue(ctx context.Context, now time.Time) (o Overdue, err error) {
	o = Overdue{Now: now, Day: d.watchedDay(now)}
	in := safety.OverdueInput{Now: now, Steps: safety.UsualSteps(), Taken: map[string]time.Time{}}
	if o.Plan = d.party.Plan(o.Day); o.Plan != nil {
		if o.Sheet, err = d.sheet(ctx, o.Plan); err != nil {
			return o, err
		}
		o.Sealed = o.Plan.Sealed != nil
		in.CheckIn = time.Duration(o.Plan.CheckIn) * time.Minute
		if len(o.Plan.Steps) > 0 {
			in.Steps = nil
		}
		for _, s := range o.Plan.Steps {
			in.Steps = append(in.Steps, safety.OverdueStep{Do: s.Do, After: time.Duration(s.After) * time.Minute, Dark: time.Duration(s.Dark) * time.Minute})
		}
	}
	if t := d.party.Trip(o.Day); t != nil {
		in.Agreed = t.Agreed
	}
	noon := o.Day.Midnight(d.lake.Zone).Add(12 * time.Hour)
	y, m, dd := noon.Date()
	if e := sun.EventsOn(y, m, dd, d.lake.Frame.Origin(), d.lake.Zone).CivilDusk; e.Passage == sun.Happens {
		in.Dusk = e.Time
	}
	d.whoIsOut(&o, &in)
	d.happened(ctx, &o, &in)
	hours, _, err := d.forecast(ctx)
	if err != nil {
		return o, err
	}
	var c Cold
	c.weather(d.weather(now, hours))
	air := safety.ColdWatch(safety.ColdInput{Air: c.Air, AirTold: c.AirTold, Wind: c.Wind, WindTold: c.WindTold})
	in.Chill, in.Chilled = air.Still.Index, air.Known
	o.Chilled = in.Chilled
	o.Heard = in.Heard
	o.Answer = safety.Watching(in)
	return o, nil
}

// whoIsOut counts people. Whoever of the trip was never reported counts as out once anybody was.
func (d *Desk) whoIsOut(o *Overdue, in *safety.OverdueInput) {
	where := map[uuid.UUID]party.Whereabouts{}
	for _, w := range d.party.OnIce(o.Now) {
		where[w.Person] = w
	}
	var home, out []uuid.UUID
	for _, g := range d.party.Guests {
		if g.Day != o.Day {
			continue
		}
		w, told := where[g.ID]
		in.Was = in.Was || told
		if told && !w.OnIce {
			home = append(home, g.ID)
			continue
		}
		if told && (in.Heard.IsZero() || w.Since.Before(in.Heard)) {
			in.Heard = w.Since
		}
		out = append(out, g.ID)
	}
	o.People, o.Out = append(out, home...), len(out)
	if in.Out = len(out); !in.Was {
		in.Out = 0
	}
}

// happened gathers what was recorded of the trip since its day began.
func (d *Desk) happened(ctx context.Context, o *Overdue, in *safety.OverdueInput) {
	begin := o.Day.Midnight(d.lake.Zone)
	for _, s := range d.party.Shore {
		if s.When.Before(begin) || s.When.After(o.Now) {
			continue
		}
		h := Happened{When: s.When, What: s.What, Step: s.Step}
		if s.Note != nil {
			h.Note = d.text(ctx, *s.Note)
		}
		o.Log = append(o.Log, h)
		switch s.What {
		case "check_in":
			in.Heard = later(in.Heard, s.When)
		case "returning":
			in.Returning, in.Heard = s.When, later(in.Heard, s.When)
		case "step":
			in.Taken[s.Step] = s.When
		case "incident":
			if o.Incident.IsZero() {
				o.Incident = s.When
			}
		case "incident_over":
			o.Incident = time.Time{}
		}
	}
}

// PlanText is a trip plan as a person writes it.
type PlanText struct {
	Day     journal.Day
	Sheet   Sheet
	Sealed  string // exact points, one a line: words, then latitude and longitude; "": those of the plan before, if any
	Out     string // hour at which the party means to be on the ice
	CheckIn int64  // minutes between check-ins; 0: none agreed
	Steps   []journal.PlanStep
}

// mostCalls bounds a sheet to what is read in a hurry; ours.
const mostCalls = 12

// LeaveAshore records the trip plan of a day, also of one to come. A watcher must be named: a program only reminds.
func (d *Desk) LeaveAshore(ctx context.Context, a Act, x PlanText) error {
	return d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		now := d.Clock()
		if a.At = now; journal.DayOf(now, d.lake.Zone) != x.Day {
			a.At = x.Day.Midnight(d.lake.Zone)
		}
		if a.ID == uuid.Nil {
			a.ID = journal.NewID()
		}
		switch {
		case !x.Day.Valid():
			return fault.New(fault.BadInput, "Write it as 2026-01-15.", "%q is not a date", string(x.Day))
		case strings.TrimSpace(x.Sheet.Watcher) == "":
			return fault.New(fault.BadInput, "Name whoever ashore watches for you: a person acts, the program only reminds.", "the trip plan names no watcher")
		case len(x.Sheet.Calls) > mostCalls:
			return fault.New(fault.BadInput, "Keep those who are called first.", "%d people to call, at most %d are read in a hurry", len(x.Sheet.Calls), mostCalls)
		}
		for _, c := range x.Sheet.Calls {
			if c.Who == "" || c.Number == "" {
				return fault.New(fault.BadInput, "Write a name and a number on each line: Ruth Vossler, 555 0142.", "somebody to call has no name or no number: %q", c.Who+c.Number)
			}
		}
		b := &journal.Plan{CheckIn: x.CheckIn, Steps: x.Steps}
		if x.Out != "" {
			out, err := ClockOn(x.Day, x.Out, d.lake.Zone)
			if err != nil {
				return err
			}
			b.Out = out.UnixMilli()
		}
		if _, err := Points(x.Sealed); err != nil {
			return err
		}
		raw, err := json.Marshal(x.Sheet)
		if err != nil {
			return fmt.Errorf("desk: keeping a trip plan: %w", err)
		}
		b.Sheet = journal.Text{Blob: journal.Sum(raw)} // stands in while the plan is checked: nothing is kept of a plan that is refused
		if err := b.Check(); err != nil {
			return fault.Wrap(err, fault.BadInput, "Correct the minutes: each step after the one before, the shorter ones no longer than the others. Nothing was written.", "%s", plain(err))
		}
		return d.keepPlan(ctx, a, b, string(raw), x)
	})
}

// keepPlan keeps the words of a plan that was checked, then the plan.
func (d *Desk) keepPlan(ctx context.Context, a Act, b *journal.Plan, sheet string, x PlanText) error {
	words := []string{sheet}
	if s := strings.TrimSpace(x.Sealed); s != "" {
		words = append(words, s)
	}
	kept, err := d.store.PutTexts(ctx, words)
	if err != nil {
		return fault.Wrap(err, fault.NotSaved, "Try again.", "the trip plan was not saved")
	}
	b.Sheet = kept[0]
	if len(kept) > 1 {
		b.Sealed = &kept[1]
	} else if old := d.party.Plan(x.Day); old != nil {
		b.Sealed = old.Sealed
	}
	return d.write(ctx, item{a.ID, a.At, b})
}

// Point is a sealed point.
type Point struct {
	Name string
	At   geo.Position
}

// Points reads exact points, one a line: words, then latitude and longitude.
func Points(text string) (out []Point, err error) {
	for n, line := range strings.Split(strings.TrimSpace(text), "\n") {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		name, at, ok := strings.Cut(line, ":")
		if !ok {
			name, at = fmt.Sprintf("point %d", n+1), line
		}
		p, err := geo.ParsePosition(strings.TrimSpace(at))
		if err != nil {
			return nil, fault.Wrap(err, fault.BadInput, "Write A: 47.91234, -45.01234 on each line.", "line %d of the exact points is no position: %q", n+1, line)
		}
		out = append(out, Point{strings.TrimSpace(name), p})
	}
	return out, nil
}

// Tell records what happened between party and shore.
func (d *Desk) Tell(ctx context.Context, a Act, what, step, note string) error {
	return d.record(ctx, a, func(a Act) error {
		b := &journal.Shore{What: what, Step: step}
		if err := b.Check(); err != nil {
			return fault.Wrap(err, fault.BadInput, "Choose one of those shown.", "%s", plain(err))
		}
		if what == "opened" {
			return fault.New(fault.BadInput, "Open them on the page of the trip plan.", "the sealed points are not opened so")
		}
		return d.tell(ctx, a, b, note)
	})
}

func (d *Desk) tell(ctx context.Context, a Act, b *journal.Shore, note string) error {
	if note = strings.TrimSpace(note); note != "" {
		t, err := d.store.PutText(ctx, note)
		if err != nil {
			return fault.Wrap(err, fault.NotSaved, "Try again.", "the note was not saved")
		}
		b.Note = &t
	}
	return d.write(ctx, item{a.ID, a.At, b})
}

// OpenSealed gives the exact points of the trip, while its party is overdue or an incident runs, and records that they were opened, by whom. The
// seal is a rule that leaves a trace: it is no lock against whoever holds the machine.
func (d *Desk) OpenSealed(ctx context.Context, a Act, by string) (points []Point, err error) {
	err = d.record(ctx, a, func(a Act) error {
		o, err := d.overdue(ctx, d.Clock())
		switch {
		case err != nil:
			return err
		case !o.Sealed:
			return fault.New(fault.Missing, "See the newest hole on the rescue card.", "no exact points were sealed for this trip")
		case !o.Answer.Overdue && o.Incident.IsZero():
			return fault.New(fault.Conflict, "Start the incident clock if there is trouble.", "the exact points stay sealed until the party is overdue")
		case strings.TrimSpace(by) == "":
			return fault.New(fault.BadInput, "Write your name.", "whoever opens them is not named")
		}
		text, err := d.store.Text(ctx, *o.Plan.Sealed)
		if err != nil {
			return fault.Wrap(err, fault.NotFound, "See the newest hole on the rescue card.", "the exact points were erased, or cannot be read")
		}
		if points, err = Points(text); err != nil {
			return err
		}
		return d.tell(ctx, a, &journal.Shore{What: "opened"}, by)
	})
	if err != nil {
		return nil, err
	}
	return points, nil
}
