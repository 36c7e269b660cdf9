package priors

import (
	"math"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/sun"
)

// Both sides of every line, and what is told when the best is unknown. The lines are ours (docs/models/search.md).
func TestStageOf(t *testing.T) {
	for name, c := range map[string]struct {
		in    StageInput
		stage Stage
		by    Basis
	}{
		"day 24":               {StageInput{Day: "2026-01-04", FreezeUp: "2025-12-11"}, Early, ByFreezeUp},
		"day 25":               {StageInput{Day: "2026-01-05", FreezeUp: "2025-12-11"}, Mid, ByFreezeUp},
		"day 59":               {StageInput{Day: "2026-02-08", FreezeUp: "2025-12-11"}, Mid, ByFreezeUp},
		"day 60":               {StageInput{Day: "2026-02-09", FreezeUp: "2025-12-11"}, Late, ByFreezeUp},
		"freeze-up to come":    {StageInput{Day: "2026-01-15", FreezeUp: "2026-11-20", North: true}, Mid, ByDate},
		"freeze-up misspelt":   {StageInput{Day: "2026-12-15", FreezeUp: "in November", North: true}, Early, ByDate},
		"thin ice in February": {StageInput{Day: "2026-02-20", Ice: 34 * quantity.Centimetre, North: true}, Early, ByIce},
		"thick in February":    {StageInput{Day: "2026-02-20", Ice: 36 * quantity.Centimetre, North: true}, Late, ByDate},
		"14 February":          {StageInput{Day: "2026-02-14", North: true}, Mid, ByDate},
		"15 February":          {StageInput{Day: "2026-02-15", North: true}, Late, ByDate},
		"July in the south":    {StageInput{Day: "2026-07-10"}, Mid, ByDate},
		"July in the north":    {StageInput{Day: "2026-07-10", North: true}, Mid, ByNothing},
		"nothing":              {StageInput{}, Mid, ByNothing},
		"only thick ice":       {StageInput{Ice: 70 * quantity.Centimetre}, Late, ByIce},
	} {
		if stage, by := StageOf(c.in); stage != c.stage || by != c.by {
			t.Errorf("%s: %s by %s, want %s by %s", name, stage, by, c.stage, c.by)
		}
	}
}

// The preference by hand, and its honesty: an unknown depth lies between the best and the worst.
func TestDepthPreference(t *testing.T) {
	s := Season{Depth: 12, Spread: 4}
	if got := s.DepthPreference(12, 0, true); !num.Close(got, 1, 1e-12) {
		t.Errorf("at the preferred depth %g", got)
	}
	if got := s.DepthPreference(16, 0, true); !num.Close(got, math.Exp(-0.5), 1e-12) {
		t.Errorf("one spread off %g", got)
	}
	if got := s.DepthPreference(12, 3, true); !num.Close(got, 0.8, 1e-12) { // 4/5
		t.Errorf("known to 3 m %g", got)
	}
	if got := s.DepthPreference(60, 0, true); got != faintDepth {
		t.Errorf("at 60 m %g", got)
	}
	if u := s.DepthPreference(0, 0, false); !(u > faintDepth && u < 1) {
		t.Errorf("unknown %g", u)
	}
}

// The depths of every stage lie where most perch were found under ice, 9 to 18 m [HergenraderHasler1966].
func TestDepthsOfTheStages(t *testing.T) {
	for _, stage := range []Stage{Early, Mid, Late} {
		if s := Of(stage); s.Stage != stage || s.Depth < 9 || s.Depth > 18 || s.Density <= 0 || s.SchoolRadius <= 0 {
			t.Errorf("%+v", s)
		}
	}
}

// Two humps, the morning's higher, little at night [HergenraderHasler1966].
func TestActivityHasTwoHumps(t *testing.T) {
	day := sun.EventsOn(2026, 1, 15, geo.Position{Lat: 47.9, Lon: -90}, time.FixedZone("", -6*3600))
	at := func(share float64) float64 {
		return Activity(day, day.Sunrise.Time.Add(time.Duration(share*float64(day.Sunset.Time.Sub(day.Sunrise.Time)))))
	}
	morning, noon, afternoon, night := at(0.28), at(0.52), at(0.75), at(-0.3)
	if !(morning > afternoon && afternoon > noon && noon > night) {
		t.Errorf("morning %.2f, noon %.2f, afternoon %.2f, night %.2f", morning, noon, afternoon, night)
	}
	if got := Activity(sun.Day{Sunrise: sun.Event{Passage: sun.StaysBelow}}, time.Time{}); got != 1 {
		t.Errorf("without a sunrise %g", got)
	}
}
