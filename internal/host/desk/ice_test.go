package desk

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/icecover"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
)

func (b *bench) placed(e, n float64) *advise.Place {
	return &advise.Place{At: geo.Local{E: e, N: n}, Known: true, Fixed: b.now}
}

func (b *bench) readIce(e, n float64, total, white, water int64) {
	b.t.Helper()
	_, err := b.ReadIce(b.ctx, IceAct{Hole: HoleRef{Place: b.placed(e, n)}, Reading: journal.Ice{Total: total, White: &white, Water: &water}})
	b.must(err)
}

// winter records the air every three hours from a day on until now.
func (b *bench) winter(from time.Time, air int64) {
	for t := from; t.Before(b.now); t = t.Add(3 * time.Hour) {
		b.must(b.Record(b.ctx, Act{At: t}, &journal.Weather{Air: &air, Unit: "C"}))
	}
}

func on(class string) safety.Load { return safety.Load{Class: class} }

// The column needs freeze-up and the weather since; with both it stands behind the figure, without it the reason is told.
func TestIceColumn(t *testing.T) {
	b := newBench(t)
	b.here = *b.placed(0, 0)
	b.readIce(0, 0, 410, 20, 30)
	a, err := b.Ice(b.ctx, nil, on("on_foot"))
	b.must(err)
	if a.Basis.Column != nil || !strings.Contains(a.Basis.Missing, "weather since freeze-up") || a.Basis.Zone != icecover.Open {
		t.Fatalf("without weather: %+v", a.Basis)
	}
	b.winter(time.Date(2025, 11, 17, 0, 0, 0, 0, b.now.Location()), -80)
	a, err = b.Ice(b.ctx, nil, on("on_foot"))
	b.must(err)
	c := a.Basis.Column
	if c == nil || a.Basis.Missing != "" {
		t.Fatalf("with weather: %+v", a.Basis)
	}
	// the column has learned from the hole, within its reading error of 2 cm
	if math.Abs((c.Total.Middle-41*quantity.Centimetre).Centimetres()) > 3 || !(c.Total.Low < c.Total.Middle && c.Total.Middle < c.Total.High) {
		t.Errorf("column %+v", c.Total)
	}
	if !(a.Effective > 0 && a.Effective <= 40*quantity.Centimetre) {
		t.Errorf("figure %v", a.Effective)
	}
	if to, err := b.TestedTo(b.ctx, nil, geo.Local{E: 200}); err != nil || to.Untested < 170 || to.Untested > 190 || to.Length != 200 {
		t.Errorf("towards unread ice: %+v %v", to, err)
	}
	again, err := b.Ice(b.ctx, nil, on("on_foot"))
	if b.must(err); again.Effective != a.Effective {
		t.Errorf("asked twice: %v and %v", a.Effective, again.Effective)
	}
	// tomorrow's ice is told only as far as the forecast goes, and in no figure
	e, err := b.Evening(b.ctx, "2026-01-16")
	b.must(err)
	if e.Ice.Basis.Column == nil || e.Ice.Basis.Ahead != nil {
		t.Errorf("without a forecast: %+v", e.Ice.Basis)
	}
	for h := range 30 {
		at, air := b.now.Add(time.Duration(h)*time.Hour), int64(-150)
		b.must(b.Plan(b.ctx, Act{At: at}, &journal.Weather{Air: &air, Unit: "C"}))
	}
	e, err = b.Evening(b.ctx, "2026-01-16")
	b.must(err)
	if e.Ice.Basis.Ahead == nil || !(e.Ice.Basis.Ahead.Total.Middle > e.Ice.Basis.Column.Total.Middle) || e.Ice.Effective > a.Effective {
		t.Errorf("with colder hours ahead: %+v", e.Ice.Basis)
	}
	// another winter's freeze-up is none
	b.now = b.now.AddDate(1, 0, 0)
	if a, err = b.Ice(b.ctx, nil, on("on_foot")); err != nil || !strings.Contains(a.Basis.Missing, "this winter") {
		t.Errorf("a year later: %+v %v", a.Basis, err)
	}
}

// All that stands near weighs together: parked loads and the people who sit at holes.
func TestOnIce(t *testing.T) {
	b := newBench(t)
	b.here = *b.placed(0, 0)
	air := int64(-80)
	b.must(b.Record(b.ctx, Act{}, &journal.Weather{Air: &air, Unit: "C"}))
	b.readIce(0, 0, 410, 20, 30)
	parked := func(e float64, grams int64, since time.Time) {
		b.must(b.Record(b.ctx, Act{At: since}, &journal.LoadParked{What: "tracked van", Mass: grams, At: *journal.PointOf(b.lake.Frame.Position(geo.Local{E: e}))}))
	}
	parked(0, 2_000_000, b.now.Add(-3*time.Hour))
	parked(10, 1_900_000, b.now.Add(-time.Hour))
	parked(20, 1_900_000, b.now.Add(time.Minute)) // not yet
	for rod := 1; rod <= 2; rod++ {
		b.must(b.Sit(b.ctx, Act{}, HoleRef{Place: b.placed(3, 0)}, rod, [16]byte{}, "perch"))
	}
	l, err := b.OnIce(b.ctx)
	b.must(err)
	if len(l.Judged) != 2 || len(l.IDs) != 2 || len(l.All) != 3 {
		t.Fatalf("%d judged, %d ids, %d on the ice", len(l.Judged), len(l.IDs), len(l.All))
	}
	first, second, people := l.Judged[0], l.Judged[1], l.All[2]
	if !first.Overdue || second.Overdue || !(first.TooNear > 9.9 && first.TooNear < 10.1) || first.Near != 2 || first.Rim == safety.RimUnknown {
		t.Errorf("first %+v", first)
	}
	if people.Mass != 2*safety.PersonMass || !people.Since.IsZero() {
		t.Errorf("people %+v", people)
	}
	alone, err := b.Ice(b.ctx, &geo.Local{E: 2000}, safety.Load{Class: "car", Mass: 1500})
	b.must(err)
	beside, err := b.Ice(b.ctx, nil, safety.Load{Class: "car", Mass: 1500})
	b.must(err)
	if alone.Together != 1500 || !(beside.Together > 4000) || beside.Moving != nil {
		t.Errorf("alone %v, beside the others %v, moving %+v", alone.Together, beside.Together, beside.Moving)
	}
}

// A table looser than the default counts with a person's name only, an outfit's own with all that is to be known of it,
// and a strength only downwards.
func TestIceTableAndStrength(t *testing.T) {
	b := newBench(t)
	foot := func() float64 { return b.table(b.now.Add(time.Hour)).Least["on_foot"].Centimetres() }
	if foot() != 15 {
		t.Fatalf("default %v", foot())
	}
	if err := b.ChooseTable(b.ctx, Act{}, "Water Security Agency", " "); err == nil {
		t.Error("a looser table without a name")
	}
	if err := b.ChooseTable(b.ctx, Act{}, "Nobody", "Ada"); err == nil {
		t.Error("a table that nobody knows")
	}
	if foot() != 15 {
		t.Errorf("after refusals %v", foot())
	}
	b.must(b.ChooseTable(b.ctx, Act{}, "Water Security Agency", "Ada"))
	if table := b.table(b.now.Add(time.Hour)); foot() != 10 || table.Editor != "Ada" || table.Source != "SKWSA2024" {
		t.Errorf("%+v", table)
	}
	set := func(key, value string) {
		b.must(b.Record(b.ctx, Act{}, &journal.Setting{Key: key, Value: json.RawMessage(value)}))
	}
	own := `{"agency":"Outfit","by":"Ada","jurisdiction":"here","dated":"2026-01-10","source":"own rule","least_mm":{"on_foot":180,"truck":600,"tank":1}}`
	set(IceTableSetting, own)
	if table := b.table(b.now.Add(time.Hour)); foot() != 18 || table.Least["truck"].Centimetres() != 60 || len(table.Least) != 2 || table.Editor != "Ada" {
		t.Errorf("%+v", table)
	}
	for _, part := range []string{`"by":"Ada",`, `"jurisdiction":"here",`, `"dated":"2026-01-10",`, `"source":"own rule",`} {
		set(IceTableSetting, strings.Replace(own, part, "", 1))
		if foot() != 15 {
			t.Errorf("an own table without %s counts", part)
		}
	}
	for _, bad := range []float64{0, -1, 3.51, math.NaN(), math.Inf(1)} {
		if b.LowerStrength(b.ctx, Act{}, quantity.Pressure(bad)*quantity.KilogramPerSquareCentimetre) == nil {
			t.Errorf("a strength of %v is taken", bad)
		}
	}
	b.must(b.LowerStrength(b.ctx, Act{}, 2.9*quantity.KilogramPerSquareCentimetre))
	if got := float64(b.strength(b.now.Add(time.Hour)).Pressure() / quantity.KilogramPerSquareCentimetre); math.Abs(got-2.9) > 1e-3 || got > 2.9 {
		t.Errorf("lowered to %v", got)
	}
	for value, want := range map[string]float64{"2000": 2, "3500": 3.5, "3501": 3.5, "0": 3.5, "-1": 3.5, `"x"`: 3.5} {
		set(iceStrengthSetting, value)
		if got := float64(b.strength(b.now.Add(time.Hour)).Pressure() / quantity.KilogramPerSquareCentimetre); math.Abs(got-want) > 1e-9 {
			t.Errorf("strength set to %s: %v", value, got)
		}
	}
}
