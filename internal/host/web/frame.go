package web

import (
	"net/http"
	"strings"

	"icehand/internal/base/markup"

	"icehand/internal/host/desk"
)

// frameView is what surrounds every page.
type frameView struct {
	Title         string
	Static        string
	Theme         string
	Paper, Scheme string
	Hand          string // "left" or ""
	Page          string // the page's own class, from its path
	Strip         stripView
	Nav           []navItem
	Refresh       string // seconds after which the page is shown anew; "" for pages that do not age
	Name          string
	Units         string
}

// stripView is the turn-back strip.
type stripView struct {
	Clock, Label, Left, Reason string
	State                      string // "", near, past
	Bar                        string // share left in per mille, for the bar's width
	Note                       string // an override, or why the time is not known
}

// navItem is one entry of the navigation. Wide ones show on larger screens only.
type navItem struct {
	Word, Path string
	Here, Wide bool
	Mark       string // what stands there and is no act's answer; the item bears a mark
}

// navigation lists the pages in their fixed places.
var navigation = []navItem{
	{Word: "Now", Path: "/"}, {Word: "Map", Path: "/map"}, {Word: "People", Path: "/people"}, {Word: "Ice", Path: "/ice"}, {Word: "Help", Path: "/help"},
	{Word: "Day", Path: "/day", Wide: true}, {Word: "Evening", Path: "/evening", Wide: true}, {Word: "Tackle", Path: "/tackle", Wide: true}, {Word: "Import", Path: "/import", Wide: true},
}

// frame puts a page's body into its surroundings.
func (h *handler) frame(r *http.Request, v *visit, title string, body markup.Piece) markup.Piece {
	f := frameView{Title: title, Static: h.Static, Theme: v.settings.Theme, Name: h.Name, Strip: v.strip(), Units: v.settings.Units.String()}
	f.Paper, f.Scheme = v.settings.paper()
	if v.settings.Left {
		f.Hand = "left"
	}
	f.Page = strings.Trim(strings.ReplaceAll(v.path, "/", "-"), "-")
	if f.Page == "" || f.Page == "keys" {
		f.Page = "now"
	}
	f.Refresh = v.refresh
	if r.Method == http.MethodGet && (v.path == "/" || v.path == "/keys") {
		f.Refresh = "30"
	}
	entries := h.entries()
	if v.settings.Low {
		entries = lowNavigation
		if once(r) { // once means once
			f.Refresh = ""
		}
	}
	for _, n := range entries {
		if n.Here = n.Path == v.path; n.Path == "/people" {
			n.Mark = h.stands(r, v)
		}
		f.Nav = append(f.Nav, n)
	}
	return framePage(f, body)
}

// stands says what bears on everybody today: limits reached, rules broken, fish put back that are a reason to leave.
func (h *handler) stands(r *http.Request, v *visit) (line string) {
	_ = h.Desk.Read(r.Context(), func(d desk.View) error { // its failure shows in the page itself
		line = standing(d, v)
		return nil
	})
	return line
}

// strip says the turn-back time for the top of the page.
func (v *visit) strip() stripView {
	s := stripView{Clock: v.home.Clock, Label: v.home.Label, Left: v.home.Left, Reason: v.home.Reason, Bar: perMille(v.home.Share), Note: v.home.Override}
	switch {
	case v.home.Past:
		s.State = "past"
	case v.home.Near:
		s.State = "near"
	}
	if v.homeErr != nil {
		s.Reason = Sentence(v.homeErr.Message)
	}
	if (s.Note == "" || v.home.SetBack) && len(v.home.Unknown) > 0 {
		s.Note = v.home.Unknown[0]
	}
	if v.urgent != "" {
		s.Note = v.urgent
	}
	return s
}
