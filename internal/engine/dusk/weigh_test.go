package dusk

import (
	"context"
	"math"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/engine/safety"
)

var humpAt = geo.Local{E: 600}

var built *ground.Surface

// bottom is a flat of 10 m with a hump of 5 m at humpAt, which a chart of 50 m smooths to about 2 m of relief, and a break in
// the far west. It is built once: it never changes.
func bottom(t testing.TB) *ground.Surface {
	t.Helper()
	if built != nil {
		return built
	}
	const half = 1500.0
	var s []ground.Sounding
	for e := -half + 25; e < half; e += 50 {
		for n := -half + 25; n < half; n += 50 {
			p := geo.Local{E: e, N: n}
			d := p.Distance(humpAt).Metres()
			z := 10 - 5*math.Exp(-d*d/(2*90*90))
			if e < -1000 {
				z = math.Max(4, 10+(e+1000)/60)
			}
			s = append(s, ground.Sounding{At: p, Depth: quantity.Length(z)})
		}
	}
	ring := []geo.Local{{E: -half, N: -half}, {E: half, N: -half}, {E: half, N: half}, {E: -half, N: half}}
	out, err := ground.Build(context.Background(), ground.Input{Outline: []geo.Polygon{{Outer: ring}}, Soundings: s, Cell: 25})
	if err != nil {
		t.Fatal(err)
	}
	built = out
	return out
}

func TestPlacesFindTheHump(t *testing.T) {
	s := bottom(t)
	relief, form, known := reliefAt(s, humpAt)
	if !known || form != Hump || relief < 1.5*quantity.Metre || relief > 5.2*quantity.Metre {
		t.Errorf("hump: relief %v, %s, %v", relief, form, known)
	}
	if _, form, _ := reliefAt(s, geo.Local{E: -200, N: 800}); form != Flat {
		t.Errorf("the flat is a %s", form)
	}
	if _, form, _ := reliefAt(s, geo.Local{E: -1180, N: 800}); form != Break {
		t.Errorf("the break is a %s", form)
	}
	places := Search{From: geo.Local{}, Surfaces: []*ground.Surface{nil, s}}.places()
	if places[0].Form != Here || len(places) < 2 {
		t.Fatalf("places %+v", places)
	}
	if d := places[1].At.Distance(humpAt); places[1].Form != Hump || d > 120 {
		t.Errorf("sharpest edge %+v, %v from the hump", places[1], d)
	}
	way := []geo.Local{{}, {E: 0, N: -1400}}
	for _, p := range (Search{From: way[0], Way: way, Surfaces: []*ground.Surface{s}}).places() {
		if off := math.Abs(p.At.E); p.OnWay != (off <= 400 && p.At.N <= 400 || p.At.Distance(geo.Local{}) <= 400) {
			t.Errorf("%v: %v off the way, on it %v", p.At, p.Off, p.OnWay)
		}
	}
}

// usual is a question at 14:00 in a good light, with perch slow and a record that speaks for the hump before dark.
func usual(t testing.TB, fish, hours int) Input {
	t.Helper()
	tally := &Tally{}
	for k := range hours {
		s := aSit
		s.At, s.Depth = humpAt, Range{5, 5}
		s.From = on(1+k%14, "15:30")
		s.To = s.From.Add(time.Hour)
		for range fish / hours {
			s.Fish = append(s.Fish, s.From.Add(30*time.Minute))
		}
		tally.Add(made, s)
	}
	return Input{
		Now: on(15, "14:00"), Zone: zone, Place: made, Cover: under(0.05, 0.4, 3), Cloud: clear, Belief: tally.Learn(), Surfaces: []*ground.Surface{bottom(t)},
		Rods: 3, SetUp: time.Minute, Ice: 0.4, Perch: Perch{Mean: 0.5, Low: 0.2, High: 0.9}, TurnBack: on(15, "16:10"),
		TurnBackAt: func(geo.Local) time.Time { return on(15, "16:10") },
		Travel:     func(p geo.Local) time.Duration { return time.Duration(p.Distance(geo.Local{}).Metres()) * time.Second },
	}
}

func TestSwitchesWhenTheRecordSpeaksForIt(t *testing.T) {
	in := usual(t, 24, 12)
	a := Weigh(in)
	if a.Verdict != Switch || a.Best == nil {
		t.Fatalf("%s, %+v", a.Verdict, a.Best)
	}
	b := a.Best
	if d := b.Place.At.Distance(humpAt); d > 150 || b.Place.Fish != 24 {
		t.Errorf("place %+v", b.Place)
	}
	if b.Leave.Before(in.Now) || b.End.After(in.TurnBack) || b.End.Sub(b.Begin) < shortest || b.Holes != 3 || math.Abs(b.Ice.Metres()-1.2) > 1e-9 || b.Minutes < 9 {
		t.Errorf("option %+v", b)
	}
	if !(b.Fish.Low < b.Fish.Mean && b.Fish.Mean < b.Fish.High && b.Chance.Low < b.Chance.P && b.Chance.P < b.Chance.High && b.Pays >= pays) {
		t.Errorf("numbers %+v", b)
	}
	if b.BreakEven <= in.Perch.Mean {
		t.Errorf("advised at %.2f perch an hour, pays under %.2f", in.Perch.Mean, b.BreakEven)
	}
	if len(a.Why) < 2 || len(a.Windows) == 0 || len(a.Changes) == 0 {
		t.Errorf("reasons %+v, windows %+v, changes %+v", a.Why, a.Windows, a.Changes)
	}
}

func TestStaysWherePerchPay(t *testing.T) {
	in := usual(t, 24, 12)
	last := 1.1
	for _, perch := range []float64{0.2, 1, 3, 8, 20} {
		in.Perch = Perch{Mean: perch, Low: 0.7 * perch, High: 1.4 * perch}
		a := Weigh(in)
		if a.Best == nil || a.Best.Pays > last+1e-9 {
			t.Fatalf("%g perch an hour: pays %+v after %.3f", perch, a.Best, last)
		}
		last = a.Best.Pays
		if perch == 20 && a.Verdict != Perches {
			t.Errorf("20 perch an hour: %s", a.Verdict)
		}
	}
	in.Perch = Perch{Mean: 1, Low: 0.5, High: 1.6}
	near := Weigh(in).Best.Pays
	in.Worth = 0.2
	if small := Weigh(in).Best.Pays; small >= near {
		t.Errorf("walleye worth a fifth of a perch pay %.2f, worth three %.2f", small, near)
	}
}

func TestSaysWhenTheRecordIsTooThin(t *testing.T) {
	in := usual(t, 0, 2)
	in.Perch = Perch{Mean: 0.1, Low: 0.02, High: 0.2}
	if a := Weigh(in); a.Verdict != Thin || !has(a.Why, "thin") || !has(a.Changes, "thin_next") || a.Best == nil {
		t.Errorf("two blank hours: %s %+v", a.Verdict, a.Why)
	}
	in.Belief = nil
	if a := Weigh(in); a.Verdict != Thin || a.Record.Hours != 0 {
		t.Errorf("nothing on record: %s", a.Verdict)
	}
	in.Perch = Perch{Mean: 30, Low: 20, High: 40}
	if a := Weigh(in); a.Verdict != Perches || !has(a.Why, "thin") {
		t.Errorf("nothing on record and thirty perch an hour: %s", a.Verdict)
	}
	in = usual(t, 0, 40)
	if a := Weigh(in); a.Verdict == Thin || a.Verdict == Switch {
		t.Errorf("forty blank hours: %s", a.Verdict)
	}
	in = usual(t, 0, 0)
	in.Cover = under(0.6, 0.8, 1.5)
	if a := Weigh(in); a.Verdict != NoLight || len(a.Windows) != 0 {
		t.Errorf("60 cm of snow: %s %+v", a.Verdict, a.Windows)
	}
}

func has(rs []Reason, code string) bool {
	for _, r := range rs {
		if r.Code == code {
			return true
		}
	}
	return false
}

// Law, turn-back time and ice are limits from both sides of their lines.
func TestLimits(t *testing.T) {
	in := usual(t, 24, 12)
	in.Law = Law{Signed: true, Closed: true}
	if a := Weigh(in); a.Verdict != Barred || a.Best != nil || a.Refused[0].Code != "law" || a.Why[0].Code != "law" {
		t.Errorf("closed season: %s %+v", a.Verdict, a.Refused)
	}
	in.Law = Law{Signed: true, To: on(15, "15:00")}
	if a := Weigh(in); a.Best == nil || a.Best.End.After(on(15, "15:00")) || has(a.Why, "law_unverified") {
		t.Errorf("legal until 15:00: %+v", a.Best)
	}
	in.Law = Law{Signed: true, From: on(15, "15:50")}
	if a := Weigh(in); a.Verdict != Barred || a.Why[0].Code != "law_hours" {
		t.Errorf("legal from 15:50, back by 16:10: %s %+v", a.Verdict, a.Why)
	}
	in = usual(t, 24, 12)
	in.TurnBack = on(15, "14:20")
	in.TurnBackAt = func(geo.Local) time.Time { return in.TurnBack }
	if a := Weigh(in); a.Verdict != Barred || a.Why[0].Code != "turn_back" {
		t.Errorf("20 min left: %s %+v", a.Verdict, a.Why)
	}
	in = usual(t, 24, 12)
	in.Holes = 2
	if a := Weigh(in); a.Best == nil || a.Best.Place.Form != Here || a.Refused[0].Code != "holes_left" {
		t.Errorf("two holes left for three rods: %+v, refused %+v", a.Best, a.Refused)
	}
	in.Holes = 3
	if a := Weigh(in); a.Best.Place.Form == Here || len(a.Refused) != 0 {
		t.Errorf("three holes left for three rods: %+v, refused %+v", a.Best, a.Refused)
	}
	in.Bars = func(p geo.Local, _ time.Time) (Bar, bool) {
		return Bar{Refusals: []safety.Refusal{{Code: "far", Text: "No ice read near."}}}, false
	}
	a := Weigh(in)
	if a.Best == nil || a.Best.Place.Form != Here || len(a.Others) != 0 || a.Refused[0].Code != "far" {
		t.Errorf("nowhere may be gone to: %+v, refused %+v", a.Best, a.Refused)
	}
	if a.Would == nil || a.Would.Place.At.Distance(humpAt) > 150 || a.Would.Bar.Refusals[0].Code != "far" {
		t.Errorf("the barred hump is not told: %+v", a.Would)
	}
	in.Bars = func(geo.Local, time.Time) (Bar, bool) { return Bar{Label: "Ice not read there."}, true }
	if a := Weigh(in); a.Best.Place.Form != Here && a.Best.Bar.Label == "" {
		t.Errorf("label lost: %+v", a.Best.Bar)
	}
}

// The farther a move, the longer its drilling and the more rods to be served, the less it brings; and what a plan costs is
// what lies between its times.
func TestMovesCostTime(t *testing.T) {
	last := math.Inf(1)
	for _, slow := range []time.Duration{0, 10 * time.Minute, 30 * time.Minute, 50 * time.Minute} {
		in := usual(t, 24, 12)
		in.Drill = time.Minute
		in.Travel = func(geo.Local) time.Duration { return slow }
		var there *Option
		a := Weigh(in)
		for _, o := range append(a.Others, *a.Best) {
			if o.Place.Fish > 0 {
				there = &o
			}
		}
		if there == nil {
			t.Fatalf("%v away: the spot on record is not weighed", slow)
		}
		want := slow + in.SetUp + loading + 2*in.Drill
		if there.Begin.Sub(there.Leave) != want || there.Back && there.Minutes <= want.Minutes() || !there.Back && there.Minutes != want.Minutes() {
			t.Errorf("%v away: lines down %v after, %.0f min told, want %v", slow, there.Begin.Sub(there.Leave), there.Minutes, want)
		}
		if there.gain >= last {
			t.Errorf("%v away: gain %.3f, nearer %.3f", slow, there.gain, last)
		}
		last = there.gain
	}
}

// Depths, snow and murk beyond any lake give no number that is none.
func TestExtremes(t *testing.T) {
	in := usual(t, 24, 12)
	for _, c := range []Cover{under(3, 2, 0.01), {Snow: Range{0, 5}, Ice: Range{0.01, 3}, Clarity: Range{0.05, 60}}, {Snow: unknownSnow, Ice: unknownIce, Clarity: unknownClarity, Melting: true}} {
		in.Cover = c
		a := Weigh(in)
		for _, o := range append(a.Others, *a.Best) {
			for _, x := range []float64{o.Fish.Mean, o.Fish.Low, o.Fish.High, o.Chance.P, o.Forgone.Mean, o.Pays, o.BreakEven, o.gain} {
				if math.IsNaN(x) || math.IsInf(x, 0) || x < -1e3 {
					t.Errorf("%+v: %+v", c, o)
				}
			}
		}
		day := Over(DayInput{Day: in.Now, Zone: zone, Place: made, Cover: c, Depth: Range{1, 900}, Belief: in.Belief})
		if math.IsNaN(float64(day.Brightest.Middle)) || math.IsNaN(day.Brightest.InBand) {
			t.Errorf("%+v: %+v", c, day.Brightest)
		}
	}
}

// A place nearer home may be fished until its own turn-back time, as safety reckons it there, and no place beyond its own.
func TestNeverPastTheTurnBackTime(t *testing.T) {
	rng := num.NewStream(20260115, "dusk limits")
	in := usual(t, 24, 12)
	plans := 0
	for range 150 {
		in.Now = on(15, "07:00").Add(time.Duration(rng.IntN(600)) * time.Minute)
		in.TurnBack = on(15, "14:30").Add(time.Duration(rng.IntN(120)) * time.Minute)
		in.Perch.Mean = 3 * rng.Float64()
		in.Perch.Low, in.Perch.High = 0.5*in.Perch.Mean, 1.6*in.Perch.Mean
		later := time.Duration(rng.IntN(60)-30) * time.Minute
		in.TurnBackAt = func(geo.Local) time.Time { return in.TurnBack.Add(later) }
		barred := rng.IntN(2) == 0
		in.Bars = func(p geo.Local, arrive time.Time) (Bar, bool) {
			if arrive.Before(in.Now) {
				t.Fatalf("asked about arriving at %v, now %v", arrive, in.Now)
			}
			return Bar{Refusals: []safety.Refusal{{Code: "hazard"}}}, !barred
		}
		a := Weigh(in)
		all := a.Others
		if a.Best != nil {
			all = append(all, *a.Best)
		} else if a.Verdict != Barred {
			t.Errorf("no plan, yet %s", a.Verdict)
		}
		for _, o := range all {
			plans++
			limit := in.TurnBack
			if o.Place.Form != Here {
				limit = in.TurnBackAt(o.Place.At)
				if barred {
					t.Errorf("a barred place is advised: %+v", o)
				}
			}
			if o.Leave.Before(in.Now) || o.Leave.After(in.TurnBack) || o.Begin.Before(o.Leave) || o.End.After(limit) || o.End.Before(o.Begin.Add(shortest)) {
				t.Errorf("now %v, turn back %v there %v: %+v", in.Now, in.TurnBack, limit, o)
			}
		}
	}
	if plans < 100 {
		t.Fatalf("only %d plans", plans)
	}
}

// Before anything is recorded, under bare ice over clear water: the hour after first light and the hour before dark are the best
// of their halves of the day, the hour after dark brings little (common practice, no source), and noon less than either.
func TestCommonPracticeBeforeAnyRecord(t *testing.T) {
	in := usual(t, 0, 0)
	in.Cover, in.Belief, in.Now = under(0, 0.3, 4), nil, on(15, "06:00")
	w := newWeighing(in)
	rate := running(w.rates(Place{At: humpAt, Depth: Range{4, 4}, Known: true, Edge: 0.8}, w.steps))
	hour := func(clock string) float64 {
		k := int(on(15, clock).Sub(w.first) / step)
		return rate[k+12] - rate[k]
	}
	best := func(from, to string) (at time.Time, most float64) {
		for x := on(15, from); !x.After(on(15, to)); x = x.Add(step) {
			if r := hour(x.Format("15:04")); r > most {
				at, most = x, r
			}
		}
		return at, most
	}
	// civil dawn 07:09, civil dusk 17:09
	first, morning := best("06:00", "11:10")
	last, evening := best("12:10", "19:00")
	if first.Before(on(15, "07:09")) || first.After(on(15, "08:09")) || last.Add(time.Hour).Before(on(15, "16:09")) || last.Add(time.Hour).After(on(15, "17:09")) {
		t.Errorf("best hours begin at %v and %v", first, last)
	}
	noon, night := hour("11:40"), hour("17:15")
	if night > 0.25*evening || noon > 0.8*evening || noon > 0.8*morning {
		t.Errorf("an hour: morning %.3f, noon %.3f, evening %.3f, after dark %.3f", morning, noon, evening, night)
	}
}

func BenchmarkWeigh(b *testing.B) {
	in := usual(b, 24, 12)
	in.Way = []geo.Local{{}, {E: 0, N: -1400}}
	for b.Loop() {
		Weigh(in)
	}
}
