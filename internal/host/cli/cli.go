// Package cli is the command line: it reads arguments, opens the record, asks the desk, and prints answers for people
// or, with --json, for programs. docs/commands.md documents every command, schema and exit status.
//
// Start with [Main]. Standard output is the answer; everything else goes to standard error. Exit status 0 says that
// the question was answered, never that ice was found good.
// It leaves words to package say and answers to package desk.
package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"
	"time"

	// The time zones travel with the binary: a guide's machine may have none.
	_ "time/tzdata"

	"github.com/alecthomas/kong"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
)

// Env is what a command may touch of the machine.
type Env struct {
	In       io.Reader
	Out, Err io.Writer
	Clock    func() time.Time
	Getenv   func(string) string
	Home     string // folder for the record when none is named
	Version  string
	Terminal bool // In is a person's terminal: questions may be asked
}

// System gives the real machine.
func System(version string) Env {
	home, err := os.UserConfigDir()
	if err != nil {
		home = "."
	}
	info, err := os.Stdin.Stat()
	return Env{In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Clock: time.Now, Getenv: os.Getenv, Home: filepath.Join(home, "icehand"),
		Version: version, Terminal: err == nil && info.Mode()&os.ModeCharDevice != 0}
}

// Globals are the flags of every command.
type Globals struct {
	Data  string `help:"Folder of the record (or ICEHAND_DATA)." placeholder:"DIR"`
	At    string `help:"Answer as of this time, in the lake's zone: 2026-01-15 09:50, 09:50, or RFC 3339." placeholder:"TIME"`
	Units string `help:"Units to print: si or us (or ICEHAND_UNITS)." placeholder:"si|us"`
	JSON  bool   `name:"json" help:"Print one JSON object, as documented in docs/commands.md."`

	env Env
}

type grammar struct {
	Globals

	Demo      demoCmd      `cmd:"" help:"Start a made-up lake with two weeks of record and this morning's looks; prints its address."`
	Serve     serveCmd     `cmd:"" help:"Serve the pages on the record of this machine."`
	Next      nextCmd      `cmd:"" help:"The next step: what now, why, at what cost, what would change it."`
	Evening   eveningCmd   `cmd:"" help:"The evening plan: tomorrow on one page."`
	Home      homeCmd      `cmd:"" help:"The turn-back time, what binds it, and the way home."`
	Ice       iceCmd       `cmd:"" help:"What was read of the ice and what a load asks for. Never says that ice is good."`
	Cold      coldCmd      `cmd:"" help:"Wind chill and how soon bare skin can freeze."`
	Light     lightCmd     `cmd:"" help:"Sun, twilight and light for a day."`
	Tackle    tackleCmd    `cmd:"" help:"How a lure sinks, how a bite shows at the tip, what a current does, how heavy for this depth; a card for guests."`
	Rules     rulesCmd     `cmd:"" help:"The rule book: shown, checked, entered, signed. Laws are data that the outfit enters."`
	Tally     tallyCmd     `cmd:"" help:"What each person has kept, and what is left of the limits."`
	Trip      tripCmd      `cmd:"" help:"Record a trip: landing, rods, travel, hour to be ashore, ice that can be drilled, hours that end the day."`
	Aim       aimCmd       `cmd:"" help:"What the day is about: numbers, size, action, a first fish, learning ground. Printed, or set."`
	Depths    depthsCmd    `cmd:"" help:"At which depths you find perch, by stage of the season. Printed, told, or taken back."`
	Sounder   sounderCmd   `cmd:"" help:"What your sounder is: how deep it hangs, what it assumes. Depths are corrected by it. Printed, told, or taken back."`
	People    peopleCmd    `cmd:"" help:"Who is where, who has waited how long, whom to call over, what is left. For the guide's eyes."`
	Plan      planCmd      `cmd:"" help:"The trip plan left ashore and the steps when a party is overdue. Printed, left, or what happened told."`
	Close     closeCmd     `cmd:"" help:"The close of day: what it came to, what is still open, the five questions. Printed, or answered."`
	Paper     paperCmd     `cmd:"" help:"Paper and money ashore: agency logs, cleaning sheet, party sheet with load-out, roster, books."`
	Report    reportCmd    `cmd:"" help:"What guests receive of a day: no position, hour or depth can travel in it. As a file, or a link that ends."`
	Import    importCmd    `cmd:"" help:"Read files into the record: outline, soundings, hole log, weather."`
	Weather   weatherCmd   `cmd:"" help:"Ask a weather service for the lake's forecast; --save keeps it for a day without signal."`
	Export    exportCmd    `cmd:"" help:"Write the record out: geojson, csv or the whole journal as ndjson."`
	Backup    backupCmd    `cmd:"" help:"Write a checked copy of the record."`
	Restore   restoreCmd   `cmd:"" help:"Bring a checked copy back into an empty folder."`
	Phone     phoneCmd     `cmd:"" help:"The phones that may sync with this record. Listed, added, ended."`
	Sync      syncCmd      `cmd:"" help:"Bring this record in step with the one of a server."`
	Audit     auditCmd     `cmd:"" help:"Verify everything in the record and name damage."`
	Selfcheck selfcheckCmd `cmd:"" help:"Run the built-in outside check values."`
	Rehearse  rehearseCmd  `cmd:"" help:"Compare ways of searching on days of made-up lakes. No forecast of catches."`
	Ask       askCmd       `cmd:"" help:"Answer questions, one JSON object a line; the door for scripts (docs/ask.md)."`
	Version   versionCmd   `cmd:"" help:"Print the version."`
}

// Exit statuses. docs/commands.md tables them.
const (
	exitAnswered    = 0
	exitInternal    = 1
	exitUsage       = 2 // what was typed or read from a file is wrong
	exitMissing     = 3 // something must be recorded first, or what was named is not there
	exitConflict    = 4 // another writer holds the record
	exitDamaged     = 5 // stored data does not verify
	exitUnavailable = 6 // not saved, or a service cannot be reached
)

var exits = map[fault.Code]int{
	fault.BadInput: exitUsage, fault.NotFound: exitMissing, fault.Missing: exitMissing, fault.Conflict: exitConflict,
	fault.Damaged: exitDamaged, fault.NotSaved: exitUnavailable, fault.Unavailable: exitUnavailable, fault.Internal: exitInternal,
}

// errStop ends kong's parse after help was printed.
var errStop = errors.New("cli: help was printed")

// Main runs one command and gives its exit status.
func Main(args []string, env Env) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return Run(ctx, args, env)
}

// Run is Main under a caller's context.
func Run(ctx context.Context, args []string, env Env) int {
	var g grammar
	parser, err := kong.New(&g, kong.Name("icehand"), kong.Writers(env.Out, env.Err), kong.Exit(func(int) { panic(errStop) }),
		kong.Description("A guide's record on the ice, and the next step from it. Advice only: local authority and your own test of the ice decide."),
		kong.UsageOnError(), kong.WithHyphenPrefixedParameters(true), kong.ConfigureHelp(kong.HelpOptions{Compact: true}))
	if err != nil {
		fmt.Fprintln(env.Err, "icehand: "+err.Error())
		return exitInternal
	}
	helped := false
	var k *kong.Context
	func() {
		defer func() {
			if r := recover(); r == errStop {
				helped = true
			} else if r != nil {
				panic(r)
			}
		}()
		if len(args) == 0 {
			args = []string{"--help"}
		}
		k, err = parser.Parse(args)
	}()
	if helped {
		return exitAnswered
	}
	if err != nil {
		return report(env, g.JSON, fault.Wrap(err, fault.BadInput, "See icehand --help.", "%s", err))
	}
	g.env = env
	if err := g.settle(); err != nil {
		return report(env, g.JSON, err)
	}
	k.BindTo(ctx, (*context.Context)(nil))
	return report(env, g.JSON, k.Run(&g.Globals))
}

// settle fills flags from the environment and checks them.
func (g *Globals) settle() error {
	if g.Data == "" {
		g.Data = g.env.Getenv("ICEHAND_DATA")
	}
	if g.Data == "" {
		g.Data = g.env.Home
	}
	if g.Units == "" {
		g.Units = g.env.Getenv("ICEHAND_UNITS")
	}
	if g.Units == "" {
		g.Units = "si"
	}
	if _, ok := quantity.ParseSystem(g.Units); !ok {
		return fault.New(fault.BadInput, "Use --units si or --units us.", "%q is no unit system", g.Units)
	}
	return nil
}

func (g *Globals) system() quantity.System {
	s, _ := quantity.ParseSystem(g.Units)
	return s
}

// report prints an error, if any, with its hint, and gives the exit status.
func report(env Env, asJSON bool, err error) int {
	if err == nil {
		return exitAnswered
	}
	f := fault.Public(err)
	if asJSON {
		_ = json.NewEncoder(env.Err).Encode(map[string]any{"error": map[string]string{"code": string(f.Code), "message": f.Message, "hint": f.Hint}})
	} else {
		fmt.Fprintln(env.Err, "icehand: "+f.Message)
		if f.Code == fault.Internal && f.Cause != nil {
			fmt.Fprintln(env.Err, "cause: "+f.Cause.Error())
		}
		if f.Hint != "" {
			fmt.Fprintln(env.Err, "hint: "+f.Hint)
		}
	}
	status, ok := exits[f.Code]
	if !ok {
		return exitInternal
	}
	return status
}

// printJSON writes one object.
func (g *Globals) printJSON(v any) error {
	enc := json.NewEncoder(g.env.Out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// say writes one line of the answer.
func (g *Globals) say(format string, args ...any) { fmt.Fprintf(g.env.Out, format+"\n", args...) }

type versionCmd struct{}

func (versionCmd) Run(g *Globals) error {
	if g.JSON {
		return g.printJSON(map[string]string{"version": g.env.Version})
	}
	g.say("icehand %s", g.env.Version)
	return nil
}
