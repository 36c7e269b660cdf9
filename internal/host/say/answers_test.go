package say

import (
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/lake"
)

// answered is a step with every answer filled, as on the morning of the demo.
func answered() advise.Step {
	hole, jonas, lena, lost := uuid.UUID{1}, uuid.UUID{2}, uuid.UUID{3}, uuid.UUID{4}
	odds := advise.Odds{P: 1. / 3, Low: 0.2, High: 0.5, Event: "marks", Wait: 30 * time.Second, Plan: advise.OneHole}
	blank := advise.Odds{P: 0.21, Event: "marks", Wait: 30 * time.Second}
	marks := advise.Odds{P: 0.9, Event: "marks", Wait: 30 * time.Second}
	at := func(clock string) time.Time {
		c, err := time.Parse("15:04", clock)
		if err != nil {
			panic(err)
		}
		return time.Date(2026, 1, 15, c.Hour(), c.Minute(), 0, 0, noon.Location())
	}
	reading := &lake.IceReading{Total: 0.46, When: at("12:20")}
	a := &advise.Answers{Somewhere: true,
		Why: []advise.Reason{{Code: "looks_near", Count: 3, Of: 7, Near: 100, Age: 6 * time.Minute, Holes: []uuid.UUID{hole}}, {Code: "caught_out", Count: 6, Age: 2 * time.Minute}},
		Basis: advise.Basis{Near: advise.Count{Looks: 7, Marks: 3, Within: 100, Newest: noon.Add(-6 * time.Minute), Oldest: noon.Add(-68 * time.Minute)}, Today: advise.Count{Looks: 23, Marks: 6},
			Past: advise.Count{Within: 150}, Season: advise.Count{Looks: 634, Marks: 134, Days: 12}, Known: 0.62},
		Wrong: []advise.Doubt{{Reason: advise.Reason{Code: "if_blank"}, Odds: &blank, Then: &advise.Follow{Do: advise.Drill, Away: 20, Paces: 27, Toward: 0}},
			{Reason: advise.Reason{Code: "if_marks"}, Odds: &marks}, {Reason: advise.Reason{Code: "school_moved", Age: 7 * time.Minute, Near: 40}},
			{Reason: advise.Reason{Code: "too_early", Count: 23, Of: 40}}},
		Cost: advise.Bill{Cost: advise.Cost{Minutes: 1.4, Holes: 1, Ice: 0.43, Distance: 12}, Walk: 12 * time.Second, Drill: 44 * time.Second, Look: 30 * time.Second, HolesLeft: 44, Until: noon.Add(84 * time.Second)},
		Stay: advise.Staying{Odds: advise.Odds{P: 0.16, Event: "marks", Wait: 84 * time.Second}, Rods: 2, Rate: advise.Rate{Mean: 21, Low: 1, High: 56}, Moved: advise.Rate{Mean: 22, Low: 1, High: 58}, Moves: 1, Quiet: 1},
		Before: advise.Tried{Within: 60, Visits: []advise.Visit{{Day: "2026-01-15", First: at("08:56"), Last: at("09:49"), Looks: 2, Marks: 1, Fish: 6, Good: 5, Sat: 53 * time.Minute, Holes: []uuid.UUID{hole}},
			{Day: "2026-01-12", First: at("13:10"), Last: at("13:10"), Looks: 1, Holes: []uuid.UUID{hole}}}},
		Ice:  advise.IceThere{By: uuid.UUID{9}, When: at("12:20"), Today: 12, Thinnest: 0.41, ThinAway: 1732, ThinWhen: at("07:05"), Safety: safety.HopAnswer{Nearest: &safety.Nearest{Reading: reading, Age: 25 * time.Minute, Distance: 12}}},
		Home: advise.Homeward{At: at("14:38"), Told: true, Done: noon.Add(84 * time.Second), Latest: at("14:36"), Spare: 109 * time.Minute, Travel: 66 * time.Minute, Known: true, Text: "wind to NW about 17:00", Set: at("09:00"), Would: at("14:20")},
		Walk: []advise.Walker{{Person: jonas, Age: "adult", Rod: 1, Placed: true, Can: true, Distance: 12, Walk: 12 * time.Second, Reach: 1000},
			{Person: lena, Age: "child", Rod: 3, Placed: true, Distance: 420, Walk: 10 * time.Minute, Reach: 300, FromBase: 967}, {Person: lost, Age: "elder", Role: "guest", Rod: 5, Reach: 250, Told: true}},
		Seen: advise.Seen{Parties: []advise.Watcher{{Shelters: 3, Distance: 840, Toward: 45, Now: 910, Age: 40 * time.Minute, Sees: advise.Plainly}}, Plain: 1169, Reach: 10082, Air: 4000, AirTold: true, Shore: 1900},
	}
	return advise.Step{Do: advise.Drill, From: &advise.Anchor{Number: 24, Paces: 16, Bearing: 200}, Odds: odds, Cost: a.Cost.Cost, Why: a.Why, Aim: "size", Answers: a,
		Changes: []advise.Reason{{Code: "marks_next", Text: "not said twice"}, {Code: "wind_shift", Text: "wind to NW about 17:00"}}}
}

func TestAnswers(t *testing.T) {
	v := voice(quantity.SI)
	v.Hole = func(uuid.UUID) string { return "24" }
	v.Person = func(id uuid.UUID) string {
		return map[uuid.UUID]string{{2}: "Jonas", {3}: "Lena", {4}: "Mr Okafor"}[id]
	}
	v.Writer = func(uuid.UUID, time.Time) string { return "Ingrid" }
	want := map[string][]string{
		"why":   {"3 of 7 looks within 100 m had marks, last 6 min ago (hole 24).", "Against: 6 fish taken here already, last 2 min ago.", "Weighed for the aim of the day: good-sized fish."},
		"looks": {"7 looks today within 100 m, 3 with marks: newest 6 min ago, oldest 68 min ago.", "No look of an earlier day within 150 m.", "About 6 tenths of the odds come from marks seen today, the rest from depth, stage and record.", "Odds 1 in 3; between 1 in 5 and 1 in 2, 8 times in 10.", "In all 23 looks today, 6 with marks; 634 on 12 days before, 134 with marks."},
		"wrong": {"Nothing there: the odds there become 1 in 5; then drill 27 paces N of it.", "Marks there: 9 in 10 for marks again in 30 s; look twice, then lines.", "The school was last seen 7 min ago; by now it may be 40 m off.", "Too early to judge the odds: 23 looks of 40.", "Wind to NW about 17:00."},
		"cost":  {"2 min, done 12:47: 12 m to walk, 43 cm to drill, 30 s to look.", "1 hole of about 44 left in the batteries.", "With marks, the slowest rod that can is there in 1 min."},
		"stay":  {"Where you stand: long shot, 1 in 7 for marks in 1 min.", "The rods as they sit, together: 21 fish/h (1 to 56).", "After the move advised: 22 fish/h (1 to 58).", "1 of 2 rods: nothing seen for 5 min or more."},
		"tried": {"Today 08:56 to 09:49: 1 hole, 2 looks, 1 with marks, 6 fish (5 good) in 53 min of sitting.", "12 Jan 13:10: 1 hole, 1 look, 0 with marks."},
		"ice":   {"Ice not read there. Nearest 46 cm, 25 min ago, 12 m. Spud ahead.", "That reading: 12:20, by Ingrid.", "Thinnest of 12 readings today: 41 cm at 07:05, 1.7 km off.", TestAsYouGo},
		"home":  {"Done 12:47; start home from there by 14:36: 1 h 49 left.", "66 min home from there. Turn-back 14:38: wind to NW about 17:00.", "Turn-back set by the guide at 09:00; computed 14:20."},
		"walk":  {"Jonas. Slowest: Jonas, 12 m, 1 min.", "Lena: 420 m off, farther than 300 m at a stretch.", "Not known where: Mr Okafor.", "From the base it is 1.0 km: far to warmth for Lena.", "At a stretch: told, Mr Okafor 250 m; by age, child 300 m and adult 1.0 km."},
		"seen":  {"3 shelters 840 m NE, reported 40 min ago: you are in plain sight, 70 m nearer to them than now.", "On open ice a person is told for one from 1.2 km; the shore is 1.9 km off.", "One sees about 4.0 km now."},
	}
	got := v.Answers(answered())
	if len(got) != len(want) {
		t.Fatalf("%d answers", len(got))
	}
	for i, a := range got {
		if a.Number != i+1 || !strings.HasSuffix(a.Question, "?") {
			t.Errorf("%d %q", a.Number, a.Question)
		}
		if got, want := strings.Join(a.Lines, "\n"), strings.Join(want[a.Key], "\n"); got != want {
			t.Errorf("%s:\ngot\n%s\nwant\n%s", a.Key, got, want)
		}
	}
}

// Whatever is missing is said, and nothing ever sounds like permission.
func TestAnswersWithNothingKnown(t *testing.T) {
	v := voice(quantity.SI)
	for _, s := range []advise.Step{
		{Do: advise.Wait, Answers: &advise.Answers{}}, {Do: advise.HeadIn, Answers: &advise.Answers{}},
		{Do: advise.Drill, Answers: &advise.Answers{Somewhere: true}}, {Do: advise.Stay, Answers: &advise.Answers{Somewhere: true}}, answered(),
	} {
		for _, a := range v.Answers(s) {
			if len(a.Lines) == 0 && a.Key != "why" && a.Key != "wrong" {
				t.Errorf("%s: %s is not answered", s.Do, a.Question)
			}
			for _, line := range a.Lines {
				for _, bad := range []string{"safe", "fine", "OK", "allowed", "cleared", "good ice", "%!", "NaN", "--:--"} {
					if strings.Contains(line, bad) && !(bad == "--:--" && s.Answers.Home.At.IsZero()) {
						t.Errorf("%s: %q says %q", a.Key, line, bad)
					}
				}
			}
		}
	}
	if got := v.Answers(advise.Step{}); got != nil {
		t.Errorf("answers out of nothing: %v", got)
	}
}

// How the model fared is said in its own words, and that the line and spiral answers.
func TestScore(t *testing.T) {
	v := voice(quantity.SI)
	for verdict, want := range map[advise.Verdict]string{
		advise.TooEarly: "Too early to judge the odds: 44 looks of 40.",
		advise.Better:   "The odds did better than a constant rate today (44 looks).",
		advise.NoBetter: "The odds did no better than a constant rate today (44 looks).",
		advise.Worse:    "The odds did worse than a constant rate today (44 looks): line and spiral answers.",
	} {
		s := advise.Score{Looks: 44, Needed: 40, Verdict: verdict}
		if got := v.Score(s); got != want {
			t.Errorf("%s: %q", verdict, got)
		}
		if got := v.Step(advise.Step{Do: advise.Drill, Plain: true, Score: s}).Plain; (verdict == advise.Worse) != (got == want) || got == "" {
			t.Errorf("%s: by line and spiral, %q", verdict, got)
		}
	}
}

// Odds say their plan: a look, a chain of holes, a sit.
func TestOddsSayTheirPlan(t *testing.T) {
	v := voice(quantity.SI)
	for _, c := range []struct {
		plan  advise.Plan
		holes int
		want  string
	}{
		{advise.OneHole, 0, "fair: 1 in 3 for marks in 4 min"}, {advise.Sitting, 0, "fair: 1 in 3 for marks in a sit of 4 min"}, {advise.Chain, 8, "fair: 1 in 3 for marks in 8 holes, 4 min each"},
	} {
		if got := v.Odds(advise.Odds{P: 1. / 3, Event: "marks", Wait: 4 * time.Minute, Plan: c.plan, Holes: c.holes}); got != c.want {
			t.Errorf("%s: %q", c.plan, got)
		}
	}
}

// The sit clock of all rods in one line, rods of one mind together; a move for hardly more is called a toss-up.
func TestSitClockOfAllRods(t *testing.T) {
	v := voice(quantity.SI)
	hole := uuid.UUID{1}
	v.Hole = func(uuid.UUID) string { return "19" }
	stay := func(rod int, ask time.Duration) advise.RodStep {
		return advise.RodStep{Rod: rod, Do: advise.Stay, ReAsk: noon.Add(ask), Here: advise.Rate{Mean: 4.2, High: 12.6}}
	}
	s := advise.Step{Do: advise.Drill, Rods: []advise.RodStep{stay(1, 4*time.Minute), stay(2, 2*time.Minute), stay(5, 2*time.Minute),
		{Rod: 3, Do: advise.Move, To: hole, TossUp: true, Here: advise.Rate{Mean: 3.7, High: 11}, There: advise.Rate{Mean: 3.8, High: 11.5}}, {Rod: 4, Do: advise.HeadIn}}}
	w := v.Step(s)
	if w.Clock != "1: 4 min | 2, 5: 2 min | 3: to 19? | 4: lines up" {
		t.Errorf("%q", w.Clock)
	}
	for _, r := range w.Rods {
		if strings.HasPrefix(r.Sentence, "Rod 3") && (r.Sentence != "Rod 3: a toss-up, stay or move to 19" || r.Rate != "here 4 fish/h (0 to 11), there 4 fish/h (0 to 12)") {
			t.Errorf("%+v", r)
		}
	}
}
