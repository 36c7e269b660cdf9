package say

import (
	"fmt"
	"strings"

	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
)

// SuspectTrouble stands wherever steps are shown.
const SuspectTrouble = "Suspect trouble? Call rescue now; do not wait for the steps."

// OverdueStep is a step in words.
type OverdueStep struct {
	Do, Clock, What, Note string
	Due, Taken            bool
}

// OverdueText is how a trip stands with those who watch for it, in words.
type OverdueText struct {
	State   string // one sentence
	Loud    bool
	By      string
	CheckIn string
	Out     string
	Steps   []OverdueStep
	Next    string // what to do now; "" while nothing is
	Basis   string
	Log     []string
}

// Overdue says how a trip stands.
func (v Voice) Overdue(o desk.Overdue) OverdueText {
	a := o.Answer
	t := OverdueText{State: map[string]string{safety.TripPlanned: "Planned: nobody is reported on the ice.", safety.TripOut: "On the ice.", safety.TripDue: "Due: not heard of in time.",
		safety.TripReturning: "On the way home.", safety.TripAshore: "Ashore: everybody is reported."}[a.State], Loud: a.Overdue || a.Missed}
	if a.Overdue {
		t.State = "Overdue since " + v.When(a.By) + ", " + Span(o.Now.Sub(a.By)) + "."
	}
	switch {
	case a.By.IsZero():
		t.By = "No hour is agreed and dusk is not known: no step can be timed. Agree an hour."
	case a.Agreed:
		t.By = "Ashore by " + v.When(a.By) + ", as agreed."
	default:
		t.By = "No hour is agreed: dusk, " + v.When(a.By) + ", stands in for it."
	}
	switch {
	case a.Missed:
		t.CheckIn = "Check-in missed: due " + v.When(a.CheckIn) + ", heard of last " + v.When(o.Heard) + ". Call them."
	case !a.CheckIn.IsZero():
		t.CheckIn = "Next check-in by " + v.When(a.CheckIn) + "; heard of last " + v.When(o.Heard) + "."
	}
	t.Out = Few(o.Out, "person", "people") + " not reported ashore."
	for i, s := range a.Steps {
		w := desk.StepWords(s.Do)
		x := OverdueStep{Do: s.Do, Clock: v.When(s.At), What: strings.ToUpper(w[:1]) + w[1:], Due: s.Due, Taken: !s.Taken.IsZero()}
		if x.Note = "+" + fmt.Sprint(int(s.At.Sub(a.By).Minutes())) + " min"; s.Short {
			x.Note += ", short: dark or hard cold, or not known"
		}
		if x.Taken {
			x.Note = "done " + v.When(s.Taken)
		}
		t.Steps = append(t.Steps, x)
		if i == a.Next && s.Due {
			t.Next = x.What + "."
		}
	}
	t.Basis = "Worked from what is on record, anew each time. The program only reminds: a named person ashore acts."
	for i := len(o.Log) - 1; i >= 0; i-- {
		h := o.Log[i]
		line := v.When(h.When) + "  " + map[string]string{"check_in": "checked in", "returning": "set out for home", "step": "step taken", "opened": "exact points opened", "incident": "incident begun", "incident_over": "incident ended"}[h.What]
		if h.Step != "" {
			line += ": " + desk.StepWords(h.Step)
		}
		if h.Note != "" {
			line += " (" + h.Note + ")"
		}
		t.Log = append(t.Log, line)
	}
	return t
}
