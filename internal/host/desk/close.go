package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
	"icehand/internal/trade/rules"
	"icehand/internal/trade/tally"
)

// closeSetting is the key of the close of a day; the newest of a day counts.
const closeSetting = "day_close"

// Spell is a spell of fish at a hole.
type Spell struct {
	Hole     uuid.UUID
	From, To time.Time
	Fish     int
}

// Spells lists the day's spells of fish, the richest first.
func (v View) Spells(day journal.Day) (out []Spell) {
	times := map[uuid.UUID][]time.Time{}
	count := map[uuid.UUID]map[time.Time]int{}
	for _, f := range v.Party.Fish { // by time
		if f.Day != day || f.Hole == uuid.Nil || f.When.After(v.Now) {
			continue
		}
		times[f.Hole] = append(times[f.Hole], f.When)
		if count[f.Hole] == nil {
			count[f.Hole] = map[time.Time]int{}
		}
		count[f.Hole][f.When] += f.Count
	}
	for hole, at := range times {
		for _, s := range advise.Spells(at) {
			x := Spell{Hole: hole, From: s.First, To: s.Last}
			for t, n := range count[hole] {
				if !t.Before(s.First) && !t.After(s.Last) {
					x.Fish += n
				}
			}
			out = append(out, x)
		}
	}
	slices.SortFunc(out, func(a, b Spell) int {
		if a.Fish != b.Fish {
			return b.Fish - a.Fish
		}
		return a.From.Compare(b.From)
	})
	return out
}

// MostSpells is how many spells are offered; ours.
const MostSpells = 3

// Closing is what a day came to, and what is still open at its end.
type Closing struct {
	Day           journal.Day
	Kept, PutBack int
	Holes         int
	RodTime       time.Duration
	Drilled       quantity.Length
	Unnamed       int          // kept fish without a name
	Out           []string     // names of those not reported ashore
	Rods          int          // lines that are still down
	Notes         []tally.Note // what the law says against the ledger
	Bags          int          // fish counted in bags; meaningful when Counted
	Counted       bool
	Differ        []string     // whose bags differ from the tally
	Open          int          // holes that stand open and unmarked
	Due           []rules.Owed // reports owed of the day
}

// Closing gives what a day came to.
func (v View) Closing(day journal.Day) Closing {
	sheet := v.Sheet(day, v.Now)
	x := Closing{Day: day, Holes: len(v.Lake.HolesOn(day)), Notes: sheet.Notes, Due: sheet.Law.Reports()}
	for _, f := range sheet.Fish() {
		switch {
		case f.Kept:
			x.Kept += f.Count
			if f.Person == uuid.Nil {
				x.Unnamed += f.Count
			}
		case f.Fate != "lost":
			x.PutBack += f.Count
		}
	}
	x.RodTime = v.PaperTrip(day).RodTime
	_, x.Drilled, _, _ = v.HoleBudget(day)
	for _, s := range v.Party.RodsAt(v.Now) {
		if s.Day == day {
			x.Rods++
		}
	}
	where := map[uuid.UUID]party.Whereabouts{}
	for _, w := range v.Party.OnIce(v.Now) {
		where[w.Person] = w
	}
	for _, g := range v.Party.Guests {
		if w, told := where[g.ID]; g.Day == day && told && w.OnIce {
			x.Out = append(x.Out, v.Name(g.Name))
		}
	}
	for _, h := range v.Lake.OpenOn(day, v.Now) {
		if h.State != "marked" {
			x.Open++
		}
	}
	v.bagged(&x, sheet)
	return x
}

// bagged holds fish in bags against the tally.
func (v View) bagged(x *Closing, sheet *tally.Sheet) {
	bags, counted := v.BagsOf(x.Day)
	if x.Counted = counted; !counted {
		return
	}
	in := map[uuid.UUID]int{}
	for _, b := range bags.Bags {
		in[b.Person] += b.Fish
		x.Bags += b.Fish
	}
	kept := map[uuid.UUID]int{}
	for _, f := range sheet.Fish() {
		if f.Kept {
			kept[f.Person] += f.Count
		}
	}
	for _, g := range v.Party.Guests {
		if g.Day == x.Day && in[g.ID] != kept[g.ID] {
			x.Differ = append(x.Differ, v.Name(g.Name))
		}
	}
}

// CloseText is the close of a day as a person gives it: the five questions. What is left empty was not told.
type CloseText struct {
	Day                                      journal.Day
	Best                                     int // place of the best spell among [View.Spells], from 1; 0: not told
	Moved, MovedWords, Ice, IceWords, Guests string
	Tomorrow, TomorrowWords                  string
	Bags                                     []Bag    // fish as counted in bags; none: nobody counted
	Ticks                                    []string // duties of the law that are done
}

// Closed is a close of day as it was told.
type Closed struct {
	When time.Time
	Best *Spell // nil: not told
	closeBody
	MovedWords, IceWords, Guests, TomorrowWords string
}

// closeBody is the close as the journal keeps it; words are in a note, so that they can be erased.
type closeBody struct {
	Day      journal.Day `json:"day"`
	Hole     string      `json:"best_hole,omitempty"`
	From     int64       `json:"best_from,omitempty"`
	To       int64       `json:"best_to,omitempty"`
	Fish     int         `json:"best_fish,omitempty"`
	Moved    string      `json:"moved,omitempty"`
	Ice      string      `json:"ice,omitempty"`
	Tomorrow string      `json:"tomorrow,omitempty"`
	Note     string      `json:"note,omitempty"`
}

// closeMarks begin the lines of the note, in the order of the questions.
var closeMarks = []string{"moved: ", "ice: ", "guests: ", "tomorrow: "}

// closeCodes are the answers that may be chosen, in the order in which they are offered.
var closeCodes = map[string][]string{
	"moved":    {"wind", "light", "noise", "feed", "nothing", "unknown"},
	"ice":      {"none", "thinner", "crack", "ridge", "slush", "other"},
	"tomorrow": {"best", "new", "far", "near", "unknown"},
}

// CloseCodes lists what may be chosen for a question of the close of day: moved, ice or tomorrow.
func CloseCodes(question string) []string { return closeCodes[question] }

// mostCloseWords bounds the words of an answer; ours.
const mostCloseWords = 400

// CloseDay records the close of a day. Told again, the newer counts.
func (d *Desk) CloseDay(ctx context.Context, a Act, x CloseText) error {
	b := closeBody{Day: x.Day, Moved: x.Moved, Ice: x.Ice, Tomorrow: x.Tomorrow}
	note, err := x.words()
	if err != nil {
		return err
	}
	var with []*journal.Setting
	err = d.Read(ctx, func(v View) (err error) {
		if with, err = v.beside(x); err != nil || x.Best == 0 {
			return err
		}
		all := v.Spells(x.Day)
		if x.Best < 1 || x.Best > len(all) {
			return fault.New(fault.BadInput, "Choose one of the spells shown.", "there is no spell %d on that day", x.Best)
		}
		s := all[x.Best-1]
		b.Hole, b.From, b.To, b.Fish = s.Hole.String(), s.From.UnixMilli(), s.To.UnixMilli(), s.Fish
		return nil
	})
	if err != nil {
		return err
	}
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		var items []item
		for _, body := range with {
			items = append(items, item{journal.ContentID(d.lake.ID, journal.KindSetting, a.ID.String()+body.Key), a.At, body})
		}
		if note != "" {
			t, err := d.store.PutText(ctx, note)
			if err != nil {
				return fault.Wrap(err, fault.NotSaved, "Try again.", "the words were not saved")
			}
			id := journal.ContentID(d.lake.ID, journal.KindNote, a.ID.String())
			b.Note = id.String()
			items = append(items, item{id, a.At, &journal.Note{Text: t}})
		}
		value, err := json.Marshal(b)
		if err != nil {
			return fmt.Errorf("desk: closing a day: %w", err)
		}
		return d.write(ctx, append(items, item{a.ID, a.At, &journal.Setting{Key: closeSetting, Value: value}})...)
	})
}

// words checks the answers and gives their words, a line an answer.
func (x CloseText) words() (string, error) {
	if !x.Day.Valid() {
		return "", fault.New(fault.BadInput, "Choose a day.", "%q is not a date", string(x.Day))
	}
	for q, code := range map[string]string{"moved": x.Moved, "ice": x.Ice, "tomorrow": x.Tomorrow} {
		if code != "" && !slices.Contains(closeCodes[q], code) {
			return "", fault.New(fault.BadInput, "Choose one of those shown.", "%q is no answer to that question", code)
		}
	}
	var note []string
	for i, words := range []string{x.MovedWords, x.IceWords, x.Guests, x.TomorrowWords} {
		if len(words) > mostCloseWords {
			return "", fault.New(fault.BadInput, fmt.Sprintf("Up to %d letters an answer.", mostCloseWords), "an answer is too long")
		}
		if w := strings.Join(strings.Fields(words), " "); w != "" {
			note = append(note, closeMarks[i]+w)
		}
	}
	return strings.Join(note, "\n"), nil
}

// beside gives the entries of bags and duties that come with a close.
func (v View) beside(x CloseText) (out []*journal.Setting, err error) {
	if len(x.Bags) > 0 {
		body, err := Bags{Day: x.Day, Bags: x.Bags}.body()
		if err != nil {
			return nil, err
		}
		out = append(out, body)
	}
	if len(x.Ticks) > 0 {
		body, err := v.ticks(x.Day, x.Ticks)
		if err != nil {
			return nil, err
		}
		out = append(out, body)
	}
	return out, nil
}

// ClosedOn gives the newest close of a day; false when nobody closed it.
func (v View) ClosedOn(day journal.Day) (c Closed, told bool) {
	for _, s := range slices.Backward(v.Lake.Settings(closeSetting)) {
		if s.When.After(v.Now) || json.Unmarshal(s.Value, &c.closeBody) != nil || c.Day != day {
			c = Closed{}
			continue
		}
		c.When = s.When
		if hole, err := uuid.Parse(c.Hole); err == nil {
			c.Best = &Spell{hole, time.UnixMilli(c.From), time.UnixMilli(c.To), c.closeBody.Fish}
		}
		v.closeWords(&c)
		return c, true
	}
	return Closed{}, false
}

// closeWords reads the words of a close; erased ones stay empty.
func (v View) closeWords(c *Closed) {
	id, err := uuid.Parse(c.Note)
	if err != nil {
		return
	}
	f := v.Log.Find(id)
	if f == nil || !f.Counts() {
		return
	}
	n, ok := f.Body.(*journal.Note)
	if !ok {
		return
	}
	for _, line := range strings.Split(v.Name(n.Text), "\n") {
		for i, into := range []*string{&c.MovedWords, &c.IceWords, &c.Guests, &c.TomorrowWords} {
			if words, ok := strings.CutPrefix(line, closeMarks[i]); ok {
				*into = words
			}
		}
	}
}
