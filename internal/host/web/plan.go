package web

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

// planView is the trip plan that is left ashore, how the trip stands, and the steps.
type planView struct {
	Day, Title string
	Now        say.OverdueText
	Suspect    string
	Left       bool // a plan is on record
	Watcher    string
	Calls      []callView
	People     []sheetPerson
	Facts      [][2]string
	Sealed     string // what is said of the exact points
	CanOpen    bool
	Points     []pointView
	Number     string // the emergency number
	Incident   string // how long its clock runs; "" while none runs
	Tells      []tellKey
	Steps      []tellKey // the steps that are not on record
	Form       planForm
	Today      bool
}

type callView struct{ Who, Number, Href string }

type sheetPerson struct{ Name, Is, Where string }

type pointView struct{ Name, Grid, Minutes, Decimal string }

// tellKey is a key that records something between party and shore.
type tellKey struct {
	Word   string
	Fields []field
}

// planForm is what may be written.
type planForm struct {
	Watcher, Calls, Vehicles, Parked, Areas, Equipment, Remarks, Out, CheckIn string
	Steps                                                                     []stepField
	HasSealed                                                                 bool
}

type stepField struct{ Do, Word, After, Dark string }

// plan shows the trip plan.
func (h *handler) plan(w http.ResponseWriter, r *http.Request, v *visit) error {
	view, err := h.planView(r, v)
	if err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Trip plan", planPage(view))
}

func (h *handler) planView(r *http.Request, v *visit) (view planView, err error) {
	o, err := h.Desk.Overdue(r.Context())
	if err != nil {
		return view, err
	}
	view = planView{Day: string(o.Day), Title: "Trip plan, " + say.Date(o.Day), Now: v.voice.Overdue(o), Suspect: say.SuspectTrouble, Left: o.Plan != nil, Watcher: o.Sheet.Watcher,
		CanOpen: o.Sealed && (o.Answer.Overdue || !o.Incident.IsZero())}
	view.Today = o.Day == journal.DayOf(v.now, v.voice.Zone)
	for _, c := range o.Sheet.Calls {
		view.Calls = append(view.Calls, callView{c.Who, c.Number, "tel:" + strings.Map(dialKey, c.Number)})
	}
	view.sheet(v, o)
	switch {
	case !o.Sealed:
		view.Sealed = "No exact points are sealed."
	case view.CanOpen:
		view.Sealed = "Exact points are sealed. They may be opened now; that is written down."
	default:
		view.Sealed = "Exact points are sealed until the party is overdue."
	}
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		view.Number = Sentence(emergencyNumber(d))
		view.people(d, o)
		return nil
	})
	if err != nil {
		return view, err
	}
	if !o.Incident.IsZero() {
		view.Incident = "Incident since " + v.voice.When(o.Incident) + ": " + say.Span(o.Now.Sub(o.Incident)) + "."
	}
	view.keys(o)
	view.Form = formOf(o, v)
	return view, nil
}

// dialKey keeps what can be dialled.
func dialKey(r rune) rune {
	if r >= '0' && r <= '9' || r == '+' {
		return r
	}
	return -1
}

// sheet puts the plan's facts into words.
func (view *planView) sheet(v *visit, o desk.Overdue) {
	add := func(what, text string) {
		if text != "" {
			view.Facts = append(view.Facts, [2]string{what, text})
		}
	}
	if o.Plan != nil && !o.Plan.OutBy().IsZero() {
		add("On the ice from", v.voice.When(o.Plan.OutBy()))
	}
	add("Vehicles", strings.Join(o.Sheet.Vehicles, "; "))
	add("Parked", o.Sheet.Parked)
	add("Areas", strings.Join(o.Sheet.Areas, "; "))
	add("Equipment", o.Sheet.Equipment)
	add("Remarks", o.Sheet.Remarks)
}

// people lists the party with what a rescuer must know.
func (view *planView) people(d desk.View, o desk.Overdue) {
	where := map[string]string{"on_ice": "on the ice", "ashore": "ashore", "leaving": "on the way in, alone", "unseen": "out of sight"}
	state := map[string]string{}
	for _, x := range d.Party.OnIce(d.Now) {
		state[x.Person.String()] = where[x.State]
		if x.Contradictory {
			state[x.Person.String()] = "reports contradict"
		}
	}
	for _, id := range o.People {
		g := d.Party.Guest(id)
		p := sheetPerson{Name: personName(d, g), Is: g.Role + ", " + g.Age, Where: state[id.String()]}
		if g.Notes != nil {
			if n := d.Name(*g.Notes); n != "" {
				p.Is += "; " + n
			}
		}
		if p.Where == "" {
			p.Where = "not reported"
		}
		view.People = append(view.People, p)
	}
}

// keys lists what can be told now.
func (view *planView) keys(o desk.Overdue) {
	tell := func(word, what, step string) tellKey {
		return tellKey{word, []field{{"what", what}, {"step", step}}}
	}
	if s := o.Answer.State; s != safety.TripAshore && s != safety.TripPlanned {
		view.Tells = append(view.Tells, tell("Checked in", "check_in", ""))
		if s != safety.TripReturning {
			view.Tells = append(view.Tells, tell("On the way home", "returning", ""))
		}
	}
	if o.Incident.IsZero() {
		view.Tells = append(view.Tells, tell("Start the incident clock", "incident", ""))
	} else {
		view.Tells = append(view.Tells, tell("The incident is over", "incident_over", ""))
	}
	if o.Answer.Overdue {
		for _, s := range o.Answer.Steps {
			if s.Taken.IsZero() {
				view.Steps = append(view.Steps, tell("Done: "+desk.StepWords(s.Do), "step", s.Do))
			}
		}
	}
}

// formOf fills the form with what is on record.
func formOf(o desk.Overdue, v *visit) planForm {
	f := planForm{Watcher: o.Sheet.Watcher, Vehicles: strings.Join(o.Sheet.Vehicles, "\n"), Parked: o.Sheet.Parked, Areas: strings.Join(o.Sheet.Areas, "\n"), Equipment: o.Sheet.Equipment, Remarks: o.Sheet.Remarks, HasSealed: o.Sealed}
	for _, c := range o.Sheet.Calls {
		f.Calls += c.Who + ", " + c.Number + "\n"
	}
	steps := safety.UsualSteps()
	if p := o.Plan; p != nil {
		if !p.OutBy().IsZero() {
			f.Out = v.voice.Clock(p.OutBy())
		}
		if p.CheckIn > 0 {
			f.CheckIn = fmt.Sprint(p.CheckIn)
		}
		for i := range steps {
			for _, s := range p.Steps {
				if s.Do == steps[i].Do {
					f.Steps = append(f.Steps, stepField{s.Do, desk.StepWords(s.Do), fmt.Sprint(s.After), minutesText(s.Dark)})
				}
			}
		}
	}
	if len(f.Steps) == 0 {
		for _, s := range steps {
			f.Steps = append(f.Steps, stepField{s.Do, desk.StepWords(s.Do), fmt.Sprint(int(s.After.Minutes())), minutesText(int64(s.Dark.Minutes()))})
		}
	}
	return f
}

func minutesText(n int64) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprint(n)
}

// linesOf parts a text at its lines, empty ones left out.
func linesOf(text string) (out []string) {
	for _, s := range strings.Split(text, "\n") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// minutesOf reads minutes; "" is none.
func minutesOf(text, what string) (int64, error) {
	if text = strings.TrimSpace(text); text == "" {
		return 0, nil
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return 0, fault.New(fault.BadInput, "Write whole minutes, such as 30.", "%s: %q is no number of minutes", what, text)
	}
	return n, nil
}

// postPlan records the trip plan of a day.
func (h *handler) postPlan(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	f := r.PostForm
	x := desk.PlanText{Day: journal.Day(f.Get("day")), Out: strings.TrimSpace(f.Get("out")), Sealed: f.Get("sealed"), Sheet: desk.Sheet{Watcher: strings.TrimSpace(f.Get("watcher")), Vehicles: linesOf(f.Get("vehicles")),
		Parked: strings.TrimSpace(f.Get("parked")), Areas: linesOf(f.Get("areas")), Equipment: strings.TrimSpace(f.Get("equipment")), Remarks: strings.TrimSpace(f.Get("remarks"))}}
	for _, line := range linesOf(f.Get("calls")) {
		who, number, _ := strings.Cut(line, ",")
		x.Sheet.Calls = append(x.Sheet.Calls, desk.Call{Who: strings.TrimSpace(who), Number: strings.TrimSpace(number)})
	}
	if x.CheckIn, err = minutesOf(f.Get("check_in"), "check-in"); err != nil {
		return err
	}
	for _, do := range journal.PlanSteps() {
		s := journal.PlanStep{Do: do}
		if s.After, err = minutesOf(f.Get("after-"+do), desk.StepWords(do)); err != nil {
			return err
		}
		if s.Dark, err = minutesOf(f.Get("dark-"+do), desk.StepWords(do)); err != nil {
			return err
		}
		x.Steps = append(x.Steps, s)
	}
	if err := h.Desk.LeaveAshore(r.Context(), a, x); err != nil {
		return err
	}
	return back(w, r, "/plan")
}

// postTell records what happened between party and shore.
func (h *handler) postTell(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	if err := h.Desk.Tell(r.Context(), a, r.PostForm.Get("what"), r.PostForm.Get("step"), r.PostForm.Get("note")); err != nil {
		return err
	}
	if r.PostForm.Get("back") == "/help" {
		return back(w, r, "/help")
	}
	return back(w, r, "/plan")
}

// postOpen opens the sealed points, and shows them once.
func (h *handler) postOpen(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	points, err := h.Desk.OpenSealed(r.Context(), a, r.PostForm.Get("by"))
	if err != nil {
		return err
	}
	view, err := h.planView(r, v)
	if err != nil {
		return err
	}
	for _, p := range points {
		g, err := p.At.GridSquare(8)
		if err != nil {
			return err
		}
		view.Points = append(view.Points, pointView{p.Name, g.String(), p.At.DMMText(), p.At.DecimalText()})
	}
	return h.show(w, r, v, http.StatusOK, "Trip plan", planPage(view))
}

// incident says since when the incident clock runs; "" while none runs.
func (h *handler) incident(r *http.Request, v *visit) string {
	o, err := h.Desk.Overdue(r.Context())
	if err != nil || o.Incident.IsZero() {
		return ""
	}
	return "Incident since " + v.voice.When(o.Incident) + ": " + say.Span(o.Now.Sub(o.Incident)) + "."
}
