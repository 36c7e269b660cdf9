package sqlite

import (
	"database/sql"
	"testing"

	"icehand/internal/keep/store"
	"icehand/internal/keep/storetest"
	"icehand/internal/trade/journal"
)

func openTest(t testing.TB, dir string, opt Options) *Store {
	t.Helper()
	s, err := Open(t.Context(), dir, opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// behind changes the database behind the store's back.
func behind(t testing.TB, s *Store, text string, args ...any) {
	t.Helper()
	db, err := sql.Open("sqlite", dsn(s.path(), "_pragma=ignore_check_constraints(1)"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	res, err := db.Exec(text, args...)
	if err != nil {
		t.Fatal(err)
	}
	if n, _ := res.RowsAffected(); n != 1 {
		t.Fatalf("%s changed %d rows", text, n)
	}
}

func TestStore(t *testing.T)   { storetest.Run(t, fresh) }
func TestReplica(t *testing.T) { storetest.RunReplica(t, fresh) }

func fresh(t *testing.T) storetest.Fresh {
	dir := t.TempDir()
	s := openTest(t, dir, Options{})
	return storetest.Fresh{
		Store: s,
		Reopen: func(t *testing.T) store.Store {
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			return openTest(t, dir, Options{})
		},
		FlipBody: func(t *testing.T, pos store.Position) {
			var body []byte
			if err := s.read.QueryRow("SELECT body FROM entry WHERE pos = ?", int64(pos)).Scan(&body); err != nil {
				t.Fatal(err)
			}
			body[5] ^= 1
			behind(t, s, "UPDATE entry SET body = ? WHERE pos = ?", body, int64(pos))
		},
		FlipBlob: func(t *testing.T, h journal.Hash) {
			data, err := s.Blob(t.Context(), h)
			if err != nil {
				t.Fatal(err)
			}
			data[0] ^= 1
			behind(t, s, "UPDATE blob SET data = ? WHERE hash = ?", data, h[:])
		},
	}
}
