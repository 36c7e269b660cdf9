package syncing

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// Server answers phones out of a store. It is safe for concurrent use and keeps nothing that matters beyond the store:
// a killed server goes on as if nothing had been.
type Server struct {
	store store.Replica
	clock func() time.Time

	mu       sync.Mutex
	contacts map[string]Contact
}

// Contact is when a phone was last heard from. It is held in memory: after a start of the server it is told anew.
type Contact struct {
	When    time.Time
	Offset  time.Duration // the phone's clock less the server's, the way included
	Journal uuid.UUID     // the journal it writes
}

// NewServer makes a server of a store; a nil clock is the machine's.
func NewServer(st store.Replica, clock func() time.Time) *Server {
	if clock == nil {
		clock = time.Now
	}
	return &Server{store: st, clock: clock, contacts: map[string]Contact{}}
}

// Contacts tells when each phone was last heard from, by name.
func (s *Server) Contacts() map[string]Contact {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := make(map[string]Contact, len(s.contacts))
	for k, v := range s.contacts {
		out[k] = v
	}
	return out
}

// heard notes a contact.
func (s *Server) heard(phone string, a Ask) {
	if a.Op != OpDigest || phone == "" {
		return
	}
	now := s.clock()
	s.mu.Lock()
	defer s.mu.Unlock()
	s.contacts[phone] = Contact{When: now, Offset: time.UnixMilli(a.Now).Sub(now), Journal: a.Journal}
}

// Answer answers one question. What it takes is durable when it answers. Asking the same again does no harm.
func (s *Server) Answer(ctx context.Context, a Ask) (Answer, error) {
	id, err := s.store.Identity(ctx)
	if err != nil {
		return Answer{}, err
	}
	out := Answer{Version: Version, Epoch: id.Epoch, Now: s.clock().UnixMilli()}
	switch a.Op {
	case OpDigest:
		out.Outfit, out.Account = id.Outfit, id.Account
		err = s.digest(ctx, a, &out)
	case OpPush:
		err = s.push(ctx, a, &out)
	case OpPull:
		err = s.pull(ctx, a, &out)
	case OpLack:
		out.Names, err = s.lack(ctx, a.Names)
	case OpTexts:
		for _, t := range a.Texts {
			if _, err = s.store.PutSalted(ctx, t); err != nil {
				break
			}
		}
	case OpFetch:
		err = s.fetch(ctx, a, &out)
	case OpBlob:
		out.Data, err = s.store.Blob(ctx, name(a))
		if errors.Is(err, store.ErrNotFound) {
			err = fault.Wrap(err, fault.NotFound, "", "that file is not held here")
		}
	case OpPutBlob:
		if journal.Sum(a.Data) != name(a) {
			return Answer{}, fault.New(fault.Damaged, cutHint, "the file was damaged on its way")
		}
		_, err = s.store.PutBlob(ctx, a.Data)
	default:
		err = fault.New(fault.NotFound, "Use matching versions on phone and server.", "%q is not asked here", a.Op)
	}
	if err != nil {
		return Answer{}, err
	}
	return out, nil
}

func name(a Ask) journal.Hash {
	if len(a.Names) != 1 {
		return journal.Hash{}
	}
	return a.Names[0]
}

// digest compares ends. The end of the order is read before the heads, so that whoever holds all heads holds all that
// stands up to it.
func (s *Server) digest(ctx context.Context, a Ask, out *Answer) error {
	last, err := s.store.Last(ctx)
	if err != nil {
		return err
	}
	if out.To, err = s.cursor(ctx, last); err != nil {
		return err
	}
	heads, err := s.store.Heads(ctx)
	if err != nil {
		return err
	}
	out.Heads, out.Agree = make(map[uuid.UUID]Mark, len(heads)), make(map[uuid.UUID]uint64, len(a.Marks))
	for id, h := range heads {
		out.Heads[id] = mark(h)
	}
	for id, marks := range a.Marks {
		n, err := s.agree(ctx, heads[id].N, id, marks)
		if err != nil {
			return err
		}
		if n > 0 {
			out.Agree[id] = n
		}
	}
	return nil
}

// agree gives the greatest number of which the phone holds the same content. A chain that agrees somewhere agrees in all
// that stands before.
func (s *Server) agree(ctx context.Context, end uint64, id uuid.UUID, marks []Mark) (uint64, error) {
	for _, m := range slices.Backward(marks) {
		if m.N > end {
			continue
		}
		e, err := s.store.Find(ctx, store.Place{Journal: id, N: m.N})
		switch {
		case errors.Is(err, store.ErrNotFound):
		case err != nil:
			return 0, err
		case e.Hash == m.Hash:
			return m.N, nil
		}
	}
	return 0, nil
}

// cursor gives a position with the hash of its entry.
func (s *Server) cursor(ctx context.Context, pos store.Position) (Cursor, error) {
	if pos == 0 {
		return Cursor{}, nil
	}
	c := Cursor{Pos: pos}
	err := s.store.Read(ctx, pos-1, func(p store.Position, e *journal.Entry) error {
		c.Hash = e.Hash
		return errEnough
	})
	if err != nil && !errors.Is(err, errEnough) {
		return Cursor{}, err
	}
	return c, nil
}

var errEnough = errors.New("syncing: enough was read")

// push takes entries of one journal, all or none. Nothing is refused for what it says.
func (s *Server) push(ctx context.Context, a Ask, out *Answer) error {
	if a.Epoch != out.Epoch {
		out.Why = WhyEpoch
		return nil
	}
	_, err := s.store.Put(ctx, a.Entries)
	switch {
	case errors.Is(err, store.ErrFork):
		out.Why = WhyFork
	case errors.Is(err, store.ErrGap):
		out.Why = WhyGap
	case err != nil:
		return err
	}
	heads, err := s.store.Heads(ctx)
	if err != nil {
		return err
	}
	out.Head = mark(heads[a.Journal])
	latest := s.clock().Add(maxAhead)
	for i := range a.Entries {
		if out.Why == "" && a.Entries[i].HLC.Time().After(latest) {
			out.Ahead++
		}
	}
	return nil
}

// pull gives a page of what stands after a cursor, in order, and counts what it passes over because the phone holds it.
func (s *Server) pull(ctx context.Context, a Ask, out *Answer) error {
	if a.Epoch != out.Epoch {
		out.Why = WhyEpoch
		return nil
	}
	at, err := s.cursor(ctx, a.After.Pos)
	if err != nil {
		return err
	}
	if at != a.After {
		out.Why = WhyReset
		return nil
	}
	have := make(map[uuid.UUID]uint64, len(a.Marks))
	for id, marks := range a.Marks {
		if have[id], err = s.agree(ctx, 1<<63, id, marks); err != nil {
			return err
		}
	}
	out.Agree, out.To = have, a.After
	bytes, scanned := 0, 0
	err = s.store.Read(ctx, a.After.Pos, func(pos store.Position, e *journal.Entry) error {
		held := e.N <= have[e.Journal]
		if scanned == mostScanned || !held && (len(out.Entries) == mostEntries || len(out.Entries) > 0 && bytes+size(e) > batchBytes) {
			out.More = true
			return errEnough
		}
		scanned++
		out.To = Cursor{Pos: pos, Hash: e.Hash}
		if held {
			out.Runs = run(out.Runs, -1)
			return nil
		}
		out.Runs = run(out.Runs, 1)
		bytes += size(e)
		out.Entries = append(out.Entries, *e)
		return nil
	})
	if err != nil && !errors.Is(err, errEnough) {
		return err
	}
	return nil
}

// run lengthens the last run, or begins another.
func run(runs []int, by int) []int {
	if n := len(runs); n > 0 && runs[n-1] > 0 == (by > 0) {
		runs[n-1] += by
		return runs
	}
	return append(runs, by)
}

// holding gives which of some names a store holds, as texts and as blobs.
func holding(ctx context.Context, st store.Store, names []journal.Hash) (texts map[journal.Hash]store.Salted, blobs map[journal.Hash]bool, err error) {
	texts, blobs = map[journal.Hash]store.Salted{}, map[journal.Hash]bool{}
	wanted := map[journal.Hash]bool{}
	for _, h := range names {
		wanted[h] = true
	}
	if len(wanted) == 0 {
		return texts, blobs, nil
	}
	err = st.Texts(ctx, func(t store.Salted) error {
		if h := t.Name().Blob; wanted[h] {
			texts[h] = t
		}
		return nil
	})
	if err == nil {
		err = st.Blobs(ctx, func(h journal.Hash) error {
			if wanted[h] {
				blobs[h] = true
			}
			return nil
		})
	}
	return texts, blobs, err
}

func (s *Server) lack(ctx context.Context, names []journal.Hash) ([]journal.Hash, error) {
	texts, blobs, err := holding(ctx, s.store, names)
	if err != nil {
		return nil, err
	}
	var out []journal.Hash
	for _, h := range names {
		if _, ok := texts[h]; !ok && !blobs[h] {
			out = append(out, h)
		}
	}
	return out, nil
}

func (s *Server) fetch(ctx context.Context, a Ask, out *Answer) error {
	texts, blobs, err := holding(ctx, s.store, a.Names)
	if err != nil {
		return err
	}
	for _, h := range a.Names {
		if t, ok := texts[h]; ok {
			out.Texts = append(out.Texts, t)
		} else if blobs[h] {
			out.Names = append(out.Names, h)
		}
	}
	return nil
}
