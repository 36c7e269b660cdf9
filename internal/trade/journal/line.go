package journal

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"

	"github.com/google/uuid"
)

// wire is the envelope of one exported line; the body follows verbatim as the last member.
type wire struct {
	Format  int             `json:"format"`
	ID      uuid.UUID       `json:"id"`
	Journal uuid.UUID       `json:"journal"`
	N       uint64          `json:"n"`
	Prev    Hash            `json:"prev"`
	Hash    Hash            `json:"hash"`
	HLC     HLC             `json:"hlc"`
	Outfit  uuid.UUID       `json:"outfit"`
	Lake    uuid.UUID       `json:"lake"`
	Account uuid.UUID       `json:"account"`
	Trip    uuid.UUID       `json:"trip"`
	Day     Day             `json:"day"`
	Zone    string          `json:"zone"`
	At      int64           `json:"at"`
	Wall    int64           `json:"wall"`
	Mono    int64           `json:"mono"`
	Boot    uuid.UUID       `json:"boot"`
	Kind    Kind            `json:"kind"`
	Version int             `json:"v"`
	Body    json.RawMessage `json:"body,omitempty"`
}

// AppendLine writes an entry as one line of NDJSON, body bytes verbatim, and a newline.
func AppendLine(dst []byte, e *Entry) ([]byte, error) {
	head, err := json.Marshal(wire{
		Format: FormatVersion, ID: e.ID, Journal: e.Journal, N: e.N, Prev: e.Prev, Hash: e.Hash, HLC: e.HLC,
		Outfit: e.Outfit, Lake: e.Lake, Account: e.Account, Trip: e.Trip, Day: e.Day, Zone: e.Zone,
		At: e.At, Wall: e.Wall, Mono: e.Mono, Boot: e.Boot, Kind: e.Kind, Version: e.Version,
	})
	if err != nil {
		return nil, fmt.Errorf("journal: writing entry %d: %w", e.N, err)
	}
	dst = append(dst, head[:len(head)-1]...)
	dst = append(dst, `,"body":`...)
	dst = append(dst, e.Body...)
	return append(dst, '}', '\n'), nil
}

// ParseLine reads one line of NDJSON. It checks shape, not the chain.
func ParseLine(line []byte) (Entry, error) {
	var w wire
	dec := json.NewDecoder(bytes.NewReader(line))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&w); err != nil {
		return Entry{}, fmt.Errorf("journal: reading a line: %w", err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return Entry{}, fmt.Errorf("journal: reading a line: more than one value")
	}
	if w.Format != FormatVersion {
		return Entry{}, fmt.Errorf("journal: format %d is newer than this program", w.Format)
	}
	e := Entry{
		ID: w.ID, Journal: w.Journal, N: w.N, Prev: w.Prev, Hash: w.Hash, HLC: w.HLC,
		Outfit: w.Outfit, Lake: w.Lake, Account: w.Account, Trip: w.Trip, Day: w.Day, Zone: w.Zone,
		At: w.At, Wall: w.Wall, Mono: w.Mono, Boot: w.Boot, Kind: w.Kind, Version: w.Version, Body: w.Body,
	}
	return e, e.Wellformed()
}

// Wellformed checks the shape of an entry: what every line must have. An entry that passes, and whose texts are UTF-8, is
// the same after it was written as a line and read back.
func (e *Entry) Wellformed() error {
	if e.ID == uuid.Nil || e.Journal == uuid.Nil || e.N == 0 || e.Kind == "" || !e.Day.Valid() {
		return fmt.Errorf("journal: id, journal, n, kind or day missing")
	}
	return checkBody(e.Body)
}
