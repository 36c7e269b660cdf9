package cli

import (
	"context"
	"regexp"
	"strings"
	"testing"
	"time"

	"icehand/internal/keep/sqlite"
)

// withDemo puts the demo's record where the machine keeps its own, with the surfaces that an answer of it keeps.
func (m *machine) withDemo() {
	m.t.Helper()
	m.take(&demoRecord, "2026-01-15T12:50:00Z", func(first *machine) {
		st, err := sqlite.Open(context.Background(), first.env.Home, sqlite.Options{Program: "test"})
		if err != nil {
			m.t.Fatal(err)
		}
		if _, err := newDemo(context.Background(), st, 15, time.Now); err != nil {
			m.t.Fatal(err)
		}
		if err := st.Close(); err != nil {
			m.t.Fatal(err)
		}
		first.must("next", "--brief")
	})
}

// The demo answers all ten questions of a working guide, each from the record. What is looked for here are facts of the
// demo's script, not what the engine makes of them.
func TestNextAnswersTenQuestionsOnTheDemo(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	m.withDemo()
	out := m.must("next")
	questions := regexp.MustCompile(`(?m)^ ?(\d+)  \S.*\?$`).FindAllStringSubmatch(out, -1)
	if len(questions) != 10 {
		t.Fatalf("%d questions:\n%s", len(questions), out)
	}
	for _, want := range []string{
		"looks today within", "23 looks today, 6 with marks", "before", // 2: the morning's looks
		"done 09:5", " hole", // 4
		"The rods as they sit, together",                                                  // 5
		"by Ingrid Vossler", "Thinnest of 12 readings today: 41 cm at 07:05", "Not a go.", // 7
		"start home from there by 14:", "Turn-back 14:46", // 8
		"Lena Albrecht", "Mr Okafor", "by age, child 300 m, elder 400 m and adult 1.0 km", // 9
		"3 shelters 1.", "reported 3 h ago", // 10
		"Weighed for the aim of the day: numbers.",
		"Check local rules",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("the answer does not say %q:\n%s", want, out)
		}
	}
	if !strings.HasPrefix(out, "14:46 ") {
		t.Errorf("two turn-back times: %s", out[:40])
	}
	if brief := m.must("next", "--brief"); regexp.MustCompile(`(?m)^10  `).MatchString(brief) || !strings.Contains(brief, "What would change it:") {
		t.Errorf("--brief prints the answers:\n%s", brief)
	}
}

func TestNextAnswersAsData(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	m.withDemo()
	var s stepJSON
	m.object(&s, "next")
	a := s.Answers
	if a == nil || !a.Placed {
		t.Fatalf("%+v", a)
	}
	for i, x := range []answerJSON{a.Why, a.Looks.answerJSON, a.Wrong.answerJSON, a.Cost.answerJSON, a.Stay.answerJSON, a.Tried.answerJSON, a.Ice.answerJSON, a.Home.answerJSON, a.Walk.answerJSON, a.Seen.answerJSON} {
		if x.Number != i+1 || x.Question == "" || len(x.Lines) == 0 {
			t.Errorf("answer %d: %+v", i+1, x)
		}
	}
	if a.Looks.Today.Looks != 23 || a.Looks.Season.Days != 12 || a.Ice.Today != 12 || a.Ice.ThinnestM != 0.41 || len(a.Walk.People) != 6 || len(a.Seen.Parties) != 1 || a.Seen.Parties[0].Shelters != 3 {
		t.Errorf("%+v", a)
	}
	if a.Home.TurnBack != s.TurnBack || a.Cost.Minutes != s.Cost.Minutes || s.OddsOf.Plan == "" || s.OddsOf.Low > s.OddsOf.P || s.OddsOf.High < s.OddsOf.P {
		t.Errorf("turn back %s and %s, cost %v and %v, odds %+v", a.Home.TurnBack, s.TurnBack, a.Cost.Minutes, s.Cost.Minutes, s.OddsOf)
	}
	if s.Score.Verdict != "too_early" || s.Score.Needed < s.Score.Looks || s.Aim != "numbers" || len(s.Others) > 2 {
		t.Errorf("%+v, aim %q, %d alternatives", s.Score, s.Aim, len(s.Others))
	}
	whole := 0
	for _, r := range s.Reasons {
		if r.Code == "looks_near" && (len(r.Looks) != r.Of || r.OldestS < r.AgeS) {
			t.Errorf("%+v", r)
		}
		if r.Code == "depth_band" && r.Prior != "stage" {
			t.Errorf("%+v", r)
		}
		whole++
	}
	if whole == 0 {
		t.Error("no reason")
	}
}

// Another aim may be asked about without recording it.
func TestNextForAnotherAim(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	m.withDemo()
	if out := m.must("next", "--aim", "learning"); !strings.Contains(out, "Weighed for the aim of the day: learning ground for tomorrow.") {
		t.Errorf("asked for learning:\n%s", out)
	}
	if out := m.must("next", "--aim", "size"); !strings.Contains(out, "No sorting for size at 10.7 m: few live once put back.") {
		t.Errorf("asked for size over deep water:\n%s", out)
	}
	if out := m.must("next"); !strings.Contains(out, "aim of the day: numbers.") {
		t.Errorf("a question was recorded:\n%s", out)
	}
	if status := m.run("next", "--aim", "fame"); status != exitUsage || !strings.Contains(m.err.String(), "hint: Use numbers, size, action") {
		t.Errorf("%d %s", status, m.err.String())
	}
}

// icehand aim prints the aim of the day and sets it, a first fish by the guest's name.
func TestAim(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	m.withDemo()
	if out := m.must("aim"); out != "numbers\n" {
		t.Errorf("%q", out)
	}
	m.must("aim", "first_fish", "--for", "lena")
	if out := m.must("aim"); out != "a first fish, for Lena Albrecht\n" {
		t.Errorf("%q", out)
	}
	var trip struct {
		Aim, For string
	}
	m.object(&trip, "aim")
	if trip.Aim != "first_fish" || trip.For != "Lena Albrecht" {
		t.Errorf("%+v", trip)
	}
	if out := m.must("next"); !strings.Contains(out, "aim of the day: a first fish.") || !strings.Contains(out, "1 hole of about 44") {
		t.Errorf("the trip lost its batteries, or the step its aim:\n%s", out)
	}
	for name, args := range map[string][]string{"no aim": {"aim", "fame"}, "a guest without": {"aim", "--for", "lena"}, "not a first fish": {"aim", "size", "--for", "lena"},
		"nobody": {"aim", "first_fish", "--for", "Ulf"}, "several": {"aim", "first_fish", "--for", "albrecht"}} {
		if status := m.run(args...); status != exitUsage && status != exitMissing || !strings.Contains(m.err.String(), "hint:") {
			t.Errorf("%s: %d %s", name, status, m.err.String())
		}
	}
	if out := m.must("aim"); out != "a first fish, for Lena Albrecht\n" {
		t.Errorf("a mistake changed the aim: %q", out)
	}
}
