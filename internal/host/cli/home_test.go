package cli

import (
	"math"
	"strings"
	"testing"
)

// The way home leads step by step with bearings true and by compass, to a hole as well; the whiteout sheet and the watch are printed and shaped.
func TestHomeLeadsStepByStep(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	m.withDemo()
	out := m.must("home", "--from", "47.82589,-45.08740")
	for _, want := range []string{"right of the line: back to it first", "Walk 123 true, 138 by compass.", "Then turn right to 213 true", "Reckoned at 3.5 km/h: measured today, the slowest member's."} {
		if !strings.Contains(out, want) {
			t.Errorf("home does not say %q:\n%s", want, out)
		}
	}
	var home struct {
		Guide struct {
			Off  float64 `json:"off_line_m"`
			Side string  `json:"side"`
			Mag  float64 `json:"walk_magnetic_deg"`
		} `json:"guide"`
	}
	if m.object(&home, "home", "--from", "47.82589,-45.08740"); math.Abs(home.Guide.Off-301) > 1 || home.Guide.Side != "right" || home.Guide.Mag != 138 {
		t.Errorf("%+v", home)
	}
	if out := m.must("home", "--hole", "17"); !strings.Contains(out, "Way to hole 17") {
		t.Error(out)
	}
	if m.run("home", "--hole", "999") == 0 {
		t.Error("led to a hole that nobody drilled")
	}
	if out := m.must("home", "--whiteout"); !strings.Contains(out, "Not all of it holds by the record: stay, and call.") {
		t.Error(out)
	}
	var cold struct {
		Watch struct {
			Turns []struct {
				Every float64 `json:"every_min"`
			} `json:"warm_ups"`
		} `json:"watch"`
	}
	if m.object(&cold, "cold"); len(cold.Watch.Turns) != 6 || cold.Watch.Turns[0].Every != 30 {
		t.Errorf("%+v", cold)
	}
	if m.run("cold", "--air", "-17 C", "--wind", "12 km/h") == 0 {
		t.Error("a wind without its height was taken")
	}
}
