package browser

import (
	"bytes"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"icehand/internal/keep/store"
	"icehand/internal/keep/storetest"
)

// TestRecordRoundTrip: what is written is read back, whatever the fields hold; a record that was cut or has a tail is refused.
func TestRecordRoundTrip(t *testing.T) {
	drafts := storetest.Drafts(3)
	drafts[1].Kind, drafts[1].Version, drafts[1].Zone, drafts[1].Body = "moonbeam", 40, "雪", []byte(`{ "x" : 1.50 }`)
	drafts[2].At, drafts[2].Wall, drafts[2].Mono = -1, 1<<62, -(1 << 62)
	for i, e := range storetest.Foreign(t, uuid.UUID{7}, drafts) {
		b := appendRecord(nil, store.Position(i+1), &e)
		pos, back, err := parseRecord(b)
		if err != nil || pos != store.Position(i+1) || !cmp.Equal(back, e) {
			t.Errorf("entry %d: position %d, %v:\n%s", i, pos, err, cmp.Diff(e, back))
		}
		for n := range b {
			if _, _, err := parseRecord(b[:n]); err == nil {
				t.Fatalf("a record cut after %d of %d bytes was read", n, len(b))
			}
		}
		if _, _, err := parseRecord(append(bytes.Clone(b), 0)); err == nil {
			t.Error("a record with a tail was read")
		}
	}
}
