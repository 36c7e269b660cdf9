package sqlite

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// Backup writes the whole store into one new file. The file gets its name only after it has been opened again, checked
// in full and folded: a file that carries the name is a backup that can be restored. It works beside writers.
func (s *Store) Backup(ctx context.Context, dst string) (store.Audit, error) {
	var a store.Audit
	dst, err := filepath.Abs(dst)
	if err != nil {
		return a, folderFault(err, dst)
	}
	if _, err := os.Lstat(dst); err == nil {
		return a, fault.New(fault.Conflict, "Name a new file.", "%s exists already", dst)
	}
	heads, err := s.Heads(ctx)
	if err != nil {
		return a, err
	}
	part := fmt.Sprintf("%s.part-%s", dst, uuid.NewString()[:8])
	defer os.Remove(part) // gone when it got its name
	if _, err := s.read.ExecContext(ctx, "VACUUM INTO ?", part); err != nil {
		return a, explain(err, "writing a backup", dst)
	}
	if a, err = checkBackup(ctx, part, heads); err != nil {
		return a, err
	}
	if err := settle(part, dst); err != nil {
		return a, folderFault(err, filepath.Dir(dst))
	}
	return a, nil
}

// settle makes a finished file durable and gives it its name.
func settle(part, name string) error {
	f, err := os.OpenFile(part, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	if err := errors.Join(f.Chmod(0o600), f.Sync(), f.Close(), os.Rename(part, name)); err != nil {
		return err
	}
	return syncDir(filepath.Dir(name))
}

// checkBackup opens a database file, audits it, folds its journals and refuses it when anything is wrong or when a
// journal ends before the head that it should at least reach: a cut end holds no contradiction in itself.
func checkBackup(ctx context.Context, path string, least map[uuid.UUID]journal.Head) (store.Audit, error) {
	db, err := openReader(ctx, path)
	if err != nil {
		return store.Audit{}, err
	}
	defer db.Close()
	if _, err := readIdentity(ctx, db); err != nil {
		return store.Audit{}, err
	}
	var log journal.Log
	entries, folded := make(chan *journal.Entry, 256), make(chan error)
	go func() { // folding takes as long as checking, so they share the work
		var fork error
		for e := range entries {
			fork = errors.Join(fork, log.Add(e))
		}
		folded <- fork
	}()
	a, err := audit(ctx, db, func(_ store.Position, e *journal.Entry) error { entries <- e; return nil })
	close(entries)
	fork := <-folded
	if err != nil {
		return a, err
	}
	if fork != nil {
		damaged(&a, "fold", fork)
	}
	if a.Sound() && len(log.Facts()) != a.Entries {
		damaged(&a, "fold", fmt.Sprintf("%d entries gave %d facts", a.Entries, len(log.Facts())))
	}
	for id, h := range least {
		if got := log.Heads()[id]; got.N < h.N || got.N == h.N && got.Hash != h.Hash {
			damaged(&a, "journal "+id.String(), fmt.Sprintf("ends at entry %d, and had %d", got.N, h.N))
		}
	}
	if !a.Sound() {
		return a, fault.New(fault.Damaged, "Run icehand audit on the data folder; keep every earlier backup.",
			"%s does not verify: %s: %s (%d places in all)", path, a.Damage[0].Where, a.Damage[0].What, len(a.Damage))
	}
	return a, nil
}

// RestoreOptions says how to restore. The zero value refuses a folder that holds anything.
type RestoreOptions struct {
	Replace bool // move a folder that holds something aside; default false
}

// Restored is the outcome of a restore.
type Restored struct {
	Audit    store.Audit
	Identity store.Identity
	Aside    string // where the earlier folder was moved; empty when there was none
}

// Restore makes a data folder of a backup. The backup is checked in full first and is not changed. The folder is built
// beside its place and moved there whole. It gets a new epoch, so that others offer again what they hold, and a new
// journal to write, since numbers given out after the backup was made may exist elsewhere.
func Restore(ctx context.Context, backup, dir string, opt RestoreOptions) (Restored, error) {
	var r Restored
	dir, err := filepath.Abs(dir)
	if err != nil {
		return r, folderFault(err, dir)
	}
	if backup, err = filepath.Abs(backup); err != nil {
		return r, folderFault(err, backup)
	}
	if info, err := os.Stat(backup); err != nil || !info.Mode().IsRegular() {
		return r, fault.Wrap(err, fault.NotFound, "Name a file that icehand backup has written.", "There is no backup %s", backup)
	}
	if r.Audit, err = checkBackup(ctx, backup, nil); err != nil {
		return r, err
	}
	occupied, err := holdsAnything(dir)
	if err != nil {
		return r, folderFault(err, dir)
	}
	if occupied && !opt.Replace {
		return r, fault.New(fault.Conflict, "Name a new folder, or ask to replace this one: it is then moved aside, not deleted.", "The folder %s is not empty", dir)
	}
	if err := os.MkdirAll(filepath.Dir(dir), 0o700); err != nil {
		return r, folderFault(err, dir)
	}
	stage, err := os.MkdirTemp(filepath.Dir(dir), filepath.Base(dir)+".restoring-")
	if err != nil {
		return r, folderFault(err, dir)
	}
	defer os.RemoveAll(stage) // gone when it got its name
	if r.Identity, err = buildRestored(ctx, backup, stage); err != nil {
		return r, err
	}
	if occupied {
		r.Aside, err = moveAside(dir, stage)
	} else if err = os.Remove(dir); errors.Is(err, os.ErrNotExist) {
		err = nil
	}
	if err != nil {
		return r, err
	}
	if err := errors.Join(syncDir(stage), os.Rename(stage, dir), syncDir(filepath.Dir(dir))); err != nil {
		return r, folderFault(err, dir)
	}
	return r, nil
}

func holdsAnything(dir string) (bool, error) {
	names, err := os.ReadDir(dir)
	if errors.Is(err, os.ErrNotExist) {
		return false, nil
	}
	return len(names) > 0, err
}

// buildRestored copies a backup into a folder and gives it its new identity.
func buildRestored(ctx context.Context, backup, dir string) (store.Identity, error) {
	var none store.Identity
	path := filepath.Join(dir, DatabaseFile)
	if err := copyFile(backup, path); err != nil {
		return none, folderFault(err, dir)
	}
	db, err := openWriter(ctx, path)
	if err != nil {
		return none, err
	}
	defer db.Close()
	if err := migrate(ctx, db, path); err != nil {
		return none, err
	}
	id, err := readIdentity(ctx, db)
	if err != nil {
		return none, err
	}
	id.Epoch, id.Journal = uuid.New(), uuid.New()
	if err := writeIdentity(ctx, db, id); err != nil {
		return none, err
	}
	if err := checkpoint(ctx, db, path); err != nil {
		return none, err
	}
	if err := ensureSettings(dir); err != nil {
		return none, folderFault(err, dir)
	}
	return id, nil
}

func copyFile(from, to string) error {
	src, err := os.Open(from)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(dst, src)
	return errors.Join(err, dst.Sync(), dst.Close())
}

// moveAside moves a folder out of the way under its writer's lock and takes over its machine settings.
func moveAside(dir, stage string) (string, error) {
	lock, err := lockFolder(dir, "restore")
	if err != nil {
		return "", err
	}
	defer lock.release()
	settings, err := os.ReadFile(filepath.Join(dir, SettingsFile))
	if err == nil {
		err = os.WriteFile(filepath.Join(stage, SettingsFile), settings, 0o600)
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return "", folderFault(err, dir)
	}
	aside := dir + ".replaced-" + time.Now().UTC().Format("20060102T150405")
	if err := os.Rename(dir, aside); err != nil {
		return "", folderFault(err, dir)
	}
	return aside, nil
}

// Salvage reads a damaged data folder as far as it can be read: every entry that still matches its hash goes to fn,
// the rest is named in the audit. It changes nothing.
func Salvage(ctx context.Context, dir string, fn func(store.Position, *journal.Entry) error) (store.Audit, error) {
	if err := present(dir); err != nil {
		return store.Audit{}, err
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return store.Audit{}, folderFault(err, dir)
	}
	path := filepath.Join(dir, DatabaseFile)
	db, err := open(ctx, dsn(path, "mode=ro"), path)
	if err != nil {
		return store.Audit{}, err
	}
	defer db.Close()
	return audit(ctx, db, fn)
}
