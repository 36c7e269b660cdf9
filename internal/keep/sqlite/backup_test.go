package sqlite

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/keep/storetest"
	"icehand/internal/trade/journal"
)

// rich fills a store with everything it can hold.
func rich(t testing.TB, s *Store, entries int) []journal.Entry {
	t.Helper()
	es := storetest.Append(t, s, season(entries, 0))
	other := storetest.Foreign(t, uuid.UUID{7}, season(5, 0))
	if _, err := s.Put(t.Context(), other); err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		if _, err := s.PutBlob(t.Context(), []byte{byte(i), 'b'}); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.PutText(t.Context(), "Ola"); err != nil {
		t.Fatal(err)
	}
	return append(es, other...)
}

func TestBackupAndRestore(t *testing.T) {
	ctx, tmp := t.Context(), t.TempDir()
	s := openTest(t, filepath.Join(tmp, "data"), Options{})
	es := rich(t, s, 250)
	before, _ := s.Identity(ctx)
	t.Chdir(tmp)
	file := "b.icehand" // relative names too
	a, err := s.Backup(ctx, file)
	if err != nil || a.Entries != 255 || a.Blobs != 3 || a.Texts != 1 || a.Journals != 2 {
		t.Fatalf("%+v, %v", a, err)
	}
	if _, err := s.Backup(ctx, file); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("over an earlier backup: %v", err)
	}
	later := storetest.Append(t, s, season(10, 250)) // after the backup
	dir := filepath.Join(tmp, "new")
	r, err := Restore(ctx, file, dir, RestoreOptions{})
	if err != nil || r.Audit.Entries != 255 || r.Aside != "" {
		t.Fatalf("%+v, %v", r, err)
	}
	back := openTest(t, dir, Options{})
	id, _ := back.Identity(ctx)
	if id != r.Identity || id.Epoch == before.Epoch || id.Journal == before.Journal || id.Outfit != before.Outfit || id.Account != before.Account || id.Made != before.Made {
		t.Errorf("identity %+v restored as %+v", before, id)
	}
	if got := storetest.ReadAll(t, back, 0); !slices.EqualFunc(got, es, func(a, b journal.Entry) bool { return a.Hash == b.Hash }) {
		t.Errorf("%d entries restored, want the %d of the backup", len(got), len(es))
	}
	if d := cmp.Diff(facts(t, es), facts(t, storetest.ReadAll(t, back, 0))); d != "" {
		t.Errorf("the fold differs: %s", d)
	}
	// Numbers given out after the backup come back from elsewhere and meet no others in their place.
	own := storetest.Append(t, back, season(3, 500))
	if own[0].Journal == before.Journal || own[0].N != 1 {
		t.Errorf("a restored copy goes on in journal %s at %d", own[0].Journal, own[0].N)
	}
	if n, err := back.Put(ctx, later); err != nil || n != 10 {
		t.Errorf("entries of after the backup: %d, %v", n, err)
	}
	storetest.Sound(t, back, 268)
	leftOver(t, tmp, "b.icehand", "data", "new")
}

// facts folds entries.
func facts(t *testing.T, es []journal.Entry) []*journal.Fact {
	t.Helper()
	var log journal.Log
	for i := range es {
		if err := log.Add(&es[i]); err != nil {
			t.Fatal(err)
		}
	}
	return log.Facts()
}

// leftOver requires that a folder holds exactly these names.
func leftOver(t *testing.T, dir string, want ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	if !slices.Equal(got, want) {
		t.Errorf("%s holds %q, want %q", dir, got, want)
	}
}

func TestRestoreRefuses(t *testing.T) {
	ctx, tmp := t.Context(), t.TempDir()
	s := openTest(t, filepath.Join(tmp, "data"), Options{})
	rich(t, s, 100)
	file := filepath.Join(tmp, "b")
	if _, err := s.Backup(ctx, file); err != nil {
		t.Fatal(err)
	}
	refuse := func(what, backup, dir string, opt RestoreOptions, code fault.Code) {
		t.Helper()
		if _, err := Restore(ctx, backup, dir, opt); fault.CodeOf(err) != code {
			t.Errorf("%s: %v, want %s", what, err, code)
		}
	}
	refuse("no file", filepath.Join(tmp, "none"), filepath.Join(tmp, "x"), RestoreOptions{}, fault.NotFound)
	refuse("a folder in use", file, s.Dir(), RestoreOptions{}, fault.Conflict)
	refuse("a folder that is being written", file, s.Dir(), RestoreOptions{Replace: true}, fault.Conflict)
	good, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	bad := filepath.Join(tmp, "bad")
	for what, spoil := range map[string]func([]byte) []byte{
		"cut":    func(b []byte) []byte { return b[:len(b)*2/3] },
		"flip":   func(b []byte) []byte { b[len(b)/2] ^= 4; return b },
		"header": func(b []byte) []byte { b[0] ^= 1; return b },
		"zeroed": func(b []byte) []byte { clear(b[4096*5 : 4096*6]); return b },
	} {
		if err := os.WriteFile(bad, spoil(slices.Clone(good)), 0o600); err != nil {
			t.Fatal(err)
		}
		refuse(what, bad, filepath.Join(tmp, "x"), RestoreOptions{}, fault.Damaged)
	}
	leftOver(t, tmp, "b", "bad", "data") // no half-written folder
	storetest.Sound(t, s, 105)
}

func TestRestoreMovesTheOldFolderAside(t *testing.T) {
	ctx, tmp := t.Context(), t.TempDir()
	dir, file := filepath.Join(tmp, "data"), filepath.Join(tmp, "b")
	s := openTest(t, dir, Options{})
	rich(t, s, 10)
	if _, err := s.Backup(ctx, file); err != nil {
		t.Fatal(err)
	}
	storetest.Append(t, s, season(1, 10))
	s.Close()
	if err := os.WriteFile(filepath.Join(dir, SettingsFile), []byte(`{"units":"si"}`), 0o600); err != nil {
		t.Fatal(err)
	}
	r, err := Restore(ctx, file, dir, RestoreOptions{Replace: true})
	if err != nil {
		t.Fatal(err)
	}
	storetest.Sound(t, openTest(t, dir, Options{}), 15)
	storetest.Sound(t, openTest(t, r.Aside, Options{ReadOnly: true}), 16)
	if b, err := os.ReadFile(filepath.Join(dir, SettingsFile)); string(b) != `{"units":"si"}` {
		t.Errorf("settings of this machine became %q, %v", b, err)
	}
}

// A backup that lost its end verifies in itself; it is held against the heads of the store.
func TestBackupThatLostItsEnd(t *testing.T) {
	ctx, tmp := t.Context(), t.TempDir()
	s := openTest(t, filepath.Join(tmp, "data"), Options{})
	rich(t, s, 20)
	heads, err := s.Heads(ctx)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(tmp, "b")
	if _, err := s.Backup(ctx, file); err != nil {
		t.Fatal(err)
	}
	if _, err := checkBackup(ctx, file, heads); err != nil {
		t.Error(err)
	}
	execOn(t, file, "DELETE FROM entry WHERE pos = 25")
	if _, err := checkBackup(ctx, file, nil); err != nil {
		t.Error("a shorter journal is a journal", err)
	}
	if _, err := checkBackup(ctx, file, heads); fault.CodeOf(err) != fault.Damaged {
		t.Error(err)
	}
}

func TestBackupOfDamagedStoreDoesNotCount(t *testing.T) {
	ctx, tmp := t.Context(), t.TempDir()
	s := openTest(t, filepath.Join(tmp, "data"), Options{})
	rich(t, s, 20)
	behind(t, s, "UPDATE entry SET at = at + 1 WHERE pos = 7")
	if a, err := s.Backup(ctx, filepath.Join(tmp, "b")); fault.CodeOf(err) != fault.Damaged || len(a.Damage) == 0 {
		t.Errorf("%+v, %v", a, err)
	}
	leftOver(t, tmp, "data")
}

func TestBackupWhileReadingOnly(t *testing.T) {
	tmp := t.TempDir()
	s := openTest(t, filepath.Join(tmp, "data"), Options{})
	rich(t, s, 20)
	r := openTest(t, s.Dir(), Options{ReadOnly: true})
	if a, err := r.Backup(t.Context(), filepath.Join(tmp, "b")); err != nil || a.Entries != 25 {
		t.Errorf("%+v, %v", a, err)
	}
	if _, err := r.Backup(t.Context(), filepath.Join(tmp, "none", "b")); err == nil {
		t.Error("a backup into a folder that is not there")
	}
	if _, err := r.Append(t.Context(), season(1, 0)); !isReadOnly(err) {
		t.Errorf("appending: %v", err)
	}
	if err := r.EraseText(t.Context(), journal.Text{}); !isReadOnly(err) {
		t.Errorf("erasing: %v", err)
	}
	if err := r.Read(t.Context(), 0, func(store.Position, *journal.Entry) error { return nil }); err != nil {
		t.Error(err)
	}
}
