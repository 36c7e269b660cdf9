// Package store says what keeping a journal means: the one interface that every store implements.
//
// Start with [Store.Append], which chains drafts onto the installation's own journal and returns only when they are
// durable, and [Store.Read], which gives entries back in the store's dense order. The suite in storetest holds every
// implementation to the words written here.
// It assumes one writing process at a time. Sync with other installations is left to package exchange.
package store

import (
	"context"
	"errors"
	"iter"
	"time"

	"github.com/google/uuid"

	"icehand/internal/trade/journal"
)

// Errors that every store returns, wrapped with what was being done.
var (
	// ErrNotFound: the blob or text is not there, or has been erased.
	ErrNotFound = errors.New("store: not found")
	// ErrFork: an entry with a number that is held with another content. Nothing of the call was stored.
	ErrFork = errors.New("store: fork")
	// ErrGap: an entry that does not follow the head of its journal. Nothing of the call was stored.
	ErrGap = errors.New("store: gap")
	// ErrReadOnly: the store was opened for reading.
	ErrReadOnly = errors.New("store: read only")
	// ErrUnknownOutcome: the commit was reported failed and may have happened all the same. Reopen and repeat with the
	// same act ids: what is there already is not doubled.
	ErrUnknownOutcome = errors.New("store: outcome unknown")
)

// Position is a place in the store's own dense order 1, 2, 3, ...; it is a cursor and nothing else.
type Position uint64

// Identity is made once, at first start, and kept with the data.
type Identity struct {
	Outfit  uuid.UUID
	Account uuid.UUID // the guide of this installation
	Journal uuid.UUID // this installation's own journal
	Epoch   uuid.UUID // random; renewed by restore
	Made    time.Time
}

// Store keeps journals and blobs. Methods may be called concurrently.
type Store interface {
	// Identity gives the installation's identity.
	Identity(ctx context.Context) (Identity, error)

	// Append chains drafts onto the installation's journal, all or none, and returns the sealed entries after they are
	// durable. A draft whose act id this journal holds already is not stored again: the held entry is returned in its
	// place. So a repeated call is harmless. An empty call returns nothing and no error.
	Append(ctx context.Context, drafts []journal.Draft) ([]journal.Entry, error)

	// AppendEach appends as Append does, all or none, for so many drafts that they should not lie in memory together: it
	// takes each when it is needed and answers only how many were not held before. The drafts are asked for once.
	AppendEach(ctx context.Context, drafts iter.Seq[journal.Draft]) (added int, err error)

	// Put stores sealed entries verbatim, all or none: of other journals, or of the own one when restoring. Entries
	// must follow their journals' heads in order; those held already with the same hash are passed over.
	// It answers how many were new. ErrFork, ErrGap.
	Put(ctx context.Context, entries []journal.Entry) (int, error)

	// Read calls fn for every entry after a position, in position order, until fn fails or entries end: at least all
	// that were there when it was called. The entry is fn's to keep and not to change. Every entry handed out has been
	// checked against its hash and against the entry before it; at the first one that does not hold, Read ends with a
	// damaged fault that names it.
	Read(ctx context.Context, after Position, fn func(Position, *journal.Entry) error) error

	// Heads gives the end of every journal held.
	Heads(ctx context.Context) (map[uuid.UUID]journal.Head, error)

	// PutBlob stores bytes under their SHA-256, durably. Storing the same bytes again is no error.
	PutBlob(ctx context.Context, data []byte) (journal.Hash, error)

	// Blob gives the bytes back, checked against the hash. ErrNotFound.
	Blob(ctx context.Context, h journal.Hash) ([]byte, error)

	// PutText stores a name or free text with a random salt, so that the hash tells nothing of the text and the text
	// can be erased while every chain stays whole.
	PutText(ctx context.Context, text string) (journal.Text, error)

	// PutTexts stores texts as PutText does, all or none, and gives their names in order. Many at once cost one wait for
	// the disk. An empty call returns nothing and no error.
	PutTexts(ctx context.Context, texts []string) ([]journal.Text, error)

	// Text gives the text back. ErrNotFound when it was erased.
	Text(ctx context.Context, t journal.Text) (string, error)

	// EraseText forgets a text for good. Erasing what is not there is no error.
	EraseText(ctx context.Context, t journal.Text) error

	// Blobs calls fn with the hash of every blob, in order of hash.
	Blobs(ctx context.Context, fn func(journal.Hash) error) error

	// Texts calls fn with every text that has not been erased, in order of hash.
	Texts(ctx context.Context, fn func(Salted) error) error

	// PutSalted stores a text with a salt it has already, so that it moves between stores under the same name.
	PutSalted(ctx context.Context, s Salted) (journal.Text, error)

	// Verify reads everything: chains, hashes, positions, blobs, and what the store itself can check. Damage is in the
	// audit, not in the error; the error says that the audit could not be finished.
	Verify(ctx context.Context) (Audit, error)

	// Close releases the store.
	Close() error
}

// Audit is the outcome of reading everything.
type Audit struct {
	Journals int
	Entries  int
	Blobs    int
	Texts    int
	Damage   []Damage
}

// Damage names one thing that does not verify.
type Damage struct {
	Where string // journal and number, blob hash, or part of the store
	What  string
}

// Sound tells whether nothing was found damaged.
func (a Audit) Sound() bool { return len(a.Damage) == 0 }
