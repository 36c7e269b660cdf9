// Package mem keeps a journal in memory, for scripts, tests and the phone's first moments; nothing outlives the process.
//
// Start with [New]. It answers to the same suite as the stores that last, assumes nothing, and leaves out durability.
package mem

import (
	"bytes"
	"context"
	"fmt"
	"iter"
	"maps"
	"slices"
	"sync"

	"github.com/google/uuid"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// Store is a [store.Store] in memory.
type Store struct {
	mu      sync.RWMutex
	id      store.Identity
	entries []*journal.Entry // position order; an entry never changes once it is here
	places  map[store.Place]*journal.Entry
	acts    map[uuid.UUID]*journal.Entry // of the own journal
	heads   map[uuid.UUID]journal.Head
	blobs   map[journal.Hash][]byte
	texts   map[journal.Hash]store.Salted
}

var _ store.Store = (*Store)(nil)

// New makes an empty store with an identity; [store.NewIdentity] makes a fresh one.
func New(id store.Identity) *Store {
	return &Store{
		id: id, places: map[store.Place]*journal.Entry{}, acts: map[uuid.UUID]*journal.Entry{},
		heads: map[uuid.UUID]journal.Head{}, blobs: map[journal.Hash][]byte{}, texts: map[journal.Hash]store.Salted{},
	}
}

// Identity gives the installation's identity.
func (s *Store) Identity(ctx context.Context) (store.Identity, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.id, ctx.Err()
}

// Append chains drafts onto the own journal.
func (s *Store) Append(ctx context.Context, drafts []journal.Draft) ([]journal.Entry, error) {
	all, _, err := s.append(ctx, drafts)
	return all, err
}

// AppendEach chains drafts onto the own journal. Memory holds them all in any case.
func (s *Store) AppendEach(ctx context.Context, drafts iter.Seq[journal.Draft]) (added int, err error) {
	_, added, err = s.append(ctx, slices.Collect(drafts))
	return added, err
}

func (s *Store) append(ctx context.Context, drafts []journal.Draft) (all []journal.Entry, added int, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return nil, 0, err
	}
	own := s.heads[s.id.Journal]
	own.Journal = s.id.Journal
	all, fresh, err := store.Chain(own, slices.Collect(maps.Values(s.heads)), drafts, func(act uuid.UUID) (journal.Entry, bool, error) {
		if e, ok := s.acts[act]; ok {
			return *e, true, nil
		}
		return journal.Entry{}, false, nil
	})
	if err != nil {
		return nil, 0, err
	}
	s.add(fresh)
	return all, len(fresh), nil
}

// Put stores sealed entries verbatim.
func (s *Store) Put(ctx context.Context, entries []journal.Entry) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return 0, err
	}
	fresh, err := store.Follow(s.heads, entries, func(p store.Place) (journal.Entry, bool, error) {
		if e, ok := s.places[p]; ok {
			return *e, true, nil
		}
		return journal.Entry{}, false, nil
	})
	if err != nil {
		return 0, err
	}
	s.add(fresh)
	return len(fresh), nil
}

func (s *Store) add(fresh []journal.Entry) {
	for _, e := range fresh {
		s.index(&e)
	}
}

// Read gives the entries after a position that are there now.
func (s *Store) Read(ctx context.Context, after store.Position, fn func(store.Position, *journal.Entry) error) error {
	s.mu.RLock()
	entries := s.entries[min(int(after), len(s.entries)):]
	s.mu.RUnlock()
	check := store.CheckerAfter(after)
	for i, e := range entries {
		if err := ctx.Err(); err != nil {
			return err
		}
		pos := after + store.Position(i) + 1
		if err := check.Check(pos, e); err != nil {
			return store.DamagedEntry(err, store.EntryPlace(pos, e))
		}
		c := *e
		if err := fn(pos, &c); err != nil {
			return err
		}
	}
	return nil
}

// Heads gives the end of every journal.
func (s *Store) Heads(ctx context.Context) (map[uuid.UUID]journal.Head, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return maps.Clone(s.heads), ctx.Err()
}

// PutBlob stores bytes under their hash.
func (s *Store) PutBlob(ctx context.Context, data []byte) (journal.Hash, error) {
	if err := ctx.Err(); err != nil {
		return journal.Hash{}, err
	}
	if err := store.CheckBlob(data); err != nil {
		return journal.Hash{}, err
	}
	h := journal.Sum(data)
	s.mu.Lock()
	defer s.mu.Unlock()
	if _, ok := s.blobs[h]; !ok {
		s.blobs[h] = bytes.Clone(data)
	}
	return h, nil
}

// Blob gives the bytes of a hash.
func (s *Store) Blob(ctx context.Context, h journal.Hash) ([]byte, error) {
	s.mu.RLock()
	data, ok := s.blobs[h]
	s.mu.RUnlock()
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case !ok:
		return nil, fmt.Errorf("mem: blob %s: %w", h, store.ErrNotFound)
	case journal.Sum(data) != h:
		return nil, store.DamagedBlob(h)
	}
	return bytes.Clone(data), nil
}

// PutText stores a text under a salted hash.
func (s *Store) PutText(ctx context.Context, text string) (journal.Text, error) {
	return s.PutSalted(ctx, store.Salt(text))
}

// PutTexts stores texts, all or none.
func (s *Store) PutTexts(ctx context.Context, texts []string) ([]journal.Text, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	list := make([]store.Salted, len(texts))
	names := make([]journal.Text, len(texts))
	for i, text := range texts {
		list[i] = store.Salt(text)
		if err := list[i].Check(); err != nil {
			return nil, err
		}
		names[i] = list[i].Name()
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for i, t := range list {
		s.texts[names[i].Blob] = t
	}
	return names, nil
}

// PutSalted stores a text with its salt.
func (s *Store) PutSalted(ctx context.Context, t store.Salted) (journal.Text, error) {
	if err := ctx.Err(); err != nil {
		return journal.Text{}, err
	}
	if err := t.Check(); err != nil {
		return journal.Text{}, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.texts[t.Name().Blob] = t
	return t.Name(), nil
}

// Text gives a text back.
func (s *Store) Text(ctx context.Context, name journal.Text) (string, error) {
	s.mu.RLock()
	t, ok := s.texts[name.Blob]
	s.mu.RUnlock()
	switch {
	case ctx.Err() != nil:
		return "", ctx.Err()
	case !ok:
		return "", fmt.Errorf("mem: text %s: %w", name.Blob, store.ErrNotFound)
	case t.Name() != name:
		return "", store.DamagedBlob(name.Blob)
	}
	return t.Text, nil
}

// EraseText forgets a text.
func (s *Store) EraseText(ctx context.Context, name journal.Text) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	delete(s.texts, name.Blob)
	return nil
}

// Blobs lists the blobs.
func (s *Store) Blobs(ctx context.Context, fn func(journal.Hash) error) error {
	s.mu.RLock()
	hashes := slices.SortedFunc(maps.Keys(s.blobs), store.CompareHash)
	s.mu.RUnlock()
	for _, h := range hashes {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := fn(h); err != nil {
			return err
		}
	}
	return nil
}

// Texts lists the texts.
func (s *Store) Texts(ctx context.Context, fn func(store.Salted) error) error {
	s.mu.RLock()
	texts := maps.Clone(s.texts)
	s.mu.RUnlock()
	for _, h := range slices.SortedFunc(maps.Keys(texts), store.CompareHash) {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := fn(texts[h]); err != nil {
			return err
		}
	}
	return nil
}

// Verify reads everything.
func (s *Store) Verify(ctx context.Context) (store.Audit, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	a := store.Audit{Entries: len(s.entries), Blobs: len(s.blobs), Texts: len(s.texts)}
	var check store.Checker
	for i, e := range s.entries {
		pos := store.Position(i + 1)
		if err := check.Check(pos, e); err != nil {
			a.Damage = append(a.Damage, store.Damage{Where: store.EntryPlace(pos, e), What: err.Error()})
		}
		if err := ctx.Err(); err != nil {
			return a, err
		}
	}
	a.Journals = check.Journals()
	for h, data := range s.blobs {
		if journal.Sum(data) != h {
			a.Damage = append(a.Damage, store.Damage{Where: "blob " + h.String(), What: "its bytes do not match its hash"})
		}
	}
	for h, t := range s.texts {
		if t.Name().Blob != h {
			a.Damage = append(a.Damage, store.Damage{Where: "text " + h.String(), What: "its bytes do not match its hash"})
		}
	}
	return a, ctx.Err()
}

// Close does nothing; the store is gone when it is no longer referred to.
func (s *Store) Close() error { return nil }
