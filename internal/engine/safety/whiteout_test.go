package safety

import (
	"testing"
	"time"

	"icehand/internal/base/quantity"
)

// Each condition for going, from both sides of its line and at unknown.
func TestWhiteoutConditions(t *testing.T) {
	in := WhiteoutInput{Now: at(9, 50), Back: TurnBackTime(morning()), Fix: true, Accuracy: 9 * quantity.Metre, Counted: at(9, 40)}
	state := func(in WhiteoutInput, code string) (Holds, bool) {
		a := Whiteout(in)
		for _, c := range a.Conditions {
			if c.Code == code {
				return c.Is, a.Barred
			}
		}
		t.Fatalf("no condition %q", code)
		return 0, false
	}
	for _, c := range []struct {
		name, code string
		change     func(*WhiteoutInput)
		want       Holds
	}{
		{"as it is", "line", func(*WhiteoutInput) {}, Met},
		{"no line", "line", func(in *WhiteoutInput) { in.Back.Way = Way{Basis: "no known way: ridge in the way"} }, NotMet},
		{"no fix, no line", "line", func(in *WhiteoutInput) { in.Fix = false }, NotMet},
		{"fix of 10 m", "fix", func(in *WhiteoutInput) { in.Accuracy = 10 }, NotMet},
		{"fix of 9 m", "fix", func(*WhiteoutInput) {}, Met},
		{"fix of unknown accuracy", "fix", func(in *WhiteoutInput) { in.Accuracy = 0 }, NotMet},
		{"no fix", "fix", func(in *WhiteoutInput) { in.Fix = false }, NotMet},
		{"count of 15 min", "count", func(in *WhiteoutInput) { in.Counted = at(9, 35) }, Met},
		{"count of 16 min", "count", func(in *WhiteoutInput) { in.Counted = at(9, 34) }, NotMet},
		{"one missing", "count", func(in *WhiteoutInput) { in.Missing = 1 }, NotMet},
		{"no count", "count", func(in *WhiteoutInput) { in.Counted = time.Time{} }, NotMet},
		{"the record cannot know", "linked", func(*WhiteoutInput) {}, NotKnown},
	} {
		x := in
		c.change(&x)
		if got, barred := state(x, c.code); got != c.want || barred != (c.want == NotMet) {
			t.Errorf("%s: %v, barred %v", c.name, got, barred)
		}
	}
	if a := Whiteout(in); len(a.Threats) != 1 || a.Threats[0] != "Wind to NW about 17:00; ridge 40 min away" {
		t.Errorf("threats: %q", a.Threats)
	}
	steady := morning()
	steady.Forecast = hourly(25)
	if a := Whiteout(WhiteoutInput{Now: at(9, 50), Back: TurnBackTime(steady)}); len(a.Threats) != 0 || !a.Barred {
		t.Errorf("a steady wind threatens: %+v", a)
	}
}
