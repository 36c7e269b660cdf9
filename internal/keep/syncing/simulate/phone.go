package simulate

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"time"

	"github.com/google/uuid"

	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/keep/syncing"
	"icehand/internal/trade/journal"
)

// phone is one phone with its program.
type phone struct {
	n         int
	w         *world
	disk      *disk
	memory    []byte
	snapshots []snapshot
	skew      time.Duration // its clock less the true one
	straight  bool          // its clock was never off
	client    *syncing.Client
	boot      uuid.UUID
	saved     []*act // what this phone has shown as saved and should hold
	pending   *act   // an act whose saving was in doubt: the person presses again

	// The Step that is on its way, if any.
	asks    func() (syncing.Ask, bool)
	stop    func()
	waiting *flight
	answer  syncing.Answer
	failed  error
	out     syncing.Outcome
	err     error
	begun   begun
	seen    store.Position // up to where its remembered cursor was checked, at
	seenAt  int            // this history of the server
	known   int            // the server's history when it answered the last comparison that arrived
}

// snapshot is a copy of a phone's storage.
type snapshot struct {
	disk   *mem.Store
	memory []byte
}

// begun is what stood when a Step began.
type begun struct {
	history   int
	mine, its map[uuid.UUID]journal.Head
	own       uuid.UUID
	lost      bool // the server held more of the own journal
}

// newPhone makes a phone, empty or a copy of another.
func (w *world) newPhone(of *phone) *phone {
	p := &phone{n: len(w.phones), w: w, straight: true}
	on := mem.New(store.Identity{Outfit: w.newID(), Account: w.newID(), Journal: w.newID(), Epoch: w.newID(), Made: w.now})
	if of != nil {
		on, p.memory, p.straight, p.skew = of.disk.copied(), of.memory, of.straight, of.skew
		w.freed(of)
	}
	p.start(on)
	return p
}

// freed lets the next numbers of a phone's journal be given out twice: it was copied or set back.
func (w *world) freed(p *phone) {
	id, _ := p.disk.Identity(w.ctx)
	w.forgive(id.Journal)
}

// now is the phone's clock.
func (p *phone) now() time.Time { return p.w.now.Add(p.skew) }

// start runs the program on a storage.
func (p *phone) start(on *mem.Store) {
	w := p.w
	p.disk = &disk{Store: on, w: w, phone: p, kill: w.rates.kill, doubt: w.rates.doubt, full: w.rates.full}
	if w.healing {
		p.disk.kill, p.disk.doubt, p.disk.full = 0, 0, 0
	}
	p.boot, p.known, p.client, p.seen = w.newID(), -1, nil, 0
	id, _ := on.Identity(w.ctx)
	heads, _ := on.Heads(w.ctx)
	p.disk.counter = heads[id.Journal].N / 4 * 4 // as it was written down last
	p.disk.durable = on.Clone()
}

// open makes the client, which may find the phone set back at once.
func (p *phone) open() error {
	if p.client != nil {
		return nil
	}
	c, err := syncing.Open(p.w.ctx, syncing.Options{Store: p.disk, Exchange: p.exchange, Clock: p.now, Memory: p, NewID: p.w.newID})
	if err == nil {
		p.client = c
	}
	return err
}

// abandon ends a Step that is on its way.
func (p *phone) abandon() {
	if p.stop != nil {
		p.disk.dead = true
		p.stop()
		p.stop, p.asks, p.waiting = nil, nil, nil
	}
}

// crash kills the program and starts it again on what is durable.
func (p *phone) crash() {
	p.abandon()
	on := p.disk.Store
	if p.w.defects.Has(SavedEarly) {
		on = p.disk.durable
	}
	p.start(on)
	p.w.checkSaved(p)
}

// snapshot copies the storage, as a backup of the phone does.
func (p *phone) snapshot() {
	p.snapshots = append(p.snapshots, snapshot{p.disk.copied(), p.memory})
	p.w.note("snapshot", p.n)
}

// rollback brings an older copy back. What it remembers apart may come back too, stay, or be gone.
func (p *phone) rollback() {
	if len(p.snapshots) == 0 {
		return
	}
	s := p.snapshots[p.w.rng.IntN(len(p.snapshots))]
	p.abandon()
	p.w.freed(p)
	switch p.w.rng.IntN(3) {
	case 0:
		p.memory = s.memory
	case 1:
		p.memory = nil
	}
	p.pending, p.saved = nil, nil
	p.start(s.disk.Clone())
	p.w.losses()
}

// destroy loses the phone with all on it; another takes its place.
func (p *phone) destroy() {
	p.abandon()
	p.snapshots, p.memory, p.pending, p.saved = nil, nil, nil, nil
	p.start(mem.New(store.Identity{Outfit: p.w.newID(), Account: p.w.newID(), Journal: p.w.newID(), Epoch: p.w.newID(), Made: p.w.now}))
	p.w.losses()
}

// newAct makes an act; each can be told from its body alone.
func (w *world) newAct(at time.Time, by journal.Author) *act {
	a := &act{}
	n := len(w.acts) + 1
	id := w.newID()
	if by.Outfit == uuid.Nil {
		sid, _ := w.server.disk.Identity(w.ctx)
		by.Outfit, by.Account = sid.Outfit, sid.Account
	}
	a.draft = by.Draft(id, at, at, &journal.Look{Hole: uuid.UUID{1, byte(n >> 8), byte(n)}, Seconds: 30, Marks: "none"})
	switch w.rng.IntN(12) {
	case 0:
		a.draft.Kind, a.draft.Version = "moonbeam", 7
	case 1:
		a.text.Text, a.named = fmt.Sprintf("guest %d", n), true
		for i := range a.text.Salt {
			a.text.Salt[i] = byte(w.rng.Uint32())
		}
		a.draft = by.Draft(id, at, at, &journal.Note{Text: a.text.Name()})
	}
	a.key = string(a.draft.Body)
	w.acts = append(w.acts, a)
	w.byID[id] = a
	return a
}

// act lets the guide press a key. When it is in doubt whether that was saved, the next press repeats it.
func (p *phone) act() {
	w := p.w
	a := p.pending
	if a == nil {
		id, _ := p.disk.Identity(w.ctx)
		a = w.newAct(p.now(), journal.Author{Outfit: id.Outfit, Account: id.Account, Boot: p.boot})
	} else if w.defects.Has(NewIDOnRetry) {
		a.draft.ID = w.newID()
		w.byID[a.draft.ID] = a
	}
	p.pending = a
	if a.named {
		if _, err := p.disk.PutSalted(w.ctx, a.text); err != nil {
			p.recover(err)
			return
		}
	}
	out, err := p.disk.Append(w.ctx, []journal.Draft{a.draft})
	w.note("act", p.n)
	if err != nil {
		p.recover(err)
		return
	}
	p.pending, a.saved = nil, true
	w.created(out)
	p.saved = append(p.saved, a)
	w.checkClock(p, &out[0])
	if w.rng.IntN(3) == 0 {
		p.disk.durable = p.disk.copied()
	}
}

// recover goes on after a write that failed: a killed program is started again. Only a fault of the disk may keep an act
// from being saved.
func (p *phone) recover(err error) {
	switch {
	case errors.Is(err, errCrashed):
		p.crash()
	case errors.Is(err, errFull), errors.Is(err, store.ErrUnknownOutcome):
	default:
		p.w.violated("phone %d with a sound disk could not save: %v", p.n, err)
	}
}

// exchange hands a question to the world and waits until it is answered.
func (p *phone) exchange(ctx context.Context, a syncing.Ask) (syncing.Answer, error) {
	if r, ok := p.shortcut(a); ok {
		return r, nil
	}
	yield, ok := ctx.Value(yieldKey{}).(func(syncing.Ask) bool)
	if !ok || !yield(a) {
		return syncing.Answer{}, errCrashed
	}
	return p.answer, p.failed
}

type yieldKey struct{}

// step begins a Step, unless one is on its way.
func (p *phone) step() {
	if p.asks != nil {
		return
	}
	w := p.w
	if err := p.open(); err != nil {
		p.recover(err)
		return
	}
	p.begun = w.begin(p)
	client := p.client
	p.asks, p.stop = iter.Pull(func(yield func(syncing.Ask) bool) {
		p.out, p.err = client.Step(context.WithValue(w.ctx, yieldKey{}, yield))
	})
	p.goOn()
}

// goOn runs the Step to its next question, which goes onto the network, or to its end.
func (p *phone) goOn() {
	ask, more := p.asks()
	if more {
		p.waiting = &flight{phone: p, ask: ask}
		p.w.net = append(p.w.net, p.waiting)
		return
	}
	p.stop()
	p.stop, p.asks, p.waiting = nil, nil, nil
	w := p.w
	w.note("step", p.out.Pushed*1000+p.out.Pulled)
	if p.out.Turned {
		w.report.Turned++
	}
	w.report.Moved += p.out.Moved
	switch {
	case p.err == nil:
		w.report.Steps++
		w.checkStep(p)
	case errors.Is(p.err, errCrashed):
		p.crash()
	case errors.Is(p.err, errLost), errors.Is(p.err, errFull), errors.Is(p.err, store.ErrUnknownOutcome):
	case w.healing:
		w.violated("phone %d: a Step without faults ended with %v (%v)", p.n, p.err, errors.Unwrap(p.err))
	}
}
