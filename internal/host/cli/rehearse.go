package cli

import (
	"context"
	"fmt"
	"os"
	"runtime"
	"strings"
	"sync"

	"icehand/internal/base/fault"
	"icehand/internal/sim/rehearse"
	"icehand/internal/sim/way"
)

type rehearseCmd struct {
	Days     int      `help:"Days at each stage, or of a winter with --season; 0: 24, or 60." default:"0"`
	Seed     uint64   `help:"First seed. Figures that are quoted come from 900000 upwards." default:"900000"`
	Stage    string   `help:"Time of the winter." enum:"early,mid,late,all" default:"all"`
	Party    int      `help:"Guests." default:"4"`
	Aim      string   `help:"What the party wants." enum:"numbers,size" default:"numbers"`
	Lakes    int      `help:"Different lakes of each kind; 0: every day its own. With --season, lakes in all; 0: 8." default:"0"`
	Winters  int      `help:"With --season: winters on each lake." default:"1"`
	Ice      bool     `help:"Instead: how well the ice is known between holes, on 60 made-up winters, beside what it is held to."`
	Season   bool     `help:"Fish the same lakes day after day, to see what a record is worth."`
	Ways     []string `help:"Compare only these ways." placeholder:"WAY"`
	Families []string `help:"Only these kinds of lakes." placeholder:"KIND"`
	Workers  int      `help:"Days walked at a time; 0: one by processor." default:"0"`
	Verbose  bool     `help:"Also print how many schools were met and worked, and how fast."`
	Picture  string   `help:"Also draw the outcome into this SVG file." placeholder:"FILE" type:"path"`
}

func (c rehearseCmd) options(g *Globals) rehearse.Options {
	o := rehearse.Options{Days: c.Days, Seed: c.Seed, Families: c.Families, Ways: c.Ways, Rods: c.Party, Aim: way.Aim(c.Aim),
		Lakes: c.Lakes, Workers: c.Workers, Progress: progressBar(g)}
	if o.Days == 0 && !c.Season {
		o.Days = 24
	}
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	for _, s := range rehearse.Stages() {
		if c.Stage == "all" || c.Stage == s.Name {
			o.Stages = append(o.Stages, s)
		}
	}
	return o
}

// progressBar draws on standard error and leaves standard output to the answer.
func progressBar(g *Globals) func(done, of int) {
	var once sync.Once
	last := -1
	return func(done, of int) {
		const width = 40
		if at := 100 * done / of; at != last {
			last = at
			full := width * done / of
			fmt.Fprintf(g.env.Err, "\r[%s%s] %3d %%", strings.Repeat("#", full), strings.Repeat(".", width-full), at)
		}
		if done == of {
			once.Do(func() { fmt.Fprintln(g.env.Err) })
		}
	}
}

// Run walks the days and prints what came of them.
func (c rehearseCmd) Run(ctx context.Context, g *Globals) error {
	switch {
	case c.Ice:
		return c.ice(ctx, g)
	case c.Season:
		return c.season(ctx, g)
	}
	report, err := rehearse.Run(ctx, c.options(g))
	if err != nil {
		return err
	}
	if c.Picture != "" {
		if err := os.WriteFile(c.Picture, report.Picture(), 0o644); err != nil {
			return fault.Wrap(err, fault.NotSaved, "Check the folder and its rights.", "%s was not written", c.Picture)
		}
	}
	if g.JSON {
		err = g.printJSON(report)
	} else {
		err = report.Table(g.env.Out)
		if err == nil && c.Verbose {
			err = report.Details(g.env.Out)
		}
	}
	if err == nil && len(report.Faults) > 0 {
		err = fault.New(fault.Internal, "Do not trust these figures; more days may settle a close order.", "the rehearsal found fault with itself: %s", strings.Join(report.Faults, "; "))
	}
	return err
}

func (c rehearseCmd) season(ctx context.Context, g *Globals) error {
	o := rehearse.SeasonOptions{Lakes: c.Lakes, Winters: c.Winters, Days: c.Days, Options: c.options(g)}
	if o.Lakes == 0 {
		o.Lakes = 8
	}
	report, err := rehearse.RunSeason(ctx, o)
	if err != nil {
		return err
	}
	if g.JSON {
		return g.printJSON(report)
	}
	return report.Table(g.env.Out)
}
