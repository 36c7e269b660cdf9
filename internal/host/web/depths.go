package web

import (
	"net/http"

	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
)

// depthsForm tells the depths at which the guide finds perch, and takes new ones.
type depthsForm struct {
	Told   []string
	Unit   string
	Stages []optionView
}

var stageOptions = [][2]string{{"", "all season"}, {"early", "first ice"}, {"mid", "midwinter"}, {"late", "late ice"}}

// toldDepths fills the form with what is on record.
func toldDepths(v *visit, d desk.View) depthsForm {
	f := depthsForm{Unit: "m"}
	if v.settings.Units == quantity.US {
		f.Unit = "ft"
	}
	for _, t := range d.ToldDepths() {
		f.Told = append(f.Told, v.voice.ToldDepths(t))
	}
	return f
}

// postDepths keeps the depths that the guide tells.
func (h *handler) postDepths(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	t := desk.DepthsText{Low: r.PostForm.Get("low"), High: r.PostForm.Get("high"), Stage: r.PostForm.Get("stage"), Unit: quantity.Metre}
	if v.settings.Units == quantity.US {
		t.Unit = quantity.Foot
	}
	if err := h.Desk.TellDepths(r.Context(), a, t); err != nil {
		return err
	}
	return back(w, r, "/evening")
}
