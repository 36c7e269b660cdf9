package advise

import (
	"time"

	"github.com/google/uuid"

	"icehand/internal/engine/plan"
	"icehand/internal/trade/lake"
)

// openSpots lists today's open holes that may be worth another look, with their keys: those with marks that wait to be
// confirmed, and those that have rested since. Fish swim in, and nothing need be drilled.
func (w *world) openSpots() ([]plan.Spot, map[int64]*lake.Hole) {
	type sign struct {
		last event
		row  int // lively events in a row, a bite or a fish counting twice: it confirms by itself
	}
	signs := map[uuid.UUID]*sign{}
	for _, e := range w.today {
		if e.order != thenLook && e.order != thenBite && e.order != thenFish {
			continue
		}
		x := signs[e.hole.ID]
		if x == nil {
			x = &sign{}
			signs[e.hole.ID] = x
		}
		x.last = e
		switch {
		case !lively(e):
			x.row = 0
		case e.order == thenLook:
			x.row++
		default:
			x.row += 2
		}
	}
	var out []plan.Spot
	holes := map[int64]*lake.Hole{}
	for i, h := range w.in.Lake.HolesOn(w.day) {
		x := signs[h.ID]
		if !w.open(h) || x != nil && x.row != 1 && w.in.Now.Sub(x.last.when) < plan.RestFor {
			continue
		}
		key := int64(-1 - i)
		out = append(out, plan.Spot{At: h.At, Key: key, Skim: w.idle(h) > plan.SkimFrom})
		holes[key] = h
	}
	return out, holes
}

// open tells whether a hole of today may still be used.
func (w *world) open(h *lake.Hole) bool {
	return h.Placed && h.Label != "retracted" && !h.Drilled.After(w.in.Now) && w.idle(h) < plan.OpenFor
}

// idle gives how long nobody was at a hole, by the record.
func (w *world) idle(h *lake.Hole) time.Duration {
	return w.in.Now.Sub(later(h.Drilled, w.lastAt[h.ID]))
}
