package syncing

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// Exchange carries one question to the server and its answer back. An error means that it is not known whether the
// server took it. [HTTP] makes one; tests and the simulator make others.
type Exchange func(ctx context.Context, a Ask) (Answer, error)

// Memory keeps a few hundred bytes between runs. Losing them, or getting old ones back, costs asking again and nothing
// else: everything in them is checked against the entries and by the server.
type Memory interface {
	Load(ctx context.Context) ([]byte, error) // nil when there is nothing
	Save(ctx context.Context, b []byte) error
}

// Options are what a host brings.
type Options struct {
	Store    store.Replica
	Exchange Exchange
	Clock    func() time.Time // nil: the machine's
	Memory   Memory           // nil: nothing is remembered between runs
	NewID    func() uuid.UUID // nil: random; the simulator draws them from its seed
}

// Outcome is what one Step did.
type Outcome struct {
	Pushed  int           // entries that the server took
	Pulled  int           // entries that came
	Waiting int           // entries held here that the server has not proved to hold
	Ahead   int           // of those pushed: kept, though their clock is far ahead of the server's
	Offset  time.Duration // the server's clock less this one; a guess to half the time of the way
	Turned  bool          // this phone had been set back, and writes a new journal from now on
	Moved   int           // entries moved into a journal of their own, since their numbers were taken
	Adopted bool          // the server's outfit and account are now this phone's
	Reopen  bool          // identity or positions changed: open the desk anew
}

// Client is a phone's side. One Step runs at a time; the rest is safe to call meanwhile.
type Client struct {
	opt Options
	one sync.Mutex // held by a Step

	mu    sync.Mutex
	there map[uuid.UUID]Mark // what the server has proved to hold, of each journal the last
	when  time.Time          // of the last Step that came to its end
	sent  time.Time          // of the last one in which the server took entries
	ahead time.Duration      // the server's clock less this one, at the last one

	// Of this run, used by Step alone.
	epoch   uuid.UUID
	cursor  Cursor
	want    map[uuid.UUID]Mark // what the server had at the last comparison and this phone had not
	offered bool               // blobs were compared
	later   []journal.Hash
}

// mostRounds bounds how often a Step starts over.
const mostRounds = 24

// Open makes a client. What was remembered is checked against the store: an end that the server once proved to hold and
// that is here no more shows that this phone was set back, and it opens a new journal before anything more is written.
func Open(ctx context.Context, o Options) (*Client, error) {
	if o.Clock == nil {
		o.Clock = time.Now
	}
	if o.NewID == nil {
		o.NewID = uuid.New
	}
	c := &Client{opt: o, there: map[uuid.UUID]Mark{}}
	return c, c.recall(ctx)
}

// remembered is what [Memory] keeps.
type remembered struct {
	Epoch  uuid.UUID          `json:"epoch"`
	Cursor Cursor             `json:"cursor"`
	There  map[uuid.UUID]Mark `json:"there"`
	When   time.Time          `json:"when"`
	Sent   time.Time          `json:"sent,omitzero"`
	Ahead  time.Duration      `json:"ahead,omitempty"` // ns
}

func (c *Client) recall(ctx context.Context) error {
	if c.opt.Memory == nil {
		return nil
	}
	b, err := c.opt.Memory.Load(ctx)
	var r remembered
	if err != nil || json.Unmarshal(b, &r) != nil {
		return nil // nothing is remembered, then
	}
	id, err := c.opt.Store.Identity(ctx)
	if err != nil {
		return err
	}
	lost := false
	for j, m := range r.There {
		h, err := c.hashAt(ctx, j, m.N)
		switch {
		case err != nil:
			return err
		case h == m.Hash:
			c.there[j] = m
		default:
			lost = true
			if j == id.Journal {
				if _, err := c.turn(ctx); err != nil {
					return err
				}
			}
		}
	}
	c.when, c.sent, c.ahead = r.When, r.Sent, r.Ahead
	if !lost {
		c.epoch, c.cursor = r.Epoch, r.Cursor
	}
	return nil
}

func (c *Client) remember(ctx context.Context) error {
	if c.opt.Memory == nil {
		return nil
	}
	c.mu.Lock()
	b, err := json.Marshal(remembered{c.epoch, c.cursor, c.there, c.when, c.sent, c.ahead})
	c.mu.Unlock()
	if err != nil {
		return fmt.Errorf("syncing: remembering: %w", err)
	}
	return c.opt.Memory.Save(ctx, b)
}

// Ashore tells whether the server has proved to hold an entry of this store.
func (c *Client) Ashore(journal uuid.UUID, n uint64) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return n <= c.there[journal].N
}

// Proved gives of every journal the last entry that the server has proved to hold.
func (c *Client) Proved() map[uuid.UUID]Mark {
	c.mu.Lock()
	defer c.mu.Unlock()
	return maps.Clone(c.there)
}

// When gives the end of the last Step that came to its end, of this run or remembered; zero when there was none.
func (c *Client) When() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.when
}

// Sent gives the end of the last Step in which the server took entries, of this run or remembered; zero when there was none.
func (c *Client) Sent() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.sent
}

// Offset gives how far the server's clock led this one at the moment that [Client.When] gives.
func (c *Client) Offset() time.Duration {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.ahead
}

// Waiting counts the entries held here that the server has not proved to hold.
func (c *Client) Waiting(ctx context.Context) (int, error) {
	heads, err := c.opt.Store.Heads(ctx)
	if err != nil {
		return 0, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	n := 0
	for j, h := range heads {
		n += int(h.N - min(h.N, c.there[j].N))
	}
	return n, nil
}

// prove notes what the server has proved to hold.
func (c *Client) prove(j uuid.UUID, m Mark) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if m.N == 0 {
		delete(c.there, j)
		return
	}
	c.there[j] = m
}

func (c *Client) proved(j uuid.UUID) Mark {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.there[j]
}

// hashAt gives the hash of an entry here; zero when it is not held.
func (c *Client) hashAt(ctx context.Context, j uuid.UUID, n uint64) (journal.Hash, error) {
	e, err := c.opt.Store.Find(ctx, store.Place{Journal: j, N: n})
	if errors.Is(err, store.ErrNotFound) {
		return journal.Hash{}, nil
	}
	return e.Hash, err
}

// turn opens a new journal to write, since another content may exist under the next numbers of the old one.
func (c *Client) turn(ctx context.Context) (uuid.UUID, error) {
	id, err := c.opt.Store.Identity(ctx)
	if err != nil {
		return uuid.Nil, err
	}
	id.Journal = c.opt.NewID()
	return id.Journal, c.opt.Store.Become(ctx, id)
}

// Step brings phone and server in step. It ends with nil when, at some moment of it, each held all that the other did.
// With another error what was done so far stays, nothing is lost, and the next Step goes on from there.
func (c *Client) Step(ctx context.Context) (Outcome, error) {
	c.one.Lock()
	defer c.one.Unlock()
	var out Outcome
	err := errAgain
	for range mostRounds {
		if err = c.round(ctx, &out); !errors.Is(err, errAgain) {
			break
		}
	}
	if errors.Is(err, errAgain) {
		err = fault.Wrap(err, fault.Unavailable, "Try again later.", "phone and server change faster than they can be compared")
	}
	if err != nil {
		return out, err
	}
	c.mu.Lock()
	c.when, c.ahead = c.opt.Clock(), out.Offset
	if out.Pushed > 0 {
		c.sent = c.when
	}
	c.mu.Unlock()
	if out.Waiting, err = c.Waiting(ctx); err != nil {
		return out, err
	}
	return out, c.remember(ctx)
}

// round does everything once: it compares, every time, since that costs little and leaves nothing to be believed; then what
// was written here goes first.
func (c *Client) round(ctx context.Context, out *Outcome) error {
	if err := c.compare(ctx, out); err != nil {
		return err
	}
	if err := c.push(ctx, out); err != nil {
		return err
	}
	if err := c.pull(ctx, out); err != nil {
		return err
	}
	return c.sendBlobs(ctx)
}

// ask sends one question. An answer under another epoch voids all that is known of the server.
func (c *Client) ask(ctx context.Context, a Ask, out *Outcome) (Answer, error) {
	sent := c.opt.Clock()
	a.Now, a.Epoch = sent.UnixMilli(), c.epoch
	r, err := c.opt.Exchange(ctx, a)
	if err != nil {
		return r, err
	}
	if a.Op == OpDigest {
		out.Offset = time.UnixMilli(r.Now).Sub(sent.Add(c.opt.Clock().Sub(sent) / 2))
	}
	if r.Epoch != c.epoch {
		c.forget(r.Epoch)
		if a.Op != OpDigest {
			return r, errAgain
		}
	}
	if r.Why == WhyReset {
		c.cursor = Cursor{}
	}
	if r.Why != "" {
		return r, errAgain
	}
	return r, nil
}

// forget drops what was known of a server that is another one now.
func (c *Client) forget(epoch uuid.UUID) {
	c.mu.Lock()
	c.there = map[uuid.UUID]Mark{}
	c.mu.Unlock()
	c.epoch, c.cursor, c.want, c.offered = epoch, Cursor{}, nil, false
}

// marks gives the end of every journal here, for a question.
func marks(heads map[uuid.UUID]journal.Head) map[uuid.UUID][]Mark {
	out := make(map[uuid.UUID][]Mark, len(heads))
	for j, h := range heads {
		out[j] = []Mark{mark(h)}
	}
	return out
}

// claims gives of every journal what the server has proved to hold, and the end here.
func (c *Client) claims(heads map[uuid.UUID]journal.Head) map[uuid.UUID][]Mark {
	out := marks(heads)
	for j, h := range heads {
		if m := c.proved(j); m.N > 0 && m.N < h.N {
			out[j] = []Mark{m, mark(h)}
		}
	}
	return out
}

// sorted gives the journals in an order that does not depend on chance: one first, then the others.
func sorted[V any](m map[uuid.UUID]V, first uuid.UUID) []uuid.UUID {
	out := make([]uuid.UUID, 0, len(m))
	for id := range m {
		out = append(out, id)
	}
	slices.SortFunc(out, func(a, b uuid.UUID) int {
		if (a == first) != (b == first) {
			if a == first {
				return -1
			}
			return 1
		}
		return cmp.Compare(bytes.Compare(a[:], b[:]), 0)
	})
	return out
}
