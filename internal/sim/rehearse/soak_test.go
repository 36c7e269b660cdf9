package rehearse

import (
	"os"
	"testing"
)

// The season table, on tuning seeds: eight lakes, a winter of sixty days. It is printed, and held to what a season must
// show whatever the engine's settings: who keeps a record loses nothing by it, and does not lock in.
func TestSeasonTable(t *testing.T) {
	if os.Getenv("ICEHAND_SOAK") == "" {
		t.Skip("runs with ICEHAND_SOAK=1 (make soak): 8 minutes of processor")
	}
	o := TargetOptions{Parts: []string{"season", "lock-in"}, Lakes: 8, Winters: 1, Options: Options{Seed: 2800, Workers: 2}}
	r, err := RunTargets(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Table(t.Output()); err != nil {
		t.Fatal(err)
	}
	winter := func(name string) Stretch {
		for _, p := range r.Season.Ways {
			if p.Name == name {
				return p.Winters[0].All
			}
		}
		t.Fatalf("%s was not walked", name)
		return Stretch{}
	}
	with, without := winter("engine-memory"), winter("engine")
	if with.FishPerHour <= without.FishPerHour {
		t.Errorf("with a record %.2f fish by rod-hour, without %.2f", with.FishPerHour, without.FishPerHour)
	}
	if with.OverRemembering == nil || with.OverRemembering.Value <= 1 {
		t.Errorf("the engine's record over the remembering rule: %v", with.OverRemembering)
	}
	stuck := 0
	for _, l := range r.LockIn {
		if l.Way == lockInWays[0] && l.After <= 1 {
			stuck++
		}
	}
	if stuck > 1 {
		t.Errorf("the record locked in on %d of 8 lakes", stuck)
	}
}
