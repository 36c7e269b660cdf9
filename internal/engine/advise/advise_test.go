package advise

import (
	"context"
	"math"
	"testing"
	"time"

	"icehand/internal/base/geo"
)

func TestFirstLook(t *testing.T) {
	d := newDiary(t)
	in := d.input(d.at(15, "09:00"), geo.Local{})
	s := mustNext(t, in)
	t.Logf("%+v", s)
	if s.Do != Drill || s.Odds.Event != "marks" || s.Odds.Wait != 30*time.Second {
		t.Errorf("first step %v, odds %+v", s.Do, s.Odds)
	}
	d.look(d.at(15, "09:02"), geo.Local{E: 50}, "few")
	s = mustNext(t, d.input(d.at(15, "09:03"), geo.Local{E: 50}))
	t.Logf("%+v", s)
	m, err := MapOdds(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, p := range m.P {
		if !math.IsNaN(p) {
			n++
			if p < 0 || p > 1 {
				t.Fatalf("odds %v", p)
			}
		}
	}
	if n == 0 {
		t.Error("no odds on the map")
	}
	p, err := Evening(context.Background(), in, "2026-01-16")
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%+v", p)
	if len(p.Starts) != 3 || len(p.Pattern.Holes) != firstHoles {
		t.Errorf("%d starts, %d holes", len(p.Starts), len(p.Pattern.Holes))
	}
}
