package way

import (
	"math"
	"time"

	"icehand/internal/base/geo"
)

// PlannerOptions sets up a planner.
type PlannerOptions struct {
	// Known, when not nil, is the true density of schools by m2, which the planner then need not learn.
	Known func(geo.Local) float64
	// Memory keeps what was learned about the ground from day to day. It then learns from confirmed marks only.
	Memory bool
}

// beliefs is what a planner holds of this time of the winter before it has seen this lake: the middle of what lakes of
// all kinds are like, not of the kind that it fishes.
type beliefs struct {
	perM2   float64 // schools
	radiusM float64
	fish    float64
	depthM  float64 // m, where they mostly stand
	spreadM float64
	speedMS float64
}

func believed(b *Briefing) beliefs {
	at := func(v [3]float64) float64 {
		s := math.Max(0, math.Min(2, b.Season))
		if s <= 1 {
			return v[0] + (v[1]-v[0])*s
		}
		return v[1] + (v[2]-v[1])*(s-1)
	}
	return beliefs{
		perM2: at([3]float64{180e-6, 150e-6, 115e-6}), radiusM: at([3]float64{9, 10, 11.5}), fish: at([3]float64{80, 120, 190}),
		depthM: float64(b.Low+b.High) / 2, spreadM: 3, speedMS: 0.04,
	}
}

// Constants of the planner; those of its first description unless said otherwise.
const (
	detect     = 0.93
	coneShare  = 0.6
	coneTan    = 0.176 // of a half angle of 10 degrees
	lookTime   = 30 * time.Second
	leastStay  = 2 * time.Minute
	siteRodSit = 0.9
	findWorth  = 3.5  // fish of a school just found, before it is left
	findTime   = 18.0 // minutes that it takes
	optimism   = 3.0  // at the start of the day, falling to 1
	gainNeeded = 1.1
	gainLeast  = 0.004 // fish a minute
)

// Planner keeps a belief about the ground, about the water just looked into and about the schools seen, and sends
// everybody where the expected catch by minute is best, walking included. It has no party mode: joining, leaving and
// hopping between open holes follow from one comparison of each guest's.
func Planner(o PlannerOptions) Way { return &planner{opt: o} }

type planner struct {
	opt    PlannerOptions
	b      Briefing
	bel    beliefs
	field  *field
	mask   *mask
	tracks []*track
	future *future
	wait   []waiting // marks that wait for confirmation, with a memory only
	now    time.Duration
	last   time.Duration         // to which tracks are brought
	marked map[int]time.Duration // last marks by hole
	here   []*track              // school under each guest, nil none
	lastOn []time.Duration       // last marks or fish of each guest over his school
	stands []stand               // of each guest
	begun  map[int]time.Duration // last report, by hole and guest
	days   int
	cells  []cell // of the scouting lattice
}

// cell is a place of the lattice on which the scout plans.
type cell struct {
	at    geo.Local
	row   row
	base  float64 // schools by m2 by season and depth, or the known density
	depth float64
}

// stand is the exposure of a rod at its hole that the field has not heard of.
type stand struct {
	hole     int
	row      row
	exposure float64
	n        int
}

// waiting is a mark not yet confirmed.
type waiting struct {
	row      row
	at       geo.Local
	when     time.Duration
	exposure float64
	share    float64
}

func (p *planner) Begin(b Briefing) geo.Local {
	p.b, p.bel = b, believed(&b)
	w, h := float64(b.Width), float64(b.Height)
	switch {
	case p.field == nil && p.opt.Memory:
		p.field = newField(kernel{level: 0.8, ground: 0.9, lengths: [2]float64{100, 300}, depth: 0.7}, w, h)
	case p.field == nil:
		p.field = newField(kernel{level: 0.5, ground: 1.3, lengths: [2]float64{200, 200}, depth: 0.5}, w, h)
	case !p.opt.Memory:
		p.field.reset()
	}
	p.mask = newMask(w, h)
	p.tracks, p.wait = nil, nil
	p.begun = map[int]time.Duration{}
	p.stands = make([]stand, b.Rods)
	p.now, p.last = 0, 0
	p.marked = map[int]time.Duration{}
	p.here, p.lastOn = make([]*track, b.Rods), make([]time.Duration, b.Rods)
	p.future = newFuture()
	p.setCells()
	return b.Start
}

// setCells lays the lattice of 50 m.
func (p *planner) setCells() {
	const step = 50.0
	p.cells = p.cells[:0]
	for y := step / 2; y < float64(p.b.Height); y += step {
		for x := step / 2; x < float64(p.b.Width); x += step {
			at := geo.Local{E: x, N: y}
			z := float64(p.b.Chart(at))
			p.cells = append(p.cells, cell{at: at, row: p.field.row(at, z), base: p.expected(at, z), depth: z})
		}
	}
}

// expected is the density of schools by season and depth, or the known one.
func (p *planner) expected(at geo.Local, depth float64) float64 {
	crowd := 1.0
	if p.b.Crowded(at, 40) {
		crowd = 0.4
	}
	if p.opt.Known != nil {
		return crowd * p.opt.Known(at)
	}
	off := (depth - p.bel.depthM) / p.bel.spreadM
	return crowd * p.bel.perM2 * math.Exp(-off*off/2) * 1.2
}

// density gives the density of unseen schools by m2, with so much optimism; 1 is the plain mean.
func (p *planner) density(r *row, base, eta float64) float64 {
	if p.opt.Known != nil {
		return base
	}
	m, v := p.field.read(r)
	// (REHEARSE-8) ln lambda = ln lambda0 + m + eta v/2
	return base * math.Exp(m+eta*v/2)
}

// eta is today's optimism: high at the start, the plain mean at the end; with a memory it also fades over the first weeks.
func (p *planner) eta() float64 {
	gone := float64(p.now) / float64(p.b.Length)
	if p.opt.Memory {
		return 2 + 1.5*math.Max(0, 1-float64(p.days)/20)
	}
	return optimism - (optimism-1)*gone
}

// reach is the distance from a hole to a school's middle within which a look shows it.
func (p *planner) reach(depth float64) float64 { return p.bel.radiusM + coneShare*coneTan*depth }

// swept is the area from whose schools a look of some seconds is met.
func (p *planner) swept(reach, seconds float64) float64 {
	return detect * (math.Pi*reach*reach + 2*reach*p.bel.speedMS*seconds)
}

func (p *planner) End() {
	p.days++
	if p.opt.Memory {
		p.settleWaiting(true)
		p.field.age(0.9, 0.98, 0.999)
	}
}

// pass brings everything to a time.
func (p *planner) pass(now time.Duration) {
	p.now = max(p.now, now)
	p.mask.advance(int(p.now / time.Minute))
	for ; p.last+trackStep <= p.now; p.last += trackStep {
		kept := p.tracks[:0]
		for _, t := range p.tracks {
			t.step(p.future, p.last)
			if t.alive(p.now) {
				kept = append(kept, t)
			}
		}
		p.tracks = kept
	}
	p.settleWaiting(false)
}

func (p *planner) Looked(l Look) {
	p.pass(l.From + l.Length)
	depth := float64(p.b.Chart(l.At))
	r := p.reach(depth)
	first := l.By == Scout || p.firstHalfMinute(l)
	if l.Count > 0 {
		p.marked[l.Hole] = p.now
	}
	if l.By != Scout {
		p.over(l, r)
	}
	row := p.field.row(l.At, depth)
	base := p.expected(l.At, depth)
	left := p.mask.at(l.At)
	switch {
	case l.Count > 0 && (l.By == Scout || p.here[l.By] == nil):
		p.found(l, row, base, r, left)
	case l.Count == 0 && first:
		if !p.opt.Memory || !p.nearKnown(l.At) {
			p.learn(row, base*p.swept(r, l.Length.Seconds())*left*p.worth(), 0)
		}
		p.missed(l.At, r)
		p.mask.cast(l.At, r, detect)
	case l.Count == 0:
		p.missed(l.At, r)
		if !p.opt.Memory || !p.nearKnown(l.At) {
			// a standing rod meets what swims in
			p.stood(l.By, l.Hole, row, base*siteRodSit*2*r*p.bel.speedMS*l.Length.Seconds()*left*p.worth())
		}
	}
}

// worth is the factor on exposures that the memory's calibration found.
func (p *planner) worth() float64 {
	if p.opt.Memory {
		return 0.8
	}
	return 1
}

// stood books the exposure of a standing rod, in lumps of two minutes: one by one they teach hardly more and cost fourfold.
func (p *planner) stood(rod, hole int, r row, exposure float64) {
	const lump = 4 // half minutes
	s := &p.stands[rod]
	if s.hole != hole {
		if s.n > 0 {
			p.learn(s.row, s.exposure, 0)
		}
		*s = stand{hole: hole, row: r}
	}
	s.exposure += exposure
	if s.n++; s.n == lump {
		p.learn(s.row, s.exposure, 0)
		*s = stand{hole: hole, row: r}
	}
}

func (p *planner) learn(r row, exposure, y float64) {
	if p.opt.Known != nil {
		return
	}
	shape := 0.0
	if p.opt.Memory {
		shape = 3
	}
	p.field.learn(r, exposure, y, shape)
}

// firstHalfMinute tells whether a guest's report is the first from this hole in a while.
func (p *planner) firstHalfMinute(l Look) bool {
	key := l.Hole*64 + l.By
	last, known := p.begun[key]
	p.begun[key] = l.From + l.Length
	return !known || l.From-last > time.Minute
}

// found takes in marks that no guest's own school explains: a known school, or a new one, each by its chance.
func (p *planner) found(l Look, r row, base, reach, left float64) {
	exposure := base * p.swept(reach, l.Length.Seconds()) * left * p.worth()
	fresh := p.density(&r, base, 1) / math.Max(base, 1e-12) * exposure
	var best *track
	sum, most := 0.0, 0.0
	for _, t := range p.tracks {
		q := t.shows(l.At, reach)
		sum += q
		if q > most {
			best, most = t, q
		}
	}
	share := fresh / (fresh + sum)
	switch {
	case p.opt.Memory && !p.nearKnown(l.At):
		p.wait = append(p.wait, waiting{r, l.At, p.now, exposure, share})
	case !p.opt.Memory:
		p.learn(r, exposure, share)
	}
	if best == nil || most <= fresh {
		best = p.fresh(l.At, share)
	}
	best.seen(l.At, p.now, 16)
	best.moved(l.Moving)
	if l.By != Scout {
		p.join(l.By, best)
	}
}

// fresh begins a track. One near an older one inherits part of what was believed of that.
func (p *planner) fresh(at geo.Local, share float64) *track {
	t := newTrack(at, p.now)
	for _, o := range p.tracks {
		if float64(o.at.Distance(at)) < 2*math.Sqrt(o.v)+2*p.bel.radiusM {
			a := o.exists * math.Exp(-(p.now-o.mark).Minutes()/40) * (1 - share)
			t.mix(o, a)
		}
	}
	p.tracks = append(p.tracks, t)
	return t
}

// missed takes in that nothing was under a hole.
func (p *planner) missed(at geo.Local, reach float64) {
	for _, t := range p.tracks {
		if t.rods > 0 {
			continue
		}
		q := t.shows(at, reach)
		t.exists = (t.exists - q) / math.Max(1e-9, 1-q)
	}
}

// nearKnown tells whether a live school is so near that what is seen here says nothing of the ground.
func (p *planner) nearKnown(at geo.Local) bool {
	for _, t := range p.tracks {
		d := float64(t.at.Distance(at))
		if t.confirmed && (d < 20+math.Sqrt(t.v) || t.rods > 0 && d < 40) {
			return true
		}
	}
	return false
}

// settleWaiting lets the field learn from marks that were confirmed, or have waited twelve minutes in vain.
func (p *planner) settleWaiting(all bool) {
	kept := p.wait[:0]
	for _, w := range p.wait {
		confirmed := false
		for _, t := range p.tracks {
			confirmed = confirmed || t.confirmed && t.mark > w.when && float64(t.at.Distance(w.at)) < 12+math.Sqrt(t.v)
		}
		switch {
		case confirmed:
			p.learn(w.row, w.exposure, w.share)
		case all || p.now-w.when > 12*time.Minute:
			p.learn(w.row, w.exposure, 0)
		default:
			kept = append(kept, w)
		}
	}
	p.wait = kept
}

// over keeps the guest's own school up to date with a half minute of his sit.
func (p *planner) over(l Look, reach float64) {
	t := p.here[l.By]
	if t == nil {
		return
	}
	if l.Count > 0 {
		p.lastOn[l.By] = p.now
		t.seen(l.At, p.now, 16)
		t.moved(l.Moving)
		t.bites(l.Length.Minutes(), 0)
	} else if p.now-p.lastOn[l.By] > 5*time.Minute {
		p.leave(l.By, 150)
	}
}

// join makes a school the guest's own.
func (p *planner) join(rod int, t *track) {
	if p.here[rod] == t {
		return
	}
	p.leave(rod, 40)
	p.here[rod], p.lastOn[rod] = t, p.now
	t.rods++
}

// leave parts a guest from his school; v is the least variance of its place from then on.
func (p *planner) leave(rod int, v float64) {
	t := p.here[rod]
	if t == nil {
		return
	}
	t.rods--
	t.v = math.Max(t.v, v)
	p.here[rod] = nil
}

func (p *planner) Caught(c Catch) {
	p.pass(c.When)
	t := p.here[c.Rod]
	if t == nil {
		for _, o := range p.tracks {
			if float64(o.at.Distance(c.At)) < p.bel.radiusM+math.Sqrt(o.v) {
				t = o
			}
		}
		if t == nil {
			t = p.fresh(c.At, 1)
		}
		p.join(c.Rod, t)
	}
	t.seen(c.At, p.now, 16)
	t.confirmed = true
	p.lastOn[c.Rod] = p.now
	p.marked[c.Hole] = p.now
	if c.Landed {
		t.bites(0, 1)
		t.caught(c.Good, p.now)
	}
}
