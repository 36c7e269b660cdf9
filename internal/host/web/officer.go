package web

import (
	"net/http"
	"strconv"
	"strings"

	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/rules"
	"icehand/internal/trade/tally"
)

// officerView is what an officer is shown, or whoever looks over a shoulder: counts with their times, licences seen, the rule book.
// It has no place, no hole and no depth, and leads to no page that has.
type officerView struct {
	Title, Made  string
	Static       string
	Theme        string
	Paper        string
	Scheme       string
	Strip        stripView
	Law          []string
	Phones       string
	Unnamed      []string
	Notes        []string
	People       []officerPerson
	Moves, Trace []string
}

type officerPerson struct {
	Name, Licence string
	Rows          []officerRow
}

type officerRow struct{ Species, Kept, PutBack, Held, Times string }

// officer shows the view without the frame: no navigation leads away but the one key back.
func (h *handler) officer(w http.ResponseWriter, r *http.Request, v *visit) error {
	view := officerView{Title: "Officer view", Static: h.Static, Theme: v.settings.Theme, Strip: stripView{Clock: v.home.Clock, Label: v.home.Label, Left: v.home.Left}}
	view.Paper, view.Scheme = v.settings.paper()
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		view.fill(d, v.voice, d.Sheet(d.Today, d.Now))
		return nil
	})
	if err != nil {
		return err
	}
	return h.write(w, r, http.StatusOK, officerPage(view))
}

func (view *officerView) fill(d desk.View, voice say.Voice, s *tally.Sheet) {
	view.Made = say.Date(s.Day) + ", " + voice.Clock(d.Now)
	view.Phones = voice.Phones(s)
	view.Law = append(view.Law, say.Law(s.Law))
	for _, x := range s.Law.Versions {
		b := bookOf(d, x, nil)
		view.Law = append(view.Law, Sentence(b.Name+", "+b.Span), Sentence("Source: "+b.Source), Sentence(b.Entered+", "+b.Checked))
	}
	for _, species := range sorted(s.Unnamed) {
		view.Unnamed = append(view.Unnamed, strconv.Itoa(s.Unnamed[species])+" kept "+species+" without a name, counted against everybody")
	}
	for _, n := range s.Notes {
		view.Notes = append(view.Notes, Sentence(say.Noted(d.PersonName(n.Person), n, s.Law)))
	}
	for _, p := range s.People {
		x := officerPerson{Name: d.PersonName(p.ID), Licence: licence(p, s.Law)}
		for _, r := range s.Rows {
			if r.Person != p.ID || r.Kept+r.PutBack+r.Held == 0 {
				continue
			}
			row := officerRow{Species: r.Species, Kept: say.KeptCount(r.Kept, s), PutBack: strconv.Itoa(r.PutBack), Held: strconv.Itoa(r.Held)}
			var times []string
			for _, t := range r.Times {
				times = append(times, voice.Clock(t))
			}
			row.Times = strings.Join(times, ", ")
			x.Rows = append(x.Rows, row)
		}
		view.People = append(view.People, x)
	}
	for _, m := range d.Ledger().Moves {
		if m.Day == s.Day && !m.When.After(s.At) {
			view.Moves = append(view.Moves, voice.Clock(m.When)+" "+say.Moved(m, d.PersonName(m.Person), d.PersonName(m.Other)))
		}
	}
	for _, f := range s.Fish() {
		for _, c := range f.Changes {
			view.Trace = append(view.Trace, voice.Clock(f.When)+" "+f.Species+", "+voice.Changed(c, d.PersonName(c.To)))
		}
	}
}

// licence says what is known of a person's licence; its number stays off this page.
func licence(p *tally.Person, l rules.Law) string {
	age, told := l.LicenceAge()
	switch {
	case p.Until != "" && p.Until < l.Day:
		return "licence ended " + say.Date(p.Until)
	case p.Seen && p.Until != "":
		return "licence seen, to " + say.Date(p.Until)
	case p.Seen:
		return "licence seen"
	case p.Age == "child" && told:
		return "child; licence from age " + strconv.Itoa(age.Count)
	}
	return "licence not seen"
}
