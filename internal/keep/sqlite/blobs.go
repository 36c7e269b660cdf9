package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// PutBlob stores bytes under their hash.
func (s *Store) PutBlob(ctx context.Context, data []byte) (journal.Hash, error) {
	if err := store.CheckBlob(data); err != nil {
		return journal.Hash{}, err
	}
	h := journal.Sum(data)
	if data == nil {
		data = []byte{} // nil would be stored as NULL
	}
	err := s.transact(ctx, "storing a file", func(ctx context.Context, tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO blob (hash, data) VALUES (?, ?) ON CONFLICT DO NOTHING", h[:], data)
		return err
	})
	if err != nil {
		return journal.Hash{}, err
	}
	return h, nil
}

// Blob gives the bytes of a hash.
func (s *Store) Blob(ctx context.Context, h journal.Hash) ([]byte, error) {
	var data []byte
	err := s.read.QueryRowContext(ctx, "SELECT data FROM blob WHERE hash = ?", h[:]).Scan(&data)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil, fmt.Errorf("sqlite: blob %s: %w", h, store.ErrNotFound)
	case err != nil:
		return nil, explain(err, "reading a file", s.path())
	case journal.Sum(data) != h:
		return nil, store.DamagedBlob(h)
	}
	return data, nil
}

// PutText stores a text under a salted hash.
func (s *Store) PutText(ctx context.Context, text string) (journal.Text, error) {
	return s.PutSalted(ctx, store.Salt(text))
}

// PutTexts stores texts, all or none.
func (s *Store) PutTexts(ctx context.Context, texts []string) ([]journal.Text, error) {
	list := make([]store.Salted, len(texts))
	for i, text := range texts {
		list[i] = store.Salt(text)
	}
	return s.putSalted(ctx, list)
}

// PutSalted stores a text with its salt.
func (s *Store) PutSalted(ctx context.Context, t store.Salted) (journal.Text, error) {
	names, err := s.putSalted(ctx, []store.Salted{t})
	if err != nil {
		return journal.Text{}, err
	}
	return names[0], nil
}

// putSalted stores texts with their salts in one transaction.
func (s *Store) putSalted(ctx context.Context, list []store.Salted) ([]journal.Text, error) {
	names := make([]journal.Text, len(list))
	for i, t := range list {
		if err := t.Check(); err != nil {
			return nil, err
		}
		names[i] = t.Name()
	}
	if len(list) == 0 {
		return nil, ctx.Err()
	}
	err := s.transact(ctx, "storing a text", func(ctx context.Context, tx *sql.Tx) error {
		put, err := tx.PrepareContext(ctx, "INSERT INTO text (hash, salt, words) VALUES (?, ?, ?) ON CONFLICT DO NOTHING")
		if err != nil {
			return err
		}
		defer put.Close()
		for i, t := range list {
			if _, err := put.ExecContext(ctx, names[i].Blob[:], t.Salt[:], t.Text); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return names, nil
}

// Text gives a text back.
func (s *Store) Text(ctx context.Context, name journal.Text) (string, error) {
	var t store.Salted
	err := s.read.QueryRowContext(ctx, "SELECT salt, words FROM text WHERE hash = ?", name.Blob[:]).Scan(fixed(t.Salt[:]), &t.Text)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return "", fmt.Errorf("sqlite: text %s: %w", name.Blob, store.ErrNotFound)
	case err != nil:
		return "", explain(err, "reading a text", s.path())
	case t.Name() != name:
		return "", store.DamagedBlob(name.Blob)
	}
	return t.Text, nil
}

// EraseText forgets a text: the row is overwritten, and so is the copy in the write-ahead log. Backups made before
// still hold it.
func (s *Store) EraseText(ctx context.Context, name journal.Text) error {
	err := s.transact(ctx, "erasing a text", func(ctx context.Context, tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "DELETE FROM text WHERE hash = ?", name.Blob[:])
		return err
	})
	if err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	return checkpoint(ctx, s.write, s.path())
}

// Blobs lists the blobs.
func (s *Store) Blobs(ctx context.Context, fn func(journal.Hash) error) error {
	var h journal.Hash
	return s.list(ctx, "SELECT hash FROM blob ORDER BY hash", []any{fixed(h[:])}, func() error { return fn(h) })
}

// Texts lists the texts.
func (s *Store) Texts(ctx context.Context, fn func(store.Salted) error) error {
	var t store.Salted
	return s.list(ctx, "SELECT salt, words FROM text ORDER BY hash", []any{fixed(t.Salt[:]), &t.Text}, func() error { return fn(t) })
}

// list calls fn for every row of a query, the row being in the targets.
func (s *Store) list(ctx context.Context, text string, targets []any, fn func() error) error {
	rows, err := s.read.QueryContext(ctx, text)
	if err != nil {
		return explain(err, "listing", s.path())
	}
	defer rows.Close()
	for rows.Next() {
		if err := rows.Scan(targets...); err != nil {
			return explain(err, "listing", s.path())
		}
		if err := fn(); err != nil {
			return err
		}
	}
	if err := rows.Err(); err != nil {
		return explain(err, "listing", s.path())
	}
	return nil
}
