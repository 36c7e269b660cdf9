// Package storetest holds every store to the words of package store: one suite for memory, SQLite and whatever follows.
//
// Start with [Run]. A store passes when it passes whole; there are no options to leave parts out, except that a store
// which keeps nothing beyond Close is not reopened. It leaves out crashes and disks, which each store tests itself.
package storetest

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// Fresh is one new, empty store and what the suite may do behind its back.
type Fresh struct {
	Store store.Store
	// Reopen closes the store and opens the same data again; nil when nothing outlives Close.
	Reopen func(t *testing.T) store.Store
	// FlipBody changes one bit in the stored body of the entry at a position, behind the store's back.
	FlipBody func(t *testing.T, pos store.Position)
	// FlipBlob changes one bit of a stored blob behind the store's back.
	FlipBlob func(t *testing.T, h journal.Hash)
}

// Run runs the suite; fresh makes an empty store and registers its clean-up.
func Run(t *testing.T, fresh func(t *testing.T) Fresh) {
	for name, test := range map[string]func(*testing.T, Fresh){
		"Identity": identity, "AppendChains": appendChains, "AppendNothing": appendNothing, "AppendRepeats": appendRepeats,
		"AppendAllOrNone": appendAllOrNone, "AppendKeepsItsOwnBytes": appendKeepsItsOwnBytes, "AppendMergesClocks": appendMergesClocks,
		"AppendEachRepeats": appendEachRepeats, "AppendEachAllOrNone": appendEachAllOrNone,
		"PutVerbatim": putVerbatim, "PutForkAndGap": putForkAndGap, "PutDamaged": putDamaged, "ReadFromCursor": readFromCursor,
		"ReadWhileAppending": readWhileAppending, "OddText": oddText, "Heads": heads, "Blobs": blobs, "Texts": texts, "MovedTexts": movedTexts,
		"VerifyFindsDamage": verifyFindsDamage, "Concurrent": concurrent, "Cancelled": cancelled, "Reopen": reopen,
	} {
		t.Run(name, func(t *testing.T) {
			f := fresh(t)
			test(t, f)
		})
	}
}

// T0 is the instant at which the suite's days begin.
var T0 = time.Date(2026, 1, 15, 9, 50, 0, 0, time.UTC)

// Author writes the suite's drafts.
var Author = journal.Author{Outfit: uuid.UUID{0xa1}, Lake: uuid.UUID{0xa2}, Account: uuid.UUID{0xa3}, Boot: uuid.UUID{0xa4}, Started: T0}

// Drafts makes n drafts of looks, a second apart, with fresh act ids.
func Drafts(n int) []journal.Draft {
	out := make([]journal.Draft, n)
	for i := range out {
		at := T0.Add(time.Duration(i) * time.Second)
		out[i] = Author.Draft(uuid.Nil, at, at, &journal.Look{Hole: uuid.UUID{0xb1, byte(i)}, Seconds: 30, Marks: "none"})
	}
	return out
}

// Foreign seals drafts into another installation's journal.
func Foreign(t testing.TB, id uuid.UUID, drafts []journal.Draft) []journal.Entry {
	t.Helper()
	head := journal.Head{Journal: id}
	out := make([]journal.Entry, len(drafts))
	for i, d := range drafts {
		e, err := journal.Seal(head, d)
		if err != nil {
			t.Fatal(err)
		}
		out[i], head = e, journal.HeadOf(&e)
	}
	return out
}

// ReadAll gives all entries after a position and requires dense positions.
func ReadAll(t testing.TB, s store.Store, after store.Position) []journal.Entry {
	t.Helper()
	var out []journal.Entry
	err := s.Read(t.Context(), after, func(pos store.Position, e *journal.Entry) error {
		if want := after + store.Position(len(out)) + 1; pos != want {
			return fmt.Errorf("position %d, want %d", pos, want)
		}
		out = append(out, *e)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Append appends and requires success.
func Append(t testing.TB, s store.Store, drafts []journal.Draft) []journal.Entry {
	t.Helper()
	es, err := s.Append(t.Context(), drafts)
	if err != nil {
		t.Fatal(err)
	}
	if len(es) != len(drafts) {
		t.Fatalf("%d entries for %d drafts", len(es), len(drafts))
	}
	return es
}

// Sound requires a sound audit of so many entries.
func Sound(t testing.TB, s store.Store, entries int) {
	t.Helper()
	a, err := s.Verify(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if !a.Sound() || a.Entries != entries {
		t.Errorf("audit %+v, want %d entries and no damage", a, entries)
	}
}

func same[T any](t testing.TB, what string, got, want T) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("%s (-want +got):\n%s", what, d)
	}
}

func put(t testing.TB, s store.Store, es []journal.Entry, want int) {
	t.Helper()
	n, err := s.Put(context.Background(), es)
	if err != nil || n != want {
		t.Errorf("put %d entries: %d new, %v; want %d new", len(es), n, err, want)
	}
}
