package cli

import (
	"context"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

// closeCmd is the close of day: the five questions ashore, printed or answered.
type closeCmd struct {
	Date     string `help:"Day to close: a date, today or yesterday." default:"today" placeholder:"DATE"`
	Best     int    `help:"The best spell, by the number that close prints." placeholder:"N"`
	Moved    string `help:"What moved the fish, a guess: one of those printed, words, or both as wind: words." placeholder:"ANSWER"`
	Ice      string `help:"Ice surprises, likewise." placeholder:"ANSWER"`
	Guests   string `help:"A note on the guests." placeholder:"WORDS"`
	Tomorrow string `help:"The first idea for tomorrow, likewise." placeholder:"ANSWER"`
	Ashore   bool   `help:"Everybody of the day is ashore."`
}

// closeAnswers are the answers to the five questions.
type closeAnswers struct {
	Date          string `json:"date"`
	Best          int    `json:"best"`
	Moved         string `json:"moved"`
	MovedWords    string `json:"moved_words"`
	Ice           string `json:"ice"`
	IceWords      string `json:"ice_words"`
	Guests        string `json:"guests"`
	Tomorrow      string `json:"tomorrow"`
	TomorrowWords string `json:"tomorrow_words"`
	Ashore        bool   `json:"all_ashore"`
}

func (c closeAnswers) record(ctx context.Context, d *desk.Desk) error {
	return c.at(ctx, d, time.Time{})
}

// at records the close; the zero time is now.
func (c closeAnswers) at(ctx context.Context, d *desk.Desk, at time.Time) error {
	info, err := d.Info(ctx)
	if err != nil {
		return err
	}
	now := d.Clock()
	day, err := pastDay(c.Date, now, info.Zone)
	if err != nil {
		return err
	}
	if c.Ashore {
		if err := d.Report(ctx, desk.Act{At: at}, nil, "ashore"); err != nil {
			return err
		}
	}
	if c == (closeAnswers{Date: c.Date, Ashore: c.Ashore}) {
		return nil
	}
	return d.CloseDay(ctx, desk.Act{At: at}, desk.CloseText{Day: day, Best: c.Best, Moved: c.Moved, MovedWords: c.MovedWords, Ice: c.Ice, IceWords: c.IceWords, Guests: c.Guests,
		Tomorrow: c.Tomorrow, TomorrowWords: c.TomorrowWords})
}

// pastDay reads a date, today or yesterday; "" is today.
func pastDay(text string, now time.Time, zone *time.Location) (journal.Day, error) {
	switch text {
	case "":
		text = "today"
	case "yesterday":
		return journal.DayOf(now.AddDate(0, 0, -1), zone), nil
	}
	day, ok := dayOf(text, now, zone)
	if !ok {
		return "", fault.New(fault.BadInput, "Write 2026-01-15, today or yesterday.", "%q is not a date", text)
	}
	return day, nil
}

// choice parts an answer as typed into a choice and words.
func choice(question, typed string) (code, words string) {
	code, words, _ = strings.Cut(typed, ":")
	if code = strings.TrimSpace(code); say.CloseWord(question, code) == "" {
		return "", strings.TrimSpace(typed)
	}
	return code, strings.TrimSpace(words)
}

func (c closeCmd) Run(ctx context.Context, g *Globals) error {
	a := closeAnswers{Date: c.Date, Best: c.Best, Guests: c.Guests, Ashore: c.Ashore}
	a.Moved, a.MovedWords = choice("moved", c.Moved)
	a.Ice, a.IceWords = choice("ice", c.Ice)
	a.Tomorrow, a.TomorrowWords = choice("tomorrow", c.Tomorrow)
	if a != (closeAnswers{Date: c.Date}) {
		if err := g.record(ctx, "/local/close", a); err != nil {
			return err
		}
		return g.saved()
	}
	return g.question(ctx, func(s *session, sh shaper) error {
		day, err := pastDay(c.Date, s.now, s.zone)
		if err != nil {
			return err
		}
		return s.Read(ctx, func(v desk.View) error {
			out := closedJSON(v, day, sh)
			if g.JSON {
				return g.printJSON(out)
			}
			g.lines("", out.Closed...)
			if len(out.Closed) == 0 {
				g.say("Not closed yet.")
			}
			g.say("Kept %d, put back %d, %d holes, %s rod-hours.", out.Kept, out.PutBack, out.Holes, strconv.FormatFloat(out.RodHours, 'f', 1, 64))
			g.lines("! ", out.Wants...)
			for i, x := range out.Spells {
				g.say("  %d  %s", i+1, x)
			}
			for _, q := range []string{"moved", "ice", "tomorrow"} {
				g.say("  --%s: %s", q, strings.Join(desk.CloseCodes(q), ", "))
			}
			return nil
		})
	})
}

type closedDayJSON struct {
	Day      journal.Day         `json:"day"`
	Closed   []string            `json:"closed"` // the answers in words; empty: not closed
	At       string              `json:"at,omitempty"`
	Spells   []string            `json:"spells"`
	Choices  map[string][]string `json:"choices"`
	Kept     int                 `json:"kept"`
	PutBack  int                 `json:"put_back"`
	Holes    int                 `json:"holes"`
	RodHours float64             `json:"rod_hours"`
	DrilledM float64             `json:"drilled_m"` // of ice, at the day's mean thickness
	Wants    []string            `json:"wants"`     // what is still open before the day can be closed in good conscience
	Overrule []string            `json:"overruled"`
}

// closedJSON gives what a day came to and how it was closed.
func closedJSON(v desk.View, day journal.Day, sh shaper) closedDayJSON {
	x := v.Closing(day)
	out := closedDayJSON{Day: day, Closed: []string{}, Spells: []string{}, Choices: map[string][]string{}, Kept: x.Kept, PutBack: x.PutBack, Holes: x.Holes, RodHours: round(x.RodTime.Hours(), 2), DrilledM: round(x.Drilled.Metres(), 2),
		Wants: append([]string{}, sh.voice.Wants(x)...), Overrule: []string{}}
	for _, q := range []string{"moved", "ice", "tomorrow"} {
		out.Choices[q] = desk.CloseCodes(q)
	}
	if c, told := v.ClosedOn(day); told {
		out.Closed, out.At = sh.voice.Closed(c), sh.time(c.When)
	}
	for _, s := range v.Spells(day) {
		if len(out.Spells) < desk.MostSpells {
			out.Spells = append(out.Spells, sh.voice.Spell(s))
		}
	}
	for _, s := range v.StayedOn(day) {
		out.Overrule = append(out.Overrule, sh.voice.Clock(s.From)+" "+sh.voice.StayedOn(s))
	}
	return out
}

// bagText is fish in one person's bags.
type bagText struct {
	Who     string `json:"who"`
	Species string `json:"species"` // "": perch
	Fish    int    `json:"fish"`
}

// bagsCmd records fish in bags.
type bagsCmd struct {
	Day  journal.Day
	Bags []bagText
}

func (c bagsCmd) record(ctx context.Context, d *desk.Desk) error { return c.at(ctx, d, time.Time{}) }

// at records the count; the zero time is now, and no day is today.
func (c bagsCmd) at(ctx context.Context, d *desk.Desk, at time.Time) error {
	b := desk.Bags{Day: c.Day}
	err := d.Read(ctx, func(v desk.View) error {
		if b.Day == "" {
			b.Day = v.Today
		}
		v.Today = b.Day // names are those of that day
		for _, x := range c.Bags {
			who, err := v.GuestNamed(x.Who)
			if err != nil {
				return err
			}
			if x.Species == "" {
				x.Species = "perch"
			}
			b.Bags = append(b.Bags, desk.Bag{Person: who, Species: x.Species, Fish: x.Fish})
		}
		return nil
	})
	if err != nil {
		return err
	}
	if len(b.Bags) == 0 {
		return fault.New(fault.BadInput, "Count at least one bag.", "no bag was counted")
	}
	return d.TellBags(ctx, desk.Act{At: at}, b)
}
