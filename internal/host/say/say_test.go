package say

import (
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/lake"
)

var noon = time.Date(2026, 1, 15, 12, 45, 0, 0, time.FixedZone("Etc/GMT+3", -3*3600))

func voice(s quantity.System) Voice {
	return Voice{Units: s, Zone: noon.Location(), Now: noon, Hole: func(id uuid.UUID) string {
		if id[0]%3 == 0 {
			return fmt.Sprintf("%d of 12 Jan", id[0])
		}
		return fmt.Sprint(id[0])
	}}
}

func TestFractionNeverFlatters(t *testing.T) {
	for p := 0.0; p <= 1; p += 0.001 {
		said := Fraction(p)
		if said == "less than 1 in 20" {
			if p >= 0.05 {
				t.Errorf("%.3f said as %s", p, said)
			}
			continue
		}
		var n, of float64
		if _, err := fmt.Sscanf(said, "%f in %f", &n, &of); err != nil {
			t.Fatal(err)
		}
		if n/of > p+1e-9 {
			t.Errorf("%.3f said as %s, which is more", p, said)
		}
		if OddsWord(n/of) != OddsWord(p) {
			t.Errorf("%.3f is %s and is said as %s, which is %s", p, OddsWord(p), said, OddsWord(n/of))
		}
	}
	if Fraction(math.NaN()) != "not known" {
		t.Error("an unknown chance must be said as unknown")
	}
}

// The edges of the words: likely from 1 in 2, fair from 1 in 5.
func TestOddsWords(t *testing.T) {
	for _, c := range []struct {
		p    float64
		want string
	}{{0.5, "likely"}, {0.4999, "fair"}, {0.2, "fair"}, {0.1999, "long shot"}, {0, "long shot"}, {1, "likely"}} {
		if got := OddsWord(c.p); got != c.want {
			t.Errorf("%v: %s, want %s", c.p, got, c.want)
		}
	}
}

func TestStepAsOnThePicture(t *testing.T) {
	v := voice(quantity.SI)
	s := advise.Step{Do: advise.Drill, From: &advise.Anchor{Number: 42, Paces: 80, Bearing: 247.5, OnLine: &[2]int64{41, 42}},
		Odds: advise.Odds{P: 1. / 3, Event: "marks", Wait: 10 * time.Minute}, Cost: advise.Cost{Minutes: 3.4},
		Why:    []advise.Reason{{Code: "looks_near", Count: 3, Of: 5, Near: 100, Age: 12 * time.Minute}, {Code: "heading", Toward: 270}},
		Ice:    safety.HopAnswer{Nearest: &safety.Nearest{Reading: &lake.IceReading{Total: 0.41}, Age: 2*time.Hour + 10*time.Minute, Distance: 208}},
		Others: []advise.Alternative{{Do: advise.Stay, Cost: advise.Cost{Minutes: 6}, Odds: advise.Odds{P: 0.26, Event: "marks"}}}}
	got := v.Step(s)
	for _, c := range [][2]string{
		{got.Sentence, "Drill 80 paces WSW of 42, on the line 41 to 42."},
		{got.Reason, "3 of 5 looks within 100 m had marks, last 12 min ago; moving W."},
		{strings.Join(got.Facts, " | "), "fair: 1 in 3 for marks in 10 min | 4 min"},
		{got.Ice, "Ice not read there. Nearest 41 cm, 2 h ago, 210 m. Spud ahead."},
		{got.Others[0].Sentence + ", " + got.Others[0].Odds, "Sit here 6 min more, fair, 1 in 4"},
	} {
		if c[0] != c[1] {
			t.Errorf("got  %q\nwant %q", c[0], c[1])
		}
	}
}

func TestTurnBack(t *testing.T) {
	v := voice(quantity.SI)
	at := func(d time.Duration) TurnBackText {
		return v.TurnBack(safety.TurnBack{At: noon.Add(d), Binding: safety.Deadline{Text: "wind to NW about 17:00; ridge 40 min away"}})
	}
	if got := at(2*time.Hour + 10*time.Minute + 59*time.Second); got.Clock != "14:55" || got.Left != "in 2 h 10" || got.Near || got.Past {
		t.Errorf("far: %+v", got)
	}
	if got := at(30 * time.Minute); !got.Near || got.Past || got.Left != "in 30 min" {
		t.Errorf("half an hour: %+v", got)
	}
	if got := at(30*time.Minute + time.Second); got.Near {
		t.Errorf("just over half an hour: %+v", got)
	}
	if got := at(-12 * time.Minute); !got.Past || got.Share != 0 || !strings.Contains(got.Left, "12 min ago") {
		t.Errorf("past: %+v", got)
	}
	if got := v.TurnBack(safety.TurnBack{}); !got.Past || got.Clock != "--:--" {
		t.Errorf("no answer must look like no time left: %+v", got)
	}
}

func TestIceStates(t *testing.T) {
	v := voice(quantity.SI)
	drilled := time.Date(2026, 1, 15, 9, 10, 0, 0, noon.Location())
	base := safety.IceAnswer{Load: safety.Load{Class: "car", Mass: 1600}, Asked: 0.4, Effective: 0.38, Carries: 5000, Counted: 3, Newest: drilled}
	for state, want := range map[safety.IceState]string{
		safety.NotBelow:     "Not below either figure at the holes drilled today 09:10 (3 holes). Not a go. Test as you go; local authority decides.",
		safety.BelowTable:   "Below the table in force: 38 cm read (3 holes, today 09:10); it asks for 40 cm for a car. Stay off with this load.",
		safety.BelowRule:    "The calculated load of 5000 kg is less than the 1600 kg stated. Stay off with this load.",
		safety.NoData:       "Unknown: no reading that counts here. Spud ahead, one person first.",
		safety.IceState(""): "Unknown: no reading that counts here. Spud ahead, one person first.",
	} {
		base.State = state
		if got := v.Ice(base).Sentence; got != want {
			t.Errorf("%s: %q\nwant %q", state, got, want)
		}
	}
}

// A demand is never printed smaller than it is, a reading never larger.
func TestIceRoundsToTheCarefulSide(t *testing.T) {
	for _, s := range []quantity.System{quantity.SI, quantity.US} {
		for mm := 1; mm < 1200; mm++ {
			l := quantity.Length(mm) * quantity.Millimetre
			shown, _, err := quantity.ParseLength(s.IceText(l), 0)
			asked, _, err2 := quantity.ParseLength(s.IceUpText(l), 0)
			if err != nil || err2 != nil || shown > l+1e-9 || asked < l-1e-5 || asked > l+quantity.Length(0.0130) {
				t.Fatalf("%v: %d mm read is shown as %v, asked as %v (%v %v)", s, mm, shown, asked, err, err2)
			}
		}
	}
}

func TestCold(t *testing.T) {
	// Environment and Climate Change Canada's bands: -28 to -39 freezes bare skin in 10 to 30 minutes.
	_, bite := voice(quantity.SI).Cold(-25, 20*quantity.KilometrePerHour)
	if bite != "Bare skin can freeze in as little as 10 min; sooner if wet. Not a time allowance." {
		t.Error(bite)
	}
	if _, bite := voice(quantity.SI).Cold(2, 5); strings.Contains(bite, "can freeze in") {
		t.Error(bite)
	}
}

func TestAge(t *testing.T) {
	for d, want := range map[time.Duration]string{0: "just now", 12 * time.Minute: "12 min ago", 2*time.Hour + 29*time.Minute: "2 h ago",
		26 * time.Hour: "1 d ago", 3 * 24 * time.Hour: "3 d ago", 89 * time.Minute: "89 min ago"} {
		if got := Age(d); got != want {
			t.Errorf("%v: %q, want %q", d, got, want)
		}
	}
	if got := Span(2*time.Hour + 10*time.Minute); got != "2 h 10" {
		t.Error(got)
	}
}

// forbidden are the words that would make ice, or anything, sound harmless.
var forbidden = regexp.MustCompile(`(?i)\b(safe|safely|proved|proven|cleared|allowed|good ice|fine|ok|okay|all clear|guarantee[d]?|no fish|fish density)\b|\bgo\b`)

// allowedGo are the only sentences in which the word "go" stands.
var allowedGo = strings.NewReplacer("Not a go.", "", "Test as you go;", "")

func lint(t *testing.T, what, s string, most int) {
	t.Helper()
	if s == "" {
		t.Errorf("%s is empty", what)
	}
	if n := utf8.RuneCountInString(s); n > most {
		t.Errorf("%s has %d characters: %q", what, n, s)
	}
	if w := forbidden.FindString(allowedGo.Replace(s)); w != "" {
		t.Errorf("%s says %q: %q", what, w, s)
	}
	if strings.Contains(s, "  ") || strings.Contains(s, "..") && !strings.HasSuffix(s, "...") || strings.Contains(s, "%!") || strings.Contains(s, "NaN") {
		t.Errorf("%s is badly put: %q", what, s)
	}
}

// Lint of what is said, over made-up answers of every kind: lengths, and words that must never be said.
func TestLint(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 1))
	actions := []advise.Action{advise.Drill, advise.Look, advise.Stay, advise.Move, advise.HeadIn, advise.Wait, "new_action"}
	codes := []string{"new_code", ""}
	for c := range sentences {
		codes = append(codes, c)
	}
	slices.Sort(codes)
	id := func() uuid.UUID { return uuid.UUID{byte(r.IntN(250) + 1)} }
	reason := func() advise.Reason {
		return advise.Reason{Code: codes[r.IntN(len(codes))], Count: r.IntN(40), Of: r.IntN(200), Near: quantity.Length(r.Float64() * 900), Age: time.Duration(r.IntN(30000)) * time.Second,
			Depth: quantity.Length(r.Float64() * 20), Toward: quantity.Bearing(r.Float64() * 360), Rate: r.Float64() * 3, Holes: []uuid.UUID{id(), id(), id(), id(), id(), id(), id(), id()},
			Text: []string{"", "A sentence that came with the veto.", strings.Repeat("a long text ", 12)}[r.IntN(3)]}
	}
	reasons := func() (out []advise.Reason) {
		for range r.IntN(5) {
			out = append(out, reason())
		}
		return out
	}
	anchor := func() *advise.Anchor {
		a := &advise.Anchor{Number: int64(r.IntN(300)), Day: []string{"", "2026-01-11", "2026-01-15"}[r.IntN(3)], Paces: r.IntN(1500), Bearing: quantity.Bearing(r.Float64() * 360)}
		if r.IntN(2) == 0 {
			a.OnLine = &[2]int64{int64(r.IntN(300)), int64(r.IntN(300))}
		}
		return []*advise.Anchor{a, a, a, nil}[r.IntN(4)]
	}
	odds := func() advise.Odds {
		return advise.Odds{P: r.Float64(), Low: r.Float64() / 3, High: 0.4 + r.Float64()/2, Event: []string{"marks", "fish", "good_fish", "other"}[r.IntN(4)], Wait: time.Duration(r.IntN(60)) * time.Minute}
	}
	hop := func() safety.HopAnswer {
		return safety.HopAnswer{Nearest: []*safety.Nearest{nil, {Reading: &lake.IceReading{Total: quantity.Length(r.Float64())}, Age: time.Duration(r.IntN(9000)) * time.Second, Distance: quantity.Length(r.Float64() * 3000)}}[r.IntN(2)]}
	}
	n := 0
	for i := range 4000 {
		v := voice(quantity.System(i % 2))
		s := advise.Step{Do: actions[r.IntN(len(actions))], Hole: id(), From: anchor(), Odds: odds(), Cost: advise.Cost{Minutes: r.Float64() * 90, Holes: 1, Ice: 0.4, Distance: quantity.Length(r.Float64() * 2000)}, Why: reasons(), Changes: reasons(), Ice: hop(), Plain: i%5 == 0}
		for k := range r.IntN(5) {
			s.Rods = append(s.Rods, advise.RodStep{Rod: k + 1, Do: actions[r.IntN(len(actions))], To: id(), Here: advise.Rate{Mean: r.Float64(), High: 3}, ReAsk: noon.Add(time.Duration(r.IntN(40)-10) * time.Minute), Why: reasons()})
		}
		s.Others = []advise.Alternative{{Do: actions[r.IntN(len(actions))], Hole: id(), From: anchor(), Odds: odds(), Cost: advise.Cost{Minutes: r.Float64() * 40}, Why: reasons(), Ice: hop()}}
		x := v.Step(s)
		lint(t, "sentence", x.Sentence, Longest)
		lint(t, "reason", x.Reason, Longest)
		lint(t, "facts", strings.Join(append([]string{"-"}, x.Facts...), " | "), Longest)
		if moves(s.Do) {
			lint(t, "ice", x.Ice, Longest)
			lint(t, "spread", x.Spread, Longest)
		}
		for _, a := range x.Others {
			lint(t, "alternative", a.Sentence, Longest)
			lint(t, "its reason", a.Reason, Longest)
		}
		for _, rod := range x.Rods {
			lint(t, "rod", rod.Sentence, Longest)
			lint(t, "its reason", rod.Reason, Longest)
		}
		for _, c := range x.Changes {
			lint(t, "change", c, Longest)
		}
		lint(t, "cost", v.CostLong(s.Cost), Longest)
		n++
	}
	if n == 0 {
		t.Fatal("nothing was said")
	}
	for _, s := range []string{CheckRules, AdviceOnly, TestAsYouGo, FaceCheck} {
		lint(t, "fixed words", s, Longest)
	}
}

func TestEveningSaysEverything(t *testing.T) {
	v := voice(quantity.US)
	p := advise.EveningPlan{Day: "2026-01-16", Stage: "mid", Holes: 55, Drill: 23,
		Starts: []advise.Start{{Letter: "A", Depth: [2]quantity.Length{10.5, 11.5}, Odds: advise.Odds{P: .27, Event: "marks", Wait: 10 * time.Minute},
			First: advise.Odds{P: .8, Event: "marks"}, Rate: advise.Rate{Mean: 1.3, Low: .4, High: 3}, Why: []advise.Reason{{Code: "season_record", Count: 4, Of: 9}},
			GiveUp: 40 * time.Minute, Distance: 3100, Travel: 52 * time.Minute, Barred: []safety.Refusal{{Code: "far", Text: "no reading on the way today"}}}},
		Times: []advise.Moment{{Code: "civil_dawn", At: noon}, {Code: "brand_new", At: noon}}}
	got := v.Evening(p)
	if got.Title != "Evening plan for Friday 16 January 2026" || got.Stage != "midwinter" || got.Budget != "55 holes, 75 ft of ice to drill." {
		t.Errorf("%q %q %q", got.Title, got.Stage, got.Budget)
	}
	a := got.Starts[0]
	if a.Depth != "34 ft to 38 ft" || a.Odds != "fair: 1 in 4 for marks in 10 min" || a.GiveUp != "Nothing after 40 min: next letter" || a.Barred[0] != "No reading on the way today" {
		t.Errorf("%+v", a)
	}
	if got.Times[1].What != "brand new" || got.Footer != CheckRules {
		t.Errorf("%+v %q", got.Times, got.Footer)
	}
}

// A form of the bottom speaks for a place or against it, as looks over such bottom have gone.
func TestFormsOfTheBottomInWords(t *testing.T) {
	near := advise.Reason{Code: "looks_near", Count: 2, Of: 3, Near: 100, Weight: 0.5}
	for _, c := range []struct {
		form string
		rate float64
		want string
	}{
		{"hump", 1.3, "a hump: looks over such bottom have met more than elsewhere"},
		{"hump", 0.8, "but a hump: looks over such bottom have met less than elsewhere"},
		{"basin", 1.2, "a basin: looks over such bottom have met more than elsewhere"},
		{"edge", 1.2, "an edge, where a bank falls away: looks over such bottom have met more than elsewhere"},
		{"transition", 0.7, "but the foot of an edge: looks over such bottom have met less than elsewhere"},
	} {
		r := advise.Reason{Code: "bottom_form", Form: c.form, Rate: c.rate, Weight: 0.2}
		v := voice(quantity.SI)
		line := v.phrase(r)
		if against(r) {
			line = "but " + line
		}
		if line != c.want {
			t.Errorf("%s, %.1f: %q, want %q", c.form, c.rate, line, c.want)
		}
		said := v.Because([]advise.Reason{near, r})
		if utf8.RuneCountInString(said) > Longest || strings.Contains(said, "looks over") && !strings.Contains(said, c.want) {
			t.Errorf("%s, %.1f: %q", c.form, c.rate, said)
		}
		why := strings.Join(v.whyThere(advise.Step{Answers: &advise.Answers{Why: []advise.Reason{near, r}}}), "\n")
		if strings.Contains(why, "Against: ") != (c.rate < 1) {
			t.Errorf("%s, %.1f at length: %q", c.form, c.rate, why)
		}
	}
}
