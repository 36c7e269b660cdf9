// Package desk is where a guide's records meet the engine: it keeps the journal of one store folded, records acts, and
// asks the engine its questions with everything that is known at the moment.
//
// Start with [Open]; then [Desk.Next], [Desk.Evening] and their fellows answer, and [Desk.Look] and its fellows record.
// Every host (server pages, commands, phone) works through one desk, so that all give the same answers.
// It assumes one lake at a time and one writing process per store. It prints nothing: words are made in package say.
package desk

import (
	"context"
	"fmt"
	"sync"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/safety"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
	"icehand/internal/trade/party"
	"icehand/internal/trade/rules"
	"icehand/internal/trade/tally"
)

// Options are what a host brings. The zero value works.
type Options struct {
	Clock func() time.Time // nil: the machine's clock
	Seed  uint64           // of the engine's random streams
	Boot  uuid.UUID        // this run of the program; zero: a fresh one
	// Passed tells how much time has really passed since some moment of this run, whatever the clock was set to; nil: the clock
	// is not watched.
	Passed func() time.Duration
	// Position tells where the phone stands; nil: only what [Desk.Stand] was told. The demo simulates it.
	Position func(now time.Time) advise.Place
	// Follow is called before a look is recorded at a place while the advice shown is to go elsewhere: the demo's
	// simulated scout walks there, and the demo's clock moves on. nil outside the demo.
	Follow func(advise.Step)
	// Recall and Keep hold what can be worked out anew, by name: depth surfaces, for a program that starts for one
	// question. Recall gives nil for what is not held. nil: nothing is held.
	Recall func(name string) []byte
	Keep   func(name string, data []byte)
}

// Desk is safe for concurrent use.
type Desk struct {
	store   store.Store
	id      store.Identity
	opt     Options
	started time.Time

	mu      sync.Mutex
	log     journal.Log
	pos     store.Position
	lake    *lake.View
	chosen  journal.HLC // when the lake was founded or named last
	party   *party.View
	shelf   rules.Shelf
	ledger  tally.View
	stood   advise.Place
	ground  groundCache
	pack    packCache
	texts   map[journal.Hash]string
	step    stepCache
	memory  memoryCache
	rounds  roundCache
	covers  coverCache
	before  earlierCache
	watched clockWatch
	backs   setBacks
	lines   map[journal.Hash][]safety.Fix // of the travelled lines that were read
}

// Open folds the store's journal. A store without a lake is fine: [Desk.FoundLake] or an outline makes one.
func Open(ctx context.Context, st store.Store, opt Options) (*Desk, error) {
	if opt.Clock == nil {
		opt.Clock = time.Now
	}
	if opt.Boot == uuid.Nil {
		opt.Boot = journal.NewID()
	}
	id, err := st.Identity(ctx)
	if err != nil {
		return nil, fmt.Errorf("desk: opening: %w", err)
	}
	d := &Desk{store: st, id: id, opt: opt, started: opt.Clock(), texts: map[journal.Hash]string{}, lines: map[journal.Hash][]safety.Fix{}}
	if err := d.refresh(ctx); err != nil {
		return nil, err
	}
	return d, nil
}

// Clock gives the desk's now.
func (d *Desk) Clock() time.Time { return d.opt.Clock() }

// Store gives the store underneath, for export, backup and audit.
func (d *Desk) Store() store.Store { return d.store }

// Identity gives who writes here.
func (d *Desk) Identity() store.Identity { return d.id }

// refresh reads what is new in the store and folds it. The caller holds mu, or is Open.
func (d *Desk) refresh(ctx context.Context) error {
	var lakeID uuid.UUID
	err := d.store.Read(ctx, d.pos, func(p store.Position, e *journal.Entry) error {
		d.pos = p
		own := *e // the store may reuse its entry
		if err := d.log.Add(&own); err != nil {
			return fault.Wrap(err, fault.Damaged, "Run icehand audit.", "the journal holds two entries under one number")
		}
		if e.Kind == journal.KindLake && e.HLC >= d.chosen {
			lakeID, d.chosen = e.Lake, e.HLC // the newest one, in whatever order entries came
		}
		if e.Journal == d.id.Journal {
			d.watched.written = time.UnixMilli(e.Wall)
		}
		d.memory.saw(e)
		d.ground.saw(&d.log, e)
		return nil
	})
	if err != nil {
		return fmt.Errorf("desk: reading the journal: %w", err)
	}
	if d.lake == nil || lakeID != uuid.Nil && lakeID != d.lake.ID {
		d.lake, d.party = lake.New(lakeID), party.New(lakeID)
	}
	d.lake.Sync(&d.log)
	d.party.Sync(&d.log)
	d.shelf.Sync(&d.log)
	d.ledger.Sync(&d.log)
	d.backs.sync(&d.log, d.id.Journal)
	return nil
}

// with runs f while the folded journal is held still and up to date.
func (d *Desk) with(ctx context.Context, f func() error) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.refresh(ctx); err != nil {
		return err
	}
	d.lookAtClock(ctx)
	return f()
}

// View is what the journal says, for pages and commands that list it. Read it inside [Desk.Read] only.
type View struct {
	Now   time.Time
	Today journal.Day
	Lake  *lake.View
	Party *party.View
	Shelf *rules.Shelf
	Log   *journal.Log
	Name  func(journal.Text) string // a name or note; "" when it was erased

	ledger *tally.View
	phone  uuid.UUID // journal of this phone
	of     *Desk
}

// Read gives f the folded journal, held still while f runs.
func (d *Desk) Read(ctx context.Context, f func(View) error) error {
	return d.with(ctx, func() error {
		now := d.Clock()
		return f(View{Now: now, Today: journal.DayOf(now, d.lake.Zone), Lake: d.lake, Party: d.party, Shelf: &d.shelf, Log: &d.log, ledger: &d.ledger, phone: d.id.Journal, of: d,
			Name: func(t journal.Text) string { return d.text(ctx, t) }})
	})
}

// text looks a name or note up, remembering it.
func (d *Desk) text(ctx context.Context, t journal.Text) string {
	if s, ok := d.texts[t.Blob]; ok {
		return s
	}
	s, err := d.store.Text(ctx, t)
	if err != nil {
		return ""
	}
	d.texts[t.Blob] = s
	return s
}

// needLake gives the fault of a desk without a lake.
func (d *Desk) needLake() error {
	if !d.lake.Known {
		return fault.New(fault.Missing, "Import its outline: icehand import OUTLINE.geojson --tz ZONE.", "no lake is recorded yet")
	}
	return nil
}

// Stand tells the desk where the phone stands.
func (d *Desk) Stand(p advise.Place) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.stood = p
}

// staleFix is the age beyond which a fix is not used as "here". Common practice, no source.
const staleFix = 3 * time.Minute

// here gives the phone's place: the simulated or told one while fresh, else unknown.
func (d *Desk) here(now time.Time) advise.Place {
	if d.opt.Position != nil {
		return d.opt.Position(now)
	}
	p := d.stood
	if p.Known && (now.Sub(p.Fixed) > staleFix || p.Fixed.After(now.Add(time.Minute))) {
		p.Known = false
	}
	return p
}

// Here gives the phone's place now.
func (d *Desk) Here() advise.Place {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.here(d.Clock())
}

// Local projects a position onto the lake's plane.
func (d *Desk) Local(ctx context.Context, p geo.Position) (l geo.Local, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		l = d.lake.Frame.Local(p)
		return nil
	})
	return l, err
}
