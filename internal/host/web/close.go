package web

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/rules"
)

// closeView is the close of day: what is still open, fish in bags, the five questions.
type closeView struct {
	Title   string
	Day     string
	Counts  string
	Wants   []string
	Ashore  string // key that reports everybody ashore; "" when all are
	Bags    []bagView
	Ticks   []tickView
	Best    []answerView
	Moved   []answerView
	Ice     []answerView
	Ideas   []answerView
	Words   map[string]string // as told last, by field
	Closed  string
	Answers []string
	Forms   []formDue
}

// bagView is a field for the fish in somebody's bags.
type bagView struct{ Name, Field, Value, ID string }

// tickView is a duty of the law that somebody says is done.
type tickView struct {
	Tick, Text string
	Done       bool
}

// answerView is one answer of a question.
type answerView struct {
	Code, Word string
	Chosen     bool
}

// formDue is an agency's form that is owed.
type formDue struct{ Key, Title, Of string }

func (h *handler) closeDay(w http.ResponseWriter, r *http.Request, v *visit) error {
	var view closeView
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		day, err := dayOf(r, d.Today, 0)
		if err != nil {
			return err
		}
		voice := v.voice // names are looked up in the view that is held
		voice.Hole = func(id uuid.UUID) string {
			if o := d.Lake.Hole(id); o != nil {
				return say.HoleName(o, day)
			}
			return ""
		}
		view.fill(d, voice, day)
		return nil
	})
	if err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Close of day", closePage(view))
}

// fill says what a day came to and what is still open.
func (view *closeView) fill(d desk.View, voice say.Voice, day journal.Day) {
	x := d.Closing(day)
	view.Title, view.Day = "Close "+say.Date(day), string(day)
	view.Counts = fmt.Sprintf("%d kept, %d put back, %d holes, %.1f rod-hours.", x.Kept, x.PutBack, x.Holes, x.RodTime.Hours())
	view.Wants = voice.Wants(x)
	if len(x.Out) > 0 {
		view.Ashore = fmt.Sprintf("All %d are ashore", len(x.Out))
	}
	view.bags(d, day)
	told := d.Ticked(day)
	for _, u := range d.Law(day).Duties() {
		if (u.When == rules.Evening || u.When == rules.Landing) && u.Tick != "" {
			view.Ticks = append(view.Ticks, tickView{u.Tick, u.Text, told[u.Tick]})
		}
	}
	c, closed := d.ClosedOn(day)
	if closed {
		view.Closed, view.Answers = "Closed "+voice.When(c.When)+".", voice.Closed(c)
	}
	for i, s := range d.Spells(day) {
		if i < desk.MostSpells {
			view.Best = append(view.Best, answerView{strconv.Itoa(i + 1), voice.Spell(s), c.Best != nil && c.Best.Hole == s.Hole && c.Best.From.Equal(s.From)})
		}
	}
	choices := func(question, told string) (out []answerView) {
		for _, code := range desk.CloseCodes(question) {
			out = append(out, answerView{code, say.CloseWord(question, code), code == told})
		}
		return out
	}
	view.Moved, view.Ice, view.Ideas = choices("moved", c.Moved), choices("ice", c.Ice), choices("tomorrow", c.Tomorrow)
	view.Words = map[string]string{"moved_words": c.MovedWords, "ice_words": c.IceWords, "guests": c.Guests, "tomorrow_words": c.TomorrowWords}
	made := map[string]bool{}
	for _, m := range d.MadeForms() {
		made[m.Form+m.Of] = true
	}
	for _, f := range d.Forms() {
		if !made[f.Key+string(day)] {
			view.Forms = append(view.Forms, formDue{f.Key, f.Title, string(day)})
		}
	}
}

// bags makes a field for every species that somebody kept, and one for each guest who kept nothing.
func (view *closeView) bags(d desk.View, day journal.Day) {
	counted := map[string]int{}
	bags, told := d.BagsOf(day)
	for _, b := range bags.Bags {
		counted[b.Person.String()+" "+b.Species] = b.Fish
	}
	sheet := d.Sheet(day, d.Now)
	for _, p := range sheet.People {
		species := map[string]int{}
		for _, f := range sheet.Fish() {
			if f.Person == p.ID && f.Kept {
				species[f.Species]++
			}
		}
		if len(species) == 0 && !p.Guides() {
			species["perch"] = 0
		}
		for _, s := range sorted(species) {
			key := p.ID.String() + " " + s
			b := bagView{Name: d.PersonName(p.ID), Field: "bag " + key, ID: "bag-" + p.ID.String() + "-" + strings.ReplaceAll(s, " ", "-")}
			if s != "perch" {
				b.Name += ", " + s
			}
			if n, ok := counted[key]; ok && told {
				b.Value = strconv.Itoa(n)
			}
			view.Bags = append(view.Bags, b)
		}
	}
}

// postClose records bags, duties done and the answers, all in one press.
func (h *handler) postClose(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	f := r.PostForm
	day := journal.Day(f.Get("day"))
	bags, err := bagsOf(f, day)
	if err != nil {
		return err
	}
	best := 0
	if s := f.Get("best"); s != "" {
		if best, err = strconv.Atoi(s); err != nil {
			return fault.New(fault.BadInput, "Choose one of the spells shown.", "%.20q is no spell", s)
		}
	}
	err = h.Desk.CloseDay(r.Context(), a, desk.CloseText{Day: day, Best: best, Moved: f.Get("moved"), MovedWords: f.Get("moved_words"), Ice: f.Get("ice"), IceWords: f.Get("ice_words"),
		Guests: f.Get("guests"), Tomorrow: f.Get("tomorrow"), TomorrowWords: f.Get("tomorrow_words"), Bags: bags.Bags, Ticks: f["tick"]})
	if err != nil {
		return err
	}
	return back(w, r, "/close?day="+string(day))
}

// bagsOf reads fish in bags as a form tells them; empty fields were not counted.
func bagsOf(f map[string][]string, day journal.Day) (desk.Bags, error) {
	b := desk.Bags{Day: day}
	for key, values := range f {
		rest, ok := strings.CutPrefix(key, "bag ")
		if !ok || len(values) == 0 || strings.TrimSpace(values[0]) == "" {
			continue
		}
		id, species, _ := strings.Cut(rest, " ")
		person, err := uuid.Parse(id)
		if err != nil || species == "" || len(species) > 40 {
			return b, fault.New(fault.BadInput, "Go back and enter it again.", "the form names no person")
		}
		n, err := strconv.Atoi(strings.TrimSpace(values[0]))
		if err != nil {
			return b, fault.New(fault.BadInput, "Write a whole number of fish.", "%.20q is no number of fish", values[0])
		}
		b.Bags = append(b.Bags, desk.Bag{Person: person, Species: species, Fish: n})
	}
	return b, nil
}

// postHandedIn tells that a form was handed in.
func (h *handler) postHandedIn(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err == nil {
		err = h.Desk.TellMade(r.Context(), a, r.PostForm.Get("form"), r.PostForm.Get("of"))
	}
	if err != nil {
		return err
	}
	return back(w, r, "/close?day="+r.PostForm.Get("of"))
}

// postTicks tells which of the law's duties are done today.
func (h *handler) postTicks(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	var today journal.Day
	err = h.Desk.Read(r.Context(), func(d desk.View) error { today = d.Today; return nil })
	if err == nil {
		err = h.Desk.TellTicks(r.Context(), a, today, r.PostForm["tick"])
	}
	if err != nil {
		return err
	}
	return back(w, r, "/rules")
}
