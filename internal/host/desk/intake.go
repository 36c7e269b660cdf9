package desk

import (
	"context"
	"iter"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/trade/journal"
)

// Item is one entry of a batch. Ids drawn from content make a repeated batch add nothing.
type Item struct {
	ID   uuid.UUID
	At   time.Time
	Body journal.Body
}

// LakeInfo is what a file needs to know of the lake it is read for.
type LakeInfo struct {
	ID    uuid.UUID // zero: no lake yet
	Known bool
	Name  string
	Zone  *time.Location
	Frame geo.Frame
}

// Info gives the lake a file is read for.
func (d *Desk) Info(ctx context.Context) (i LakeInfo, err error) {
	err = d.with(ctx, func() error {
		i = LakeInfo{d.lake.ID, d.lake.Known, d.lake.Name, d.lake.Zone, d.lake.Frame}
		return nil
	})
	return i, err
}

// landTolerance is how far a fix may lie outside the outline and still be taken for water: outline and phone may both
// be off. Common practice, no source.
const landTolerance = 30.0 // m

// OnLand tells for each position whether it lies on land by the lake's outline; nil without an outline.
func (d *Desk) OnLand(ctx context.Context, list []geo.Position) (land []bool, err error) {
	err = d.with(ctx, func() error {
		s := d.surface()
		if s == nil {
			return nil
		}
		land = make([]bool, len(list))
		for i, p := range list {
			at := d.lake.Frame.Local(p)
			land[i] = !s.OnWater(at) && s.ShoreDistance(at).Metres() > landTolerance
		}
		return nil
	})
	return land, err
}

// Held counts how many of the ids are on record.
func (d *Desk) Held(ctx context.Context, ids []uuid.UUID) (n int, err error) {
	err = d.with(ctx, func() error {
		for _, id := range ids {
			n += one(d.log.Find(id) != nil)
		}
		return nil
	})
	return n, err
}

// Batch writes the data of a file and its entries, all or none. It answers how many entries were new. The next question
// folds them: whoever only writes does not wait for that, nor holds a file's third of a million entries twice.
func (d *Desk) Batch(ctx context.Context, data []byte, items []Item, texts map[uuid.UUID]string) (added int, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		out := make([]item, 0, len(items))
		var noted []*journal.Hole
		var remarks []string
		for _, it := range items {
			if d.log.Find(it.ID) != nil {
				continue
			}
			if h, ok := it.Body.(*journal.Hole); ok && texts[it.ID] != "" {
				noted, remarks = append(noted, h), append(remarks, texts[it.ID])
			}
			out = append(out, item{it.ID, it.At, it.Body})
		}
		if len(out) == 0 {
			return nil
		}
		names, err := d.store.PutTexts(ctx, remarks)
		if err != nil {
			return fault.Wrap(err, fault.NotSaved, "Try again.", "the remarks were not saved")
		}
		for i, h := range noted {
			h.Remarks = &names[i]
		}
		if _, err := d.store.PutBlob(ctx, data); err != nil {
			return fault.Wrap(err, fault.NotSaved, "Try again.", "the file was not saved")
		}
		if err := d.check(out); err != nil {
			return err
		}
		if added, err = d.store.AppendEach(ctx, d.drafts(out)); err != nil {
			return notSaved(err)
		}
		return nil
	})
	return added, err
}

// drafts gives the items as drafts written now, each made when it is asked for.
func (d *Desk) drafts(items []item) iter.Seq[journal.Draft] {
	now := d.Clock()
	return func(yield func(journal.Draft) bool) {
		for _, it := range items {
			if !yield(d.author(it.at).Draft(it.id, it.at, now, it.body)) {
				return
			}
		}
	}
}

func notSaved(err error) error {
	return fault.Wrap(err, fault.NotSaved, "Try again: what was stored already is not counted twice.", "not saved")
}
