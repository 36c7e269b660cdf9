package web

import (
	"net/http"
	"net/url"
	"strings"

	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
)

// tackleView is the tackle sheet with its card for guests.
type tackleView struct {
	Text  say.TackleText
	Form  desk.TackleText
	Lures []optionLink
	Words tackleWords
	Card  bool // the card alone
	Link  string
}

// tackleWords are the words to choose from.
type tackleWords struct {
	Of, Line, Tip []optionWord
}

type optionWord struct {
	Word   string
	Chosen bool
}

func words(all []string, chosen string) (out []optionWord) {
	for _, w := range all {
		out = append(out, optionWord{w, w == chosen})
	}
	return out
}

// tackleText reads the questions of a form or an address.
func tackleText(q url.Values, v *visit) desk.TackleText {
	t := desk.TackleText{Depth: q.Get("depth"), Mass: q.Get("mass"), Of: q.Get("of"), Line: q.Get("line"), Diameter: q.Get("thick"), Tip: q.Get("tip"), Bite: q.Get("bite"),
		Current: q.Get("current"), Lean: q.Get("lean"), Aside: q.Get("aside"), Lure: q.Get("lure"), Unit: quantity.Metre}
	if v.voice.Units == quantity.US {
		t.Unit = quantity.Foot
	}
	return t
}

// tackle shows the sheet for what is asked, by itself the usual rig to the depth of the hole the phone stands at.
func (h *handler) tackle(w http.ResponseWriter, r *http.Request, v *visit) error {
	q := r.URL.Query()
	t := tackleText(q, v)
	view := tackleView{Form: t, Card: q.Get("card") != ""}
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		if t.Depth == "" {
			if holes := d.Lake.HolesOn(d.Today); len(holes) > 0 {
				if z := holes[len(holes)-1].Depth; z > 0 {
					t.Depth = v.voice.Units.DepthText(z)
				}
			}
		}
		ask, err := t.Ask()
		if err != nil {
			return err
		}
		sheet, err := d.Tackle(ask)
		if err != nil {
			return err
		}
		view.Text = v.voice.Tackle(sheet)
		view.fill(d, v, sheet, q)
		return nil
	})
	if err != nil {
		return err
	}
	if view.Card {
		return h.show(w, r, v, http.StatusOK, "Card", tackleCardPage(view))
	}
	return h.show(w, r, v, http.StatusOK, "Tackle", tacklePage(view))
}

// fill puts what was reckoned with into the form, and the lures that were timed above it.
func (view *tackleView) fill(d desk.View, v *visit, s desk.TackleSheet, q url.Values) {
	view.Form.Depth, view.Form.Mass = v.voice.Units.DepthText(s.Depth), v.voice.LureText(s.Mass)
	view.Form.Of, view.Form.Line, view.Form.Tip = s.Of, s.Line, s.Tip
	view.Form.Diameter = v.voice.LineText(s.Diameter)
	view.Words = tackleWords{words(desk.TackleWeights(), s.Of), words(desk.TackleLines(), s.Line), words(desk.TackleTips(), s.Tip)}
	with := func(key, value string) string {
		next := url.Values{}
		for k, x := range q {
			if k != "lure" && k != "mass" && k != "of" && k != "card" {
				next[k] = x
			}
		}
		if value != "" {
			next.Set(key, value)
		}
		return "/tackle?" + next.Encode()
	}
	for _, x := range d.Drops() {
		view.Lures = append(view.Lures, optionLink{x.Lure, with("lure", x.Lure), strings.EqualFold(x.Lure, s.Lure)})
	}
	if len(view.Lures) > 0 {
		view.Lures = append(view.Lures, optionLink{"Another", with("lure", ""), s.Lure == ""})
	}
	card := url.Values{"card": {"yes"}}
	for k, x := range q {
		card[k] = x
	}
	view.Link = "/tackle?" + card.Encode()
}

// postTackle records a timed drop or a hung weight.
func (h *handler) postTackle(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	f := r.PostForm
	t := tackleText(f, v)
	if f.Get("hung") != "" {
		if err := h.Desk.TellHung(r.Context(), a, t, f.Get("out"), f.Get("hung"), f.Get("droop")); err != nil {
			return err
		}
		return back(w, r, "/tackle?"+url.Values{"line": {t.Line}, "thick": {t.Diameter}, "tip": {t.Tip}}.Encode())
	}
	if err := h.Desk.TellDrop(r.Context(), a, t, f.Get("took")); err != nil {
		return err
	}
	return back(w, r, "/tackle?"+url.Values{"lure": {t.Lure}, "depth": {t.Depth}}.Encode())
}
