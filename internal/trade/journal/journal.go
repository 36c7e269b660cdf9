// Package journal is the record that is never lost and never changed: what an entry is, how its bytes are sealed into a
// chain, and how entries of several writers become one order.
//
// Start with [Author.Draft] to write, [Seal] to chain, [Verify] to check and [Log] to read: a Log gives the facts in
// order with amendments and retractions applied. docs/journal-format.md defines every byte; this package follows it.
// It assumes that each journal has one writer. Keeping entries durably is the store's work (package keep), what they
// mean for the lake and the party is told by the packages lake and party.
package journal

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"time"

	"github.com/google/uuid"
)

// FormatVersion is hashed into every entry; it changes only when the layout of the hashed bytes does.
const FormatVersion = 1

// MaxBody is the largest body in bytes; larger things are blobs.
const MaxBody = 256 << 10

// Hash is a SHA-256 sum.
type Hash [sha256.Size]byte

// Sum hashes bytes, for naming blobs by content.
func Sum(b []byte) Hash { return sha256.Sum256(b) }

func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// IsZero tells whether the hash is unset, as the Prev of a journal's first entry.
func (h Hash) IsZero() bool { return h == Hash{} }

// MarshalText writes lower-case hexadecimal.
func (h Hash) MarshalText() ([]byte, error) { return []byte(h.String()), nil }

// UnmarshalText reads 64 hexadecimal digits.
func (h *Hash) UnmarshalText(b []byte) error {
	if hex.DecodedLen(len(b)) != len(h) {
		return fmt.Errorf("journal: hash of %d digits, want %d", len(b), 2*len(h))
	}
	if _, err := hex.Decode(h[:], b); err != nil {
		return fmt.Errorf("journal: hash: %w", err)
	}
	return nil
}

// HLC is a hybrid logical clock: 48 bits of milliseconds since 1970, 16 bits of counter.
type HLC uint64

// maxAhead is how far a remote stamp may lead the own clock and still be merged into it.
const maxAhead = 5 * time.Minute

// Next gives the stamp for an entry written now, never at or before the last one.
func (h HLC) Next(now time.Time) HLC {
	if wall := hlcAt(now); wall > h {
		return wall
	}
	return h + 1
}

// Merge brings in a stamp seen from another journal. A stamp more than five minutes ahead of now is not merged, so
// that one wrong clock does not drag the others; its entry is kept all the same.
func (h HLC) Merge(seen HLC, now time.Time) HLC {
	if seen > h && seen <= hlcAt(now.Add(maxAhead)) {
		return seen
	}
	return h
}

// Time gives the wall-clock part.
func (h HLC) Time() time.Time { return time.UnixMilli(int64(h >> 16)) }

func hlcAt(t time.Time) HLC {
	ms := t.UnixMilli()
	if ms < 0 {
		ms = 0
	}
	return HLC(uint64(ms) << 16)
}

// Day is a civil date in the lake's zone, "2026-01-15". It is never an instant.
type Day string

// DayOf gives the civil date of an instant in a zone.
func DayOf(t time.Time, zone *time.Location) Day { return Day(t.In(zone).Format(time.DateOnly)) }

// Valid tells whether the day is a real date.
func (d Day) Valid() bool {
	_, err := time.Parse(time.DateOnly, string(d))
	return err == nil
}

// Midnight gives the instant at which the day begins in a zone.
func (d Day) Midnight(zone *time.Location) time.Time {
	t, err := time.ParseInLocation(time.DateOnly, string(d), zone)
	if err != nil {
		return time.Time{}
	}
	return t
}

// Entry is one line of a journal. It is immutable once sealed.
type Entry struct {
	ID      uuid.UUID // the human act, UUIDv7 (v8 for imported rows); identity only, never order
	Journal uuid.UUID // one writer, random for every installation
	N       uint64    // 1, 2, 3, ... without a gap in its journal
	Prev    Hash      // hash of entry N-1, zero for the first
	HLC     HLC
	Outfit  uuid.UUID
	Lake    uuid.UUID // zero for entries that concern no lake
	Account uuid.UUID // who wrote it
	Trip    uuid.UUID // zero outside a trip
	Day     Day       // civil date of At in the lake's zone
	Zone    string    // IANA name of that zone
	At      int64     // when it happened, ms since 1970 UTC
	Wall    int64     // when it was written by the raw wall clock, ms since 1970 UTC
	Mono    int64     // ms since Boot by a clock that never steps; 0 when unknown
	Boot    uuid.UUID // which run of the writer Mono counts from
	Kind    Kind
	Version int    // schema version of the kind
	Body    []byte // one JSON object, kept byte for byte
	Hash    Hash
}

// Time gives At as an instant.
func (e *Entry) Time() time.Time { return time.UnixMilli(e.At) }

// digest computes the hash over the length-prefixed envelope and the exact body bytes.
func (e *Entry) digest() Hash {
	h := sha256.New()
	var buf [8]byte
	field := func(b []byte) {
		binary.BigEndian.PutUint32(buf[:4], uint32(len(b)))
		h.Write(buf[:4])
		h.Write(b)
	}
	number := func(v uint64) {
		binary.BigEndian.PutUint64(buf[:], v)
		h.Write(buf[:])
	}
	number(FormatVersion)
	field(e.ID[:])
	field(e.Journal[:])
	number(e.N)
	field(e.Prev[:])
	number(uint64(e.HLC))
	field(e.Outfit[:])
	field(e.Lake[:])
	field(e.Account[:])
	field(e.Trip[:])
	field([]byte(e.Day))
	field([]byte(e.Zone))
	number(uint64(e.At))
	number(uint64(e.Wall))
	number(uint64(e.Mono))
	field(e.Boot[:])
	field([]byte(e.Kind))
	number(uint64(e.Version))
	field(e.Body)
	return Hash(h.Sum(nil))
}

// Head is the end of a journal: what the next entry chains to. The zero N with a journal id is an empty journal.
type Head struct {
	Journal uuid.UUID
	N       uint64
	Hash    Hash
	HLC     HLC
}

// HeadOf gives the head after an entry.
func HeadOf(e *Entry) Head { return Head{Journal: e.Journal, N: e.N, Hash: e.Hash, HLC: e.HLC} }

// Seal chains a draft to a head.
func Seal(head Head, d Draft) (Entry, error) {
	if err := d.check(); err != nil {
		return Entry{}, err
	}
	e := Entry{
		ID: d.ID, Journal: head.Journal, N: head.N + 1, Prev: head.Hash, HLC: head.HLC.Next(time.UnixMilli(d.Wall)),
		Outfit: d.Outfit, Lake: d.Lake, Account: d.Account, Trip: d.Trip, Day: d.Day, Zone: d.Zone,
		At: d.At, Wall: d.Wall, Mono: d.Mono, Boot: d.Boot, Kind: d.Kind, Version: d.Version, Body: d.Body,
	}
	e.Hash = e.digest()
	return e, nil
}

// Verify checks that an entry's bytes match its hash and that it follows the head.
func Verify(head Head, e *Entry) error {
	switch {
	case e.Journal != head.Journal:
		return fmt.Errorf("journal: entry of journal %s after one of %s", e.Journal, head.Journal)
	case e.N != head.N+1:
		return fmt.Errorf("journal: entry %d of journal %s after %d", e.N, e.Journal, head.N)
	case e.Prev != head.Hash:
		return fmt.Errorf("journal: entry %d of journal %s does not chain to entry %d", e.N, e.Journal, head.N)
	case e.HLC <= head.HLC:
		return fmt.Errorf("journal: entry %d of journal %s: its clock does not follow that of entry %d", e.N, e.Journal, head.N)
	case e.digest() != e.Hash:
		return fmt.Errorf("journal: entry %d of journal %s: its bytes do not match its hash", e.N, e.Journal)
	}
	return nil
}

// Compare orders entries across journals: by clock, then journal, then number. Within one journal it is the order of N.
func Compare(a, b *Entry) int {
	return cmp.Or(cmp.Compare(a.HLC, b.HLC), compareUUID(a.Journal, b.Journal), cmp.Compare(a.N, b.N))
}

func compareUUID(a, b uuid.UUID) int {
	for i := range a {
		if c := cmp.Compare(a[i], b[i]); c != 0 {
			return c
		}
	}
	return 0
}
