package rehearse

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"icehand/internal/base/fault"
)

func marshalled(t *testing.T, r any, err error) string {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	raw, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// A run that is ended and goes on from what it kept gives the table of a run that was never ended.
func TestKeptRunGoesOn(t *testing.T) {
	o := Options{Days: 4, Rods: 1, Seed: 2200, Ways: []string{"spiral-rule", "engine"}, Stages: []Stage{stageOf(t, "mid")}, Workers: 2}
	whole, err := Run(context.Background(), o)
	want := marshalled(t, whole, err)

	var kept bytes.Buffer
	if o.Ledger, err = OpenLedger(strings.NewReader(""), &kept, "x"); err != nil {
		t.Fatal(err)
	}
	ctx, end := context.WithCancel(context.Background())
	o.Progress = func(done, of int) {
		if done >= of/2 {
			end()
		}
	}
	if _, err = Run(ctx, o); !errors.Is(err, context.Canceled) {
		t.Fatalf("the ended run gave %v", err)
	}
	lines := strings.Count(kept.String(), "\n")
	if lines < 3 || lines > 5 {
		t.Fatalf("%d lines kept", lines)
	}
	// the end tore the last line in two
	torn := kept.String()[:kept.Len()-20]
	kept.Reset()
	kept.WriteString(torn)
	if o.Ledger, err = OpenLedger(strings.NewReader(torn), &kept, "x"); err != nil {
		t.Fatal(err)
	}
	if o.Ledger.Kept() != lines-2 {
		t.Errorf("%d pieces found of %d lines", o.Ledger.Kept(), lines)
	}
	o.Progress = nil
	again, err := Run(context.Background(), o)
	if got := marshalled(t, again, err); got != want {
		t.Error("a run that went on gives another table")
	}
	// and once more from the file alone
	if o.Ledger, err = OpenLedger(strings.NewReader(kept.String()), &bytes.Buffer{}, "x"); err != nil || o.Ledger.Kept() != 4 {
		t.Fatalf("%d pieces, %v", o.Ledger.Kept(), err)
	}
	again, err = Run(context.Background(), o)
	if got := marshalled(t, again, err); got != want {
		t.Error("a kept run gives another table")
	}
}

func TestForeignLedgerIsRefused(t *testing.T) {
	var kept bytes.Buffer
	if _, err := OpenLedger(strings.NewReader(""), &kept, "seed 1"); err != nil {
		t.Fatal(err)
	}
	_, err := OpenLedger(strings.NewReader(kept.String()), &kept, "seed 2")
	var f *fault.Error
	if !errors.As(err, &f) || f.Code != fault.BadInput {
		t.Errorf("another run's days: %v", err)
	}
}

// An error in one piece ends the run with that error, however many are at work.
func TestFirstErrorEndsTheRun(t *testing.T) {
	broken := errors.New("broken")
	o := Options{Workers: 2}
	var jobs []job
	for i := range 20 {
		jobs = append(jobs, job{key: string(rune('a' + i)), size: 1, walk: func(ctx context.Context, passed func(int)) ([]Outcome, error) {
			if i == 3 {
				return nil, broken
			}
			return nil, ctx.Err()
		}})
	}
	if _, err := o.work(context.Background(), jobs); !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
}
