package journal

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"
)

// Draft is an entry before it is chained: all that its author knows.
type Draft struct {
	ID                          uuid.UUID
	Outfit, Lake, Account, Trip uuid.UUID
	Day                         Day
	Zone                        string
	At, Wall, Mono              int64
	Boot                        uuid.UUID
	Kind                        Kind
	Version                     int
	Body                        []byte
}

// Author stamps drafts with who writes, for which outfit, lake and trip.
type Author struct {
	Outfit, Lake, Account, Trip uuid.UUID
	Zone                        *time.Location // the lake's zone
	Boot                        uuid.UUID
	Started                     time.Time // when Boot began; its monotonic reading gives Mono
}

// Draft makes a draft of a body: an act with identity id that happened at the instant at and is written now.
// A zero id gets a fresh UUIDv7. It panics when the body cannot be encoded, which is a mistake in a body type.
func (a Author) Draft(id uuid.UUID, at, now time.Time, body Body) Draft {
	if id == uuid.Nil {
		id = NewID()
	}
	raw, err := encodeBody(body)
	if err != nil {
		panic("journal: encoding " + string(body.Kind()) + ": " + err.Error())
	}
	zone := a.Zone
	if zone == nil {
		zone = time.UTC
	}
	d := Draft{
		ID: id, Outfit: a.Outfit, Lake: a.Lake, Account: a.Account, Trip: a.Trip, Boot: a.Boot,
		Day: DayOf(at, zone), Zone: zone.String(), At: at.UnixMilli(), Wall: now.UnixMilli(),
		Kind: body.Kind(), Version: kinds[body.Kind()].version, Body: raw,
	}
	if !a.Started.IsZero() {
		d.Mono = now.Sub(a.Started).Milliseconds()
	}
	return d
}

// NewID gives a UUIDv7, the identity of a human act.
func NewID() uuid.UUID { return uuid.Must(uuid.NewV7()) }

// ContentID gives the identity of an imported row: the same content under the same lake is the same act, so that
// importing a file twice adds nothing. It is a UUIDv8 over SHA-256.
func ContentID(lake uuid.UUID, kind Kind, key string) uuid.UUID {
	h := sha256.New()
	h.Write(lake[:])
	h.Write([]byte(kind))
	h.Write([]byte{0})
	h.Write([]byte(key))
	var id uuid.UUID
	copy(id[:], h.Sum(nil))
	id[6] = id[6]&0x0f | 0x80
	id[8] = id[8]&0x3f | 0x80
	return id
}

// encodeBody writes a body as compact JSON without HTML escapes.
func encodeBody(b Body) ([]byte, error) {
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(b); err != nil {
		return nil, err
	}
	return bytes.TrimRight(buf.Bytes(), "\n"), nil
}

// checkBody holds a body to one JSON object on one line, so that a journal can be exported a line an entry.
func checkBody(b []byte) error {
	switch {
	case len(b) > MaxBody:
		return fmt.Errorf("journal: body of %d bytes, at most %d", len(b), MaxBody)
	case len(b) < 2 || b[0] != '{' || b[len(b)-1] != '}' || !json.Valid(b):
		return fmt.Errorf("journal: body is not one JSON object")
	case bytes.ContainsFunc(b, func(r rune) bool { return r < 0x20 }):
		return fmt.Errorf("journal: body holds a control character")
	}
	return nil
}

func (d Draft) check() error {
	switch {
	case d.ID == uuid.Nil:
		return fmt.Errorf("journal: draft without an id")
	case d.Outfit == uuid.Nil:
		return fmt.Errorf("journal: draft without an outfit")
	case !d.Day.Valid():
		return fmt.Errorf("journal: draft with day %q", d.Day)
	case d.Kind == "":
		return fmt.Errorf("journal: draft without a kind")
	}
	return checkBody(d.Body)
}
