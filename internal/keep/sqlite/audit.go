package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// Verify reads everything and names what does not hold.
func (s *Store) Verify(ctx context.Context) (store.Audit, error) {
	return audit(ctx, s.read, func(store.Position, *journal.Entry) error { return nil })
}

// audit checks the whole database and hands every good entry to fn.
func audit(ctx context.Context, db *sql.DB, fn func(store.Position, *journal.Entry) error) (store.Audit, error) {
	var a store.Audit
	tx, err := db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true}) // one state of the database for all checks
	if err != nil {
		return a, explain(err, "auditing", "the journal")
	}
	defer tx.Rollback()
	if err := auditFile(ctx, tx, &a); err != nil {
		return a, err
	}
	if err := walk(ctx, tx, &a, fn); err != nil {
		return a, err
	}
	err = auditSums(ctx, tx, &a, &a.Blobs, "blob", "SELECT hash, x'', data FROM blob ORDER BY hash")
	if err != nil {
		return a, err
	}
	return a, auditSums(ctx, tx, &a, &a.Texts, "text", "SELECT hash, salt, CAST(words AS BLOB) FROM text ORDER BY hash")
}

func damaged(a *store.Audit, where string, what any) {
	a.Damage = append(a.Damage, store.Damage{Where: where, What: fmt.Sprint(what)})
}

// ended tells whether the audit could not go on for a reason that is no damage.
func ended(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

// auditFile asks SQLite itself: structure, indexes against tables, constraints.
func auditFile(ctx context.Context, tx *sql.Tx, a *store.Audit) error {
	rows, err := tx.QueryContext(ctx, "PRAGMA integrity_check(50)")
	if err != nil {
		damaged(a, "database", err)
		return ended(ctx, nil)
	}
	defer rows.Close()
	for rows.Next() {
		var what string
		if err := rows.Scan(&what); err != nil {
			return err
		}
		if what != "ok" {
			damaged(a, "database", what)
		}
	}
	if err := rows.Err(); err != nil {
		damaged(a, "database", err)
	}
	return ended(ctx, nil)
}

// walk reads the entries past every place that cannot be read.
func walk(ctx context.Context, tx *sql.Tx, a *store.Audit, fn func(store.Position, *journal.Entry) error) error {
	var check store.Checker
	var last store.Position
	var stopped error
	visit := func(pos store.Position, e *journal.Entry) error {
		a.Entries++
		last = pos
		if err := check.Check(pos, e); err != nil {
			damaged(a, store.EntryPlace(pos, e), err)
			if journal.Verify(store.Before(e), e) != nil {
				return nil // the entry itself is bad, not only its neighbour
			}
		}
		stopped = fn(pos, e)
		return stopped
	}
	end := lastPosition(ctx, tx)
	for {
		// ">= last+1" and not "> last": the latter steps through the page of last, which may be the damaged one.
		err := query(ctx, tx, "SELECT "+columns+" FROM entry WHERE pos >= ? ORDER BY pos", visit, int64(last+1))
		switch {
		case err == nil && last >= end:
			a.Journals = check.Journals()
			return nil
		case ctx.Err() != nil:
			return ctx.Err()
		case stopped != nil:
			return stopped
		case err == nil:
			damaged(a, fmt.Sprintf("positions %d to %d", last+1, end), "entries are missing from the table though an index names them")
			end = last
		case last >= end:
			damaged(a, fmt.Sprintf("after position %d", last), err)
			a.Journals = check.Journals()
			return nil
		default:
			from := last + 1
			if last, err = nextReadable(ctx, tx, from, end); err != nil {
				return err
			}
			damaged(a, fmt.Sprintf("positions %d to %d", from, last), "the entries cannot be read")
		}
	}
}

// nextReadable gives the last position before the next entry that can be read, starting at from, or the end.
func nextReadable(ctx context.Context, tx *sql.Tx, from, end store.Position) (store.Position, error) {
	for pos := from + 1; pos <= end; pos++ {
		found := false
		err := query(ctx, tx, "SELECT "+columns+" FROM entry WHERE pos = ?", func(store.Position, *journal.Entry) error {
			found = true
			return nil
		}, int64(pos))
		if ctx.Err() != nil {
			return 0, ctx.Err()
		}
		if err == nil && found {
			return pos - 1, nil
		}
	}
	return max(end, from), nil
}

// lastPosition finds the last position from whatever can still be read: the table, else an index.
func lastPosition(ctx context.Context, tx *sql.Tx) store.Position {
	var last store.Position
	for _, text := range []string{
		"SELECT coalesce(max(pos), 0) FROM entry",
		"SELECT coalesce(max(pos), 0) FROM (SELECT pos FROM entry INDEXED BY entry_act WHERE act >= x'')",
		"SELECT coalesce(max(pos), 0) FROM (SELECT pos FROM entry INDEXED BY entry_place WHERE journal >= x'')",
	} {
		var p int64
		if tx.QueryRowContext(ctx, text).Scan(&p) == nil {
			last = max(last, store.Position(p))
		}
	}
	return last
}

// auditSums checks rows of hash, salt and bytes.
func auditSums(ctx context.Context, tx *sql.Tx, a *store.Audit, count *int, what, text string) error {
	rows, err := tx.QueryContext(ctx, text)
	if err != nil {
		damaged(a, what+"s", err)
		return ended(ctx, nil)
	}
	defer rows.Close()
	var hash, salt, data whole
	for rows.Next() {
		if err := rows.Scan(&hash, &salt, &data); err != nil {
			damaged(a, what+"s", err)
			continue
		}
		*count++
		sum := journal.Sum(append(append(make([]byte, 0, len(salt)+len(data)), salt...), data...))
		if string(sum[:]) != string(hash) {
			damaged(a, fmt.Sprintf("%s %x", what, []byte(hash)), "its bytes do not match its hash")
		}
	}
	if err := rows.Err(); err != nil && !errors.Is(err, context.Canceled) {
		damaged(a, what+"s", err)
	}
	return ended(ctx, nil)
}
