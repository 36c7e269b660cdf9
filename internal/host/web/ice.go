package web

import (
	"fmt"
	"net/http"
	"slices"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/physics/ice"
	"icehand/internal/trade/lake"
)

// iceView is the page Ice.
type iceView struct {
	Figure, Told string // last reading in large, and the rest of it
	Where        string // place, age, distance
	Stale        bool
	Text         say.IceText
	Loads        []loadView
	Class, Mass  string // chosen, and the mass it is asked with
	Hazards      []hazardView
	Who          []nameView // who may report a hazard
	Parkable     []string
	MassUnit     string
	Last         lastReading
	Cold         []string
	Rows         []chipRow // what the hole may tell besides its thickness
	Flags        []chipView
	Totals       []chipView // thicknesses about the last one
	Unit         string
	Locate       bool
	Parked       []parkedView
	Plan         *icePlan // what is on the ice near, to scale; nil when nothing is
	Unplaced     string   // people of whom nobody knows the place
	Tables       []tableView
	Looser       string // for which loads the table in force asks for less than the default
	Own          []classField
	NoFreezeUp   bool // the column waits for the day of freeze-up
	NoReading    string
	Reach        string // of a hole's reading
	ReachFlow    string // the same over current
	HoleName     string
	Hole         []field // the hole that was chosen by hand
}

// lastReading holds what the newest reading said, for the fields that are filled in only when it has changed.
type lastReading struct{ Total, White, Snow, Water string }

// classField is a row of a table of one's own, with what the table in force asks for.
type classField struct{ Name, Word, Now string }

type loadView struct {
	Word, Href string
	Chosen     bool
}

// loadClasses in the order of their weight.
var loadClasses = []string{"on_foot", "group", "snow_machine", "side_by_side", "car", "truck"}

// freshReading is the age beyond which a reading is hatched: ice is read anew every day. Common practice, no source.
const freshReading = 12 // h

func (h *handler) ice(w http.ResponseWriter, r *http.Request, v *visit) error {
	load, err := loadAsked(r, v)
	if err != nil {
		return err
	}
	answer, err := h.Desk.Ice(r.Context(), nil, load)
	if err != nil {
		return err
	}
	view := iceView{Text: v.voice.Ice(answer), Unit: "cm", MassUnit: "kg", Parkable: parkable, Locate: !h.Desk.Told(), Class: load.Class, Tables: tablesBy(answer.Table)}
	if v.settings.Units == quantity.US {
		view.Unit, view.MassUnit = "in", "lb"
	}
	view.Reach, view.ReachFlow = v.voice.Units.NearText(ice.HoleSpacing), v.voice.Units.NearText(ice.HoleSpacingFlow)
	view.Looser = looser(answer.Table)
	for _, c := range loadClasses {
		asks := "not covered now"
		if l, ok := answer.Table.Least[c]; ok {
			asks = "now " + v.voice.Units.IceUpText(l)
		}
		view.Own = append(view.Own, classField{c, classWord(c), asks})
	}
	view.Mass = "Asked with " + v.voice.Units.MassText(answer.Load.Mass) + " ..."
	for _, c := range loadClasses {
		view.Loads = append(view.Loads, loadView{classWord(c), "/ice?load=" + c, c == load.Class})
	}
	if view.Cold, err = h.cold(r, v); err != nil {
		return err
	}
	if err := h.fillIce(r, v, &view, answer); err != nil {
		return err
	}
	return h.show(w, r, v, http.StatusOK, "Ice", icePage(view))
}

// loadAsked reads which load is asked about; on foot when none is.
func loadAsked(r *http.Request, v *visit) (load safety.Load, err error) {
	q := r.URL.Query()
	if load.Class = q.Get("load"); load.Class == "" {
		load.Class = loadClasses[0]
	}
	if !slices.Contains(loadClasses, load.Class) {
		return load, fault.New(fault.BadInput, "Choose one of the loads below.", "%q is no load of a table", load.Class)
	}
	if text := q.Get("mass"); text != "" {
		load.Mass, err = v.massOf(text)
	}
	return load, err
}

// fillIce fills in what the record says beside the answer: last reading, hazards, what stands on the ice.
func (h *handler) fillIce(r *http.Request, v *visit, view *iceView, answer safety.IceAnswer) error {
	on, err := h.Desk.OnIce(r.Context())
	if err != nil {
		return err
	}
	_, hole, err := h.Desk.Standing(r.Context())
	if err != nil {
		return err
	}
	return h.Desk.Read(r.Context(), func(d desk.View) error {
		if r.URL.Query().Get("hole") != "" {
			o, err := holeNamed(r, d)
			if err != nil {
				return err
			}
			hole, view.Hole, view.Locate = o.ID, []field{{"hole", o.ID.String()}}, false
		}
		if view.HoleName = "here"; answer.NoFix {
			view.HoleName = "where you stand"
		}
		if o := d.Lake.Hole(hole); o != nil {
			view.HoleName = "at hole " + say.HoleName(o, d.Today)
		}
		view.last(d, v, answer)
		view.Parked, view.Hazards = parked(on, v), hazardsOf(d, v, answer.Hazards)
		view.Plan, view.NoFreezeUp = planIce(d, v, on), d.Lake.FreezeUp == ""
		if on.Unplaced > 0 {
			view.Unplaced = fmt.Sprintf("%s on the ice, not told where: not in the picture and in no figure.", personsWord(on.Unplaced))
		}
		for _, g := range todaysPeople(d) {
			view.Who = append(view.Who, nameView{g.ID.String(), personName(d, g)})
		}
		return nil
	})
}

// last shows the newest reading in large, and keys for the thicknesses about it.
func (view *iceView) last(d desk.View, v *visit, answer safety.IceAnswer) {
	var newest *lake.IceReading
	for i := len(d.Lake.Ice) - 1; i >= 0 && newest == nil; i-- {
		if !d.Lake.Ice[i].When.After(d.Now) {
			newest = d.Lake.Ice[i]
		}
	}
	about, near := 30*quantity.Centimetre, answer.Nearest
	if newest == nil {
		view.NoReading = "No ice reading on record. Unknown is unknown."
	} else {
		about = newest.Total
		view.Last = v.lastReading(newest)
		view.Figure, view.Told = v.voice.Units.IceText(newest.Total), v.voice.Reading(newest)
		where := "Without a place"
		if o := d.Lake.Hole(newest.Hole); o != nil {
			where = "Hole " + say.HoleName(o, d.Today)
		}
		view.Where = where + ", " + v.voice.When(newest.When) + ", " + v.voice.Ago(newest.When)
		if near != nil && !answer.NoFix && near.Reading != nil && near.Reading.ID == newest.ID {
			view.Where += ", " + v.voice.Units.FarText(near.Distance) + " from here"
		}
		view.Stale = answer.State == safety.NoData || d.Now.Sub(newest.When).Hours() > freshReading
	}
	view.entry(v, about, newest, answer.Basis.Column)
}

// lastReading says what a reading said, part by part.
func (v *visit) lastReading(r *lake.IceReading) lastReading {
	told := func(on bool, l quantity.Length) string {
		switch {
		case !on:
			return "not told last"
		case l < 0:
			return "last -" + v.voice.Units.IceText(-l)
		}
		return "last " + v.voice.Units.IceText(l)
	}
	return lastReading{told(true, r.Total), told(r.WhiteTold, r.White), told(r.SnowTold, r.Snow), told(r.WaterTold, r.Water)}
}

// cold says wind chill and frostbite from the newest observation, else from the forecast's hour.
func (h *handler) cold(r *http.Request, v *visit) ([]string, error) {
	w, err := h.Desk.Weather(r.Context())
	if err != nil {
		return nil, err
	}
	switch o := w.AirAndWind(); {
	case o != nil:
		chill, bite := v.voice.Cold(o.Air, o.Wind)
		return []string{chill, bite, v.voice.Observed(o.Station, o.When)}, nil
	case w.Hour != nil && w.Hour.AirTold && w.Hour.WindTold:
		chill, bite := v.voice.Cold(w.Hour.Air, w.Hour.Wind)
		return []string{chill, bite, "By the forecast issued " + v.voice.Ago(w.Issued) + "."}, nil
	}
	return []string{"Air and wind not known now: take the cold seriously."}, nil
}
