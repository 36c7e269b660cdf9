package sqlite

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/keep/storetest"
	"icehand/internal/trade/journal"
)

// sample is a database file, its entries in position order and where their bodies lie in the file.
type sample struct {
	file    []byte
	entries []journal.Entry
	bodyAt  []int
}

func newSample(t *testing.T, entries int) sample {
	t.Helper()
	tmp := t.TempDir()
	s := openTest(t, filepath.Join(tmp, "data"), Options{})
	rich(t, s, entries)
	if _, err := s.Backup(t.Context(), filepath.Join(tmp, "b")); err != nil {
		t.Fatal(err)
	}
	file, err := os.ReadFile(filepath.Join(tmp, "b"))
	if err != nil {
		t.Fatal(err)
	}
	m := sample{file: file, entries: storetest.ReadAll(t, s, 0)}
	for _, e := range m.entries {
		// body and hash lie side by side, the last columns of the row
		at := bytes.LastIndex(file, slices.Concat(e.Body, e.Hash[:])) // an earlier one is left over in the unused part of the root page
		if at < 0 {
			t.Fatalf("entry %d is not in one piece in the file", e.N)
		}
		m.bodyAt = append(m.bodyAt, at)
	}
	return m
}

// place puts a changed copy of the file into a data folder of its own.
func (m sample) place(t *testing.T, spoil func([]byte) []byte) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, DatabaseFile), spoil(slices.Clone(m.file)), 0o600); err != nil {
		t.Fatal(err)
	}
	return dir
}

// good requires that what is handed out is what was written, and counts it. A position is only where the store keeps an
// entry: where it is damaged, salvage may name another.
func (m sample) good(count *int) func(store.Position, *journal.Entry) error {
	return func(pos store.Position, e *journal.Entry) error {
		if !slices.ContainsFunc(m.entries, func(w journal.Entry) bool { return w.Hash == e.Hash && bytes.Equal(w.Body, e.Body) }) {
			return fmt.Errorf("position %d hands out an entry that was never written", pos)
		}
		*count++
		return nil
	}
}

// audit gives the damage found in a folder, and the number of good entries that are still to be had.
func (m sample) audit(t *testing.T, dir string) (string, int) {
	t.Helper()
	var found strings.Builder
	salvaged := 0
	a, err := Salvage(t.Context(), dir, m.good(&salvaged))
	if err != nil {
		if fault.CodeOf(err) == fault.Internal {
			t.Errorf("salvage: %v", err)
		}
		return err.Error(), salvaged
	}
	for _, d := range a.Damage {
		fmt.Fprintf(&found, "%s: %s\n", d.Where, d.What)
	}
	s, err := Open(t.Context(), dir, Options{ReadOnly: true})
	if err != nil {
		return found.String() + err.Error(), salvaged
	}
	defer s.Close()
	read := 0
	inOrder := func(pos store.Position, e *journal.Entry) error {
		if m.entries[pos-1].Hash != e.Hash {
			t.Errorf("position %d reads as entry %d", pos, e.N)
		}
		return m.good(&read)(pos, e)
	}
	if err := s.Read(t.Context(), 0, inOrder); err != nil && fault.CodeOf(err) != fault.Damaged {
		t.Errorf("read: %v", err)
	}
	return found.String(), salvaged
}

// Every bit changed in an entry's stored bytes is found, and no entry is handed out that was not written.
func TestFlippedBitsInEntries(t *testing.T) {
	m := newSample(t, 60)
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	const flips, before = 150, 160 // of the row's fixed columns, at least so many bytes lie before the body
	for range flips {
		i := rng.IntN(len(m.entries))
		e := m.entries[i]
		at := m.bodyAt[i] - before + rng.IntN(before+len(e.Body)+len(e.Hash))
		bit := byte(1) << rng.IntN(8)
		found, salvaged := m.audit(t, m.place(t, func(b []byte) []byte { b[at] ^= bit; return b }))
		if found == "" {
			t.Errorf("bit %#x at %d, %d bytes after the body's start of entry %d, was not found", bit, at, at-m.bodyAt[i], i+1)
		}
		if salvaged < len(m.entries)-1 {
			t.Errorf("bit %#x at %d: only %d of %d entries can be had", bit, at, salvaged, len(m.entries)-1)
		}
	}
}

// A bit changed anywhere never makes an entry that was not written. Free space and slack hold nothing to find.
func TestFlippedBitsAnywhere(t *testing.T) {
	m := newSample(t, 60)
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 2))
	const flips = 100
	found := 0
	for range flips {
		at, bit := rng.IntN(len(m.file)), byte(1)<<rng.IntN(8)
		if what, _ := m.audit(t, m.place(t, func(b []byte) []byte { b[at] ^= bit; return b })); what != "" {
			found++
		}
	}
	t.Logf("%d of %d flips anywhere in %d bytes found", found, flips, len(m.file))
	if found < flips/4 {
		t.Errorf("only %d of %d found", found, flips)
	}
}

// Of a file with a lost page or a lost end the rest can be had, and what is missing is named.
func TestLostPages(t *testing.T) {
	m := newSample(t, 200)
	page := m.bodyAt[100] / 4096 * 4096
	lost := 0
	for _, at := range m.bodyAt {
		if at >= page && at < page+4096 {
			lost++
		}
	}
	for name, spoil := range map[string]func([]byte) []byte{
		"zeroed": func(b []byte) []byte { clear(b[page : page+4096]); return b },
		"random": func(b []byte) []byte {
			for i := range 4096 {
				b[page+i] = byte(i*7 + 3)
			}
			return b
		},
	} {
		found, salvaged := m.audit(t, m.place(t, spoil))
		if salvaged != len(m.entries)-lost || !strings.Contains(found, "positions ") {
			t.Errorf("%s: %d entries of %d, %d lost:\n%s", name, salvaged, len(m.entries), lost, found)
		}
	}
	for _, keep := range []int{len(m.file) - 1, len(m.file) - 4096, len(m.file) / 2, 4096, 100, 10} {
		found, salvaged := m.audit(t, m.place(t, func(b []byte) []byte { return b[:keep] }))
		if found == "" {
			t.Errorf("cut to %d of %d bytes: nothing found, %d entries", keep, len(m.file), salvaged)
		}
	}
	if found, salvaged := m.audit(t, m.place(t, func(b []byte) []byte { return b })); found != "" || salvaged != len(m.entries) {
		t.Errorf("the unchanged file: %s, %d entries", found, salvaged)
	}
}

// What is chained to a damaged entry would be lost with it, so nothing is.
func TestNothingIsChainedToDamage(t *testing.T) {
	s := openTest(t, t.TempDir(), Options{})
	storetest.Append(t, s, season(5, 0))
	behind(t, s, "UPDATE entry SET wall = wall + 1 WHERE pos = 5")
	if _, err := s.Append(t.Context(), season(1, 5)); fault.CodeOf(err) != fault.Damaged || !strings.Contains(err.Error(), "entry 5") {
		t.Errorf("appended with %v", err)
	}
	behind(t, s, "UPDATE entry SET wall = wall - 1 WHERE pos = 5")
	storetest.Append(t, s, season(1, 5))
	storetest.Sound(t, s, 6)
}

// A missing position is damage even when every chain holds.
func TestMissingPosition(t *testing.T) {
	s := openTest(t, t.TempDir(), Options{})
	rich(t, s, 5)
	behind(t, s, "UPDATE entry SET pos = 99 WHERE pos = 10")
	a, err := s.Verify(t.Context())
	if err != nil || len(a.Damage) != 1 || !strings.Contains(a.Damage[0].What, "position 99 after 9") {
		t.Errorf("%+v, %v", a, err)
	}
}
