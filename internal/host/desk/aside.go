package desk

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// Aside lists what is on record and does not fit: kept, told, never thrown away (docs/sync.md, "Quarantine").
type Aside struct {
	Entries int // on record in all
	Copies  int // second copies of acts: counted once, nothing to do
	Odd     []Odd
	Moved   []Moved
}

// Odd is an entry that does not count as it stands, or counts and should be looked at.
type Odd struct {
	Kind    journal.Kind
	Journal uuid.UUID
	N       uint64
	From    string    // who wrote it, in words
	Written time.Time // by the clock of its writer
	Class   OddClass
	Why     string // for the odd and the unreadable: what is wrong, as the checks say it
}

// OddClass says what is to be done about an entry.
type OddClass string

// The classes.
const (
	OddNewer      OddClass = "newer"      // of a kind or version that this program does not know: left out
	OddUnreadable OddClass = "unreadable" // its body cannot be read: left out
	OddValue      OddClass = "value"      // counts, and its value makes no sense, or two corrections of it differ
	OddClock      OddClass = "clock"      // counts, and its writer's clock was ahead or behind
)

// Moved is the end of a journal that lies in a journal of its own, since another content has its numbers.
type Moved struct {
	Journal       uuid.UUID
	Entries       int
	From          string
	Written, Last time.Time
}

// clockAhead is how far a writer's clock may lead this one's before its entries are listed: the bound beyond which no clock is
// merged (docs/journal-format.md, 3).
const clockAhead = 5 * time.Minute

// Aside gives that list, the newest first.
func (d *Desk) Aside(ctx context.Context) (out Aside, err error) {
	err = d.Read(ctx, func(v View) error {
		moved := map[uuid.UUID]*Moved{}
		for _, f := range v.Log.Facts() {
			out.Entries++
			e := f.Entry
			if store.IsBranch(e.Journal) {
				m := moved[e.Journal]
				if m == nil {
					m = &Moved{Journal: e.Journal, From: d.writtenBy(v, e), Written: time.UnixMilli(e.Wall)}
					moved[e.Journal] = m
				}
				m.Entries++
				m.Last = time.UnixMilli(e.Wall)
			}
			class, why := oddly(f, v.Now)
			if class == "" {
				if f.Left != "" && !strings.HasPrefix(f.Left, "retracted") {
					out.Copies++
				}
				continue
			}
			out.Odd = append(out.Odd, Odd{Kind: e.Kind, Journal: e.Journal, N: e.N, From: d.writtenBy(v, e), Written: time.UnixMilli(e.Wall), Class: class, Why: why})
		}
		for _, m := range moved {
			out.Moved = append(out.Moved, *m)
		}
		slices.SortFunc(out.Moved, func(a, b Moved) int { return b.Written.Compare(a.Written) })
		slices.Reverse(out.Odd)
		return nil
	})
	return out, err
}

// oddly classes a fact; "" for one that fits, was taken back or is a second copy.
func oddly(f *journal.Fact, now time.Time) (OddClass, string) {
	u, unknown := f.Body.(*journal.Unknown)
	switch {
	case f.Left != "" && (!unknown || f.Left != u.Why):
		return "", ""
	case unknown && u.Newer:
		return OddNewer, ""
	case unknown:
		return OddUnreadable, u.Why
	case time.UnixMilli(f.Entry.Wall).Sub(now) > clockAhead, f.Flag == journal.FlagClock:
		return OddClock, ""
	case f.Flag != "":
		return OddValue, strings.TrimPrefix(f.Flag, "journal: ")
	}
	return "", ""
}

// writtenBy says who wrote an entry: this phone, or whoever an account stands for and from which journal.
func (d *Desk) writtenBy(v View, e *journal.Entry) string {
	name := d.WriterName(v, e.Account, time.UnixMilli(e.Wall))
	if e.Journal == d.id.Journal {
		return name
	}
	if name == "this phone" {
		name = "another phone of the outfit"
	}
	return strings.TrimSpace(name + ", journal " + e.Journal.String()[:8])
}
