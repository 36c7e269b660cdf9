package plan

import (
	"math"
	"slices"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/engine/priors"
	"icehand/internal/stats/intensity"
	"icehand/internal/stats/score"
	"icehand/internal/stats/track"
	"icehand/internal/trade/lake"
)

// Filter is the belief about schools on one lake. Feed it events in order of time; an event older than the newest is
// taken as happening now. It is not safe for concurrent use; [Filter.Clone] gives a copy.
type Filter struct {
	ground   *ground.Surface // nil: depth nowhere known
	season   priors.Season
	par      Params
	sketches []Sketch

	belief                   // as it is today
	lasting belief           // what the night will keep: confirmed marks only, and nothing beside a known school
	bites   *intensity.Level // scale of the assumed bites
	cached  *factors         // learned factors now; nil when something was added since

	shadows  *track.Shadows
	schools  []*school
	berths   []*berth // by rod
	outlook  *track.Outlook
	pending  []pending
	crowds   []Crowd
	catches  []catch           // one a place
	freshly  map[geo.Local]met // chances at holes, kept for a minute or two
	tally    score.Running
	unjudged bool // looks are not scored: of past days nobody asks

	now     time.Time
	settled time.Time // level, day and bands are as of then
}

// school is a school that was seen and may still be about.
type school struct {
	track.Target
	phases    track.Phases
	first     time.Time
	lastAt    geo.Local // of the newest mark or fish
	lastMark  time.Time
	lastFish  time.Time
	taken     float64
	pressure  float64 // fish taken lately
	big       float64 // chance that it is a school of good fish
	confirmed bool
	left      bool // a blank look since where it was last seen: it no longer stays there
}

// catch is what was taken at a place, with the older part faded.
type catch struct {
	At   geo.Local
	When time.Time
	fish float64
}

// pending is a marks-look that waits for confirmation before the lasting belief learns of it.
type pending struct {
	at       geo.Local
	when     time.Time
	marks    lake.Marks
	school   *school
	exposure float64 // by prior expectation
	share    float64 // chance that it was a school not yet known
	depth    depth
	told     bool // today's belief has it already
	mute     bool // beside a school that was known: it says nothing lasting, as no blank there does
}

// depth is what is known of a place's depth and bottom.
type depth struct {
	m, sd float64
	known bool
	form  int // 0 (flat) or one more than the [ground.FeatureKind]
}

const flat = 0 // bottom without a form of its own

// factors are the learned corrections of the expected number of schools.
type factors struct {
	level, day float64
	band       []float64
	form       [1 + ground.Kinds]float64 // of flat bottom 1
}

const deepestBand = 20 // bands; everything deeper shares the last

// NewFilter makes a filter that has seen nothing. The surface may be nil: then depth is known nowhere.
func NewFilter(g *ground.Surface, s priors.Season, p Params, sketches []Sketch) *Filter {
	f := &Filter{
		ground: g, season: s, par: p, sketches: sketches,
		lasting: newBelief(p),
		outlook: track.NewOutlook(s.Phases, p.Bites),
		bites:   intensity.NewLevel(p.BiteShape, 1), shadows: &track.Shadows{Motion: p.Motion},
	}
	f.newDay()
	// the rival of the model is a constant rate that starts where the model starts
	f.tally.Prior = f.plainRate()
	f.tally.Strength = 4
	return f
}

// Clone gives a copy that may go its own way.
func (f *Filter) Clone() *Filter {
	c := *f
	c.belief, c.lasting, c.bites, c.shadows = f.belief.clone(), f.lasting.clone(), f.bites.Clone(), f.shadows.Clone()
	moved := map[*school]*school{}
	c.schools = nil
	for _, s := range f.schools {
		n := *s
		moved[s] = &n
		c.schools = append(c.schools, &n)
	}
	c.berths = nil
	for _, b := range f.berths {
		n := *b
		n.school = moved[b.school]
		c.berths = append(c.berths, &n)
	}
	c.pending = slices.Clone(f.pending)
	for i, p := range c.pending {
		if n := moved[p.school]; n != nil {
			c.pending[i].school = n
		} else if p.school != nil { // forgotten, but its mark still waits
			n := *p.school
			c.pending[i].school = &n
		}
	}
	c.crowds, c.catches = slices.Clone(f.crowds), slices.Clone(f.catches)
	c.cached, c.freshly = nil, nil
	return &c
}

// Today gives a copy for the rest of this day only: it learns nothing lasting, which halves the work, and knows no night.
func (f *Filter) Today() *Filter {
	lasting := f.lasting
	f.lasting = belief{}
	c := f.Clone()
	f.lasting = lasting
	return c
}

// depthAt gives the depth at a place.
func (f *Filter) depthAt(p geo.Local) depth {
	if f.ground == nil {
		return depth{}
	}
	d := f.ground.At(p)
	out := depth{m: float64(d.Mean), sd: float64(d.Spread), known: d.Known}
	if kind, ok := f.ground.FormAt(p); ok {
		out.form = 1 + int(kind)
	}
	return out
}

// plainRate is the chance of marks in a usual look on middling ground before anything was seen.
func (f *Filter) plainRate() float64 {
	d := depth{m: float64(f.season.Depth), sd: float64(f.season.Spread), known: true}
	e := f.season.Density * f.season.DepthPreference(f.season.Depth, f.season.Spread, true) * f.sweep(f.radius(d), f.par.UsualLook) * f.par.Detect
	return -math.Expm1(-e)
}

// radius is the distance in metres from a hole to a school's middle within which a look shows it.
func (f *Filter) radius(d depth) float64 {
	m := float64(f.season.Depth)
	if d.known {
		m = d.m
	}
	// (PLAN-30) R = school radius + share of the cone's radius
	return float64(f.season.SchoolRadius) + f.par.ConeShare*m*math.Tan(f.par.HalfCone.Radians())
}

// sweep is the area in m2 from which schools are met by a look of some length.
func (f *Filter) sweep(radius float64, wait time.Duration) float64 {
	// (PLAN-31) pi R^2 + 2 R v T, the gas-encounter form
	return math.Pi*radius*radius + 2*radius*float64(f.season.Speed)*wait.Seconds()
}

// expected is the number of schools by m2 that is expected at a place before anything was seen there. What crowds and the
// own catch take from it is not counted.
func (f *Filter) expected(p geo.Local, d depth) float64 {
	if f.par.Known != nil {
		return f.par.Known(p)
	}
	// (PLAN-32) lambda0 = density x depth preference x exp(sketch + crowd)
	e := f.season.Density * f.season.DepthPreference(quantity.Length(d.m), quantity.Length(d.sd), d.known)
	pull := 0.0
	for _, s := range f.sketches {
		if s.Area.Contains(p) {
			pull += f.par.SketchPull * float64(s.Weight)
		}
	}
	for _, c := range f.crowds {
		// (PLAN-62) others stand where fish were met: ground about a crowd is held for better
		beyond := float64(c.beyond(p)) / float64(f.par.CrowdReach)
		pull += f.par.CrowdPull * math.Exp(-beyond*beyond/2)
	}
	return e * math.Exp(pull)
}

// passing is the factor of crowds and of the own catch at a place now.
func (f *Filter) passing(p geo.Local) float64 {
	out := 1.0
	for _, c := range f.crowds {
		beyond := float64(c.beyond(p)) / float64(f.par.CrowdEdge)
		// (PLAN-33) a crowd takes its share, less with distance, until it is gone or the day is over
		out *= 1 - f.par.CrowdLoss*math.Exp(-beyond*beyond/2)
	}
	taken := 0.0
	near := float64(f.par.CatchNear)
	for _, c := range f.catches {
		x, y := c.At.E-p.E, c.At.N-p.N
		if d2 := x*x + y*y; d2 < 9*near*near {
			taken += c.fish * math.Exp(-d2/(2*near*near)-f.now.Sub(c.When).Hours()/f.par.CatchFade.Hours())
		}
	}
	// (PLAN-34) own catch
	return out * math.Exp(-f.par.CatchLoss*taken)
}

// learned gives the learned factors now.
func (f *Filter) learned() factors {
	if f.cached != nil {
		return *f.cached
	}
	mean := func(x *intensity.Factor) float64 { return math.Exp(x.Mean + x.Var/2) }
	out := factors{level: mean(f.level), day: mean(f.day)}
	for _, b := range f.bands {
		out.band = append(out.band, mean(b))
	}
	out.form[flat] = 1
	for i, b := range f.forms {
		out.form[1+i] = mean(b)
	}
	f.cached = &out
	return out
}

// at gives the factor of a place's bottom: level and day times those of its form and of its depth's band, between band
// middles by straight lines.
func (x factors) at(d depth, width quantity.Length) float64 {
	// (PLAN-35) level x day x band x form
	out := x.level * x.day * x.form[d.form]
	if !d.known {
		return out
	}
	i, j, w := bandsOf(d.m, width)
	return out * ((1-w)*x.band[i] + w*x.band[j])
}

// newDay starts the factor of the day afresh, and the day from what lasts.
func (f *Filter) newDay() {
	f.lasting.day = intensity.NewFactor(f.par.DaySD)
	f.begin()
}

// begin lets today's belief begin as the lasting one.
func (f *Filter) begin() {
	f.become(&f.lasting)
	f.cached, f.freshly = nil, nil
}

// bandsOf gives the two bands that a depth lies between and the weight of the second.
func bandsOf(m float64, width quantity.Length) (i, j int, w float64) {
	u := math.Max(0, math.Min(m/float64(width)-0.5, deepestBand-1))
	i = int(u)
	return i, min(i+1, deepestBand-1), u - float64(i)
}

// teach lets today's and, save beside a known school, the lasting belief learn that nothing was met.
func (f *Filter) teach(p geo.Local, d depth, exposure float64, o intensity.Observation) {
	f.learn(p, d, exposure, o)
	if f.lasting.field != nil && !f.censored(p) {
		f.lasting.learn(p, d, f.par.BandWidth, exposure, o)
	}
}

// learn lets today's belief learn from an exposure (by prior expectation) and what came of it. Of past days only what lasts is
// wanted.
func (f *Filter) learn(p geo.Local, d depth, exposure float64, o intensity.Observation) {
	if !f.unjudged {
		f.belief.learn(p, d, f.par.BandWidth, exposure, o)
		f.cached = nil
	}
}

// doubt is the chance that unconfirmed marks were no school.
func (f *Filter) doubt(m lake.Marks) float64 {
	if m == lake.Many {
		return f.par.FalseMany
	}
	return f.par.FalseFew
}

// advance lets time pass until t.
func (f *Filter) advance(t time.Time) {
	if !t.After(f.now) {
		return
	}
	dt := t.Sub(f.now)
	first := f.now.IsZero()
	f.now = t
	if first {
		f.settled = t
		return
	}
	kept := f.schools[:0]
	for _, s := range f.schools {
		s.Spread(s.phases.Mean(f.par.Wander), dt)
		s.phases.Step(f.season.Phases, min(dt, f.par.Forget))
		s.pressure *= math.Exp(-dt.Minutes() / f.par.Calm.Minutes())
		if s.Exists >= f.par.LeastExists && t.Sub(s.lastMark) < f.par.Forget {
			kept = append(kept, s)
		}
	}
	f.schools = kept
	for _, b := range f.berths {
		if b.school != nil && !slices.Contains(kept, b.school) {
			b.school = nil
		}
	}
	f.shadows.Forget(t)
	f.settle(false)
	if t.Sub(f.settled) >= f.par.Settle {
		f.settled, f.cached = t, nil
		f.belief.settle()
		if f.lasting.field != nil {
			f.lasting.settle()
		}
	}
}

// settle lets the field learn of marks that were confirmed or have waited long enough.
func (f *Filter) settle(all bool) {
	kept := f.pending[:0]
	for _, p := range f.pending {
		confirmed := p.school != nil && p.school.confirmed
		if !confirmed && !all && f.now.Sub(p.when) < f.par.Pending {
			kept = append(kept, p)
			continue
		}
		o := intensity.Observation{Seen: true, Weight: p.share}
		if !confirmed {
			o.False = f.doubt(p.marks)
		}
		if f.lasting.field != nil && !p.mute {
			f.lasting.learn(p.at, p.depth, f.par.BandWidth, p.exposure, o)
		}
		if !p.told {
			f.learn(p.at, p.depth, p.exposure, o)
		}
	}
	f.pending = kept
}

// Night ends a day: schools, shadows, crowds and catches are forgotten, the field and the levels fade a little.
func (f *Filter) Night() {
	if f.lasting.field == nil {
		panic("plan: a copy for today has no night")
	}
	f.settle(true)
	f.schools, f.berths, f.crowds, f.catches = nil, nil, nil, nil
	f.shadows.Clear()
	f.lasting.age(f.par)
	f.bites.Age(f.par.LevelKeep)
	f.newDay()
	f.tally = score.Running{Prior: f.tally.Prior, Strength: f.tally.Strength}
}

// Turn sets what is believed of the season, and the guide's sketches of it, from today on. Call it between days. What was
// learned of depths fades as the preferred depth moves. A copy for today panics: it has no other day.
func (f *Filter) Turn(s priors.Season, sketches []Sketch) {
	const forgets = 2 // m by which the preferred depth moves until the bands have forgotten all but 1/e
	if f.lasting.field == nil {
		panic("plan: a copy for today has no other day")
	}
	// (PLAN-65) bands keep exp(-|move|/2 m)
	keep := math.Exp(-math.Abs(float64(s.Depth-f.season.Depth)) / forgets)
	f.season, f.sketches = s, sketches
	f.outlook = track.NewOutlook(s.Phases, f.par.Bites)
	for _, b := range f.lasting.bands {
		b.Age(keep)
	}
	f.begin()
	f.tally.Prior = f.plainRate()
}

// Judge says whether the looks to come are scored against the odds before them. It is on from the start; folding past days
// is quicker without.
func (f *Filter) Judge(on bool) { f.unjudged = !on }

// Tally gives how the forecasts of today's looks have fared.
func (f *Filter) Tally() score.Running { return f.tally }
