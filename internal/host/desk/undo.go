package desk

import (
	"context"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/trade/journal"
)

// undoable are the kinds that the Undo key takes back, and undoDepth how many acts back it reaches.
var undoable = map[journal.Kind]bool{journal.KindLook: true, journal.KindIce: true, journal.KindSitStart: true, journal.KindSitEnd: true,
	journal.KindBite: true, journal.KindFish: true, journal.KindHazard: true, journal.KindCrowd: true, journal.KindWeather: true, journal.KindHeadCount: true,
	journal.KindHole: true, journal.KindAmend: true, journal.KindTrip: true, journal.KindTurnBack: true, journal.KindLoadParked: true, journal.KindWatch: true, journal.KindPossession: true}

const undoDepth = 20

// Undo retracts the latest act of this installation that still counts, with what it made besides. It answers what it undid,
// or nil when nothing of the last twenty acts is left to undo.
func (d *Desk) Undo(ctx context.Context, a Act) (undone *journal.Fact, err error) {
	err = d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		facts := d.log.Facts()
		for i, seen := len(facts)-1, 0; i >= 0 && seen < undoDepth; i-- {
			f := facts[i]
			if !d.isAct(f) {
				continue
			}
			if seen++; !d.standing(f) {
				continue
			}
			undone = f
			return d.takeBack(ctx, a, f)
		}
		return nil
	})
	return undone, err
}

// UndoThis retracts one act of this installation with what it made besides, however many came after it. It answers what it undid, or nil when it does
// not count any more.
func (d *Desk) UndoThis(ctx context.Context, a Act, target uuid.UUID) (undone *journal.Fact, err error) {
	err = d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil {
			return nil
		}
		f := d.log.Find(target)
		if f == nil || !d.isAct(f) {
			return fault.New(fault.NotFound, "Press the key Undo.", "there is no such act to undo")
		}
		if !d.standing(f) {
			return nil
		}
		undone = f
		return d.takeBack(ctx, a, f)
	})
	return undone, err
}

// Undoable tells whether the act of an identity can be taken back now. Only within Read.
func (v View) Undoable(act uuid.UUID) bool {
	f := v.Log.Find(act)
	return f != nil && v.of.isAct(f) && v.of.standing(f)
}

// isAct tells whether a fact is an act of this installation that may be undone; what an act made besides is none.
func (d *Desk) isAct(f *journal.Fact) bool {
	return f.Entry.Journal == d.id.Journal && (undoable[f.Entry.Kind] || ruling(f.Entry)) && f.Entry.ID.Version() != 8
}

// standing tells whether an act still counts and nothing rests on it.
func (d *Desk) standing(f *journal.Fact) bool {
	return f.Counts() && (f.Entry.Kind != journal.KindHole || d.uses(f.Entry.ID, nil) == 0)
}

// takeBack retracts an act, and what it made that nothing else speaks of.
func (d *Desk) takeBack(ctx context.Context, a Act, f *journal.Fact) error {
	items := []item{{a.ID, a.At, &journal.Retract{Target: f.Entry.ID, Why: "undo"}}}
	all := append(d.madeBy(f.Entry.ID), f.Entry.ID)
	for _, made := range all[:len(all)-1] {
		if m := d.log.Find(made); m.Counts() && d.uses(made, all) == 0 {
			items = append(items, item{journal.ContentID(d.lake.ID, journal.KindRetract, a.ID.String()+made.String()), a.At,
				&journal.Retract{Target: made, Why: "undo"}})
		}
	}
	return d.write(ctx, items...)
}
