package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
	"icehand/internal/trade/party"
)

// Act is what every human act carries. The zero At is now, the zero ID a fresh act. A repeated ID counts once.
type Act struct {
	ID uuid.UUID
	At time.Time
}

// settle fills what was left open and refuses a time that cannot be.
func (d *Desk) settle(a Act) (Act, error) {
	now := d.Clock()
	if a.ID == uuid.Nil {
		a.ID = journal.NewID()
	}
	if a.At.IsZero() {
		a.At = now
	}
	if a.At.After(now.Add(5 * time.Minute)) {
		return a, fault.New(fault.BadInput, "Check the time and the phone's clock.", "the time %s lies in the future", a.At.In(d.lake.Zone).Format("2006-01-02 15:04"))
	}
	return a, nil
}

// author stamps what is written for a time.
func (d *Desk) author(at time.Time) journal.Author {
	a := journal.Author{Outfit: d.id.Outfit, Lake: d.lake.ID, Account: d.id.Account, Zone: d.lake.Zone, Boot: d.opt.Boot, Started: d.started}
	if t := d.party.Trip(journal.DayOf(at, d.lake.Zone)); t != nil {
		a.Trip = t.ID
	}
	return a
}

// item is one body on its way into the journal.
type item struct {
	id   uuid.UUID
	at   time.Time
	body journal.Body
}

// write checks bodies and appends them together; it answers only after they are durable. The caller holds mu.
func (d *Desk) write(ctx context.Context, items ...item) error {
	if err := d.check(items); err != nil {
		return err
	}
	if _, err := d.store.Append(ctx, slices.Collect(d.drafts(items))); err != nil {
		return notSaved(err)
	}
	return d.refresh(ctx)
}

// check refuses what may not be written, before anything is.
func (d *Desk) check(items []item) error {
	made := drilledIn(items)
	for _, it := range items {
		if err := it.body.Check(); err != nil {
			return fault.Wrap(err, fault.BadInput, "Correct the value and enter it again. Nothing was written.", "%s", plain(err))
		}
		if err := d.afterDrilling(it, made); err != nil {
			return err
		}
	}
	return nil
}

// plain strips the package prefix off a body's complaint.
func plain(err error) string {
	const prefix = "journal: "
	if s := err.Error(); len(s) > len(prefix) && s[:len(prefix)] == prefix {
		return s[len(prefix):]
	}
	return err.Error()
}

// record runs one act under the lock, on a desk with a lake.
func (d *Desk) record(ctx context.Context, a Act, f func(Act) error) error {
	return d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		a, err := d.settle(a)
		if err != nil {
			return err
		}
		return f(a)
	})
}

// FoundLake records a lake, or renames it. The origin of a lake is fixed by its first entry.
func (d *Desk) FoundLake(ctx context.Context, a Act, name string, origin geo.Position, zone string, freezeUp journal.Day) error {
	return d.with(ctx, func() error {
		a, err := d.settle(a)
		if err != nil {
			return err
		}
		if d.lake.ID == uuid.Nil {
			id := journal.NewID()
			d.lake, d.party = lake.New(id), party.New(id)
		}
		if d.lake.Known {
			origin = d.lake.Frame.Origin()
		}
		loc, err := time.LoadLocation(zone)
		if err != nil || zone == "" {
			return fault.New(fault.BadInput, "Name the lake's zone as in the IANA list, for example --tz Etc/GMT+3.", "%q is not the name of a time zone", zone)
		}
		d.lake.Zone = loc
		return d.write(ctx, item{a.ID, a.At, &journal.Lake{Name: name, Origin: *journal.PointOf(origin), Zone: zone, FreezeUp: freezeUp}})
	})
}

// HoleRef says at which hole an act happened: a known hole, or a place where one is found or made.
type HoleRef struct {
	ID    uuid.UUID     // a hole on record
	Place *advise.Place // else: where
	made  bool          // a hole is made there, however near another lies
}

// reach is how far a fix may lie from a hole of today and still be that hole, when the fix tells no accuracy: two
// phones' fixes of one hole scatter by 3 to 8 m (common practice, no source).
const reach = 6 * quantity.Metre

// findHole gives today's hole within the fix's error, or nil.
func (d *Desk) findHole(p advise.Place, day journal.Day) *lake.Hole {
	limit := math.Min(math.Max(reach.Metres(), p.Accuracy.Metres()), 12)
	var best *lake.Hole
	for _, h := range d.lake.HolesOn(day) {
		if h.Placed && h.Label != "retracted" && h.At.Distance(p.At).Metres() <= limit {
			if best == nil || h.At.Distance(p.At) < best.At.Distance(p.At) {
				best = h
			}
		}
	}
	return best
}

// badFix is the accuracy beyond which a fix makes a placeless hole rather than a wrong one. Common practice, no source.
const badFix = 20 * quantity.Metre

// hole gives the id of the hole an act belongs to and, when it must be made first, the entry that makes it.
// The made hole's id is drawn from the act's, so that a repeated act makes no second hole.
func (d *Desk) hole(ref HoleRef, a Act, depth quantity.Length) (uuid.UUID, []item, error) {
	if ref.ID != uuid.Nil {
		if d.lake.Hole(ref.ID) == nil {
			return uuid.Nil, nil, fault.New(fault.NotFound, "Name a hole on record, or say where you stand.", "that hole is not on record")
		}
		return ref.ID, nil, nil
	}
	id := MadeHole(d.lake.ID, a.ID)
	if d.lake.Hole(id) != nil { // a repeat of this act
		return id, nil, nil
	}
	day := journal.DayOf(a.At, d.lake.Zone)
	h := &journal.Hole{Number: d.lake.NextNumber(d.id.Account, day)}
	if depth > 0 {
		h.Depth, h.DepthBy = journal.MM(depth), "sonar"
	}
	if p := ref.Place; p != nil && p.Known && p.Accuracy <= badFix {
		if found := d.findHole(*p, day); found != nil && !ref.made {
			return found.ID, nil, nil
		}
		if s := d.surface(); s != nil && !s.OnWater(p.At) {
			return uuid.Nil, nil, fault.New(fault.BadInput, "Check the fix or the lake's outline.", "that place is on land by the lake's outline")
		}
		h.At = journal.PointOf(d.lake.Frame.Position(p.At))
		if p.Accuracy > 0 {
			h.Accuracy = journal.MM(p.Accuracy)
		}
		if !p.Fixed.IsZero() {
			age := max(a.At.Sub(p.Fixed).Milliseconds(), 0)
			h.FixAge = &age
		}
	}
	return id, []item{{id, a.At, h}}, nil
}

// MadeHole gives the id of the hole that an act makes.
func MadeHole(lakeID, act uuid.UUID) uuid.UUID {
	return journal.ContentID(lakeID, journal.KindHole, act.String())
}

// LookAct is one look.
type LookAct struct {
	Act
	Hole    HoleRef
	Marks   lake.Marks
	Count   *int
	Seconds int // 0: 30
	Depth   quantity.Length
	Height  quantity.Length
	Sit     uuid.UUID // seen while sitting
}

// Look records a look, making the hole when none lies within the fix's error. It answers with the hole.
func (d *Desk) Look(ctx context.Context, x LookAct) (hole uuid.UUID, err error) {
	d.follow(&x)
	err = d.record(ctx, x.Act, func(a Act) error {
		var items []item
		hole, items, err = d.hole(d.besideOpen(x.Hole, a), a, x.Depth)
		if err != nil {
			return err
		}
		if x.Seconds == 0 {
			x.Seconds = 30
		}
		l := &journal.Look{Hole: hole, Seconds: int64(x.Seconds), Marks: x.Marks.String(), Sit: x.Sit}
		if x.Count != nil {
			n := int64(*x.Count)
			l.Count = &n
		}
		if x.Height > 0 {
			l.Height = journal.MM(x.Height)
		}
		return d.write(ctx, append(items, item{a.ID, a.At, l})...)
	})
	return hole, err
}

// follow lets the demo's simulated scout walk to where the advice shown sends him before he looks.
func (d *Desk) follow(x *LookAct) {
	if d.opt.Follow == nil || x.Hole.ID != uuid.Nil || x.Sit != uuid.Nil {
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	repeat := d.log.Find(x.ID) != nil
	if !repeat && d.step.ok && (d.step.step.Do == advise.Drill || d.step.step.Do == advise.Look) {
		d.opt.Follow(d.step.step)
		p := d.here(d.Clock())
		x.Hole.Place, x.At = &p, time.Time{}
	}
}

// IceAct is one ice reading.
type IceAct struct {
	Act
	Hole    HoleRef
	Reading journal.Ice // its Hole is filled in
}

// ReadIce records an ice reading, making the hole when needed.
func (d *Desk) ReadIce(ctx context.Context, x IceAct) (hole uuid.UUID, err error) {
	err = d.record(ctx, x.Act, func(a Act) error {
		var items []item
		hole, items, err = d.hole(x.Hole, a, 0)
		if err != nil {
			return err
		}
		x.Reading.Hole, x.Reading.At = hole, nil
		return d.write(ctx, append(items, item{a.ID, a.At, &x.Reading})...)
	})
	return hole, err
}

// Sit starts a spell of fishing of one rod; a sit of that rod that still lasts is ended first.
func (d *Desk) Sit(ctx context.Context, a Act, ref HoleRef, rod int, guest uuid.UUID, target string) error {
	return d.record(ctx, a, func(a Act) error {
		return d.bring(ctx, a, ref, []int{rod}, guest, target)
	})
}

// Up ends a sit.
func (d *Desk) Up(ctx context.Context, a Act, sit uuid.UUID, why string) error {
	return d.record(ctx, a, func(a Act) error {
		if f := d.log.Find(sit); f == nil || f.Entry.Kind != journal.KindSitStart {
			return fault.New(fault.NotFound, "", "that sit is not on record")
		}
		return d.write(ctx, item{a.ID, a.At, &journal.SitEnd{Sit: sit, Why: why}})
	})
}

// FishAct is one landed fish.
type FishAct struct {
	Act
	Hole    uuid.UUID // zero: the hole of the rod's sit, or not known
	Rod     int
	Guest   uuid.UUID
	Species string // "": perch
	Length  quantity.Length
	Size    string
	Kept    bool
	Count   int // 0: 1

	Hooked, Landed uuid.UUID // where not the guest
	Fate, Down     string    // of a fish put back, as the journal has them
	Deep, Bleeding bool
}

// Fish records a landed fish. A record is never refused for the law's sake, only flagged.
func (d *Desk) Fish(ctx context.Context, x FishAct) error {
	return d.record(ctx, x.Act, func(a Act) error {
		b := &journal.Fish{Hole: x.Hole, Rod: int64(x.Rod), Guest: x.Guest, Species: x.Species, Size: x.Size, Kept: x.Kept, Count: int64(max(x.Count, 1))}
		if b.Species == "" {
			b.Species = "perch"
		}
		if x.Length > 0 {
			b.Length = journal.MM(x.Length)
		}
		for _, s := range d.party.RodsAt(a.At) {
			if b.Hole == uuid.Nil && (x.Rod == 0 || s.Rod == x.Rod) {
				b.Hole, b.Sit = s.Hole, s.ID
			}
		}
		b.Hooked, b.Landed, b.Fate, b.Down, b.Deep, b.Bleeding = x.Hooked, x.Landed, x.Fate, x.Down, x.Deep, x.Bleeding
		d.weighed(a, b)
		return d.write(ctx, item{a.ID, a.At, b})
	})
}

// NameFish gives a fish to a guest, and weighs it anew. The change leaves a trace.
func (d *Desk) NameFish(ctx context.Context, a Act, fish, guest uuid.UUID, why string) error {
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(a.ID) != nil { // a repeat of this act
			return nil
		}
		set := map[string]any{"guest": guest}
		if f := d.ledger.Find(fish); f != nil && f.Kept {
			set["flag"] = d.flagFor(f, guest)
		}
		return d.amend(ctx, a, fish, set, why)
	})
}

// Amend corrects fields of an entry.
func (d *Desk) Amend(ctx context.Context, a Act, target uuid.UUID, set map[string]json.RawMessage, why string) error {
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(target) == nil {
			return fault.New(fault.NotFound, "", "the entry to correct is not on record")
		}
		return d.write(ctx, item{a.ID, a.At, &journal.Amend{Target: target, Set: set, Why: why, After: d.log.LastAmendment(target)}})
	})
}

// Retract takes an entry out of all views.
func (d *Desk) Retract(ctx context.Context, a Act, target uuid.UUID, why string) error {
	return d.record(ctx, a, func(a Act) error {
		if d.log.Find(target) == nil {
			return fault.New(fault.NotFound, "", "the entry to retract is not on record")
		}
		return d.write(ctx, item{a.ID, a.At, &journal.Retract{Target: target, Why: why}})
	})
}

// uses counts the facts that speak of a hole, besides those excepted.
func (d *Desk) uses(hole uuid.UUID, except []uuid.UUID) int {
	n := 0
	for _, f := range d.log.Facts() {
		if !f.Counts() || slices.Contains(except, f.Entry.ID) {
			continue
		}
		at, _ := holeOf(f.Body)
		n += one(at == hole)
	}
	return n
}

func one(b bool) int {
	if b {
		return 1
	}
	return 0
}

// Record writes any body as it is: hazards, crowds, weather, claims, head counts, settings, trips and the rest.
func (d *Desk) Record(ctx context.Context, a Act, body journal.Body) error {
	return d.record(ctx, a, func(a Act) error {
		if z, ok := body.(*journal.Hazard); ok {
			if err := d.reachable(z); err != nil {
				return err
			}
		}
		return d.write(ctx, item{a.ID, a.At, body})
	})
}

// hazardOff is how far from the water a corner of a hazard may lie: some begin on the bank, and outlines are rough; ours.
const hazardOff = 1 * quantity.Kilometre

// reachable refuses a hazard that lies elsewhere than on the lake, as a slip of a digit or of a sign puts it. The caller holds mu.
func (d *Desk) reachable(z *journal.Hazard) error {
	s := d.surface()
	for i, p := range z.Points {
		at, off := d.lake.Frame.Local(p.Position()), quantity.Length(0)
		if s != nil && !s.OnWater(at) {
			off = s.ShoreDistance(at)
		}
		if far := at.Distance(geo.Local{}); far > farOff {
			off = far
		}
		if off > hazardOff && p.Position().Valid() {
			corner := "the hazard's place"
			if len(z.Points) > 1 {
				corner = fmt.Sprintf("corner %d of the hazard", i+1)
			}
			return fault.New(fault.BadInput, "Correct latitude and longitude; west and south are minus. Nothing was written.",
				"%s, %s, lies %s from the lake", corner, p.Position().DecimalText(), quantity.SI.DistanceText(off))
		}
	}
	return nil
}

// Plan records something of a day to come, such as its trip: its time may lie ahead.
func (d *Desk) Plan(ctx context.Context, a Act, body journal.Body) error {
	return d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		if a.ID == uuid.Nil {
			a.ID = journal.NewID()
		}
		return d.write(ctx, item{a.ID, a.At, body})
	})
}

// AddGuest records a person; the name is kept as an erasable text.
func (d *Desk) AddGuest(ctx context.Context, a Act, name string, g journal.Guest) error {
	if name == "" {
		return fault.New(fault.BadInput, "Give the guest a name.", "a guest without a name")
	}
	return d.record(ctx, a, func(a Act) error {
		t, err := d.store.PutText(ctx, name)
		if err != nil {
			return fault.Wrap(err, fault.NotSaved, "Try again.", "the name was not saved")
		}
		g.Name = t
		return d.write(ctx, item{a.ID, a.At, &g})
	})
}
