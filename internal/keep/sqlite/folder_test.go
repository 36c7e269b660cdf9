package sqlite

import (
	"bytes"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/keep/storetest"
	"icehand/internal/trade/journal"
)

func isReadOnly(err error) bool {
	return errors.Is(err, store.ErrReadOnly) && fault.CodeOf(err) == fault.Conflict
}

func TestSecondWriterIsRefused(t *testing.T) {
	dir := t.TempDir()
	if _, ok := HolderOf(dir); ok {
		t.Error("an empty folder has a holder")
	}
	s := openTest(t, dir, Options{Program: "icehand serve"})
	if err := s.SetAddress("http://127.0.0.1:8420"); err != nil {
		t.Fatal(err)
	}
	_, err := Open(t.Context(), dir, Options{})
	if fault.CodeOf(err) != fault.Conflict || !strings.Contains(err.Error(), "icehand serve") || !strings.Contains(err.Error(), "http://127.0.0.1:8420") {
		t.Errorf("a second writer: %v", err)
	}
	h, ok := HolderOf(dir)
	if !ok || h.Process != os.Getpid() || h.Address != "http://127.0.0.1:8420" || h.Started.IsZero() {
		t.Errorf("holder %+v, %v", h, ok)
	}
	storetest.Append(t, s, season(3, 0)) // the refused one did no harm
	r := openTest(t, dir, Options{ReadOnly: true})
	storetest.Sound(t, r, 3)
	storetest.Append(t, s, season(2, 3))
	storetest.Sound(t, r, 5) // a reader sees what is written meanwhile
	if err := r.SetAddress("x"); !isReadOnly(err) {
		t.Errorf("a reader's address: %v", err)
	}
	s.Close()
	if _, ok := HolderOf(dir); ok {
		t.Error("a closed store is a holder")
	}
	openTest(t, dir, Options{})
}

func TestStaleLockIsTakenOver(t *testing.T) {
	dir := t.TempDir()
	stale := []byte(`{"process":1,"program":"icehand","started":"2020-01-01T00:00:00Z","address":"http://127.0.0.1:9999/and/a/long/rest/of/it"}`)
	if err := os.WriteFile(filepath.Join(dir, LockFile), stale, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, ok := HolderOf(dir); ok {
		t.Error("the lock of a dead process counts")
	}
	openTest(t, dir, Options{})
	if h, ok := HolderOf(dir); !ok || h.Process != os.Getpid() || h.Address != "" {
		t.Errorf("%+v, %v", h, ok)
	}
}

func TestReadingMakesNothing(t *testing.T) {
	dir := t.TempDir()
	for _, d := range []string{filepath.Join(dir, "none"), dir} {
		if _, err := Open(t.Context(), d, Options{ReadOnly: true}); fault.CodeOf(err) != fault.Missing {
			t.Errorf("%s: %v", d, err)
		}
		if _, err := Salvage(t.Context(), d, nil); fault.CodeOf(err) != fault.Missing {
			t.Errorf("%s: %v", d, err)
		}
	}
	leftOver(t, dir)
}

func TestFolderLayout(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a folder with ?#% in it", "Tamaringen")
	s := openTest(t, dir, Options{})
	storetest.Append(t, s, season(3, 0))
	s.Close()
	leftOver(t, dir, DatabaseFile, SettingsFile, LockFile)
	storetest.Sound(t, openTest(t, dir, Options{ReadOnly: true}), 3)
}

func TestForeignFiles(t *testing.T) {
	for name, c := range map[string]struct {
		prepare func(t *testing.T, path string)
		code    fault.Code
	}{
		"not a database": {func(t *testing.T, path string) {
			if err := os.WriteFile(path, bytes.Repeat([]byte("date,hole,depth\n"), 500), 0o600); err != nil {
				t.Fatal(err)
			}
		}, fault.Damaged},
		"another program's": {func(t *testing.T, path string) { execOn(t, path, "CREATE TABLE notes (x)") }, fault.Conflict},
		"newer": {func(t *testing.T, path string) {
			openTest(t, filepath.Dir(path), Options{}).Close()
			execOn(t, path, "INSERT INTO goose_db_version (version_id, is_applied) VALUES (99, 1)")
		}, fault.Conflict},
		"without identity": {func(t *testing.T, path string) {
			s := openTest(t, filepath.Dir(path), Options{})
			storetest.Append(t, s, season(1, 0))
			s.Close()
			execOn(t, path, "DELETE FROM installation")
		}, fault.Damaged},
		"changed identity": {func(t *testing.T, path string) {
			openTest(t, filepath.Dir(path), Options{}).Close()
			execOn(t, path, "UPDATE installation SET journal = randomblob(16)")
		}, fault.Damaged},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, DatabaseFile)
			c.prepare(t, path)
			was, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			for _, ro := range []bool{true, false} {
				_, err := Open(t.Context(), dir, Options{ReadOnly: ro})
				if f := fault.Public(err); fault.CodeOf(err) != c.code || f.Hint == "" {
					t.Errorf("read only %v: %v", ro, err)
				}
			}
			if now, err := os.ReadFile(path); err != nil || !bytes.Equal(was, now) {
				t.Error("the file was changed")
			}
			if _, ok := HolderOf(dir); ok {
				t.Error("a refused folder stays locked")
			}
		})
	}
}

// execOn runs SQL on a database file as any other program would.
func execOn(t testing.TB, path, text string) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(text); err != nil {
		t.Fatal(err)
	}
}

func TestVersionOfSQLite(t *testing.T) {
	for v, want := range map[string]bool{"3.51.2": false, "3.51.3": true, "3.9.9": false, "3.52.0": true, "4.0": true, "3.51.x": false, "3.51.10": true} {
		if atLeast(v, leastSQLite) != want {
			t.Errorf("%s: %v", v, !want)
		}
	}
}

func TestErasedTextLeavesNoBytes(t *testing.T) {
	s := openTest(t, t.TempDir(), Options{})
	const secret = "Kari Utmark, asthma"
	name, err := s.PutText(t.Context(), secret)
	if err != nil {
		t.Fatal(err)
	}
	storetest.Append(t, s, []journal.Draft{storetest.Author.Draft(journal.NewID(), storetest.T0, storetest.T0, &journal.Note{Text: name})})
	if found(t, s.Dir(), secret) == 0 {
		t.Fatal("the test looks in the wrong place")
	}
	if err := s.EraseText(t.Context(), name); err != nil {
		t.Fatal(err)
	}
	if n := found(t, s.Dir(), secret); n != 0 {
		t.Errorf("an erased text is still in %d files", n)
	}
	storetest.Sound(t, s, 1)
}

// found counts the files of a folder that hold a text.
func found(t *testing.T, dir, text string) (n int) {
	t.Helper()
	names, err := os.ReadDir(dir)
	if err != nil || len(names) == 0 {
		t.Fatal("nothing to look into", err)
	}
	for _, name := range names {
		b, err := os.ReadFile(filepath.Join(dir, name.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(b, []byte(text)) {
			n++
		}
	}
	return n
}
