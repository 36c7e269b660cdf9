// Package simulate runs phones and a server of package syncing in a made-up world, step by step from a seed: a network
// that drops, doubles, delays, reorders and cuts; programs killed in the midst of a write; disks that fail, fill up and
// come back as they were; phones lost, set back and cloned; a server restored, set back and killed; clocks off by years.
//
// Start with [Run]: it gives what was violated, nothing when all is well. The same seed gives the same run. The client,
// server and stores are the real ones; only what surrounds them is made up. [Defect] plants known mistakes, to see that
// they are noticed. It leaves out real sockets, disks and browsers, which their own packages test.
package simulate

import (
	"context"
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"time"

	"github.com/google/uuid"

	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/keep/syncing"
	"icehand/internal/trade/journal"
)

// Options says how to run. The zero value runs a seed as the tests do.
type Options struct {
	Defects Defect
	Events  int // before the faults end; 0: 140
}

// Report is what came of a run.
type Report struct {
	Violations []string // in the order in which they were noticed
	Trace      uint64   // of everything that happened; the same for the same seed
	Acts       int      // acts shown as saved
	Steps      int      // Steps that came to their end
	Turned     int      // phones that found themselves set back
	Moved      int      // entries that moved because their numbers were taken
	Restored   int      // times that the server was restored or set back
	Asked      int      // questions that reached the server
}

// rates are how often things go wrong in a run, in a thousand; many are off in many runs.
type rates struct {
	drop, double, late, cut            int
	kill, doubt, full                  int
	crash, rollback, destroy, clone    int
	backup, restore, setBack, srvCrash int
	jump                               int
}

// world is one run.
type world struct {
	rng     *rand.Rand
	defects Defect
	rates   rates
	now     time.Time
	healing bool
	coded   bool // messages travel as bytes

	server *server
	phones []*phone
	net    []*flight
	acts   []*act
	byID   map[uuid.UUID]*act
	made   map[store.Place]journal.Hash // what was ever written under a number
	epochs map[uuid.UUID]int            // under which restore each epoch was seen
	loose  map[uuid.UUID]bool           // journals of which a copy was made, so that two may write under one number
	report Report
	trace  uint64
	ctx    context.Context
}

// server is the server's machine.
type server struct {
	disk     *disk
	srv      *syncing.Server
	backups  []*mem.Store
	history  int  // grows when what the disk holds goes back
	restored int  // history of the last restore by the rules, with a new epoch
	slipped  bool // it was set back without a new epoch at some time
}

// act is what a person did once.
type act struct {
	draft   journal.Draft
	key     string // tells the act from its body alone
	saved   bool   // shown as saved
	excused bool   // every disk that held it is gone or was set back
	text    store.Salted
	named   bool
}

// Run runs one seed.
func Run(seed uint64, o Options) Report {
	if o.Events == 0 {
		o.Events = 140
	}
	w := &world{
		rng: rand.New(rand.NewPCG(seed, 0x1ce)), defects: o.Defects, now: time.Date(2026, 1, 15, 8, 0, 0, 0, time.UTC),
		byID: map[uuid.UUID]*act{}, made: map[store.Place]journal.Hash{}, loose: map[uuid.UUID]bool{}, epochs: map[uuid.UUID]int{}, ctx: context.Background(),
	}
	w.draw(seed%4 == 3)
	w.startServer(mem.New(store.Identity{Outfit: w.newID(), Account: w.newID(), Journal: w.newID(), Epoch: w.newID(), Made: w.now}))
	for range 2 + w.rng.IntN(2) {
		w.phones = append(w.phones, w.newPhone(nil))
	}
	for range o.Events {
		w.event()
		if len(w.report.Violations) > 0 {
			return w.end()
		}
	}
	w.heal()
	return w.end()
}

func (w *world) end() Report {
	for _, p := range w.phones {
		p.abandon()
	}
	w.report.Trace, w.report.Acts = w.trace, 0
	for _, a := range w.acts {
		if a.saved {
			w.report.Acts++
		}
	}
	return w.report
}

// violated notes what does not hold.
func (w *world) violated(format string, args ...any) {
	w.report.Violations = append(w.report.Violations, fmt.Sprintf(format, args...))
}

// note adds to the trace.
func (w *world) note(what string, n int) {
	h := fnv.New64a()
	var b [16]byte
	binary.LittleEndian.PutUint64(b[:8], w.trace)
	binary.LittleEndian.PutUint64(b[8:], uint64(n))
	h.Write(b[:])
	h.Write([]byte(what))
	w.trace = h.Sum64()
}

// draw draws the rates of a run: each fault is off in half of the runs, rare or common in the others. A run with copies
// is about two writers of one journal.
func (w *world) draw(copies bool) {
	some := func(most int) int {
		if w.rng.IntN(2) == 0 {
			return 0
		}
		return 1 + w.rng.IntN(most)
	}
	w.rates = rates{
		drop: some(300), double: some(200), late: some(100), cut: some(200), kill: some(60), doubt: some(60), full: some(60),
		crash: some(40), rollback: some(40), destroy: some(15), clone: some(15), backup: 10 + some(30), restore: some(30), setBack: some(20), srvCrash: some(20), jump: some(20),
	}
	if copies { // little goes wrong but that phones and server are copied and set back
		w.rates = rates{late: some(50), crash: some(20), rollback: 20, clone: 60, backup: 30, restore: some(15), setBack: some(15)}
	}
	w.coded = w.rng.IntN(8) == 0
}

func (w *world) chance(perMille int) bool { return !w.healing && w.rng.IntN(1000) < perMille }

func (w *world) startServer(on *mem.Store) {
	d := &disk{Store: on, w: w, kill: w.rates.kill / 4, doubt: w.rates.doubt / 4, full: w.rates.full / 4}
	if w.healing {
		d.kill, d.doubt, d.full = 0, 0, 0
	}
	if w.server == nil {
		w.server = &server{}
	}
	w.server.disk = d
	w.server.srv = syncing.NewServer(d, func() time.Time { return w.now })
}

// event lets one thing happen.
func (w *world) event() {
	w.now = w.now.Add(time.Duration(w.rng.IntN(120)) * time.Second)
	r := w.rates
	p := w.phones[w.rng.IntN(len(w.phones))]
	switch {
	case w.chance(r.crash):
		w.note("crash", p.n)
		p.crash()
	case w.chance(r.rollback):
		w.note("rollback", p.n)
		p.rollback()
	case w.chance(r.destroy):
		w.note("destroy", p.n)
		p.destroy()
	case w.chance(r.clone) && len(w.phones) < 4:
		w.note("clone", p.n)
		w.phones = append(w.phones, w.newPhone(p))
	case w.chance(r.jump):
		p.skew = []time.Duration{0, 0, -3 * time.Hour, 3 * time.Hour, 5 * 365 * 24 * time.Hour, -10 * 365 * 24 * time.Hour, 30 * 24 * time.Hour}[w.rng.IntN(7)]
		p.straight = p.straight && p.skew == 0
	case w.chance(r.backup):
		w.note("backup", len(w.server.backups))
		w.server.backups = append(w.server.backups, w.server.disk.copied())
	case w.chance(r.restore):
		w.restore()
	case w.chance(r.setBack):
		w.setBack()
	case w.chance(r.srvCrash):
		w.note("server killed", 0)
		w.startServer(w.server.disk.Store)
	default:
		w.usual(p)
	}
	if w.server.disk.dead {
		w.startServer(w.server.disk.Store)
	}
}

// usual is what happens most of the time.
func (w *world) usual(p *phone) {
	switch r := w.rng.IntN(100); {
	case r < 22:
		p.act()
	case r < 25:
		w.serverActs()
	case r < 28:
		p.snapshot()
	case r < 45:
		p.step()
	default:
		w.deliver()
	}
}

// serverActs lets somebody write on the server's own pages.
func (w *world) serverActs() {
	a := w.newAct(w.now, journal.Author{})
	if a.named {
		if _, err := w.server.disk.PutSalted(w.ctx, a.text); err != nil {
			return
		}
	}
	out, err := w.server.disk.Append(w.ctx, []journal.Draft{a.draft})
	if err == nil {
		a.saved = true
		w.created(out)
	}
	w.note("server acts", len(out))
}

// restore brings a backup back by the rules: a new epoch, and a new journal for the server to write.
func (w *world) restore() {
	if len(w.server.backups) == 0 {
		return
	}
	i := w.rng.IntN(len(w.server.backups))
	w.note("restore", i)
	on := w.server.backups[i].Clone()
	id, _ := on.Identity(w.ctx)
	switch {
	case w.defects.Has(EpochCounter):
		// The counter is part of what comes back: it counts on from there.
		id.Epoch[15]++
	case !w.defects.Has(SameEpoch):
		id.Epoch = w.newID()
	}
	if !w.defects.Has(SameJournal) {
		id.Journal = w.newID()
	}
	if err := on.Become(w.ctx, id); err != nil {
		w.violated("restore: %v", err)
	}
	w.startServer(on)
	w.server.history++
	w.server.restored = w.server.history
	w.report.Restored++
	w.losses()
}

// setBack sets the server back without its knowing: a virtual machine returns to an image. Epoch and journal stay, so
// what the server itself wrote since may get its numbers a second time.
func (w *world) setBack() {
	if len(w.server.backups) == 0 {
		return
	}
	on := w.server.backups[w.rng.IntN(len(w.server.backups))].Clone()
	was, _ := w.server.disk.Identity(w.ctx)
	if id, _ := on.Identity(w.ctx); id.Epoch != was.Epoch {
		return // that would bring an older epoch back, which only a restore may
	}
	w.note("set back", 0)
	w.forgive(was.Journal)
	w.startServer(on)
	w.server.history++
	w.server.slipped = true
	w.report.Restored++
	w.losses()
}

// forgive lets numbers of a journal be given out a second time from now on.
func (w *world) forgive(j uuid.UUID) { w.loose[j] = true }
