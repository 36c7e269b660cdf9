package safety

import (
	"encoding/json"
	"maps"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/ice"
)

// Table is an agency's table of least effective thickness by class of load: dated data with a source.
type Table struct {
	Agency, Jurisdiction, Dated, Source string
	Editor                              string // the person who entered or chose it; "" for the default
	Least                               map[string]quantity.Length
}

// classes gives the words of the journal and the commands for the classes of load.
var classes = map[string]ice.Class{
	"on_foot": ice.OnFoot, "group": ice.Group, "snow_machine": ice.SnowMachine, "side_by_side": ice.SideBySide, "car": ice.Car, "truck": ice.Truck,
}

// KnownClass tells whether a word names a class of load.
func KnownClass(word string) bool { _, ok := classes[word]; return ok }

// Tables lists the agency tables that may be chosen, the occupational default first. The oldest charts, with 5 cm on
// foot, are left out on purpose.
func Tables() []Table {
	var out []Table
	for _, t := range ice.Tables() {
		out = append(out, tableOf(t))
	}
	return out
}

// DefaultTable gives the occupational set: 15 cm on foot, 20 a group, 25 a snow machine, 40 a car; other classes are not covered.
func DefaultTable() Table { return tableOf(ice.Occupational()) }

func tableOf(t ice.Table) Table {
	out := Table{Agency: t.Agency, Jurisdiction: t.Jurisdiction, Dated: t.Dated, Source: t.Source, Least: map[string]quantity.Length{}}
	for word, class := range classes {
		if h, ok := t.Required(class); ok {
			out.Least[word] = h
		}
	}
	return out
}

// Stricter tells whether t asks for at least as much as the other table for every class that the other covers.
func Stricter(t, than Table) bool {
	for class, least := range than.Least {
		if h, ok := t.least(class); !ok || below(h, least) {
			return false
		}
	}
	return true
}

// least gives what the table asks for; a thickness of nothing, or not a number, covers no class.
func (t Table) least(class string) (quantity.Length, bool) {
	h, ok := t.Least[class]
	return h, ok && h > 0
}

// orDefault puts the default in place of the zero table.
func (t Table) orDefault() Table {
	if t.Agency == "" && len(t.Least) == 0 {
		return DefaultTable()
	}
	t.Least = maps.Clone(t.Least)
	return t
}

// Choice gives the setting that puts an agency's table in force. One looser than the default needs the name of the person
// who chooses it.
func Choice(agency, by string) (json.RawMessage, error) {
	for _, t := range Tables() {
		if t.Agency != agency {
			continue
		}
		if by == "" && !Stricter(t, DefaultTable()) {
			return nil, fault.New(fault.BadInput, "Enter the name of whoever answers for it.", "this table asks for less than the default and is chosen by nobody")
		}
		return json.Marshal(map[string]string{"agency": agency, "by": by})
	}
	return nil, fault.New(fault.BadInput, "Choose one of the list.", "%q is no table on record", agency)
}
