package advise

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
)

func mustAnswer(t *testing.T, in Input) (Step, *Answers) {
	t.Helper()
	in.Answers = true
	s, err := Next(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	if s.Answers == nil {
		t.Fatal("no answers")
	}
	return s, s.Answers
}

// The answers are only made when they are asked for, and they change nothing of the step.
func TestAnswersChangeNothing(t *testing.T) {
	d := newDiary(t)
	d.look(d.at(15, "09:00"), geo.Local{E: 50}, "few")
	in := d.input(d.at(15, "09:05"), geo.Local{E: 50})
	plain := mustNext(t, in)
	if plain.Answers != nil {
		t.Error("answers that nobody asked for")
	}
	s, _ := mustAnswer(t, in)
	if s.Do != plain.Do || s.To != plain.To || s.Odds != plain.Odds || s.Hole != plain.Hole {
		t.Errorf("with answers %v to %v, without %v to %v", s.Do, s.To, plain.Do, plain.To)
	}
}

// Questions 2 and 6: the counts are those of the journal, by hand.
func TestBasisAndTriedCountTheJournal(t *testing.T) {
	d := newDiary(t)
	p := geo.Local{E: 40}
	d.look(d.at(3, "10:00"), p.Add(geo.Local{N: 20}), "few")
	h := d.look(d.at(3, "10:10"), p.Add(geo.Local{N: 30}), "none")
	d.fish(d.at(3, "10:20"), h, 2)
	d.look(d.at(7, "11:00"), p.Add(geo.Local{E: 120}), "none") // near for the record, not the same place
	d.look(d.at(15, "09:00"), p, "few")
	d.look(d.at(15, "09:10"), geo.Local{E: -900}, "none")
	in := d.input(d.at(15, "09:12"), p)
	s, a := mustAnswer(t, in)
	if s.Do != Look || !a.Somewhere || a.At.Distance(p) > 0.1 {
		t.Fatalf("%v at %v", s.Do, a.At)
	}
	b := a.Basis
	if b.Near.Looks != 1 || b.Near.Marks != 1 || b.Today.Looks != 2 || b.Past.Looks != 3 || b.Past.Days != 2 || b.Season.Looks != 3 || b.Season.Marks != 1 || b.Season.Days != 2 {
		t.Errorf("%+v", b)
	}
	if !b.Near.Newest.Equal(d.at(15, "09:00")) || !b.Past.Oldest.Equal(d.at(3, "10:00")) {
		t.Errorf("%+v", b)
	}
	if b.Known < 0.25 {
		t.Errorf("marks of minutes ago account for %.2f of the odds", b.Known)
	}
	v := a.Before.Visits
	if len(v) != 2 || v[0].Day != "2026-01-15" || v[1].Day != "2026-01-03" {
		t.Fatalf("%+v", v)
	}
	if old := v[1]; old.Looks != 2 || old.Marks != 1 || old.Fish != 2 || len(old.Holes) != 2 || !old.Last.Equal(d.at(3, "10:20")) {
		t.Errorf("%+v", old)
	}
	// a place never tried names the nearest hole
	s, a = mustAnswer(t, d.input(d.at(15, "09:12"), geo.Local{E: -900, N: 500}))
	if s.Do != Drill || len(a.Before.Visits) != 0 && a.Before.Nearest > triedNear || a.Before.Nearest <= 0 {
		t.Errorf("%v %+v", s.Do, a.Before)
	}
}

// Question 3: a blank look lowers the odds there and marks raise them, as any look does.
func TestWhatWouldTurnTheStep(t *testing.T) {
	d := newDiary(t)
	d.look(d.at(15, "09:00"), geo.Local{E: 50}, "none")
	s, a := mustAnswer(t, d.input(d.at(15, "09:05"), geo.Local{E: 50}))
	if s.Do != Drill {
		t.Fatalf("%v", s.Do)
	}
	blank, marks := a.Wrong[0], a.Wrong[1]
	if blank.Code != "if_blank" || marks.Code != "if_marks" || !(blank.Odds.P < s.Odds.P && marks.Odds.P > s.Odds.P) {
		t.Errorf("%v: blank %+v, marks %+v", s.Odds.P, blank.Odds, marks.Odds)
	}
	if blank.Then == nil || blank.Then.Do != Drill || blank.Then.Paces <= 0 {
		t.Errorf("after a blank: %+v", blank.Then)
	}
	has := false
	for _, x := range a.Wrong {
		has = has || x.Code == string(TooEarly) && x.Count == 1 && x.Of == plainAfter
	}
	if !has {
		t.Errorf("one look is enough to judge the odds: %+v", a.Wrong)
	}
}

// Questions 4 and 8: the bill adds up, and the way home is charged.
func TestBillAndWayHome(t *testing.T) {
	d := newDiary(t)
	d.look(d.at(15, "09:00"), geo.Local{E: 50}, "none")
	in := d.input(d.at(15, "09:05"), geo.Local{E: 50})
	in.Options.HolesLeft = 7
	s, a := mustAnswer(t, in)
	sum := a.Cost.Walk + a.Cost.Drill + a.Cost.Look
	if diff := sum - minutes(s.Cost.Minutes); diff < -time.Second || diff > time.Second || a.Cost.Holes != 1 || a.Cost.HolesLeft != 7 {
		t.Errorf("%+v against %.2f min", a.Cost, s.Cost.Minutes)
	}
	h := a.Home
	if !h.Told || !h.Known || h.Latest.After(h.At) || h.Spare != h.Latest.Sub(h.Done) || h.Spare <= 0 || !h.Done.Equal(in.Now.Add(minutes(s.Cost.Minutes))) {
		t.Errorf("%+v", h)
	}
	in.Home.Override = &safety.Override{Set: d.at(15, "08:30"), Until: in.Home.At}
	in.Home.Computed = d.at(15, "15:00")
	if _, a = mustAnswer(t, in); !a.Home.Set.Equal(d.at(15, "08:30")) || !a.Home.Would.Equal(d.at(15, "15:00")) {
		t.Errorf("an override is not shown with what it changed: %+v", a.Home)
	}
}

// Question 7: who read the nearest ice, and when.
func TestIceIsNamedWithItsWriter(t *testing.T) {
	d := newDiary(t)
	d.look(d.at(15, "09:00"), geo.Local{E: 50}, "none")
	d.ice(d.at(15, "08:00"), geo.Local{E: 30})
	in := d.input(d.at(15, "09:05"), geo.Local{E: 50})
	in.Veto = nil
	_, a := mustAnswer(t, in)
	if a.Ice.By != d.by.Account || !a.Ice.When.Equal(d.at(15, "08:00")) || a.Ice.Today != 1 || a.Ice.Thinnest != 420*quantity.Millimetre {
		t.Errorf("%+v", a.Ice)
	}
}

// Question 9: who is out, from where each walks, and what keeps them.
func TestWhoCanWalkThatFar(t *testing.T) {
	d := newDiary(t)
	near, far := geo.Local{E: 50}, geo.Local{E: 600}
	h := d.look(d.at(15, "09:00"), near, "few")
	away := d.hole(d.at(15, "08:30"), far)
	guest := func(role, age string, rod int64, seat uuid.UUID, reach *int64) uuid.UUID {
		return d.write(d.at(15, "07:00"), &journal.Guest{Name: journal.Text{}, Role: role, Age: age, Rod: rod, Seat: seat, Reach: reach})
	}
	told := int64(700_000)
	guide := guest("guide", "adult", 0, uuid.Nil, nil)
	child := guest("guest", "child", 1, h, nil)
	elder := guest("guest", "elder", 2, away, nil)
	keen := guest("guest", "elder", 3, away, &told)
	lost := guest("guest", "adult", 4, uuid.Nil, nil)
	home := guest("guest", "adult", 5, h, nil)
	d.write(d.at(15, "08:00"), &journal.Claim{Person: home, State: "ashore"})
	d.write(d.at(15, "08:00"), &journal.LoadParked{What: "sled", Mass: 1000, At: *journal.PointOf(d.frame.Position(geo.Local{E: 50, N: 900}))})
	s, a := mustAnswer(t, d.input(d.at(15, "09:02"), near))
	if s.Do != Look {
		t.Fatalf("%v", s.Do)
	}
	got := map[uuid.UUID]Walker{}
	for _, w := range a.Walk {
		got[w.Person] = w
	}
	if len(got) != 5 || got[home].Person != uuid.Nil {
		t.Fatalf("%d people, one of six is ashore", len(got))
	}
	if w := got[guide]; !w.Can || w.Distance > 1 {
		t.Errorf("the guide stands there: %+v", w)
	}
	if w := got[child]; !w.Can || w.FromBase < 800*quantity.Metre {
		t.Errorf("a child far from the base: %+v", w)
	}
	if w := got[elder]; w.Can || w.Told || w.Reach != walking["elder"] || w.Distance < 540*quantity.Metre {
		t.Errorf("550 m is beyond an elder's usual reach: %+v", w)
	}
	if w := got[keen]; !w.Can || !w.Told || w.Reach != 700*quantity.Metre {
		t.Errorf("700 m were told: %+v", w)
	}
	if w := got[lost]; w.Placed || w.Can {
		t.Errorf("nobody knows where: %+v", w)
	}
}

// A walk that the vetoes bar is barred for whoever would walk it.
func TestWalksAskTheVetoes(t *testing.T) {
	d := newDiary(t)
	h := d.look(d.at(15, "09:00"), geo.Local{E: 50}, "few")
	away := d.hole(d.at(15, "08:30"), geo.Local{E: 150})
	d.write(d.at(15, "07:00"), &journal.Guest{Role: "guest", Age: "adult", Rod: 1, Seat: away})
	in := d.input(d.at(15, "09:02"), geo.Local{E: 50})
	in.Veto = func(h safety.HopInput) safety.HopAnswer {
		if h.From.E > 100 {
			return safety.HopAnswer{Barred: true, Reasons: []safety.Refusal{{Code: "hazard", Text: "A crack lies between."}}, Label: "barred"}
		}
		return safety.HopAnswer{Label: "not asked"}
	}
	s, a := mustAnswer(t, in)
	if s.Do != Look || s.Hole != h || len(a.Walk) != 1 || a.Walk[0].Can || a.Walk[0].Barred != "A crack lies between." {
		t.Errorf("%v %+v", s.Do, a.Walk)
	}
}

// Question 10: other parties by distance, and how they see a person: in plain sight within 1.17 km, where 1.7 m are five
// minutes of arc high [Snellen1862].
func TestWhoCanSee(t *testing.T) {
	d := newDiary(t)
	p := geo.Local{E: 50}
	d.look(d.at(15, "09:00"), p, "few")
	crowd := func(clock string, at geo.Local, gone bool) {
		d.write(d.at(15, clock), &journal.Crowd{At: *journal.PointOf(d.frame.Position(at)), Radius: 50_000, Shelters: 2, Gone: gone})
	}
	crowd("08:00", p.Add(geo.Local{N: 1200}), false)
	crowd("08:10", p.Add(geo.Local{N: -1300}), false)
	crowd("08:20", p.Add(geo.Local{E: 3500}), false) // ashore: beyond the bank
	crowd("08:30", p.Add(geo.Local{E: -600}), true)
	in := d.input(d.at(15, "09:02"), p)
	_, a := mustAnswer(t, in)
	var sees []Sees
	for _, x := range a.Seen.Parties {
		sees = append(sees, x.Sees)
	}
	if len(sees) != 3 || sees[0] != Plainly || sees[1] != AsASpeck || sees[2] != Hidden || a.Seen.Left != 1 {
		t.Errorf("%v, %+v", sees, a.Seen)
	}
	if a.Seen.AirTold || a.Seen.Plain < 1168*quantity.Metre || a.Seen.Plain > 1170*quantity.Metre {
		t.Errorf("%+v", a.Seen)
	}
	sight := int64(500_000)
	d.write(d.at(15, "08:50"), &journal.Weather{Sight: &sight})
	if _, a = mustAnswer(t, d.input(d.at(15, "09:02"), p)); a.Seen.Parties[0].Sees != Beyond || !a.Seen.AirTold {
		t.Errorf("snow hides nobody: %+v", a.Seen)
	}
}

// Heading in is answered too, without a place.
func TestAnswersOfHeadingIn(t *testing.T) {
	d := newDiary(t)
	d.look(d.at(15, "09:00"), geo.Local{E: 50}, "few")
	s, a := mustAnswer(t, d.input(d.at(15, "15:41"), geo.Local{E: 50}))
	if s.Do != HeadIn || a.Somewhere || len(a.Why) == 0 || a.Home.Spare > 0 || len(a.Walk) != 0 {
		t.Errorf("%v %+v", s.Do, a)
	}
}

// A rod that catches is known to fish there: once the fish came before the sit was told, and the scout was sent to find
// the school again that fed under the rod.
func TestAFeedingSchoolUnderARodIsNotLost(t *testing.T) {
	d := newDiary(t)
	p := geo.Local{E: 50}
	h := d.look(d.at(15, "09:43"), p, "few")
	d.write(d.at(15, "09:45"), &journal.SitStart{Hole: h, Rod: 1})
	d.fish(d.at(15, "09:47"), h, 1)
	d.fish(d.at(15, "09:49"), h, 1)
	w, err := d.input(d.at(15, "09:50"), p).look(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	crew, _ := w.crew()
	if c := w.filter.Call(&crew, 0); !c.Sure || c.Hole >= 0 {
		t.Errorf("two fish in three minutes: %+v", c)
	}
}

// The odds of a sit are for the sit and its clock, those of a hole for a look, both the plain mean.
func TestOddsAreForTheStatedPlan(t *testing.T) {
	d := newDiary(t)
	p := geo.Local{E: 50}
	h := d.look(d.at(15, "09:02"), p, "few")
	if s := mustNext(t, d.input(d.at(15, "09:03"), p)); s.Odds.Plan != OneHole || s.Odds.Wait != 30*time.Second {
		t.Errorf("%v %+v", s.Do, s.Odds)
	}
	d.write(d.at(15, "09:04"), &journal.Look{Hole: h, Seconds: 30, Marks: "few"})
	s := mustNext(t, d.input(d.at(15, "09:05"), p))
	if s.Do != Stay || s.Odds.Plan != Sitting || s.Odds.Wait < shortAsk {
		t.Errorf("%v %+v", s.Do, s.Odds)
	}
	look := mustHere(t, d.input(d.at(15, "09:05"), p), p)
	if s.Odds.P < look.P {
		t.Errorf("a sit of %v has %.2f, a look %.2f", s.Odds.Wait, s.Odds.P, look.P)
	}
}

// A move for hardly more is called a toss-up, as the rates are shown.
func TestAMoveForHardlyMoreIsATossUp(t *testing.T) {
	d := newDiary(t)
	moves := 0
	for i := range 12 {
		d.look(d.at(15, "09:00").Add(time.Duration(i)*time.Minute), geo.Local{E: float64(i) * 40}, "none")
	}
	for i, h := range d.lakeHoles() {
		if i < 3 {
			d.write(d.at(15, "09:15"), &journal.SitStart{Hole: h, Rod: int64(i + 1)})
		}
	}
	for _, r := range mustNext(t, d.input(d.at(15, "09:50"), geo.Local{E: 450})).Rods {
		if r.Do == Move {
			moves++
			if close := r.There.Mean <= 1.15*r.Here.Mean; close && !r.TossUp {
				t.Errorf("rod %d: from %.2f to %.2f is no toss-up", r.Rod, r.Here.Mean, r.There.Mean)
			}
		}
	}
	if moves == 0 {
		t.Error("no rod is sent anywhere: nothing was tested")
	}
}

// The guest whose first fish the day is about has the choice of holes before the others, until the fish is had.
func TestTheNamedGuestHasTheChoice(t *testing.T) {
	d := newDiary(t)
	lena := d.write(d.at(15, "07:00"), &journal.Guest{Role: "guest", Age: "child", Rod: 2})
	a, b := d.look(d.at(15, "09:00"), geo.Local{E: 50}, "none"), d.look(d.at(15, "09:02"), geo.Local{E: 60}, "none")
	d.write(d.at(15, "09:05"), &journal.SitStart{Hole: a, Rod: 1})
	d.write(d.at(15, "09:05"), &journal.SitStart{Hole: b, Rod: 2, Guest: lena})
	in := d.input(d.at(15, "09:30"), geo.Local{E: 70})
	in.Aim, in.AimFor = "first_fish", lena
	if s := mustNext(t, in); !hasCode(s.Rods[1].Why, "first_fish") || hasCode(s.Rods[0].Why, "first_fish") || s.Rods[1].Rod != 2 {
		t.Errorf("%+v", s.Rods)
	}
	d.write(d.at(15, "09:31"), &journal.Fish{Hole: b, Rod: 2, Guest: lena, Species: "perch", Count: 1})
	in = d.input(d.at(15, "09:32"), geo.Local{E: 70})
	in.Aim, in.AimFor = "first_fish", lena
	if s := mustNext(t, in); hasCode(s.Rods[1].Why, "first_fish") {
		t.Errorf("the fish is had: %+v", s.Rods[1])
	}
}

// Past forty looks at which the model did worse than a constant rate, the line and spiral answers and the score says so.
func TestTheModelSaysWhenItDoesWorse(t *testing.T) {
	d := newDiary(t)
	for i := range 60 { // marks where nothing was ever seen, nothing beside marks
		marks, p := "none", geo.Local{E: float64(i/2) * 45, N: 100}
		if i%2 == 0 {
			marks, p = "many", geo.Local{E: float64(i/2)*45 - 600, N: -float64(i%7) * 150}
		} else {
			p = geo.Local{E: float64(i/2)*45 - 597, N: -float64((i-1)%7) * 150}
		}
		d.look(d.at(15, "09:00").Add(time.Duration(i)*3*time.Minute), p, marks)
	}
	s := mustNext(t, d.input(d.at(15, "12:05"), geo.Local{E: 800, N: 300}))
	switch s.Score.Verdict {
	case TooEarly:
		t.Errorf("%+v", s.Score)
	case Worse:
		if !s.Plain {
			t.Errorf("%+v and the model answers", s.Score)
		}
	default:
		t.Errorf("blanks beside every mark, and the model does %s: %+v", s.Score.Verdict, s.Score)
	}
}

// lakeHoles lists today's holes.
func (d *diary) lakeHoles() []uuid.UUID {
	d.lake.Sync(d.log)
	var out []uuid.UUID
	for _, h := range d.lake.HolesOn("2026-01-15") {
		out = append(out, h.ID)
	}
	return out
}

// A place that the guide rules out is not advised again that day, and the step says what it would have been.
func TestAPlaceRuledOutIsRespected(t *testing.T) {
	d := newDiary(t)
	d.look(d.at(15, "09:00"), geo.Local{E: 50}, "none")
	in := d.input(d.at(15, "09:05"), geo.Local{E: 50})
	first := mustNext(t, in)
	if first.Do != Drill || first.RuledOut != nil {
		t.Fatalf("%v %+v", first.Do, first.RuledOut)
	}
	in.NotThere = []NotThere{{At: first.To, When: d.at(15, "09:04")}}
	s := mustNext(t, in)
	if float64(s.To.Distance(first.To)) < ruledReach {
		t.Errorf("ruled out %v, sent to %v", first.To, s.To)
	}
	if r := s.RuledOut; r == nil || r.To != first.To || !r.When.Equal(d.at(15, "09:04")) || r.Odds.P != first.Odds.P {
		t.Errorf("what it changed: %+v", r)
	}
	for _, o := range s.Others {
		if float64(o.To.Distance(first.To)) < ruledReach {
			t.Errorf("offered instead: %v", o.To)
		}
	}
	in.NotThere[0].When = d.at(14, "09:04") // another day's ruling
	if s := mustNext(t, in); s.To != first.To || s.RuledOut != nil {
		t.Errorf("yesterday's ruling: to %v, %+v", s.To, s.RuledOut)
	}
}
