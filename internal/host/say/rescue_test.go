package say

import (
	"strings"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
)

// A rescue card without fix and hole says whose place it gives and never that the party is there; a fix is never told better than
// it is.
func TestRescueCardOfNowhere(t *testing.T) {
	p := geo.Position{Lat: 47.9, Lon: -45}
	v := voice(quantity.US)
	r := desk.Rescue{Position: p, Landing: p, AtLanding: true}
	if got := v.Rescue(r); got.Sure != "WGS 84. No fix and no hole of today: this is the landing, not the party." || got.Landing != "Where the party is, is not known" || got.Home != "" {
		t.Errorf("%+v", got)
	}
	r.Guessed = true
	if got := v.Rescue(r); got.Sure != "WGS 84. No fix, no hole of today, no landing told: this is the lake, not the party." || !strings.Contains(got.Approach, "Landing not told.") {
		t.Errorf("%+v", got)
	}
	if got := v.Rescue(desk.Rescue{Position: p, Landing: p, Accuracy: 4}); !strings.HasPrefix(got.Sure, "WGS 84, within 5 yd, ") { // 4.37 yd
		t.Error(got.Sure)
	}
}

// The way's own words come in the voice's units too.
func TestWayInUnits(t *testing.T) {
	w := safety.Way{Distance: 3300, Bearing: 215, Basis: "300 m direct to this morning's line, then along it"}
	if got := voice(quantity.US).Way(w); got != "2.1 mi SW (215 true), 330 yd direct to this morning's line, then along it" {
		t.Error(got)
	}
	if got := voice(quantity.US).Local("A fix better than 10 m. Now within 4 m"); got != "A fix better than 11 yd. Now within 5 yd" {
		t.Error(got)
	}
}
