package sqlite

import (
	"context"
	"database/sql"
	"fmt"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

var _ store.Replica = (*Store)(nil)

// Last gives the last position.
func (s *Store) Last(ctx context.Context) (store.Position, error) {
	var last int64
	if err := s.read.QueryRowContext(ctx, "SELECT coalesce(max(pos), 0) FROM entry").Scan(&last); err != nil {
		return 0, explain(err, "reading the last position", s.path())
	}
	return store.Position(last), nil
}

const placeQuery = "SELECT " + columns + " FROM entry WHERE journal = ? AND n = ?"

// findPlace looks an entry up by its number; false when it is not held.
func findPlace(ctx context.Context, q querier, p store.Place) (out journal.Entry, ok bool, err error) {
	err = query(ctx, q, placeQuery, func(_ store.Position, e *journal.Entry) error {
		out, ok = *e, true
		return nil
	}, p.Journal[:], int64(p.N))
	return out, ok, err
}

// Find gives the entry at a place.
func (s *Store) Find(ctx context.Context, p store.Place) (journal.Entry, error) {
	e, ok, err := findPlace(ctx, s.read, p)
	switch {
	case err != nil:
		return journal.Entry{}, explain(err, "finding an entry", s.path())
	case !ok:
		return journal.Entry{}, fmt.Errorf("sqlite: entry %d of journal %s: %w", p.N, p.Journal, store.ErrNotFound)
	}
	if err := journal.Verify(store.Before(&e), &e); err != nil {
		return journal.Entry{}, store.DamagedEntry(err, fmt.Sprintf("entry %d of journal %s", p.N, p.Journal))
	}
	return e, nil
}

// Become replaces the identity.
func (s *Store) Become(ctx context.Context, id store.Identity) error {
	err := s.transact(ctx, "writing the identity", func(ctx context.Context, tx *sql.Tx) error { return writeIdentity(ctx, tx, id) })
	if err != nil {
		return err
	}
	s.id.Store(&id)
	return nil
}

// Rehome moves the end of a journal into a journal of its own. It is the one place where rows are taken out, and where
// positions change: each row that goes stands again under its branch.
func (s *Store) Rehome(ctx context.Context, after store.Place) (int, error) {
	moved := 0
	err := s.transact(ctx, "moving the end of a journal", func(ctx context.Context, tx *sql.Tx) error {
		var tail []journal.Entry
		var gone []store.Position
		err := query(ctx, tx, "SELECT "+columns+" FROM entry WHERE journal = ? AND n > ? ORDER BY n", func(pos store.Position, e *journal.Entry) error {
			tail, gone = append(tail, *e), append(gone, pos)
			return nil
		}, after.Journal[:], int64(after.N))
		if err != nil || len(tail) == 0 {
			return err
		}
		heads, err := readHeads(ctx, tx)
		if err != nil {
			return err
		}
		fresh, err := store.Rehomed(tail, heads, func(p store.Place) (journal.Entry, bool, error) { return findPlace(ctx, tx, p) })
		if err != nil {
			return err
		}
		moved = len(tail)
		if _, err := tx.ExecContext(ctx, "DELETE FROM entry WHERE journal = ? AND n > ?", after.Journal[:], int64(after.N)); err != nil {
			return err
		}
		if err := closeUp(ctx, tx, gone); err != nil {
			return err
		}
		return insert(ctx, tx, fresh)
	})
	if err != nil {
		return 0, err
	}
	return moved, nil
}

// closeUp makes positions dense again after rows at some of them, in ascending order, went. By way of negative positions,
// since no two rows may share one on the way.
func closeUp(ctx context.Context, tx *sql.Tx, gone []store.Position) error {
	for i, pos := range gone {
		next := int64(1 << 62)
		if i+1 < len(gone) {
			next = int64(gone[i+1])
		}
		if _, err := tx.ExecContext(ctx, "UPDATE entry SET pos = ? - pos WHERE pos > ? AND pos < ?", int64(i+1), int64(pos), next); err != nil {
			return err
		}
	}
	_, err := tx.ExecContext(ctx, "UPDATE entry SET pos = -pos WHERE pos < 0")
	return err
}
