package web

import (
	"net/http"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/rules"
)

// rulesView is the rule book page.
type rulesView struct {
	Law     string
	InForce bool
	Due     []string // what the law asks on the day besides counts
	Against []string // what it has against the day as it stands
	Duties  []dutyView
	Books   []bookView
	Forms   []rules.Form
	Text    string // as typed, when it was refused
	By      string
	Trouble []string
}

// dutyView is what the law asks at a moment of the day.
type dutyView struct {
	Moment string
	Lines  []tickView
}

// moments are the moments of a day in order, with their words.
var moments = [][2]string{{string(rules.Before), "Before lines go down"}, {string(rules.OnIce), "On the ice"}, {string(rules.Landing), "At the landing"}, {string(rules.Evening), "In the evening"}}

// dutiesOf groups the duties of a law by their moment.
func dutiesOf(d desk.View, law rules.Law) (out []dutyView) {
	told := d.Ticked(law.Day)
	for _, m := range moments {
		x := dutyView{Moment: m[1]}
		for _, u := range law.Duties() {
			if string(u.When) == m[0] {
				x.Lines = append(x.Lines, tickView{u.Tick, dutyText(u), told[u.Tick]})
			}
		}
		if len(x.Lines) > 0 {
			out = append(out, x)
		}
	}
	return out
}

// dutyText says a duty, and of one that nothing here can watch, that it is only to be read.
func dutyText(u rules.Duty) string {
	if u.Tick == "" && u.Rule.Kind.Watched() == rules.ByEye {
		return u.Text + " (" + say.Watched(u.Rule.Kind) + ")"
	}
	return u.Text
}

// against says what the law has against the day, with names.
func against(d desk.View) (out []string) {
	for _, x := range d.Lawful() {
		text := x.Text
		if n := d.PersonName(x.Person); n != "" {
			text = n + ": " + text
		}
		out = append(out, Sentence(text))
	}
	return out
}

// bookView is one version.
type bookView struct {
	ID, Name, Span, Source string
	Entered, Checked       string
	Counts                 bool // for today's law
	Waits                  bool // nobody has checked it
	Rules                  []ruleLine
}

// ruleLine is one rule. Watched says how, where the record does not.
type ruleLine struct{ Head, Text, Source, Watched string }

func (h *handler) ruleBook(w http.ResponseWriter, r *http.Request, v *visit) error {
	return h.showRules(w, r, v, http.StatusOK, rulesView{})
}

// showRules shows the versions, with what was typed when it was refused.
func (h *handler) showRules(w http.ResponseWriter, r *http.Request, v *visit, status int, view rulesView) error {
	view.Forms = rules.Forms()
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		law := d.Law(d.Today)
		view.Law, view.InForce = say.Law(law), law.Verified()
		view.Duties, view.Against = dutiesOf(d, law), against(d)
		for _, o := range law.Reports() {
			view.Due = append(view.Due, Sentence(o.Text))
		}
		counts := map[*rules.Version]bool{}
		for _, x := range law.Versions {
			counts[x] = true
		}
		for i := len(d.Shelf.Versions) - 1; i >= 0; i-- {
			view.Books = append(view.Books, bookOf(d, d.Shelf.Versions[i], counts))
		}
		return nil
	})
	if err != nil {
		return err
	}
	return h.show(w, r, v, status, "Rule book", rulesPage(view))
}

func bookOf(d desk.View, x *rules.Version, counts map[*rules.Version]bool) bookView {
	b := bookView{ID: x.ID.String(), Name: x.Book.Name, Span: string(x.Book.From) + " to " + string(x.Book.To), Source: x.Book.Source + ", read " + string(x.Book.Retrieved),
		Entered: "Entered by " + d.Name(x.Entered), Checked: "checked by nobody yet", Counts: counts[x], Waits: !x.Signed()}
	var names []string
	for _, c := range x.Checks {
		names = append(names, d.Name(c.By))
	}
	if len(names) > 0 {
		b.Checked = "checked by " + strings.Join(names, ", ")
		if len(names) == 1 && names[0] == d.Name(x.Entered) {
			b.Checked += ": the same person"
		}
	}
	for _, r := range x.Book.Rules {
		b.Rules = append(b.Rules, ruleLine{r.Head(), r.Text, r.Source, say.Watched(r.Kind)})
	}
	return b
}

// postRules enters a rule book. One that is refused is shown again with all that is wrong with it; nothing is lost.
func (h *handler) postRules(w http.ResponseWriter, r *http.Request, v *visit) error {
	r.Body = http.MaxBytesReader(w, r.Body, 256<<10)
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	text := strings.ReplaceAll(r.PostForm.Get("text"), "\r\n", "\n") // a browser's line ends
	view := rulesView{Text: text, By: r.PostForm.Get("by")}
	if _, problems := rules.Read(text); len(problems) > 0 {
		for _, p := range problems {
			view.Trouble = append(view.Trouble, Sentence(p.String())+" "+p.Hint)
		}
		return h.showRules(w, r, v, http.StatusBadRequest, view)
	}
	if _, err := h.Desk.EnterRules(r.Context(), a, text, view.By); err != nil {
		if fault.CodeOf(err) != fault.BadInput {
			return err
		}
		view.Trouble = []string{Sentence(fault.Public(err).Error())}
		return h.showRules(w, r, v, http.StatusBadRequest, view)
	}
	return back(w, r, "/rules")
}

// postRulesSign says that somebody held a rule book against its source text.
func (h *handler) postRulesSign(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	book, err := uuidOf(r.PostForm, "book")
	if err == nil {
		err = h.Desk.SignRules(r.Context(), a, book, r.PostForm.Get("by"))
	}
	if err != nil {
		return err
	}
	return back(w, r, "/rules")
}

// postRulesWithdraw takes a rule book out of force.
func (h *handler) postRulesWithdraw(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	book, err := uuidOf(r.PostForm, "book")
	if err == nil {
		err = h.Desk.WithdrawRules(r.Context(), a, book, r.PostForm.Get("why"))
	}
	if err != nil {
		return err
	}
	return back(w, r, "/rules")
}

// ruleSample shows the form of a book; its figures are no law.
const ruleSample = "book: name of the rules\nsource: the text they are taken from\nretrieved: 2025-12-29\nfrom: 2026-01-01\nto: 2026-12-31\ndaily perch: ..."
