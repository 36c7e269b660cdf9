package cli

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/care"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/tally"
)

// tallyCmd is the ledger of each person's fish.
type tallyCmd struct {
	Show    tallyShow    `cmd:"" default:"withargs" help:"What each person has kept, and what is left of the limits."`
	Carried tallyCarried `cmd:"" help:"Tell what somebody carried over from earlier days. Ask at the start of the day."`
	Gift    tallyGift    `cmd:"" help:"Record fish that were given, with the signed and dated note."`
	Eaten   tallyEaten   `cmd:"" help:"Record fish that were eaten."`
	Cleaned tallyCleaned `cmd:"" help:"Record fish that were cleaned, and into how many packs."`
	Correct tallyCorrect `cmd:"" help:"Correct a fish: whose it is, or that it is not kept. A reason is needed, and the change leaves a trace."`
	Share   tallyShare   `cmd:"" help:"Hand out what is left of today's limits among phones, before contact is lost."`
}

type tallyShow struct {
	Date string `help:"Day to answer for: a date or today." default:"today" placeholder:"DATE"`
	Fish bool   `help:"List every fish with its six digits and its corrections."`
}

type rowJSON struct {
	Person  string   `json:"person"`
	Species string   `json:"species"`
	Kept    int      `json:"kept"`
	AtLeast bool     `json:"at_least"`
	PutBack int      `json:"put_back"`
	Held    int      `json:"held"`
	Asked   bool     `json:"carried_over_asked"`
	Left    *int     `json:"left,omitempty"` // absent when no limit is on record or the rules are unverified
	State   string   `json:"state"`
	Binding string   `json:"binding,omitempty"`
	Times   []string `json:"times"`
}

type fishJSON struct {
	ID      string   `json:"id"`
	Time    string   `json:"time"`
	Person  string   `json:"person"`
	Hooked  string   `json:"hooked,omitempty"`
	Landed  string   `json:"landed,omitempty"`
	Species string   `json:"species"`
	Count   int      `json:"count"`
	Kept    bool     `json:"kept"`
	Fate    string   `json:"fate,omitempty"`
	Flag    string   `json:"flag,omitempty"`
	Trace   []string `json:"trace"`
}

func (c tallyShow) Run(ctx context.Context, g *Globals) error {
	return g.question(ctx, func(s *session, sh shaper) error {
		day, ok := dayOf(c.Date, s.now, s.zone)
		if !ok {
			return fault.New(fault.BadInput, "Write 2026-01-15 or today.", "%q is not a date", c.Date)
		}
		if g.JSON {
			out, err := c.answer(ctx, s.Desk, sh, day, s.now)
			if err != nil {
				return err
			}
			return g.printJSON(out)
		}
		return c.weigh(ctx, s.Desk, sh, day, s.now, func(v desk.View, sheet *tally.Sheet, put []care.Released) {
			c.print(g, v, sheet, sh)
			for _, b := range care.Count(put) {
				g.say("%s", sh.voice.Band(b))
			}
			if t, leave := care.Leave(put, sheet.At); leave {
				g.say("%s", sh.voice.Toll(t))
			}
			if b, barred := v.Sorting(); barred {
				g.say("%s", sh.voice.Sorting(b))
			}
			g.say("%s", say.CheckRules)
		})
	})
}

// answer gives the ledger of a day in its JSON form.
func (c tallyShow) answer(ctx context.Context, d *desk.Desk, sh shaper, day journal.Day, now time.Time) (out map[string]any, err error) {
	err = c.weigh(ctx, d, sh, day, now, func(v desk.View, sheet *tally.Sheet, put []care.Released) {
		out = c.shape(v, sheet, sh)
		out["put_back"] = bandsJSON(put)
	})
	return out, err
}

// weigh gives f the ledger of a day, up to now or to its end.
func (c tallyShow) weigh(ctx context.Context, d *desk.Desk, sh shaper, day journal.Day, now time.Time, f func(desk.View, *tally.Sheet, []care.Released)) error {
	at := now
	if day < journal.DayOf(now, sh.zone) {
		at = day.Midnight(sh.zone).AddDate(0, 0, 1)
	}
	cold, err := d.ColdWatch(ctx, 0)
	if err != nil {
		return err
	}
	return d.Read(ctx, func(v desk.View) error {
		sheet := v.Sheet(day, at)
		v.Today, v.Now = day, at
		f(v, sheet, v.Released(cold.Air, cold.AirTold))
		return nil
	})
}

// shape puts a sheet into its JSON form.
func (c tallyShow) shape(v desk.View, sheet *tally.Sheet, sh shaper) map[string]any {
	rows, phones, notes, moves := []rowJSON{}, []map[string]string{}, []map[string]any{}, []string{}
	for _, r := range sheet.Rows {
		x := rowJSON{Person: v.PersonName(r.Person), Species: r.Species, Kept: r.Kept, AtLeast: sheet.AtLeast(), PutBack: r.PutBack, Held: r.Held, Asked: r.Asked,
			State: string(r.State), Times: []string{}}
		if r.Limited {
			x.Binding = r.Binding.String()
		}
		if r.Limited && sheet.Law.Verified() {
			x.Left = &r.Left
		}
		for _, t := range r.Times {
			x.Times = append(x.Times, t.In(sh.zone).Format(time.RFC3339))
		}
		rows = append(rows, x)
	}
	for _, p := range sheet.Phones {
		x := map[string]string{"phone": shortID(p.Journal)}
		if !p.Heard.IsZero() {
			x["heard"] = p.Heard.In(sh.zone).Format(time.RFC3339)
		}
		phones = append(phones, x)
	}
	for _, n := range sheet.Notes {
		notes = append(notes, map[string]any{"code": n.Code, "person": v.PersonName(n.Person), "species": n.Species, "count": n.Count, "text": say.Noted(v.PersonName(n.Person), n, sheet.Law)})
	}
	for _, m := range v.Ledger().Moves {
		if m.Day == sheet.Day && !m.When.After(sheet.At) {
			moves = append(moves, say.Moved(m, v.PersonName(m.Person), v.PersonName(m.Other)))
		}
	}
	out := map[string]any{"day": sheet.Day, "standing": sheet.Law.Standing, "law": say.Law(sheet.Law), "rows": rows, "unnamed": sheet.Unnamed, "kept": sheet.Kept(), "phones": phones, "notes": notes,
		"moves": moves}
	if c.Fish {
		out["fish"] = c.fish(v, sheet, sh)
	}
	return out
}

// fish lists the day's fish with their traces.
func (c tallyShow) fish(v desk.View, sheet *tally.Sheet, sh shaper) []fishJSON {
	out := []fishJSON{}
	for _, f := range sheet.Fish() {
		x := fishJSON{ID: shortID(f.ID), Time: f.When.In(sh.zone).Format(time.RFC3339), Person: v.PersonName(f.Person), Hooked: v.PersonName(f.Hooked), Landed: v.PersonName(f.Landed),
			Species: f.Species, Count: f.Count, Kept: f.Kept, Fate: f.Fate, Flag: f.Flag, Trace: []string{}}
		for _, ch := range f.Changes {
			x.Trace = append(x.Trace, sh.voice.Changed(ch, v.PersonName(ch.To)))
		}
		out = append(out, x)
	}
	return out
}

// print writes a sheet for people.
func (c tallyShow) print(g *Globals, v desk.View, sheet *tally.Sheet, sh shaper) {
	g.say("%s", say.Law(sheet.Law))
	g.lines("", sh.voice.Phones(sheet))
	for _, r := range sheet.Rows {
		if r.Kept+r.PutBack+r.Held == 0 && !c.main(sheet, r) {
			continue
		}
		line := fmt.Sprintf("%-18s %-9s %s kept, %d put back", v.PersonName(r.Person), r.Species, say.KeptCount(r.Kept, sheet), r.PutBack)
		for _, x := range []string{say.Left(r, sheet.Law), say.Room(r, sheet)} {
			if x != "" {
				line += ", " + x
			}
		}
		g.say("%s", line)
	}
	for species, n := range sheet.Unnamed {
		g.say("%d kept %s without a name: counted against everybody", n, species)
	}
	for _, n := range sheet.Notes {
		g.say("! %s", say.Noted(v.PersonName(n.Person), n, sheet.Law))
	}
	for _, m := range v.Ledger().Moves {
		if m.Day == sheet.Day && !m.When.After(sheet.At) {
			g.say("%s %s", sh.voice.Clock(m.When), say.Moved(m, v.PersonName(m.Person), v.PersonName(m.Other)))
		}
	}
	if c.Fish {
		for _, f := range c.fish(v, sheet, sh) {
			fate := "put back"
			if f.Kept {
				fate = "kept"
			}
			g.say("%s %s %s %d %s %s %s", f.ID, f.Time[11:16], f.Person, f.Count, f.Species, fate, f.Flag)
			g.lines("       ", f.Trace...)
		}
	}
}

type bandJSON struct {
	From  float64 `json:"from_m"`
	To    float64 `json:"to_m,omitempty"` // absent: and deeper, or the depth is not known
	Known bool    `json:"depth_known"`
	Count int     `json:"count"`
	Float int     `json:"floated"`
	Low   float64 `json:"die_low"`
	High  float64 `json:"die_high"`
}

// bandsJSON counts what was put back by depth.
func bandsJSON(put []care.Released) []bandJSON {
	out := []bandJSON{}
	for _, b := range care.Count(put) {
		out = append(out, bandJSON{round(b.From.Metres(), 2), round(b.To.Metres(), 2), b.From > 0 || b.To > 0, b.Count, b.Floated, round(b.Low, 2), round(b.High, 2)})
	}
	return out
}

// main tells whether a row is shown though nothing happened: the day's target.
func (tallyShow) main(sheet *tally.Sheet, r tally.Row) bool {
	return r.Limited && sheet.Kept()[r.Species] > 0
}

// holding is what the commands on possession have in common.
type holding struct {
	What, From, To, Species, Note string
	Count, Packs                  int64
}

func (c holding) record(ctx context.Context, d *desk.Desk) error {
	x, err := c.act(ctx, d)
	if err != nil {
		return err
	}
	return d.Hold(ctx, x)
}

// act finds the people that were named.
func (c holding) act(ctx context.Context, d *desk.Desk) (desk.HoldAct, error) {
	x := desk.HoldAct{Words: c.Note, Possession: journal.Possession{What: c.What, Species: c.Species, Count: c.Count, Packs: c.Packs}}
	err := d.Read(ctx, func(v desk.View) (err error) {
		from, to := uuid.Nil, uuid.Nil
		if c.From != "" {
			if from, err = v.GuestNamed(c.From); err != nil {
				return err
			}
		}
		if c.To != "" {
			if to, err = v.GuestNamed(c.To); err != nil {
				return err
			}
		}
		x.Person, x.Other = from, to
		if from == uuid.Nil && to != uuid.Nil {
			x.Person, x.Other, x.What = to, uuid.Nil, "gift_in"
		}
		return nil
	})
	return x, err
}

func (c holding) save(ctx context.Context, g *Globals) error {
	if err := g.record(ctx, "/local/hold", c); err != nil {
		return err
	}
	return g.saved()
}

type tallyCarried struct {
	Name    string `arg:"" help:"Who." placeholder:"NAME"`
	Count   int64  `arg:"" help:"How many; 0 says that nothing was carried over." placeholder:"COUNT"`
	Species string `arg:"" help:"Species." placeholder:"SPECIES"`
}

func (c tallyCarried) Run(ctx context.Context, g *Globals) error {
	return holding{What: "carried", From: c.Name, Count: c.Count, Species: c.Species}.save(ctx, g)
}

type tallyEaten tallyCarried

func (c tallyEaten) Run(ctx context.Context, g *Globals) error {
	return holding{What: "eaten", From: c.Name, Count: c.Count, Species: c.Species}.save(ctx, g)
}

type tallyCleaned struct {
	tallyCarried `embed:""`
	Packs        int64 `help:"Into how many packs." placeholder:"N"`
}

func (c tallyCleaned) Run(ctx context.Context, g *Globals) error {
	return holding{What: "processed", From: c.Name, Count: c.Count, Species: c.Species, Packs: c.Packs}.save(ctx, g)
}

type tallyGift struct {
	Count   int64  `arg:"" help:"How many." placeholder:"COUNT"`
	Species string `arg:"" help:"Species." placeholder:"SPECIES"`
	From    string `help:"Who gave; left out: somebody outside the party." placeholder:"NAME"`
	To      string `help:"Who got; left out: somebody outside the party." placeholder:"NAME"`
	Note    string `help:"The note that goes with it, as it was signed and dated." placeholder:"WORDS"`
}

func (c tallyGift) Run(ctx context.Context, g *Globals) error {
	if c.From == "" && c.To == "" {
		return fault.New(fault.BadInput, "Give --from NAME, --to NAME, or both.", "a gift without a person")
	}
	return holding{What: "gift_out", From: c.From, To: c.To, Count: c.Count, Species: c.Species, Note: c.Note}.save(ctx, g)
}

type tallyCorrect struct {
	Fish    string  `arg:"" help:"Which fish, by the six digits that tally --fish prints." placeholder:"ID"`
	To      string  `help:"Whose it is." placeholder:"NAME"`
	Slip    bool    `help:"It never was kept: a slip of the hand."`
	PutBack bool    `help:"It was kept and put back later. Where the law lets nobody replace a fish it still counts."`
	Cm      float64 `name:"cm" help:"How long it is, in centimetres." placeholder:"N"`
	Why     string  `help:"Why; needed for all but a length." placeholder:"WORDS"`
}

func (c tallyCorrect) record(ctx context.Context, d *desk.Desk) error {
	return c.at(ctx, d, time.Time{})
}

// at corrects a fish; the zero time is now.
func (c tallyCorrect) at(ctx context.Context, d *desk.Desk, at time.Time) error {
	said := 0
	for _, x := range []bool{c.To != "", c.Slip, c.PutBack, c.Cm != 0} {
		if x {
			said++
		}
	}
	if said != 1 {
		return fault.New(fault.BadInput, "Use one of --to NAME, --slip, --put-back, --cm N.", "the correction says nothing, or two things")
	}
	var fish, to uuid.UUID
	err := d.Read(ctx, func(v desk.View) (err error) {
		var found []*tally.Fish
		for _, f := range v.Ledger().Fish {
			if strings.HasSuffix(f.ID.String(), strings.ToLower(c.Fish)) && len(c.Fish) >= 4 {
				found = append(found, f)
			}
		}
		if len(found) != 1 {
			return fault.New(fault.NotFound, "icehand tally --fish lists them.", "%d fish end in %.40q", len(found), c.Fish)
		}
		fish = found[0].ID
		if c.To != "" {
			to, err = v.GuestNamed(c.To)
		}
		return err
	})
	switch {
	case err != nil:
		return err
	case c.To != "":
		return d.Reassign(ctx, desk.Act{At: at}, fish, to, c.Why)
	case c.Cm != 0:
		return d.Measure(ctx, desk.Act{At: at}, fish, quantity.Length(c.Cm)*quantity.Centimetre)
	}
	return d.Unkeep(ctx, desk.Act{At: at}, fish, c.Slip, c.Why)
}

func (c tallyCorrect) Run(ctx context.Context, g *Globals) error {
	if err := g.record(ctx, "/local/fish", c); err != nil {
		return err
	}
	return g.saved()
}

type tallyShare struct {
	With []string `arg:"" optional:"" help:"Phones, by the six digits that tally prints; left out: all that wrote today." placeholder:"PHONE"`
}

func (c tallyShare) record(ctx context.Context, d *desk.Desk) error {
	var with []uuid.UUID
	err := d.Read(ctx, func(v desk.View) error {
		sheet := v.Sheet(v.Today, v.Now)
		for _, p := range sheet.Phones {
			if len(c.With) == 0 {
				with = append(with, p.Journal)
			}
			for _, w := range c.With {
				if strings.HasSuffix(p.Journal.String(), strings.ToLower(w)) {
					with = append(with, p.Journal)
				}
			}
		}
		if len(with) < len(c.With) {
			return fault.New(fault.NotFound, "icehand tally lists the phones that wrote today.", "a phone that was named is not known")
		}
		return nil
	})
	if err != nil {
		return err
	}
	return d.HandOut(ctx, desk.Act{}, with)
}

func (c tallyShare) Run(ctx context.Context, g *Globals) error {
	if err := g.record(ctx, "/local/portion", c); err != nil {
		return err
	}
	return g.saved()
}
