package advise

import (
	"context"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
)

func mustEvening(t testing.TB, in Input, day string) EveningPlan {
	t.Helper()
	p, err := Evening(context.Background(), in, day)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// checkPlan holds every plan to what it must be: three starts apart on water, ranges round means, holes on water.
func checkPlan(t *testing.T, in Input, p EveningPlan) {
	t.Helper()
	if len(p.Starts) != 3 {
		t.Fatalf("%d starts", len(p.Starts))
	}
	for i, s := range p.Starts {
		if s.Letter != string(rune('A'+i)) || !in.Surface.OnWater(s.At) || len(s.Why) == 0 || s.GiveUp < 30*time.Minute || s.GiveUp > 2*time.Hour {
			t.Errorf("start %+v", s)
		}
		if !(s.Odds.Low <= s.Odds.P && s.Odds.P <= s.Odds.High && s.First.Low <= s.First.P && s.First.P <= s.First.High && s.First.P > s.Odds.P) {
			t.Errorf("%s: odds %+v first %+v", s.Letter, s.Odds, s.First)
		}
		if !(s.Rate.Low < s.Rate.Mean && s.Rate.Mean < s.Rate.High) {
			t.Errorf("%s: rate %+v", s.Letter, s.Rate)
		}
		for _, o := range p.Starts[:i] {
			if s.At.Distance(o.At) < 400 {
				t.Errorf("%s and %s are %.0f m apart", s.Letter, o.Letter, float64(s.At.Distance(o.At)))
			}
		}
	}
	if len(p.Pattern.Holes) == 0 || len(p.Pattern.Why) == 0 {
		t.Errorf("pattern %+v", p.Pattern)
	}
	for _, h := range p.Pattern.Holes {
		if !in.Surface.OnWater(h) {
			t.Errorf("first hole %v on land", h)
		}
	}
	for i := 1; i < len(p.Times); i++ {
		if p.Times[i].At.Before(p.Times[i-1].At) {
			t.Errorf("times out of order: %+v", p.Times)
		}
	}
	if len(p.Changes) == 0 || p.Ice.State == "" {
		t.Errorf("changes %v, ice %v", p.Changes, p.Ice.State)
	}
}

// With an empty journal the plan rests on depth and outline alone, and is honestly wide.
func TestEveningFromDepthAndOutlineAlone(t *testing.T) {
	d := newDiary(t)
	in := d.input(d.at(15, "19:00"), geo.Local{})
	p := mustEvening(t, in, "2026-01-16")
	checkPlan(t, in, p)
	e := p.Evidence
	if e.Days+e.Holes+e.Looks+e.Fish != 0 || e.Soundings != 400 || e.StageBy != "date" || p.Stage != "mid" {
		t.Errorf("evidence %+v, stage %s", e, p.Stage)
	}
	a := p.Starts[0]
	if a.Rate.High < 5*a.Rate.Low || a.Odds.High < 5*a.Odds.Low {
		t.Errorf("narrow without a record: %+v %+v", a.Rate, a.Odds)
	}
	if a.Depth[0] < 10 || a.Depth[1] > 15 {
		t.Errorf("start A in %v to %v", a.Depth[0], a.Depth[1])
	}
	// by hand: 8.8 h of sun about a noon at 12:19 (2.5 degrees west of the zone's middle, equation of time 9 min); within 5 min
	for code, want := range map[string]time.Time{"sunrise": d.at(16, "07:55"), "sunset": d.at(16, "16:43")} {
		found := false
		for _, m := range p.Times {
			if m.Code == code {
				found = true
				if diff := m.At.Sub(want); diff.Abs() > 5*time.Minute {
					t.Errorf("%s at %v", code, m.At)
				}
			}
		}
		if !found {
			t.Errorf("no %s in %+v", code, p.Times)
		}
	}
	if p.Holes != 0 {
		t.Errorf("hole budget %d without a battery figure", p.Holes)
	}
}

func TestEveningLearnsFromTheRecord(t *testing.T) {
	d := newDiary(t)
	landing := geo.Local{E: -2500}
	metres, agreed := int64(40000), d.at(16, "16:00").UnixMilli()
	good := geo.Local{E: 700, N: 500}
	for day := 10; day <= 14; day++ {
		for i := range 10 {
			when := d.at(day, "09:00").Add(time.Duration(i) * 15 * time.Minute)
			p, marks := good.Add(geo.Local{E: 40 * float64(i%4), N: 40 * float64(i/4)}), "none"
			if i%2 == 0 {
				marks = "many"
			}
			h := d.look(when, p, marks)
			sit := d.write(when.Add(time.Minute), &journal.SitStart{Hole: h, Rod: 1})
			if marks == "many" {
				d.fish(when.Add(5*time.Minute), h, 2)
			}
			d.write(when.Add(11*time.Minute), &journal.SitEnd{Sit: sit})
			d.look(when.Add(12*time.Minute), geo.Local{E: -900 + 40*float64(i), N: -700}, "none")
		}
	}
	d.ice(d.at(15, "10:00"), good)
	d.write(d.at(15, "18:00"), &journal.Trip{Rods: 3, Travel: "foot", Landing: journal.PointOf(d.frame.Position(landing)), Metres: &metres})
	d.write(d.at(16, "05:00"), &journal.Trip{Rods: 3, Travel: "foot", Landing: journal.PointOf(d.frame.Position(landing)), Metres: &metres, Agreed: agreed})
	in := d.input(d.at(15, "19:00"), geo.Local{})
	p := mustEvening(t, in, "2026-01-16")
	checkPlan(t, in, p)
	a := p.Starts[0]
	if a.At.Distance(good) > 300 {
		t.Errorf("start A at %v, the record speaks for %v", a.At, good)
	}
	if !hasCode(a.Why, "season_record") || !hasCode(a.Why, "fish_record") {
		t.Errorf("reasons %+v", a.Why)
	}
	if !(a.Rate.Mean > p.Starts[1].Rate.Mean && a.Odds.P > p.Starts[1].Odds.P) {
		t.Errorf("A %+v %+v, B %+v %+v", a.Rate, a.Odds, p.Starts[1].Rate, p.Starts[1].Odds)
	}
	if !hasCode(p.Starts[2].Why, "untried") {
		t.Errorf("C is not untried ground: %+v", p.Starts[2].Why)
	}
	if p.Pattern.Kind != "spiral" || len(p.Pattern.Holes) != firstHoles {
		t.Errorf("pattern %+v", p.Pattern)
	}
	// 40 m of ice at 42 cm, 15 % kept: 80 holes
	if p.Holes != 80 || p.Drill < 33 || p.Drill > 34 {
		t.Errorf("budget %d holes, %v of ice", p.Holes, p.Drill)
	}
	if (a.Distance-landing.Distance(a.At)).Metres() > 0.1 || a.Travel <= 0 || p.Home.At.IsZero() || p.Home.At.After(d.at(16, "16:00")) {
		t.Errorf("distance %v, travel %v, turn back %v", a.Distance, a.Travel, p.Home.At)
	}
	if e := p.Evidence; e.Days != 5 || e.Looks != 100 || e.WithMarks != 25 || e.Fish != 50 {
		t.Errorf("evidence %+v", e)
	}
}

// A hazard keeps starts and first holes away.
func TestEveningKeepsOffHazards(t *testing.T) {
	d := newDiary(t)
	first := mustEvening(t, d.input(d.at(15, "19:00"), geo.Local{}), "2026-01-16").Starts[0].At
	d.write(d.at(15, "12:00"), &journal.Hazard{What: "ridge", Shape: "point", Points: []journal.Point{*journal.PointOf(d.frame.Position(first))}, Radius: 200000, Report: "present"})
	in := d.input(d.at(15, "19:30"), geo.Local{})
	p := mustEvening(t, in, "2026-01-16")
	checkPlan(t, in, p)
	for _, s := range p.Starts {
		if s.At.Distance(first) < 300 {
			t.Errorf("start %s at %.0f m from the ridge", s.Letter, float64(s.At.Distance(first)))
		}
	}
	for _, h := range p.Pattern.Holes {
		if h.Distance(first) < 300 {
			t.Errorf("first hole at %.0f m from the ridge", float64(h.Distance(first)))
		}
	}
}

// More record narrows the rate; a budget of a few holes cuts the pattern.
func TestEveningRateNarrowsWithRecord(t *testing.T) {
	width := func(sits int) float64 {
		d := newDiary(t)
		for i := range sits {
			when := d.at(14, "08:00").Add(time.Duration(i) * 20 * time.Minute)
			h := d.look(when, geo.Local{E: 300 + float64(i%5)*20}, "many")
			sit := d.write(when, &journal.SitStart{Hole: h, Rod: 1})
			d.fish(when.Add(time.Minute), h, 1)
			d.write(when.Add(18*time.Minute), &journal.SitEnd{Sit: sit})
		}
		in := d.input(d.at(14, "19:00"), geo.Local{})
		r := mustEvening(t, in, "2026-01-15").Starts[0].Rate
		return (r.High - r.Low) / r.Mean
	}
	if few, many := width(2), width(20); many >= few {
		t.Errorf("relative width %.2f after 2 sits, %.2f after 20", few, many)
	}
	d := newDiary(t)
	metres := int64(2000)
	d.write(d.at(15, "18:00"), &journal.Trip{Rods: 1, Travel: "foot", Metres: &metres})
	p := mustEvening(t, d.input(d.at(15, "19:00"), geo.Local{}), "2026-01-16")
	if n := p.Holes; n != 3 || len(p.Pattern.Holes) != 3 {
		t.Errorf("2 m of ice at %v: %d holes, pattern %d", usualIce, n, len(p.Pattern.Holes))
	}
}

// Without a landing and a forecast the turn-back time is earlier, never missing.
func TestEveningTurnBackIsNeverBlank(t *testing.T) {
	d := newDiary(t)
	bare := mustEvening(t, d.input(d.at(15, "19:00"), geo.Local{}), "2026-01-16").Home
	in := d.input(d.at(15, "19:00"), geo.Local{})
	in.Issued = in.Now
	for h := range 24 {
		in.Forecast = append(in.Forecast, safety.ForecastHour{Start: d.at(16, "00:00").Add(time.Duration(h) * time.Hour), Air: -12, Wind: 3, From: 200,
			Sight: 20 * quantity.Kilometre, AirTold: true, WindTold: true, FromTold: true, SnowTold: true, SightTold: true})
	}
	told := mustEvening(t, in, "2026-01-16").Home
	if bare.At.IsZero() || !bare.At.Before(told.At) || len(bare.Unknown) == 0 {
		t.Errorf("bare %v (%v), with a forecast %v", bare.At, bare.Unknown, told.At)
	}
}

// The odds of a first pattern are those of its chain of holes, and say so.
func TestFirstPatternIsAChain(t *testing.T) {
	d := season(t, 3, 0)
	p, err := Evening(context.Background(), d.input(d.at(15, "19:45"), geo.Local{E: 100, N: 100}), "2026-01-16")
	if err != nil || len(p.Starts) == 0 {
		t.Fatal(err, len(p.Starts))
	}
	for _, s := range p.Starts {
		if s.First.Plan != Chain || s.First.Holes < 2 || s.First.P < s.Odds.P || s.Odds.Plan != OneHole {
			t.Errorf("%s: %+v, one hole %+v", s.Letter, s.First, s.Odds)
		}
	}
}
