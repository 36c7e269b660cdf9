package cli

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/rules"
)

// rulesCmd is the rule book: laws as the outfit entered them.
type rulesCmd struct {
	Show     rulesShow     `cmd:"" default:"withargs" help:"The rule book in force, or the one of a day."`
	Check    rulesCheck    `cmd:"" help:"Read a rule book and say what is wrong with it. Nothing is written."`
	Import   rulesImport   `cmd:"" help:"Enter a rule book. It is in force once somebody has signed it."`
	Sign     rulesSign     `cmd:"" help:"Say that you held the newest unsigned rule book, or the one named, against its source text."`
	Withdraw rulesWithdraw `cmd:"" help:"Take a rule book out of force, with a reason."`
	Form     rulesForm     `cmd:"" help:"Print every kind of rule and how it is written."`
}

type rulesShow struct {
	Date string `help:"Day to answer for: a date, today or tomorrow." default:"today" placeholder:"DATE"`
	All  bool   `help:"Print every version on record, without its rules."`
}

type ruleJSON struct {
	Line   int    `json:"line"`
	Rule   string `json:"rule"`
	Value  string `json:"value"`
	Source string `json:"source,omitempty"`
	Watch  string `json:"watched"` // record, tick, eye
}

type bookJSON struct {
	ID        string     `json:"id"`
	Name      string     `json:"name"`
	Water     string     `json:"water,omitempty"`
	Source    string     `json:"source"`
	Retrieved string     `json:"retrieved"`
	From      string     `json:"from"`
	To        string     `json:"to"`
	Entered   string     `json:"entered_by"`
	Checked   []string   `json:"checked_by"`
	Rules     []ruleJSON `json:"rules,omitempty"`
}

func shapeBook(v desk.View, x *rules.Version, whole bool) bookJSON {
	out := bookJSON{ID: shortID(x.ID), Name: x.Book.Name, Water: x.Book.Water, Source: x.Book.Source, Retrieved: string(x.Book.Retrieved), From: string(x.Book.From),
		To: string(x.Book.To), Entered: v.Name(x.Entered), Checked: []string{}}
	for _, c := range x.Checks {
		out.Checked = append(out.Checked, v.Name(c.By))
	}
	for _, r := range x.Book.Rules {
		if whole {
			out.Rules = append(out.Rules, ruleJSON{r.Line, r.Head(), r.Text, r.Source, string(r.Kind.Watched())})
		}
	}
	return out
}

// shortID names an entry to people: the last six hexadecimal digits.
func shortID(id uuid.UUID) string { s := id.String(); return s[len(s)-6:] }

func (c rulesShow) Run(ctx context.Context, g *Globals) error {
	return g.question(ctx, func(s *session, _ shaper) error {
		day, ok := dayOf(c.Date, s.now, s.zone)
		if !ok {
			return fault.New(fault.BadInput, "Write 2026-01-15, today or tomorrow.", "%q is not a date", c.Date)
		}
		return s.Read(ctx, func(v desk.View) error {
			out := rulesJSON(v, day, c.All)
			if g.JSON {
				return g.printJSON(out)
			}
			g.say("%s", say.Law(v.Law(day)))
			for _, b := range out.Books {
				g.book(b)
			}
			g.say("%s", say.CheckRules)
			return nil
		})
	})
}

type lawJSON struct {
	Day      journal.Day    `json:"day"`
	Standing rules.Standing `json:"standing"`
	Books    []bookJSON     `json:"books"`
}

// rulesJSON gives the law of a day with its books, or every book without its rules.
func rulesJSON(v desk.View, day journal.Day, all bool) lawJSON {
	law := v.Law(day)
	out := lawJSON{day, law.Standing, []bookJSON{}}
	books := law.Versions
	if all {
		books = v.Shelf.Versions
	}
	for _, x := range books {
		out.Books = append(out.Books, shapeBook(v, x, !all))
	}
	return out
}

// book prints one version.
func (g *Globals) book(b bookJSON) {
	g.say("")
	g.say("%s (%s), %s to %s", b.Name, b.ID, b.From, b.To)
	g.say("  source: %s, read %s", b.Source, b.Retrieved)
	checked := "nobody yet"
	if len(b.Checked) > 0 {
		checked = strings.Join(b.Checked, ", ")
	}
	g.say("  entered by %s, checked by %s", b.Entered, checked)
	for _, r := range b.Rules {
		line := "  " + r.Rule + ": " + r.Value
		if r.Source != "" {
			line += "  [" + r.Source + "]"
		}
		switch r.Watch {
		case string(rules.ByTick):
			line += "  (to be ticked)"
		case string(rules.ByEye):
			line += "  (only to be read)"
		}
		g.say("%s", line)
	}
}

// mostBook bounds a rule book file: five hundred lines are far less.
const mostBook = 32 << 10

// readBook reads a rule book file; - is standard input.
func (g *Globals) readBook(name string) (string, error) { return g.readText(name, "a rule book") }

// readText reads a text file of at most 32 KiB; - is standard input.
func (g *Globals) readText(name, what string) (string, error) {
	var r io.Reader = g.env.In
	if name != "-" {
		f, err := os.Open(name)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return "", fault.New(fault.NotFound, "Check the name.", "there is no file %s", filepath.Base(name))
		case err != nil:
			return "", fault.Wrap(err, fault.BadInput, "Name a file that can be read.", "%s cannot be read", filepath.Base(name))
		}
		defer f.Close()
		r = f
	}
	b, err := io.ReadAll(io.LimitReader(r, mostBook+1))
	switch {
	case err != nil:
		return "", fault.Wrap(err, fault.BadInput, "Name a file that can be read.", "%s cannot be read", filepath.Base(name))
	case len(b) > mostBook:
		return "", fault.New(fault.BadInput, "Is it another file?", "%s has at most 32 KiB, and this one has more", what)
	}
	return string(b), nil
}

type rulesCheck struct {
	File string `arg:"" help:"Rule book; - for standard input." placeholder:"FILE"`
}

func (c rulesCheck) Run(g *Globals) error {
	text, err := g.readBook(c.File)
	if err != nil {
		return err
	}
	b, problems := rules.Read(text)
	if err := rules.Fault(problems); err != nil {
		return err
	}
	if g.JSON {
		return g.printJSON(map[string]any{"name": b.Name, "from": b.From, "to": b.To, "rules": len(b.Rules)})
	}
	g.say("%s: %d rules, %s to %s. No line contradicts another. Whether they are the law, only the source text says.", b.Name, len(b.Rules), b.From, b.To)
	return nil
}

type rulesImport struct {
	File string `arg:"" help:"Rule book; - for standard input." placeholder:"FILE" json:"-"`
	By   string `required:"" help:"Who entered it." placeholder:"NAME"`
	Text string `kong:"-"`
}

func (c rulesImport) record(ctx context.Context, d *desk.Desk) error {
	_, err := d.EnterRules(ctx, desk.Act{}, c.Text, c.By)
	return err
}

func (c rulesImport) Run(ctx context.Context, g *Globals) (err error) {
	if c.Text, err = g.readBook(c.File); err != nil {
		return err
	}
	if err := g.record(ctx, "/local/rules", c); err != nil {
		return err
	}
	return g.saved()
}

type rulesSign struct {
	By   string `required:"" help:"Who held it against its source text." placeholder:"NAME"`
	Book string `help:"Which version, by the six digits that show prints." placeholder:"ID"`
}

func (c rulesSign) record(ctx context.Context, d *desk.Desk) error {
	book, err := versionNamed(ctx, d, c.Book)
	if err != nil {
		return err
	}
	return d.SignRules(ctx, desk.Act{}, book, c.By)
}

func (c rulesSign) Run(ctx context.Context, g *Globals) error {
	if err := g.record(ctx, "/local/rules/sign", c); err != nil {
		return err
	}
	return g.saved()
}

type rulesWithdraw struct {
	Book string `arg:"" help:"Which version, by the six digits that show prints." placeholder:"ID"`
	Why  string `required:"" help:"Why." placeholder:"WORDS"`
}

func (c rulesWithdraw) record(ctx context.Context, d *desk.Desk) error {
	book, err := versionNamed(ctx, d, c.Book)
	if err != nil {
		return err
	}
	return d.WithdrawRules(ctx, desk.Act{}, book, c.Why)
}

func (c rulesWithdraw) Run(ctx context.Context, g *Globals) error {
	if err := g.record(ctx, "/local/rules/withdraw", c); err != nil {
		return err
	}
	return g.saved()
}

// versionNamed finds a version by its last digits; zero for "".
func versionNamed(ctx context.Context, d *desk.Desk, digits string) (id uuid.UUID, err error) {
	if digits == "" {
		return uuid.Nil, nil
	}
	err = d.Read(ctx, func(v desk.View) error {
		for _, x := range v.Shelf.Versions {
			if strings.HasSuffix(x.ID.String(), strings.ToLower(digits)) {
				id = x.ID
				return nil
			}
		}
		return fault.New(fault.NotFound, "icehand rules --all lists the versions.", "no rule book ends in %.40q", digits)
	})
	return id, err
}

type rulesForm struct{}

func (rulesForm) Run(g *Globals) error {
	forms := rules.Forms()
	if g.JSON {
		return g.printJSON(map[string]any{"forms": forms})
	}
	g.say("A rule book is plain text, a line a rule: word, subject, colon, value, and the place in the source text in [brackets].")
	g.say("It begins with: book, source, retrieved, from, to (dates as 2026-01-15), and water where it helps.")
	for _, f := range forms {
		head := f.Word
		if f.About != "" {
			head += " " + f.About
		}
		g.say("  %s: %s", head, f.Value)
	}
	return nil
}
