// Package browser keeps a journal in a browser's IndexedDB, for the phone: it answers an Append only after the browser
// has reported the strict transaction complete.
//
// Start with [Open], which runs in a browser only (GOOS=js). It assumes one writer per origin: the page holds a Web Lock
// before it starts the program, and a second writer that comes all the same is refused by the positions it would repeat.
// A connection that the browser has closed is opened again at the next call; until a write has gone through, the answer is
// "not saved". Memory holds the ends of the journals only; entries are read from the browser and checked each time.
package browser

import (
	"encoding/binary"
	"errors"

	"github.com/google/uuid"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// recordFormat is the first byte of every stored record.
const recordFormat = 1

// errShape: a stored record cannot be taken apart.
var errShape = errors.New("browser: a stored record has the wrong shape")

// appendRecord writes an entry with its position as one record: fixed fields first, then texts and body with their length.
func appendRecord(dst []byte, pos store.Position, e *journal.Entry) []byte {
	dst = append(dst, recordFormat)
	for _, v := range []uint64{uint64(pos), e.N, uint64(e.HLC), uint64(e.At), uint64(e.Wall), uint64(e.Mono), uint64(int64(e.Version))} {
		dst = binary.BigEndian.AppendUint64(dst, v)
	}
	for _, id := range []uuid.UUID{e.ID, e.Journal, e.Outfit, e.Lake, e.Account, e.Trip, e.Boot} {
		dst = append(dst, id[:]...)
	}
	dst = append(dst, e.Prev[:]...)
	dst = append(dst, e.Hash[:]...)
	for _, s := range [][]byte{[]byte(e.Day), []byte(e.Zone), []byte(e.Kind), e.Body} {
		dst = binary.BigEndian.AppendUint32(dst, uint32(len(s)))
		dst = append(dst, s...)
	}
	return dst
}

// fixedPart is the length of a record before its texts.
const fixedPart = 1 + 7*8 + 7*16 + 2*32

// parseRecord takes a record apart. It judges the shape only; the hash is for whoever knows the entry before.
func parseRecord(b []byte) (pos store.Position, e journal.Entry, err error) {
	if len(b) < fixedPart || b[0] != recordFormat {
		return 0, e, errShape
	}
	b = b[1:]
	number := func() uint64 {
		v := binary.BigEndian.Uint64(b)
		b = b[8:]
		return v
	}
	pos, e.N, e.HLC = store.Position(number()), number(), journal.HLC(number())
	e.At, e.Wall, e.Mono, e.Version = int64(number()), int64(number()), int64(number()), int(int64(number()))
	for _, id := range []*uuid.UUID{&e.ID, &e.Journal, &e.Outfit, &e.Lake, &e.Account, &e.Trip, &e.Boot} {
		b = b[copy(id[:], b):]
	}
	for _, h := range []*journal.Hash{&e.Prev, &e.Hash} {
		b = b[copy(h[:], b):]
	}
	var texts [4][]byte
	for i := range texts {
		if len(b) < 4 || uint64(len(b)-4) < uint64(binary.BigEndian.Uint32(b)) {
			return pos, e, errShape
		}
		n := binary.BigEndian.Uint32(b)
		texts[i], b = b[4:4+n], b[4+n:]
	}
	if len(b) > 0 {
		return pos, e, errShape
	}
	e.Day, e.Zone, e.Kind = journal.Day(texts[0]), string(texts[1]), journal.Kind(texts[2])
	e.Body = append([]byte(nil), texts[3]...)
	return pos, e, nil
}

// headLength is the length of a stored head: number, clock, hash.
const headLength = 8 + 8 + 32

// appendHead writes the end of a journal.
func appendHead(dst []byte, h journal.Head) []byte {
	dst = binary.BigEndian.AppendUint64(dst, h.N)
	dst = binary.BigEndian.AppendUint64(dst, uint64(h.HLC))
	return append(dst, h.Hash[:]...)
}

// parseHead reads the end of a journal.
func parseHead(id uuid.UUID, b []byte) (journal.Head, error) {
	if len(b) != headLength {
		return journal.Head{}, errShape
	}
	h := journal.Head{Journal: id, N: binary.BigEndian.Uint64(b), HLC: journal.HLC(binary.BigEndian.Uint64(b[8:]))}
	copy(h.Hash[:], b[16:])
	return h, nil
}

// identityLength is the length of a stored identity: four ids and the milliseconds at which it was made.
const identityLength = 4*16 + 8

func appendIdentity(dst []byte, id store.Identity) []byte {
	for _, u := range []uuid.UUID{id.Outfit, id.Account, id.Journal, id.Epoch} {
		dst = append(dst, u[:]...)
	}
	return binary.BigEndian.AppendUint64(dst, uint64(id.Made.UnixMilli()))
}
