package sqlite

import (
	"bytes"
	"errors"
	"fmt"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// columns are those of an entry in the order in which they are read and written.
const columns = "pos, journal, n, act, prev, hlc, outfit, lake, account, trip, day, zone, at, wall, mono, boot, kind, version, body, hash"

const columnCount = 20

// errShape: a stored value is not of the type or length that its column has.
var errShape = errors.New("sqlite: a stored value has the wrong shape")

// fixed is a target of Scan for a blob of a given length.
type fixed []byte

// Scan copies the blob.
func (f fixed) Scan(src any) error {
	b, ok := src.([]byte)
	if !ok || len(b) != len(f) {
		return fmt.Errorf("%w: %d bytes expected, found %T of %d", errShape, len(f), src, len(b))
	}
	copy(f, b)
	return nil
}

// word is a target of Scan for text that is mostly the same from row to row, which is then kept once.
type word string

// Scan keeps the old string when the new one is the same.
func (w *word) Scan(src any) error {
	s, ok := src.(string)
	if !ok {
		return fmt.Errorf("%w: text expected, found %T", errShape, src)
	}
	if s != string(*w) {
		*w = word(s)
	}
	return nil
}

// whole is a target of Scan for a blob of any length; it is good until the next row.
type whole []byte

// Scan takes the blob without copying.
func (w *whole) Scan(src any) error {
	b, ok := src.([]byte)
	if !ok && src != nil {
		return fmt.Errorf("%w: bytes expected, found %T", errShape, src)
	}
	*w = b
	return nil
}

// row reads entries, one at a time, into the same targets.
type row struct {
	pos, n, hlc, version int64
	day, zone, kind      word
	body                 whole
	e                    journal.Entry
	targets              []any
}

func newRow() *row {
	r := &row{}
	e := &r.e
	r.targets = []any{
		&r.pos, fixed(e.Journal[:]), &r.n, fixed(e.ID[:]), fixed(e.Prev[:]), &r.hlc, fixed(e.Outfit[:]), fixed(e.Lake[:]),
		fixed(e.Account[:]), fixed(e.Trip[:]), &r.day, &r.zone, &e.At, &e.Wall, &e.Mono, fixed(e.Boot[:]), &r.kind, &r.version,
		&r.body, fixed(e.Hash[:]),
	}
	return r
}

// read gives the current row as an entry of its own.
func (r *row) read(scan func(...any) error) (store.Position, *journal.Entry, error) {
	if err := scan(r.targets...); err != nil {
		return store.Position(r.pos), nil, store.DamagedEntry(err, fmt.Sprintf("position %d", r.pos))
	}
	e := r.e
	e.N, e.HLC, e.Version = uint64(r.n), journal.HLC(r.hlc), int(r.version)
	e.Day, e.Zone, e.Kind = journal.Day(r.day), string(r.zone), journal.Kind(r.kind)
	e.Body = bytes.Clone(r.body)
	return store.Position(r.pos), &e, nil
}

// values gives an entry as the values of a row.
func values(dst []any, pos store.Position, e *journal.Entry) []any {
	return append(dst, int64(pos), e.Journal[:], int64(e.N), e.ID[:], e.Prev[:], int64(e.HLC), e.Outfit[:], e.Lake[:], e.Account[:], e.Trip[:],
		string(e.Day), e.Zone, e.At, e.Wall, e.Mono, e.Boot[:], string(e.Kind), int64(e.Version), e.Body, e.Hash[:])
}
