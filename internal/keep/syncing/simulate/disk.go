package simulate

import (
	"context"
	"errors"

	"github.com/google/uuid"

	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/keep/syncing"
	"icehand/internal/trade/journal"
)

var (
	errCrashed = errors.New("simulate: the program was killed")
	errFull    = errors.New("simulate: the disk is full")
	errLost    = errors.New("simulate: no answer came")
)

// disk is a store as one run of a program sees it: its writes may fail, be in doubt, or be its last.
type disk struct {
	*mem.Store
	w    *world
	dead bool // the program was killed; what still runs of it reaches nothing

	kill, doubt, full int // in a thousand writes: killed in the midst, reported failed though done, failed

	phone   *phone     // nil: the server's
	durable *mem.Store // SavedEarly: what would be left after a kill
	counter uint64     // CounterApart: the next number less one, as remembered
}

// write does one write with whatever befalls it.
func (d *disk) write(do func() error) error {
	if d.dead {
		return errCrashed
	}
	switch r := d.w.rng.IntN(1000); {
	case r < d.full:
		return errFull
	case r < d.full+d.kill:
		err := error(nil)
		if d.w.rng.IntN(2) == 0 {
			err = do()
		}
		d.dead = true
		return errors.Join(err, errCrashed)
	case r < d.full+d.kill+d.doubt:
		if err := do(); err != nil {
			return err
		}
		return store.UnknownOutcome(errLost)
	}
	return do()
}

func (d *disk) Put(ctx context.Context, entries []journal.Entry) (n int, err error) {
	offered := entries
	if d.phone == nil && d.w.defects.Has(DuplicateByNumber) || d.phone != nil && d.w.defects.Has(StoreByNumber) {
		heads, _ := d.Heads(ctx)
		entries = nil
		for _, e := range offered {
			if e.N > heads[e.Journal].N {
				entries = append(entries, e)
			}
		}
	}
	err = d.write(func() error { n, err = d.Store.Put(ctx, entries); return err })
	if err == nil {
		d.w.checkHeld(d, offered)
	}
	return n, err
}

func (d *disk) Append(ctx context.Context, drafts []journal.Draft) (out []journal.Entry, err error) {
	err = d.write(func() error {
		switch {
		case d.phone != nil && d.w.defects.Has(CounterApart):
			out, err = d.appendApart(ctx, drafts)
		case d.phone != nil && d.w.defects.Has(ClockDrags):
			out, err = d.appendDragged(ctx, drafts)
		default:
			out, err = d.Store.Append(ctx, drafts)
		}
		return err
	})
	return out, err
}

// appendApart numbers entries by a counter of its own.
func (d *disk) appendApart(ctx context.Context, drafts []journal.Draft) ([]journal.Entry, error) {
	id, _ := d.Identity(ctx)
	head := journal.Head{Journal: id.Journal}
	if d.counter > 0 {
		e, err := d.Find(ctx, store.Place{Journal: id.Journal, N: d.counter})
		if err == nil {
			head = journal.HeadOf(&e)
		} else {
			head.N = d.counter
		}
	}
	e, err := journal.Seal(head, drafts[0])
	if err != nil {
		return nil, err
	}
	if _, err := d.Store.Put(ctx, []journal.Entry{e}); err != nil {
		return nil, err
	}
	d.counter++
	return []journal.Entry{e}, nil
}

// appendDragged merges every clock that was seen.
func (d *disk) appendDragged(ctx context.Context, drafts []journal.Draft) ([]journal.Entry, error) {
	id, _ := d.Identity(ctx)
	heads, _ := d.Heads(ctx)
	head := heads[id.Journal]
	head.Journal = id.Journal
	for _, h := range heads {
		head.HLC = max(head.HLC, h.HLC)
	}
	e, err := journal.Seal(head, drafts[0])
	if err != nil {
		return nil, err
	}
	_, err = d.Store.Put(ctx, []journal.Entry{e})
	return []journal.Entry{e}, err
}

func (d *disk) Become(ctx context.Context, id store.Identity) error {
	if was, _ := d.Identity(ctx); d.w.defects.Has(NeverTurns) && id.Journal != was.Journal {
		id.Journal = was.Journal
	}
	return d.write(func() error { return d.Store.Become(ctx, id) })
}

func (d *disk) Rehome(ctx context.Context, after store.Place) (n int, err error) {
	err = d.write(func() error { n, err = d.Store.Rehome(ctx, after); return err })
	return n, err
}

func (d *disk) PutBlob(ctx context.Context, data []byte) (h journal.Hash, err error) {
	err = d.write(func() error { h, err = d.Store.PutBlob(ctx, data); return err })
	return h, err
}

func (d *disk) PutSalted(ctx context.Context, t store.Salted) (name journal.Text, err error) {
	err = d.write(func() error { name, err = d.Store.PutSalted(ctx, t); return err })
	return name, err
}

var _ store.Replica = (*disk)(nil)
var _ syncing.Memory = (*phone)(nil)

// Load gives what the phone remembers between runs.
func (p *phone) Load(context.Context) ([]byte, error) { return p.memory, nil }

// Save remembers it. A cursor must not stand past what the disk holds.
func (p *phone) Save(_ context.Context, b []byte) error {
	if p.disk.dead {
		return errCrashed
	}
	p.memory = b
	p.w.checkCursor(p)
	return nil
}

// copied gives a copy of a disk's content, as a copied file would be.
func (d *disk) copied() *mem.Store { return d.Store.Clone() }

// newID draws a UUID from the seed.
func (w *world) newID() uuid.UUID {
	var id uuid.UUID
	for i := range id {
		id[i] = byte(w.rng.Uint32())
	}
	id[6], id[8] = id[6]&0x0f|0x40, id[8]&0x3f|0x80
	return id
}
