package web

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
)

// linesView is the part of the way page that records the line travelled, and tells what was recorded today.
type linesView struct {
	People []nameView // who may come along
	Lines  []lineView
}

type lineView struct{ ID, Words string }

// lines fills that part.
func (h *handler) lines(r *http.Request, v *visit) (view linesView, err error) {
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		for _, g := range todaysPeople(d) {
			view.People = append(view.People, nameView{g.ID.String(), personName(d, g)})
		}
		return nil
	})
	if err != nil {
		return view, err
	}
	lines, err := h.Desk.Lines(r.Context())
	for i := len(lines) - 1; i >= 0; i-- {
		view.Lines = append(view.Lines, lineView{lines[i].ID.String(), v.voice.Line(lines[i])})
	}
	return view, err
}

// postLine takes a part of a line from the page's script: fixes parted by semicolons, each its age in ms, latitude, longitude and accuracy in metres,
// parted by spaces. Ages do not mind a clock that is off.
func (h *handler) postLine(w http.ResponseWriter, r *http.Request, _ *visit) error {
	if err := ParseForm(r); err != nil {
		return err
	}
	if h.Desk.Told() {
		return fault.New(fault.BadInput, "Record a line on a lake of your own.", "this lake is made up, and the phone does not stand on it")
	}
	act, err := actOf(r.PostForm)
	if err != nil {
		return err
	}
	a := desk.LineAct{Act: act, Purpose: r.PostForm.Get("purpose")}
	if a.Of, err = uuidOf(r.PostForm, "of"); err != nil {
		return err
	}
	if a.Of == uuid.Nil {
		a.Of = act.ID
	}
	for _, p := range r.PostForm["people"] {
		id, err := uuid.Parse(p)
		if err != nil {
			return fault.New(fault.BadInput, "Choose people of today.", "%q is nobody of today", p)
		}
		a.People = append(a.People, id)
	}
	if a.Fixes, err = fixesOf(r.PostForm.Get("fixes"), h.Desk.Clock()); err != nil {
		return err
	}
	poor, err := h.Desk.RecordLine(r.Context(), a)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	return json.NewEncoder(w).Encode(map[string]int{"fixes": len(a.Fixes), "poor": poor})
}

// fixesOf reads fixes; one that makes no sense refuses them all, so that nothing is kept in half.
func fixesOf(text string, now time.Time) (out []desk.LineFix, err error) {
	for i, one := range strings.Split(text, ";") {
		parts := strings.Fields(one)
		var n [4]float64
		bad := len(parts) != len(n)
		for k := 0; k < len(n) && !bad; k++ {
			n[k], err = strconv.ParseFloat(parts[k], 64)
			bad = err != nil || math.IsNaN(n[k]) || math.IsInf(n[k], 0)
		}
		if bad || n[0] < 0 || n[0] > 1e9 {
			return nil, fault.New(fault.BadInput, "Stop recording and start it again.", "fix %d of the line cannot be read: %q", i+1, one)
		}
		out = append(out, desk.LineFix{When: now.Add(-time.Duration(n[0]) * time.Millisecond), At: geo.Position{Lat: n[1], Lon: n[2]}, Accuracy: quantity.Length(n[3])})
	}
	return out, nil
}

// postLineBack takes a line back.
func (h *handler) postLineBack(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	line, err := uuidOf(r.PostForm, "line")
	if err != nil {
		return err
	}
	if err := h.Desk.TakeBackLine(r.Context(), a, line); err != nil {
		return fmt.Errorf("web: taking a line back: %w", err)
	}
	return back(w, r, "/way")
}
