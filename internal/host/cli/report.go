package cli

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/engine/share"
	"icehand/internal/feed/photo"
	"icehand/internal/host/desk"
	guestreport "icehand/internal/host/report"
	"icehand/internal/keep/sqlite"
	"icehand/internal/trade/journal"
)

type reportCmd struct {
	Date    string   `help:"Day to tell: a date, today or yesterday." default:"today" placeholder:"DATE"`
	Say     string   `help:"A few words of your own; anything that gives a place away is refused." placeholder:"WORDS"`
	Picture []string `help:"A JPEG or PNG picture to put in, drawn anew without metadata; up to four." placeholder:"FILE"`
	Caption []string `help:"What stands under a picture, in the order of the pictures; refused like your words." placeholder:"WORDS" sep:"none"`
	Next    string   `help:"Day on which they mean to come again." placeholder:"DATE"`
	Depth   bool     `help:"With a word for the depth; it narrows the lake to a third."`
	Out     string   `help:"Write the report into this file; - for standard output." placeholder:"FILE"`
	Link    string   `help:"Make a link that opens the report so long: 14d, 36h. It opens through a running server." placeholder:"TIME"`
	Outfit  string   `help:"Tell what the outfit calls itself." placeholder:"NAME"`
	Private string   `help:"Tell the places that stay yours, parted by commas: they are refused in your words." placeholder:"NAMES"`
}

func (c reportCmd) Run(ctx context.Context, g *Globals) error {
	for key, words := range map[string]string{desk.OutfitName: c.Outfit, desk.PrivateNames: c.Private} {
		if words != "" {
			if err := g.record(ctx, "/local/word", wordCmd{key, words}); err != nil {
				return err
			}
		}
	}
	var ask desk.ReportAsk
	var made share.Report
	err := g.question(ctx, func(s *session, _ shaper) (err error) {
		if ask, err = c.ask(g, s); err != nil {
			return err
		}
		made, err = s.GuestReport(ctx, ask)
		return err
	})
	if err != nil {
		return err
	}
	page, err := guestreport.Page(made)
	if err != nil {
		return err
	}
	key := ""
	if c.Link != "" {
		if key, err = c.give(ctx, g, ask, page); err != nil {
			return err
		}
	}
	if err := c.write(g, page); err != nil {
		return err
	}
	return c.print(g, made, key)
}

// ask reads what was typed.
func (c reportCmd) ask(g *Globals, s *session) (desk.ReportAsk, error) {
	day, ok := dayOf(c.Date, s.now, s.zone)
	if c.Date == "yesterday" {
		day, ok = journal.DayOf(s.now.AddDate(0, 0, -1), s.zone), true
	}
	if !ok {
		return desk.ReportAsk{}, fault.New(fault.BadInput, "Write 2026-01-15, today or yesterday.", "%q is not a date", c.Date)
	}
	ask := desk.ReportAsk{Day: day, Words: c.Say, Depth: c.Depth, Captions: c.Caption, Units: g.system()}
	if c.Next != "" {
		if ask.Next = journal.Day(c.Next); !ask.Next.Valid() {
			return ask, fault.New(fault.BadInput, "Write it as 2027-01-14.", "%q is not a date", c.Next)
		}
	}
	for _, name := range c.Picture {
		p, err := picture(name)
		if err != nil {
			return ask, err
		}
		ask.Loose = append(ask.Loose, p)
	}
	return ask, nil
}

// picture reads a picture and draws it anew. A file that is too large is not read.
func picture(name string) (p photo.Picture, err error) {
	info, err := os.Stat(name)
	if err == nil && info.Size() > photo.MostBytes {
		return p, fault.New(fault.BadInput, "Choose a smaller one, or have the telephone send it at half size.", "%s has %d MB, at most %d are read", filepath.Base(name), info.Size()>>20, photo.MostBytes>>20)
	}
	var data []byte
	if err == nil {
		data, err = os.ReadFile(name)
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return p, fault.New(fault.NotFound, "Check the name.", "there is no file %s", filepath.Base(name))
	case err != nil:
		return p, fault.Wrap(err, fault.BadInput, "Name a picture that can be read.", "%s cannot be read", filepath.Base(name))
	}
	if p, err = photo.Clean(data); err != nil {
		f := fault.Public(err)
		return p, fault.Wrap(err, f.Code, f.Hint, "%s: %s", filepath.Base(name), f.Message)
	}
	return p, nil
}

// give keeps the report and makes a link to it.
func (c reportCmd) give(ctx context.Context, g *Globals, ask desk.ReportAsk, page []byte) (string, error) {
	life, err := lifeOf(c.Link)
	if err != nil {
		return "", err
	}
	key, err := desk.NewKey()
	if err != nil {
		return "", err
	}
	return key, g.record(ctx, "/local/give", giveCmd{ask.Day, page, key, life})
}

// lifeOf reads how long a link opens: 14d, 36h.
func lifeOf(text string) (time.Duration, error) {
	if days, ok := strings.CutSuffix(text, "d"); ok {
		if n, err := strconv.Atoi(days); err == nil && n > 0 && n < 1000 {
			return time.Duration(n) * 24 * time.Hour, nil
		}
	}
	if d, err := time.ParseDuration(text); err == nil && d > 0 {
		return d, nil
	}
	return 0, fault.New(fault.BadInput, "Write 14d or 36h.", "%q is no length of time", text)
}

// write writes the page, whole or not at all.
func (c reportCmd) write(g *Globals, page []byte) error {
	switch c.Out {
	case "":
		return nil
	case "-":
		_, err := g.env.Out.Write(page)
		return err
	}
	tmp, err := os.CreateTemp(filepath.Dir(c.Out), ".report-*")
	if err == nil {
		defer os.Remove(tmp.Name())
		_, err = tmp.Write(page)
		err = errors.Join(err, tmp.Chmod(0o644), tmp.Close())
	}
	if err == nil {
		err = os.Rename(tmp.Name(), c.Out)
	}
	if err != nil {
		return fault.Wrap(err, fault.BadInput, "Name a file in a folder that can be written.", "%s cannot be written", filepath.Base(c.Out))
	}
	return nil
}

type tellJSON struct {
	What     string `json:"what"`
	Stranger string `json:"stranger"`
	Look     bool   `json:"look"`
}

// print tells what the report says, and what that tells a stranger.
func (c reportCmd) print(g *Globals, r share.Report, key string) error {
	link := ""
	if key != "" {
		link = guestreport.Link + key
		if holder, ok := sqlite.HolderOf(g.Data); ok && holder.Address != "" {
			link = strings.TrimRight(holder.Address, "/") + link
		}
	}
	switch {
	case g.JSON && c.Out != "-":
		out := struct {
			Title  string     `json:"title"`
			Says   []string   `json:"says"`
			Tells  []tellJSON `json:"tells"`
			Absent []string   `json:"never"`
			File   string     `json:"file,omitempty"`
			Link   string     `json:"link,omitempty"`
		}{r.Title(), r.InWords(), tellsJSON(r), share.Absent(), c.Out, link}
		return g.printJSON(out)
	case c.Out == "-":
		return nil
	}
	g.say("%s", r.Title())
	g.lines("  ", r.InWords()...)
	g.say("What this tells a stranger:")
	for _, t := range r.Tells() {
		look := ""
		if t.Look {
			look = "look: "
		}
		g.say("  %s: %s%s", t.What, look, t.Stranger)
	}
	g.say("Never in it: %s.", strings.Join(share.Absent(), "; "))
	g.lines("", share.Outside()...)
	if c.Out != "" {
		g.say("written: %s", c.Out)
	}
	if link != "" {
		g.say("link: %s", link)
	}
	return nil
}

// wordCmd tells a setting of words.
type wordCmd struct{ Key, Words string }

func (c wordCmd) record(ctx context.Context, d *desk.Desk) error {
	return d.TellWord(ctx, desk.Act{}, c.Key, c.Words)
}

// giveCmd keeps a report and makes a link to it.
type giveCmd struct {
	Of   journal.Day
	Page []byte
	Key  string
	Life time.Duration
}

func (c giveCmd) record(ctx context.Context, d *desk.Desk) error {
	return d.GiveReport(ctx, desk.Act{}, desk.Give{Of: c.Of, Page: c.Page, Key: c.Key, Life: c.Life})
}
