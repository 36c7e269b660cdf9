package rehearse

import (
	"bytes"
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

// Worked by hand: the scout finds school 4 feeding at minute 10, a rod reaches it at minute 16 and a second one joins for
// one of its two half minutes; school 7 rests; school 9 is met by a guest's own rod.
func TestTallyByHand(t *testing.T) {
	ta := newTally()
	at := func(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }
	feeding := []world.Below{{School: 4, Feeding: true}}
	ta.looked(at(5), way.Scout, []world.Below{{School: 4}})
	ta.looked(at(10), way.Scout, feeding)
	ta.looked(at(12), 1, []world.Below{{School: 7}})
	ta.fished(at(16), feeding, []world.Bite{{Landed: true, From: feeding[0]}, {From: feeding[0]}})
	ta.fished(at(16.2), feeding, nil)
	ta.fished(at(16.5), feeding, []world.Bite{{Landed: true, From: feeding[0]}})
	ta.looked(at(20), 0, []world.Below{{School: 9, Feeding: true}})
	ta.fished(at(20), []world.Below{{School: 9, Feeding: true}}, []world.Bite{{Landed: true, From: world.Below{School: 7}}})
	f := ta.sum().finding(1)
	want := Finding{Met: 3, MetFeeding: 2, ByScout: 0.5, Worked: 1, FishEach: 1, FishWorked: 1, Rods: 4.0 / 3, UntilRod: 3, FishByHour: 60}
	if math.Abs(f.Rods-want.Rods) > 1e-12 || math.Abs(f.FishByHour-want.FishByHour) > 1e-9 {
		t.Errorf("%v rods at once, %v fish by hour", f.Rods, f.FishByHour)
	}
	f.Rods, f.FishByHour = want.Rods, want.FishByHour
	if f != want {
		t.Errorf("%+v, want %+v", f, want)
	}
}

// On whole days: no more is worked than met, no more fish come from feeding schools than were caught.
func TestFindingAddsUp(t *testing.T) {
	r, err := Run(context.Background(), Options{Days: 4, Seed: 2700, Ways: []string{"spiral-rule", "clairvoyant"}, Stages: []Stage{stageOf(t, "mid")}})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range r.Stages[0].Policies {
		f := p.Finding
		caught := p.FishPerHour * 4 * world.Length.Hours()
		if f.Met < f.MetFeeding || f.MetFeeding <= 0 || f.Worked <= 0 || f.Worked > 1 || f.ByScout < 0 || f.ByScout > 1 || f.Rods < 1 || f.Rods > 4 || f.UntilRod < 0 {
			t.Errorf("%s: %+v", p.Name, f)
		}
		if fed := f.FishEach * f.MetFeeding; fed > caught+1e-9 || fed < 0.5*caught {
			t.Errorf("%s: %.1f fish of schools that fed, %.1f in all", p.Name, fed, caught)
		}
	}
	var b bytes.Buffer
	if err := r.Details(&b); err != nil || !strings.Contains(b.String(), "clairvoyant") {
		t.Errorf("details %q, %v", b.String(), err)
	}
}
