package storetest

import (
	"errors"
	"slices"
	"testing"

	"github.com/google/uuid"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// RunReplica holds a store to the words of [store.Replica]; fresh makes an empty one, as for [Run].
func RunReplica(t *testing.T, fresh func(t *testing.T) Fresh) {
	for name, test := range map[string]func(*testing.T, Fresh, store.Replica){
		"Last": last, "Find": find, "Become": become, "Rehome": rehome, "RehomeHeld": rehomeHeld, "RehomeBranch": rehomeBranch, "RehomeOwn": rehomeOwn,
	} {
		t.Run(name, func(t *testing.T) {
			f := fresh(t)
			r, ok := f.Store.(store.Replica)
			if !ok {
				t.Fatalf("%T is no replica", f.Store)
			}
			test(t, f, r)
		})
	}
}

func last(t *testing.T, f Fresh, r store.Replica) {
	for _, want := range []store.Position{0, 3, 5} {
		if got, err := r.Last(t.Context()); got != want || err != nil {
			t.Errorf("last position %d, %v; want %d", got, err, want)
		}
		Append(t, r, Drafts(3-int(want)/3))
	}
}

func find(t *testing.T, f Fresh, r store.Replica) {
	a := Foreign(t, uuid.UUID{7}, Drafts(3))
	put(t, r, a, 3)
	own := Append(t, r, Drafts(2))
	for _, want := range append(slices.Clone(a), own...) {
		got, err := r.Find(t.Context(), store.Place{Journal: want.Journal, N: want.N})
		if err != nil {
			t.Fatal(err)
		}
		same(t, "found", got, want)
	}
	for _, p := range []store.Place{{Journal: uuid.UUID{7}, N: 4}, {Journal: uuid.UUID{7}}, {Journal: uuid.UUID{8}, N: 1}} {
		if _, err := r.Find(t.Context(), p); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("%v: %v", p, err)
		}
	}
	f.FlipBody(t, 2)
	if _, err := r.Find(t.Context(), store.Place{Journal: uuid.UUID{7}, N: 2}); err == nil {
		t.Error("a damaged entry was found as if it were whole")
	}
}

func become(t *testing.T, f Fresh, r store.Replica) {
	first := Append(t, r, Drafts(2))
	want := store.NewIdentity(T0)
	if err := r.Become(t.Context(), want); err != nil {
		t.Fatal(err)
	}
	s := store.Store(r)
	for range 2 {
		if got, err := s.Identity(t.Context()); err != nil || got != want {
			t.Errorf("identity %+v, %v; want %+v", got, err, want)
		}
		if f.Reopen == nil {
			break
		}
		s, f.Reopen = f.Reopen(t), nil
	}
	e := Append(t, s, Drafts(1))[0]
	if e.Journal != want.Journal || e.N != 1 || e.HLC <= first[1].HLC {
		t.Errorf("the first entry of the new journal is %+v", e)
	}
	Sound(t, s, 3)
}

// The end of a journal moves as it was; others, and what stands before, stay; the place is free for the other content.
func rehome(t *testing.T, f Fresh, r store.Replica) {
	a, b := Foreign(t, uuid.UUID{7}, Drafts(5)), Foreign(t, uuid.UUID{8}, Drafts(4))
	put(t, r, []journal.Entry{a[0], b[0], a[1], a[2], b[1], a[3], b[2], a[4], b[3]}, 9)
	if n, err := r.Rehome(t.Context(), store.Place{Journal: uuid.UUID{7}, N: 5}); n != 0 || err != nil {
		t.Errorf("nothing to move: %d, %v", n, err)
	}
	if n, err := r.Rehome(t.Context(), store.Place{Journal: uuid.UUID{7}, N: 2}); n != 3 || err != nil {
		t.Fatalf("moved %d, %v", n, err)
	}
	got := ReadAll(t, r, 0)
	same(t, "what stays", got[:6], []journal.Entry{a[0], b[0], a[1], b[1], b[2], b[3]})
	to := store.BranchID(&a[2])
	if !store.IsBranch(to) || store.IsBranch(uuid.New()) {
		t.Errorf("%s cannot be told from an ordinary journal", to)
	}
	for i, e := range got[6:] {
		was := a[2+i]
		if e.Journal != to || e.N != uint64(i+1) {
			t.Errorf("entry %d moved to %d of %s", was.N, e.N, e.Journal)
		}
		was.Journal, was.N, was.Prev, was.Hash = e.Journal, e.N, e.Prev, e.Hash
		same(t, "moved", e, was)
	}
	other := Foreign(t, uuid.UUID{7}, Drafts(1))[0]
	d := Drafts(1)[0]
	d.ID = other.ID
	next, err := journal.Seal(journal.HeadOf(&a[1]), d)
	if err != nil {
		t.Fatal(err)
	}
	put(t, r, []journal.Entry{next}, 1)
	Sound(t, r, 10)
	if f.Reopen != nil {
		Sound(t, f.Reopen(t), 10)
	}
}

// What the branch holds already is not held twice.
func rehomeHeld(t *testing.T, f Fresh, r store.Replica) {
	a := Foreign(t, uuid.UUID{7}, Drafts(4))
	first := journal.Move(journal.Head{Journal: store.BranchID(&a[1])}, &a[1])
	put(t, r, []journal.Entry{a[0], a[1], a[2], first, a[3]}, 5)
	if n, err := r.Rehome(t.Context(), store.Place{Journal: uuid.UUID{7}, N: 1}); n != 3 || err != nil {
		t.Fatalf("moved %d, %v", n, err)
	}
	got := ReadAll(t, r, 0)
	if len(got) != 4 || got[1].Hash != first.Hash || got[3].N != 3 || got[3].Journal != first.Journal {
		t.Errorf("%+v", got)
	}
	Sound(t, r, 4)
}

// A branch that is held with another content branches off in turn, the same way everywhere.
func rehomeBranch(t *testing.T, f Fresh, r store.Replica) {
	a := Foreign(t, uuid.UUID{7}, Drafts(3))
	to := store.BranchID(&a[0])
	first := journal.Move(journal.Head{Journal: to}, &a[0])
	d := Drafts(1)[0]
	second, err := journal.Seal(journal.HeadOf(&first), d)
	if err != nil {
		t.Fatal(err)
	}
	put(t, r, append([]journal.Entry{first, second}, a...), 5)
	if n, err := r.Rehome(t.Context(), store.Place{Journal: uuid.UUID{7}}); n != 3 || err != nil {
		t.Fatalf("moved %d, %v", n, err)
	}
	moved := journal.Move(journal.HeadOf(&first), &a[1])
	heads, err := r.Heads(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if h := heads[store.BranchID(&moved)]; h.N != 2 || h.HLC != a[2].HLC || len(heads) != 2 {
		t.Errorf("heads %v", heads)
	}
	Sound(t, r, 4)
}

// The own journal can be moved as well: what was written under numbers given out a second time.
func rehomeOwn(t *testing.T, f Fresh, r store.Replica) {
	drafts := Drafts(4)
	own := Append(t, r, drafts)
	if n, err := r.Rehome(t.Context(), store.Place{Journal: own[0].Journal, N: 2}); n != 2 || err != nil {
		t.Fatalf("moved %d, %v", n, err)
	}
	again := Append(t, r, drafts[1:2])[0]
	same(t, "an act that stayed", again, own[1])
	if e := Append(t, r, Drafts(1))[0]; e.N != 3 || e.Prev != own[1].Hash {
		t.Errorf("the journal goes on with %+v", e)
	}
	Sound(t, r, 5)
}
