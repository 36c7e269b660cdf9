package web

import (
	"fmt"
	"math"
	"net/http"

	"icehand/internal/base/fault"
	"icehand/internal/engine/advise"
)

// why answers the ten questions about the next step on a page of their own, one tap away from the map.
func (h *handler) why(w http.ResponseWriter, r *http.Request, v *visit) error {
	view, err := h.stepNow(r, v)
	if err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Why", whyPage(view))
}

// stepNow gives the next step from where the phone stands; without an outline it says why there is none.
func (h *handler) stepNow(r *http.Request, v *visit) (stepView, error) {
	step, err := h.Desk.Next(r.Context(), nil)
	switch {
	case err == nil:
		return v.step(step, v.voice.Step(step)), nil
	case fault.CodeOf(err) == fault.Missing && v.lake:
		return stepView{Trouble: fault.Public(err).Error()}, nil
	}
	return stepView{}, err
}

// notThereFields give the form that rules a step's place out; nil when the step leads nowhere.
func notThereFields(s advise.Step) []field {
	if s.Do != advise.Drill && s.Do != advise.Look {
		return nil
	}
	return []field{{"e", fmt.Sprintf("%.0f", math.Round(s.To.E*10))}, {"n", fmt.Sprintf("%.0f", math.Round(s.To.N*10))}}
}

// postNotThere rules a place out for the day: the guide knows better.
func (h *handler) postNotThere(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	at, err := localOf(r.PostForm)
	if err != nil {
		return err
	}
	if at == nil {
		return fault.New(fault.BadInput, "Press Not there beside the step.", "no place was told")
	}
	if err := h.Desk.NotThere(r.Context(), a, *at); err != nil {
		return err
	}
	return back(w, r, done(a))
}
