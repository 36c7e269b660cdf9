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
	"icehand/internal/stats/search"
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

	field  *intensity.Field
	level  *intensity.Level
	bands  []*intensity.Level // by depth
	day    *intensity.Level   // of this day alone
	bites  *intensity.Level   // scale of the assumed bites
	today  factors            // learned factors as the day began: the field's exposures rest on them
	cached *factors           // learned factors now; nil when something was added since

	shadows  *track.Shadows
	schools  []*school
	pending  []pending
	crowds   []Crowd
	catches  []Fish
	tally    score.Running
	unjudged bool // looks are not scored: of past days nobody asks

	now time.Time
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
	confirmed bool
	left      bool // a blank look since where it was last seen: it no longer stays there
}

// pending is a marks-look that waits for confirmation before the field learns of it.
type pending struct {
	at       geo.Local
	when     time.Time
	marks    lake.Marks
	school   *school
	exposure float64 // by prior expectation
	share    float64 // chance that it was a school not yet known
	depth    depth
}

// depth is what is known of a place's depth.
type depth struct {
	m, sd float64
	known bool
}

// factors are the learned corrections of the expected number of schools.
type factors struct {
	level, day float64
	band       []float64
}

const deepestBand = 20 // bands; everything deeper shares the last

// NewFilter makes a filter that has seen nothing. The surface may be nil: then depth is known nowhere.
func NewFilter(g *ground.Surface, s priors.Season, p Params, sketches []Sketch) *Filter {
	f := &Filter{
		ground: g, season: s, par: p, sketches: sketches,
		field: intensity.New(p.Field), level: intensity.NewLevel(p.LevelShape, p.Field.SD*p.Field.SD),
		bites: intensity.NewLevel(p.BiteShape, 1), shadows: &track.Shadows{Motion: p.Motion},
	}
	for range deepestBand {
		f.bands = append(f.bands, intensity.NewLevel(p.BandShape, p.Field.SD*p.Field.SD))
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
	c.field, c.level, c.day, c.bites, c.shadows = f.field.Clone(), f.level.Clone(), f.day.Clone(), f.bites.Clone(), f.shadows.Clone()
	c.bands = nil
	for _, b := range f.bands {
		c.bands = append(c.bands, b.Clone())
	}
	moved := map[*school]*school{}
	c.schools = nil
	for _, s := range f.schools {
		n := *s
		moved[s] = &n
		c.schools = append(c.schools, &n)
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
	c.cached = nil
	return &c
}

// depthAt gives the depth at a place.
func (f *Filter) depthAt(p geo.Local) depth {
	if f.ground == nil {
		return depth{}
	}
	d := f.ground.At(p)
	return depth{float64(d.Mean), float64(d.Spread), d.Known}
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

// expected is the number of schools by m2 that is expected at a place before anything was seen there, today's crowds
// and catches excepted.
func (f *Filter) expected(p geo.Local, d depth) float64 {
	// (PLAN-32) lambda0 = density x depth preference x exp(sketch)
	e := f.season.Density * f.season.DepthPreference(quantity.Length(d.m), quantity.Length(d.sd), d.known)
	pull := 0.0
	for _, s := range f.sketches {
		if s.Area.Contains(p) {
			pull += f.par.SketchPull * float64(s.Weight)
		}
	}
	return e * math.Exp(pull)
}

// passing is the factor of crowds and of the own catch at a place now.
func (f *Filter) passing(p geo.Local) float64 {
	out := 1.0
	for _, c := range f.crowds {
		beyond := math.Max(0, float64(c.At.Distance(p))-float64(c.Radius))
		edge := float64(f.par.CrowdEdge)
		fade := math.Exp(-f.now.Sub(c.When).Hours() / f.par.CrowdFade.Hours())
		// (PLAN-33) a crowd takes its share, less with distance and age
		out *= 1 - f.par.CrowdLoss*fade*math.Exp(-beyond*beyond/(2*edge*edge))
	}
	taken := 0.0
	near := float64(f.par.CatchNear)
	for _, c := range f.catches {
		d := float64(c.At.Distance(p))
		if d < 3*near {
			taken += float64(c.Count) * math.Exp(-d*d/(2*near*near)-f.now.Sub(c.When).Hours()/f.par.CatchFade.Hours())
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
	out := factors{level: f.level.Mean(1), day: f.day.Mean(1)}
	for _, b := range f.bands {
		out.band = append(out.band, b.Mean(out.level))
	}
	f.cached = &out
	return out
}

// at gives the factor of a depth: level and day times the band's own, between band middles by straight lines.
func (x factors) at(d depth, width quantity.Length) float64 {
	if !d.known {
		return x.level * x.day
	}
	i, j, w := bandsOf(d.m, width)
	// (PLAN-35) level x day x band
	return x.level * x.day * ((1-w)*x.band[i] + w*x.band[j])
}

// newDay starts the factor of the day afresh and keeps the factors known this morning.
func (f *Filter) newDay() {
	f.day = intensity.NewLevel(f.par.DayShape, f.par.Field.SD*f.par.Field.SD)
	f.cached = nil
	f.today = f.learned()
}

// bandsOf gives the two bands that a depth lies between and the weight of the second.
func bandsOf(m float64, width quantity.Length) (i, j int, w float64) {
	u := math.Max(0, math.Min(m/float64(width)-0.5, deepestBand-1))
	i = int(u)
	return i, min(i+1, deepestBand-1), u - float64(i)
}

// groupOf names the neighbourhood whose luck observations share: squares of two lattice steps.
func (f *Filter) groupOf(p geo.Local) [2]int32 {
	s := 2 * float64(f.par.Field.Spacing)
	return [2]int32{int32(math.Floor(p.E / s)), int32(math.Floor(p.N / s))}
}

// teach lets level, bands and field learn from an exposure (by prior expectation) and what came of it. The field learns
// what the factors known this morning do not explain.
func (f *Filter) teach(p geo.Local, d depth, exposure float64, o intensity.Observation, seen float64) {
	group := f.groupOf(p)
	f.level.Add(group, o.Weight*exposure, o.Weight*seen)
	if d.known {
		i, j, w := bandsOf(d.m, f.par.BandWidth)
		f.bands[i].Add(group, (1-w)*o.Weight*exposure, (1-w)*o.Weight*seen)
		f.bands[j].Add(group, w*o.Weight*exposure, w*o.Weight*seen)
	}
	o.Exposure = exposure * f.today.at(d, f.par.BandWidth)
	f.day.Add(group, o.Weight*o.Exposure, o.Weight*seen)
	f.field.Observe(p, o)
	f.cached = nil
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
		return
	}
	kept := f.schools[:0]
	for _, s := range f.schools {
		s.Spread(f.par.SchoolSpread, dt)
		s.phases.Step(f.season.Phases, min(dt, f.par.Forget))
		if s.Exists >= f.par.LeastExists && t.Sub(s.lastMark) < f.par.Forget {
			kept = append(kept, s)
		}
	}
	f.schools = kept
	f.shadows.Forget(t)
	f.settle(false)
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
		switch {
		case confirmed:
		case p.marks == lake.Many:
			o.False = f.par.FalseMany
		default:
			o.False = f.par.FalseFew
		}
		// (PLAN-36) chance that unconfirmed marks were a school
		seen := search.Existence(p.exposure, o.False)
		if confirmed {
			seen = 1
		}
		f.teach(p.at, p.depth, p.exposure, o, seen)
	}
	f.pending = kept
}

// Night ends a day: schools, shadows, crowds and catches are forgotten, the field and the levels fade a little.
func (f *Filter) Night() {
	f.settle(true)
	f.schools, f.crowds, f.catches = nil, nil, nil
	f.shadows.Clear()
	f.field.Age(f.par.FieldKeep)
	f.level.Age(f.par.LevelKeep)
	for _, b := range f.bands {
		b.Age(f.par.FieldKeep)
	}
	f.bites.Age(f.par.LevelKeep)
	f.newDay()
	f.tally = score.Running{Prior: f.tally.Prior, Strength: f.tally.Strength}
}

// Judge says whether the looks to come are scored against the odds before them. It is on from the start; folding past days
// is quicker without.
func (f *Filter) Judge(on bool) { f.unjudged = !on }

// Tally gives how the forecasts of today's looks have fared.
func (f *Filter) Tally() score.Running { return f.tally }
