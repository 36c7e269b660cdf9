package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A step from kept surfaces is the step from surfaces made anew, to the letter; kept bytes that are damaged, cut short or
// unreadable are made anew; another hole is heard.
func TestKeptSurfacesChangeNoAnswer(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	m.withLake()
	cache := filepath.Join(m.env.Home, "cache")
	if err := os.RemoveAll(cache); err != nil {
		t.Fatal(err)
	}
	fresh := m.must("next", "--json", "--from", "47.9, -45.0")
	files, err := os.ReadDir(cache)
	if err != nil || len(files) != 4 {
		t.Fatalf("%d files kept, %v", len(files), err)
	}
	if kept := m.must("next", "--json", "--from", "47.9, -45.0"); kept != fresh {
		t.Errorf("from kept surfaces:\n%s\nmade anew:\n%s", kept, fresh)
	}
	for i, f := range files {
		path := filepath.Join(cache, f.Name())
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		switch i % 2 {
		case 0:
			data = data[:len(data)/2]
		case 1:
			data[len(data)/2] ^= 1
		}
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if mended := m.must("next", "--json", "--from", "47.9, -45.0"); mended != fresh {
		t.Error("damaged files changed the answer")
	}
	if err := os.RemoveAll(cache); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(cache, nil, 0o600); err != nil { // a file where the folder should be: nothing can be kept
		t.Fatal(err)
	}
	if unkept := m.must("next", "--json", "--from", "47.9, -45.0"); unkept != fresh {
		t.Error("without a place to keep surfaces the answer is another")
	}
}

// The oldest files go, and all of other builds.
func TestShelfStaysSmall(t *testing.T) {
	s := newShelf(t.TempDir())
	if s.build == "" {
		t.Fatal("this build has no mark")
	}
	other := shelf{s.dir, "0000"}
	other.keep("chart-x", []byte("old build"))
	for i := range 3 * mostShelved {
		s.keep("surface-"+strings.Repeat("x", i+1), []byte{byte(i)})
	}
	list, err := os.ReadDir(s.dir)
	if err != nil || len(list) != mostShelved {
		t.Errorf("%d files, %v", len(list), err)
	}
	if s.recall("surface-"+strings.Repeat("x", 3*mostShelved)) == nil || s.recall("chart-x") != nil || other.recall("chart-x") != nil {
		t.Error("the newest was lost, or another build's was found")
	}
}

// One question of a program that starts anew, on the demo: with nothing kept, and with the surfaces of the question before.
func BenchmarkNextNothingKept(b *testing.B) { benchmarkNext(b, false) }
func BenchmarkNextKept(b *testing.B)        { benchmarkNext(b, true) }

func benchmarkNext(b *testing.B, kept bool) {
	m := newMachine(b, "2026-01-15T12:50:00Z")
	m.withDemo()
	m.must("next", "--json")
	for b.Loop() {
		if !kept {
			if err := os.RemoveAll(filepath.Join(m.env.Home, "cache")); err != nil {
				b.Fatal(err)
			}
		}
		m.must("next", "--json")
	}
}
