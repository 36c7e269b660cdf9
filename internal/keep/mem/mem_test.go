package mem

import (
	"bytes"
	"testing"

	"icehand/internal/keep/store"
	"icehand/internal/keep/storetest"
	"icehand/internal/trade/journal"
)

func TestStore(t *testing.T)   { storetest.Run(t, fresh) }
func TestReplica(t *testing.T) { storetest.RunReplica(t, fresh) }

func fresh(t *testing.T) storetest.Fresh {
	s := New(store.NewIdentity(storetest.T0))
	t.Cleanup(func() { s.Close() })
	return storetest.Fresh{
		Store: s,
		FlipBody: func(t *testing.T, pos store.Position) {
			e := s.entries[pos-1]
			e.Body = bytes.Clone(e.Body)
			e.Body[5] ^= 1
		},
		FlipBlob: func(t *testing.T, h journal.Hash) { s.blobs[h][0] ^= 1 },
	}
}
