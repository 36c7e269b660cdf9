package store

import (
	"context"
	"crypto/sha256"

	"github.com/google/uuid"

	"icehand/internal/trade/journal"
)

// Replica is a store that can be kept in step with others: what package syncing needs beyond [Store]. The suite
// storetest.RunReplica holds implementations to these words.
type Replica interface {
	Store

	// Last gives the position of the last entry, 0 when there is none.
	Last(ctx context.Context) (Position, error)

	// Find gives the entry at a place, checked against its hash. ErrNotFound.
	Find(ctx context.Context, p Place) (journal.Entry, error)

	// Become replaces the installation's identity, durably: a new journal to write after this one was found to be set
	// back, the outfit and account that a phone joins, a new epoch. What is held stays as it is.
	Become(ctx context.Context, id Identity) error

	// Rehome moves the end of a journal, all that stands after a place, into a journal of its own (see [Rehomed]), since
	// another content has those numbers elsewhere. Acts, clocks, times and bodies stay; nothing is held twice. It answers
	// how many entries moved. All or none, durably. Positions are given out anew: every cursor starts over.
	Rehome(ctx context.Context, after Place) (int, error)
}

// BranchID names the journal into which the end of a journal moves that begins with an entry. It follows from that entry
// alone, so that every replica that holds the same end makes the same journal of it. It is a UUID of version 8.
func BranchID(first *journal.Entry) uuid.UUID {
	h := sha256.New()
	h.Write([]byte("branch"))
	h.Write(first.Journal[:])
	h.Write(first.Hash[:])
	var id uuid.UUID
	copy(id[:], h.Sum(nil))
	id[6] = id[6]&0x0f | 0x80
	id[8] = id[8]&0x3f | 0x80
	return id
}

// IsBranch tells whether a journal was made by moving the end of another.
func IsBranch(id uuid.UUID) bool { return id.Version() == 8 }

// Rehomed gives the entries to store in place of the end of a journal: those of its branch that are not held already.
// Should the branch itself be held with another content from some number on, the rest branches off from it in turn.
func Rehomed(tail []journal.Entry, heads map[uuid.UUID]journal.Head, held Held[Place]) ([]journal.Entry, error) {
	for len(tail) > 0 {
		head := journal.Head{Journal: BranchID(&tail[0])}
		end := heads[head.Journal].N
		branch := make([]journal.Entry, len(tail))
		for i := range tail {
			branch[i] = journal.Move(head, &tail[i])
			head = journal.HeadOf(&branch[i])
		}
		i := 0
		for ; i < len(branch) && branch[i].N <= end; i++ {
			old, ok, err := held(Place{branch[i].Journal, branch[i].N})
			if err != nil {
				return nil, err
			}
			if !ok || old.Hash != branch[i].Hash {
				break
			}
		}
		if i == len(branch) || branch[i].N > end {
			return branch[i:], nil
		}
		tail = branch[i:]
	}
	return nil, nil
}
