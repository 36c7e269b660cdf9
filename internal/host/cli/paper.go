package cli

import (
	"context"
	"io"
	"strconv"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/paper"
	"icehand/internal/trade/journal"
)

// paperCmd is the paper ashore: what the pages under Paper show and take.
type paperCmd struct {
	Logs     paperLogs     `cmd:"" default:"withargs" help:"Agency logs of a day, filled by field map: what is missing, sums against the tally, when due."`
	Form     paperForm     `cmd:"" help:"Enter an agency's form from its field map, or drop one."`
	Made     paperMade     `cmd:"" help:"Tell that a form was handed in."`
	Cleaning paperCleaning `cmd:"" help:"Cleaning sheet: fish in bags against the tally, person by person."`
	Bags     paperBags     `cmd:"" help:"Tell how many fish lie in whose bags: Jonas=20 Petra=11."`
	Party    paperParty    `cmd:"" help:"Party sheet: roster, licences not seen, kilograms per vehicle against the load check, hole budget."`
	Load     paperLoad     `cmd:"" help:"Tell what goes onto which vehicle, one a line: truck 1; truck; 2900 kg; 3; 2 x auger 12 kg."`
	Book     paperBook     `cmd:"" help:"Record a booking, as far as a day's roster needs it."`
	Cancel   paperCancel   `cmd:"" help:"Cancel a booking; it stays on record with its reason."`
	Roster   paperRoster   `cmd:"" help:"Bookings as a calendar file (iCalendar) without places."`
	Line     paperLine     `cmd:"" help:"Record a line of the books: cost, income, deposit, refund, distance, gear."`
	Books    paperBooks    `cmd:"" help:"The books: sums, or --csv for every line, --trips for the days out."`
}

// paperDay is the day that a sheet is about.
type paperDay struct {
	Date string `help:"Day: a date, today, yesterday or tomorrow." default:"today" placeholder:"DATE"`
}

// on opens the record for a sheet of a day.
func (c paperDay) on(ctx context.Context, g *Globals, f func(p *paper.Pages, s *session, sh shaper, day journal.Day) error) error {
	return g.question(ctx, func(s *session, sh shaper) error {
		day, err := pastDay(c.Date, s.now, s.zone)
		if err != nil {
			return err
		}
		return f(paper.New(s.Desk), s, sh, day)
	})
}

// file writes bytes into a file, whole or not at all; "" and - are standard output.
func (g *Globals) file(path string, data []byte) error {
	return g.output(path, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

type paperLogs struct {
	paperDay `embed:""`
	Form     string `help:"One form, by its short name, as CSV." placeholder:"KEY"`
	Out      string `help:"Write the CSV into this file." placeholder:"FILE"`
}

func (c paperLogs) Run(ctx context.Context, g *Globals) error {
	return c.on(ctx, g, func(p *paper.Pages, _ *session, _ shaper, day journal.Day) error {
		if c.Form != "" {
			data, err := p.LogTable(ctx, c.Form, day)
			if err != nil {
				return err
			}
			return g.file(c.Out, data)
		}
		view, err := p.Logs(ctx, day)
		if err != nil {
			return err
		}
		if g.JSON {
			return g.printJSON(logsJSON(view))
		}
		if view.None {
			g.say("No form is entered: icehand paper form FILE.")
		}
		for _, f := range view.Forms {
			g.say("%s (%s)  %s", f.Title, f.Key, f.Source)
			g.lines("  ", f.Due, f.MadeText)
			for _, row := range f.Rows {
				for i, x := range row {
					g.say("  %-22s %s", f.Head[i], x)
				}
				g.say("")
			}
			for _, x := range f.Missing {
				g.say("  ! missing: %s", x)
			}
			g.lines("  ", f.Sums...)
		}
		for _, m := range view.Months {
			g.say("%s, %s: %s", m.Form, m.Month, m.Says)
		}
		return nil
	})
}

type logJSON struct {
	Form    string     `json:"form"`
	Title   string     `json:"title"`
	Due     string     `json:"due"`
	Late    bool       `json:"late"`
	Made    bool       `json:"handed_in"`
	Head    []string   `json:"head"`
	Rows    [][]string `json:"rows"`
	Missing []string   `json:"missing"`
	Sums    []string   `json:"sums"`
}

type monthJSON struct {
	Form  string `json:"form"`
	Month string `json:"month"`
	Nil   bool   `json:"nil"`
	Made  bool   `json:"handed_in"`
	Late  bool   `json:"late"`
	Says  string `json:"says"`
}

// logsJSON shapes the logs of a day.
func logsJSON(view paper.LogsView) map[string]any {
	forms, months := []logJSON{}, []monthJSON{}
	for _, f := range view.Forms {
		forms = append(forms, logJSON{f.Key, f.Title, f.Due, f.Late, f.Made, f.Head, f.Rows, append([]string{}, f.Missing...), append([]string{}, f.Sums...)})
	}
	for _, m := range view.Months {
		months = append(months, monthJSON{m.Key, m.Of, m.Nil, m.Made, m.Late, m.Says})
	}
	return map[string]any{"forms": forms, "months": months}
}

type paperForm struct {
	File string `arg:"" optional:"" help:"Field map of the form, JSON (docs/paper.md); - for standard input." placeholder:"FILE" json:"-"`
	Drop string `help:"Take a form out of use, by its short name." placeholder:"KEY"`
	Map  string `kong:"-"`
}

func (c paperForm) record(ctx context.Context, d *desk.Desk) error {
	if c.Drop != "" {
		return d.DropForm(ctx, desk.Act{}, c.Drop)
	}
	return d.TellForm(ctx, desk.Act{}, []byte(c.Map))
}

func (c paperForm) Run(ctx context.Context, g *Globals) (err error) {
	if (c.File == "") == (c.Drop == "") {
		return fault.New(fault.BadInput, "Name a file, or --drop KEY.", "no form is named, or two")
	}
	if c.File != "" {
		if c.Map, err = g.readText(c.File, "a form"); err != nil {
			return err
		}
	}
	return g.put(ctx, "/local/paper/form", c)
}

// put records a command and says that it is saved.
func (g *Globals) put(ctx context.Context, path string, c recorder) error {
	if err := g.record(ctx, path, c); err != nil {
		return err
	}
	return g.saved()
}

type paperMade struct {
	Form string `arg:"" help:"Short name of the form." placeholder:"KEY"`
	Of   string `arg:"" help:"The day, or the month of a nil return: 2026-01-15, 2026-02." placeholder:"DAY"`
}

func (c paperMade) record(ctx context.Context, d *desk.Desk) error {
	return d.TellMade(ctx, desk.Act{}, c.Form, c.Of)
}

func (c paperMade) Run(ctx context.Context, g *Globals) error {
	return g.put(ctx, "/local/paper/made", c)
}

type paperCleaning struct {
	paperDay `embed:""`
}

type bagJSON struct {
	Name    string `json:"name"`
	Species string `json:"species"`
	Tally   int    `json:"tally"`
	Bagged  *int   `json:"in_bags,omitempty"` // absent: not counted
	Differ  bool   `json:"differs"`
}

func (c paperCleaning) Run(ctx context.Context, g *Globals) error {
	return c.on(ctx, g, func(p *paper.Pages, _ *session, _ shaper, day journal.Day) error {
		view, err := p.Cleaning(ctx, day)
		if err != nil {
			return err
		}
		if g.JSON {
			rows := []bagJSON{}
			for _, r := range view.Rows {
				x := bagJSON{Name: r.Name, Species: r.Species, Tally: r.Tally, Differ: r.Differ}
				if n, err := strconv.Atoi(r.Bagged); err == nil {
					x.Bagged = &n
				}
				rows = append(rows, x)
			}
			return g.printJSON(map[string]any{"day": day, "counted": view.Counted, "differs": view.Differ, "says": view.Says, "rows": rows})
		}
		g.lines("", view.Says, view.Unnamed)
		for _, r := range view.Rows {
			g.say("  %-20s %-9s %3d by the tally  %s in bags  %s", r.Name, r.Species, r.Tally, r.Bagged, r.Says)
		}
		return nil
	})
}

type paperBags struct {
	Bags []string `arg:"" help:"NAME=FISH, or NAME=FISH:SPECIES; a part of the name that no other has is enough." placeholder:"NAME=FISH"`
	Date string   `help:"Day: a date, today or yesterday." default:"today" placeholder:"DATE"`
}

func (c paperBags) Run(ctx context.Context, g *Globals) error {
	out := bagsCmd{}
	for _, s := range c.Bags {
		who, rest, ok := strings.Cut(s, "=")
		count, species, _ := strings.Cut(rest, ":")
		n, err := strconv.Atoi(strings.TrimSpace(count))
		if !ok || err != nil || who == "" {
			return fault.New(fault.BadInput, "Write Jonas=20, or Jonas=4:walleye.", "%q tells no bag", s)
		}
		out.Bags = append(out.Bags, bagText{who, species, n})
	}
	err := g.question(ctx, func(s *session, _ shaper) (err error) {
		out.Day, err = pastDay(c.Date, s.now, s.zone)
		return err
	})
	if err != nil {
		return err
	}
	return g.put(ctx, "/local/paper/bags", out)
}

type paperRoster struct {
	paperDay `embed:""`
	All      bool   `help:"All bookings from that day on."`
	Out      string `help:"Write it into this file." placeholder:"FILE"`
}

func (c paperRoster) Run(ctx context.Context, g *Globals) error {
	return c.on(ctx, g, func(p *paper.Pages, _ *session, _ shaper, day journal.Day) error {
		data, err := p.Roster(ctx, day, c.All)
		if err != nil {
			return err
		}
		return g.file(c.Out, data)
	})
}
