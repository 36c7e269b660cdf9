package mem

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"github.com/google/uuid"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

var _ store.Replica = (*Store)(nil)

// Last gives the last position.
func (s *Store) Last(ctx context.Context) (store.Position, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return store.Position(len(s.entries)), ctx.Err()
}

// Find gives the entry at a place.
func (s *Store) Find(ctx context.Context, p store.Place) (journal.Entry, error) {
	s.mu.RLock()
	e, ok := s.places[p]
	s.mu.RUnlock()
	switch {
	case ctx.Err() != nil:
		return journal.Entry{}, ctx.Err()
	case !ok:
		return journal.Entry{}, fmt.Errorf("mem: entry %d of journal %s: %w", p.N, p.Journal, store.ErrNotFound)
	}
	if err := journal.Verify(store.Before(e), e); err != nil {
		return journal.Entry{}, store.DamagedEntry(err, fmt.Sprintf("entry %d of journal %s", p.N, p.Journal))
	}
	return *e, nil
}

// Become replaces the identity.
func (s *Store) Become(ctx context.Context, id store.Identity) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	s.id = id
	s.acts = map[uuid.UUID]*journal.Entry{}
	for _, e := range s.entries {
		if _, held := s.acts[e.ID]; e.Journal == id.Journal && !held {
			s.acts[e.ID] = e
		}
	}
	return nil
}

// Rehome moves the end of a journal into a journal of its own.
func (s *Store) Rehome(ctx context.Context, after store.Place) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return 0, err
	}
	var stay []*journal.Entry
	var tail []journal.Entry
	for _, e := range s.entries {
		if e.Journal == after.Journal && e.N > after.N {
			tail = append(tail, *e)
		} else {
			stay = append(stay, e)
		}
	}
	if len(tail) == 0 {
		return 0, nil
	}
	fresh, err := store.Rehomed(tail, s.heads, func(p store.Place) (journal.Entry, bool, error) {
		if e, ok := s.places[p]; ok {
			return *e, true, nil
		}
		return journal.Entry{}, false, nil
	})
	if err != nil {
		return 0, err
	}
	s.entries, s.places, s.heads, s.acts = nil, map[store.Place]*journal.Entry{}, map[uuid.UUID]journal.Head{}, map[uuid.UUID]*journal.Entry{}
	for _, e := range stay {
		s.index(e)
	}
	s.add(fresh)
	return len(tail), nil
}

// index takes an entry in at the next position.
func (s *Store) index(e *journal.Entry) {
	s.entries = append(s.entries, e)
	s.places[store.Place{Journal: e.Journal, N: e.N}] = e
	s.heads[e.Journal] = journal.HeadOf(e)
	if _, held := s.acts[e.ID]; e.Journal == s.id.Journal && !held {
		s.acts[e.ID] = e
	}
}

// Clone gives a copy as it is now, as a copied disk would be.
func (s *Store) Clone() *Store {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return &Store{
		id: s.id, entries: slices.Clip(s.entries), places: maps.Clone(s.places), acts: maps.Clone(s.acts), heads: maps.Clone(s.heads),
		blobs: maps.Clone(s.blobs), texts: maps.Clone(s.texts),
	}
}
