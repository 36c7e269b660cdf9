package cli

import (
	"context"
	"encoding/base64"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/engine/manner"
	"icehand/internal/engine/share"
	"icehand/internal/host/desk"
	guestreport "icehand/internal/host/report"
	"icehand/internal/trade/journal"
)

// do runs a command's record with the time of a line.
func (a *asker) do(ctx context.Context, t *time.Time, f func(at time.Time) error) (any, error) {
	at, err := a.at(t)
	if err == nil {
		err = f(at)
	}
	if err != nil {
		return nil, err
	}
	return a.done(ctx, uuid.Nil)
}

// doRules enters a rule book, signs one, or takes one out of force.
func (a *asker) doRules(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time     *time.Time `json:"time"`
		Text     string     `json:"text"` // of a book to enter
		By       string     `json:"by"`
		Sign     string     `json:"sign"` // who held the newest unsigned book, or the one named, against its source
		Withdraw bool       `json:"withdraw"`
		Book     string     `json:"book"`
		Why      string     `json:"why"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	if m.Text == "" && m.Sign == "" && !m.Withdraw {
		return nil, fault.New(fault.BadInput, `Give "text" with "by", "sign", or "withdraw" with "book" and "why".`, "nothing is said of a rule book")
	}
	return a.do(ctx, m.Time, func(at time.Time) error {
		if m.Text != "" {
			if _, err := a.desk.EnterRules(ctx, desk.Act{At: at}, m.Text, m.By); err != nil {
				return err
			}
		}
		book, err := versionNamed(ctx, a.desk, m.Book)
		switch {
		case err != nil:
			return err
		case m.Withdraw && book == uuid.Nil:
			return fault.New(fault.BadInput, `Give its last six digits as "book".`, "no rule book is named")
		case m.Withdraw:
			return a.desk.WithdrawRules(ctx, desk.Act{At: at}, book, m.Why)
		case m.Sign != "":
			return a.desk.SignRules(ctx, desk.Act{At: at}, book, m.Sign)
		}
		return nil
	})
}

// doHold records fish carried over, given, eaten or cleaned.
func (a *asker) doHold(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time    *time.Time `json:"time"`
		What    string     `json:"what"` // carried, gift, eaten, cleaned
		Who     string     `json:"who"`  // of a gift: who gave; "": somebody outside
		To      string     `json:"to"`   // of a gift: who got; "": somebody outside
		Species string     `json:"species"`
		Count   int64      `json:"count"`
		Packs   int64      `json:"packs"`
		Note    string     `json:"note"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	what, ok := map[string]string{"carried": "carried", "gift": "gift_out", "eaten": "eaten", "cleaned": "processed"}[m.What]
	if !ok {
		return nil, fault.New(fault.BadInput, "Use carried, gift, eaten or cleaned.", "%q is nothing that becomes of fish", m.What)
	}
	return a.do(ctx, m.Time, func(at time.Time) error {
		x, err := holding{What: what, From: m.Who, To: m.To, Species: m.Species, Note: m.Note, Count: m.Count, Packs: m.Packs}.act(ctx, a.desk)
		if err != nil {
			return err
		}
		x.At = at
		return a.desk.Hold(ctx, x)
	})
}

// doCorrect gives a fish to somebody else, or takes it off the tally; the fish is named by its digits, or as the newest of somebody.
func (a *asker) doCorrect(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time    *time.Time `json:"time"`
		Fish    string     `json:"fish"`
		Last    string     `json:"last_of"`
		To      string     `json:"to"`
		Slip    bool       `json:"slip"`
		PutBack bool       `json:"put_back"`
		Cm      float64    `json:"cm"`
		Why     string     `json:"why"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	return a.do(ctx, m.Time, func(at time.Time) error {
		c := tallyCorrect{Fish: m.Fish, To: m.To, Slip: m.Slip, PutBack: m.PutBack, Cm: m.Cm, Why: m.Why}
		if m.Last != "" {
			err := a.desk.Read(ctx, func(v desk.View) error {
				who, err := v.GuestNamed(m.Last)
				for _, f := range v.Ledger().Fish {
					if f.Person == who && f.Kept && !f.When.After(at) {
						c.Fish = f.ID.String()
					}
				}
				return err
			})
			if err != nil {
				return err
			}
		}
		return c.at(ctx, a.desk, at)
	})
}

// doBags records fish in bags, as counted at the cleaning table.
func (a *asker) doBags(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time *time.Time  `json:"time"`
		Day  journal.Day `json:"day"`
		Bags []bagText   `json:"bags"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	return a.do(ctx, m.Time, func(at time.Time) error { return bagsCmd{m.Day, m.Bags}.at(ctx, a.desk, at) })
}

// doClose closes the day: the five questions.
func (a *asker) doClose(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		closeAnswers
		Time *time.Time `json:"time"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	return a.do(ctx, m.Time, func(at time.Time) error { return m.at(ctx, a.desk, at) })
}

// askDay answers a question about a day, today when none is named.
func askDay(a *asker, ctx context.Context, line []byte, f func(sh shaper, day journal.Day) (any, error)) (any, error) {
	var m struct {
		verbField
		Time *time.Time `json:"time"`
		Date string     `json:"date"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	sh, err := newShaper(ctx, a.desk, a.g)
	if err != nil {
		return nil, err
	}
	if m.Date == "" {
		m.Date = "today"
	}
	day, ok := dayOf(m.Date, at, sh.zone)
	if !ok {
		return nil, fault.New(fault.BadInput, "Write 2026-01-15 or today.", "%q is not a date", m.Date)
	}
	return f(sh, day)
}

// askRules gives the law of a day.
func (a *asker) askRules(ctx context.Context, line []byte) (any, error) {
	return askDay(a, ctx, line, func(_ shaper, day journal.Day) (out any, err error) {
		err = a.desk.Read(ctx, func(v desk.View) error {
			out = rulesJSON(v, day, false)
			return nil
		})
		return out, err
	})
}

// askTally gives the ledger of a day.
func (a *asker) askTally(ctx context.Context, line []byte) (any, error) {
	return askDay(a, ctx, line, func(sh shaper, day journal.Day) (any, error) {
		return tallyShow{Fish: true}.answer(ctx, a.desk, sh, day, a.now)
	})
}

// askPresent tells what the record says of lures and manners.
func (a *asker) askPresent(ctx context.Context, line []byte) (any, error) {
	return askSimple(a, ctx, line, func(sh shaper) (out any, err error) {
		err = a.desk.Read(ctx, func(v desk.View) error {
			out = mannersJSON(v, sh)
			return nil
		})
		return out, err
	})
}

// askClose tells how a day was closed, and what could be chosen.
func (a *asker) askClose(ctx context.Context, line []byte) (any, error) {
	return askDay(a, ctx, line, func(sh shaper, day journal.Day) (out any, err error) {
		err = a.desk.Read(ctx, func(v desk.View) error {
			out = closedJSON(v, day, sh)
			return nil
		})
		return out, err
	})
}

// askReport makes a guest report: what it says, what it tells a stranger, and the page when it is asked for.
func (a *asker) askReport(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time  *time.Time  `json:"time"`
		Date  journal.Day `json:"date"`
		Words string      `json:"say"`
		Next  journal.Day `json:"next"`
		Depth bool        `json:"depth"`
		Page  bool        `json:"page"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	if m.Date == "" {
		info, err := a.desk.Info(ctx)
		if err != nil {
			return nil, err
		}
		m.Date = journal.DayOf(at, info.Zone)
	}
	r, err := a.desk.GuestReport(ctx, desk.ReportAsk{Day: m.Date, Words: m.Words, Next: m.Next, Depth: m.Depth, Units: a.g.system()})
	if err != nil {
		return nil, err
	}
	out := map[string]any{"title": r.Title(), "says": r.InWords(), "tells": tellsJSON(r), "never": share.Absent()}
	if m.Page {
		page, err := guestreport.Page(r)
		if err != nil {
			return nil, err
		}
		out["page_base64"] = base64.StdEncoding.EncodeToString(page)
	}
	return out, nil
}

// tellsJSON says what a report tells a stranger.
func tellsJSON(r share.Report) []tellJSON {
	out := []tellJSON{}
	for _, t := range r.Tells() {
		out = append(out, tellJSON(t))
	}
	return out
}

type mannerJSON struct {
	What   string  `json:"what"`
	Events int     `json:"events"`
	Hours  float64 `json:"rod_hours"`
	Sits   int     `json:"sits"`
	Rate   float64 `json:"an_hour"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
}

// mannersJSON compares lures and manners as the record has them, with what may be said of them.
func mannersJSON(v desk.View, sh shaper) map[string]any {
	rec := v.Manners()
	out := map[string]any{"untold_rod_hours": round(rec.Untold.Hours(), 2)}
	for key, by := range map[string]manner.By{"lures": manner.Lure, "manners": manner.MannerOf} {
		rows := []mannerJSON{}
		all := rec.Rows(by, "")
		for _, r := range all {
			rows = append(rows, mannerJSON{r.Name, r.Events, round(r.Time.Hours(), 2), r.Sits, round(r.Rate, 3), round(r.Low, 3), round(r.High, 3)})
		}
		out[key], out[key+"_say"] = rows, sh.voice.Compared(by, all)
	}
	return out
}
