package sqlite

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"embed"
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pressly/goose/v3"
	_ "modernc.org/sqlite" // the driver

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// applicationID marks a database as ours in its header, "IceH".
const applicationID = 0x49636548

// leastSQLite is the first version without the race in which a reset of the write-ahead log could lose commits
// [SQLite, release notes of 3.51.3].
var leastSQLite = []int{3, 51, 3}

// dsn names a database file with the settings of every connection to it.
func dsn(path string, params ...string) string {
	path = filepath.ToSlash(path)
	if !strings.HasPrefix(path, "/") { // C:/... of Windows
		path = "/" + path
	}
	q := append([]string{
		"_pragma=busy_timeout(10000)", "_pragma=foreign_keys(1)", "_pragma=trusted_schema(0)", "_pragma=cell_size_check(1)", "_dqs=0", "_defensive=1",
	}, params...)
	return "file:" + (&url.URL{Path: path}).EscapedPath() + "?" + strings.Join(q, "&")
}

// openWriter opens the one connection that writes. synchronous FULL syncs the write-ahead log at every commit;
// secure_delete overwrites an erased text. What undoes one statement alone stays in memory, and the cache holds the index of
// acts of a file of many rows, so that neither is written to the disk over and over within one transaction.
func openWriter(ctx context.Context, path string) (*sql.DB, error) {
	db, err := open(ctx, dsn(path, "_pragma=synchronous(FULL)", "_pragma=cache_size(-24000)", "_pragma=temp_store(MEMORY)",
		"_pragma=secure_delete(1)", "_txlock=immediate"), path)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	// Not a setting of the connection: it changes the file, which must have been recognised as ours before.
	var mode string
	if err := db.QueryRowContext(ctx, "PRAGMA journal_mode = WAL").Scan(&mode); err != nil || mode != "wal" {
		db.Close()
		return nil, fault.Wrap(err, fault.Unavailable, "Put the data folder on a local disk.", "%s does not support a write-ahead log (mode %q)", path, mode)
	}
	return db, nil
}

// openReader opens a pool of connections that cannot write. Idle ones are few; in use there are as many as there are
// readers, since a reader may ask for a blob while it reads entries.
func openReader(ctx context.Context, path string) (*sql.DB, error) {
	db, err := open(ctx, dsn(path, "mode=ro", "_pragma=cache_size(-16000)"), path)
	if err != nil && unwritable(path) {
		// Without a right to make the index of the write-ahead log, SQLite reads only what cannot change.
		db, err = open(ctx, dsn(path, "mode=ro", "immutable=1"), path)
	}
	if err != nil {
		return nil, err
	}
	db.SetMaxIdleConns(4)
	if err := checkVersion(ctx, db, path); err != nil {
		db.Close()
		return nil, err
	}
	return db, nil
}

// unwritable tells whether a database lies where nothing can be written and no write-ahead log waits beside it.
func unwritable(path string) bool {
	if info, err := os.Stat(path + "-wal"); err == nil && info.Size() > 0 {
		return false
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".probe-*")
	if err != nil {
		return true
	}
	f.Close()
	os.Remove(f.Name())
	return false
}

func open(ctx context.Context, dsn, path string) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, fmt.Errorf("sqlite: opening %s: %w", path, err)
	}
	if err := recognise(ctx, db, path); err != nil {
		db.Close()
		return nil, err
	}
	return db, nil
}

// recognise refuses a SQLite that loses commits, a file that is no database and a database of another program.
func recognise(ctx context.Context, db *sql.DB, path string) error {
	var version string
	if err := db.QueryRowContext(ctx, "SELECT sqlite_version()").Scan(&version); err != nil {
		return explain(err, "opening", path)
	}
	if !atLeast(version, leastSQLite) {
		return fault.New(fault.Internal, "Build with a newer modernc.org/sqlite.", "The SQLite in this program is %s, which can lose commits", version)
	}
	var app, tables int
	if err := db.QueryRowContext(ctx, "SELECT application_id, (SELECT count(*) FROM sqlite_schema WHERE name NOT LIKE 'goose_%' AND name NOT LIKE 'sqlite_%') FROM pragma_application_id").Scan(&app, &tables); err != nil {
		return explain(err, "opening", path)
	}
	if app != applicationID && (app != 0 || tables > 0) {
		return fault.New(fault.Conflict, "Name another data folder.", "%s is a database of another program", path)
	}
	return nil
}

func atLeast(version string, least []int) bool {
	var got []int
	for part := range strings.SplitSeq(version, ".") {
		v, err := strconv.Atoi(part)
		if err != nil {
			return false
		}
		got = append(got, v)
	}
	return slices.Compare(got, least) >= 0
}

// migrations gives the steps to the newest shape, each a file of plain SQL run in one transaction with its record.
func migrations() ([]*goose.Migration, error) {
	names, err := fs.Glob(migrationFiles, "migrations/*.sql")
	if err != nil {
		return nil, err
	}
	var out []*goose.Migration
	for _, name := range names {
		number, err := strconv.ParseInt(filepath.Base(name)[:4], 10, 64)
		if err != nil {
			return nil, fmt.Errorf("sqlite: migration %s is not named NNNN-name.sql", name)
		}
		step, err := migrationFiles.ReadFile(name)
		if err != nil {
			return nil, err
		}
		out = append(out, goose.NewGoMigration(number, &goose.GoFunc{RunTx: func(ctx context.Context, tx *sql.Tx) error {
			_, err := tx.ExecContext(ctx, string(step))
			return err
		}}, nil))
	}
	return out, nil
}

// migrate brings a database up to the newest shape.
func migrate(ctx context.Context, db *sql.DB, path string) error {
	steps, err := migrations()
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(goose.DialectSQLite3, db, nil, goose.WithGoMigrations(steps...), goose.WithDisableGlobalRegistry(true), goose.WithLogger(goose.NopLogger()))
	if err != nil {
		return fmt.Errorf("sqlite: migrating: %w", err)
	}
	at, want, err := p.GetVersions(ctx)
	if err != nil {
		return explain(err, "migrating", path)
	}
	if at > want {
		return newer(path, at)
	}
	if _, err := p.Up(ctx); err != nil {
		return explain(err, "migrating", path)
	}
	return nil
}

// checkVersion refuses a shape that this program cannot read.
func checkVersion(ctx context.Context, db *sql.DB, path string) error {
	steps, err := migrations()
	if err != nil {
		return err
	}
	var at int64
	err = db.QueryRowContext(ctx, "SELECT coalesce(max(version_id), 0) FROM goose_db_version WHERE is_applied").Scan(&at)
	switch want := int64(len(steps)); {
	case code(err) == sqliteError, err == nil && at == 0:
		return fault.New(fault.Missing, "Start with icehand demo or icehand import.", "%s is empty: its first start was interrupted", path)
	case err != nil:
		return explain(err, "opening", path)
	case at > want:
		return newer(path, at)
	case at < want:
		return fault.New(fault.Conflict, "Run a command that writes, such as icehand serve, once: it brings the journal up to date.", "%s was written by an older program", path)
	}
	return nil
}

func newer(path string, at int64) error {
	return fault.New(fault.Conflict, "Use the newer program. Nothing was changed.", "%s was written by a newer program (shape %d)", path, at)
}

// ensureIdentity makes the identity at first start.
func ensureIdentity(ctx context.Context, db *sql.DB) error {
	var rows, entries int
	err := db.QueryRowContext(ctx, "SELECT (SELECT count(*) FROM installation), (SELECT count(*) FROM (SELECT 1 FROM entry LIMIT 1))").Scan(&rows, &entries)
	switch {
	case err != nil:
		return explain(err, "reading the identity", "the journal")
	case rows > 0:
		return nil
	case entries > 0:
		return errNoIdentity
	}
	return writeIdentity(ctx, db, store.NewIdentity(time.Now()))
}

var errNoIdentity = fault.New(fault.Damaged, "Restore the last backup.", "The journal has lost its identity")

// execer is a database or a transaction.
type execer interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}

func writeIdentity(ctx context.Context, db execer, id store.Identity) error {
	sum := identitySum(id)
	_, err := db.ExecContext(ctx, "INSERT OR REPLACE INTO installation (one, outfit, account, journal, epoch, made, sum) VALUES (1, ?, ?, ?, ?, ?, ?)",
		id.Outfit[:], id.Account[:], id.Journal[:], id.Epoch[:], id.Made.UnixMilli(), sum[:])
	if err != nil {
		return explain(err, "writing the identity", "the journal")
	}
	return nil
}

func readIdentity(ctx context.Context, db *sql.DB) (store.Identity, error) {
	var id store.Identity
	var made int64
	var sum [32]byte
	err := db.QueryRowContext(ctx, "SELECT outfit, account, journal, epoch, made, sum FROM installation").Scan(
		fixed(id.Outfit[:]), fixed(id.Account[:]), fixed(id.Journal[:]), fixed(id.Epoch[:]), &made, fixed(sum[:]))
	switch {
	case errors.Is(err, sql.ErrNoRows), errors.Is(err, errShape):
		return id, errNoIdentity
	case err != nil:
		return id, explain(err, "reading the identity", "the journal")
	}
	id.Made = time.UnixMilli(made).UTC()
	if identitySum(id) != sum {
		return id, errNoIdentity
	}
	return id, nil
}

func identitySum(id store.Identity) [32]byte {
	b := slices.Concat(id.Outfit[:], id.Account[:], id.Journal[:], id.Epoch[:])
	return sha256.Sum256(binary.BigEndian.AppendUint64(b, uint64(id.Made.UnixMilli())))
}
