package store

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/trade/journal"
)

// What follows is decided here, once, so that no two stores decide it differently.

const (
	// MaxBlob is the largest blob in bytes.
	MaxBlob = 64 << 20
	// MaxText is the largest erasable text in bytes.
	MaxText = 64 << 10
)

// NewIdentity makes the identity of a fresh installation.
func NewIdentity(now time.Time) Identity {
	return Identity{
		Outfit: journal.NewID(), Account: journal.NewID(), Journal: uuid.New(), Epoch: uuid.New(),
		Made: now.UTC().Truncate(time.Millisecond),
	}
}

// Held looks up an entry that is stored already; ok is false when there is none.
type Held[K any] func(key K) (e journal.Entry, ok bool, err error)

// Chain seals drafts onto the head of the own journal. It answers with an entry for every draft, in order, and with
// those of them that are new and have to be stored. The clocks of other journals are merged first, so that what is
// written after reading an entry also sorts after it.
func Chain(own journal.Head, others []journal.Head, drafts []journal.Draft, held Held[uuid.UUID]) (all, fresh []journal.Entry, err error) {
	here := map[uuid.UUID]journal.Entry{}
	for _, d := range drafts {
		if e, ok := here[d.ID]; ok {
			all = append(all, e)
			continue
		}
		e, ok, err := held(d.ID)
		if err != nil {
			return nil, nil, err
		}
		if !ok {
			for _, h := range others {
				own.HLC = own.HLC.Merge(h.HLC, time.UnixMilli(d.Wall))
			}
			d.Body = bytes.Clone(d.Body)
			if e, err = journal.Seal(own, d); err != nil {
				return nil, nil, fault.Wrap(err, fault.BadInput, "", "This entry is malformed and was not saved.")
			}
			if err := plainFields(&e); err != nil { // the body has been checked by Seal
				return nil, nil, malformed(err, &e)
			}
			own = journal.HeadOf(&e)
			fresh = append(fresh, e)
		}
		here[d.ID] = e
		all = append(all, e)
	}
	return all, fresh, nil
}

// Place is a number in a journal.
type Place struct {
	Journal uuid.UUID
	N       uint64
}

// Follow checks that sealed entries follow the heads of their journals and answers with those that are new.
func Follow(heads map[uuid.UUID]journal.Head, entries []journal.Entry, held Held[Place]) (fresh []journal.Entry, err error) {
	next := map[uuid.UUID]journal.Head{}
	here := map[Place]journal.Hash{}
	for i := range entries {
		e := &entries[i]
		head, ok := next[e.Journal]
		if !ok {
			head = heads[e.Journal]
			head.Journal = e.Journal
		}
		place := Place{e.Journal, e.N}
		switch {
		case e.N <= head.N:
			hash, ok := here[place]
			if !ok {
				old, found, err := held(place)
				if err != nil {
					return nil, err
				}
				if !found {
					return nil, fmt.Errorf("store: entry %d of journal %s is missing below its head: %w", e.N, e.Journal, ErrGap)
				}
				hash = old.Hash
			}
			if hash != e.Hash {
				return nil, fmt.Errorf("store: entry %d of journal %s is held with another content: %w", e.N, e.Journal, ErrFork)
			}
		case e.N > head.N+1:
			return nil, fmt.Errorf("store: entry %d of journal %s after %d: %w", e.N, e.Journal, head.N, ErrGap)
		case e.Prev != head.Hash:
			return nil, fmt.Errorf("store: entry %d of journal %s follows another entry %d: %w", e.N, e.Journal, head.N, ErrFork)
		default:
			if err := journal.Verify(head, e); err != nil {
				return nil, fault.Wrap(err, fault.Damaged, "Get the entries again from where they came.",
					"Entry %d of journal %s was damaged on its way and was not stored", e.N, e.Journal)
			}
			if err := Wellformed(e); err != nil {
				return nil, err
			}
			c := *e
			c.Body = bytes.Clone(e.Body)
			fresh = append(fresh, c)
			head = journal.HeadOf(e)
			here[place] = e.Hash
		}
		next[e.Journal] = head
	}
	return fresh, nil
}

// Wellformed refuses an entry that could not be exported and read back unchanged. It does not judge what it says.
func Wellformed(e *journal.Entry) error {
	if err := errors.Join(e.Wellformed(), plainFields(e)); err != nil {
		return malformed(err, e)
	}
	return nil
}

func malformed(err error, e *journal.Entry) error {
	return fault.Wrap(err, fault.BadInput, "", "Entry %d of journal %s is malformed and was not stored", e.N, e.Journal)
}

func plainFields(e *journal.Entry) error {
	return errors.Join(plain(string(e.Day)), plain(e.Zone), plain(string(e.Kind)))
}

// Before gives the head that an entry says it follows, to check its own bytes without the entry before.
func Before(e *journal.Entry) journal.Head {
	return journal.Head{Journal: e.Journal, N: e.N - 1, Hash: e.Prev}
}

// plain holds text to what every kind of store can keep: UTF-8 without NUL.
func plain(s string) error {
	if !utf8.ValidString(s) || strings.ContainsRune(s, 0) {
		return fmt.Errorf("store: text is not UTF-8, or holds a NUL character")
	}
	return nil
}

// Checker checks entries in position order as they are read: dense positions, hashes, chains.
// The zero Checker starts at the beginning.
type Checker struct {
	trust bool // what lies before the start is taken on trust
	last  Position
	heads map[uuid.UUID]journal.Head
}

// CheckerAfter checks what follows a position, taking what lies before it on trust.
func CheckerAfter(after Position) *Checker { return &Checker{trust: after > 0, last: after} }

// Check says what is wrong with an entry at a position, or nil. It goes on from the entry either way, so that one
// damage is reported once.
func (c *Checker) Check(pos Position, e *journal.Entry) error {
	if c.heads == nil {
		c.heads = map[uuid.UUID]journal.Head{}
	}
	head, ok := c.heads[e.Journal]
	if !ok {
		head = journal.Head{Journal: e.Journal}
		if c.trust && e.N > 0 {
			head = Before(e)
		}
	}
	var err error
	if pos != c.last+1 {
		err = fmt.Errorf("store: position %d after %d", pos, c.last)
	}
	if e2 := journal.Verify(head, e); e2 != nil {
		err = e2
	}
	c.last, c.heads[e.Journal] = pos, journal.HeadOf(e)
	return err
}

// Journals gives how many journals have been seen.
func (c *Checker) Journals() int { return len(c.heads) }

// EntryPlace names an entry in an audit and in messages.
func EntryPlace(pos Position, e *journal.Entry) string {
	return fmt.Sprintf("entry %d of journal %s, position %d", e.N, e.Journal, pos)
}

// DamagedEntry is the fault with which Read ends at an entry that does not hold.
func DamagedEntry(cause error, place string) error {
	return fault.Wrap(cause, fault.Damaged, "Run icehand audit to see all damage, then restore the last backup.",
		"The journal is damaged at %s", place)
}

// DamagedBlob is the fault for a blob or text whose bytes do not match its hash.
func DamagedBlob(h journal.Hash) error {
	return fault.New(fault.Damaged, "Run icehand audit to see all damage, then restore the last backup.",
		"A stored file or text is damaged (%s)", h)
}

// CompareHash orders hashes bytewise.
func CompareHash(a, b journal.Hash) int { return bytes.Compare(a[:], b[:]) }

// Salted is an erasable text with its salt.
type Salted struct {
	Salt [32]byte
	Text string
}

// Salt gives a text a fresh random salt.
func Salt(text string) Salted {
	s := Salted{Text: text}
	rand.Read(s.Salt[:]) // never fails
	return s
}

// Name is the salted hash by which the journal refers to the text.
func (s Salted) Name() journal.Text {
	return journal.Text{Blob: journal.Sum(slices.Concat(s.Salt[:], []byte(s.Text)))}
}

// Check refuses a text that not every store can keep.
func (s Salted) Check() error {
	err := plain(s.Text)
	switch {
	case err != nil:
		return fault.Wrap(err, fault.BadInput, "Type the text again.", "The text holds characters that cannot be kept")
	case len(s.Text) > MaxText:
		return fault.New(fault.BadInput, "Shorten it.", "The text has %d bytes, at most %d can be kept", len(s.Text), MaxText)
	}
	return nil
}

// CheckBlob refuses a blob that is too large.
func CheckBlob(data []byte) error {
	if len(data) > MaxBlob {
		return fault.New(fault.BadInput, "Split the file.", "The file has %d bytes, at most %d can be kept", len(data), MaxBlob)
	}
	return nil
}

// UnknownOutcome is the fault for a commit that was reported failed.
func UnknownOutcome(cause error) error {
	return fault.Wrap(fmt.Errorf("%w: %w", ErrUnknownOutcome, cause), fault.NotSaved,
		"Save it again: nothing will be doubled. If it fails again, check the disk.", "The disk did not confirm that this was saved")
}
