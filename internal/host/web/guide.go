package web

import (
	"bytes"
	"fmt"
	"net/http"
	"strconv"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/lake"
)

// wayView is the page that leads home, or to a hole.
type wayView struct {
	say.GuideText
	Compass string
	Aloud   say.AloudText
	Again   []field      // brings the page up to date with a fix
	Holes   []optionLink // where else it may lead
	Paces   []nameView   // holes that a count of paces may run between, newest first
	Whose   []optionLink // in whose paces
	Lines   linesView
}

// way shows which way now: home, or to the hole that the address names.
func (h *handler) way(w http.ResponseWriter, r *http.Request, v *visit) error {
	q := r.URL.Query()
	hole, err := uuidOf(q, "hole")
	if err != nil {
		return err
	}
	from, err := localOf(q)
	if err != nil {
		return err
	}
	walker, err := uuidOf(q, "who")
	if err != nil {
		return err
	}
	g, err := h.Desk.Guide(r.Context(), hole, from, walker)
	if err != nil {
		return err
	}
	view := wayView{GuideText: v.voice.Guide(g), Compass: say.CompassWarning, Aloud: v.voice.Aloud(g, v.home)}
	to := "/way"
	if hole != uuid.Nil { // the line keeps its start, so that metres off it can be told
		to = wayTo(hole, g.Line[0])
	}
	view.Whose = []optionLink{{"This phone's", to, walker == uuid.Nil}}
	inPaces := func(id uuid.UUID) string {
		return to + map[bool]string{true: "&", false: "?"}[hole != uuid.Nil] + "who=" + id.String()
	}
	view.Again = []field{{"back", to}}
	if walker != uuid.Nil {
		view.Again = []field{{"back", inPaces(walker)}}
	}
	v.refresh = "20"
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		view.choices(d, hole, walker, inPaces)
		return nil
	})
	if err != nil {
		return err
	}
	if view.Lines, err = h.lines(r, v); err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, view.Title, wayPage(view))
}

// choices lists where else the way may lead, between which holes paces may be counted, and in whose paces it may be told.
func (view *wayView) choices(d desk.View, hole, walker uuid.UUID, inPaces func(uuid.UUID) string) {
	view.Holes = append(view.Holes, optionLink{"Home", "/way", hole == uuid.Nil})
	for _, o := range todaysPeople(d) {
		if o.Pace > 0 || o.ID == walker {
			view.Whose = append(view.Whose, optionLink{personName(d, o), inPaces(o.ID), o.ID == walker})
		}
	}
	marked := map[uuid.UUID]bool{}
	for _, l := range d.Lake.Looks {
		marked[l.Hole] = marked[l.Hole] || l.Marks > lake.None
	}
	today := d.Lake.HolesOn(d.Today)
	for i := len(today) - 1; i >= 0; i-- {
		o := today[i]
		if !o.Placed {
			continue
		}
		name := say.HoleName(o, d.Today)
		view.Paces = append(view.Paces, nameView{o.ID.String(), name})
		if marked[o.ID] && len(view.Holes) < 9 {
			view.Holes = append(view.Holes, optionLink{"Hole " + name, "/way?hole=" + o.ID.String(), o.ID == hole})
		}
	}
}

// wayTo is the address of the way to a hole from where the walk began.
func wayTo(hole uuid.UUID, from geo.Local) string {
	return fmt.Sprintf("/way?hole=%s&e=%.0f&n=%.0f", hole, from.E*10, from.N*10)
}

// postStand takes a fix and shows the page again.
func (h *handler) postStand(w http.ResponseWriter, r *http.Request, _ *visit) error {
	if err := ParseForm(r); err != nil {
		return err
	}
	if _, err := h.placeOf(r.Context(), r.PostForm); err != nil {
		return err
	}
	return back(w, r, localPath(r.PostForm.Get("back")))
}

// postPace learns the length of a pace.
func (h *handler) postPace(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	from, err := uuidOf(r.PostForm, "from")
	if err != nil {
		return err
	}
	to, err := uuidOf(r.PostForm, "to")
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(r.PostForm.Get("paces"))
	if err != nil {
		return fault.New(fault.BadInput, "Write the paces counted, such as 120.", "%q is no number of paces", r.PostForm.Get("paces"))
	}
	person, err := uuidOf(r.PostForm, "person")
	if err != nil {
		return err
	}
	if err := h.Desk.SetPace(r.Context(), a, person, from, to, n); err != nil {
		return err
	}
	return back(w, r, "/way")
}

// whiteoutView is the whiteout sheet.
type whiteoutView struct {
	say.WhiteoutText
	Words, Number string
	Home          string
}

func (h *handler) whiteout(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := h.Desk.Whiteout(r.Context())
	if err != nil {
		return err
	}
	view := whiteoutView{WhiteoutText: v.voice.Whiteout(a), Words: say.AdviceOnly, Home: v.home.Way}
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		view.Number = emergencyNumber(d)
		return nil
	})
	if err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Whiteout", whiteoutPage(view))
}

// alarms sends today's turn-back time as a calendar file with alarms.
func (h *handler) alarms(w http.ResponseWriter, r *http.Request, _ *visit) error {
	var b bytes.Buffer
	if err := h.Desk.Alarms(r.Context(), &b); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="turn-back.ics"`)
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(b.Bytes()) // the browser has gone away: nobody to tell
	return nil
}
