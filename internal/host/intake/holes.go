package intake

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/feed/holelog"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
)

// holeWriter turns rows of a hole log into entries.
type holeWriter struct {
	plan    *Plan
	info    desk.LakeInfo
	file    journal.Hash
	made    map[uuid.UUID]bool
	unnamed int // rows with fish and no species
	loose   int // rows whose lengths belong to nobody knows which fish
}

// row writes one row: its hole (once), ice, look, sit and fish.
func (w *holeWriter) row(r holelog.Row) {
	if !r.TimeKnown {
		r.Time = r.Time.Add(12 * time.Hour) // the preview says which rows have no time; noon keeps them on their day
	}
	src := &journal.RowSource{File: w.file, Row: int64(r.Row)}
	hole := w.hole(r, src)
	if r.Ice != nil {
		w.plan.add(w.info, journal.KindIce, r.Key, r.Time, &journal.Ice{Hole: hole, Total: r.Ice.Length.Millimetres(), Unit: r.Ice.Typed, White: mm(r.White), Snow: mm(r.Snow), Source: src})
	}
	if r.Marks.Known {
		l := &journal.Look{Hole: hole, Seconds: 30, Marks: string(r.Marks.Class), Source: src}
		if r.Marks.Count != nil {
			n := int64(*r.Marks.Count)
			l.Count = &n
		}
		w.plan.add(w.info, journal.KindLook, r.Key, r.Time, l)
	}
	if r.Minutes != nil && *r.Minutes > 0 {
		sit := w.plan.add(w.info, journal.KindSitStart, r.Key, r.Time, &journal.SitStart{Hole: hole, Rod: 1, Target: w.species(r), Source: src})
		w.plan.add(w.info, journal.KindSitEnd, r.Key, r.Time.Add(time.Duration(*r.Minutes)*time.Minute), &journal.SitEnd{Sit: sit})
		if r.Lure != "" {
			w.plan.add(w.info, journal.KindPresentation, r.Key, r.Time, &journal.Presentation{Lure: r.Lure, Sit: sit})
		}
	}
	w.fish(r, hole, src)
}

// hole gives the row's hole, writing it when it is the first row that names it. A numbered hole of a day is one hole.
func (w *holeWriter) hole(r holelog.Row, src *journal.RowSource) uuid.UUID {
	day := journal.DayOf(r.Time, w.info.Zone)
	key := r.Key
	if r.Number != "" {
		key = "log " + string(day) + " " + r.Number
	}
	id := journal.ContentID(w.info.ID, journal.KindHole, key)
	if w.made[id] {
		return id
	}
	w.made[id] = true
	h := &journal.Hole{Label: r.Number, Depth: mm(r.Depth), Source: src}
	if n, err := strconv.ParseInt(r.Number, 10, 32); err == nil && n > 0 {
		h.Number, h.Label = n, ""
	}
	if h.Depth != nil {
		h.DepthBy, h.Unit = "sonar", r.Depth.Typed
	}
	if r.Pos != nil {
		h.At = journal.PointOf(*r.Pos)
	}
	if remarks := w.remarks(r); remarks != "" {
		w.plan.texts[id] = remarks
	}
	w.plan.items = append(w.plan.items, desk.Item{ID: id, At: r.Time, Body: h})
	return id
}

// remarks gives what of the row is free text: its remarks, and lengths that cannot be tied to a fish.
func (w *holeWriter) remarks(r holelog.Row) string {
	if r.Place != "" {
		r.Remarks = strings.TrimSpace(r.Remarks + " [place: " + r.Place + "]")
	}
	if len(r.Lengths) == 0 || w.tied(r) {
		return r.Remarks
	}
	w.loose++
	var cm []string
	for _, l := range r.Lengths {
		cm = append(cm, fmt.Sprintf("%.1f", l.Centimetres()))
	}
	return strings.TrimSpace(r.Remarks + " [lengths, cm: " + strings.Join(cm, " ") + "]")
}

// tied tells whether each length belongs to a fish that is surely kept, or surely put back.
func (w *holeWriter) tied(r holelog.Row) bool {
	kept, back := count(r.Kept), count(r.PutBack)
	return len(r.Lengths) == kept+back && (kept == 0 || back == 0)
}

func (w *holeWriter) species(r holelog.Row) string {
	if r.Species == "" {
		return "perch"
	}
	return r.Species
}

func (w *holeWriter) fish(r holelog.Row, hole uuid.UUID, src *journal.RowSource) {
	kept, back := count(r.Kept), count(r.PutBack)
	if kept+back == 0 {
		return
	}
	if r.Species == "" {
		w.unnamed++
	}
	if len(r.Lengths) > 0 && w.tied(r) {
		for i, l := range r.Lengths {
			w.plan.add(w.info, journal.KindFish, fmt.Sprintf("%s fish %d", r.Key, i), r.Time,
				&journal.Fish{Hole: hole, Species: w.species(r), Kept: kept > 0, Count: 1, Length: journal.MM(l), Source: src})
		}
		return
	}
	for _, part := range []struct {
		n    int
		kept bool
	}{{kept, true}, {back, false}} {
		if part.n > 0 {
			w.plan.add(w.info, journal.KindFish, fmt.Sprintf("%s kept %v", r.Key, part.kept), r.Time,
				&journal.Fish{Hole: hole, Species: w.species(r), Kept: part.kept, Count: int64(part.n), Source: src})
		}
	}
}

func count(n *int) int {
	if n == nil {
		return 0
	}
	return *n
}

func mm(r *holelog.Reading) *int64 {
	if r == nil {
		return nil
	}
	return journal.MM(r.Length)
}
