package exchange

import (
	"context"
	"fmt"
	"io"

	"github.com/google/uuid"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// taker stores what was read: the part of a store that reading needs.
type taker interface {
	Put(ctx context.Context, entries []journal.Entry) (int, error)
	PutBlob(ctx context.Context, data []byte) (journal.Hash, error)
	PutSalted(ctx context.Context, s store.Salted) (journal.Text, error)
}

// CheckNDJSON reads a file to its end as ReadNDJSON would and stores nothing: hashes, chains and counts hold, or its fault
// says what is wrong. It tells see, when that is not nil, of every entry whose own hash holds. A journal need not begin with
// its first entry.
func CheckNDJSON(ctx context.Context, r io.Reader, see func(*journal.Entry)) (Count, error) {
	in := &reader{ctx: ctx, store: checker{}, kept: "Nothing was taken.", see: see}
	return in.read(r)
}

// checker holds the ends of the journals that it was given, and nothing of them.
type checker map[uuid.UUID]journal.Head

// Put checks that entries follow each other.
func (c checker) Put(_ context.Context, entries []journal.Entry) (int, error) {
	for i := range entries {
		e := &entries[i]
		if _, known := c[e.Journal]; !known {
			c[e.Journal] = store.Before(e)
		}
	}
	fresh, err := store.Follow(c, entries, func(p store.Place) (journal.Entry, bool, error) {
		return journal.Entry{}, false, fmt.Errorf("exchange: entry %d of journal %s stands there twice: %w", p.N, p.Journal, store.ErrFork)
	})
	for i := range fresh {
		c[fresh[i].Journal] = journal.HeadOf(&fresh[i])
	}
	return len(fresh), err
}

// PutBlob takes bulk data whose hash was checked.
func (checker) PutBlob(_ context.Context, data []byte) (journal.Hash, error) {
	return journal.Sum(data), nil
}

// PutSalted takes a text whose hash was checked.
func (checker) PutSalted(_ context.Context, s store.Salted) (journal.Text, error) {
	return s.Name(), nil
}
