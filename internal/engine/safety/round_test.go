package safety

import (
	"strings"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

// Our own cases: a square lake of 4 km with a landing in the south, a ridge from shore to shore, and an island.
func TestWayRound(t *testing.T) {
	zone := time.UTC
	now := time.Date(2026, 1, 15, 12, 0, 0, 0, zone)
	square := geo.Polygon{Outer: []geo.Local{{E: -2000, N: -2000}, {E: 2000, N: -2000}, {E: 2000, N: 2000}, {E: -2000, N: 2000}}}
	landing, here := geo.Local{E: 0, N: -1990}, geo.Local{E: 0, N: 1500}
	ridge := &lake.Hazard{What: "ridge", Shape: "line", Report: "present", When: now.Add(-48 * time.Hour), Radius: 30 * quantity.Metre,
		Points: []geo.Local{{E: -2100, N: 0}, {E: 2100, N: 0}}}
	crossing := func(when time.Time) *lake.Hazard {
		return &lake.Hazard{What: "ridge", Shape: "point", Report: "crossing", When: when, Radius: 20 * quantity.Metre, Points: []geo.Local{{E: 800, N: 0}}}
	}
	way := func(outline geo.Polygon, shifted time.Time, hazards ...*lake.Hazard) Way {
		return WayHome(WayInput{Now: now, Zone: zone, Here: here, Landing: landing, Hazards: hazards, Shifted: shifted, Travel: "foot",
			Round: NewRound(outline, hazards, now, shifted, zone)})
	}
	if w := way(square, time.Time{}); len(w.Line) != 2 || !w.guessed() {
		t.Errorf("open water: %+v", w)
	}
	if w := way(square, time.Time{}, ridge); len(w.Line) != 0 || !strings.HasPrefix(w.Basis, "no known way: ridge") {
		t.Errorf("a ridge without a crossing: %+v", w)
	}
	through := way(square, time.Time{}, ridge, crossing(now.Add(-2*time.Hour)))
	if len(through.Line) < 3 || !through.guessed() || through.Distance.Metres() < 3800 || through.Distance.Metres() > 4100 {
		t.Errorf("a crossing read today: %+v", through)
	}
	if w := way(square, time.Time{}, ridge, crossing(now.Add(-26*time.Hour))); len(w.Line) != 0 {
		t.Errorf("a crossing read yesterday: %+v", w)
	}
	if w := way(square, now.Add(-time.Hour), ridge, crossing(now.Add(-2*time.Hour))); len(w.Line) != 0 {
		t.Errorf("a crossing read before the wind shifted: %+v", w)
	}
	if w := way(square, now.Add(time.Hour), ridge, crossing(now.Add(-2*time.Hour))); len(w.Line) == 0 {
		t.Errorf("a shift that is still to come: %+v", w)
	}
	island := square
	island.Holes = [][]geo.Local{{{E: -600, N: -300}, {E: 600, N: -300}, {E: 600, N: 300}, {E: -600, N: 300}}}
	w := way(island, time.Time{})
	for _, p := range w.Line {
		if !island.Contains(p) || island.ShoreDistance(p) < bankKeep.Metres()-1 && p.Distance(landing) > 700*quantity.Metre {
			t.Errorf("the way touches land at %v: %v", p, w.Line)
		}
	}
	if len(w.Line) < 3 || w.Distance <= here.Distance(landing) {
		t.Errorf("round an island: %+v", w)
	}
	thin := &lake.Hazard{What: "thin", Shape: "point", Report: "present", When: now.Add(-time.Hour), Radius: 300 * quantity.Metre, Points: []geo.Local{{E: 0, N: -500}}}
	w = way(square, time.Time{}, thin)
	for i := 1; i < len(w.Line); i++ {
		if d := geo.SegmentDistance(thin.Points[0], w.Line[i-1], w.Line[i]); d < 299 {
			t.Errorf("the way passes %g m from the middle of thin ice", d)
		}
	}
	if len(w.Line) < 3 {
		t.Errorf("round thin ice: %+v", w)
	}
}
