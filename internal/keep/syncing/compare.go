package syncing

import (
	"context"
	"slices"

	"github.com/google/uuid"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// compare holds the ends of all journals here and there against each other and settles what does not agree. Afterwards
// each journal here is a beginning of the server's, or the server's of it. It is long because every way in which two ends
// can differ stands beside the others.
func (c *Client) compare(ctx context.Context, out *Outcome) error {
	st := c.opt.Store
	id, err := st.Identity(ctx)
	if err != nil {
		return err
	}
	heads, err := st.Heads(ctx)
	if err != nil {
		return err
	}
	r, err := c.ask(ctx, Ask{Op: OpDigest, Journal: id.Journal, Marks: marks(heads)}, out)
	if err != nil {
		return err
	}
	if id, err = c.adopt(ctx, r, out); err != nil {
		return err
	}
	c.mu.Lock()
	c.there = map[uuid.UUID]Mark{} // what was believed is believed no longer than this
	c.mu.Unlock()
	forked := map[uuid.UUID]uint64{} // a number that has another content there
	behind := false
	for j, mine := range heads {
		its := r.Heads[j]
		switch {
		case its.N > mine.N && r.Agree[j] == mine.N:
			c.prove(j, mark(mine))
		case its.N > mine.N:
			forked[j] = mine.N
		default:
			h, err := c.hashAt(ctx, j, its.N)
			if err != nil {
				return err
			}
			if h == its.Hash {
				c.prove(j, its)
			} else {
				forked[j] = its.N
			}
		}
	}
	c.want = map[uuid.UUID]Mark{}
	for j, its := range r.Heads {
		if its.N > heads[j].N {
			behind, c.want[j] = true, its
		}
	}
	if _, fork := forked[id.Journal]; fork || r.Heads[id.Journal].N > heads[id.Journal].N {
		if _, err := c.turn(ctx); err != nil {
			return err
		}
		out.Turned, out.Reopen = true, true
	}
	for _, j := range sorted(forked, uuid.Nil) {
		if err := c.moveAside(ctx, j, forked[j], out); err != nil {
			return err
		}
	}
	if len(forked) > 0 {
		return errAgain
	}
	if !behind {
		c.cursor = r.To
	}
	return nil
}

// adopt takes over the server's outfit and account.
func (c *Client) adopt(ctx context.Context, r Answer, out *Outcome) (store.Identity, error) {
	id, err := c.opt.Store.Identity(ctx)
	if err != nil || r.Outfit == uuid.Nil || id.Outfit == r.Outfit && id.Account == r.Account {
		return id, err
	}
	id.Outfit, id.Account = r.Outfit, r.Account
	out.Adopted, out.Reopen = true, true
	return id, c.opt.Store.Become(ctx, id)
}

// ladder is how many numbers are asked at once in search of the last one in common.
const ladder = 32

// moveAside finds the last entry that a journal has in common with the server's and moves what stands after it here into
// a journal of its own, where its acts count on. Before that it keeps the entries as they were in a blob.
func (c *Client) moveAside(ctx context.Context, j uuid.UUID, differs uint64, out *Outcome) error {
	common, epoch := uint64(0), c.epoch // an empty beginning agrees
	for differs-common > 1 {
		var m []Mark
		for k := uint64(1); k <= ladder; k++ {
			n := common + max(k, (differs-common)*k/(ladder+1))
			if n >= differs {
				break
			}
			if len(m) > 0 && m[len(m)-1].N == n {
				continue
			}
			h, err := c.hashAt(ctx, j, n)
			if err != nil {
				return err
			}
			m = append(m, Mark{n, h})
		}
		r, err := c.ask(ctx, Ask{Op: OpDigest, Marks: map[uuid.UUID][]Mark{j: m}}, out)
		if err != nil {
			return err
		}
		if r.Epoch != epoch {
			return errAgain
		}
		agreed := r.Agree[j]
		i := slices.IndexFunc(m, func(x Mark) bool { return x.N > agreed })
		if i >= 0 {
			differs = m[i].N
		}
		if agreed > common {
			common = agreed
		} else if i < 0 {
			return errAgain // the server changed under our hands
		}
	}
	if err := c.keepAside(ctx, j, common); err != nil {
		return err
	}
	n, err := c.opt.Store.Rehome(ctx, store.Place{Journal: j, N: common})
	if err != nil {
		return err
	}
	c.prove(j, Mark{})
	out.Moved += n
	out.Reopen = true
	return nil
}

// keepAside stores the end of a journal as lines, byte for byte as it was, before it moves.
func (c *Client) keepAside(ctx context.Context, j uuid.UUID, common uint64) error {
	heads, err := c.opt.Store.Heads(ctx)
	if err != nil {
		return err
	}
	var text []byte
	for n := common + 1; n <= heads[j].N; n++ {
		e, err := c.opt.Store.Find(ctx, store.Place{Journal: j, N: n})
		if err != nil {
			return err
		}
		if text, err = journal.AppendLine(text, &e); err != nil {
			return err
		}
	}
	_, err = c.opt.Store.PutBlob(ctx, text)
	c.offered = false
	return err
}
