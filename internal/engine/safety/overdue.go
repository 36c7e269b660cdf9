package safety

import (
	"slices"
	"time"

	"icehand/internal/base/quantity"
)

// Steps of a party that is overdue, in the order in which they are taken.
const (
	CallParty  = "call_party"  // their telephones, the radio
	LookFor    = "look_for"    // somebody on the ice or at the landing looks for the vehicle
	CallRescue = "call_rescue" // with the sheet
)

// States of a trip.
const (
	TripPlanned   = "planned"
	TripOut       = "on_ice"
	TripDue       = "due" // a check-in was missed, or the hour agreed has passed
	TripReturning = "returning"
	TripAshore    = "ashore"
)

// OverdueStep is a step with its minutes past the hour agreed.
type OverdueStep struct {
	Do    string
	After time.Duration
	Dark  time.Duration // the same after dark or in hard cold; 0: no other
}

// UsualSteps are the steps of an outfit that told none of its own. Common practice, no source: outdoor programmes wait hours, which is far too long in
// this cold.
func UsualSteps() []OverdueStep {
	return []OverdueStep{{CallParty, 15 * time.Minute, 0}, {LookFor, 30 * time.Minute, 0}, {CallRescue, 60 * time.Minute, 30 * time.Minute}}
}

// HardChill is the wind chill from which the shorter minutes hold. Common practice, no source.
const HardChill quantity.Celsius = -30

// OverdueInput is what is known of a trip at an instant. Every time in it is a stored one, so that the same record gives the same answer on any
// machine and after any restart.
type OverdueInput struct {
	Now       time.Time
	Agreed    time.Time     // hour agreed to be ashore; zero: none
	Dusk      time.Time     // civil dusk of the day; zero: not known
	CheckIn   time.Duration // between check-ins; 0: none agreed
	Heard     time.Time     // last heard of: a check-in, or the first onto the ice; zero: never
	Returning time.Time     // set out for home; zero: not told
	Out       int           // people who are not surely ashore
	Was       bool          // somebody has been reported on the ice or ashore
	Chill     quantity.Celsius
	Chilled   bool // the wind chill is known; unknown counts as hard cold
	Steps     []OverdueStep
	Taken     map[string]time.Time // steps on record, by what was done
}

// StepAt is a step with its instant.
type StepAt struct {
	Do    string
	At    time.Time
	Short bool      // the shorter minutes hold
	Due   bool      // its time has come
	Taken time.Time // zero: not on record
}

// OverdueAnswer says how a trip stands with those who watch for it.
type OverdueAnswer struct {
	State   string
	By      time.Time // the hour from which they are overdue; zero: nobody can say
	Agreed  bool      // it was agreed; else dusk stands in
	Overdue bool      // not ashore by then
	CheckIn time.Time // the next check-in is due; zero: none
	Missed  bool      // it has passed
	Steps   []StepAt
	Next    int // the first step that is not on record; len(Steps): none is left
}

// Watching works out how a trip stands. Without an hour agreed dusk stands in for it: nobody is left without a step. Steps never come later for
// want of knowledge.
func Watching(in OverdueInput) OverdueAnswer {
	a := OverdueAnswer{State: TripPlanned, By: in.Agreed, Agreed: !in.Agreed.IsZero()}
	if !a.Agreed {
		a.By = in.Dusk
	}
	home := in.Was && in.Out == 0
	if in.CheckIn > 0 && !in.Heard.IsZero() && !home {
		a.CheckIn = in.Heard.Add(in.CheckIn)
		a.Missed = !in.Now.Before(a.CheckIn)
	}
	a.Overdue = !home && !a.By.IsZero() && in.Now.After(a.By) && (in.Was || in.Out > 0)
	switch {
	case home:
		a.State = TripAshore
	case !in.Was:
	case !in.Returning.IsZero():
		a.State = TripReturning
	case a.Overdue || a.Missed:
		a.State = TripDue
	default:
		a.State = TripOut
	}
	if a.By.IsZero() {
		return a
	}
	hard := !in.Chilled || in.Chill <= HardChill
	for _, s := range in.Steps {
		x := StepAt{Do: s.Do, At: a.By.Add(s.After), Taken: in.Taken[s.Do]}
		if s.Dark > 0 && s.Dark < s.After {
			early := a.By.Add(s.Dark)
			if hard || !in.Dusk.IsZero() && !early.Before(in.Dusk) || in.Dusk.IsZero() {
				x.At, x.Short = early, true
			}
		}
		x.Due = a.Overdue && !in.Now.Before(x.At)
		a.Steps = append(a.Steps, x)
	}
	slices.SortStableFunc(a.Steps, func(x, y StepAt) int { return x.At.Compare(y.At) })
	for a.Next < len(a.Steps) && !a.Steps[a.Next].Taken.IsZero() {
		a.Next++
	}
	return a
}
