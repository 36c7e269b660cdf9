package say

import (
	"testing"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
)

// The engine's sentences in US units, by the exact factors [YardPound1959]: 1 lb is 0.45359237 kg, 1 ft is 0.3048 m, so
// 1 yd is 0.9144 m and 1 mi 1.609344 km. Minutes, hours and temperatures stay as they are.
func TestLocal(t *testing.T) {
	for si, us := range map[string]string{
		"gusts of 52 km/h about 16:00; landing 66 min away":             "gusts of 32 mph about 16:00; landing 66 min away",
		"Mass not told; 110 kg assumed.":                                "Mass not told; 243 lb assumed.",
		"Untested here: a reading speaks for 15 m about its hole.":      "Untested here: a reading speaks for 16 yd about its hole.",
		"sight under 1 km about 14:00; landing 40 min away":             "sight under 0.6 mi about 14:00; landing 40 min away",
		"Air fell 15 C or more within 12 h in the last day.":            "Air fell 15 C or more within 12 h in the last day.",
		"Within 200 m of shore, where the same total is weaker ice.":    "Within 220 yd of shore, where the same total is weaker ice.",
		"No wind forecast after 15:00: dusk counts 60 min early.":       "No wind forecast after 15:00: dusk counts 60 min early.",
		"The forecast is 13 h old: dusk counts 60 min early.":           "The forecast is 13 h old: dusk counts 60 min early.",
		"Ridge within 30 m of the line, reported 3 h ago.":              "Ridge within 33 yd of the line, reported 3 h ago.",
		"wind to NW about 17:00; ridge 43 min away, 2.4 km to the SSE.": "wind to NW about 17:00; ridge 43 min away, 1.5 mi to the SSE.",
	} {
		want := us
		if got := voice(quantity.US).Local(si); got != want {
			t.Errorf("%q\ngives %q\nwant  %q", si, got, want)
		}
		if got := voice(quantity.SI).Local(si); got != si {
			t.Errorf("SI changed to %q", got)
		}
	}
	back := voice(quantity.US).TurnBack(safety.TurnBack{At: noon.Add(time.Hour), Binding: safety.Deadline{Text: "gusts of 60 km/h about 16:00"}})
	if back.Reason != "gusts of 37 mph about 16:00" {
		t.Error(back.Reason)
	}
	ice := voice(quantity.US).Ice(safety.IceAnswer{Refusals: []safety.Refusal{{Code: "mass_assumed", Text: "Mass not told; 3300 kg assumed."}}})
	if ice.Refusals[0] != "Mass not told; 7275 lb assumed." {
		t.Error(ice.Refusals)
	}
}

func TestNoFix(t *testing.T) {
	v := voice(quantity.SI)
	if got := v.NoFix("43", 25, noon.Add(-3*time.Minute)); got != "No fix (last 25 m, 3 min). Saved as hole 43 without place." {
		t.Error(got)
	}
	if got := v.NoFix("43", 0, time.Time{}); got != "No fix. Saved as hole 43 without place." {
		t.Error(got)
	}
	lint(t, "no fix", v.NoFix("99999", 100_000, noon.Add(-999*time.Hour)), Longest)
}

func TestFiveOverrideReasons(t *testing.T) {
	codes := OverrideReasons()
	if len(codes) != 5 {
		t.Errorf("%d reasons, want 5", len(codes))
	}
	for _, c := range codes {
		lint(t, "reason", OverrideReason(c), Longest)
	}
	if OverrideReason("because") != "" {
		t.Error("an unknown reason is said")
	}
	for _, r := range []string{"present", "crossing", "cleared"} {
		lint(t, "report", ReportWord(r), Longest)
	}
}
