package exchange

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/sqlite"
	"icehand/internal/keep/store"
	"icehand/internal/keep/storetest"
	"icehand/internal/trade/journal"
)

func fresh() *mem.Store { return mem.New(store.NewIdentity(storetest.T0)) }

// full gives a store with something of everything, and the name of a text in it.
func full(t testing.TB, entries int) (*mem.Store, journal.Text) {
	t.Helper()
	s := fresh()
	storetest.Append(t, s, storetest.Drafts(entries))
	odd := storetest.Drafts(2)
	odd[0].Kind, odd[0].Version, odd[0].Body = "moonbeam", 9, []byte(`{ "x" : 1.50, "a":"<\u0041>\u2028" }`)
	odd[1].Zone, odd[1].Mono = "Ørland/\u2028\"", -1
	if _, err := s.Put(t.Context(), storetest.Foreign(t, uuid.UUID{7}, odd)); err != nil {
		t.Fatal(err)
	}
	for _, b := range [][]byte{{}, {0}, bytes.Repeat([]byte{255, 1}, 70_000)} {
		if _, err := s.PutBlob(t.Context(), b); err != nil {
			t.Fatal(err)
		}
	}
	var name journal.Text
	for _, text := range []string{"", "Ola \"<&>\u2028\n", "雪"} {
		var err error
		if name, err = s.PutText(t.Context(), text); err != nil {
			t.Fatal(err)
		}
	}
	return s, name
}

func write(t testing.TB, s store.Store, opt WriteOptions) []byte {
	t.Helper()
	var b bytes.Buffer
	if _, err := WriteNDJSON(context.Background(), s, &b, opt); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// What is written and read into another store is written the same again; reading twice adds nothing.
func TestThereAndBack(t *testing.T) {
	s, name := full(t, 1200)
	text := write(t, s, WriteOptions{})
	db, err := sqlite.Open(t.Context(), t.TempDir(), sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, to := range []store.Store{fresh(), db} {
		for range 2 {
			n, err := ReadNDJSON(t.Context(), to, bytes.NewReader(text))
			if err != nil || n != (Count{1202, 3, 3}) {
				t.Fatalf("%+v, %v", n, err)
			}
		}
		if again := write(t, to, WriteOptions{}); !bytes.Equal(text, again) {
			t.Error("written again it differs")
		}
		if got, err := to.Text(t.Context(), name); got != "雪" {
			t.Error(got, err)
		}
		storetest.Sound(t, to, 1202)
		if d := cmp.Diff(storetest.ReadAll(t, s, 0), storetest.ReadAll(t, to, 0)); d != "" {
			t.Error(d)
		}
	}
}

func TestChosenBlobs(t *testing.T) {
	s, _ := full(t, 1)
	want := journal.Sum([]byte{0})
	text := write(t, s, WriteOptions{Blob: func(h journal.Hash) bool { return h == want }})
	to := fresh()
	if n, err := ReadNDJSON(t.Context(), to, bytes.NewReader(text)); err != nil || n.Blobs != 1 {
		t.Errorf("%+v, %v", n, err)
	}
	if b, err := to.Blob(t.Context(), want); err != nil || !bytes.Equal(b, []byte{0}) {
		t.Errorf("%v, %v", b, err)
	}
}

func TestLeavingOut(t *testing.T) {
	s, name := full(t, 3)
	text := write(t, s, WriteOptions{WithoutTexts: true, WithoutBlobs: true})
	if bytes.Contains(text, []byte("雪")) || bytes.Contains(text, []byte(`"blob":`)) {
		t.Errorf("%s", text)
	}
	to := fresh()
	if n, err := ReadNDJSON(t.Context(), to, bytes.NewReader(text)); err != nil || n != (Count{Entries: 5}) {
		t.Errorf("%+v, %v", n, err)
	}
	if _, err := to.Text(t.Context(), name); !errors.Is(err, store.ErrNotFound) {
		t.Error(err)
	}
}

func TestBadLines(t *testing.T) {
	s, _ := full(t, 3)
	lines := bytes.SplitAfter(bytes.TrimRight(write(t, s, WriteOptions{}), "\n"), []byte("\n"))
	last := len(lines) - 1
	swap := func(i int, old, new string) func([][]byte) [][]byte {
		return func(l [][]byte) [][]byte {
			if !bytes.Contains(l[i], []byte(old)) {
				t.Fatalf("line %d holds no %s: %s", i+1, old, l[i])
			}
			l[i] = bytes.Replace(l[i], []byte(old), []byte(new), 1)
			return l
		}
	}
	for name, c := range map[string]struct {
		spoil func([][]byte) [][]byte
		line  int // 0: not named
		code  fault.Code
	}{
		"changed body":      {swap(1, `"seconds":30`, `"seconds":31`), 2, fault.Damaged},
		"changed envelope":  {swap(1, `"n":2`, `"n":3`), 2, fault.Damaged},
		"not JSON":          {swap(1, `{`, `[`), 2, fault.BadInput},
		"newer format":      {swap(1, `"format":1`, `"format":2`), 2, fault.BadInput},
		"extra field":       {swap(1, `{"format"`, `{"x":1,"format"`), 2, fault.BadInput},
		"changed blob":      {swap(5, `"data":"`, `"data":"AAAA`), 6, fault.Damaged},
		"blob not base64":   {swap(5, `"data":"`, `"data":"?`), 6, fault.BadInput},
		"changed text":      {swap(last-1, `"data":"`, `"data":"x`), last, fault.Damaged},
		"short salt":        {swap(last-1, `"salt":"`, `"salt":"AAAA`), last, fault.BadInput},
		"wrong count":       {swap(last, `"texts":3`, `"texts":4`), last + 1, fault.Damaged},
		"lost entry":        {func(l [][]byte) [][]byte { return slices.Delete(l, 1, 2) }, 0, fault.Conflict},
		"lost foreign":      {func(l [][]byte) [][]byte { return slices.Delete(l, 3, 4) }, 0, fault.Conflict},
		"lost last line":    {func(l [][]byte) [][]byte { return l[:last] }, 0, fault.Damaged},
		"cut in a line":     {func(l [][]byte) [][]byte { l[last-1] = l[last-1][:20]; return l[:last] }, last, fault.BadInput},
		"after the end":     {func(l [][]byte) [][]byte { return append(l, []byte("\n"), l[0]) }, last + 2, fault.BadInput},
		"an empty line":     {func(l [][]byte) [][]byte { return append([][]byte{[]byte("\n")}, l...) }, 1, fault.BadInput},
		"two on a line":     {swap(2, "\n", "{}\n"), 3, fault.BadInput},
		"nothing":           {func([][]byte) [][]byte { return nil }, 0, fault.Damaged},
		"an endless entry":  {swap(2, `"body":{`, `"body":{"a":"`+strings.Repeat("a", maxEntryLine)+`",`), 3, fault.BadInput},
		"a line over limit": {swap(5, `"data":"`, `"data":"`+strings.Repeat("A", maxLine)), 6, fault.BadInput},
	} {
		text := bytes.Join(c.spoil(slices.Clone(lines)), nil)
		to := fresh()
		_, err := ReadNDJSON(t.Context(), to, bytes.NewReader(text))
		if fault.CodeOf(err) != c.code || c.line > 0 && !strings.Contains(fmt.Sprint(err), fmt.Sprintf("at line %d:", c.line)) {
			t.Errorf("%s: %v, want %s at line %d", name, err, c.code, c.line)
		}
		if a, err := to.Verify(t.Context()); err != nil || !a.Sound() {
			t.Errorf("%s: left %+v, %v", name, a, err)
		}
		if _, err := CheckNDJSON(t.Context(), bytes.NewReader(text), nil); name != "lost foreign" && (fault.CodeOf(err) != c.code || strings.Contains(err.Error(), "was taken. ") != strings.Contains(err.Error(), "Nothing was taken.")) {
			t.Errorf("%s: the check says %v, want %s", name, err, c.code)
		}
	}
}

// A file that is only checked leaves nothing behind and tells of every entry; a journal may begin in its midst.
func TestCheck(t *testing.T) {
	s, _ := full(t, 1200)
	text := write(t, s, WriteOptions{})
	seen := 0
	if n, err := CheckNDJSON(t.Context(), bytes.NewReader(text), func(*journal.Entry) { seen++ }); err != nil || n != (Count{1202, 3, 3}) || seen != 1202 {
		t.Errorf("%+v, %d seen, %v", n, seen, err)
	}
	lines := bytes.SplitAfter(text, []byte("\n"))
	late := bytes.Join(lines[700:], nil)
	late = bytes.Replace(late, []byte(`"entries":1202`), []byte(`"entries":502`), 1)
	if n, err := CheckNDJSON(t.Context(), bytes.NewReader(late), nil); err != nil || n.Entries != 502 {
		t.Errorf("%+v, %v", n, err)
	}
	twice := append(bytes.Join(lines[:600], nil), text...) // 600 lines again, more than one batch later
	if _, err := CheckNDJSON(t.Context(), bytes.NewReader(twice), nil); fault.CodeOf(err) != fault.Conflict {
		t.Error(err)
	}
	newer := bytes.Replace(text, []byte(`"format":1`), []byte(`"format":2,"more":"x"`), 1)
	if _, err := CheckNDJSON(t.Context(), bytes.NewReader(newer), nil); !errors.Is(err, ErrNewer) || !strings.Contains(err.Error(), "Bring this Icehand up to date") {
		t.Error(err)
	}
}

// A file cut at any byte is never taken for whole, and what was stored of it verifies.
func TestCutAnywhere(t *testing.T) {
	s, _ := full(t, 3)
	text := bytes.TrimRight(write(t, s, WriteOptions{WithoutBlobs: true}), "\n")
	for cut := range len(text) {
		to := fresh()
		if _, err := ReadNDJSON(t.Context(), to, bytes.NewReader(text[:cut])); err == nil {
			t.Errorf("cut at %d of %d: no error", cut, len(text))
		}
		if a, err := to.Verify(t.Context()); err != nil || !a.Sound() {
			t.Errorf("cut at %d: %+v, %v", cut, a, err)
		}
	}
}

// One changed bit anywhere is found, unless it changes only how the same thing is written.
func TestFlippedBits(t *testing.T) {
	s, _ := full(t, 5)
	text := write(t, s, WriteOptions{WithoutBlobs: true})
	want := write(t, s, WriteOptions{WithoutBlobs: true, WithoutTexts: true})
	rng := rand.New(rand.NewPCG(1, 1))
	found := 0
	for range 400 {
		bad := bytes.Clone(text)
		at, bit := rng.IntN(len(bad)), byte(1)<<rng.IntN(8)
		bad[at] ^= bit
		to := fresh()
		if _, err := ReadNDJSON(t.Context(), to, bytes.NewReader(bad)); err != nil {
			found++
		} else if got := write(t, to, WriteOptions{WithoutTexts: true}); !bytes.Equal(got, want) {
			t.Errorf("bit %#x at %d (%q) changed what was read", bit, at, text[max(0, at-10):min(len(text), at+10)])
		}
	}
	t.Logf("%d of 400 flips found, the rest read the same", found)
	if found < 300 {
		t.Errorf("only %d of 400 flips found", found)
	}
}

func TestForkIsRefused(t *testing.T) {
	a, b := fresh(), fresh()
	for _, s := range []*mem.Store{a, b} { // one journal, two histories
		if _, err := s.Put(t.Context(), storetest.Foreign(t, uuid.UUID{7}, storetest.Drafts(3))); err != nil {
			t.Fatal(err)
		}
	}
	_, err := ReadNDJSON(t.Context(), a, bytes.NewReader(write(t, b, WriteOptions{})))
	if !errors.Is(err, store.ErrFork) || fault.CodeOf(err) != fault.Conflict || !strings.Contains(err.Error(), "lines 1 to 3") {
		t.Error(err)
	}
	storetest.Sound(t, a, 3)
}

// FuzzReadNDJSON: whatever is taken in verifies, and comes out as a file that another store takes in whole.
func FuzzReadNDJSON(f *testing.F) {
	s, _ := full(f, 2)
	text := write(f, s, WriteOptions{WithoutBlobs: true})
	f.Add(text)
	for line := range bytes.Lines(text) {
		f.Add(line)
	}
	f.Add([]byte(`{"blob":"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855","data":""}`))
	f.Add([]byte(`{"end":{"entries":0,"blobs":0,"texts":0}}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		to := fresh()
		if _, err := ReadNDJSON(t.Context(), to, bytes.NewReader(b)); err != nil && fault.CodeOf(err) == fault.Internal {
			t.Errorf("an unexplained error: %v", err)
		}
		a, err := to.Verify(t.Context())
		if err != nil || !a.Sound() {
			t.Fatalf("%+v, %v", a, err)
		}
		n, err := ReadNDJSON(t.Context(), fresh(), bytes.NewReader(write(t, to, WriteOptions{})))
		if err != nil || n != (Count{a.Entries, a.Blobs, a.Texts}) {
			t.Fatalf("%+v became %+v, %v", a, n, err)
		}
	})
}
