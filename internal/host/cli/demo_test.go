package cli

import (
	"context"
	"strings"
	"testing"
	"time"

	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
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

// The demo has a rule book in force, marked as invented, so that no page of law or paper is empty on it.
func TestDemoIsFurnished(t *testing.T) {
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
	err = d.Read(ctx, func(v desk.View) error {
		if law := v.Law(v.Today); !law.Verified() || !strings.HasPrefix(law.Newest().Book.Name, "INVENTED ") {
			t.Errorf("the law is %s", law.Standing)
		}
		if n := len(v.Forms()); n != 2 {
			t.Errorf("%d agency forms", n)
		}
		if open := v.Lawful(); len(open) != 0 {
			t.Errorf("the demo's day has open duties: %+v", open)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
