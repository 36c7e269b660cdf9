package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// Drill records a hole without a look. It answers with the hole; made is false when a hole of today lies within the
// fix's error, and nothing was written.
func (d *Desk) Drill(ctx context.Context, a Act, ref HoleRef) (hole uuid.UUID, made bool, err error) {
	err = d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			hole, made = a.ID, true
			return nil
		}
		var items []item
		if hole, items, err = d.hole(d.besideOpen(ref, a), a, 0); err != nil || len(items) == 0 {
			return err
		}
		hole, made = a.ID, true
		items[0].id = a.ID // the hole is the act itself
		return d.write(ctx, items...)
	})
	return hole, made, err
}

// PlaceHole gives a hole that was saved without a place the spot where the scout was sent. How far it may be off follows
// from the way on foot from the nearest hole of that day that has a place.
func (d *Desk) PlaceHole(ctx context.Context, a Act, hole uuid.UUID, at geo.Local) error {
	return d.placeByHand(ctx, a, hole, func(h *lake.Hole) (map[string]any, geo.Local, error) {
		off, found := badFix, false
		for _, o := range d.lake.HolesOn(h.Day) {
			if o.Placed && o.Label != "retracted" {
				if x := o.Off(o.At.Distance(at)); !found || x < off {
					off, found = x, true
				}
			}
		}
		return map[string]any{"at": journal.PointOf(d.lake.Frame.Position(at)), "accuracy_mm": off.Millimetres()}, at, nil
	})
}

// PaceHole gives a hole that was saved without a place one by paces and bearing from another hole. When that hole is
// placed better later, this one follows.
func (d *Desk) PaceHole(ctx context.Context, a Act, hole, from uuid.UUID, paces int, toward quantity.Bearing) error {
	return d.placeByHand(ctx, a, hole, func(h *lake.Hole) (map[string]any, geo.Local, error) {
		o := d.lake.Hole(from)
		switch {
		case o == nil || !o.Placed || o.ID == h.ID || o.Drilled.After(h.Drilled):
			return nil, geo.Local{}, fault.New(fault.BadInput, "Choose an older hole that has a place.", "the hole to pace from has no place of its own")
		case paces < 1 || paces > mostPaces:
			return nil, geo.Local{}, fault.New(fault.BadInput, fmt.Sprintf("Give 1 to %d paces.", mostPaces), "%d paces cannot be counted", paces)
		}
		at, _ := o.Paced(paces, toward)
		tenths := int64(toward.Degrees()*10 + 0.5)
		return map[string]any{"from": journal.FromHole{Hole: from, Paces: int64(paces), Bearing: tenths}}, at, nil
	})
}

// mostPaces is as far as anyone counts them on the ice; ours.
const mostPaces = 500

// placeByHand amends the place of a hole that has none. A hole with a place keeps it.
func (d *Desk) placeByHand(ctx context.Context, a Act, hole uuid.UUID, where func(*lake.Hole) (map[string]any, geo.Local, error)) error {
	return d.record(ctx, a, func(a Act) error {
		h := d.lake.Hole(hole)
		switch {
		case d.log.Find(a.ID) != nil: // a repeat of this act
			return nil
		case h == nil:
			return fault.New(fault.NotFound, "Name a hole on record.", "that hole is not on record")
		case h.Placed:
			return fault.New(fault.Conflict, "Undo takes a place back that was given by hand.", "hole %d has a place", h.Number)
		}
		set, at, err := where(h)
		if err != nil {
			return err
		}
		if s := d.surface(); s != nil && !s.OnWater(at) {
			return fault.New(fault.BadInput, "Check paces, direction and the lake's outline.", "that place is on land by the lake's outline")
		}
		return d.amend(ctx, a, hole, set, "placed by hand")
	})
}

// DeepenHole records or corrects a hole's depth as it was measured.
func (d *Desk) DeepenHole(ctx context.Context, a Act, hole uuid.UUID, depth quantity.Length, typed string) error {
	return d.record(ctx, a, func(a Act) error {
		if h := d.lake.Hole(hole); h == nil {
			return fault.New(fault.NotFound, "Name a hole on record.", "that hole is not on record")
		}
		return d.amend(ctx, a, hole, map[string]any{"depth_mm": depth.Millimetres(), "depth_by": "sonar", "unit": typed}, "depth told")
	})
}

// amend writes a correction after checking that the corrected body can be meant. The caller holds mu.
func (d *Desk) amend(ctx context.Context, a Act, target uuid.UUID, set map[string]any, why string) error {
	raw := map[string]json.RawMessage{}
	for k, v := range set {
		b, err := json.Marshal(v)
		if err != nil {
			return fmt.Errorf("desk: correcting: %w", err)
		}
		raw[k] = b
	}
	f := d.log.Find(target)
	if f == nil {
		return fault.New(fault.NotFound, "", "the entry to correct is not on record")
	}
	if err := corrected(f, raw); err != nil {
		return fault.Wrap(err, fault.BadInput, "Correct the value and enter it again. Nothing was written.", "%s", plain(err))
	}
	return d.write(ctx, item{a.ID, a.At, &journal.Amend{Target: target, Set: raw, Why: why, After: d.log.LastAmendment(target)}})
}

// corrected tells what is wrong with an entry's body once fields of it are set.
func corrected(f *journal.Fact, set map[string]json.RawMessage) error {
	raw, err := json.Marshal(f.Body)
	if err != nil {
		return fmt.Errorf("desk: correcting: %w", err)
	}
	body := map[string]json.RawMessage{}
	if err := json.Unmarshal(raw, &body); err != nil {
		return fmt.Errorf("desk: correcting: %w", err)
	}
	maps.Copy(body, set)
	if raw, err = json.Marshal(body); err != nil {
		return fmt.Errorf("desk: correcting: %w", err)
	}
	kind := f.Entry.Kind
	return journal.Decode(&journal.Entry{Kind: kind, Version: journal.Kinds()[kind], Body: raw}).Check()
}
