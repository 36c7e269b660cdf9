package plan

import (
	"context"
	"math"
	"slices"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/stats/choose"
)

// Spot is an open hole that may be looked into again.
type Spot struct {
	At  geo.Local
	Key int64 // identity, below zero
}

// Question is what [Filter.Choose] is asked.
type Question struct {
	From      geo.Local
	Open      []Spot          // holes that may be looked into again
	Drilled   []geo.Local     // all holes of the day: none is drilled beside one
	Ice       quantity.Length // to drill at a new hole
	Walk      quantity.Speed
	Look      time.Duration
	Party     []geo.Local // where the rods are: marks that they cannot walk to soon are worth less
	DayGone   float64     // share of the day that is over, 0..1: optimism fades with it
	Bold      float64     // factor on the optimism; 0: 1
	Budget    int         // places weighed; 0: 600
	Drillable bool        // new holes may be advised
	Wanted    int         // candidates wanted; 0: 8
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
	Score   float64 // hits a minute of the chain that it begins
}

const (
	// common practice, no source: setting up the auger, and the time a metre of ice takes
	drillStart    = 20 * time.Second
	drillPerMetre = 55 * time.Second

	nearLattice, nearReach = 25.0, 300.0   // m
	farLattice, farReach   = 100.0, 1000.0 // m
	apart                  = 10.0          // m: nearer to an open hole no new one is drilled
	scoreStep              = 1e-5          // hits a minute; the last digits differ between machines
	usualBudget            = 600
	handling               = 20 // minutes that a hit takes; our own assumption
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
	eta := optimism(q.DayGone, q.Bold)
	var all []Candidate
	var options []choose.Option
	for i, c := range f.candidates(q) {
		if i%64 == 0 && ctx.Err() != nil {
			return nil, 0, ctx.Err()
		}
		p := f.hopeful(c.At, q.Look, eta) * q.reach(c.At)
		options = append(options, choose.Option{At: c.At, Chance: p, Fixed: c.Minutes - c.WalkM/(60*float64(q.Walk)), Key: c.Key, Near: f.radius(f.depthAt(c.At))})
		all = append(all, c)
	}
	rule := choose.Rule{PerMinute: 60 * float64(q.Walk), Handling: handling, Length: 5, Starts: 24, Step: scoreStep}
	byKey := map[int64]int{}
	for i, c := range all {
		byKey[c.Key] = i
	}
	for _, s := range choose.Best(q.From, options, rule) {
		if len(best) == q.Wanted || refused > q.Budget/2 {
			break
		}
		c := all[byKey[s.Key]]
		c.Score = s.Score
		if q.Allowed != nil && !q.Allowed(c) {
			refused++
			continue
		}
		c.Odds = f.Odds(c.At, q.Look)
		best = append(best, c)
	}
	return best, refused, nil
}

// reach is the share of a find's worth that is left when the rods have walked to it; 1 without rods.
func (q Question) reach(p geo.Local) float64 {
	if len(q.Party) == 0 {
		return 1
	}
	sum := 0.0
	for _, r := range q.Party {
		walk := float64(r.Distance(p)) / float64(q.Walk)
		// (PLAN-23) worth falls over a walk of twenty minutes
		sum += math.Max(0.02, 1-walk/horizon.Seconds())
	}
	return sum / float64(len(q.Party))
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
	add := func(p geo.Local, open bool, key int64) {
		walk := float64(q.From.Distance(p))
		fixed := q.Look
		if !open {
			fixed += DrillTime(q.Ice)
		}
		out = append(out, Candidate{At: p, Open: open, Key: key, WalkM: walk, Minutes: walk/(60*float64(q.Walk)) + fixed.Minutes()})
	}
	for _, s := range q.Open {
		if float64(s.At.Distance(q.From)) <= farReach {
			add(s.At, true, s.Key)
		}
	}
	if q.Drillable && f.ground != nil {
		near := func(p geo.Local) bool {
			return slices.ContainsFunc(q.Drilled, func(h geo.Local) bool { return float64(h.Distance(p)) < apart })
		}
		lattice(q.From, nearLattice, 0, nearReach, func(p geo.Local, key int64) {
			if f.ground.OnWater(p) && !near(p) {
				add(p, false, key)
			}
		})
		lattice(q.From, farLattice, nearReach, farReach, func(p geo.Local, key int64) {
			if f.ground.OnWater(p) && !near(p) {
				add(p, false, key)
			}
		})
	}
	slices.SortStableFunc(out, func(a, b Candidate) int {
		switch {
		case a.WalkM < b.WalkM:
			return -1
		case a.WalkM > b.WalkM:
			return 1
		}
		return int(a.Key - b.Key)
	})
	return out[:min(len(out), q.Budget)]
}

// lattice visits the points of the lake's lattice in a ring about a place, with a key that is the point's own: its
// coordinates in units of the near lattice.
func lattice(about geo.Local, step, from, to float64, visit func(geo.Local, int64)) {
	for y := math.Ceil((about.N - to) / step); y*step <= about.N+to; y++ {
		for x := math.Ceil((about.E - to) / step); x*step <= about.E+to; x++ {
			p := geo.Local{E: x * step, N: y * step}
			if d := float64(p.Distance(about)); d < from || d > to {
				continue
			}
			k := step / nearLattice
			visit(p, int64(y*k+1<<20)<<32|int64(x*k+1<<20))
		}
	}
}
