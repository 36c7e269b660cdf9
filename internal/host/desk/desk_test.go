package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/safety"
	"icehand/internal/feed/file"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// surfaces keeps depth surfaces for all tests: those of one lake are worked out once.
var surfaces mem.Shelf

// bench is a desk on a square lake of 6 km, its middle at the origin, 11 m deep, with a clock that the test turns.
type bench struct {
	*Desk
	t     *testing.T
	ctx   context.Context
	store store.Store
	now   time.Time
	here  advise.Place
}

func newBench(t *testing.T) *bench {
	t.Helper()
	zone, err := time.LoadLocation("Etc/GMT+3")
	if err != nil {
		t.Fatal(err)
	}
	b := &bench{t: t, ctx: context.Background(), now: time.Date(2026, 1, 15, 9, 0, 0, 0, zone)}
	b.store = mem.New(store.Identity{Outfit: uuid.UUID{1}, Account: uuid.UUID{2}, Journal: uuid.UUID{3}, Epoch: uuid.UUID{4}})
	b.open()
	origin := geo.Position{Lat: 47.9, Lon: -45}
	b.must(b.FoundLake(b.ctx, Act{}, "Square", origin, "Etc/GMT+3", "2025-11-24"))
	f := geo.NewFrame(origin)
	corner := func(e, n float64) string {
		p := f.Position(geo.Local{E: e, N: n})
		return fmt.Sprintf("[%.7f,%.7f]", p.Lon, p.Lat)
	}
	outline := fmt.Sprintf(`{"type":"Polygon","coordinates":[[%s,%s,%s,%s,%s]]}`, corner(-3000, -3000), corner(3000, -3000), corner(3000, 3000), corner(-3000, 3000), corner(-3000, -3000))
	var csv strings.Builder
	csv.WriteString("lat,lon,depth_m\n")
	for e := -2800.0; e <= 2800; e += 400 {
		for n := -2800.0; n <= 2800; n += 400 {
			p := f.Position(geo.Local{E: e, N: n})
			fmt.Fprintf(&csv, "%.7f,%.7f,11.0\n", p.Lat, p.Lon)
		}
	}
	for what, data := range map[string]string{"outline": outline, "soundings": csv.String()} {
		h, err := b.store.PutBlob(b.ctx, []byte(data))
		b.must(err)
		b.must(b.Record(b.ctx, Act{}, &journal.Layer{What: what, Blob: h, Name: what, Media: "text/plain", Options: FormatOptions(file.Options{})}))
	}
	b.must(b.Record(b.ctx, Act{}, &journal.Trip{Rods: 2, Travel: "foot", Landing: journal.PointOf(f.Position(geo.Local{E: 0, N: -2900}))}))
	return b
}

func (b *bench) open() {
	d, err := Open(b.ctx, b.store, Options{Clock: func() time.Time { return b.now }, Seed: 1, Recall: surfaces.Recall, Keep: surfaces.Keep, Position: func(time.Time) advise.Place { return b.here }})
	b.must(err)
	b.Desk = d
}

func (b *bench) must(err error) {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
}

// at stands the phone at a place with a fresh fix.
func (b *bench) at(e, n float64) *advise.Place {
	b.here = advise.Place{At: geo.Local{E: e, N: n}, Known: true, Accuracy: 4 * quantity.Metre, Fixed: b.now}
	p := b.here
	return &p
}

func (b *bench) look(m lake.Marks) uuid.UUID {
	b.t.Helper()
	p := b.here
	h, err := b.Look(b.ctx, LookAct{Hole: HoleRef{Place: &p}, Marks: m})
	b.must(err)
	return h
}

func (b *bench) view() (v View) {
	b.t.Helper()
	b.must(b.Read(b.ctx, func(x View) error { v = x; return nil }))
	return v
}

func TestOneTapMakesTheHole(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	first := b.look(lake.None)
	b.now = b.now.Add(5 * time.Minute)
	b.at(3, 2) // the same hole within the fix's error
	if again := b.look(lake.Few); again != first {
		t.Error("a second hole was made within the fix's error")
	}
	b.at(60, 0)
	if other := b.look(lake.None); other == first {
		t.Error("60 m away is another hole")
	}
	v := b.view()
	if len(v.Lake.Holes) != 2 || v.Lake.Holes[1].Number != 2 || len(v.Lake.Looks) != 3 {
		t.Errorf("%d holes, %d looks", len(v.Lake.Holes), len(v.Lake.Looks))
	}
}

func TestRepeatedActCountsOnce(t *testing.T) {
	b := newBench(t)
	p := b.at(0, 0)
	act := LookAct{Act: Act{ID: journal.NewID()}, Hole: HoleRef{Place: p}, Marks: lake.Few}
	for range 3 {
		_, err := b.Look(b.ctx, act)
		b.must(err)
	}
	if v := b.view(); len(v.Lake.Holes) != 1 || len(v.Lake.Looks) != 1 {
		t.Errorf("%d holes, %d looks", len(v.Lake.Holes), len(v.Lake.Looks))
	}
	fish := FishAct{Act: Act{ID: journal.NewID()}, Kept: true}
	for range 2 {
		b.must(b.Fish(b.ctx, fish))
	}
	if v := b.view(); len(v.Party.Fish) != 1 {
		t.Errorf("%d fish", len(v.Party.Fish))
	}
}

func TestBadFixGivesAPlacelessHole(t *testing.T) {
	b := newBench(t)
	p := b.at(0, 0)
	p.Accuracy = 25 * quantity.Metre
	h, err := b.Look(b.ctx, LookAct{Hole: HoleRef{Place: p}, Marks: lake.Many})
	b.must(err)
	if b.view().Lake.Hole(h).Placed {
		t.Error("a fix of 25 m was taken for a place")
	}
}

func TestBadActsChangeNothing(t *testing.T) {
	b := newBench(t)
	hole := func() uuid.UUID { b.at(0, 0); return b.look(lake.None) }()
	before := len(b.view().Log.Facts())
	minus, far := -1, advise.Place{At: geo.Local{E: 9000, N: 0}, Known: true}
	for name, f := range map[string]func() error{
		"look in the future": func() error {
			_, err := b.Look(b.ctx, LookAct{Act: Act{At: b.now.Add(time.Hour)}, Hole: HoleRef{ID: hole}})
			return err
		},
		"look before its hole": func() error {
			_, err := b.Look(b.ctx, LookAct{Act: Act{At: b.now.Add(-time.Hour)}, Hole: HoleRef{ID: hole}})
			return err
		},
		"look on land": func() error {
			_, err := b.Look(b.ctx, LookAct{Hole: HoleRef{Place: &far}, Marks: lake.Few})
			return err
		},
		"look at no hole": func() error {
			_, err := b.Look(b.ctx, LookAct{Hole: HoleRef{ID: uuid.UUID{77}}})
			return err
		},
		"negative marks": func() error {
			_, err := b.Look(b.ctx, LookAct{Hole: HoleRef{ID: hole}, Marks: lake.Few, Count: &minus})
			return err
		},
		"white above total": func() error {
			w := int64(500)
			_, err := b.ReadIce(b.ctx, IceAct{Hole: HoleRef{ID: hole}, Reading: journal.Ice{Total: 410, White: &w}})
			return err
		},
		"fish of 3 m": func() error { return b.Fish(b.ctx, FishAct{Hole: hole, Length: 3.03 * quantity.Metre}) },
		"hazard without points": func() error {
			return b.Record(b.ctx, Act{}, &journal.Hazard{What: "thin", Shape: "area", Report: "present"})
		},
	} {
		err := f()
		var x *fault.Error
		if !errors.As(err, &x) || x.Hint == "" || x.Code == fault.Internal {
			t.Errorf("%s: %v, want a fault with a hint", name, err)
		}
	}
	if after := len(b.view().Log.Facts()); after != before {
		t.Errorf("%d entries were written", after-before)
	}
}

func TestUndo(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	b.look(lake.Few)
	b.now = b.now.Add(time.Minute)
	undone, err := b.Undo(b.ctx, Act{})
	b.must(err)
	v := b.view()
	if undone == nil || len(v.Lake.Looks) != 0 || len(v.Lake.HolesOn(v.Today)) != 1 || v.Lake.HolesOn(v.Today)[0].Label != "retracted" {
		t.Errorf("undone %+v: %d looks, %+v", undone, len(v.Lake.Looks), v.Lake.HolesOn(v.Today))
	}
	b.look(lake.Few)
	if h := b.view().Lake.Holes; h[len(h)-1].Number != 2 {
		t.Errorf("the undone hole's number was given again")
	}
	b.must(b.Fish(b.ctx, FishAct{Kept: true}))
	first, err := b.Undo(b.ctx, Act{ID: journal.NewID()})
	b.must(err)
	if first.Entry.Kind != journal.KindFish {
		t.Errorf("undid %s first", first.Entry.Kind)
	}
}

// TestUndoTwenty: the last twenty acts are taken back one by one, and the one before them stays.
func TestUndoTwenty(t *testing.T) {
	b := newBench(t)
	for i := range 21 {
		b.at(float64(i)*20, 0)
		b.look(lake.Few)
		b.now = b.now.Add(time.Minute)
	}
	for i := range 20 {
		undone, err := b.Undo(b.ctx, Act{ID: journal.NewID()})
		b.must(err)
		if looks := len(b.view().Lake.Looks); undone == nil || looks != 20-i {
			t.Fatalf("undo %d took back %v, %d looks stay", i+1, undone, looks)
		}
	}
	undone, err := b.Undo(b.ctx, Act{ID: journal.NewID()})
	b.must(err)
	if looks := len(b.view().Lake.Looks); undone != nil || looks != 1 {
		t.Errorf("the act before the last twenty: took back %v, %d looks stay", undone, looks)
	}
}

// TestUndoThis: the act that the strip names is taken back with the hole it made, also when another came after it; once it does not count, nothing is.
func TestUndoThis(t *testing.T) {
	b := newBench(t)
	look := func(e float64) Act {
		b.at(e, 0)
		a := Act{ID: journal.NewID()}
		_, err := b.Look(b.ctx, LookAct{Act: a, Marks: lake.Few})
		b.must(err)
		b.now = b.now.Add(time.Minute)
		return a
	}
	first, second := look(0), look(60)
	can := func(id uuid.UUID) (yes bool) {
		b.must(b.Read(b.ctx, func(v View) error { yes = v.Undoable(id); return nil }))
		return yes
	}
	if !can(first.ID) || !can(second.ID) || can(journal.NewID()) {
		t.Error("both looks can be undone, and nothing else")
	}
	undone, err := b.UndoThis(b.ctx, Act{ID: journal.NewID()}, first.ID)
	b.must(err)
	v := b.view()
	if undone == nil || undone.Entry.ID != first.ID || len(v.Lake.Looks) != 1 || v.Lake.Looks[0].ID != second.ID {
		t.Errorf("undone %v, left %d looks", undone, len(v.Lake.Looks))
	}
	if h := v.Lake.HolesOn(v.Today); len(h) != 2 || h[0].Label != "retracted" || h[1].Label == "retracted" {
		t.Errorf("the holes left are %+v", h)
	}
	undone, err = b.UndoThis(b.ctx, Act{ID: journal.NewID()}, first.ID)
	b.must(err)
	if undone != nil || can(first.ID) || len(b.view().Lake.Looks) != 1 {
		t.Errorf("an act that does not count is undone again: %v", undone)
	}
	if _, err := b.UndoThis(b.ctx, Act{ID: journal.NewID()}, journal.NewID()); fault.CodeOf(err) != fault.NotFound {
		t.Errorf("an act that never was: %v", err)
	}
}

func TestSitMovesTheRod(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	h1 := b.look(lake.Few)
	b.must(b.Sit(b.ctx, Act{}, HoleRef{ID: h1}, 1, uuid.Nil, "perch"))
	b.now = b.now.Add(10 * time.Minute)
	b.at(80, 0)
	h2 := b.look(lake.Many)
	b.must(b.Sit(b.ctx, Act{}, HoleRef{ID: h2}, 1, uuid.Nil, "perch"))
	rods := b.view().Party.RodsAt(b.now.Add(time.Second))
	if len(rods) != 1 || rods[0].Hole != h2 {
		t.Errorf("%+v", rods)
	}
	b.must(b.Fish(b.ctx, FishAct{Act: Act{At: b.now.Add(30 * time.Second)}, Rod: 1, Kept: true}))
	if f := b.view().Party.Fish[0]; f.Hole != h2 {
		t.Error("a fish goes to the hole where its rod sits")
	}
}

// readAlong reads ice of 41 cm at the phone's place and weather through the morning, so that hops may be advised.
func (b *bench) readAlong() {
	b.t.Helper()
	for h := -30; h <= 0; h++ {
		air, wind := int64(-120), int64(2000)
		b.must(b.Record(b.ctx, Act{At: b.now.Add(time.Duration(h) * time.Hour)}, &journal.Weather{Air: &air, Wind: &wind}))
	}
	p := b.here
	_, err := b.ReadIce(b.ctx, IceAct{Hole: HoleRef{Place: &p}, Reading: journal.Ice{Total: 410, White: new(int64), Snow: new(int64)}})
	b.must(err)
}

func TestOddsMoveWithLooks(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	b.readAlong()
	odds := func() float64 {
		o, _, err := b.OddsAt(b.ctx, geo.Local{E: 0, N: 0})
		b.must(err)
		return o.P
	}
	start := odds()
	b.look(lake.None)
	blank := odds()
	if !(blank < start) {
		t.Errorf("an empty look: %g to %g", start, blank)
	}
	b.now = b.now.Add(time.Minute)
	b.at(0, 0)
	b.look(lake.Many)
	marks := odds()
	if !(marks > start) {
		t.Errorf("marks: %g, before any look %g", marks, start)
	}
	b.now = b.now.Add(4 * time.Hour)
	b.at(0, 0)
	if stale := odds(); !(stale < marks) {
		t.Errorf("a stale mark: %g to %g", marks, stale)
	}
}

func TestNextStepHasReasonsAndObeysTurnBack(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	b.readAlong()
	b.look(lake.None)
	step, err := b.Next(b.ctx, nil)
	b.must(err)
	if len(step.Why) == 0 || len(step.Others) > 2 {
		t.Errorf("%+v", step)
	}
	if step.Do == advise.Drill && !b.surface().OnWater(step.To) {
		t.Error("drill on land")
	}
	b.now = b.now.Add(9 * time.Hour) // after dark
	b.at(0, 0)
	if step, err = b.Next(b.ctx, nil); err != nil || step.Do != advise.HeadIn {
		t.Errorf("after dark: %s, %v", step.Do, err)
	}
}

// Asked again while the guide walks, the step is thought over once, and told with its budget.
func TestStepIsThoughtOver(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	b.readAlong()
	b.look(lake.None)
	budget := func(after time.Duration) int {
		t.Helper()
		b.now = b.now.Add(after)
		step, err := b.Next(b.ctx, nil)
		b.must(err)
		return step.Budget
	}
	first, soon, later := budget(0), budget(time.Second), budget(thinkOver)
	if first >= advise.MoreBudget || soon != first || later != advise.MoreBudget {
		t.Errorf("places weighed: %d at first, %d a second later, %d after %v", first, soon, later, thinkOver)
	}
	b.look(lake.Few)
	if again := budget(0); again != first {
		t.Errorf("after a look: %d", again)
	}
}

func TestIceNeedsAReadingOfToday(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	a, err := b.Ice(b.ctx, nil, safety.Load{Class: "on_foot"})
	b.must(err)
	if a.State != safety.NoData {
		t.Errorf("without a reading: %s", a.State)
	}
	b.readAlong()
	if a, err = b.Ice(b.ctx, nil, safety.Load{Class: "on_foot"}); err != nil || a.State != safety.NotBelow {
		t.Errorf("at the hole, 41 cm: %s %v %+v", a.State, err, a.Refusals)
	}
	b.now = b.now.Add(24 * time.Hour)
	b.at(0, 0)
	if a, err = b.Ice(b.ctx, nil, safety.Load{Class: "on_foot"}); err != nil || a.State != safety.NoData || a.Nearest == nil {
		t.Errorf("a day later: %s %v", a.State, err)
	}
}

func TestReopenedDeskKnowsTheSame(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	b.readAlong()
	b.look(lake.Many)
	b.must(b.AddGuest(b.ctx, Act{}, "Jonas", journal.Guest{Role: "guest", Age: "adult", Rod: 1}))
	before, err := b.Next(b.ctx, nil)
	b.must(err)
	b.open()
	after, err := b.Next(b.ctx, nil)
	b.must(err)
	x, _ := json.Marshal(before)
	y, _ := json.Marshal(after)
	if string(x) != string(y) {
		t.Errorf("before:\n%s\nafter:\n%s", x, y)
	}
	if v := b.view(); v.Name(v.Party.Guests[0].Name) != "Jonas" {
		t.Error("the guest's name is lost")
	}
}

func TestLakeIsNeeded(t *testing.T) {
	st := mem.New(store.Identity{Outfit: uuid.UUID{1}, Account: uuid.UUID{2}, Journal: uuid.UUID{3}, Epoch: uuid.UUID{4}})
	d, err := Open(context.Background(), st, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.Next(context.Background(), nil); fault.CodeOf(err) != fault.Missing {
		t.Errorf("%v", err)
	}
}

func TestOptionsRoundTrip(t *testing.T) {
	zone, _ := time.LoadLocation("Etc/GMT+3")
	in := file.Options{As: file.Soundings, Unit: "ft", UTMZone: "23T", Zone: zone, Map: map[string]string{"Depth (ft)": "depth", "Ü&=": "ignore"}}
	out, err := ParseOptions(FormatOptions(in))
	if err != nil || FormatOptions(out) != FormatOptions(in) || out.Map["Ü&="] != "ignore" || out.Zone.String() != "Etc/GMT+3" {
		t.Errorf("%+v %v", out, err)
	}
	if _, err := ParseOptions("tz=Nowhere/Land"); err == nil {
		t.Error("an unknown zone passed")
	}
}

// A later turn-back time needs a reason, holds while nothing changes, and falls when a new fact moves the computed one.
func TestTurnBackOverride(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	before, err := b.TurnBack(b.ctx)
	b.must(err)
	later := before.At.Add(20 * time.Minute)
	if err := b.SetTurnBack(b.ctx, Act{}, later, "feel like it"); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("without one of the five reasons: %v", err)
	}
	b.must(b.SetTurnBack(b.ctx, Act{}, later, "way_shorter"))
	b.now = b.now.Add(time.Minute)
	b.at(0, 0)
	after, err := b.TurnBack(b.ctx)
	b.must(err)
	if !after.At.Equal(later.Truncate(time.Millisecond)) || !after.Computed.Equal(before.Computed) || after.Override == nil {
		t.Errorf("set to %v: %v, computed %v", later, after.At, after.Computed)
	}
	agreed := b.now.Add(3 * time.Hour)
	b.must(b.Record(b.ctx, Act{}, &journal.Trip{Rods: 2, Travel: "foot", Agreed: agreed.UnixMilli(), Landing: journal.PointOf(geo.NewFrame(geo.Position{Lat: 47.9, Lon: -45}).Position(geo.Local{E: 0, N: -2900}))}))
	fell, err := b.TurnBack(b.ctx)
	b.must(err)
	if !fell.At.Equal(fell.Computed) || fell.Fallen == "" || !fell.At.Before(agreed) {
		t.Errorf("an earlier hour was agreed since: %v, computed %v, %q", fell.At, fell.Computed, fell.Fallen)
	}
}
