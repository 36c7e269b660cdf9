package web

import (
	"fmt"
	"net/http"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

// turnBackView is the page that sets another turn-back time, in two steps: a time with its reason, then what that
// leaves behind, and the key.
type turnBackView struct {
	Computed string // what the program works out
	Now      string // what counts now, when it is another one
	Fallen   string // why an earlier override no longer counts
	Until    string // the new time; "" in the first step
	Times    []optionLink
	Reasons  []reasonView
	Confirm  string // the sentence of the second step
	Past     []string
	Fields   []field
	Hours    []hourView // that end the day, as told
	Spare    []hourView // minutes taken off each of them
	Clear    []field    // takes back the override in force
	SetBack  string     // by how much the clock was set back today; "" when it was not
}

// hourView is an hour that ends the day, or minutes taken off it; Usual stands in an empty field.
type hourView struct{ Key, Word, Value, Usual string }

// hourWords says what each of those hours is.
var hourWords = map[string]string{desk.LegalClose: "Lawful until, every day", desk.FuelUntil: "Battery and fuel last until", desk.CrossingBy: "Over the last crossing by",
	desk.ColdUntil: "The coldest can be out until", desk.PackUp: "Packing up takes, minutes", desk.Margin: "Kept in hand, minutes"}

// hours lists the hours of a day that end it, and the minutes taken off them.
func (h *handler) hours(r *http.Request, day journal.Day) (hours, spare []hourView, err error) {
	told, err := h.Desk.Hours(r.Context(), day)
	for _, key := range desk.HourKeys() {
		hours = append(hours, hourView{key, hourWords[key], told[key], "not told"})
	}
	for _, key := range desk.SpareKeys() {
		spare = append(spare, hourView{key, hourWords[key], told[key], desk.UsualSpare(key)})
	}
	return hours, spare, err
}

// clockHint stands in an empty field for an hour; what nobody told must not look like an hour.
func clockHint(needed bool) string {
	if needed {
		return "such as 15:30"
	}
	return "not told"
}

type reasonView struct {
	Code, Word string
	Chosen     bool
}

// turnBackForm asks for a new time and one of five reasons; with both it asks once more.
func (h *handler) turnBackForm(w http.ResponseWriter, r *http.Request, v *visit) error {
	t, err := h.Desk.TurnBack(r.Context())
	if err != nil {
		return err
	}
	view := turnBackView{Computed: v.voice.Clock(t.Computed), Fallen: t.Fallen}
	if t.Override != nil {
		view.Now = v.home.Override
	}
	if t.SetBack > 0 {
		view.SetBack = fmt.Sprintf("The clock went back %s today. Which of the two times was right is not known, so turn-back counts as much earlier. Look at another clock.", say.Span((t.SetBack + time.Minute - 1).Truncate(time.Minute)))
	}
	q := r.URL.Query()
	for _, code := range say.OverrideReasons() {
		view.Reasons = append(view.Reasons, reasonView{code, say.OverrideReason(code), q.Get("reason") == code})
	}
	for _, by := range []time.Duration{-time.Hour, -30 * time.Minute, -15 * time.Minute, 15 * time.Minute, 30 * time.Minute, time.Hour} {
		if at := t.Computed.Add(by).Truncate(5 * time.Minute); at.After(v.now) {
			clock := v.voice.Clock(at)
			view.Times = append(view.Times, optionLink{clock, "/turn-back?until=" + clock, clock == q.Get("until")})
		}
	}
	var override uuid.UUID
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		override = overrideOf(d)
		return nil
	})
	if err != nil {
		return err
	}
	if view.Hours, view.Spare, err = h.hours(r, journal.DayOf(v.now, v.voice.Zone)); err != nil {
		return err
	}
	if override != uuid.Nil {
		view.Clear = []field{{"clear", override.String()}}
	}
	if view.Until = q.Get("until"); view.Until != "" && q.Get("reason") != "" {
		if err := view.confirm(v, t, q.Get("reason")); err != nil {
			return err
		}
	}
	return h.show(w, r, v, http.StatusOK, "Turn back", turnBackPage(view))
}

// confirm says what a new time means before it counts.
func (view *turnBackView) confirm(v *visit, t safety.TurnBack, reason string) error {
	until, err := newTurnBack(v, view.Until, reason)
	if err != nil {
		return err
	}
	by, way := until.Sub(t.Computed), "later"
	if by < 0 {
		by, way = -by, "earlier"
	}
	view.Confirm = fmt.Sprintf("Turn back %s: %s %s than computed. %s.", v.voice.Clock(until), say.Span(by), way, sentenceCase(say.OverrideReason(reason)))
	for _, d := range t.All {
		if d.Start.Before(until) {
			view.Past = append(view.Past, "Later than "+v.voice.Clock(d.Start)+": "+v.voice.Local(d.Text)+".")
		}
	}
	view.Fields = []field{{"until", view.Until}, {"reason", reason}}
	return nil
}

// newTurnBack reads a new time of today and its reason.
func newTurnBack(v *visit, text, reason string) (time.Time, error) {
	if say.OverrideReason(reason) == "" {
		return time.Time{}, fault.New(fault.BadInput, "Choose one of the five reasons.", "a new turn-back time needs a reason")
	}
	until, err := desk.ClockOn(journal.DayOf(v.now, v.voice.Zone), text, v.voice.Zone)
	if err != nil {
		return until, err
	}
	if !until.After(v.now) {
		return until, fault.New(fault.BadInput, "Give a time still to come, or head in.", "%s is over", text)
	}
	return until, nil
}

// overrideOf gives the newest override of today that counts; zero without one.
func overrideOf(d desk.View) uuid.UUID {
	facts := d.Log.Facts()
	for i := len(facts) - 1; i >= 0; i-- {
		f := facts[i]
		if f.Entry.Kind == journal.KindTurnBack && f.Counts() && f.Entry.Day == d.Today && f.Entry.Lake == d.Lake.ID {
			return f.Entry.ID
		}
	}
	return uuid.Nil
}

// postClockRight takes it that the guide has looked at another clock.
func (h *handler) postClockRight(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	if err := h.Desk.ClockIsRight(r.Context(), a); err != nil {
		return err
	}
	return back(w, r, "/turn-back")
}

// postTurnBack sets the new time, or takes the one in force back.
func (h *handler) postTurnBack(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	clear, err := uuidOf(r.PostForm, "clear")
	if err != nil {
		return err
	}
	if clear != uuid.Nil {
		err = h.Desk.Read(r.Context(), func(d desk.View) error {
			if f := d.Log.Find(clear); f == nil || f.Entry.Kind != journal.KindTurnBack {
				return fault.New(fault.NotFound, "Look at Day again.", "that turn-back time is not on record")
			}
			return nil
		})
		if err == nil {
			err = h.Desk.Retract(r.Context(), a, clear, "back to the computed time")
		}
	} else {
		var until time.Time
		if until, err = newTurnBack(v, r.PostForm.Get("until"), r.PostForm.Get("reason")); err == nil {
			err = h.Desk.SetTurnBack(r.Context(), a, until, r.PostForm.Get("reason"))
		}
	}
	if err != nil {
		return err
	}
	return back(w, r, "/day")
}
