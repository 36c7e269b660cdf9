//go:build js && wasm

package browser

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"iter"
	"slices"
	"sync"
	"syscall/js"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// Options are what a phone brings. The zero value opens the database "icehand" and makes an identity of its own.
type Options struct {
	Name  string                         // of the database; "": icehand
	Fresh func() (store.Identity, error) // makes the identity of a new store; nil: [store.NewIdentity]
}

// Store is a [store.Store] in a browser.
type Store struct {
	name string

	mu    sync.Mutex // held through a write, and while a connection is made
	id    store.Identity
	conn  *connection // nil: to be opened
	heads map[uuid.UUID]journal.Head
	last  store.Position
	shelf []string // names of what can be worked out anew, oldest first as far as that is known
	made  bool     // the store was empty at Open and has just been made
	shut  bool
}

var _ store.Store = (*Store)(nil)

// Open opens the database, or makes it.
func Open(ctx context.Context, o Options) (*Store, error) {
	if o.Name == "" {
		o.Name = "icehand"
	}
	if o.Fresh == nil {
		o.Fresh = func() (store.Identity, error) { return store.NewIdentity(time.Now()), nil }
	}
	s := &Store{name: o.Name}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.connect(); err != nil {
		return nil, s.explain(err, "opening the storage")
	}
	if s.id.Journal != uuid.Nil {
		return s, ctx.Err()
	}
	id, err := o.Fresh()
	if err == nil {
		err = s.conn.transaction(true, []string{"meta"}, func(st func(string) js.Value) { st("meta").Call("add", toJS(appendIdentity(nil, id)), "identity") })
	}
	if err != nil {
		s.conn.close()
		return nil, s.explain(err, "making the storage")
	}
	s.id, s.made = id, true
	s.id.Made = s.id.Made.UTC().Truncate(time.Millisecond)
	return s, ctx.Err()
}

// Made tells whether Open found nothing and made the store: on a phone that held a record before, its storage is gone.
func (s *Store) Made() bool { return s.made }

// Entries gives how many entries are stored.
func (s *Store) Entries() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return int(s.last)
}

// connect opens a connection and reads the ends of the journals. The caller holds mu.
func (s *Store) connect() error {
	if s.shut {
		return errClosed
	}
	c, err := connect(s.name)
	if err != nil {
		return err
	}
	var meta, keys, values, last, shelf js.Value
	err = c.transaction(false, []string{"meta", "heads", "entries", "shelf"}, func(st func(string) js.Value) {
		shelf = st("shelf").Call("getAllKeys")
		meta = st("meta").Call("get", "identity")
		keys, values = st("heads").Call("getAllKeys"), st("heads").Call("getAll")
		last = st("entries").Call("openKeyCursor", js.Null(), "prev")
	})
	if err != nil {
		c.close()
		return err
	}
	s.heads, s.last, s.shelf = map[uuid.UUID]journal.Head{}, 0, nil
	for i := range shelf.Get("result").Length() {
		s.shelf = append(s.shelf, shelf.Get("result").Index(i).String())
	}
	keys, values = keys.Get("result"), values.Get("result")
	for i := range keys.Length() {
		id, err := uuid.Parse(keys.Index(i).String())
		b, _ := fromJS(values.Index(i))
		if err == nil {
			s.heads[id], err = parseHead(id, b)
		}
		if err != nil {
			c.close()
			return fmt.Errorf("%w: the end of a journal: %w", errShape, err)
		}
	}
	if cursor := last.Get("result"); cursor.Type() == js.TypeObject {
		s.last = store.Position(cursor.Get("key").Int())
	}
	if b, ok := fromJS(meta.Get("result")); ok {
		if s.id, err = parseIdentity(b); err != nil {
			c.close()
			return err
		}
	} else if s.last > 0 || s.id.Journal != uuid.Nil {
		c.close()
		return fmt.Errorf("%w: the identity of this phone is gone", errShape)
	}
	s.conn = c
	return nil
}

// parseIdentity reads a stored identity.
func parseIdentity(b []byte) (id store.Identity, err error) {
	if len(b) != identityLength {
		return id, errShape
	}
	for _, u := range []*uuid.UUID{&id.Outfit, &id.Account, &id.Journal, &id.Epoch} {
		b = b[copy(u[:], b):]
	}
	id.Made = time.UnixMilli(int64(binary.BigEndian.Uint64(b))).UTC()
	return id, nil
}

// transact runs a transaction, on a new connection when the old one has gone. A reading one that was cut off is repeated.
// The caller holds mu for a writing one.
func (s *Store) transact(write bool, names []string, f func(store func(string) js.Value)) error {
	for again := true; ; again = false {
		c, err := s.connected(write)
		if err == nil {
			err = c.transaction(write, names, f)
		}
		if err == nil || !errors.Is(err, errClosed) || !again {
			return err
		}
		if write { // it may be stored all the same: who repeats it is given what is held
			return fmt.Errorf("%w: %w", store.ErrUnknownOutcome, err)
		}
	}
}

// connected gives the connection, opening one when there is none or it has gone.
func (s *Store) connected(locked bool) (*connection, error) {
	if !locked {
		s.mu.Lock()
		defer s.mu.Unlock()
	}
	if s.conn != nil {
		select {
		case <-s.conn.closed:
			s.conn = nil
		default:
			return s.conn, nil
		}
	}
	if err := s.connect(); err != nil {
		return nil, err
	}
	return s.conn, nil
}

// Identity gives the installation's identity.
func (s *Store) Identity(ctx context.Context) (store.Identity, error) { return s.id, ctx.Err() }

// Append chains drafts onto the own journal.
func (s *Store) Append(ctx context.Context, drafts []journal.Draft) ([]journal.Entry, error) {
	all, _, err := s.append(ctx, drafts)
	return all, err
}

// AppendEach chains drafts onto the own journal. They are held together: a transaction of a browser does not wait.
func (s *Store) AppendEach(ctx context.Context, drafts iter.Seq[journal.Draft]) (added int, err error) {
	_, added, err = s.append(ctx, slices.Collect(drafts))
	return added, err
}

func (s *Store) append(ctx context.Context, drafts []journal.Draft) (all []journal.Entry, added int, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return nil, 0, err
	}
	if len(drafts) == 0 {
		return nil, 0, nil
	}
	if _, err := s.connected(true); err != nil { // a new connection may know newer ends
		return nil, 0, s.explain(err, "saving")
	}
	keys := make([]string, len(drafts))
	for i, d := range drafts {
		keys[i] = d.ID.String()
	}
	found, err := s.lookUp("acts", keys)
	if err != nil {
		return nil, 0, s.explain(err, "saving")
	}
	own := s.heads[s.id.Journal]
	own.Journal = s.id.Journal
	var others []journal.Head
	for _, h := range s.heads {
		others = append(others, h)
	}
	all, fresh, err := store.Chain(own, others, drafts, func(act uuid.UUID) (e journal.Entry, ok bool, err error) {
		p, ok := found[act.String()]
		return p, ok, nil
	})
	if err != nil {
		return nil, 0, err
	}
	if err := s.add(fresh); err != nil {
		return nil, 0, err
	}
	return all, len(fresh), nil
}

// Put stores sealed entries verbatim.
func (s *Store) Put(ctx context.Context, entries []journal.Entry) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return 0, err
	}
	if len(entries) == 0 {
		return 0, nil
	}
	if _, err := s.connected(true); err != nil {
		return 0, s.explain(err, "saving")
	}
	var keys []string
	for i := range entries {
		if e := &entries[i]; e.N <= s.heads[e.Journal].N {
			keys = append(keys, placeKey(e.Journal, e.N))
		}
	}
	found, err := s.lookUp("places", keys)
	if err != nil {
		return 0, s.explain(err, "saving")
	}
	fresh, err := store.Follow(s.heads, entries, func(p store.Place) (journal.Entry, bool, error) {
		e, ok := found[placeKey(p.Journal, p.N)]
		return e, ok, nil
	})
	if err != nil {
		return 0, err
	}
	if err := s.add(fresh); err != nil {
		return 0, err
	}
	return len(fresh), nil
}

// placeKey names a number of a journal; keys sort as the numbers do.
func placeKey(id uuid.UUID, n uint64) string { return fmt.Sprintf("%s %016x", id, n) }

// lookUp gives the entries that an index names, by key.
func (s *Store) lookUp(index string, keys []string) (map[string]journal.Entry, error) {
	if len(keys) == 0 {
		return nil, nil
	}
	positions := make([]js.Value, len(keys))
	err := s.conn.transaction(false, []string{index}, func(st func(string) js.Value) {
		in := st(index)
		for i, k := range keys {
			positions[i] = in.Call("get", k)
		}
	})
	if err != nil {
		return nil, err
	}
	wanted := map[string]js.Value{}
	err = s.conn.transaction(false, []string{"entries"}, func(st func(string) js.Value) {
		in := st("entries")
		for i, k := range keys {
			if p := positions[i].Get("result"); p.Type() == js.TypeNumber {
				wanted[k] = in.Call("get", p)
			}
		}
	})
	if err != nil {
		return nil, err
	}
	out := make(map[string]journal.Entry, len(wanted))
	for k, v := range wanted {
		b, _ := fromJS(v.Get("result"))
		_, e, err := parseRecord(b)
		if err == nil {
			err = journal.Verify(store.Before(&e), &e)
		}
		if err != nil {
			return nil, store.DamagedEntry(err, "the entry known as "+k)
		}
		out[k] = e
	}
	return out, nil
}

// add stores entries after the last one, in one strict transaction, and remembers the new ends when it is complete.
// The caller holds mu. When the phone is full, what can be worked out anew makes room.
func (s *Store) add(fresh []journal.Entry) error {
	if len(fresh) == 0 {
		return nil
	}
	ends := map[uuid.UUID]journal.Head{}
	write := func(st func(string) js.Value) { s.put(st, s.last, fresh, ends) }
	names := journalStores
	err := s.transact(true, names, write)
	if named(err, "QuotaExceededError") {
		if s.transact(true, []string{"shelf"}, func(st func(string) js.Value) { st("shelf").Call("clear") }) == nil {
			err = s.transact(true, names, write)
		}
	}
	if err != nil {
		s.conn.close() // the next call reads the ends anew
		return s.explain(err, "saving")
	}
	s.last += store.Position(len(fresh))
	for id, h := range ends {
		s.heads[id] = h
	}
	return nil
}

// journalStores are those that entries and their indexes lie in.
var journalStores = []string{"entries", "acts", "places", "heads"}

// put writes entries after a position and notes the ends of their journals.
func (s *Store) put(st func(string) js.Value, pos store.Position, fresh []journal.Entry, ends map[uuid.UUID]journal.Head) {
	entries, acts, places, heads := st("entries"), st("acts"), st("places"), st("heads")
	seen := map[uuid.UUID]bool{}
	for i := range fresh {
		e := &fresh[i]
		pos++
		entries.Call("add", toJS(appendRecord(nil, pos, e)), int(pos)) // add, not put: a second writer fails here
		places.Call("add", int(pos), placeKey(e.Journal, e.N))
		if e.Journal == s.id.Journal && !seen[e.ID] {
			seen[e.ID] = true
			acts.Call("put", int(pos), e.ID.String())
		}
		ends[e.Journal] = journal.HeadOf(e)
	}
	for id, h := range ends {
		heads.Call("put", toJS(appendHead(nil, h)), id.String())
	}
}

// batch is how many entries are fetched at once.
const batch = 256

// Read gives the entries after a position, fetched in batches and checked one by one.
func (s *Store) Read(ctx context.Context, after store.Position, fn func(store.Position, *journal.Entry) error) error {
	check := store.CheckerAfter(after)
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		s.mu.Lock()
		last, open := s.last, s.conn != nil
		s.mu.Unlock()
		if open && after >= last {
			return nil
		}
		var rows js.Value
		err := s.transact(false, []string{"entries"}, func(st func(string) js.Value) {
			rows = st("entries").Call("getAll", within(int(after)+1, int(after)+batch))
		})
		if err != nil {
			return s.explain(err, "reading the journal")
		}
		rows = rows.Get("result")
		n := rows.Length()
		for i := range n {
			if err := ctx.Err(); err != nil {
				return err
			}
			b, _ := fromJS(rows.Index(i))
			pos, e, err := parseRecord(b)
			if err != nil {
				return store.DamagedEntry(err, fmt.Sprintf("position %d", after+1))
			}
			if err := check.Check(pos, &e); err != nil {
				return store.DamagedEntry(err, store.EntryPlace(pos, &e))
			}
			if err := fn(pos, &e); err != nil {
				return err
			}
			after = pos
		}
		if n == 0 {
			return nil
		}
	}
}

// Heads gives the end of every journal.
func (s *Store) Heads(ctx context.Context) (map[uuid.UUID]journal.Head, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := make(map[uuid.UUID]journal.Head, len(s.heads))
	for id, h := range s.heads {
		out[id] = h
	}
	return out, ctx.Err()
}

// Close ends the connection.
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.shut = true
	if s.conn != nil {
		s.conn.close()
		s.conn = nil
	}
	return nil
}

// explain turns an error of the browser into plain words. A fault, the end of a context and the store's own errors pass.
func (s *Store) explain(err error, doing string) error {
	var known *fault.Error
	switch {
	case err == nil, errors.As(err, &known), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case errors.Is(err, store.ErrUnknownOutcome):
		return fault.Wrap(err, fault.NotSaved, "Press again: it counts once. If it stays so, close Icehand and open it again.", "the phone's storage broke off while saving")
	case errors.Is(err, errShape):
		return fault.Wrap(err, fault.Damaged, "Write on paper now. Ashore, keep this phone as it is and read the record from the server.", "the phone's record is damaged")
	case named(err, "QuotaExceededError"):
		return fault.Wrap(err, fault.NotSaved, "Delete pictures or other apps on this phone, then press again: it counts once. Until then write on paper.", "the phone is full: this is not saved")
	case named(err, "ConstraintError"):
		return fault.Wrap(err, fault.NotSaved, "Close the other window of Icehand, then press again: it counts once.", "another window writes this record")
	case errors.Is(err, errClosed), named(err, "BlockedError"):
		return fault.Wrap(err, fault.NotSaved, "Press again: it counts once. If it stays so, close Icehand and open it again.", "the phone's storage is not to be reached")
	}
	return fault.Wrap(err, fault.NotSaved, "Press again: it counts once. If it stays so, write on paper and restart the phone.", "the phone's storage failed while %s", doing)
}
