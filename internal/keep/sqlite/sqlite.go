// Package sqlite keeps a journal in one SQLite file, so that nothing that was answered as saved is lost by a crash.
//
// Start with [Open]. One data folder holds the database, the machine's settings and the writer's lock; one process
// writes at a time and any number read. [Store.Backup], [Restore] and [Salvage] guard against the loss of the disk.
// It assumes a local disk that keeps what it has confirmed. It leaves out what entries mean and how they travel.
// docs/decisions/0005-sqlite.md gives the reasons.
package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
)

// The files of a data folder.
const (
	DatabaseFile = "icehand.db"   // the journal
	SettingsFile = "icehand.json" // settings of this machine, never journaled
	LockFile     = "writer.lock"  // who writes
)

// Options says how to open a data folder. The zero value opens it for writing.
type Options struct {
	ReadOnly bool   // take no lock and write nothing; default false
	Program  string // what to call this program towards a second writer; default the name it was started by
}

// Store is a [store.Store] in a SQLite file.
type Store struct {
	dir  string
	lock *folderLock // nil when reading only
	read *sql.DB
	id   atomic.Pointer[store.Identity]

	mu       sync.Mutex // one write at a time
	write    *sql.DB    // nil when reading only
	suspect  bool       // a commit failed: reopen before the next write
	unsynced bool       // a sync may have failed: make durable what is there before the next write
	commit   func(*sql.Tx) error
}

var _ store.Store = (*Store)(nil)

// Open opens a data folder. For writing it makes what is missing and refuses when another process writes there; for
// reading it makes nothing and works beside a writer.
func Open(ctx context.Context, dir string, opt Options) (*Store, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, folderFault(err, dir)
	}
	if opt.Program == "" {
		opt.Program = filepath.Base(os.Args[0])
	}
	s := &Store{dir: dir, commit: (*sql.Tx).Commit}
	if opt.ReadOnly {
		err = s.openToRead(ctx)
	} else {
		err = s.openToWrite(ctx, opt.Program)
	}
	if err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

func (s *Store) openToRead(ctx context.Context) (err error) {
	if err := present(s.dir); err != nil {
		return err
	}
	if s.read, err = openReader(ctx, s.path()); err != nil {
		return err
	}
	id, err := readIdentity(ctx, s.read)
	s.id.Store(&id)
	return err
}

func (s *Store) openToWrite(ctx context.Context, program string) (err error) {
	if err := os.MkdirAll(s.dir, 0o700); err != nil { // the spots are in there
		return folderFault(err, s.dir)
	}
	if s.lock, err = lockFolder(s.dir, program); err != nil {
		return err
	}
	if s.write, err = openWriter(ctx, s.path()); err != nil {
		return err
	}
	if err := migrate(ctx, s.write, s.path()); err != nil {
		return err
	}
	if err := ensureIdentity(ctx, s.write); err != nil {
		return err
	}
	if err := ensureSettings(s.dir); err != nil {
		return folderFault(err, s.dir)
	}
	if s.read, err = openReader(ctx, s.path()); err != nil {
		return err
	}
	id, err := readIdentity(ctx, s.read)
	s.id.Store(&id)
	return err
}

func (s *Store) path() string { return filepath.Join(s.dir, DatabaseFile) }

// present says in plain words when there is nothing to read.
func present(dir string) error {
	if _, err := os.Stat(dir); err != nil {
		return folderFault(err, dir)
	}
	if _, err := os.Stat(filepath.Join(dir, DatabaseFile)); err != nil {
		if errors.Is(err, os.ErrNotExist) {
			return fault.Wrap(err, fault.Missing, "Name the right folder with --data, or start with icehand demo or icehand import.", "There is no journal in %s", dir)
		}
		return folderFault(err, dir)
	}
	return nil
}

// ensureSettings makes an empty settings file when there is none.
func ensureSettings(dir string) error {
	path := filepath.Join(dir, SettingsFile)
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, os.ErrExist) {
		return nil
	}
	if err != nil {
		return err
	}
	_, err = f.WriteString("{}\n")
	return errors.Join(err, f.Sync(), f.Close(), syncDir(dir))
}

// Dir gives the data folder.
func (s *Store) Dir() string { return s.dir }

// SetAddress notes where this process serves, for commands that want to hand their work over.
func (s *Store) SetAddress(address string) error {
	if s.lock == nil {
		return readOnly("noting an address")
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.lock.holder.Address = address
	if err := s.lock.note(); err != nil {
		return folderFault(err, s.dir)
	}
	return nil
}

// Identity gives the installation's identity.
func (s *Store) Identity(ctx context.Context) (store.Identity, error) { return *s.id.Load(), ctx.Err() }

// Close releases the files and then the lock.
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	var errs []error
	if s.read != nil {
		errs = append(errs, s.read.Close())
	}
	if s.write != nil {
		errs = append(errs, s.write.Close()) // last, so that it folds the write-ahead log into the database
	}
	if s.lock != nil {
		errs = append(errs, s.lock.release())
	}
	s.read, s.write, s.lock = nil, nil, nil
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("sqlite: closing: %w", err)
	}
	return nil
}

func readOnly(doing string) error {
	return fault.Wrap(fmt.Errorf("sqlite: %s: %w", doing, store.ErrReadOnly), fault.Conflict, "Open it for writing.", "The journal was opened for reading only")
}
