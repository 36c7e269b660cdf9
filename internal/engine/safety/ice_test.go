package safety

import (
	"math"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/trade/lake"
)

// The published figures, as the agencies print them: [CanRedCross], [MNDNR2022], [SKWSA2024], [OPPIce], [SDGFP2015].
func TestTables(t *testing.T) {
	inch := quantity.Inch
	for _, c := range []struct {
		agency, source, class string
		least                 quantity.Length
	}{
		{"Canadian Red Cross and Lifesaving Society", "CanRedCross", "on_foot", 15 * cm},
		{"Canadian Red Cross and Lifesaving Society", "CanRedCross", "group", 20 * cm},
		{"Canadian Red Cross and Lifesaving Society", "CanRedCross", "snow_machine", 25 * cm},
		{"Canadian Red Cross and Lifesaving Society", "CanRedCross", "car", 40 * cm},
		{"Canadian Red Cross and Lifesaving Society", "CanRedCross", "truck", 0},
		{"Minnesota Department of Natural Resources", "MNDNR2022", "on_foot", 4 * inch},
		{"Minnesota Department of Natural Resources", "MNDNR2022", "side_by_side", 8 * inch},
		{"Minnesota Department of Natural Resources", "MNDNR2022", "truck", 20 * inch},
		{"Water Security Agency", "SKWSA2024", "snow_machine", 20 * cm},
		{"Ontario Provincial Police", "OPPIce", "car", 12 * inch},
		{"South Dakota Game, Fish and Parks", "SDGFP2015", "car", 16 * inch},
	} {
		found := false
		for _, table := range Tables() {
			if table.Agency != c.agency {
				continue
			}
			found = true
			if got := table.Least[c.class]; math.Abs(float64(got-c.least)) > 1e-9 || table.Source != c.source || table.Dated == "" {
				t.Errorf("%s %s: %v from %q dated %q, want %v", c.agency, c.class, got, table.Source, table.Dated, c.least)
			}
		}
		if !found {
			t.Errorf("no table of %s", c.agency)
		}
	}
	if d := DefaultTable(); d.Source != "CanRedCross" || d.Source != Tables()[0].Source {
		t.Errorf("default %+v", d)
	}
}

func TestStricter(t *testing.T) {
	d := DefaultTable()
	more := Table{Agency: "x", Least: map[string]quantity.Length{"on_foot": 15 * cm, "group": 20 * cm, "snow_machine": 25 * cm, "car": 41 * cm, "truck": 50 * cm}}
	less := Table{Agency: "x", Least: map[string]quantity.Length{"on_foot": 14.9 * cm, "group": 20 * cm, "snow_machine": 25 * cm, "car": 41 * cm}}
	fewer := Table{Agency: "x", Least: map[string]quantity.Length{"on_foot": 50 * cm}}
	if !Stricter(d, d) || !Stricter(more, d) || Stricter(less, d) || Stricter(fewer, d) || Stricter(Table{}, d) {
		t.Error("stricter is wrong about one of five tables")
	}
	for _, table := range Tables()[1:] {
		if Stricter(table, d) {
			t.Errorf("%s passes as stricter than the occupational set", table.Agency)
		}
	}
	if !KnownClass("truck") || KnownClass("tank") || KnownClass("") {
		t.Error("classes")
	}
}

// exact is a cover that leaves the thinnest hole as the figure, so that a rule's line can be tested from both sides.
var exact = Cover{Columns: map[icecover.Zone]Column{icecover.Shore: {Estimate: icecover.Estimate{Deciding: 3}}},
	Scatter: icecover.Scatter{Hole: 1, Short: 1e-9, Long: 1e-9, ShortRange: 1, LongRange: 1}}

// foot asks about a person, with 41 cm of clear ice read 10 m off two hours ago in steady frost.
func foot() IceInput {
	return IceInput{Now: at(9, 50), Zone: zone, Load: Load{Class: "on_foot", Mass: 110}, Readings: []*lake.IceReading{read(10, 0, 41*cm, at(7, 50))}, Air: frost(72), Cover: exact}
}

func TestIceNotBelow(t *testing.T) {
	a := Ice(foot())
	if a.State != NotBelow || a.Asked != 15*cm || a.Effective != 41*cm || a.Counted != 1 || !a.Newest.Equal(at(7, 50)) || len(a.Refusals) != 0 {
		t.Errorf("%+v", a)
	}
	// P = A h2 with A = 3.5 kg/cm2 [Gold1971] [MNDNRTable]: 3.5 x 41 x 41 = 5883.5 kg
	if math.Abs(a.Carries.Kilograms()-5883.5) > 0.5 {
		t.Errorf("calculated load %v", a.Carries)
	}
}

// warm makes the air of every hour the same.
func warm(air []AirHour, c quantity.Celsius) {
	for i := range air {
		air[i].Air = c
	}
}

// Each rule from both sides of its line, and at unknown. want is the state, with the codes of the refusals.
func TestIceFromBothSides(t *testing.T) {
	type change = func(*IceInput)
	one := func(f func(r *lake.IceReading)) change { return func(in *IceInput) { f(in.Readings[0]) } }
	more := func(e float64, f func(r *lake.IceReading)) change {
		return func(in *IceInput) {
			r := read(e, 0, 41*cm, at(8, 0))
			f(r)
			in.Readings = append(in.Readings, r)
		}
	}
	load := func(class string, mass quantity.Mass) change {
		return func(in *IceInput) { in.Load = Load{Class: class, Mass: mass} }
	}
	hazard := func(what string, e float64, radius quantity.Length) change {
		return func(in *IceInput) {
			in.Hazards = append(in.Hazards, &lake.Hazard{What: what, Shape: "point", Points: []geo.Local{{E: e}}, Radius: radius, Report: "present", When: at(7, 0)})
		}
	}
	all := func(list ...change) change {
		return func(in *IceInput) {
			for _, c := range list {
				c(in)
			}
		}
	}
	air := func(f func(air []AirHour)) change { return func(in *IceInput) { f(in.Air) } }
	for _, c := range []struct {
		name   string
		change change
		state  IceState
		codes  string
	}{
		{"15.0 cm", one(func(r *lake.IceReading) { r.Total = 15 * cm }), NotBelow, ""},
		{"14.9 cm", one(func(r *lake.IceReading) { r.Total = 14.9 * cm }), BelowTable, ""},
		{"0 cm", one(func(r *lake.IceReading) { r.Total = 0 }), BelowTable, ""},
		// 15 cm carries 787.5 kg by the formula
		{"heavy man on 15 cm", all(one(func(r *lake.IceReading) { r.Total = 15 * cm }), load("on_foot", 787)), NotBelow, ""},
		{"heavier load on 15 cm", all(one(func(r *lake.IceReading) { r.Total = 15 * cm }), load("on_foot", 788)), BelowRule, ""},
		{"white half", one(func(r *lake.IceReading) { r.Total, r.White = 20*cm, 10*cm }), NotBelow, ""},
		{"white more than half", one(func(r *lake.IceReading) { r.Total, r.White = 20*cm, 10.2*cm }), BelowTable, ""},
		{"white more than total", one(func(r *lake.IceReading) { r.Total, r.White = 20*cm, 30*cm }), BelowTable, ""},
		{"white untold, 30 cm", one(func(r *lake.IceReading) { r.Total, r.WhiteTold = 30*cm, false }), NotBelow, "unsorted"},
		{"white untold, 29 cm", one(func(r *lake.IceReading) { r.Total, r.WhiteTold = 29*cm, false }), BelowTable, "unsorted"},
		{"white untold, told 499 m off", all(one(func(r *lake.IceReading) { r.Total, r.WhiteTold = 29*cm, false }), more(509, func(*lake.IceReading) {})), NotBelow, ""},
		{"white untold, told 501 m off", all(one(func(r *lake.IceReading) { r.Total, r.WhiteTold = 29*cm, false }), more(511, func(*lake.IceReading) {})), BelowTable, "unsorted"},
		{"the least counts", more(20, func(r *lake.IceReading) { r.Total = 12 * cm }), BelowTable, ""},
		{"thin beyond 30 m", more(31, func(r *lake.IceReading) { r.Total = 12 * cm }), NotBelow, ""},

		{"30 m off", one(func(r *lake.IceReading) { r.At.E = 30 }), NotBelow, ""},
		{"31 m off", one(func(r *lake.IceReading) { r.At.E = 31 }), NoData, "far"},
		{"yesterday", one(func(r *lake.IceReading) { r.When = at(7, 50).AddDate(0, 0, -1) }), NoData, "other_day"},
		{"8 days old", one(func(r *lake.IceReading) { r.When = at(7, 50).AddDate(0, 0, -8) }), NoData, "stale"},
		{"7 days old", one(func(r *lake.IceReading) { r.When = at(9, 50).AddDate(0, 0, -7) }), NoData, "other_day"},
		{"a minute more than 7 days old", one(func(r *lake.IceReading) { r.When = at(9, 49).AddDate(0, 0, -7) }), NoData, "stale"},
		{"timed ahead", one(func(r *lake.IceReading) { r.When = at(10, 6) }), NoData, "clock"},
		{"timed a little ahead", one(func(r *lake.IceReading) { r.When = at(10, 5) }), NotBelow, ""},
		{"no place", one(func(r *lake.IceReading) { r.Placed = false }), NoData, "no_reading"},
		{"negative", one(func(r *lake.IceReading) { r.Total = -1 * cm }), NoData, "no_reading"},
		{"not a number", one(func(r *lake.IceReading) { r.Total = quantity.Length(math.NaN()) }), NoData, "no_reading"},
		{"none", func(in *IceInput) { in.Readings = nil }, NoData, "no_reading"},

		{"layered", one(func(r *lake.IceReading) { r.Layered, r.SolidTold, r.Solid = true, true, 35*cm }), NoData, "layered"},
		{"layered, thickest under the table", one(func(r *lake.IceReading) { r.Layered, r.SolidTold, r.Solid = true, true, 14*cm }), BelowTable, "layered"},
		{"layered, thickest untold", one(func(r *lake.IceReading) { r.Layered = true }), NoData, "layered"},
		{"grey", one(func(r *lake.IceReading) { r.Grey = true }), NoData, "grey"},
		{"grey yesterday beside it", more(20, func(r *lake.IceReading) { r.Grey, r.When = true, at(8, 0).AddDate(0, 0, -1) }), NoData, "grey"},
		{"grey 30 m off", more(30, func(r *lake.IceReading) { r.Grey = true }), NoData, "grey"},
		{"grey 31 m off", more(31, func(r *lake.IceReading) { r.Grey = true }), NotBelow, ""},
		{"rotten 400 m off", more(400, func(r *lake.IceReading) { r.Rotten = true }), NoData, "rotten"},
		{"rotten 500 m off", more(500, func(r *lake.IceReading) { r.Rotten = true }), NoData, "rotten"},
		{"rotten 501 m off", more(501, func(r *lake.IceReading) { r.Rotten = true }), NotBelow, ""},
		{"not floating", one(func(r *lake.IceReading) { r.WaterTold, r.Water = true, 7.2*cm }), NoData, "not_floating"}, // 41 x 0.125 + 2 = 7.125
		{"floating", one(func(r *lake.IceReading) { r.WaterTold, r.Water = true, 7.1*cm }), NotBelow, ""},
		{"wet crack, 22 cm", one(func(r *lake.IceReading) { r.Crack, r.Total = "wet", 22*cm }), NotBelow, "wet_crack"}, // 15 x root 2 = 21.2
		{"wet crack, 21 cm", one(func(r *lake.IceReading) { r.Crack, r.Total = "wet", 21*cm }), BelowTable, "wet_crack"},
		{"cracks meet, 30 cm", one(func(r *lake.IceReading) { r.Crack, r.Total = "crossing", 30*cm }), NotBelow, "wet_crack"},
		{"cracks meet, 29 cm", one(func(r *lake.IceReading) { r.Crack, r.Total = "crossing", 29*cm }), BelowTable, "wet_crack"},
		{"dry crack", one(func(r *lake.IceReading) { r.Crack, r.Total = "dry", 15*cm }), NotBelow, ""},
		{"ridge 30 m off", all(hazard("ridge", -40, 10), one(func(r *lake.IceReading) { r.Total = 21 * cm })), BelowTable, "wet_crack"},
		{"ridge 31 m off", all(hazard("ridge", -41, 10), one(func(r *lake.IceReading) { r.Total = 21 * cm })), NotBelow, ""},
		{"current near, 17.5 cm, read 10 m off", all(more(90, func(r *lake.IceReading) { r.Current = true }), one(func(r *lake.IceReading) { r.Total = 17.5 * cm })), NotBelow, "current"}, // a sixth more than 15
		{"current near, 17.4 cm", all(more(90, func(r *lake.IceReading) { r.Current = true }), one(func(r *lake.IceReading) { r.Total = 17.4 * cm })), BelowTable, "current"},
		{"current 100 m off", more(100, func(r *lake.IceReading) { r.Current = true }), NotBelow, "current"},
		{"current 101 m off", more(101, func(r *lake.IceReading) { r.Current = true }), NotBelow, ""},
		{"narrows 100 m off", hazard("narrows", -100, 0), NotBelow, "current"},
		{"narrows 101 m off", hazard("narrows", -101, 0), NotBelow, ""},
		{"current near, read 15 m off", all(hazard("narrows", -80, 0), one(func(r *lake.IceReading) { r.At.E = 15 })), NotBelow, "current"},
		{"current near, read 16 m off", all(hazard("narrows", -80, 0), one(func(r *lake.IceReading) { r.At.E = 16 })), NoData, "far current"},
		{"inside a hazard, drilled in it", hazard("thin", 0, 20), NotBelow, "hazard"},
		{"inside a hazard, drilled beside it", hazard("thin", 0, 9), NoData, "hazard_unread hazard"},
		{"beside a hazard", hazard("thin", -20, 19), NotBelow, ""},

		{"5 h of thaw", air(func(a []AirHour) { thaw(a, 5) }), NotBelow, ""},
		{"6 h of thaw, 30 cm", all(air(func(a []AirHour) { thaw(a, 6) }), one(func(r *lake.IceReading) { r.Total = 30 * cm })), NotBelow, "thaw_hours"},
		{"6 h of thaw, 29 cm", all(air(func(a []AirHour) { thaw(a, 6) }), one(func(r *lake.IceReading) { r.Total = 29 * cm })), BelowTable, "thaw_hours"},
		{"24 h of thaw", air(func(a []AirHour) { thaw(a, 24) }), NoData, "thaw_day mild"},
		{"no air, 30 cm", func(in *IceInput) { in.Air, in.Readings[0].Total = nil, 30*cm }, NotBelow, "no_air_temperature"},
		{"no air, 29 cm", func(in *IceInput) { in.Air, in.Readings[0].Total = nil, 29*cm }, BelowTable, "no_air_temperature"},
		{"air of a day", func(in *IceInput) { in.Air = in.Air[:24] }, NotBelow, "brittle_unknown mild_unknown"},
		{"air of two days, 16.8 cm", func(in *IceInput) { in.Air, in.Readings[0].Total = in.Air[:48], 16.8*cm }, BelowTable, "mild_unknown"},
		{"air of two days, 16.9 cm", func(in *IceInput) { in.Air, in.Readings[0].Total = in.Air[:48], 16.9*cm }, NotBelow, "mild_unknown"},
		{"mild, 16.8 cm", all(air(func(a []AirHour) { warm(a, -3) }), one(func(r *lake.IceReading) { r.Total = 16.8 * cm })), BelowTable, "mild"}, // an eighth more than 15
		{"mild, 16.9 cm", all(air(func(a []AirHour) { warm(a, -3) }), one(func(r *lake.IceReading) { r.Total = 16.9 * cm })), NotBelow, "mild"},
		{"sudden fall of 15", air(func(a []AirHour) { a[2].Air = -20; a[14].Air = -5 }), NoData, "brittle"},
		{"fall of 14.9", air(func(a []AirHour) { a[2].Air = -19.9; a[14].Air = -5 }), NotBelow, ""},

		{"class unknown", load("tank", 1000), NoData, "class_unknown"},
		{"truck not in the default", load("truck", 3000), NoData, "class_not_covered"},
		{"truck too heavy for the formula", load("truck", 6000), BelowRule, "class_not_covered"},
		{"mass untold", load("on_foot", 0), NotBelow, "mass_assumed"},
		{"mass negative", load("on_foot", -5), NoData, "mass_unknown"},
		{"mass not a number", load("on_foot", quantity.Mass(math.NaN())), NoData, "mass_unknown"},
		{"car on 40", all(load("car", 2000), one(func(r *lake.IceReading) { r.Total = 40 * cm })), NotBelow, ""},
		{"car on 39", all(load("car", 2000), one(func(r *lake.IceReading) { r.Total = 39 * cm })), BelowTable, ""},
	} {
		in := foot()
		c.change(&in)
		a := Ice(in)
		if got := codes(a.Refusals); a.State != c.state || got != c.codes {
			t.Errorf("%s: %s %q, want %s %q", c.name, a.State, got, c.state, c.codes)
		}
		if a.State == NoData && (a.Carries != 0 || a.Effective != 0) {
			t.Errorf("%s: no data, yet %v effective and %v", c.name, a.Effective, a.Carries)
		}
		for _, r := range a.Refusals {
			if _, bad := stateText[r.Code]; bad && r.Code != "wet_crack" && r.Code != "current" && a.Carries != 0 {
				t.Errorf("%s: a load figure on %s ice", c.name, r.Code)
			}
		}
		if a.State == BelowRule && !(a.Carries > 0 && a.Carries < a.Load.Mass) {
			t.Errorf("%s: below the rule with a calculated load of %v for %v", c.name, a.Carries, a.Load.Mass)
		}
	}
}

// Adding a reading of ice no thicker than all others never raises the calculated load or the state, but for a first one:
// with the exact cover, with the usual scatter about the thinnest hole, and about a column.
func TestThinnerHoleNeverRaises(t *testing.T) {
	rank := map[IceState]int{NoData: 0, BelowTable: 1, BelowRule: 2, NotBelow: 3}
	rng := num.NewStream(5, "thinner")
	column := map[icecover.Zone]Column{icecover.Shore: {Estimate: icecover.Estimate{Deciding: 30 * cm}}}
	covers := []Cover{exact, {}, {Columns: column}}
	for i := range 3000 {
		in := foot()
		in.Cover = covers[i%3]
		in.Readings[0].Total = quantity.Length(5+rng.Float64()*50) * cm
		more := read(rng.Float64()*40-20, rng.Float64()*40-20, in.Readings[0].Total+quantity.Length(20*rng.Float64())*cm, at(8, 0))
		if rng.IntN(2) == 0 {
			in.Readings = append(in.Readings, more)
		}
		before := Ice(in)
		r := read(rng.Float64()*40-20, rng.Float64()*40-20, quantity.Length(rng.Float64()*in.Readings[0].Total.Centimetres())*cm, at(8, 0))
		r.Grey, r.Layered, r.Current, r.WhiteTold = rng.IntN(8) == 0, rng.IntN(8) == 0, rng.IntN(8) == 0, rng.IntN(3) > 0
		in.Readings = append(in.Readings, r)
		after := Ice(in)
		if after.Carries > before.Carries || before.State != NoData && rank[after.State] > rank[before.State] {
			t.Fatalf("%+v\nraised %v %v to %v %v", r, before.State, before.Carries, after.State, after.Carries)
		}
	}
}

// The order of readings does not matter.
func TestIceOrder(t *testing.T) {
	in := foot()
	in.Readings = append(in.Readings, read(5, 5, 38*cm, at(9, 0)), read(-8, 3, 40*cm, at(8, 0)))
	a := Ice(in)
	in.Readings[0], in.Readings[2] = in.Readings[2], in.Readings[0]
	b := Ice(in)
	if a.Effective != 38*cm || a.Effective != b.Effective || a.Counted != 3 || !a.Newest.Equal(b.Newest) || a.Nearest.Reading != b.Nearest.Reading {
		t.Errorf("%+v\n%+v", a, b)
	}
}

func TestNearestAnyAge(t *testing.T) {
	in := foot()
	in.Readings = []*lake.IceReading{read(0, 40, 30*cm, at(9, 0).AddDate(0, 0, -40)), read(0, 300, 41*cm, at(9, 0))}
	a := Ice(in)
	if a.State != NoData || a.Nearest == nil || a.Nearest.Distance != 40 || a.Nearest.Bearing != 0 || a.Nearest.Age != 40*24*time.Hour+50*time.Minute {
		t.Errorf("%s %+v", a.State, a.Nearest)
	}
	in.Readings = nil
	if a = Ice(in); a.Nearest != nil {
		t.Error("nearest of none")
	}
}

func TestHazardsNearestFirst(t *testing.T) {
	in := foot()
	for _, e := range []float64{400, 100, 501} {
		in.Hazards = append(in.Hazards, &lake.Hazard{What: "thin", Shape: "point", Points: []geo.Local{{E: e}}, Report: "present", When: at(7, 50)})
	}
	a := Ice(in)
	if len(a.Hazards) != 2 || a.Hazards[0].Distance != 100 || a.Hazards[1].Distance != 400 || a.Hazards[0].Age != 2*time.Hour {
		t.Errorf("%+v", a.Hazards)
	}
}

// Without a fix and without any hole the answer is of nowhere: nothing read, reported or standing counts in it. With a hole
// to stand in, the answer is that hole's and says so.
func TestIceOfNowhere(t *testing.T) {
	in := foot()
	if a := Ice(in); a.State != NotBelow || a.NoFix {
		t.Fatalf("the case is not as meant: %+v", a)
	}
	in.NoFix, in.Last = true, &lake.Hole{Number: 3}
	if a := Ice(in); a.State != NotBelow || !a.NoFix || a.Last != in.Last {
		t.Errorf("%+v", a)
	}
	in.Last = nil
	in.Hazards = []*lake.Hazard{{What: "ridge", Shape: "point", Report: "present", When: in.Now, Points: []geo.Local{in.At}, Radius: 10}}
	if a := Ice(in); a.State != NoData || !a.NoFix || a.Nearest != nil || a.Counted != 0 || a.Carries != 0 || len(a.Hazards) != 0 || !strings.HasPrefix(codes(a.Refusals), "no_reading") {
		t.Errorf("%+v", a)
	}
}

// A reading just out of reach is never printed as within it.
func TestJustBeyondReachReadsBeyond(t *testing.T) {
	for east, want := range map[float64]string{30: "30 m", 30.01: "31 m", 30.4: "31 m"} {
		in := foot()
		in.At.E = 10 + east
		a := Ice(in)
		if far := a.State == NoData; far != (east > 30) || !strings.HasSuffix(nearestText("Nearest", a.Nearest), ", "+want) {
			t.Errorf("%v m: %s, %s", east, a.State, nearestText("Nearest", a.Nearest))
		}
	}
}
