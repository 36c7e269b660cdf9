package cli

import (
	"context"
	"testing"
	"time"

	"icehand/internal/engine/advise"
	"icehand/internal/keep/sqlite"
)

// A rod is never sent to a hole where less is believed to be had than where it fishes: the demo once moved a guest off
// fish that had bitten a minute before.
func TestDemoNeverSendsARodToLess(t *testing.T) {
	ctx := context.Background()
	st, err := sqlite.Open(ctx, t.TempDir(), sqlite.Options{Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	d, err := newDemo(ctx, st, 15, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	step, err := d.Next(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(step.Rods) != 5 {
		t.Fatalf("%d rods", len(step.Rods))
	}
	for _, r := range step.Rods {
		if r.Do == advise.Move && r.There.Mean <= r.Here.Mean {
			t.Errorf("rod %d: from %.1f to %.1f fish an hour", r.Rod, r.Here.Mean, r.There.Mean)
		}
	}
}
