package say

import (
	"strings"
	"testing"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/engine/safety"
	"icehand/internal/physics/ice"
)

const cm = quantity.Centimetre

// The low end of the estimate is told apart from what was read, and a crowd from the load that was stated.
func TestIceFigureAndCrowd(t *testing.T) {
	v := voice(quantity.SI)
	a := safety.IceAnswer{State: safety.BelowTable, Load: safety.Load{Class: "on_foot", Mass: 110}, Table: safety.DefaultTable(), Asked: 15 * cm, Effective: 14.3 * cm,
		Counted: 1, Newest: v.Now, Basis: safety.Basis{Least: 18 * cm, Zone: icecover.Open, Missing: "No ice column: the day of freeze-up is not on record."}, Together: 110}
	a.Basis.Spot.Low = 14.3 * cm
	w := v.Ice(a)
	if !strings.Contains(w.Sentence, "14 cm is the low end of the estimate (1 hole") || len(w.Basis) != 2 || !strings.Contains(w.Basis[0], "thinnest hole here 18 cm, low end of the estimate 14 cm") || w.Basis[1] != a.Basis.Missing {
		t.Errorf("%q %q", w.Sentence, w.Basis)
	}
	a.Effective = a.Basis.Least
	if w = v.Ice(a); !strings.Contains(w.Sentence, "18 cm read (1 hole") {
		t.Errorf("%q", w.Sentence)
	}
	a.State, a.Carries, a.Together, a.Near = safety.BelowRule, 349, 400.2, 3
	a.Refusals = []safety.Refusal{{Code: "together", Text: "said twice"}}
	if w = v.Ice(a); !strings.Contains(w.Sentence, "of 340 kg is less than the 401 kg that stand together.") || !strings.Contains(w.Together, "401 kg on one spot") || len(w.Refusals) != 0 {
		t.Errorf("%q %q %q", w.Sentence, w.Together, w.Refusals)
	}
}

func TestColumn(t *testing.T) {
	v := voice(quantity.SI)
	e := icecover.Estimate{At: v.Now, Total: icecover.Range{Low: 39.2 * cm, Middle: 41 * cm, High: 42.9 * cm}, White: icecover.Range{Low: 2.1 * cm, High: 2.9 * cm}, Snow: icecover.Range{Low: 8 * cm, High: 14 * cm}, Slush: 0.24}
	got := strings.Join(v.Column(e, icecover.Shore), " ")
	if !strings.Contains(got, "along the shore") || !strings.Contains(got, "total 39 to 42 cm, white 2 cm, snow 8 to 14 cm, slush 2 in 10") || !strings.Contains(got, "only ever lowers") {
		t.Errorf("%q", got)
	}
}

// Limits are rounded down and never name a speed to reach.
func TestInMotion(t *testing.T) {
	m := ice.MovingAdvice(2000, 3000, 30*cm, 2)
	got := strings.Join(voice(quantity.SI).inMotion(&m), " ")
	if !strings.Contains(got, "at most 15 km/h; within 100 m of shore, bars and oncoming vehicles at most 7 km/h") || !strings.Contains(got, "stay well under that") || strings.Contains(got, "Depth") {
		t.Errorf("%q", got)
	}
	m = ice.MovingAdvice(2000, 3000, 30*cm, 0)
	if got = strings.Join(voice(quantity.US).inMotion(&m), " "); !strings.Contains(got, "at most 7 mph; within 110 yd") || !strings.Contains(got, "Depth not known") {
		t.Errorf("%q", got)
	}
	if voice(quantity.SI).inMotion(nil) != nil {
		t.Error("limits on foot")
	}
}

func TestStood(t *testing.T) {
	v := voice(quantity.SI)
	s := safety.Stood{OnIce: safety.OnIce{What: "tracked van", Mass: 2100, Since: v.Now.Add(-time.Hour)}, For: time.Hour, Due: v.Now.Add(time.Hour), Together: 2100, Carries: 5883, Rim: safety.RimAbove}
	if x := v.Stood(s); x.Due || !strings.HasPrefix(x.Says, "tracked van, 2100 kg, since ") || !strings.Contains(x.Says, "move it by") || len(x.Lines) != 1 || !strings.Contains(x.Lines[0], "a figure of comparison") {
		t.Errorf("%+v", x)
	}
	for what, change := range map[string]func(*safety.Stood){
		": move it": func(s *safety.Stood) { s.Overdue = true }, "more than the calculated load of 2000 kg: move it now": func(s *safety.Stood) { s.Over, s.Carries = true, 2050 },
		"to the rim: move it now": func(s *safety.Stood) { s.Rim = safety.RimReached }, "9 m from another vehicle: keep 16 m": func(s *safety.Stood) { s.TooNear = 9 },
	} {
		y := s
		change(&y)
		if x := v.Stood(y); !x.Due || !strings.Contains(x.Says+" "+strings.Join(x.Lines, " "), what) {
			t.Errorf("%s: %+v", what, x)
		}
	}
	s.Carries, s.Rim, s.Refusals = 0, safety.RimUnknown, []safety.Refusal{{Code: "far", Text: "Untested here: a reading speaks for 30 m about its hole."}}
	if x := v.Stood(s); x.Due || len(x.Lines) != 3 || !strings.Contains(x.Lines[0], "no load figure") || !strings.Contains(x.Lines[2], "Water level not read") {
		t.Errorf("%+v", x)
	}
}

// A line that was read all along still ends in the caution.
func TestTested(t *testing.T) {
	v := voice(quantity.SI)
	read := safety.Tested{Length: 120, Spacing: 30}
	if got := v.Tested(read); len(got) != 1 || !strings.HasSuffix(got[0], TestAsYouGo) {
		t.Errorf("%q", got)
	}
	read.Untested, read.First, read.Hazards = 45, 30, 2
	if got := v.Tested(read); len(got) != 2 || got[0] != "Untested over 45 m of the 120 m, first 30 m from the start: no hole of today within 15 m. Spud ahead." || !strings.Contains(got[1], "2 hazards") {
		t.Errorf("%q", got)
	}
	if v.Tested(safety.Tested{}) != nil {
		t.Error("no line")
	}
}
