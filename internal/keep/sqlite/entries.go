package sqlite

import (
	"context"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"strings"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// insertRows is how many rows one statement inserts.
const insertRows = 100

func insertSQL(rows int) string {
	one := "(?" + strings.Repeat(",?", columnCount-1) + ")"
	return "INSERT INTO entry (" + columns + ") VALUES " + one + strings.Repeat(","+one, rows-1)
}

// transact runs one write transaction. The context ends it before the commit or not at all, so that an answer is never
// in doubt for that reason. A commit that is reported failed may have happened: the connection is thrown away and the
// next write first makes durable whatever is found then.
func (s *Store) transact(ctx context.Context, doing string, fn func(context.Context, *sql.Tx) error) error {
	if s.lock == nil {
		return readOnly(doing)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	if s.suspect {
		if err := s.reopen(); err != nil {
			return err
		}
	}
	whole := context.WithoutCancel(ctx)
	tx, err := s.write.BeginTx(whole, nil)
	if err != nil {
		return explain(err, doing, s.path())
	}
	err = fn(whole, tx)
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		if back := tx.Rollback(); back != nil && !errors.Is(back, sql.ErrTxDone) {
			s.suspect = true
		}
		return explain(err, doing, s.path())
	}
	if err := s.commit(tx); err != nil {
		tx.Rollback()
		s.suspect = true
		s.unsynced = s.unsynced || code(err) != sqliteFull
		s.reopen() // at once if it can be; else before the next write
		if code(err) == sqliteFull {
			return explain(fmt.Errorf("%w: %w", store.ErrUnknownOutcome, err), doing, s.path())
		}
		return store.UnknownOutcome(explain(err, doing, s.path()))
	}
	return nil
}

// reopen replaces a connection that failed. After a failed sync, what the commit left behind is copied into the database
// and synced before anything is answered as held: the page cache may show it although the disk has never confirmed it.
// A full disk needs no such care, and has no room for it: the commit was never written whole.
func (s *Store) reopen() error {
	ctx := context.Background()
	if s.write != nil {
		s.write.Close()
		s.write = nil
	}
	db, err := openWriter(ctx, s.path())
	if err != nil {
		return err
	}
	if s.unsynced {
		if err := checkpoint(ctx, db, s.path()); err != nil {
			db.Close()
			return err
		}
	}
	s.write, s.suspect, s.unsynced = db, false, false
	return nil
}

// checkpoint copies the whole write-ahead log into the database, syncs it and empties the log.
func checkpoint(ctx context.Context, db *sql.DB, path string) error {
	var busy, log, done int
	if err := db.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &log, &done); err != nil {
		return explain(err, "copying the write-ahead log", path)
	}
	if busy != 0 {
		return fault.New(fault.NotSaved, "Wait until other readers have ended, then save it again.", "The journal is being read and could not be made durable")
	}
	return nil
}

// Append chains drafts onto the own journal.
func (s *Store) Append(ctx context.Context, drafts []journal.Draft) ([]journal.Entry, error) {
	var all []journal.Entry
	if len(drafts) == 0 {
		return nil, ctx.Err()
	}
	err := s.transact(ctx, "appending", func(ctx context.Context, tx *sql.Tx) error {
		c, err := s.chain(ctx, tx)
		if err == nil {
			all, _, err = c.append(ctx, drafts)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return all, nil
}

// appendPart is how many drafts of a great many are chained and inserted together.
const appendPart = 1000

// AppendEach chains drafts onto the own journal part by part, in one transaction.
func (s *Store) AppendEach(ctx context.Context, drafts iter.Seq[journal.Draft]) (added int, err error) {
	err = s.transact(ctx, "appending", func(whole context.Context, tx *sql.Tx) error {
		c, err := s.chain(whole, tx)
		if err != nil {
			return err
		}
		part := make([]journal.Draft, 0, appendPart)
		flush := func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			_, n, err := c.append(whole, part)
			added, part = added+n, part[:0]
			return err
		}
		for d := range drafts {
			if part = append(part, d); len(part) < appendPart {
				continue
			}
			if err := flush(); err != nil {
				return err
			}
		}
		return flush()
	})
	if err != nil {
		return 0, err
	}
	return added, nil
}

// chain is the own journal's end and those of the others while a transaction appends.
type chain struct {
	store  *Store
	tx     *sql.Tx
	own    journal.Head
	others []journal.Head
}

// chain reads the ends once. Nobody else moves them while the transaction runs.
func (s *Store) chain(ctx context.Context, tx *sql.Tx) (*chain, error) {
	heads, err := readHeads(ctx, tx)
	if err != nil {
		return nil, err
	}
	c := &chain{store: s, tx: tx, own: heads[s.id.Load().Journal]}
	c.own.Journal = s.id.Load().Journal
	for _, h := range heads {
		c.others = append(c.others, h)
	}
	return c, nil
}

// append chains and inserts drafts; it gives an entry for each, and how many are new.
func (c *chain) append(ctx context.Context, drafts []journal.Draft) (all []journal.Entry, added int, err error) {
	held, err := c.store.heldActs(ctx, c.tx, drafts)
	if err != nil {
		return nil, 0, err
	}
	all, fresh, err := store.Chain(c.own, c.others, drafts, func(act uuid.UUID) (journal.Entry, bool, error) {
		e, ok := held[act]
		return e, ok, nil
	})
	if err != nil {
		return nil, 0, err
	}
	if len(fresh) > 0 {
		c.own = journal.HeadOf(&fresh[len(fresh)-1])
	}
	return all, len(fresh), insert(ctx, c.tx, fresh)
}

// heldActs finds the drafts' acts that the own journal holds.
func (s *Store) heldActs(ctx context.Context, tx *sql.Tx, drafts []journal.Draft) (map[uuid.UUID]journal.Entry, error) {
	acts := make([]string, len(drafts))
	for i, d := range drafts {
		acts[i] = hex.EncodeToString(d.ID[:])
	}
	list, err := json.Marshal(acts)
	if err != nil {
		return nil, err
	}
	held, self := map[uuid.UUID]journal.Entry{}, s.id.Load().Journal
	// Named, since the planner would rather walk through the whole journal.
	err = query(ctx, tx, "SELECT "+columns+" FROM entry INDEXED BY entry_act WHERE act IN (SELECT unhex(value) FROM json_each(?)) AND journal = ?",
		func(_ store.Position, e *journal.Entry) error {
			if old, ok := held[e.ID]; !ok || e.N < old.N { // the first entry of an act is the one that counts
				held[e.ID] = *e
			}
			return nil
		}, string(list), self[:])
	return held, err
}

// Put stores sealed entries verbatim.
func (s *Store) Put(ctx context.Context, entries []journal.Entry) (int, error) {
	if len(entries) == 0 {
		return 0, ctx.Err()
	}
	var fresh []journal.Entry
	err := s.transact(ctx, "storing entries", func(ctx context.Context, tx *sql.Tx) error {
		heads, err := readHeads(ctx, tx)
		if err != nil {
			return err
		}
		fresh, err = store.Follow(heads, entries, func(p store.Place) (journal.Entry, bool, error) { return findPlace(ctx, tx, p) })
		if err != nil {
			return err
		}
		return insert(ctx, tx, fresh)
	})
	if err != nil {
		return 0, err
	}
	return len(fresh), nil
}

// insert adds entries at the next positions. The last position is read in the same transaction and kept nowhere else.
func insert(ctx context.Context, tx *sql.Tx, entries []journal.Entry) error {
	if len(entries) == 0 {
		return nil
	}
	var last store.Position
	if err := tx.QueryRowContext(ctx, "SELECT coalesce(max(pos), 0) FROM entry").Scan(&last); err != nil {
		return err
	}
	many := len(entries) / insertRows * insertRows
	if err := insertIn(ctx, tx, insertRows, last, entries[:many]); err != nil {
		return err
	}
	return insertIn(ctx, tx, 1, last+store.Position(many), entries[many:])
}

// insertIn inserts entries after a position, so many rows a statement.
func insertIn(ctx context.Context, tx *sql.Tx, rows int, last store.Position, entries []journal.Entry) error {
	if len(entries) == 0 {
		return nil
	}
	statement, err := tx.PrepareContext(ctx, insertSQL(rows))
	if err != nil {
		return err
	}
	defer statement.Close()
	args := make([]any, 0, rows*columnCount)
	for i := range entries {
		last++
		if args = values(args, last, &entries[i]); len(args) < rows*columnCount {
			continue
		}
		if _, err := statement.ExecContext(ctx, args...); err != nil {
			return err
		}
		args = args[:0]
	}
	return nil
}

// querier is a database or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// query calls fn for every entry of a query.
func query(ctx context.Context, q querier, text string, fn func(store.Position, *journal.Entry) error, args ...any) error {
	rows, err := q.QueryContext(ctx, text, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	r := newRow()
	for rows.Next() {
		if err := ctx.Err(); err != nil {
			return err
		}
		pos, e, err := r.read(rows.Scan)
		if err != nil {
			return err
		}
		if err := fn(pos, e); err != nil {
			return err
		}
	}
	return rows.Err()
}

// headQuery finds the last entry of every journal. It steps from journal to journal along the index, so that its cost
// grows with the number of journals and not with the number of entries; no head is kept apart from the entries.
const headQuery = `WITH RECURSIVE held(id) AS (
  SELECT min(journal) FROM entry
  UNION ALL
  SELECT (SELECT min(journal) FROM entry WHERE journal > held.id) FROM held WHERE held.id IS NOT NULL
)
SELECT ` + columns + ` FROM held JOIN entry ON journal = held.id AND n = (SELECT max(n) FROM entry WHERE journal = held.id)`

func readHeads(ctx context.Context, q querier) (map[uuid.UUID]journal.Head, error) {
	heads := map[uuid.UUID]journal.Head{}
	err := query(ctx, q, headQuery, func(pos store.Position, e *journal.Entry) error {
		if err := journal.Verify(store.Before(e), e); err != nil { // nothing is chained to a damaged entry
			return store.DamagedEntry(err, store.EntryPlace(pos, e))
		}
		heads[e.Journal] = journal.HeadOf(e)
		return nil
	})
	return heads, err
}

// Heads gives the end of every journal.
func (s *Store) Heads(ctx context.Context) (map[uuid.UUID]journal.Head, error) {
	heads, err := readHeads(ctx, s.read)
	if err != nil {
		return nil, explain(err, "reading heads", s.path())
	}
	return heads, nil
}

// Read gives the entries after a position.
func (s *Store) Read(ctx context.Context, after store.Position, fn func(store.Position, *journal.Entry) error) error {
	check := store.CheckerAfter(after)
	var stopped error
	err := query(ctx, s.read, "SELECT "+columns+" FROM entry WHERE pos > ? ORDER BY pos", func(pos store.Position, e *journal.Entry) error {
		if err := check.Check(pos, e); err != nil {
			return store.DamagedEntry(err, store.EntryPlace(pos, e))
		}
		stopped = fn(pos, e)
		return stopped
	}, int64(min(after, 1<<62)))
	if err != nil && err != stopped {
		return explain(err, "reading entries", s.path())
	}
	return err
}
