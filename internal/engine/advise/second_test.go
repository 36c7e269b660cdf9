package advise

import (
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/dusk"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
)

// Depth of the test lake where walleye were landed: on the slope up to the western bank, within a walk of the landing.
var slope = geo.Local{E: -2480, N: 60}

// walleyeDays writes ten evenings on the slope with so many walleye each, thin snow, and blank perch holes about.
func walleyeDays(t testing.TB, fish int64) *diary {
	t.Helper()
	d := newDiary(t)
	for day := 4; day <= 13; day++ {
		d.write(d.at(day, "14:00"), &journal.Ice{At: journal.PointOf(d.frame.Position(slope)), Total: 380, Snow: mm(20)})
		h := d.hole(d.at(day, "14:30"), slope)
		sit := d.write(d.at(day, "14:35"), &journal.SitStart{Rod: 1, Hole: h, Target: "walleye"})
		if fish > 0 {
			d.write(d.at(day, "15:10"), &journal.Fish{Hole: h, Rod: 1, Species: "walleye", Kept: true, Count: fish})
		}
		d.write(d.at(day, "15:45"), &journal.SitEnd{Sit: sit, Why: "moved"})
	}
	d.write(d.at(15, "09:00"), &journal.Ice{At: journal.PointOf(d.frame.Position(slope)), Total: 400, Snow: mm(20)})
	for k := range 6 {
		d.look(d.at(15, "10:00").Add(time.Duration(k)*4*time.Minute), slope.Add(geo.Local{E: 300 + float64(k)*30}), "none")
	}
	return d
}

func mm(n int64) *int64 { return &n }

// second asks at 13:00, a rod at a blank hole 300 m from the slope.
func second(t testing.TB, d *diary, change func(*Input)) Step {
	t.Helper()
	in := d.input(d.at(15, "13:00"), slope.Add(geo.Local{E: 300}))
	in.Options.Clarity = 4 * quantity.Metre
	in.Rods = []Rod{{Number: 1, At: slope.Add(geo.Local{E: 300}), Since: d.at(15, "10:00")}}
	if change != nil {
		change(&in)
	}
	return mustNext(t, in)
}

func TestSecondTargetFollowsTheRecord(t *testing.T) {
	s := second(t, walleyeDays(t, 3), nil)
	if s.Second == nil || s.Second.Verdict != dusk.Switch {
		t.Fatalf("three walleye an evening: %+v", s.Second)
	}
	b := s.Second.Best
	home := time.Date(2026, 1, 15, 15, 40, 0, 0, b.End.Location())
	if b.Place.At.Distance(slope) > 100 || b.Place.Fish != 30 || b.End.After(home) || b.Leave.Before(s.At) || s.Second.From == nil || b.Holes != 1 || b.Bar.Label == "" {
		t.Errorf("plan %+v from %+v", b, s.Second.From)
	}
	if s.Second.Record.Fish != 30 || s.Second.Record.Hours < 11 {
		t.Errorf("record %+v", s.Second.Record)
	}
	if blank := second(t, walleyeDays(t, 0), nil); blank.Second.Verdict == dusk.Switch || blank.Second.Best.Fish.Mean >= b.Fish.Mean/2 {
		t.Errorf("ten blank evenings: %s %+v", blank.Second.Verdict, blank.Second.Best)
	}
	if none := second(t, newDiary(t), nil); none.Second.Verdict == dusk.Switch || none.Second.Record.Hours != 0 {
		t.Errorf("nothing on record: %s", none.Second.Verdict)
	}
}

// The vetoes of safety and the law are limits, and past the turn-back time there is no second target at all.
func TestSecondTargetIsVetoed(t *testing.T) {
	d := walleyeDays(t, 3)
	s := second(t, d, func(in *Input) {
		in.Veto = func(safety.HopInput) safety.HopAnswer {
			return safety.HopAnswer{Barred: true, Reasons: []safety.Refusal{{Code: "far", Text: "No ice read near."}}}
		}
	})
	if b := s.Second.Best; b != nil && b.Place.Form != dusk.Here {
		t.Errorf("no step may be advised, yet %+v", b.Place)
	}
	if !hasRefusal(s.Second.Refused, "far") {
		t.Errorf("refused %+v", s.Second.Refused)
	}
	s = second(t, d, func(in *Input) { in.Law = dusk.Law{Signed: true, Closed: true} })
	if s.Second.Verdict != dusk.Barred || s.Second.Best != nil {
		t.Errorf("closed by law: %+v", s.Second)
	}
	s = second(t, d, func(in *Input) { in.Home.At = in.Now.Add(-time.Minute) })
	if s.Do != HeadIn || s.Second != nil {
		t.Errorf("past the turn-back time: %v %+v", s.Do, s.Second)
	}
	s = second(t, d, func(in *Input) {
		in.TurnBackAt = func(geo.Local) safety.TurnBack {
			return safety.TurnBack{At: in.Home.At.Add(2 * time.Hour), Computed: in.Home.At.Add(20 * time.Minute)}
		}
		in.Home.Way.Line, in.Home.Way.Basis = []geo.Local{in.Scout.At, {E: -2500}}, "this morning's line"
	})
	if end := s.Second.Best.End; !end.After(s.At) || end.After(time.Date(2026, 1, 15, 16, 0, 0, 0, end.Location())) {
		t.Errorf("a later time of the guide's own does not stretch a dusk plan: ends %v", end)
	}
}

func hasRefusal(list []safety.Refusal, code string) bool {
	for _, r := range list {
		if r.Code == code {
			return true
		}
	}
	return false
}

// The evening plan tells first light and last light apart, neither past the turn-back time there.
func TestEveningTellsTheSecondTarget(t *testing.T) {
	d := walleyeDays(t, 3)
	in := d.input(d.at(14, "19:00"), geo.Local{})
	in.Options.Clarity = 4 * quantity.Metre
	p := mustEvening(t, in, "2026-01-15")
	if len(p.Second) != 2 || !p.Second[0].Morning || p.Second[1].Morning {
		t.Fatalf("%+v", p.Second)
	}
	for _, s := range p.Second {
		if len(s.Why) == 0 {
			t.Errorf("%s without a reason", s.Verdict)
		}
		if b := s.Best; b != nil && (b.End.After(b.TurnBack) || b.Leave.After(p.Home.At) || s.Morning && b.End.After(p.Second[1].At.Add(time.Minute))) {
			t.Errorf("turn back %v: %+v", p.Home.At, b)
		}
	}
}

// Walleye, and the hours spent after them, say nothing of perch: neither the odds of marks nor the rates of the starts move.
func TestWalleyeDoNotCountAsPerch(t *testing.T) {
	some, none := walleyeDays(t, 3), walleyeDays(t, 0)
	now := some.at(15, "13:00")
	a, b := mustHere(t, some.input(now, slope), slope), mustHere(t, none.input(now, slope), slope)
	if a != b {
		t.Errorf("odds with thirty walleye %+v, without %+v", a, b)
	}
	p, q := mustEvening(t, some.input(now, slope), "2026-01-16"), mustEvening(t, none.input(now, slope), "2026-01-16")
	for i := range p.Starts {
		if p.Starts[i].Rate != q.Starts[i].Rate || p.Starts[i].At != q.Starts[i].At {
			t.Errorf("start %s: %+v, without walleye %+v", p.Starts[i].Letter, p.Starts[i].Rate, q.Starts[i].Rate)
		}
	}
}

// A day's target told anew parts a sit: only what comes after counts as hours after walleye, and only what came before as perch
// effort.
func TestTargetToldAnewPartsASit(t *testing.T) {
	d := newDiary(t)
	h := d.hole(d.at(10, "10:00"), geo.Local{})
	sit := d.write(d.at(10, "10:00"), &journal.SitStart{Rod: 1, Hole: h, Target: "perch"})
	d.write(d.at(10, "11:00"), &journal.Trip{Rods: 1, Travel: "foot", Target: "walleye"})
	d.write(d.at(10, "11:20"), &journal.Fish{Hole: h, Rod: 1, Species: "walleye", Kept: true, Count: 2})
	d.write(d.at(10, "11:30"), &journal.SitEnd{Sit: sit, Why: "moved"})
	in := d.input(d.at(15, "09:00"), geo.Local{})
	sits := dusk.Sits(in.Lake, in.Party, 0, time.Time{}, in.Now, in.Surface)
	if len(sits) != 2 || sits[0].Aimed || !sits[1].Aimed || len(sits[0].Fish) != 0 || len(sits[1].Fish) != 2 || !sits[0].To.Equal(d.at(10, "11:00")) || !sits[1].To.Equal(d.at(10, "11:30")) {
		t.Errorf("%+v", sits)
	}
	w, err := in.look(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if r := w.readRecord(); len(r) != 1 || r[0].hours != 1 || r[0].fish != 0 {
		t.Errorf("perch effort %+v", r)
	}
}
