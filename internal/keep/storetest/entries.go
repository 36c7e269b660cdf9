package storetest

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

func identity(t *testing.T, f Fresh) {
	a, err := f.Store.Identity(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	seen := map[uuid.UUID]bool{uuid.Nil: true}
	for _, id := range []uuid.UUID{a.Outfit, a.Account, a.Journal, a.Epoch} {
		if seen[id] {
			t.Errorf("identity %+v has a zero or repeated id", a)
		}
		seen[id] = true
	}
	b, err := f.Store.Identity(t.Context())
	if err != nil || a != b {
		t.Errorf("identity changed from %+v to %+v, %v", a, b, err)
	}
}

func appendChains(t *testing.T, f Fresh) {
	id, _ := f.Store.Identity(t.Context())
	drafts := Drafts(1000) // more than one batch of any store
	es := Append(t, f.Store, drafts[:1])
	es = append(es, Append(t, f.Store, drafts[1:4])...)
	es = append(es, Append(t, f.Store, drafts[4:])...)
	head := journal.Head{Journal: id.Journal}
	for i := range es {
		if err := journal.Verify(head, &es[i]); err != nil {
			t.Fatal(err)
		}
		if es[i].ID != drafts[i].ID || !bytes.Equal(es[i].Body, drafts[i].Body) || es[i].HLC <= head.HLC {
			t.Fatalf("draft %d became %+v", i, es[i])
		}
		head = journal.HeadOf(&es[i])
	}
	same(t, "read back", ReadAll(t, f.Store, 0), es)
	Sound(t, f.Store, len(es))
}

func appendNothing(t *testing.T, f Fresh) {
	es, err := f.Store.Append(t.Context(), nil)
	if err != nil || len(es) != 0 {
		t.Errorf("nothing appended gave %v, %v", es, err)
	}
	put(t, f.Store, nil, 0)
	if got := ReadAll(t, f.Store, 0); len(got) != 0 {
		t.Errorf("an empty store holds %v", got)
	}
	Sound(t, f.Store, 0)
}

func appendRepeats(t *testing.T, f Fresh) {
	drafts := Drafts(6)
	first := Append(t, f.Store, drafts[:4])
	same(t, "the same call again", Append(t, f.Store, drafts[:4]), first)
	mixed := Append(t, f.Store, []journal.Draft{drafts[4], drafts[2], drafts[5], drafts[4]})
	same(t, "held act", mixed[1], first[2])
	same(t, "act twice in one call", mixed[3], mixed[0])
	changed := drafts[0]
	changed.Body = []byte(`{"hole":"b1000000-0000-0000-0000-000000000000","seconds":99,"marks":"many"}`)
	same(t, "an act is known by its id alone", Append(t, f.Store, []journal.Draft{changed})[0], first[0])
	if got := ReadAll(t, f.Store, 0); len(got) != 6 {
		t.Errorf("%d entries of 6 acts", len(got))
	}
	// An act that another journal holds is not held by this one.
	other := Foreign(t, uuid.UUID{7}, Drafts(1))
	put(t, f.Store, other, 1)
	d := Drafts(1)[0]
	d.ID = other[0].ID
	if e := Append(t, f.Store, []journal.Draft{d})[0]; e.N != 7 || e.Journal == other[0].Journal {
		t.Errorf("an act of another journal gave %+v", e)
	}
	Sound(t, f.Store, 8)
}

func appendAllOrNone(t *testing.T, f Fresh) {
	drafts := Drafts(300)
	for name, spoil := range map[string]func(*journal.Draft){
		"id": func(d *journal.Draft) { d.ID = uuid.Nil }, "body": func(d *journal.Draft) { d.Body = []byte(`{"a":1`) },
		"line": func(d *journal.Draft) { d.Body = []byte("{\"a\":\n1}") }, "day": func(d *journal.Draft) { d.Day = "2026-02-30" },
		"NUL": func(d *journal.Draft) { d.Zone = "UTC\x00" }, "UTF-8": func(d *journal.Draft) { d.Zone = "UTC\xff" },
		"large": func(d *journal.Draft) {
			d.Body = fmt.Appendf(nil, `{"a":%q}`, bytes.Repeat([]byte("a"), journal.MaxBody))
		},
	} {
		bad := slices.Clone(drafts)
		spoil(&bad[299])
		if _, err := f.Store.Append(t.Context(), bad); fault.CodeOf(err) != fault.BadInput {
			t.Errorf("%s: %v", name, err)
		}
		if got := ReadAll(t, f.Store, 0); len(got) != 0 {
			t.Errorf("%s: %d entries of a refused call are there", name, len(got))
		}
	}
	es := Append(t, f.Store, drafts)
	if es[299].N != 300 {
		t.Errorf("refused calls left a gap: %d", es[299].N)
	}
}

// Appending one by one gives the journal that appending at once gives, and counts an act once.
func appendEachRepeats(t *testing.T, f Fresh) {
	drafts := Drafts(3000)
	Append(t, f.Store, drafts[:2])
	each := func(what string, want int, drafts ...journal.Draft) {
		t.Helper()
		if n, err := f.Store.AppendEach(t.Context(), slices.Values(drafts)); err != nil || n != want {
			t.Errorf("%s: %d are new, %v; want %d", what, n, err, want)
		}
	}
	each("nothing", 0)
	each("with two that are held and one said again much later", 2998, append(slices.Clone(drafts), drafts[5])...)
	each("the same again", 0, drafts...)
	got := ReadAll(t, f.Store, 0)
	if len(got) != len(drafts) {
		t.Fatalf("%d entries of %d acts", len(got), len(drafts))
	}
	for i, e := range got {
		if e.ID != drafts[i].ID || e.N != uint64(i+1) || !bytes.Equal(e.Body, drafts[i].Body) {
			t.Fatalf("entry %d is %+v", i, e)
		}
	}
	Sound(t, f.Store, len(drafts))
}

func appendEachAllOrNone(t *testing.T, f Fresh) {
	drafts := Drafts(3000)
	bad := slices.Clone(drafts)
	bad[2999].Day = "2026-02-30"
	if n, err := f.Store.AppendEach(t.Context(), slices.Values(bad)); fault.CodeOf(err) != fault.BadInput || n != 0 {
		t.Errorf("a malformed last draft: %d, %v", n, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	n, err := f.Store.AppendEach(ctx, func(yield func(journal.Draft) bool) {
		for i, d := range drafts {
			if i == 2500 {
				cancel()
			}
			if !yield(d) {
				return
			}
		}
	})
	if !errors.Is(err, context.Canceled) || n != 0 {
		t.Errorf("cancelled on the way: %d, %v", n, err)
	}
	if got := ReadAll(t, f.Store, 0); len(got) != 0 {
		t.Errorf("%d entries of refused calls are there", len(got))
	}
	if es := Append(t, f.Store, drafts[:1]); es[0].N != 1 {
		t.Errorf("refused calls left a gap: %d", es[0].N)
	}
}

func appendKeepsItsOwnBytes(t *testing.T, f Fresh) {
	d := Drafts(1)
	es := Append(t, f.Store, d)
	d[0].Body[2] ^= 1 // the caller's slice is the caller's
	if got := ReadAll(t, f.Store, 0); got[0].Body[2] == d[0].Body[2] {
		t.Error("the store kept the caller's slice")
	}
	same(t, "read back", ReadAll(t, f.Store, 0)[0].Hash, es[0].Hash)
}

// What is written after another journal's entry was seen sorts after it, unless that clock is wrong.
func appendMergesClocks(t *testing.T, f Fresh) {
	ahead := Drafts(1)
	ahead[0].Wall = T0.Add(3 * time.Minute).UnixMilli()
	seen := Foreign(t, uuid.UUID{7}, ahead)
	put(t, f.Store, seen, 1)
	wrong := Drafts(1)
	wrong[0].Wall = T0.Add(3 * time.Hour).UnixMilli()
	off := Foreign(t, uuid.UUID{8}, wrong)
	put(t, f.Store, off, 1)
	e := Append(t, f.Store, Drafts(1))[0]
	if journal.Compare(&seen[0], &e) >= 0 {
		t.Error("an entry written later sorts before the one seen")
	}
	if journal.Compare(&off[0], &e) <= 0 {
		t.Error("a clock three hours ahead was merged")
	}
}

func putVerbatim(t *testing.T, f Fresh) {
	drafts := Drafts(5)
	drafts[1].Kind, drafts[1].Version, drafts[1].Body = "moonbeam", 40, []byte(`{ "x" : 1.50, "x":2, "\u0041":"\ud800" }`)
	drafts[2].At, drafts[2].Wall, drafts[2].Mono = -1, 1<<62, -(1 << 62)
	a, b := Foreign(t, uuid.UUID{7}, drafts), Foreign(t, uuid.UUID{8}, drafts)
	put(t, f.Store, a[:2], 2)
	put(t, f.Store, []journal.Entry{b[0], a[1], a[2], b[1], b[1]}, 3) // journals mixed, some held
	put(t, f.Store, append(slices.Clone(a), b...), 5)
	put(t, f.Store, append(slices.Clone(a), b...), 0)
	same(t, "read back", ReadAll(t, f.Store, 0), slices.Concat(a[:2], b[:1], a[2:3], b[1:2], a[3:], b[2:]))
	Sound(t, f.Store, 10)
}

func putForkAndGap(t *testing.T, f Fresh) {
	drafts := Drafts(5)
	a := Foreign(t, uuid.UUID{7}, drafts)
	fork := Foreign(t, uuid.UUID{7}, Drafts(5))
	put(t, f.Store, a[:3], 3)
	for name, c := range map[string]struct {
		es   []journal.Entry
		want error
	}{
		"other content": {fork[1:2], store.ErrFork}, "next of another chain": {fork[3:4], store.ErrFork}, "gap": {a[4:], store.ErrGap},
		"gap after good ones": {[]journal.Entry{a[0], a[4]}, store.ErrGap}, "fork after good ones": {[]journal.Entry{a[3], a[4], fork[0]}, store.ErrFork},
		"gap at the start": {Foreign(t, uuid.UUID{9}, drafts)[1:], store.ErrGap},
	} {
		if n, err := f.Store.Put(t.Context(), c.es); !errors.Is(err, c.want) || n != 0 {
			t.Errorf("%s: %d, %v", name, n, err)
		}
	}
	same(t, "nothing of a refused call", ReadAll(t, f.Store, 0), a[:3])
	put(t, f.Store, a, 2)
}

func putDamaged(t *testing.T, f Fresh) {
	a := Foreign(t, uuid.UUID{7}, Drafts(3))
	bad := slices.Clone(a)
	bad[2].Body = bytes.Clone(bad[2].Body)
	bad[2].Body[10] ^= 1
	if _, err := f.Store.Put(t.Context(), bad); fault.CodeOf(err) != fault.Damaged {
		t.Errorf("a changed body: %v", err)
	}
	if got := ReadAll(t, f.Store, 0); len(got) != 0 {
		t.Error("part of a damaged call was stored")
	}
}

func readFromCursor(t *testing.T, f Fresh) {
	es := Append(t, f.Store, Drafts(20))
	for _, after := range []store.Position{0, 1, 7, 19, 20, 99} {
		same(t, fmt.Sprint("after ", after), ReadAll(t, f.Store, after), append([]journal.Entry(nil), es[min(int(after), 20):]...))
	}
	stop := errors.New("enough")
	calls := 0
	err := f.Store.Read(t.Context(), 3, func(pos store.Position, _ *journal.Entry) error {
		if calls++; calls == 2 {
			return stop
		}
		return nil
	})
	if !errors.Is(err, stop) || calls != 2 {
		t.Errorf("stopped with %v after %d calls", err, calls)
	}
	// entries are the reader's to keep
	var kept []*journal.Entry
	f.Store.Read(t.Context(), 0, func(_ store.Position, e *journal.Entry) error { kept = append(kept, e); return nil })
	for i, e := range kept {
		same(t, "kept entry", *e, es[i])
	}
}

func readWhileAppending(t *testing.T, f Fresh) {
	Append(t, f.Store, Drafts(5))
	read := 0
	err := f.Store.Read(t.Context(), 0, func(pos store.Position, _ *journal.Entry) error {
		read++
		if read <= 5 {
			_, err := f.Store.Append(t.Context(), Drafts(2)) // the reader may write
			return err
		}
		return nil
	})
	if err != nil || read < 5 {
		t.Errorf("read %d, %v", read, err)
	}
	if got := ReadAll(t, f.Store, 0); len(got) != 15 {
		t.Errorf("%d entries, want 15", len(got))
	}
	Sound(t, f.Store, 15)
}

// Bytes are compared as bytes: nothing folds case, trims or normalises.
func oddText(t *testing.T, f Fresh) {
	var drafts []journal.Draft
	for _, s := range []string{"UTC", "utc", "UTC ", " UTC", "\u00e9", "e\u0301", "", "Ørnes", "雪", "🎣", "'; drop table entry; --", "%_\\", "\u202eabc"} {
		d := Drafts(1)[0]
		body, err := json.Marshal(map[string]string{"text": s})
		if err != nil {
			t.Fatal(err)
		}
		d.Zone, d.Kind, d.Body = s, journal.Kind("k"+s), body
		drafts = append(drafts, d)
	}
	es := Append(t, f.Store, drafts)
	same(t, "read back", ReadAll(t, f.Store, 0), es)
}

func heads(t *testing.T, f Fresh) {
	got, err := f.Store.Heads(t.Context())
	if err != nil || len(got) != 0 {
		t.Errorf("an empty store has heads %v, %v", got, err)
	}
	a, b := Foreign(t, uuid.UUID{7}, Drafts(12)), Foreign(t, uuid.UUID{0xff, 1}, Drafts(3))
	put(t, f.Store, a, 12)
	put(t, f.Store, b, 3)
	own := Append(t, f.Store, Drafts(2))
	want := map[uuid.UUID]journal.Head{}
	for _, e := range []*journal.Entry{&a[11], &b[2], &own[1]} {
		want[e.Journal] = journal.HeadOf(e)
	}
	got, err = f.Store.Heads(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	same(t, "heads", got, want)
}

func concurrent(t *testing.T, f Fresh) {
	const writers, each = 8, 12
	shared := Drafts(4) // every writer tries these acts too
	var wg sync.WaitGroup
	for w := range writers {
		wg.Go(func() {
			for i := range each {
				if _, err := f.Store.Append(t.Context(), append(Drafts(2), shared[i%4])); err != nil {
					t.Errorf("writer %d: %v", w, err)
				}
				if _, err := f.Store.PutBlob(t.Context(), fmt.Appendf(nil, "blob %d", i)); err != nil {
					t.Errorf("writer %d: %v", w, err)
				}
			}
		})
	}
	for range 2 {
		wg.Go(func() {
			var last store.Position
			for last < writers*each*2+4 && t.Context().Err() == nil && !t.Failed() {
				err := f.Store.Read(t.Context(), last, func(pos store.Position, e *journal.Entry) error {
					if pos != last+1 || e.N != uint64(pos) {
						return fmt.Errorf("position %d, number %d after %d", pos, e.N, last)
					}
					last = pos
					return nil
				})
				if err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	Sound(t, f.Store, writers*each*2+4)
}

func cancelled(t *testing.T, f Fresh) {
	Append(t, f.Store, Drafts(3))
	ctx, cancel := context.WithCancel(t.Context())
	err := f.Store.Read(ctx, 0, func(pos store.Position, _ *journal.Entry) error {
		cancel()
		return nil
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("a read cancelled on the way ended with %v", err)
	}
	_, e1 := f.Store.Append(ctx, Drafts(1))
	_, e2 := f.Store.Put(ctx, Foreign(t, uuid.UUID{7}, Drafts(1)))
	_, e3 := f.Store.PutBlob(ctx, []byte("x"))
	_, e4 := f.Store.PutText(ctx, "x")
	_, e5 := f.Store.Verify(ctx)
	_, e6 := f.Store.Heads(ctx)
	_, e7 := f.Store.PutTexts(ctx, []string{"x"})
	_, e8 := f.Store.AppendEach(ctx, slices.Values(Drafts(1)))
	for i, err := range []error{e1, e2, e3, e4, e5, e6, e7, e8} {
		if !errors.Is(err, context.Canceled) {
			t.Errorf("call %d answered %v", i+1, err)
		}
	}
	Sound(t, f.Store, 3)
}

func reopen(t *testing.T, f Fresh) {
	if f.Reopen == nil {
		return // nothing outlives Close
	}
	id, err := f.Store.Identity(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	es := Append(t, f.Store, Drafts(3))
	text, _ := f.Store.PutText(t.Context(), "Ola")
	blob, _ := f.Store.PutBlob(t.Context(), []byte("outline"))
	s := f.Reopen(t)
	again, err := s.Identity(t.Context())
	if err != nil || again != id {
		t.Errorf("identity became %+v, %v", again, err)
	}
	es = append(es, Append(t, s, Drafts(2))...)
	same(t, "read back", ReadAll(t, s, 0), es)
	if got, err := s.Text(t.Context(), text); got != "Ola" {
		t.Error(got, err)
	}
	if got, err := s.Blob(t.Context(), blob); string(got) != "outline" {
		t.Error(got, err)
	}
	Sound(t, s, 5)
}
