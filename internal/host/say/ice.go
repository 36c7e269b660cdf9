package say

import (
	"fmt"
	"math"
	"strings"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// TestAsYouGo ends every sentence about ice that is not below the figures.
const TestAsYouGo = "Not a go. Test as you go; local authority decides."

// IceText is what may be said of a load at a place.
type IceText struct {
	State    string   // a word for headings: unknown, below the table, below the formula, not below
	Of       string   // which place is spoken of when nobody told one; empty otherwise
	Sentence string   // the state in full
	Nearest  string   // nearest reading with age and distance; says so when there is none
	Asks     string   // what the table asks for
	Carries  string   // calculated load; empty when no figure is given
	Table    string   // the table in force
	Basis    []string // what the figure rests on: holes, the low end of the estimate, the column
	Together string   // what the load comes to with what stands near; empty when it stands alone
	Moving   []string // limits in motion; empty on foot
	Refusals []string // why there is no figure or why the answer is stricter
	Hazards  []string // near, nearest first
}

// Ice says an ice answer.
func (v Voice) Ice(a safety.IceAnswer) IceText {
	t := IceText{Of: v.spokenOf(a), Nearest: v.Nearest(a.Nearest), Asks: v.asks(a), Table: TableName(a.Table), Basis: v.restsOn(a), Moving: v.inMotion(a.Moving)}
	if a.Near > 0 {
		t.Together = "With what stands near it comes to " + v.Units.MassText(ceilFigures(v.Units, a.Together)) + " on one spot."
	}
	switch a.State {
	case safety.NotBelow:
		t.State, t.Sentence = "not below", fmt.Sprintf("Not below either figure at the holes drilled %s (%s). %s", v.drilled(a.Newest), Few(a.Counted, "hole", "holes"), TestAsYouGo)
	case safety.BelowTable:
		t.State = "below the table"
		t.Sentence = fmt.Sprintf("Below the table in force: %s %s (%s, %s); it asks for %s %s. Stay off with this load.",
			v.Units.IceText(a.Effective), figureWord(a), Few(a.Counted, "hole", "holes"), v.drilled(a.Newest), v.Units.IceUpText(a.Asked), Class(a.Load.Class))
	case safety.BelowRule:
		t.State = "below the formula"
		t.Sentence = fmt.Sprintf("The calculated load of %s is less than the %s %s. Stay off with this load.", v.Units.MassText(floorFigures(v.Units, a.Carries)), v.Units.MassText(ceilFigures(v.Units, max(a.Load.Mass, a.Together))), statedWord(a))
	default:
		t.State, t.Sentence = "unknown", "Unknown: no reading that counts here. Spud ahead, one person first."
		if a.Counted > 0 && a.Asked <= 0 {
			t.Sentence = "Unknown " + Class(a.Load.Class) + ": no figure to hold the readings against. Stay off with this load."
		}
	}
	if a.Carries > 0 {
		t.Carries = "calculated load " + v.Units.MassText(floorFigures(v.Units, a.Carries)) + ", a figure of comparison"
	}
	for _, r := range a.Refusals {
		if r.Code == "together" {
			continue // said already
		}
		t.Refusals = append(t.Refusals, first(v.Local(r.Text)))
	}
	for _, h := range a.Hazards {
		t.Hazards = append(t.Hazards, v.Hazard(h))
	}
	return t
}

// spokenOf says which hole stands in for a place that nobody told.
func (v Voice) spokenOf(a safety.IceAnswer) string {
	switch {
	case !a.NoFix:
		return ""
	case a.Last == nil:
		return "No fix and no hole on record: nothing here is said of where you stand."
	}
	return fmt.Sprintf(`No fix: "here" means hole %s, %s, not where you stand.`, HoleName(a.Last, v.today()), v.Clock(a.Last.Drilled))
}

// drilled says when the newest reading that counts was taken.
func (v Voice) drilled(t time.Time) string {
	if journal.DayOf(t, v.zone()) == v.today() {
		return "today " + v.Clock(t)
	}
	return v.When(t)
}

func (v Voice) asks(a safety.IceAnswer) string {
	if a.Asked <= 0 {
		return "The table in force has no figure for this load."
	}
	return fmt.Sprintf("The table asks for %s of clear ice %s.", v.Units.IceUpText(a.Asked), Class(a.Load.Class))
}

// floorFigures rounds a calculated load down to two figures of the unit that is printed: the formula deserves no more.
func floorFigures(s quantity.System, m quantity.Mass) quantity.Mass {
	unit := quantity.Kilogram
	if s == quantity.US {
		unit = quantity.Pound
	}
	n, step := float64(m/unit), 1.0
	for n/step >= 100 {
		step *= 10
	}
	return quantity.Mass(math.Floor(n/step+1e-9)*step) * unit
}

// TableName names a table with its jurisdiction, date and whoever entered it.
func TableName(t safety.Table) string {
	if t.Agency == "" {
		return ""
	}
	s := t.Agency
	if t.Jurisdiction != "" {
		s += ", " + t.Jurisdiction
	}
	if t.Dated != "" {
		s += " (" + t.Dated + ")"
	}
	if t.Editor != "" {
		s += ", entered by " + t.Editor
	}
	return s
}

// Class says a class of load.
func Class(c string) string {
	if w := classes[c]; w != "" {
		return w
	}
	return strings.ReplaceAll(c, "_", " ")
}

var classes = map[string]string{"": "on foot", "on_foot": "on foot", "group": "for a group", "snow_machine": "for a snow machine",
	"side_by_side": "for a side-by-side", "car": "for a car", "truck": "for a truck"}

// Nearest says the nearest reading of any age: 41 cm, 2 h ago, 210 m WSW.
func (v Voice) Nearest(n *safety.Nearest) string {
	if n == nil || n.Reading == nil {
		return "No ice reading on record here."
	}
	where := v.Units.FarText(n.Distance) + " " + n.Bearing.Compass()
	if n.Distance < 3*quantity.Metre {
		where = "here"
	}
	return fmt.Sprintf("Nearest %s, %s, %s.", v.Units.IceText(n.Reading.Total), Age(n.Age), where)
}

// NotReadThere is the line for a step onto ice that was not read.
func (v Voice) NotReadThere(n *safety.Nearest) string {
	if n == nil || n.Reading == nil {
		return "Ice not read there, nor anywhere near. Spud ahead."
	}
	return fmt.Sprintf("Ice not read there. Nearest %s, %s, %s. Spud ahead.", v.Units.IceText(n.Reading.Total), Age(n.Age), v.Units.FarText(n.Distance))
}

// Reading says what one hole said about the ice: clear, white, snow and water level as far as told.
func (v Voice) Reading(r *lake.IceReading) string {
	parts := []string{v.Units.IceText(r.Total)}
	if r.WhiteTold {
		parts = append(parts, v.Units.IceUpText(r.White)+" of it white")
	}
	if r.SnowTold {
		parts = append(parts, "snow "+v.Units.IceText(r.Snow))
	}
	if r.WaterTold {
		if r.Water < 0 {
			parts = append(parts, "water "+v.Units.IceUpText(-r.Water)+" over the ice")
		} else {
			parts = append(parts, "water "+v.Units.IceText(r.Water)+" down")
		}
	}
	for _, w := range []struct {
		on   bool
		word string
	}{{r.Layered, "layered"}, {r.Slush, "slush"}, {r.Grey, "grey or wet"}, {r.Rotten, "candled"}, {r.Current, "current"}} {
		if w.on {
			parts = append(parts, w.word)
		}
	}
	if r.Crack != "" {
		parts = append(parts, r.Crack+" crack")
	}
	return strings.Join(parts, ", ")
}

// HazardWord names a hazard: open water, ridge, thin.
func HazardWord(what string) string {
	if what == "thin" {
		return "thin ice"
	}
	return strings.ReplaceAll(what, "_", " ")
}

// reports say what a report means.
var reports = map[string]string{"present": "", "crossing": ", crossing", "cleared": ", reported gone"}

// ReportWord says what a report means, in full.
func ReportWord(report string) string {
	return map[string]string{"present": "still there", "crossing": "a crossing", "cleared": "reported gone"}[report]
}

// Hazard says a hazard with its distance and age: Ridge, crossing, 900 m, 3 h ago.
func (v Voice) Hazard(h safety.HazardNear) string {
	where := v.Units.DistanceText(h.Distance)
	if h.Distance <= 0 {
		where = "here"
	}
	return fmt.Sprintf("%s%s, %s, %s", first(HazardWord(h.Hazard.What)), reports[h.Hazard.Report], where, Age(h.Age))
}

// HazardAge says a hazard's word and age, for the map.
func (v Voice) HazardAge(h *lake.Hazard) string {
	return HazardWord(h.What) + reports[h.Report] + ", " + v.Ago(h.When)
}
