package advise

import (
	"context"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
)

func TestFirstStepOfADay(t *testing.T) {
	d := newDiary(t)
	s := mustNext(t, d.input(d.at(15, "09:00"), geo.Local{}))
	if s.Do != Drill || s.Odds.Event != "marks" || s.Odds.Wait != 30*time.Second || s.Cost.Holes != 1 || s.Cost.Minutes <= 0 || s.Ice.Label == "" {
		t.Errorf("%+v", s)
	}
	if len(s.Changes) == 0 {
		t.Error("nothing would change it")
	}
}

// Ten looks: the step follows marks and leaves blanks.
func TestStepFollowsTheLooks(t *testing.T) {
	d := newDiary(t)
	p := geo.Local{E: 50}
	h := d.look(d.at(15, "09:02"), p, "few")
	s := mustNext(t, d.input(d.at(15, "09:03"), p))
	// on made-up lakes a few marks are seen again a minute later in 0.57 of looks (docs/models/search.md)
	if s.Do != Look || s.Hole != h || s.Odds.P < 0.42 || s.Odds.P > 0.72 {
		t.Errorf("after marks: %v in %v, %+v", s.Do, s.Hole, s.Odds)
	}
	if r := s.Why[0]; r.Code != "looks_near" || r.Count != 1 || r.Of != 1 || len(r.Holes) != 1 || r.Holes[0] != h || r.Age != time.Minute {
		t.Errorf("reason %+v", r)
	}
	d.write(d.at(15, "09:04"), &journal.Look{Hole: h, Seconds: 30, Marks: "few"})
	s = mustNext(t, d.input(d.at(15, "09:05"), p))
	if s.Do != Stay || s.Hole != h || s.Why[0].Code != "marks_here" {
		t.Errorf("confirmed, no rods out: %v, %+v", s.Do, s.Why[0])
	}
	at := geo.Local{E: -600, N: 400}
	for i := range 6 {
		d.look(d.at(15, "10:00").Add(time.Duration(i)*4*time.Minute), at.Add(geo.Local{E: float64(i) * 30}), "none")
	}
	s = mustNext(t, d.input(d.at(15, "10:25"), at.Add(geo.Local{E: 150})))
	if s.Do != Drill {
		t.Errorf("after six blanks: %v", s.Do)
	}
	for _, h := range d.lake.HolesOn("2026-01-15") {
		if s.To.Distance(h.At) < 20 {
			t.Errorf("next hole %v beside a blank one", s.To)
		}
	}
}

func TestOddsAnswerToTheJournal(t *testing.T) {
	d := newDiary(t)
	p := geo.Local{E: 300, N: -200}
	now := d.at(15, "10:00")
	base := mustHere(t, d.input(now, geo.Local{}), p)
	d.look(d.at(15, "09:58"), p, "none")
	blank := mustHere(t, d.input(now, geo.Local{}), p)
	d.look(d.at(15, "09:59"), p.Add(geo.Local{E: 8}), "many")
	marks := mustHere(t, d.input(now, geo.Local{}), p.Add(geo.Local{E: 8}))
	if !(blank.P < base.P && marks.P > base.P) {
		t.Errorf("before %.4f, blank %.4f, marks %.4f", base.P, blank.P, marks.P)
	}
	far := geo.Local{E: -700, N: 700}
	before := mustHere(t, d.input(now, geo.Local{}), far)
	d.write(d.at(15, "09:59"), &journal.Crowd{At: *journal.PointOf(d.frame.Position(far)), Radius: 60000, Shelters: 5})
	with := mustHere(t, d.input(now, geo.Local{}), far)
	if with.P >= before.P {
		t.Errorf("crowd: %.4f to %.4f", before.P, with.P)
	}
	_, why, err := Here(context.Background(), d.input(now, geo.Local{}), far)
	if err != nil || !hasCode(why, "crowd") {
		t.Errorf("%v, reasons %v", err, why)
	}
	o, why, err := Here(context.Background(), d.input(now, geo.Local{}), geo.Local{E: 5000})
	if err != nil || o.P != 0 || why[0].Code != "not_water" {
		t.Errorf("on land %+v %+v %v", o, why, err)
	}
}

func hasCode(rs []Reason, code string) bool {
	for _, r := range rs {
		if r.Code == code {
			return true
		}
	}
	return false
}

// Words from both sides of their lines, docs/glossary.md: likely from 1/2, fair from 1/5.
func TestWords(t *testing.T) {
	for p, want := range map[float64]string{0.5: "likely", 0.4999: "fair", 0.2: "fair", 0.1999: "long_shot", 0: "long_shot", 1: "likely"} {
		if got := word(p); got != want {
			t.Errorf("%g: %s, want %s", p, got, want)
		}
	}
}

func TestTurnBackBinds(t *testing.T) {
	d := newDiary(t)
	d.look(d.at(15, "15:00"), geo.Local{E: 20}, "many")
	in := d.input(d.at(15, "15:41"), geo.Local{E: 25})
	in.Rods = []Rod{{Number: 1, At: geo.Local{E: 20}, Since: d.at(15, "15:00")}}
	s := mustNext(t, in)
	if s.Do != HeadIn || s.Why[0].Code != "turn_back" || s.Rods[0].Do != HeadIn {
		t.Errorf("past the turn-back time: %v %+v", s.Do, s.Why)
	}
	// a minute before it no look can be made in time
	in = d.input(d.at(15, "15:39").Add(50*time.Second), geo.Local{E: 25})
	if s := mustNext(t, in); s.Do != HeadIn {
		t.Errorf("ten seconds before: %v to %v in %.1f min", s.Do, s.To, s.Cost.Minutes)
	}
	// whatever is advised before it ends before it, the longer way home charged
	for _, clock := range []string{"15:20", "15:30", "15:36"} {
		in := d.input(d.at(15, clock), geo.Local{E: 25})
		s := mustNext(t, in)
		if s.Do != Drill && s.Do != Look {
			continue
		}
		done := in.Now.Add(time.Duration(s.Cost.Minutes * float64(time.Minute)))
		landing := geo.Local{E: -2500}
		pace := float64(in.Scout.At.Distance(landing)) / in.Home.Way.Travel.Seconds()
		extra := time.Duration(math.Max(0, float64(s.To.Distance(landing)-in.Scout.At.Distance(landing))/pace) * float64(time.Second))
		if done.Add(extra).After(in.Home.At.Add(time.Second)) {
			t.Errorf("%s: a step to %v ends at %v", clock, s.To, done)
		}
	}
	// no turn-back time: an earlier one is taken, and it is said
	in = d.input(d.at(15, "15:41"), geo.Local{E: 25})
	in.Home = safety.TurnBack{}
	if s := mustNext(t, in); s.Do != HeadIn || !strings.Contains(s.Why[0].Text, "no turn-back time") {
		t.Errorf("without a turn-back time: %v %+v", s.Do, s.Why)
	}
}

func TestNoFixNoPlace(t *testing.T) {
	d := newDiary(t)
	h := d.look(d.at(15, "09:30"), geo.Local{E: 20}, "many")
	d.write(d.at(15, "09:31"), &journal.SitStart{Hole: h, Rod: 1})
	for name, spoil := range map[string]func(*Place){
		"unknown": func(p *Place) { p.Known = false },
		"stale":   func(p *Place) { p.Fixed = p.Fixed.Add(-4 * time.Minute) },
		"rough":   func(p *Place) { p.Accuracy = 400 },
	} {
		in := d.input(d.at(15, "09:40"), geo.Local{E: 25})
		spoil(&in.Scout)
		s := mustNext(t, in)
		if s.Do != Stay || s.Why[0].Code != "no_fix" || len(s.Others) > 0 || len(s.Rods) != 1 {
			t.Errorf("%s: %v %+v", name, s.Do, s.Why)
		}
		in.Rods = nil
		if s := mustNext(t, in); s.Do != Wait {
			t.Errorf("%s without rods: %v", name, s.Do)
		}
	}
}

// A veto is never advised over: not the step, nor an alternative, nor a rod's move.
func TestVetoIsObeyed(t *testing.T) {
	d := newDiary(t)
	good := d.look(d.at(15, "09:30"), geo.Local{E: 200}, "many")
	d.fish(d.at(15, "09:32"), good, 3)
	dull := d.look(d.at(15, "09:00"), geo.Local{}, "none")
	d.write(d.at(15, "09:01"), &journal.SitStart{Hole: dull, Rod: 1})
	barred := func(p geo.Local) bool { return p.E > 60 }
	in := d.input(d.at(15, "09:33"), geo.Local{E: 10})
	if s := mustNext(t, in); s.Rods[0].Do != Move || s.Rods[0].To != good {
		t.Errorf("nothing barred: rod %+v", s.Rods[0])
	}
	in.Veto = func(h safety.HopInput) safety.HopAnswer {
		if barred(h.To) {
			return safety.HopAnswer{Barred: true, Reasons: []safety.Refusal{{Code: "hazard", Text: "A ridge lies between."}}, Label: "barred"}
		}
		return safety.HopAnswer{Label: "not read there"}
	}
	s := mustNext(t, in)
	if (s.Do == Drill || s.Do == Look || s.Do == Move) && barred(s.To) || s.Rods[0].Do == Move {
		t.Errorf("advised over a veto: %v to %v, rod %v", s.Do, s.To, s.Rods[0].Do)
	}
	for _, a := range s.Others {
		if barred(a.To) {
			t.Errorf("alternative over a veto: %v", a.To)
		}
	}
	in.Veto = func(safety.HopInput) safety.HopAnswer {
		return safety.HopAnswer{Barred: true, Reasons: []safety.Refusal{{Code: "thaw", Text: "Thaw: no step over unread ice."}}, Label: "barred"}
	}
	in.Scout.At = geo.Local{N: 300}
	if s := mustNext(t, in); s.Do == Drill || s.Do == Look || s.Why[0].Code != "thaw" || s.Why[0].Text == "" {
		t.Errorf("all barred: %v %+v", s.Do, s.Why)
	}
}

// The real veto: without an ice reading of the day no step is advised; with one nearby the step is labelled.
func TestRealVeto(t *testing.T) {
	d := newDiary(t)
	in := d.input(d.at(15, "09:00"), geo.Local{})
	in.Veto = nil
	if s := mustNext(t, in); s.Do != Wait {
		t.Errorf("no reading: %v, %+v", s.Do, s.Ice)
	}
	d.ice(d.at(15, "08:50"), geo.Local{E: 5})
	air := int64(-120)
	for h := range 30 {
		d.write(d.at(14, "03:00").Add(time.Duration(h)*time.Hour), &journal.Weather{Air: &air})
	}
	in = d.input(d.at(15, "09:00"), geo.Local{})
	in.Veto = nil
	s := mustNext(t, in)
	if s.Do != Drill || s.Ice.Barred || s.Ice.Label == "" {
		t.Errorf("with a reading: %v, %+v", s.Do, s.Ice)
	}
	for _, p := range []geo.Local{s.To} {
		if p.Distance(geo.Local{E: 5}) > 500 || in.Surface.ShoreDistance(p) < 200 {
			t.Errorf("step to %v", p)
		}
	}
}

func TestRodsStayOnFishAndLeaveSilence(t *testing.T) {
	d := newDiary(t)
	quiet := d.look(d.at(15, "09:00"), geo.Local{}, "none")
	busy := d.look(d.at(15, "09:20"), geo.Local{E: 120}, "many")
	d.write(d.at(15, "09:01"), &journal.SitStart{Hole: quiet, Rod: 1})
	d.write(d.at(15, "09:21"), &journal.SitStart{Hole: busy, Rod: 2})
	open := d.look(d.at(15, "09:28"), geo.Local{E: 126, N: 2}, "many")
	for i := range 4 {
		d.fish(d.at(15, "09:22").Add(time.Duration(i)*2*time.Minute), busy, 1)
	}
	in := d.input(d.at(15, "09:29"), geo.Local{E: 124})
	s := mustNext(t, in)
	one, two := s.Rods[0], s.Rods[1]
	if one.Do != Move || one.To != open || !hasCode(one.Why, "gone_quiet") {
		t.Errorf("rod on silence: %+v", one)
	}
	if two.Do != Stay || two.Why[0].Code != "bites_here" || two.Why[0].Count != 4 || two.Here.Mean <= one.Here.Mean || !two.ReAsk.After(in.Now) {
		t.Errorf("rod on fish: %+v", two)
	}
	for _, r := range []Rate{one.Here, two.Here, one.There} {
		if !(r.Low < r.Mean && r.Mean < r.High) {
			t.Errorf("rate %+v", r)
		}
	}
	// one of one rods moves and the scout stands there: bring the party over
	in.Rods = in.Rods[:1]
	if s := mustNext(t, in); s.Do != Move || s.Hole != open && s.Hole != busy {
		t.Errorf("call %v to %v", s.Do, s.Hole)
	}
}

func TestSameInputsSameAdvice(t *testing.T) {
	d := newDiary(t)
	rngLooks(d, 40)
	in := d.input(d.at(15, "12:00"), geo.Local{E: 30, N: 40})
	one, two := mustNext(t, in), mustNext(t, in)
	m, err := Remember(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	in.Memory = m
	three := mustNext(t, in)
	if !reflect.DeepEqual(one, two) || !reflect.DeepEqual(one, three) {
		t.Errorf("differs:\n%+v\n%+v\n%+v", one, two, three)
	}
	in.Options.WalkSpeed = 2.1747991887 * quantity.MilePerHour // the default, in other units
	in.Options.GoodLength = 9.05511811 * quantity.Inch
	if four := mustNext(t, in); four.Do != one.Do || four.To != one.To || !num.Close(four.Odds.P, one.Odds.P, 1e-9) || !num.Close(four.Cost.Minutes, one.Cost.Minutes, 1e-6) {
		t.Errorf("units changed the advice from %v %v to %v %v", one.Do, one.To, four.Do, four.To)
	}
}

func rngLooks(d *diary, n int) {
	for i := range n {
		marks := "none"
		if i%9 == 4 {
			marks = "few"
		}
		p := geo.Local{E: 40 * float64(i%7), N: 35 * float64(i/7)}
		d.look(d.at(14+i%2, "09:00").Add(time.Duration(i)*4*time.Minute), p, marks)
	}
}

// A look in a hole without a place moves nothing and is counted.
func TestPlacelessLooksAreCountedOnly(t *testing.T) {
	d := newDiary(t)
	p := geo.Local{E: 100}
	now := d.at(15, "10:00")
	before := mustHere(t, d.input(now, p), p)
	h := d.write(d.at(15, "09:30"), &journal.Hole{Number: 99})
	d.write(d.at(15, "09:31"), &journal.Look{Hole: h, Seconds: 30, Marks: "many"})
	d.write(d.at(15, "09:32"), &journal.Fish{Hole: h, Species: "perch", Count: 2})
	d.write(d.at(15, "09:33"), &journal.Fish{Species: "perch", Count: 1})
	d.write(d.at(15, "09:34"), &journal.SitStart{Hole: h, Rod: 1})
	in := d.input(now, p)
	if after := mustHere(t, in, p); after != before {
		t.Errorf("odds moved from %+v to %+v", before, after)
	}
	s := mustNext(t, in)
	if s.Evidence.Placeless < 3 || s.Evidence.Looks != 0 {
		t.Errorf("evidence %+v", s.Evidence)
	}
	if len(s.Rods) != 1 || s.Rods[0].Do != Stay || s.Rods[0].Why[0].Code != "no_place" {
		t.Errorf("rod %+v", s.Rods)
	}
}

func TestMissingThingsAreFaultsNotPanics(t *testing.T) {
	d := newDiary(t)
	good := d.input(d.at(15, "10:00"), geo.Local{})
	ctx := context.Background()
	for name, spoil := range map[string]func(*Input){
		"no lake": func(in *Input) { in.Lake = nil },
		"no time": func(in *Input) { in.Now = time.Time{} },
	} {
		in := good
		spoil(&in)
		for what, ask := range map[string]func() error{
			"next": func() error { _, err := Next(ctx, in); return err }, "map": func() error { _, err := MapOdds(ctx, in); return err },
			"evening": func() error { _, err := Evening(ctx, in, "2026-01-16"); return err },
			"here":    func() error { _, _, err := Here(ctx, in, geo.Local{}); return err },
			"memory":  func() error { _, err := Remember(ctx, in); return err },
		} {
			var f *fault.Error
			if err := ask(); !errors.As(err, &f) || f.Hint == "" {
				t.Errorf("%s, %s: %v", name, what, err)
			}
		}
	}
	in := good
	in.Party = nil
	mustNext(t, in)
	in.Surface = nil
	if s := mustNext(t, in); s.Do != Wait || s.Why[0].Code != "no_outline" {
		t.Errorf("no outline: %v %+v", s.Do, s.Why)
	}
	if _, err := Evening(ctx, in, "2026-01-16"); fault.CodeOf(err) != fault.Missing {
		t.Errorf("evening without outline: %v", err)
	}
	if _, err := Evening(ctx, good, "tomorrow"); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("evening of %q: %v", "tomorrow", err)
	}
	in = good
	in.Rods = []Rod{{Number: 3, Hole: uuid.UUID{77}}}
	mustNext(t, in)
	stopped, stop := context.WithCancel(ctx)
	stop()
	if _, err := Next(stopped, good); err == nil {
		t.Error("a cancelled question was answered")
	}
}

// A model that does worse than a constant rate hands over to line and spiral.
func TestPlainTakesOver(t *testing.T) {
	d := newDiary(t)
	area := &journal.Sketch{Weight: 3}
	for _, p := range []geo.Local{{E: -100, N: -900}, {E: 900, N: -900}, {E: 900, N: 900}, {E: -100, N: 900}} {
		area.Area = append(area.Area, *journal.PointOf(d.frame.Position(p)))
	}
	d.write(d.at(1, "08:00"), area)
	bad := &journal.Sketch{Weight: -3}
	for _, p := range []geo.Local{{E: -900, N: -900}, {E: -101, N: -900}, {E: -101, N: 900}, {E: -900, N: 900}} {
		bad.Area = append(bad.Area, *journal.PointOf(d.frame.Position(p)))
	}
	d.write(d.at(1, "08:01"), bad)
	for i := range 60 { // blank where the sketch praises, marks in one of three where it condemns
		p := geo.Local{E: 60 * float64(i%10), N: 100 * float64(i/10-3)}
		marks := "none"
		if i%2 == 0 {
			p.E = -200 - p.E
			if i%6 == 0 {
				marks = "many"
			}
		}
		d.look(d.at(15, "08:00").Add(time.Duration(i)*5*time.Minute), p, marks)
	}
	s := mustNext(t, d.input(d.at(15, "13:00"), geo.Local{E: 300}))
	if !s.Plain || s.Score.Gain >= plainLoss || s.Score.Looks != 60 {
		t.Errorf("plain %v, score %+v", s.Plain, s.Score)
	}
	if s.Why[0].Code != "line" && s.Why[0].Code != "spiral" {
		t.Errorf("reason %+v", s.Why[0])
	}
}

func TestMapKnowsLandFromWater(t *testing.T) {
	d := newDiary(t)
	d.look(d.at(15, "09:30"), geo.Local{E: 2400}, "none")
	m, err := MapOdds(context.Background(), d.input(d.at(15, "10:00"), geo.Local{E: 2500}))
	if err != nil {
		t.Fatal(err)
	}
	land, water, looked := 0, 0, 0
	for i, p := range m.P {
		on := surfaceOf(t).OnWater(m.Grid.Centre(i))
		switch {
		case on != !math.IsNaN(p):
			t.Fatalf("cell %d: on water %v, odds %v", i, on, p)
		case on:
			water++
			if p < 0 || p > 1 {
				t.Fatalf("odds %v", p)
			}
			if m.Looked[i] > 0.01 {
				looked++
			}
		default:
			land++
		}
	}
	if land == 0 || water == 0 || looked == 0 || looked == water {
		t.Errorf("%d land, %d water, %d looked at", land, water, looked)
	}
	if float64(m.Grid.Cell)*float64(m.Grid.NX) != 2000 {
		t.Errorf("grid %+v", m.Grid)
	}
}
