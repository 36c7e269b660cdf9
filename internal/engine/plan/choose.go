package plan

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/stats/choose"
	"icehand/internal/stats/track"
)

// Spot is an open hole that may be looked into again.
type Spot struct {
	At   geo.Local
	Key  int64 // identity, below zero
	Skim bool  // it must be skimmed first
}

// Question is what [Filter.Choose] is asked.
type Question struct {
	Crew
	From      geo.Local
	Open      []Spot          // holes that may be looked into again
	Ice       quantity.Length // to drill at a new hole
	Look      time.Duration
	DayGone   float64 // share of the day that is over, 0..1: optimism fades with it
	Bold      float64 // factor on the optimism; 0: 1
	Budget    int     // places weighed; 0: 600; above it they lie half as far apart
	Drillable bool    // new holes may be advised
	Wanted    int     // candidates wanted; 0: 8
	// Allowed tells whether a place may be advised at all; it is asked best first, at most Budget/2 times. Nil allows water.
	Allowed func(c Candidate) bool
}

// Candidate is a place worth the next look.
type Candidate struct {
	At      geo.Local
	Open    bool // an open hole, nothing to drill
	Key     int64
	Odds    Odds
	Minutes float64 // walk, drilling and look
	WalkM   float64
	Score   float64 // worth a minute of the chain that it begins
	For     Purpose
}

// Purpose is what a hole is for.
type Purpose string

// The purposes. A hole to serve a school that showed a moment ago is drilled without a look.
const (
	Search Purpose = "search"
	Follow Purpose = "follow"
	Serve  Purpose = "serve"
)

const (
	// common practice, no source: setting up the auger, and the time a metre of ice takes
	drillStart    = 20 * time.Second
	drillPerMetre = 55 * time.Second
	skimTime      = 45 * time.Second // of a crusted hole; our own assumption

	nearLattice, nearReach = 25.0, 150.0   // m
	midLattice, midReach   = 50.0, 450.0   // m
	farLattice, farReach   = 100.0, 1000.0 // m
	apart                  = 18.0          // m: nearer to a hole none is drilled to search
	hotReach               = 60.0          // m: about a school that feeds under rods the scout searches no farther
	longWalk               = 60.0          // minutes: a find so far from the rods is worth nothing
	serveShare             = 0.3           // of what one hole more would bring, for schools swim off meanwhile
	followWorth            = 1.5           // a lost school is followed when it is worth so many unseen ones
	scoreStep              = 1e-5          // hits a minute; the last digits differ between machines
	usualBudget            = 600           // places: all that lie within farReach
)

// How long a hole of today may be used after somebody was last at it; our own assumption.
const (
	OpenFor  = 175 * time.Minute // then it must be drilled anew
	SkimFrom = time.Hour         // from then on it must be skimmed
	RestFor  = 20 * time.Minute  // so long it is left alone: fish swim in meanwhile
)

// DrillTime gives how long it takes to drill through ice.
func DrillTime(ice quantity.Length) time.Duration {
	// (PLAN-46) 20 s + 55 s by metre
	return drillStart + time.Duration(float64(drillPerMetre)*float64(ice))
}

// Choose gives the places most worth the next look, best first, only such as Allowed lets pass. asked counts how often
// it was asked, and was refused.
func (f *Filter) Choose(ctx context.Context, q Question) (best []Candidate, refused int, err error) {
	if q.Budget <= 0 {
		q.Budget = usualBudget
	}
	if q.Wanted <= 0 {
		q.Wanted = 8
	}
	searched, err := f.searched(ctx, q)
	if err != nil {
		return nil, 0, err
	}
	rate := 0.0
	if len(searched) > 0 {
		rate = searched[0].Score
	}
	var ranked []Candidate
	if q.Drillable {
		ranked = append(f.serving(q, rate), f.following(q, rate)...)
	}
	for _, c := range append(ranked, searched...) {
		if len(best) == q.Wanted || refused > q.Budget/2 {
			break
		}
		if q.Allowed != nil && !q.Allowed(c) {
			refused++
			continue
		}
		if c.For != Search && len(best) > 0 && best[0].For != Search {
			continue // one of a kind is enough
		}
		c.Odds = f.Odds(c.At, q.Look)
		best = append(best, c)
	}
	return best, refused, nil
}

// searched ranks open holes and lattice points by the chain of looks that each begins.
func (f *Filter) searched(ctx context.Context, q Question) ([]Candidate, error) {
	eta := optimism(q.DayGone, q.Bold)
	all := f.candidates(q)
	if hot := f.hottest(&q.Crew); hot != nil {
		var near []Candidate
		for _, c := range all {
			if float64(c.At.Distance(hot.At)) < hotReach {
				near = append(near, c)
			}
		}
		if len(near) > 0 {
			all = near
		}
	}
	options := make([]choose.Option, 0, len(all))
	byKey := make(map[int64]int, len(all))
	for i, c := range all {
		if i%64 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		p, gain, takes := f.promise(&q, c.At, eta)
		if p <= 0 {
			continue
		}
		byKey[c.Key] = i
		options = append(options, choose.Option{At: c.At, Chance: p, Worth: gain / p * q.reach(c.At), Takes: takes / p,
			Fixed: c.Minutes - c.WalkM/(60*float64(q.Walk)), Key: c.Key, Near: f.radius(f.depthAt(c.At))})
	}
	rule := choose.Rule{PerMinute: 60 * float64(q.Walk), Handling: biteTime, Length: 5, Starts: 12 * max(1, q.Budget/usualBudget), Step: scoreStep}
	var out []Candidate
	for _, s := range choose.Best(q.From, options, rule) {
		c := all[byKey[s.Key]]
		c.Score, c.For = s.Score, Search
		out = append(out, c)
	}
	return out, nil
}

// promise gives the hopeful chance of marks in a look at a place, what they are worth and the minutes that they take.
func (f *Filter) promise(q *Question, p geo.Local, eta float64) (chance, gain, takes float64) {
	d := f.depthAt(p)
	r := f.radius(d)
	m, v := f.field.At(p)
	// (PLAN-42) the mean is moved by (eta - 1) v/2; eta = 1 is the plain mean
	fresh, _, _ := f.field.ChanceOf(m+(eta-1)*v/2, v, f.exposure(p, d, r, q.Look), 0, 0)
	g, h := f.finding(&q.Crew)
	chance, gain, takes = fresh, fresh*g, fresh*h
	for _, s := range f.schools {
		if float64(s.At.Distance(p)) > crossReach || f.sharing(&q.Crew, s) > 0 {
			continue
		}
		if x := f.shows(s, p, r); x > 0.02 {
			g, h := f.testing(&q.Crew, s)
			chance = 1 - (1-chance)*(1-x)
			gain += x * g
			takes += x * h
		}
	}
	return chance, gain, takes
}

// hottest gives the school that feeds best under the rods, nil when none does.
func (f *Filter) hottest(c *Crew) *school {
	var hot *school
	most := 0.0
	for _, s := range f.schools {
		n := f.sharing(c, s)
		if n == 0 || s.phases.Of(track.Feeding) < 0.5 || f.now.Sub(s.lastMark) > hotFor || s.lastFish.IsZero() || f.now.Sub(s.lastFish) > 10*time.Minute {
			continue
		}
		if x := f.staying(c, s, n, 0); x > most {
			hot, most = s, x
		}
	}
	return hot
}

// serving gives places for one more hole over a school that showed a moment ago, when the rods would take more by it, for a
// minute of the scout's work, than searching finds.
func (f *Filter) serving(q Question, searching float64) []Candidate {
	var out []Candidate
	for i, s := range f.schools {
		if f.now.Sub(s.lastMark) > hotFor || s.Exists < 0.5 {
			continue
		}
		gain := f.oneMore(&q, s)
		if gain <= 0 {
			continue
		}
		// (PLAN-63) worth a minute of the scout's work; all points over the school count alike, the nearest to its middle first
		score := num.Quantise(serveShare*gain/q.candidate(s.lastAt, 0, 0, Serve).Minutes, scoreStep)
		if score <= searching {
			continue
		}
		for k := range 16 {
			p := spiralPoint(s.lastAt, 2.5, k)
			if f.usable(&q, p, 2) {
				c := q.candidate(p, 0, serveKey-int64(16*i+k), Serve)
				c.Score = score
				out = append(out, c)
			}
		}
	}
	slices.SortStableFunc(out, byScore)
	return out
}

// oneMore gives what the rods would take with one hole more over a school than with those that are there; 0 when no rod
// would come for it.
func (f *Filter) oneMore(q *Question, s *school) float64 {
	radius := 0.8 * float64(f.season.SchoolRadius)
	covers := func(h int) bool { return h >= 0 && float64(q.Holes[h].At.Distance(s.lastAt)) < radius }
	holes, free := 0, 0
	for h := range q.Holes {
		if q.Holes[h].Open && covers(h) {
			holes++
			if !q.Holes[h].Taken {
				free++
			}
		}
	}
	if holes >= mostSharing {
		return 0
	}
	join := f.staying(&q.Crew, s, holes+1, 0)
	poorer, walk := 0, 0.0
	for _, r := range q.Rods {
		k, silent := f.over(r)
		if k == s || covers(r.Hole) || k != nil && f.staying(&q.Crew, k, f.sharing(&q.Crew, k), silent) >= 0.5*join {
			continue
		}
		poorer++
		walk += q.minutes(r.At, s.lastAt) + q.setUp()
	}
	if poorer <= free {
		return 0
	}
	n := float64(holes)
	more := join*(n+1) - f.staying(&q.Crew, s, max(holes, 1), 0)*n
	return more * math.Max(0, biteTime-walk/float64(poorer)-DrillTime(q.Ice).Minutes())
}

func byScore(a, b Candidate) int {
	return cmp.Or(cmp.Compare(b.Score, a.Score), cmp.Compare(b.Key, a.Key))
}

// following gives places to find a school again that was seen minutes ago and is worth more than what searching finds.
func (f *Filter) following(q Question, searching float64) []Candidate {
	var out []Candidate
	fresh, _ := f.finding(&q.Crew)
	for i, s := range f.schools {
		g, h := f.testing(&q.Crew, s)
		if g < followWorth*fresh || f.now.Sub(s.lastMark) > 15*time.Minute || f.sharing(&q.Crew, s) > 0 {
			continue
		}
		reach := f.radius(f.depthAt(s.At))
		for k := range 7 {
			p := s.At
			if k > 0 {
				a := float64(k) * math.Pi / 3
				p = p.Add(geo.Local{E: 1.1 * reach * math.Cos(a), N: 1.1 * reach * math.Sin(a)})
			}
			if !f.usable(&q, p, 5) {
				continue
			}
			c := q.candidate(p, q.Look, followKey-int64(8*i+k), Follow)
			x := f.shows(s, p, reach) * f.shadows.Left(p, f.now)
			// (PLAN-58) worth a minute of finding it again
			c.Score = num.Quantise(x*g*q.reach(p)/(c.Minutes+x*h), scoreStep)
			if c.Score > searching {
				out = append(out, c)
			}
		}
	}
	slices.SortStableFunc(out, byScore)
	return out
}

// keys of candidates that are not of the lattice; open holes have small negative ones
const serveKey, followKey = -1 << 40, -1 << 41

// usable tells whether a hole may be drilled: on water and not beside another.
func (f *Filter) usable(q *Question, p geo.Local, apartM float64) bool {
	for i := range q.Holes {
		if x, y := q.Holes[i].At.E-p.E, q.Holes[i].At.N-p.N; x*x+y*y < apartM*apartM {
			return false
		}
	}
	return f.ground != nil && f.ground.OnWater(p)
}

// candidate charges the way and the work of a new hole.
func (q *Question) candidate(p geo.Local, look time.Duration, key int64, why Purpose) Candidate {
	walk := float64(q.From.Distance(p))
	return Candidate{At: p, Key: key, WalkM: walk, For: why,
		Minutes: walk/(60*float64(q.Walk)) + (DrillTime(q.Ice) + look).Minutes()}
}

// reach is the share of a find's worth that is left when the rods have walked to it; 1 without rods.
func (q *Question) reach(p geo.Local) float64 {
	if len(q.Rods) == 0 {
		return 1
	}
	sum := 0.0
	for _, r := range q.Rods {
		// (PLAN-23) worth falls over a walk of an hour
		sum += math.Max(0.02, 1-q.minutes(r.At, p)/longWalk)
	}
	return sum / float64(len(q.Rods))
}

// optimism falls over the day from 3 to 1, the plain mean.
func optimism(gone, bold float64) float64 {
	if bold == 0 {
		bold = 1
	}
	// (PLAN-47) eta = 1 + 2 bold (1 - share of the day gone)
	return 1 + 2*bold*(1-num.Clamp(gone, 0, 1))
}

// candidates lists open holes and lattice points on water, nearest first up to the budget. The lattice is fixed to the
// lake, so that a place keeps its key.
func (f *Filter) candidates(q Question) []Candidate {
	var out []Candidate
	add := func(p geo.Local, open bool, key int64, work time.Duration) {
		walk := float64(q.From.Distance(p))
		fixed := q.Look + work
		out = append(out, Candidate{At: p, Open: open, Key: key, WalkM: walk, Minutes: walk/(60*float64(q.Walk)) + fixed.Minutes()})
	}
	for _, s := range q.Open {
		if float64(s.At.Distance(q.From)) <= farReach {
			work := time.Duration(0)
			if s.Skim {
				work = skimTime
			}
			add(s.At, true, s.Key, work)
		}
	}
	if q.Drillable && f.ground != nil {
		closer := 1.0
		if q.Budget > usualBudget {
			closer = 0.5 // the wider lattice is part of the finer one, so that more is weighed and nothing left out
		}
		for _, ring := range [][3]float64{{nearLattice, 0, nearReach}, {midLattice, nearReach, midReach}, {farLattice, midReach, farReach}} {
			lattice(q.From, closer*ring[0], ring[1], ring[2], func(p geo.Local, key int64) {
				if f.usable(&q, p, apart) {
					add(p, false, key, DrillTime(q.Ice))
				}
			})
		}
	}
	// the candidates are long: their order is found by short keys
	type near struct {
		walk float64
		key  int64
		i    int
	}
	order := make([]near, len(out))
	for i, c := range out {
		order[i] = near{c.WalkM, c.Key, i}
	}
	slices.SortFunc(order, func(a, b near) int {
		return cmp.Or(cmp.Compare(a.walk, b.walk), cmp.Compare(a.key, b.key), cmp.Compare(a.i, b.i))
	})
	nearest := make([]Candidate, min(len(out), q.Budget))
	for k := range nearest {
		nearest[k] = out[order[k].i]
	}
	return nearest
}

// lattice visits the points of the lake's lattice in a ring about a place, with a key that is the point's own: its
// coordinates in units of half the near lattice.
func lattice(about geo.Local, step, from, to float64, visit func(geo.Local, int64)) {
	for y := math.Ceil((about.N - to) / step); y*step <= about.N+to; y++ {
		for x := math.Ceil((about.E - to) / step); x*step <= about.E+to; x++ {
			p := geo.Local{E: x * step, N: y * step}
			if d := float64(p.Distance(about)); d < from || d > to {
				continue
			}
			k := 2 * step / nearLattice
			visit(p, int64(y*k+1<<20)<<32|int64(x*k+1<<20))
		}
	}
}
