package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
)

// postIceTable puts a table in force, an agency's or one of the outfit's own, by whoever answers for it.
func (h *handler) postIceTable(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	by := strings.TrimSpace(r.PostForm.Get("by"))
	if len(by) > longestWord {
		return fault.New(fault.BadInput, "Write a shorter name.", "the name is too long")
	}
	if r.PostForm.Get("own") == "" {
		err = h.Desk.ChooseTable(r.Context(), a, r.PostForm.Get("agency"), by)
	} else if t, wrong := ownTable(r.PostForm, v); wrong != nil {
		return wrong
	} else {
		t.Editor = by
		err = h.Desk.EnterTable(r.Context(), a, t)
	}
	if err != nil {
		return err
	}
	return back(w, r, "/ice#tables")
}

// ownTable reads a table of the outfit's own; a class without a figure is not covered by it.
func ownTable(form url.Values, v *visit) (safety.Table, error) {
	t := safety.Table{Agency: form.Get("agency"), Jurisdiction: form.Get("jurisdiction"), Dated: form.Get("dated"), Source: form.Get("source"), Least: map[string]quantity.Length{}}
	for _, text := range []string{t.Agency, t.Jurisdiction, t.Source} {
		if len(text) > longestWord {
			return t, fault.New(fault.BadInput, fmt.Sprintf("At most %d letters.", longestWord), "the words of the table are too long")
		}
	}
	for _, class := range loadClasses {
		l, told, err := lengthOf(form, class, v, quantity.Centimetre, quantity.Inch)
		if err != nil {
			return t, err
		}
		if told {
			t.Least[class] = l
		}
	}
	return t, nil
}

// looser says in one sentence for which loads a table asks for less than the default, and who answers for that; "" for none.
func looser(t safety.Table) string {
	var less []string
	other := safety.DefaultTable()
	for _, class := range loadClasses {
		if h, ok := t.Least[class]; ok && h < other.Least[class] {
			less = append(less, classWord(class))
		}
	}
	if len(less) == 0 {
		return ""
	}
	return "It asks for less than the occupational table for: " + strings.Join(less, ", ") + ". " + t.Editor + " answers for that."
}

func classWord(class string) string { return strings.ReplaceAll(class, "_", " ") }

// postIceEnded records that wind broke the ice or the water level changed: all readings before that end.
func (h *handler) postIceEnded(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
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
	a, err := ActIn(r)
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
