package advise

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/trade/lake"
)

// A hole freezes from when somebody was last at it, not from when it was drilled.
func TestHoleInUseStaysOpen(t *testing.T) {
	now := time.Date(2026, time.January, 15, 12, 0, 0, 0, time.UTC)
	h := &lake.Hole{ID: uuid.MustParse("01900000-0000-7000-8000-000000000001"), Placed: true, Drilled: now.Add(-200 * time.Minute)}
	w := &world{in: Input{Now: now}, lastAt: map[uuid.UUID]time.Time{}}
	if w.open(h) || w.idle(h) != 200*time.Minute {
		t.Errorf("drilled 200 min ago and left: open %v, idle %v", w.open(h), w.idle(h))
	}
	w.lastAt[h.ID] = now.Add(-10 * time.Minute)
	if !w.open(h) || w.idle(h) != 10*time.Minute {
		t.Errorf("fished until 10 min ago: open %v, idle %v", w.open(h), w.idle(h))
	}
	w.lastAt[h.ID] = h.Drilled.Add(-time.Hour) // another phone's clock
	if w.open(h) || w.idle(h) != 200*time.Minute {
		t.Errorf("a look before its hole: open %v, idle %v", w.open(h), w.idle(h))
	}
}
