package syncing

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"slices"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// push sends what the server has not proved to hold: the own journal first, then those of others, which a restored
// server may have lost.
func (c *Client) push(ctx context.Context, out *Outcome) error {
	st := c.opt.Store
	id, err := st.Identity(ctx)
	if err != nil {
		return err
	}
	heads, err := st.Heads(ctx)
	if err != nil {
		return err
	}
	for _, j := range sorted(heads, id.Journal) {
		for c.proved(j).N < heads[j].N {
			batch, err := c.batch(ctx, j, c.proved(j).N+1, heads[j].N)
			if err != nil {
				return err
			}
			if err := c.sendNamed(ctx, batch, out); err != nil {
				return err
			}
			r, err := c.ask(ctx, Ask{Op: OpPush, Journal: j, Entries: batch}, out)
			if err != nil {
				return err
			}
			// The answer is believed only as far as its hash is ours.
			last := &batch[len(batch)-1]
			h, err := c.hashAt(ctx, j, r.Head.N)
			if err != nil {
				return err
			}
			if r.Head.N < last.N || h != r.Head.Hash {
				return errAgain
			}
			c.prove(j, r.Head)
			out.Pushed += len(batch)
			out.Ahead += r.Ahead
		}
	}
	return nil
}

// batch reads entries of a journal for one message.
func (c *Client) batch(ctx context.Context, j uuid.UUID, from, to uint64) ([]journal.Entry, error) {
	var out []journal.Entry
	bytes := 0
	for n := from; n <= to && len(out) < mostEntries; n++ {
		e, err := c.opt.Store.Find(ctx, store.Place{Journal: j, N: n})
		if errors.Is(err, store.ErrNotFound) {
			return nil, errAgain // moved meanwhile
		}
		if err != nil {
			return nil, err
		}
		if bytes += size(&e); bytes > batchBytes && len(out) > 0 {
			break
		}
		out = append(out, e)
	}
	return out, nil
}

// pull takes what the server had at the comparison and this phone has not.
func (c *Client) pull(ctx context.Context, out *Outcome) error {
	st := c.opt.Store
	for len(c.want) > 0 {
		id, err := st.Identity(ctx)
		if err != nil {
			return err
		}
		heads, err := st.Heads(ctx)
		if err != nil {
			return err
		}
		r, err := c.ask(ctx, Ask{Op: OpPull, After: c.cursor, Marks: c.claims(heads)}, out)
		if err != nil {
			return err
		}
		for j := range heads {
			if r.Agree[j] < c.proved(j).N {
				return errAgain // it held that once, and was set back under the same epoch
			}
		}
		if !dense(c.cursor.Pos, r) {
			c.cursor = Cursor{} // something is missing in between
			return errAgain
		}
		if err := c.fetchNamed(ctx, r.Entries, out); err != nil {
			return err
		}
		n, err := st.Put(ctx, r.Entries)
		if errors.Is(err, store.ErrFork) || errors.Is(err, store.ErrGap) {
			c.cursor = Cursor{}
			return errAgain
		}
		if err != nil {
			return err
		}
		out.Pulled += n
		for i := range r.Entries {
			e := &r.Entries[i]
			if e.N >= c.proved(e.Journal).N {
				c.prove(e.Journal, Mark{e.N, e.Hash})
			}
			if e.Journal == id.Journal && e.N > heads[e.Journal].N && !out.Turned {
				// Written here once, and held here no more.
				if id.Journal, err = c.turn(ctx); err != nil {
					return err
				}
				out.Turned, out.Reopen = true, true
			}
		}
		c.cursor = r.To // after the entries are durable, never before
		if err := c.remember(ctx); err != nil {
			return err
		}
		if !r.More {
			return c.gotAll(ctx)
		}
	}
	return nil
}

// gotAll makes sure that what the last comparison missed has come: a cursor may have been remembered past it.
func (c *Client) gotAll(ctx context.Context) error {
	for j, m := range c.want {
		h, err := c.hashAt(ctx, j, m.N)
		if err != nil {
			return err
		}
		if h != m.Hash {
			c.cursor = Cursor{}
			return errAgain
		}
	}
	c.want = nil
	return nil
}

// dense tells whether a page covers every position from a cursor to its end.
func dense(from store.Position, r Answer) bool {
	given := 0
	for _, n := range r.Runs {
		if n > 0 {
			given += n
			from += store.Position(n)
		} else {
			from += store.Position(-n)
		}
	}
	return from == r.To.Pos && given == len(r.Entries)
}

// named finds the hashes that stand in the bodies of entries as texts of their own: those of texts and blobs.
func named(entries []journal.Entry) []journal.Hash {
	var out []journal.Hash
	const digits = 2 * len(journal.Hash{})
	for i := range entries {
		b := entries[i].Body
		for {
			at := bytes.IndexByte(b, '"')
			if at < 0 {
				break
			}
			b = b[at+1:]
			if len(b) <= digits || b[digits] != '"' {
				continue
			}
			var h journal.Hash
			if _, err := hex.Decode(h[:], b[:digits]); err == nil && !slices.Contains(out, h) {
				out = append(out, h)
			}
		}
	}
	return out
}

// sendNamed sends the texts and small blobs that entries name ahead of them, so that what is ashore has its names there.
// A text is sent with the entry that names it and never again: one that was erased on the server stays erased.
func (c *Client) sendNamed(ctx context.Context, batch []journal.Entry, out *Outcome) error {
	for names := range slices.Chunk(named(batch), mostNames) {
		r, err := c.ask(ctx, Ask{Op: OpLack, Names: names}, out)
		if err != nil {
			return err
		}
		texts, blobs, err := holding(ctx, c.opt.Store, r.Names)
		if err != nil {
			return err
		}
		var some []store.Salted
		bytes := 0
		flush := func() error {
			if len(some) == 0 {
				return nil
			}
			_, err := c.ask(ctx, Ask{Op: OpTexts, Texts: some}, out)
			some, bytes = nil, 0
			return err
		}
		for _, h := range r.Names {
			if t, ok := texts[h]; ok {
				if bytes += textSize(t); bytes > batchBytes {
					if err := flush(); err != nil {
						return err
					}
				}
				some = append(some, t)
			} else if blobs[h] {
				if err := c.sendBlob(ctx, h, smallBlob, out); err != nil {
					return err
				}
			}
		}
		if err := flush(); err != nil {
			return err
		}
	}
	return nil
}

// sendBlob sends a blob up to a size; a larger one waits until the entries are over.
func (c *Client) sendBlob(ctx context.Context, h journal.Hash, most int, out *Outcome) error {
	data, err := c.opt.Store.Blob(ctx, h)
	if err != nil {
		return err
	}
	if len(data) > most {
		c.later = append(c.later, h)
		return nil
	}
	_, err = c.ask(ctx, Ask{Op: OpPutBlob, Names: []journal.Hash{h}, Data: data}, out)
	return err
}

// sendBlobs sends what waits and, once a run, compares all blobs: one that was on its way when the last run ended is
// named by entries that are ashore already.
func (c *Client) sendBlobs(ctx context.Context) error {
	var out Outcome
	if !c.offered {
		var all []journal.Hash
		if err := c.opt.Store.Blobs(ctx, func(h journal.Hash) error { all = append(all, h); return nil }); err != nil {
			return err
		}
		c.later = nil
		for names := range slices.Chunk(all, mostNames) {
			r, err := c.ask(ctx, Ask{Op: OpLack, Names: names}, &out)
			if err != nil {
				return err
			}
			c.later = append(c.later, r.Names...)
		}
		c.offered = true
	}
	for len(c.later) > 0 {
		if err := c.sendBlob(ctx, c.later[0], store.MaxBlob, &out); err != nil {
			return err
		}
		c.later = c.later[1:]
	}
	return nil
}

// fetchNamed gets the texts and blobs that entries name and that are not here, before the entries are stored. What the
// server does not hold either was erased, or left out of a file that it was filled from.
func (c *Client) fetchNamed(ctx context.Context, entries []journal.Entry, out *Outcome) error {
	names := named(entries)
	texts, blobs, err := holding(ctx, c.opt.Store, names)
	if err != nil {
		return err
	}
	names = slices.DeleteFunc(names, func(h journal.Hash) bool { _, text := texts[h]; return text || blobs[h] })
	for some := range slices.Chunk(names, fetchNames) {
		r, err := c.ask(ctx, Ask{Op: OpFetch, Names: some}, out)
		if err != nil {
			return err
		}
		for _, t := range r.Texts {
			if _, err := c.opt.Store.PutSalted(ctx, t); err != nil {
				return err
			}
		}
		for _, h := range r.Names {
			b, err := c.ask(ctx, Ask{Op: OpBlob, Names: []journal.Hash{h}}, out)
			if err != nil {
				return err
			}
			if journal.Sum(b.Data) != h {
				return fault.New(fault.Damaged, cutHint, "a file was damaged on its way")
			}
			if _, err := c.opt.Store.PutBlob(ctx, b.Data); err != nil {
				return err
			}
		}
	}
	return nil
}
