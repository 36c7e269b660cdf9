package journal

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
)

// FlagClock is the flag of what was written by a clock that was wrong.
const FlagClock = "written by a clock far behind the journal's order"

// Fact is an entry as it counts now: amendments applied, or taken out of the views with a reason.
type Fact struct {
	Entry *Entry
	At    time.Time // when it happened, amendments applied
	Body  Body      // current version of its kind; *Unknown when it cannot be read
	// Left says why the fact is left out of all views: unreadable, retracted, a repeat of an act. Empty when it counts.
	Left string
	// Flag says why a person should look at it although it counts: odd value, suspect clock, contradicting amendments.
	Flag    string
	Amended []uuid.UUID // the amendments applied, in order
}

// Counts tells whether views should use the fact.
func (f *Fact) Counts() bool { return f.Left == "" }

// Log holds entries of any number of journals in one order and gives them as facts.
// Adding entries in any order of arrival gives the same facts. The zero Log is ready to use. Not safe for concurrent use.
type Log struct {
	facts   []*Fact
	byID    map[uuid.UUID][]*Fact // repeats of one act share an id
	changes map[uuid.UUID][]*Fact // amendments and retractions by target, in order
	heads   map[uuid.UUID]Head
	rewrite int // grows when a fact that views may have used changes
}

// Add takes entries in. Entries held already (same journal and number, same hash) are passed over; a different entry
// under a number held already is a fork, and refused with an error naming it, the rest being taken.
func (l *Log) Add(entries ...*Entry) error {
	if l.byID == nil {
		l.byID, l.changes, l.heads = map[uuid.UUID][]*Fact{}, map[uuid.UUID][]*Fact{}, map[uuid.UUID]Head{}
	}
	var forks error
	for _, e := range entries {
		if err := l.add(e); err != nil && forks == nil {
			forks = err
		}
	}
	return forks
}

func (l *Log) add(e *Entry) error {
	f := &Fact{Entry: e}
	i := len(l.facts)
	if i > 0 && Compare(e, l.facts[i-1].Entry) <= 0 {
		var held bool
		i, held = slices.BinarySearchFunc(l.facts, e, func(f *Fact, e *Entry) int { return Compare(f.Entry, e) })
		if held {
			if l.facts[i].Entry.Hash != e.Hash {
				return fmt.Errorf("journal: entry %d of journal %s exists twice with different content", e.N, e.Journal)
			}
			return nil
		}
		l.rewrite++
	}
	l.facts = slices.Insert(l.facts, i, f)
	l.byID[e.ID] = insertOrdered(l.byID[e.ID], f)
	if h := l.heads[e.Journal]; e.N > h.N {
		l.heads[e.Journal] = HeadOf(e)
	}
	f.Body = Decode(e)
	if target, ok := targetOf(f.Body); ok {
		l.changes[target] = insertOrdered(l.changes[target], f)
		if len(l.byID[target]) > 0 {
			l.rewrite++
		}
	}
	l.settle(e.ID, true)
	return nil
}

// targetOf gives the act that an amendment or retraction changes.
func targetOf(b Body) (uuid.UUID, bool) {
	switch b := b.(type) {
	case *Amend:
		return b.Target, true
	case *Retract:
		return b.Target, true
	}
	return uuid.Nil, false
}

func insertOrdered(fs []*Fact, f *Fact) []*Fact {
	i, _ := slices.BinarySearchFunc(fs, f, func(a, b *Fact) int { return Compare(a.Entry, b.Entry) })
	return slices.Insert(fs, i, f)
}

// settle works out every fact of one act: the first copy counts, with all changes to it. A change that begins or ceases
// to count settles its own target in turn. That ends, since a change is itself changed only by later retractions.
func (l *Log) settle(id uuid.UUID, fresh bool) {
	facts := l.byID[id]
	was := make([]string, len(facts))
	for i, f := range facts {
		was[i] = f.Left
		f.Left, f.Flag, f.Amended = "", "", nil
		f.At = f.Entry.Time()
		f.Body = Decode(f.Entry)
		if i > 0 {
			f.Left = "a second copy of the same act"
			continue
		}
		l.applyChanges(f)
		if u, ok := f.Body.(*Unknown); ok {
			f.Left = u.Why
		} else if err := f.Body.Check(); err != nil && f.Flag == "" {
			f.Flag = err.Error()
		}
		if ahead := f.Entry.HLC.Time().Sub(time.UnixMilli(f.Entry.Wall)); ahead > time.Hour && f.Flag == "" {
			f.Flag = FlagClock
		}
	}
	for i, f := range facts {
		if target, ok := targetOf(f.Body); ok && (fresh || was[i] != f.Left) && len(l.byID[target]) > 0 {
			l.settle(target, false)
		}
	}
}

func (l *Log) applyChanges(f *Fact) {
	set := map[string]json.RawMessage{}
	setBy := map[string]*Amend{}
	_, isChange := targetOf(f.Body)
	for _, c := range l.changes[f.Entry.ID] {
		if c.Left != "" || isChange && Compare(c.Entry, f.Entry) <= 0 {
			continue
		}
		switch b := c.Body.(type) {
		case *Retract:
			f.Left = "retracted: " + b.Why
		case *Amend:
			if isChange {
				f.Flag = "a correction cannot be corrected, only retracted"
				continue
			}
			for k, v := range b.Set {
				if earlier, ok := setBy[k]; ok && earlier.After == b.After && !bytes.Equal(set[k], v) {
					f.Flag = fmt.Sprintf("two corrections of %q contradict each other", k)
				}
				set[k], setBy[k] = v, b
			}
			f.Amended = append(f.Amended, c.Entry.ID)
		}
	}
	if len(set) == 0 {
		return
	}
	if raw, ok := set["at"]; ok {
		var ms int64
		if json.Unmarshal(raw, &ms) == nil {
			f.At = time.UnixMilli(ms)
		}
		// "at" is also a body field of some kinds (a point); there it is an object and falls through below.
	}
	merged := map[string]json.RawMessage{}
	if json.Unmarshal(f.Entry.Body, &merged) != nil {
		return
	}
	for k, v := range set {
		if k == "at" && len(v) > 0 && v[0] != '{' && string(v) != "null" {
			continue
		}
		merged[k] = v
	}
	raw, err := json.Marshal(merged)
	if err != nil {
		return
	}
	if b := decodeBody(f.Entry.Kind, f.Entry.Version, raw); b.Check() == nil {
		f.Body = b
	} else {
		f.Flag = "a correction could not be applied: " + b.Check().Error()
	}
}

// Facts gives the facts in order. The slice is the log's own: read it, do not keep it across Add.
func (l *Log) Facts() []*Fact { return l.facts }

// Find gives the fact that counts for an act, or nil.
func (l *Log) Find(id uuid.UUID) *Fact {
	if fs := l.byID[id]; len(fs) > 0 {
		return fs[0]
	}
	return nil
}

// LastAmendment gives the latest amendment of a target, for Amend.After.
func (l *Log) LastAmendment(target uuid.UUID) uuid.UUID {
	if f := l.Find(target); f != nil && len(f.Amended) > 0 {
		return f.Amended[len(f.Amended)-1]
	}
	return uuid.Nil
}

// Heads gives the end of every journal held.
func (l *Log) Heads() map[uuid.UUID]Head { return l.heads }

// Cursor remembers how far a view has read a log.
type Cursor struct {
	read    int
	rewrite int
}

// Since gives the facts to fold: the tail after the cursor, or all of them with again set when something that had been
// read has changed, in which case the view starts afresh. It moves the cursor to the end.
func (l *Log) Since(c *Cursor) (facts []*Fact, again bool) {
	again = c.rewrite != l.rewrite || c.read > len(l.facts)
	start := c.read
	if again {
		start = 0
	}
	*c = Cursor{read: len(l.facts), rewrite: l.rewrite}
	return l.facts[start:], again
}
