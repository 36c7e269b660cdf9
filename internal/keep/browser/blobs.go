//go:build js && wasm

package browser

import (
	"context"
	"fmt"
	"slices"
	"syscall/js"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// write stores values in one strict transaction.
func (s *Store) write(name, doing string, values map[string][]byte) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	put := func(st func(string) js.Value) {
		for key, b := range values {
			st(name).Call("put", toJS(b), key)
		}
	}
	err := s.transact(true, []string{name}, put)
	if named(err, "QuotaExceededError") {
		if s.transact(true, []string{"shelf"}, func(st func(string) js.Value) { st("shelf").Call("clear") }) == nil {
			err = s.transact(true, []string{name}, put)
		}
	}
	return s.explain(err, doing)
}

// fetch gives one stored value; ok is false when there is none.
func (s *Store) fetch(name, key string) (b []byte, ok bool, err error) {
	var v js.Value
	err = s.transact(false, []string{name}, func(st func(string) js.Value) { v = st(name).Call("get", key) })
	if err != nil {
		return nil, false, s.explain(err, "reading")
	}
	v = v.Get("result")
	b, ok = fromJS(v)
	if !ok && !v.IsUndefined() {
		return nil, false, s.explain(fmt.Errorf("%w: %s of %s", errShape, v.Type(), name), "reading")
	}
	return b, ok, nil
}

// keys lists the keys of a store in order; hexadecimal sorts as the hashes do.
func (s *Store) keys(name string) ([]journal.Hash, error) {
	var v js.Value
	if err := s.transact(false, []string{name}, func(st func(string) js.Value) { v = st(name).Call("getAllKeys") }); err != nil {
		return nil, s.explain(err, "reading")
	}
	v = v.Get("result")
	out := make([]journal.Hash, v.Length())
	for i := range out {
		if err := out[i].UnmarshalText([]byte(v.Index(i).String())); err != nil {
			return nil, s.explain(fmt.Errorf("%w: %w", errShape, err), "reading")
		}
	}
	return out, nil
}

// PutBlob stores bytes under their hash.
func (s *Store) PutBlob(ctx context.Context, data []byte) (journal.Hash, error) {
	if err := ctx.Err(); err != nil {
		return journal.Hash{}, err
	}
	if err := store.CheckBlob(data); err != nil {
		return journal.Hash{}, err
	}
	h := journal.Sum(data)
	return h, s.write("blobs", "saving a file", map[string][]byte{h.String(): data})
}

// Blob gives the bytes of a hash.
func (s *Store) Blob(ctx context.Context, h journal.Hash) ([]byte, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	data, ok, err := s.fetch("blobs", h.String())
	switch {
	case err != nil:
		return nil, err
	case !ok:
		return nil, fmt.Errorf("browser: blob %s: %w", h, store.ErrNotFound)
	case journal.Sum(data) != h:
		return nil, store.DamagedBlob(h)
	}
	return data, nil
}

// Blobs lists the blobs.
func (s *Store) Blobs(ctx context.Context, fn func(journal.Hash) error) error {
	list, err := s.keys("blobs")
	for i := 0; err == nil && i < len(list); i++ {
		if err = ctx.Err(); err == nil {
			err = fn(list[i])
		}
	}
	return err
}

// PutText stores a text under a salted hash.
func (s *Store) PutText(ctx context.Context, text string) (journal.Text, error) {
	return s.PutSalted(ctx, store.Salt(text))
}

// PutSalted stores a text with its salt.
func (s *Store) PutSalted(ctx context.Context, t store.Salted) (journal.Text, error) {
	names, err := s.putTexts(ctx, []store.Salted{t})
	if err != nil {
		return journal.Text{}, err
	}
	return names[0], nil
}

// PutTexts stores texts, all or none.
func (s *Store) PutTexts(ctx context.Context, texts []string) ([]journal.Text, error) {
	list := make([]store.Salted, len(texts))
	for i, text := range texts {
		list[i] = store.Salt(text)
	}
	return s.putTexts(ctx, list)
}

func (s *Store) putTexts(ctx context.Context, list []store.Salted) ([]journal.Text, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if len(list) == 0 {
		return nil, nil
	}
	names := make([]journal.Text, len(list))
	values := map[string][]byte{}
	for i, t := range list {
		if err := t.Check(); err != nil {
			return nil, err
		}
		names[i] = t.Name()
		values[names[i].Blob.String()] = append(append([]byte(nil), t.Salt[:]...), t.Text...)
	}
	return names, s.write("texts", "saving a text", values)
}

// salted takes a stored text apart and checks it.
func salted(h journal.Hash, b []byte) (t store.Salted, err error) {
	if len(b) < len(t.Salt) {
		return t, store.DamagedBlob(h)
	}
	t.Text = string(b[copy(t.Salt[:], b):])
	if t.Name().Blob != h {
		return t, store.DamagedBlob(h)
	}
	return t, nil
}

// Text gives a text back.
func (s *Store) Text(ctx context.Context, name journal.Text) (string, error) {
	if err := ctx.Err(); err != nil {
		return "", err
	}
	b, ok, err := s.fetch("texts", name.Blob.String())
	if err != nil {
		return "", err
	}
	if !ok {
		return "", fmt.Errorf("browser: text %s: %w", name.Blob, store.ErrNotFound)
	}
	t, err := salted(name.Blob, b)
	if err != nil {
		return "", err
	}
	return t.Text, nil
}

// EraseText forgets a text.
func (s *Store) EraseText(ctx context.Context, name journal.Text) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.explain(s.transact(true, []string{"texts"}, func(st func(string) js.Value) { st("texts").Call("delete", name.Blob.String()) }), "erasing")
}

// Texts lists the texts.
func (s *Store) Texts(ctx context.Context, fn func(store.Salted) error) error {
	list, err := s.keys("texts")
	if err != nil {
		return err
	}
	for _, h := range list {
		if err := ctx.Err(); err != nil {
			return err
		}
		b, ok, err := s.fetch("texts", h.String())
		if err != nil {
			return err
		}
		if !ok {
			continue // erased on the way
		}
		t, err := salted(h, b)
		if err != nil {
			return err
		}
		if err := fn(t); err != nil {
			return err
		}
	}
	return nil
}

// Recall gives what was kept under a name and can be worked out anew; nil when it is not there.
func (s *Store) Recall(name string) []byte {
	b, _, err := s.fetch("shelf", name)
	if err != nil {
		return nil
	}
	return b
}

// mostShelved is how many things are kept that can be worked out anew, the newest; a record needs four at a time.
const mostShelved = 12

// Keep holds what can be worked out anew. It is the first to go when the phone is full; a failure loses nothing.
func (s *Store) Keep(name string, data []byte) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.shelf = append(slices.DeleteFunc(s.shelf, func(n string) bool { return n == name }), name)
	var old []string
	if len(s.shelf) > mostShelved {
		old, s.shelf = s.shelf[:len(s.shelf)-mostShelved], slices.Clone(s.shelf[len(s.shelf)-mostShelved:])
	}
	_ = s.transact(true, []string{"shelf"}, func(st func(string) js.Value) {
		in := st("shelf")
		in.Call("put", toJS(data), name)
		for _, n := range old {
			in.Call("delete", n)
		}
	})
}

// Note gives what was noted under a name: things of this installation that are no entries. nil when there is nothing.
func (s *Store) Note(ctx context.Context, name string) ([]byte, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	b, _, err := s.fetch("meta", "note "+name)
	return b, err
}

// SetNote notes something under a name, durably.
func (s *Store) SetNote(ctx context.Context, name string, b []byte) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	return s.write("meta", "saving", map[string][]byte{"note " + name: b})
}

// Verify reads everything.
func (s *Store) Verify(ctx context.Context) (store.Audit, error) {
	var a store.Audit
	var check store.Checker
	last := store.Position(s.Entries())
	for after := store.Position(0); after < last; after += batch {
		if err := ctx.Err(); err != nil {
			return a, err
		}
		var rows js.Value
		err := s.transact(false, []string{"entries"}, func(st func(string) js.Value) {
			rows = st("entries").Call("getAll", within(int(after)+1, int(min(after+batch, last))))
		})
		if err != nil {
			return a, s.explain(err, "reading the journal")
		}
		rows = rows.Get("result")
		for i := range rows.Length() {
			b, _ := fromJS(rows.Index(i))
			pos, e, err := parseRecord(b)
			where := store.EntryPlace(pos, &e)
			if err == nil {
				err = check.Check(pos, &e)
			}
			if err != nil {
				a.Damage = append(a.Damage, store.Damage{Where: where, What: err.Error()})
			}
			a.Entries++
		}
	}
	a.Journals = check.Journals()
	return a, s.verifyBlobs(ctx, &a)
}

// verifyBlobs reads files and texts into an audit.
func (s *Store) verifyBlobs(ctx context.Context, a *store.Audit) error {
	for name, n := range map[string]*int{"blobs": &a.Blobs, "texts": &a.Texts} {
		list, err := s.keys(name)
		if err != nil {
			return err
		}
		*n = len(list)
		for _, h := range list {
			if err := ctx.Err(); err != nil {
				return err
			}
			b, ok, err := s.fetch(name, h.String())
			if err == nil && ok {
				if name == "texts" {
					_, err = salted(h, b)
				} else if journal.Sum(b) != h {
					err = store.DamagedBlob(h)
				}
			}
			if err != nil {
				a.Damage = append(a.Damage, store.Damage{Where: name[:4] + " " + h.String(), What: "its bytes do not match its hash: " + fault.Public(err).Message})
			}
		}
	}
	return ctx.Err()
}
