//go:build js && wasm

package browser

import (
	"context"
	"fmt"
	"maps"
	"syscall/js"
	"time"

	"github.com/google/uuid"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

var _ store.Replica = (*Store)(nil)

// Last gives the last position.
func (s *Store) Last(ctx context.Context) (store.Position, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.last, ctx.Err()
}

// Find gives the entry at a place.
func (s *Store) Find(ctx context.Context, p store.Place) (journal.Entry, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return journal.Entry{}, err
	}
	if _, err := s.connected(true); err != nil {
		return journal.Entry{}, s.explain(err, "reading the journal")
	}
	key := placeKey(p.Journal, p.N)
	found, err := s.lookUp("places", []string{key})
	if err != nil {
		return journal.Entry{}, s.explain(err, "reading the journal")
	}
	e, ok := found[key]
	if !ok {
		return journal.Entry{}, fmt.Errorf("browser: entry %d of journal %s: %w", p.N, p.Journal, store.ErrNotFound)
	}
	return e, nil
}

// Become replaces the identity. Acts of the new journal are found among what is held.
func (s *Store) Become(ctx context.Context, id store.Identity) error {
	id.Made = id.Made.UTC().Truncate(time.Millisecond)
	acts := map[uuid.UUID]store.Position{}
	err := s.Read(ctx, 0, func(pos store.Position, e *journal.Entry) error {
		if _, held := acts[e.ID]; e.Journal == id.Journal && !held {
			acts[e.ID] = pos
		}
		return nil
	})
	if err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	err = s.transact(true, []string{"meta", "acts"}, func(st func(string) js.Value) {
		st("meta").Call("put", toJS(appendIdentity(nil, id)), "identity")
		in := st("acts")
		in.Call("clear")
		for act, pos := range acts {
			in.Call("put", int(pos), act.String())
		}
	})
	if err != nil {
		return s.explain(err, "saving")
	}
	s.id = id
	return nil
}

// Rehome moves the end of a journal into a journal of its own: the whole order is written anew in one transaction.
func (s *Store) Rehome(ctx context.Context, after store.Place) (int, error) {
	var stay, tail []journal.Entry
	err := s.Read(ctx, 0, func(_ store.Position, e *journal.Entry) error {
		if e.Journal == after.Journal && e.N > after.N {
			tail = append(tail, *e)
		} else {
			stay = append(stay, *e)
		}
		return nil
	})
	if err != nil || len(tail) == 0 {
		return 0, err
	}
	held := map[store.Place]*journal.Entry{}
	for i := range stay {
		held[store.Place{Journal: stay[i].Journal, N: stay[i].N}] = &stay[i]
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	fresh, err := store.Rehomed(tail, s.heads, func(p store.Place) (journal.Entry, bool, error) {
		if e, ok := held[p]; ok {
			return *e, true, nil
		}
		return journal.Entry{}, false, nil
	})
	if err != nil {
		return 0, err
	}
	all := append(stay, fresh...)
	ends := map[uuid.UUID]journal.Head{}
	err = s.transact(true, journalStores, func(st func(string) js.Value) {
		for _, name := range journalStores {
			st(name).Call("clear")
		}
		clear(ends)
		s.put(st, 0, all, ends)
	})
	if err != nil {
		s.conn.close() // the next call reads the ends anew
		return 0, s.explain(err, "saving")
	}
	s.last, s.heads = store.Position(len(all)), maps.Clone(ends)
	return len(tail), nil
}
