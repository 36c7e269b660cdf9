package cli

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"runtime"
	"strings"
	"sync"

	"icehand/internal/base/fault"
	"icehand/internal/host/say"
	"icehand/internal/sim/rehearse"
	"icehand/internal/sim/way"
)

type rehearseCmd struct {
	Days       int      `help:"Days at each stage, or of a winter with --season; 0: 24, or 60." default:"0"`
	Seed       uint64   `help:"First seed. Figures that are quoted come from 900000 upwards." default:"900000"`
	Stage      string   `help:"Time of the winter." enum:"early,mid,late,all" default:"all"`
	Party      int      `help:"Guests." default:"4"`
	Aim        string   `help:"What the party wants." enum:"numbers,size" default:"numbers"`
	Lakes      int      `help:"Different lakes of each kind; 0: every day its own. With --season, lakes in all; 0: 8." default:"0"`
	Winters    int      `help:"With --season: winters on each lake; 0: 1, with --targets 3." default:"0"`
	Ice        bool     `help:"Instead: how well the ice is known between holes, on 60 made-up winters, beside what it is held to."`
	Season     bool     `help:"Fish the same lakes day after day, to see what a record is worth."`
	Ways       []string `help:"Compare only these ways." placeholder:"WAY"`
	Families   []string `help:"Only these kinds of lakes." placeholder:"KIND"`
	Workers    int      `help:"Days walked at a time; 0: one by processor." default:"0"`
	Targets    bool     `help:"Walk and judge the whole table of targets: 300 days a stage and seasons on 30 lakes unless said otherwise."`
	Parts      []string `help:"With --targets: only these parts of the table (season,lock-in,days,size,flat,exact)." placeholder:"PART"`
	SeasonDays int      `name:"season-days" help:"With --targets: days of a winter; 0: 60." default:"0"`
	Keep       string   `help:"Keep what was walked in this file, and go on from it when it is there." placeholder:"FILE" type:"path"`
	Verbose    bool     `help:"Also print how many schools were met and worked, and how fast."`
	Picture    string   `help:"Also draw the outcome into this SVG file." placeholder:"FILE" type:"path"`
}

func (c rehearseCmd) options(g *Globals) rehearse.Options {
	o := rehearse.Options{Days: c.Days, Seed: c.Seed, Families: c.Families, Ways: c.Ways, Rods: c.Party, Aim: way.Aim(c.Aim),
		Lakes: c.Lakes, Workers: c.Workers, Progress: progressBar(g)}
	if o.Days == 0 && !c.Season && !c.Targets {
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
	err := c.run(ctx, g)
	if err != nil && ctx.Err() != nil {
		hint := "With --keep FILE a run that is ended can be gone on with."
		if c.Keep != "" {
			hint = "The same command goes on from what is kept."
		}
		fmt.Fprintln(g.env.Err)
		return fault.Wrap(err, fault.Unavailable, hint, "the rehearsal was ended before it was done")
	}
	return err
}

func (c rehearseCmd) run(ctx context.Context, g *Globals) error {
	switch {
	case c.Ice:
		return c.ice(ctx, g)
	case c.Targets:
		return c.targets(ctx, g)
	case c.Season:
		return c.season(ctx, g)
	}
	o := c.options(g)
	done, err := c.ledger(&o)
	if err != nil {
		return err
	}
	defer done()
	report, err := rehearse.Run(ctx, o)
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
	if err == nil {
		err = atFault(report.Faults)
	}
	return err
}

// atFault makes an error of what a run found wrong with itself.
func atFault(faults []string) error {
	if len(faults) == 0 {
		return nil
	}
	return fault.New(fault.Internal, "Do not trust these figures; more days may settle a close order.", "the rehearsal found fault with itself: %s", strings.Join(faults, "; "))
}

// ledger opens the file in which the run is kept, if one was named. done closes it.
func (c rehearseCmd) ledger(o *rehearse.Options) (done func(), err error) {
	if c.Keep == "" {
		return func() {}, nil
	}
	program, err := programSum()
	if err != nil {
		return nil, err
	}
	f, err := os.OpenFile(c.Keep, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o644)
	if err != nil {
		return nil, fault.Wrap(err, fault.NotSaved, "Check the folder and its rights.", "%s was not opened", c.Keep)
	}
	// how many days and lakes are walked may differ from run to run; what a day is may not
	of := fmt.Sprintf("program %s seed %d party %d kinds %v targets %v", program, c.Seed, c.Party, c.Families, c.Targets)
	if !c.Targets {
		of += fmt.Sprintf(" aim %s ways %v season %v lakes %d", c.Aim, c.Ways, c.Season, c.Lakes)
	}
	o.Ledger, err = rehearse.OpenLedger(f, f, of)
	if err != nil {
		f.Close()
		return nil, err
	}
	return func() { f.Close() }, nil
}

// programSum tells this program from any other build: days that another one walked are not this one's.
func programSum() (string, error) {
	path, err := os.Executable()
	if err != nil {
		return "", err
	}
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return "", err
	}
	return fmt.Sprintf("%x", sum.Sum(nil)[:8]), nil
}

func (c rehearseCmd) targets(ctx context.Context, g *Globals) error {
	o := rehearse.TargetOptions{Parts: c.Parts, Lakes: c.Lakes, Winters: c.Winters, SeasonDays: c.SeasonDays, Word: say.OddsWord, Options: c.options(g)}
	o.Options.Lakes, o.Aim = 0, "" // every day its own lake, aims as the table has them
	done, err := c.ledger(&o.Options)
	if err != nil {
		return err
	}
	defer done()
	t, err := rehearse.RunTargets(ctx, o)
	if err != nil {
		return err
	}
	if g.JSON {
		err = g.printJSON(t)
	} else {
		err = t.Table(g.env.Out)
	}
	if err == nil {
		err = atFault(t.Faults)
	}
	return err
}

func (c rehearseCmd) season(ctx context.Context, g *Globals) error {
	o := rehearse.SeasonOptions{Lakes: c.Lakes, Winters: c.Winters, Days: c.Days, Options: c.options(g)}
	if o.Lakes == 0 {
		o.Lakes = 8
	}
	done, err := c.ledger(&o.Options)
	if err != nil {
		return err
	}
	defer done()
	report, err := rehearse.RunSeason(ctx, o)
	if err != nil {
		return err
	}
	if g.JSON {
		return g.printJSON(report)
	}
	return report.Table(g.env.Out)
}
