package say

import (
	"strings"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/trade/lake"
)

// The way is said short, figure by figure, with what is not known of it; what would be no way is said as none. Never is anything called safe.
func TestAloud(t *testing.T) {
	at := time.Date(2026, 1, 15, 14, 0, 0, 0, time.UTC)
	here := advise.Place{Known: true, Accuracy: 5 * quantity.Metre, Fixed: at}
	steer := safety.Steer{On: true, Bearing: quantity.NewBearing(181), Leg: 400 * quantity.Metre}
	line := []geo.Local{{}, {N: -400}}
	home := TurnBackText{Clock: "14:53", Left: "in 53 min"}
	off := steer
	off.On, off.Right, off.Off = false, true, 24*quantity.Metre
	for _, x := range []struct {
		name string
		g    desk.Guide
		home TurnBackText
		us   bool
		want string
	}{
		{"on the line", desk.Guide{Here: here, Line: line, Steer: steer}, home, false, "Walk one eight one true. Four zero zero metres. Turn back at one four five three."},
		{"yards", desk.Guide{Here: here, Line: line, Steer: steer}, home, true, "Walk one eight one true. Four four zero yards. Turn back at one four five three."},
		{"off it", desk.Guide{Here: here, Line: line, Steer: off}, home, false, "Two four metres right of the line. Back to it first. Ice not read between. Spud ahead. Walk one eight one true. Four zero zero metres. Turn back at one four five three."},
		{"no fix", desk.Guide{FromHole: &lake.Hole{}, Line: line, Steer: steer}, home, false, "No fix. Walk one eight one true. Four zero zero metres. Turn back at one four five three."},
		{"no way", desk.Guide{Here: here}, home, false, "No known way. Stay where you are. Call. Turn back at one four five three."},
		{"to a hole, past time", desk.Guide{Here: here, Line: line, Steer: steer, To: &lake.Hole{}, Hazards: []*lake.Hazard{{What: "open_water"}}}, TurnBackText{Clock: "14:53", Past: true, Near: true, Left: "7 min ago: head in"}, false,
			"Walk one eight one true. Four zero zero metres. Runs into: open water. Ice not read on the line. Spud ahead. Turn-back time one four five three is past. Head in."},
		{"nothing known", desk.Guide{}, TurnBackText{}, false, "No fix. No known way. Stay where you are. Call. Turn-back time unknown. Head in."},
	} {
		t.Run(x.name, func(t *testing.T) {
			v := Voice{Now: at}
			if x.us {
				v.Units = quantity.US
			}
			got := v.Aloud(x.g, x.home).Words
			if got != x.want {
				t.Errorf("%q, want %q", got, x.want)
			}
			if strings.ContainsAny(got, "0123456789") || strings.Contains(strings.ToLower(got), "safe") {
				t.Errorf("%q has a figure, or calls something safe", got)
			}
		})
	}
}

// What is said anew: another turn-back time, leaving the line; not a few metres. The course is told apart, for the page to weigh.
func TestAloudChange(t *testing.T) {
	guide := func(degrees float64, leg quantity.Length, on bool) desk.Guide {
		return desk.Guide{Here: advise.Place{Known: true}, Line: make([]geo.Local, 2), Steer: safety.Steer{On: on, Bearing: quantity.NewBearing(degrees), Leg: leg}}
	}
	key := func(g desk.Guide, clock string) string { return Voice{}.Aloud(g, TurnBackText{Clock: clock}).Change }
	was := key(guide(181, 400, true), "14:53")
	if key(guide(183, 380, true), "14:53") != was {
		t.Error("twenty metres are said anew")
	}
	if c := (Voice{}).Aloud(guide(359.7, 400, true), TurnBackText{}).Course; c != "0" {
		t.Errorf("the course is %q, want 0", c)
	}
	if c := (Voice{}).Aloud(desk.Guide{}, TurnBackText{}).Course; c != "" {
		t.Errorf("without a way the course is %q", c)
	}
	for what, now := range map[string]string{"off the line": key(guide(181, 400, false), "14:53"), "another time": key(guide(181, 400, true), "14:40")} {
		if now == was {
			t.Errorf("%s is not said anew", what)
		}
	}
}

func TestParts(t *testing.T) {
	for s, want := range map[string]string{
		"Walk 181 true, 196 by compass.":     "Walk |[181]| true, |[196]| by compass.",
		"No known way. Stay where you are.":  "No known way. Stay where you are.",
		"Walk 004 true (covers 2025 to 29).": "Walk |[004]| true (covers 2025 to 29).",
	} {
		var got []string
		for _, p := range parts(s) {
			if p.Large {
				p.Text = "[" + p.Text + "]"
			}
			got = append(got, p.Text)
		}
		if strings.Join(got, "|") != want {
			t.Errorf("%q, want %q", strings.Join(got, "|"), want)
		}
	}
}
