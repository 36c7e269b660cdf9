//go:build js && wasm

package browser

import (
	"bytes"
	"fmt"
	"syscall/js"
	"testing"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/keep/storetest"
	"icehand/internal/trade/journal"
)

// These run inside a browser: see TestInBrowser.

var opened int

func fresh(t *testing.T) (*Store, func(t *testing.T) store.Store) {
	t.Helper()
	opened++
	name := fmt.Sprint("test ", opened)
	s, err := Open(t.Context(), Options{Name: name})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		s.Close()
		if err := Delete(name); err != nil {
			t.Error(err)
		}
	})
	return s, func(t *testing.T) store.Store {
		s.Close()
		again, err := Open(t.Context(), Options{Name: name})
		if err != nil {
			t.Fatal(err)
		}
		if again.Made() {
			t.Error("a store that was there says that it has just been made")
		}
		t.Cleanup(func() { again.Close() })
		return again
	}
}

// spoil changes a stored value behind the store's back.
func spoil(t *testing.T, s *Store, name string, key any, change func([]byte)) {
	t.Helper()
	var v js.Value
	if err := s.transact(false, []string{name}, func(st func(string) js.Value) { v = st(name).Call("get", key) }); err != nil {
		t.Fatal(err)
	}
	b, ok := fromJS(v.Get("result"))
	if !ok {
		t.Fatalf("nothing is stored in %s under %v", name, key)
	}
	change(b)
	if err := s.transact(true, []string{name}, func(st func(string) js.Value) { st(name).Call("put", toJS(b), key) }); err != nil {
		t.Fatal(err)
	}
}

func TestStore(t *testing.T) { storetest.Run(t, suite) }

func TestReplica(t *testing.T) { storetest.RunReplica(t, suite) }

func suite(t *testing.T) storetest.Fresh {
	s, reopen := fresh(t)
	return storetest.Fresh{
		Store: s, Reopen: reopen,
		FlipBody: func(t *testing.T, pos store.Position) {
			spoil(t, s, "entries", int(pos), func(b []byte) {
				at := bytes.Index(b, []byte(`{"hole"`))
				if at < 0 {
					t.Fatal("the record holds no body")
				}
				b[at+5] ^= 1
			})
		},
		FlipBlob: func(t *testing.T, h journal.Hash) { spoil(t, s, "blobs", h.String(), func(b []byte) { b[0] ^= 1 }) },
	}
}

// TestHandleLost: when the browser has closed the connection, the next call opens another and nothing is lost or doubled.
func TestHandleLost(t *testing.T) {
	s, _ := fresh(t)
	drafts := storetest.Drafts(6)
	storetest.Append(t, s, drafts[:3])
	s.conn.close()
	if got := storetest.ReadAll(t, s, 0); len(got) != 3 {
		t.Fatalf("%d entries after the connection was lost", len(got))
	}
	s.conn.close()
	storetest.Append(t, s, drafts)
	storetest.Sound(t, s, 6)
}

// TestCutOff: a write that is cut off is not called saved; repeated, it counts once.
func TestCutOff(t *testing.T) {
	s, _ := fresh(t)
	drafts := storetest.Drafts(2)
	storetest.Append(t, s, drafts[:1])
	cut := s.conn
	timer := js.FuncOf(func(js.Value, []js.Value) any { cut.close(); return nil })
	defer timer.Release()
	js.Global().Call("setTimeout", timer, 0)
	for i := range 50 { // one of them meets the end
		_, err := s.Append(t.Context(), storetest.Drafts(1))
		if err == nil {
			continue
		}
		if fault.CodeOf(err) != fault.NotSaved {
			t.Fatalf("write %d: %v", i, err)
		}
		break
	}
	storetest.Append(t, s, drafts)
	before := len(storetest.ReadAll(t, s, 0))
	storetest.Append(t, s, drafts)
	storetest.Sound(t, s, before)
}

// TestSecondWriter: two writers of one database cannot both have a position; the second is told, and nothing is stored twice.
func TestSecondWriter(t *testing.T) {
	s, _ := fresh(t)
	storetest.Append(t, s, storetest.Drafts(2))
	other, err := Open(t.Context(), Options{Name: s.name})
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	storetest.Append(t, other, storetest.Drafts(1))
	d := storetest.Drafts(1)
	if _, err := s.Append(t.Context(), d); fault.CodeOf(err) != fault.NotSaved {
		t.Fatalf("a second writer was answered with %v", err)
	}
	storetest.Append(t, s, d) // it has read the ends anew
	storetest.Sound(t, s, 4)
}

// TestQuotaFull: when the phone is full, what can be worked out anew goes first; a refused write stores nothing and says so.
func TestQuotaFull(t *testing.T) {
	s, _ := fresh(t)
	s.Keep("surface", make([]byte, 1<<20))
	if len(s.Recall("surface")) != 1<<20 {
		t.Fatal("the shelf kept nothing")
	}
	put := js.Global().Get("IDBObjectStore").Get("prototype").Get("add")
	failures := 0
	count := js.FuncOf(func(js.Value, []js.Value) any { failures++; return failures })
	defer count.Release()
	js.Global().Set("icehandFull", count)
	stub := js.Global().Get("Function").New("n", `const real = IDBObjectStore.prototype.add;
		IDBObjectStore.prototype.add = function (...a) { if (icehandFull() <= n) throw new DOMException("no room", "QuotaExceededError"); return real.apply(this, a); };`)
	defer js.Global().Get("IDBObjectStore").Get("prototype").Set("add", put)
	stub.Invoke(1)
	storetest.Append(t, s, storetest.Drafts(1)) // refused once, then there is room
	if s.Recall("surface") != nil {
		t.Error("the shelf was not cleared to make room")
	}
	failures = 0
	js.Global().Get("IDBObjectStore").Get("prototype").Set("add", put)
	stub.Invoke(9)
	d := storetest.Drafts(1)
	if _, err := s.Append(t.Context(), d); fault.CodeOf(err) != fault.NotSaved {
		t.Errorf("a full phone answered %v", err)
	}
	storetest.Sound(t, s, 1)
	js.Global().Get("IDBObjectStore").Get("prototype").Set("add", put)
	storetest.Append(t, s, d)
	storetest.Sound(t, s, 2)
}

// TestEvicted: a store whose database was removed behind its back refuses to write into an empty one as if nothing had happened.
func TestEvicted(t *testing.T) {
	s, _ := fresh(t)
	storetest.Append(t, s, storetest.Drafts(2))
	if err := Delete(s.name); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Append(t.Context(), storetest.Drafts(1)); fault.CodeOf(err) != fault.Damaged {
		t.Errorf("after eviction: %v", err)
	}
}
