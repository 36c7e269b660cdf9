package web

import (
	"fmt"
	"net/http"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/engine/manner"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
)

// craftPages lists the pages about fishing itself.
func craftPages(here string) []optionLink {
	out := []optionLink{{"At the hole", "/present", false}, {"Tackle", "/tackle", false}, {"Cards", "/cards", false}, {"Safety talk", "/talk", false}}
	for i := range out {
		out[i].Chosen = out[i].Href == here
	}
	return out
}

// presentView is how to fish what the screen shows, one tap to log it, and what the record says.
type presentView struct {
	Screens []optionLink
	Screen  manner.Screen
	Mark    string // where the practice comes from
	Words   string // the practice, for the form
	Here    []say.MannerRow
	Says    string // what the record says with this on the screen
	Rods    []presentRod
	Lures   []say.MannerRow
	LureSay string
	Manners []say.MannerRow
	AllSay  string
	Untold  string
	Caution string
}

type presentRod struct {
	Name, Now string
	Manners   []presentKey
	Lures     []presentKey
	Form      []field
	ID        string
}

type presentKey struct {
	Word   string
	Fields []field
	Chosen bool
}

// present shows what to do about what the screen shows.
func (h *handler) present(w http.ResponseWriter, r *http.Request, v *visit) error {
	view := presentView{Caution: say.MannerCaution}
	asked := r.URL.Query().Get("screen")
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		screens := d.Screens()
		view.Screen = screens[0]
		for _, s := range screens {
			if s.Key == asked {
				view.Screen = s
			}
		}
		if asked != "" && view.Screen.Key != asked {
			return fault.New(fault.BadInput, "Choose one of the screens shown.", "%q is no screen", asked)
		}
		for _, s := range screens {
			view.Screens = append(view.Screens, optionLink{s.Word, "/present?screen=" + s.Key, s.Key == view.Screen.Key})
		}
		view.fill(d, v)
		return nil
	})
	if err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "At the hole", presentPage(view))
}

func (view *presentView) fill(d desk.View, v *visit) {
	if view.Mark = say.CommonPractice; view.Screen.Own {
		view.Mark = "Your own words."
	}
	view.Words = strings.Join(view.Screen.Do, "\n")
	rec := d.Manners()
	here := rec.Rows(manner.MannerOf, view.Screen.Key)
	view.Here, view.Says = v.voice.MannerRows(manner.MannerOf, here), v.voice.Compared(manner.MannerOf, here)
	lures, manners := rec.Rows(manner.Lure, ""), rec.Rows(manner.MannerOf, "")
	view.Lures, view.LureSay = v.voice.MannerRows(manner.Lure, lures), v.voice.Compared(manner.Lure, lures)
	view.Manners, view.AllSay = v.voice.MannerRows(manner.MannerOf, manners), v.voice.Compared(manner.MannerOf, manners)
	view.Untold = fmt.Sprintf("%.0f rod-hours of which nobody told how they were fished.", rec.Untold.Hours())
	known := d.Lures(4)
	for _, s := range d.Party.RodsAt(d.Now) {
		row := presentRod{Name: fmt.Sprintf("Rod %d", s.Rod), ID: s.ID.String(), Now: "not told how"}
		if o := d.Lake.Hole(s.Hole); o != nil {
			row.Name += " at " + say.HoleName(o, d.Today)
		}
		if g := d.Party.Guest(s.Guest); g != nil {
			row.Name += ", " + personName(d, g)
		}
		p, told := d.Shown(s)
		lure := d.LastLure(s)
		if told {
			row.Now = fmt.Sprintf("%s, since %s", strings.Join(nonEmpty(p.Lure, strings.ToLower(manner.Word(p.Manner))), ", "), v.voice.When(p.When))
		}
		base := []field{{"sit", row.ID}, {"screen", view.Screen.Key}}
		for _, m := range manner.Manners() {
			row.Manners = append(row.Manners, presentKey{m.Word, append(base[:2:2], field{"manner", m.Key}), told && p.Manner == m.Key && p.Screen == view.Screen.Key})
		}
		for _, l := range known {
			row.Lures = append(row.Lures, presentKey{l, append(base[:2:2], field{"lure", l}), strings.EqualFold(lure, l)})
		}
		row.Form = base
		view.Rods = append(view.Rods, row)
	}
}

// nonEmpty leaves empty words out.
func nonEmpty(words ...string) (out []string) {
	for _, w := range words {
		if w != "" {
			out = append(out, w)
		}
	}
	return out
}

// postPresent logs how a rod fishes: one tap.
func (h *handler) postPresent(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	sit, err := uuidOf(r.PostForm, "sit")
	if err != nil {
		return err
	}
	p := desk.PresentAct{Act: a, Sit: sit, Lure: r.PostForm.Get("lure"), Manner: r.PostForm.Get("manner"), Screen: r.PostForm.Get("screen")}
	if err := h.Desk.Present(r.Context(), p); err != nil {
		return err
	}
	return back(w, r, "/present?screen="+p.Screen+"#rod-"+sit.String())
}

// postPractice puts the practice for a screen in the outfit's own words.
func (h *handler) postPractice(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	screen := r.PostForm.Get("screen")
	if err := h.Desk.TellScreen(r.Context(), a, screen, r.PostForm.Get("words")); err != nil {
		return err
	}
	return back(w, r, "/present?screen="+screen)
}
