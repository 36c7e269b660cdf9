package web

import (
	"net/http"

	"icehand/internal/host/desk"
	"icehand/internal/host/say"
)

// iceData is where the ice was read: the figure of each hole, and the ring within which it speaks.
type iceData struct {
	collection
	Text string `json:"text"`
}

// mapIce sends the ice readings of the last week. What lies outside the rings is untested, and no lines are drawn there.
func (h *handler) mapIce(w http.ResponseWriter, r *http.Request, v *visit) error {
	places, err := h.Desk.ReadPlaces(r.Context())
	if err != nil {
		return err
	}
	out := iceData{collection{Type: "FeatureCollection", Features: []feature{}}, "Ice as read. Outside the rings untested. Hazards override. Not a go."}
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		for _, p := range places {
			text := v.voice.Units.IceText(p.Reading.Total)
			if p.Bad != "" {
				text += " " + say.BadIce(p.Bad)
			}
			if p.Speaks == 0 {
				text += ", " + say.Age(d.Now.Sub(p.Reading.When))
			}
			out.Features = append(out.Features, pointFeature(p.Reading.At, map[string]any{"sort": "ice", "text": text, "radius": decimetres(p.Speaks.Metres()), "bad": p.Bad != ""}))
		}
		return nil
	})
	if err != nil {
		return err
	}
	return sendJSON(w, out)
}
