package simulate

import (
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"iter"

	"github.com/google/uuid"

	"icehand/internal/keep/store"
	"icehand/internal/keep/syncing"
	"icehand/internal/trade/journal"
)

// Every promise of docs/sync.md is a check here. The first that does not hold ends the run.

// from reads a disk after a position.
func (w *world) from(d *disk, after store.Position) iter.Seq2[store.Position, *journal.Entry] {
	return func(yield func(store.Position, *journal.Entry) bool) {
		last := after
		err := d.Read(w.ctx, after, func(pos store.Position, e *journal.Entry) error {
			if last++; pos != last {
				return fmt.Errorf("position %d after %d", pos, last-1)
			}
			if !yield(pos, e) {
				return errStop
			}
			return nil
		})
		if err != nil && !errors.Is(err, errStop) {
			w.violated("a chain or the positions of a disk are broken: %v", err)
		}
	}
}

var errStop = errors.New("simulate: enough was read")

// entries reads a disk whole.
func (w *world) entries(d *disk) []*journal.Entry {
	var out []*journal.Entry
	for _, e := range w.from(d, 0) {
		out = append(out, e)
	}
	return out
}

// holds tells whether a disk holds an entry with that hash.
func (w *world) holds(d *disk, j uuid.UUID, n uint64, h journal.Hash) bool {
	if n == 0 {
		return true
	}
	e, err := d.Find(w.ctx, store.Place{Journal: j, N: n})
	return err == nil && e.Hash == h
}

// checkEpoch: a server that was restored answers under an epoch that was never seen before.
func (w *world) checkEpoch(epoch uuid.UUID) {
	if was, ok := w.epochs[epoch]; ok && was != w.server.restored {
		w.violated("a restored server answers under an old epoch")
	}
	w.epochs[epoch] = w.server.restored
}

// checkHeld: what a store says it has taken, it holds, byte for byte.
func (w *world) checkHeld(d *disk, offered []journal.Entry) {
	for i := range offered {
		if e := &offered[i]; !w.holds(d, e.Journal, e.N, e.Hash) {
			w.violated("a store took entry %d of journal %s and does not hold it", e.N, e.Journal)
			return
		}
	}
}

// created: no number is given out twice, but by a phone that was set back or copied and cannot know it.
func (w *world) created(out []journal.Entry) {
	for _, e := range out {
		p := store.Place{Journal: e.Journal, N: e.N}
		if h, ok := w.made[p]; ok && h != e.Hash && !w.loose[e.Journal] {
			w.violated("number %d of journal %s was given out twice", e.N, e.Journal)
		}
		w.made[p] = e.Hash
	}
}

// checkClock: one clock that is off does not drag those that are right.
func (w *world) checkClock(p *phone, e *journal.Entry) {
	if ahead := e.HLC.Time().Sub(w.now); p.straight && ahead > mostAhead {
		w.violated("the clock of phone %d is right and stamps %v ahead", p.n, ahead)
	}
}

// mostAhead is how far a right clock may be led by others, with a little for counters that ran on.
const mostAhead = 5*60e9 + 1e9

// checkSaved: what a phone showed as saved survives that its program is killed.
func (w *world) checkSaved(p *phone) {
	if len(p.saved) == 0 {
		return
	}
	here := map[uuid.UUID]bool{}
	for _, e := range w.entries(p.disk) {
		here[e.ID] = true
	}
	for _, a := range p.saved {
		if !here[a.draft.ID] {
			w.violated("phone %d showed an act as saved and has lost it", p.n)
			return
		}
	}
}

// checkClaims: what a phone counts as ashore is on the server, as long as the server was not set back since they compared.
func (w *world) checkClaims(p *phone) {
	if p.client == nil || p.known != w.server.history {
		return
	}
	for j, m := range p.client.Proved() {
		if !w.holds(w.server.disk, j, m.N, m.Hash) {
			w.violated("phone %d counts entry %d of journal %s as ashore; the server does not hold it", p.n, m.N, j)
			return
		}
		if !w.holds(p.disk, j, m.N, m.Hash) {
			w.violated("phone %d counts entry %d of journal %s as ashore and holds another", p.n, m.N, j)
			return
		}
	}
}

// checkCursor: a cursor that is remembered does not stand past what the phone holds. A server that was set back under its
// old epoch may come to hold the same entry at the same position after others; the next comparison finds that.
func (w *world) checkCursor(p *phone) {
	var m struct {
		Epoch  uuid.UUID
		Cursor syncing.Cursor
	}
	id, _ := w.server.disk.Identity(w.ctx)
	if json.Unmarshal(p.memory, &m) != nil || m.Epoch != id.Epoch || p.known != w.server.history || w.server.slipped {
		return
	}
	if p.seen > m.Cursor.Pos || p.seenAt != p.known {
		p.seen, p.seenAt = 0, p.known
	}
	from := p.seen
	p.seen = m.Cursor.Pos
	for pos, e := range w.from(w.server.disk, from) {
		if pos > m.Cursor.Pos {
			break
		}
		if !w.holds(p.disk, e.Journal, e.N, e.Hash) {
			w.violated("phone %d remembers position %d and lacks entry %d of journal %s before it", p.n, m.Cursor.Pos, e.N, e.Journal)
			return
		}
	}
}

// begin notes what stands when a Step begins.
func (w *world) begin(p *phone) begun {
	b := begun{history: w.server.history}
	b.mine, _ = p.disk.Heads(w.ctx)
	b.its, _ = w.server.disk.Heads(w.ctx)
	id, _ := p.disk.Identity(w.ctx)
	b.own, b.lost = id.Journal, b.its[id.Journal].N > b.mine[id.Journal].N
	return b
}

// checkStep: after a Step that came to its end, phone and server each hold what the other held at its beginning, and one
// that was set back writes a new journal.
func (w *world) checkStep(p *phone) {
	if p.begun.history != w.server.history {
		return // it was set back on the way
	}
	for j, h := range p.begun.its {
		if !w.holds(p.disk, j, h.N, h.Hash) {
			w.violated("phone %d is in step and lacks entry %d of journal %s", p.n, h.N, j)
		}
	}
	for j, h := range p.begun.mine {
		if w.holds(p.disk, j, h.N, h.Hash) && !w.holds(w.server.disk, j, h.N, h.Hash) {
			w.violated("phone %d is in step and the server lacks entry %d of journal %s", p.n, h.N, j)
		}
	}
	if id, _ := p.disk.Identity(w.ctx); p.begun.lost && id.Journal == p.begun.own {
		w.violated("phone %d was set back and goes on in its old journal", p.n)
	}
}

// losses excuses the acts that no disk holds any more after one was lost or set back.
func (w *world) losses() {
	here := map[uuid.UUID]bool{}
	for _, d := range w.disks() {
		for _, e := range w.entries(d) {
			here[e.ID] = true
		}
	}
	for _, a := range w.acts {
		a.excused = a.excused || a.saved && !here[a.draft.ID]
	}
}

func (w *world) disks() []*disk {
	out := []*disk{w.server.disk}
	for _, p := range w.phones {
		out = append(out, p.disk)
	}
	return out
}

// heal ends all faults, lets everybody finish, and then holds the world to what must come of it.
func (w *world) heal() {
	w.healing = true
	w.net = nil
	w.startServer(w.server.disk.Store)
	for _, p := range w.phones {
		p.abandon()
		p.crash()
		if p.pending != nil {
			p.act()
		}
	}
	for range 4 {
		for _, p := range w.phones {
			p.step()
			for n := 0; p.asks != nil && len(w.report.Violations) == 0; n++ {
				if n > 2000 {
					w.violated("phone %d does not come to rest", p.n)
				}
				w.deliver()
			}
		}
		if len(w.report.Violations) > 0 {
			return
		}
		if w.same() {
			break
		}
	}
	w.checkEnd()
}

// same tells whether all disks have the same heads.
func (w *world) same() bool {
	heads, _ := w.server.disk.Heads(w.ctx)
	for _, p := range w.phones {
		mine, _ := p.disk.Heads(w.ctx)
		if len(mine) != len(heads) {
			return false
		}
		for j, h := range heads {
			if mine[j].Hash != h.Hash {
				return false
			}
		}
	}
	return true
}

// checkEnd: everybody holds the same; every act shown as saved is there, once; views are the same in any order of
// arrival; nothing is damaged; what is named is held.
func (w *world) checkEnd() {
	if !w.same() {
		w.violated("phones and server do not hold the same after all faults have ended")
		return
	}
	var want uint64
	for i, d := range w.disks() {
		a, err := d.Verify(w.ctx)
		if err != nil || !a.Sound() {
			w.violated("disk %d does not verify: %+v %v", i, a, err)
			return
		}
		entries := w.entries(d)
		w.checkNames(d, entries)
		var log journal.Log
		if err := log.Add(entries...); err != nil {
			w.violated("disk %d does not fold: %v", i, err)
			return
		}
		got := folded(&log)
		if i == 0 {
			want = got
			w.checkActs(entries, &log)
		}
		if got != want {
			w.violated("disk %d folds into something else than the server's", i)
			return
		}
	}
}

// folded sums up facts: what counts, in which order, with which content.
func folded(log *journal.Log) uint64 {
	h := fnv.New64a()
	for _, f := range log.Facts() {
		h.Write(f.Entry.Hash[:])
		fmt.Fprint(h, f.Left, f.Flag, f.At.UnixMilli())
	}
	return h.Sum64()
}

// checkActs: every act that was shown as saved is held, and none counts twice.
func (w *world) checkActs(entries []*journal.Entry, log *journal.Log) {
	held, counts := map[uuid.UUID]bool{}, map[string]int{}
	for _, e := range entries {
		held[e.ID] = true
	}
	for _, f := range log.Facts() {
		if f.Counts() {
			counts[string(f.Entry.Body)]++
		}
	}
	for _, a := range w.acts {
		if a.saved && !a.excused && !held[a.draft.ID] {
			w.violated("an act that was shown as saved is nowhere")
			return
		}
		if counts[a.key] > 1 {
			w.violated("an act counts %d times", counts[a.key])
			return
		}
	}
}

// checkNames: whoever holds an entry holds the text that it names. The texts go first, so only a server that was set back
// under its old epoch between the two can lack one.
func (w *world) checkNames(d *disk, entries []*journal.Entry) {
	for _, e := range entries {
		if a := w.byID[e.ID]; a != nil && a.named && !w.server.slipped {
			if _, err := d.Text(w.ctx, a.text.Name()); err != nil {
				w.violated("an entry is held without the text that it names")
				return
			}
		}
	}
}
