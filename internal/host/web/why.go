package web

import (
	"net/http"

	"icehand/internal/base/fault"
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
