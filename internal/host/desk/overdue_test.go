package desk

import (
	"bytes"
	"context"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/engine/safety"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/sim"
	"icehand/internal/trade/journal"
)

// madeUp makes the demo's journal once for all tests; each fills its own store from it.
var madeUp = sync.OnceValues(func() (*sim.Demo, error) { return sim.NewDemo(15) })

// planned is the made-up lake with a plan for 15 January, ashore by 16:30, and a clock that can be moved.
func planned(t *testing.T) (d *Desk, st store.Store, now *time.Time, people []uuid.UUID) {
	t.Helper()
	demo, err := madeUp()
	if err != nil {
		t.Fatal(err)
	}
	at := demo.Now
	st = mem.New(store.Identity{Outfit: journal.NewID(), Account: journal.NewID(), Journal: journal.NewID(), Epoch: journal.NewID(), Made: at})
	if err := demo.Fill(t.Context(), st); err != nil {
		t.Fatal(err)
	}
	now = &at
	if d, err = Open(t.Context(), st, Options{Clock: func() time.Time { return *now }, Recall: surfaces.Recall, Keep: surfaces.Keep}); err != nil {
		t.Fatal(err)
	}
	err = d.LeaveAshore(t.Context(), Act{}, PlanText{Day: "2026-01-15", CheckIn: 180, Sealed: "A: 47.91234, -45.01234\nB: 47.9, -45",
		Sheet: Sheet{Watcher: "Ruth Vossler", Calls: []Call{{"Dale Harkin", "555 0142"}}, Vehicles: []string{"truck, white, LF 1"}, Areas: []string{"the flat"}},
		Steps: []journal.PlanStep{{Do: "call_party", After: 15}, {Do: "look_for", After: 30}, {Do: "call_rescue", After: 60, Dark: 30}}})
	if err != nil {
		t.Fatal(err)
	}
	trip := TripBody(*d.party.Trip("2026-01-15"))
	ashore, err := ClockOn("2026-01-15", "16:30", d.lake.Zone)
	if err != nil {
		t.Fatal(err)
	}
	trip.Agreed = ashore.UnixMilli()
	if err := d.Record(t.Context(), Act{}, &trip); err != nil {
		t.Fatal(err)
	}
	for _, p := range demo.People {
		people = append(people, p.ID)
	}
	return d, st, now, people
}

func clockAt(day int, hour, minute int) time.Time {
	return time.Date(2026, 1, day, hour, minute, 0, 0, time.FixedZone("", -3*3600))
}

// The worked evening: a check-in by radio, late at dusk, steps taken, past midnight, ashore. Minutes: common practice, no source. At each hour the program
// is started anew on the same store and gives the same answer: nothing hangs on a running clock.
func TestOverdueDay(t *testing.T) {
	d, st, now, people := planned(t)
	tell := func(at time.Time, what, step string) {
		t.Helper()
		*now = at
		if err := d.Tell(t.Context(), Act{}, what, step, "by Ruth"); err != nil {
			t.Fatal(err)
		}
	}
	see := func(at time.Time, state, next string, overdue bool) {
		t.Helper()
		*now = at
		for _, who := range []string{"running", "started anew"} {
			x := d
			if who == "started anew" {
				var err error
				if x, err = Open(context.Background(), st, Options{Clock: func() time.Time { return at }, Recall: surfaces.Recall, Keep: surfaces.Keep}); err != nil {
					t.Fatal(err)
				}
			}
			o, err := x.Overdue(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			got := ""
			if a := o.Answer; a.Next < len(a.Steps) && a.Steps[a.Next].Due {
				got = a.Steps[a.Next].Do
			}
			if o.Answer.State != state || got != next || o.Answer.Overdue != overdue || o.Day != "2026-01-15" {
				t.Errorf("%s, %s: %s on %s, next %q, overdue %v; want %s, %q, %v", at.Format("15:04"), who, o.Answer.State, o.Day, got, o.Answer.Overdue, state, next, overdue)
			}
		}
	}
	see(clockAt(15, 10, 0), safety.TripDue, "", false) // out since 06:42: the first check-in was due at 09:42
	tell(clockAt(15, 12, 5), "check_in", "")
	see(clockAt(15, 12, 6), safety.TripOut, "", false)
	see(clockAt(15, 15, 5), safety.TripDue, "", false)
	tell(clockAt(15, 15, 10), "returning", "")
	see(clockAt(15, 16, 30), safety.TripReturning, "", false)
	see(clockAt(15, 16, 45), safety.TripReturning, "call_party", true)
	tell(clockAt(15, 16, 46), "step", "call_party")
	see(clockAt(15, 16, 59), safety.TripReturning, "", true)
	see(clockAt(15, 17, 30), safety.TripReturning, "look_for", true)
	tell(clockAt(15, 17, 31), "step", "look_for")
	see(clockAt(15, 17, 32), safety.TripReturning, "call_rescue", true)
	see(clockAt(16, 0, 30), safety.TripReturning, "call_rescue", true) // past midnight it is still that trip
	*now = clockAt(16, 0, 40)
	for i, p := range people {
		if err := d.Record(t.Context(), Act{}, &journal.Claim{Person: p, State: "ashore"}); err != nil {
			t.Fatal(err)
		}
		if i == len(people)-2 {
			if o, err := d.Overdue(t.Context()); err != nil || !o.Answer.Overdue || o.Out != 1 {
				t.Errorf("with one still out: %v, %d out, %v", o.Answer, o.Out, err)
			}
		}
	}
	*now = clockAt(15, 23, 59)
	if o, err := d.Overdue(t.Context()); err != nil || !o.Answer.Overdue {
		t.Errorf("what was reported later counts before its time: %v %v", o.Answer, err)
	}
}

// The sealed points open only while the party is overdue or an incident runs, in a name, and the opening is written down.
func TestSealed(t *testing.T) {
	d, _, now, _ := planned(t)
	*now = clockAt(15, 16, 29)
	if _, err := d.OpenSealed(t.Context(), Act{}, "Ruth"); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("not overdue: %v", err)
	}
	*now = clockAt(15, 16, 31)
	if _, err := d.OpenSealed(t.Context(), Act{}, " "); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("without a name: %v", err)
	}
	points, err := d.OpenSealed(t.Context(), Act{}, "Ruth")
	if err != nil || len(points) != 2 || points[0].Name != "A" || points[0].At.Lat != 47.91234 {
		t.Fatalf("%v %v", points, err)
	}
	o, err := d.Overdue(t.Context())
	if err != nil || len(o.Log) != 1 || o.Log[0].What != "opened" || o.Log[0].Note != "Ruth" {
		t.Errorf("the opening is not written down: %v %v", o.Log, err)
	}
	d, _, now, _ = planned(t)
	*now = clockAt(15, 12, 0)
	if err := d.Tell(t.Context(), Act{}, "incident", "", ""); err != nil {
		t.Fatal(err)
	}
	if _, err := d.OpenSealed(t.Context(), Act{}, "Ruth"); err != nil {
		t.Errorf("in an incident: %v", err)
	}
	if err := d.Tell(t.Context(), Act{}, "opened", "", ""); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("an opening is told without one: %v", err)
	}
}

// The alarm file tells the check-in and the steps, and no position [RFC5545].
func TestStepAlarms(t *testing.T) {
	d, _, now, _ := planned(t)
	*now = clockAt(15, 12, 0)
	var b bytes.Buffer
	if err := d.Alarms(t.Context(), &b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"SUMMARY:Check-in is due", "SUMMARY:Overdue: call rescue\\, with the sheet", "DTSTART:20260115T194500Z", "DTSTART:20260115T200000Z", "DTSTART:20260115T203000Z"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is not in\n%s", want, b.String())
		}
	}
	if strings.Contains(b.String(), "47.9") {
		t.Error("the alarm file holds a position")
	}
}

// A plan that cannot be meant is refused by name, and nothing of it is kept.
func TestPlanRefuses(t *testing.T) {
	d, st, _, _ := planned(t)
	good := Sheet{Watcher: "Ruth"}
	before := len(d.party.Plans)
	texts := func() (n int) {
		if err := st.Texts(t.Context(), func(store.Salted) error { n++; return nil }); err != nil {
			t.Fatal(err)
		}
		return n
	}
	kept := texts()
	for what, x := range map[string]PlanText{
		"no watcher":         {Day: "2026-01-15"},
		"no day":             {Day: "soon", Sheet: good},
		"no number":          {Day: "2026-01-15", Sheet: Sheet{Watcher: "Ruth", Calls: []Call{{"Dale", ""}}}},
		"no position":        {Day: "2026-01-15", Sheet: good, Sealed: "A: by the old pier"},
		"no hour":            {Day: "2026-01-15", Sheet: good, Out: "early"},
		"negative minutes":   {Day: "2026-01-15", Sheet: good, Steps: []journal.PlanStep{{Do: "call_party", After: -5}}},
		"out of order":       {Day: "2026-01-15", Sheet: good, Steps: []journal.PlanStep{{Do: "call_party", After: 30}, {Do: "look_for", After: 15}}},
		"longer in the dark": {Day: "2026-01-15", Sheet: good, Steps: []journal.PlanStep{{Do: "call_rescue", After: 30, Dark: 60}}},
		"no such step":       {Day: "2026-01-15", Sheet: good, Steps: []journal.PlanStep{{Do: "wait"}}},
		"no such check-in":   {Day: "2026-01-15", Sheet: good, CheckIn: 99999},
	} {
		if err := d.LeaveAshore(t.Context(), Act{}, x); fault.CodeOf(err) != fault.BadInput || fault.Public(err).Hint == "" {
			t.Errorf("%s: %v", what, err)
		}
	}
	if len(d.party.Plans) != before || texts() != kept {
		t.Errorf("%d plans and %d texts are kept, were %d and %d", len(d.party.Plans), texts(), before, kept)
	}
}
