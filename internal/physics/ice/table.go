package ice

import (
	"fmt"
	"time"

	"icehand/internal/base/quantity"
)

// Class is a class of load as agencies' tables name it.
type Class int

// The classes, from light to heavy.
const (
	OnFoot Class = iota
	Group        // several people close together
	SnowMachine
	SideBySide
	Car
	Truck
	classes
)

func (c Class) String() string {
	names := [...]string{"on foot", "group", "snow machine", "side-by-side", "car", "truck"}
	if c < 0 || int(c) >= len(names) {
		return fmt.Sprintf("class %d", int(c))
	}
	return names[c]
}

// Classes lists the classes from light to heavy.
func Classes() []Class {
	out := make([]Class, classes)
	for i := range out {
		out[i] = Class(i)
	}
	return out
}

// Row is one line of a table.
type Row struct {
	Class     Class
	Thickness quantity.Length // of clear, solid ice; the upper end where the table prints a range
	AsRead    string          // what the table prints, in its own unit
}

// Table is an agency's table of thicknesses for clear ice. All agencies add that no ice is ever wholly safe.
type Table struct {
	Agency       string
	Jurisdiction string
	Dated        string // year or day of the issue that was read, or "undated"
	Source       string // key in docs/references.md
	Rows         []Row  // classes that the source does not name are left out
}

// Required gives the thickness that the table asks for. Where it is false, the class is not covered by this table, and
// no number may be made up from its neighbours.
func (t Table) Required(c Class) (quantity.Length, bool) {
	for _, r := range t.Rows {
		if r.Class == c {
			return r.Thickness, true
		}
	}
	return 0, false
}

// Strictest gives the greatest thickness that any of the tables asks for, and that table. Where it is false, none of
// them covers the class.
func Strictest(c Class, tables ...Table) (quantity.Length, Table, bool) {
	var most quantity.Length
	var from Table
	found := false
	for _, t := range tables {
		if h, ok := t.Required(c); ok && (!found || h > most) {
			most, from, found = h, t, true
		}
	}
	return most, from, found
}

const (
	cm   = quantity.Centimetre
	inch = quantity.Inch
)

// Occupational gives the default table: the figures that Canadian work-safety and life-saving bodies publish.
func Occupational() Table {
	return Table{
		Agency: "Canadian Red Cross and Lifesaving Society", Jurisdiction: "Canada", Dated: "undated", Source: "CanRedCross",
		Rows: []Row{
			{OnFoot, 15 * cm, "15 cm"}, {Group, 20 * cm, "20 cm"}, {SnowMachine, 25 * cm, "25 cm"}, {Car, 40 * cm, "40 cm"},
		},
	}
}

// Tables lists the default and the other tables that were read. The oldest charts, with 2 in on foot, are left out on purpose.
func Tables() []Table {
	return []Table{
		Occupational(),
		{
			Agency: "Minnesota Department of Natural Resources", Jurisdiction: "Minnesota, United States", Dated: "2022-12-22", Source: "MNDNR2022",
			Rows: []Row{
				{OnFoot, 4 * inch, "4 in"}, {SnowMachine, 7 * inch, "5-7 in"}, {SideBySide, 8 * inch, "7-8 in"}, {Car, 12 * inch, "8-12 in"},
				{Truck, 20 * inch, "12-15 in medium; 20 in heavy, towing a large shelter"},
			},
		},
		{
			Agency: "Water Security Agency", Jurisdiction: "Saskatchewan, Canada", Dated: "2024-11-29", Source: "SKWSA2024",
			Rows: []Row{{OnFoot, 10 * cm, "10 cm"}, {SnowMachine, 20 * cm, "20 cm"}, {Car, 30 * cm, "30 cm"}},
		},
		{
			Agency: "Ontario Provincial Police", Jurisdiction: "Ontario, Canada", Dated: "undated", Source: "OPPIce",
			Rows: []Row{{OnFoot, 4 * inch, "4 in; stay off 3 in or less"}, {SnowMachine, 5 * inch, "5 in"}, {Car, 12 * inch, "8-12 in"}},
		},
		{
			Agency: "South Dakota Game, Fish and Parks", Jurisdiction: "South Dakota, United States", Dated: "2015", Source: "SDGFP2015",
			Rows: []Row{{OnFoot, 6 * inch, "4-6 in, single file"}, {SnowMachine, 12 * inch, "6-12 in"}, {Car, 16 * inch, "12-16 in"}},
		},
	}
}

// Habits that agencies ask for beside the table.
const (
	VehicleSpacing  = 50 * quantity.Foot  // between vehicles of about a ton and more [MNDNRTable] [TM5852]
	LongestParking  = 2 * time.Hour       // stay of a vehicle in one place [MNDNRTable]
	HoleSpacing     = 30 * quantity.Metre // greatest gap between test holes on a new line over a lake [Barrhead]
	HoleSpacingFlow = 15 * quantity.Metre // the same where water flows [Barrhead]
)
