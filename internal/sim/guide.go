package sim

import (
	"math"
	"math/rand/v2"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// Outing is one day of guiding to be lived through.
type Outing struct {
	Day     journal.Day
	People  []Person  // the guide first; guests have rods
	Start   geo.Local // the first hole
	Heading quantity.Bearing
	First   time.Time // of the first hole
	LinesUp time.Time
	Travel  string
}

// Tally is what came of an outing.
type Tally struct {
	Holes, Looks, WithMarks, ThreeUp int // ThreeUp: holes that gave three perch or more
	Kept, PutBack                    int
	RodHours                         float64
	Best                             geo.Local // the hole that gave most
	BestFish                         int
}

// How the guide works: common practice, no source.
const (
	lineM      = 45.0 // m between the holes of a line
	spiralM    = 17.0 // m; hole k of a spiral lies at this times the root of k
	spiralTurn = 2.4  // radians from one hole of a spiral to the next
	firstSet   = 8
	spiralMost = 8
	blankMost  = 12   // blank looks in a row before a long move
	doubt      = 0.7  // how far the guide's opinion of ground is off, standard deviation of its logarithm
	walkMS     = 0.95 // m/s with a sled
	farthestM  = 3900.0
	bankM      = 450.0 // m that the guide keeps from shore
	ridgeM     = 250.0
	blankSit   = 5 * time.Minute
	markedSit  = 15 * time.Minute
	called     = 4 * time.Minute // quiet after which a guest follows a call to a hole with fresh marks
	limit      = 20              // perch a person
)

// outing is the state of a day in the making.
type outing struct {
	Outing
	*Diary
	world *World
	rng   *rand.Rand
	tally Tally
	crowd journal.Crowd

	guideAt   geo.Local
	busyUntil time.Time
	next      geo.Local
	heading   quantity.Bearing // of the line
	centre    geo.Local
	ring      int // hole of the spiral, 0: on the line
	blanks    int // looks without marks in a row
	holes     []*hole
	rods      []*angler
}

// hole is a spot with what the day has shown of it.
type hole struct {
	*spot
	lastSign time.Time // marks, bite or fish
	rods     int
	fished   bool // somebody has sat here
	fish     int
}

// angler is a guest with a rod.
type angler struct {
	Person
	hole   *hole // where the rod fishes
	to     *hole // where the guest walks to
	sit    uuid.UUID
	since  time.Time
	arrive time.Time
	kept   int
}

// GuideDay lives through an outing by line and spiral and notes it in the diary: a line of holes until one shows marks, then a spiral
// round the hit; a rod leaves a blank hole after 5 min and a marked one 15 min after the last sign of fish.
func (w *World) GuideDay(b *Diary, o Outing) Tally {
	d := &outing{Outing: o, Diary: b, world: w, rng: num.NewStream(b.seed, "outing", b.name, string(o.Day)), guideAt: o.Start, next: o.Start, heading: o.Heading}
	d.begin()
	for t := o.First; t.Before(o.LinesUp); t = t.Add(time.Minute) {
		w.Advance(t)
		d.scout(t)
		for _, a := range d.rods {
			d.fishOn(a, t)
		}
		if hour := t.In(zone); hour.Hour() == 12 && hour.Minute() == 0 {
			d.headCount(t, d.People)
		}
	}
	d.end()
	return d.tally
}

// begin takes the party out, with three test holes on the way.
func (d *outing) begin() {
	l := d.lake
	d.setOut(d.First.Add(-35*time.Minute), d.People, journal.Trip{Rods: int64(len(d.People) - 1), Target: "perch", Aim: "numbers", Travel: d.Travel,
		Landing: journal.PointOf(l.Position(l.Landing)), Metres: journal.MM(30 * quantity.Metre)})
	for i, p := range []geo.Local{between(l.Landing, l.C2, 0.5), between(l.C2, l.Landing, 0.06), between(l.C2, d.Start, 0.05)} {
		t := d.First.Add(time.Duration(-20+3*i) * time.Minute)
		d.readIce(t.Add(30*time.Second), d.drill(t, p, noted{}))
	}
	for _, p := range d.People[1:] {
		d.rods = append(d.rods, &angler{Person: p, arrive: d.First.Add(6 * time.Minute)})
	}
	others := d.Start.Add(geo.Local{E: 900 * (d.rng.Float64() - 0.5), N: 500 + 500*d.rng.Float64()})
	d.crowd = journal.Crowd{At: *journal.PointOf(l.Position(others)), Radius: 50_000, Shelters: 1 + int64(5*d.rng.Float64())}
	d.write(d.First.Add(5*time.Minute), &d.crowd)
}

// end takes the lines up and the party home.
func (d *outing) end() {
	for _, a := range d.rods {
		d.leave(a, d.LinesUp, "done")
	}
	d.crowd.Gone = true
	d.write(d.LinesUp.Add(time.Minute), &d.crowd)
	for _, h := range d.holes {
		if h.fish >= 3 {
			d.tally.ThreeUp++
		}
		if h.fish > d.tally.BestFish {
			d.tally.BestFish, d.tally.Best = h.fish, h.at
		}
	}
	d.comeIn(d.LinesUp.Add(80*time.Minute), d.People)
}

// between gives the place at a share of the way.
func between(a, b geo.Local, share float64) geo.Local {
	return geo.Local{E: mix(a.E, b.E, share), N: mix(a.N, b.N, share)}
}

// scout lets the guide drill the next hole when the way there and the guests' wants leave time for it.
func (d *outing) scout(t time.Time) {
	if t.Before(d.busyUntil) || d.LinesUp.Sub(t) < 20*time.Minute {
		return
	}
	n := noted{noDepth: d.rng.Float64() < 0.05}
	switch slip := d.rng.Float64(); {
	case slip < 0.01:
		n.noFix = true
	case slip < 0.02:
		n.off = 25 * quantity.Metre
	case slip < 0.04 && len(d.holes) > 0:
		n.paced = d.holes[len(d.holes)-1].spot
	}
	h := &hole{spot: d.drill(t, d.next, n)}
	d.holes = append(d.holes, h)
	d.guideAt = h.at
	if len(d.holes)%4 == 1 {
		d.readIce(t.Add(20*time.Second), h.spot)
	}
	seconds := []float64{30, 30, 45, 60}[d.rng.IntN(4)]
	count := d.world.Marks(h.at, t, seconds)
	d.look(t.Add(40*time.Second), h.spot, int64(seconds), count)
	d.tally.Holes++
	d.tally.Looks++
	if count > 0 {
		d.tally.WithMarks++
		h.lastSign = t
	}
	d.aim(h, count > 0)
	iceM := d.lake.Ice(h.at, t).Metres()
	wants := 300 * d.rng.ExpFloat64() // s that the guests take
	if len(d.holes) < firstSet {
		wants /= 4 // they are still getting ready
	}
	work := h.at.Distance(d.next).Metres()/walkMS + 20 + 55*iceM + seconds + wants
	d.busyUntil = t.Add(time.Duration(work) * time.Second)
}

// aim chooses the place of the next hole.
func (d *outing) aim(h *hole, hit bool) {
	if hit && (d.ring == 0 || d.centre.Distance(h.at) > 25*quantity.Metre) {
		d.centre, d.ring = h.at, 0
	}
	d.blanks++
	if hit {
		d.blanks = 0
	}
	if d.blanks >= blankMost {
		d.blanks, d.ring = 0, 0
		d.next = d.far(h.at)
		return
	}
	if d.ring == 0 && !hit {
		d.next = d.alongLine(h.at)
		return
	}
	d.ring++
	if d.ring > spiralMost {
		d.ring = 0
		d.next = d.alongLine(d.centre)
		return
	}
	angle := spiralTurn*float64(d.ring) + d.heading.Degrees()*math.Pi/180
	s, c := math.Sincos(angle)
	r := spiralM * math.Sqrt(float64(d.ring))
	d.next = d.centre.Add(geo.Local{E: r * s, N: r * c})
	if !d.open(d.next) {
		d.next = d.alongLine(h.at)
	}
}

// alongLine gives the next place of the line, turning where it would leave the ground that the guide uses.
func (d *outing) alongLine(from geo.Local) geo.Local {
	for range 40 {
		p := from.Toward(quantity.NewBearing(d.heading.Degrees()+8*d.rng.NormFloat64()), quantity.Length(lineM))
		if d.open(p) {
			return p
		}
		d.heading = quantity.NewBearing(d.heading.Degrees() + 60 + 90*d.rng.Float64())
	}
	return d.Start
}

// far gives a place of a long move: the ground the guide thinks most of among a few within half an hour's walk.
func (d *outing) far(from geo.Local) geo.Local {
	best, bestWorth := d.Start, math.Inf(-1)
	for range 8 {
		p := from.Toward(quantity.NewBearing(360*d.rng.Float64()), quantity.Length(400+600*d.rng.Float64()))
		if opinion := d.world.worth(p) + doubt*d.rng.NormFloat64(); opinion > bestWorth && d.open(p) {
			best, bestWorth = p, opinion
		}
	}
	return best
}

// workable tells whether the outfit fishes a place on foot: deep enough, away from shore and ridge, not too far out.
func (l *Lake) workable(p geo.Local) bool {
	if !l.Water(p) || p.Distance(l.Landing).Metres() > farthestM || l.Outline.ShoreDistance(p) < bankM || l.Depth(p) < 9*quantity.Metre {
		return false
	}
	for i := 1; i < len(l.Ridge); i++ {
		if geo.SegmentDistance(p, l.Ridge[i-1], l.Ridge[i]) < ridgeM {
			return false
		}
	}
	return true
}

// open tells whether the guide would drill at a place: workable, and not where a hole is already.
func (d *outing) open(p geo.Local) bool {
	if !d.lake.workable(p) {
		return false
	}
	for i := max(0, len(d.holes)-40); i < len(d.holes); i++ {
		if p.Distance(d.holes[i].at) < 8*quantity.Metre {
			return false
		}
	}
	return true
}

// fishOn lets a guest fish for a minute, or walk, or move.
func (d *outing) fishOn(a *angler, t time.Time) {
	switch {
	case t.Before(a.arrive) || a.kept >= limit:
		return
	case a.hole == nil:
		d.settle(a, t)
		return
	}
	d.tally.RodHours += 1.0 / 60
	for _, bite := range d.world.Bites(a.hole.at, t, 60) {
		at := t.Add(time.Duration(5+50*d.rng.Float64()) * time.Second)
		a.hole.lastSign = t
		if !bite.Landed {
			d.write(at, &journal.Bite{Hole: a.hole.id, Rod: int64(a.Rod), Sit: a.sit})
			continue
		}
		d.land(a, at, bite.Length)
	}
	if a.kept >= limit {
		d.leave(a, t.Add(time.Minute), "done")
		return
	}
	quiet := t.Sub(a.since)
	if !a.hole.lastSign.IsZero() {
		quiet = min(quiet, t.Sub(a.hole.lastSign))
	}
	switch marked := !a.hole.lastSign.IsZero(); {
	case quiet >= called && d.fresh(a, t) != nil:
		d.moveOn(a, t)
	case !marked && quiet >= blankSit, marked && quiet >= markedSit:
		d.moveOn(a, t)
	}
}

// land notes a fish. Half of them are measured, the rest classed; a few are noted without a name.
func (d *outing) land(a *angler, at time.Time, length quantity.Length) {
	length = quantity.Length(num.Quantise(length.Metres(), 0.001))
	body := &journal.Fish{Hole: a.hole.id, Rod: int64(a.Rod), Guest: a.ID, Sit: a.sit, Species: "perch", Size: sizeOf(length), Count: 1,
		Kept: (length >= 20*quantity.Centimetre || d.rng.Float64() < 0.12) && a.kept < limit}
	if d.rng.Float64() < 0.5 {
		body.Length = journal.MM(length)
	}
	if d.rng.Float64() < 0.05 {
		body.Guest = uuid.Nil
	}
	d.write(at, body)
	a.hole.fish++
	if body.Kept {
		a.kept++
		d.tally.Kept++
	} else {
		d.tally.PutBack++
	}
}

// settle starts a sit at the hole that the guest has walked to, or sends the guest to a first one.
func (d *outing) settle(a *angler, t time.Time) {
	if a.to == nil {
		if h := d.choose(a, t); h != nil {
			d.send(a, h, d.guideAt, t)
		}
		return
	}
	a.hole, a.to, a.since = a.to, nil, t
	a.sit = d.write(t, &journal.SitStart{Hole: a.hole.id, Rod: int64(a.Rod), Guest: a.ID, Target: "perch"})
}

// moveOn ends a sit when another hole is worth the walk.
func (d *outing) moveOn(a *angler, t time.Time) {
	if h := d.choose(a, t); h != nil {
		from := a.hole.at
		d.leave(a, t, "moved")
		d.send(a, h, from, t)
	}
}

// send lets a guest walk to a hole, which is then spoken for.
func (d *outing) send(a *angler, h *hole, from geo.Local, t time.Time) {
	a.to = h
	h.rods++
	h.fished = true
	a.arrive = t.Add(time.Duration(60+from.Distance(h.at).Metres()/walkMS) * time.Second)
}

// leave ends a sit.
func (d *outing) leave(a *angler, t time.Time, why string) {
	if a.hole == nil {
		return
	}
	d.write(t, &journal.SitEnd{Sit: a.sit, Why: why})
	a.hole.rods--
	a.hole = nil
}

// fresh gives the nearest hole with signs of fish in the last ten minutes and room for a rod, or nil.
func (d *outing) fresh(a *angler, t time.Time) *hole {
	from := d.guideAt
	if a.hole != nil {
		from = a.hole.at
	}
	var best *hole
	bestM := 400.0
	for _, h := range d.holes {
		if h == a.hole || h.rods >= 2 || h.lastSign.IsZero() || t.Sub(h.lastSign) > 10*time.Minute {
			continue
		}
		if m := from.Distance(h.at).Metres(); m < bestM {
			best, bestM = h, m
		}
	}
	return best
}

// choose gives the hole a guest would go to: the nearest with fresh signs and room, else the latest that
// nobody has sat at, or nil: stay.
func (d *outing) choose(a *angler, t time.Time) *hole {
	if h := d.fresh(a, t); h != nil || len(d.holes) == 0 {
		return h
	}
	for i := len(d.holes) - 1; i >= max(0, len(d.holes)-8); i-- {
		if h := d.holes[i]; h.rods == 0 && !h.fished {
			return h
		}
	}
	return nil
}
