package web

import (
	"net/http"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/engine/icecover"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
)

// postIceTable puts a table in force, by whoever answers for it.
func (h *handler) postIceTable(w http.ResponseWriter, r *http.Request, _ *visit) error {
	if err := parseForm(r); err != nil {
		return err
	}
	a, err := actOf(r.PostForm)
	if err != nil {
		return err
	}
	by := strings.TrimSpace(r.PostForm.Get("by"))
	if len(by) > longestWord {
		return fault.New(fault.BadInput, "Write a shorter name.", "the name is too long")
	}
	if err := h.Desk.ChooseTable(r.Context(), a, r.PostForm.Get("agency"), by); err != nil {
		return err
	}
	return back(w, r, "/ice#tables")
}

// postIceEnded records that wind broke the ice or the water level changed: all readings before that end.
func (h *handler) postIceEnded(w http.ResponseWriter, r *http.Request, _ *visit) error {
	if err := parseForm(r); err != nil {
		return err
	}
	a, err := actOf(r.PostForm)
	if err != nil {
		return err
	}
	if err := h.Desk.EndReadings(r.Context(), a, icecover.Cause(r.PostForm.Get("cause")), ""); err != nil {
		return err
	}
	return back(w, r, "/ice")
}

// postFreezeUp records the day on which the main basin closed, from which the ice column runs.
func (h *handler) postFreezeUp(w http.ResponseWriter, r *http.Request, _ *visit) error {
	if err := parseForm(r); err != nil {
		return err
	}
	a, err := actOf(r.PostForm)
	if err != nil {
		return err
	}
	day := journal.Day(r.PostForm.Get("day"))
	if !day.Valid() {
		return fault.New(fault.BadInput, "Choose the day.", "%q is no day", string(day))
	}
	var name, zone string
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		switch {
		case !d.Lake.Known:
			return fault.New(fault.Missing, "Import its outline.", "no lake is recorded yet")
		case day > d.Today:
			return fault.New(fault.BadInput, "Choose the day on which it closed.", "%s is yet to come", day)
		}
		name, zone = d.Lake.Name, d.Lake.Zone.String()
		return nil
	})
	if err != nil {
		return err
	}
	if err := h.Desk.FoundLake(r.Context(), a, name, geo.Position{}, zone, day); err != nil {
		return err
	}
	return back(w, r, "/ice#rests-on")
}
