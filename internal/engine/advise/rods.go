package advise

import (
	"math"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/stats/search"
	"icehand/internal/trade/lake"
)

const (
	leastSit  = 2 * time.Minute  // a rod is left this long before it may be called away; our own choice
	shortAsk  = 2 * time.Minute  // the sit clock runs at least this long
	longAsk   = 25 * time.Minute // and at most this long
	clearly   = 1.1              // there must be better than here by this factor
	worthWalk = 0.25             // fish an hour, and by this much
	sharers   = 12.0             // m: rods nearer to one another fish one school
	onFish    = 90 * time.Second // since marks or fish under a rod
)

// goal is an open hole that a rod could be taken to.
type goal struct {
	hole *lake.Hole
	rate Rate
}

// rods says for every rod whether to stay or move.
func (w *world) rods(s *Step) {
	if len(w.in.Rods) == 0 {
		return
	}
	goals := w.goals()
	claimed := map[uuid.UUID]int{}
	for _, r := range w.in.Rods {
		s.Rods = append(s.Rods, w.rod(r, goals, claimed))
	}
}

// goals lists today's open holes on which no rod fishes.
func (w *world) goals() []goal {
	var out []goal
	for _, h := range w.in.Lake.HolesOn(w.day) {
		if !w.open(h) || w.rodsNear(h.At, 1) > 0 {
			continue
		}
		rods := 1 + w.rodsNear(h.At, sharers)
		out = append(out, goal{h, rateOf(w.filter.Rate(h.At, rods))})
	}
	return out
}

// rodsNear counts the rods within some metres.
func (w *world) rodsNear(p geo.Local, withinM float64) int {
	n := 0
	for _, r := range w.in.Rods {
		if at, ok := w.rodAt(r); ok && float64(at.Distance(p)) <= withinM {
			n++
		}
	}
	return n
}

func rateOf(r struct{ Mean, Low, High float64 }) Rate { return Rate(r) }

// rod weighs one rod's hole against the best open one, the move charged.
func (w *world) rod(r Rod, goals []goal, claimed map[uuid.UUID]int) RodStep {
	now := w.in.Now
	out := RodStep{Rod: r.Number, Do: Stay, ReAsk: now.Add(shortAsk)}
	at, ok := w.rodAt(r)
	if !ok {
		out.Why = []Reason{{Code: "no_place", Weight: 1, Text: "this hole has no place, so nothing is known of it"}}
		return out
	}
	out.Here = rateOf(w.filter.Rate(at, max(1, w.rodsNear(at, sharers))))
	best, where := w.bestGoal(at, goals, claimed)
	out.There = best
	out.Why = w.hereWhy(at, r)
	out.ReAsk = now.Add(w.sitClock(out.Here, best.Mean))
	if where == nil || now.Sub(r.Since) < leastSit || w.biting(at) {
		return out
	}
	gain := best.Mean - (clearly*out.Here.Mean + worthWalk)
	out.TossUp = math.Abs(best.Mean-out.Here.Mean) <= 0.15*math.Max(best.Mean, out.Here.Mean)
	if gain <= 0 || !w.hopped(at, where.At) {
		return out
	}
	claimed[where.ID]++
	out.Do, out.To, out.ReAsk = Move, where.ID, now
	out.Why = w.why(where.At, w.filter.Odds(where.At, w.options.LookLength))
	if q, ok := w.quiet(at, r); ok {
		out.Why = append([]Reason{q}, out.Why...)
	}
	return out
}

// hopped asks the vetoes about a rod's move.
func (w *world) hopped(from, to geo.Local) bool {
	done := w.in.Now.Add(w.walk(from.Distance(to)) + w.options.SetUp)
	return w.inTime(to, done) && !w.hops(from)(to, done).Barred
}

// bestGoal gives the open hole with the best rate after the move, and that rate. A hole already promised to another rod
// counts for less.
func (w *world) bestGoal(from geo.Local, goals []goal, claimed map[uuid.UUID]int) (Rate, *lake.Hole) {
	const stay = 20 * time.Minute // over which a move must pay
	var best Rate
	var where *lake.Hole
	for _, g := range goals {
		if claimed[g.hole.ID] > 0 || g.hole.At.Distance(from) < 1 {
			continue
		}
		move := w.walk(g.hole.At.Distance(from)) + w.options.SetUp
		// (PLAN-50) the move's share of the stay earns nothing
		left := math.Max(0, 1-move.Seconds()/stay.Seconds())
		r := Rate{g.rate.Mean * left, g.rate.Low * left, g.rate.High * left}
		if r.Mean > best.Mean {
			best, where = r, g.hole
		}
	}
	return best, where
}

// biting tells whether a rod has fish under it right now.
func (w *world) biting(at geo.Local) bool {
	for _, k := range w.filter.Schools() {
		if k.At.Distance(at) < quantity.Length(sharers) && k.Feeding > 0.6 && w.in.Now.Sub(k.LastSeen) < onFish {
			return true
		}
	}
	return false
}

// sitClock gives how long to sit before asking again: until the believed rate would have fallen to what is to be had
// elsewhere, if nothing happens.
func (w *world) sitClock(here Rate, elsewhere float64) time.Duration {
	spread := (here.High - here.Low) / 2.563 // 80 % range of a normal in standard deviations
	if !(here.Mean > 0 && spread > 0) {
		return shortAsk
	}
	a := here.Mean * here.Mean / (spread * spread)
	g := search.Gamma{Shape: a, Rate: a / here.Mean}
	ρ := math.Max(elsewhere, 0.5*here.Mean)
	// (PLAN-51) SEARCH-21 with the rate elsewhere, in hours
	t := time.Duration(g.GivingUp(ρ) * float64(time.Hour))
	return min(longAsk, max(shortAsk, t)).Round(time.Minute)
}

// hereWhy gives the reasons for staying at a hole.
func (w *world) hereWhy(at geo.Local, r Rod) []Reason {
	var out []Reason
	if b, ok := w.bitesAt(at); ok {
		out = append(out, b)
	}
	if q, ok := w.quiet(at, r); ok {
		out = append(out, q)
	}
	return append(out, w.why(at, w.filter.Odds(at, w.options.LookLength))...)
}

// bitesAt counts bites and fish at a hole in the last hour.
func (w *world) bitesAt(at geo.Local) (Reason, bool) {
	r := Reason{Code: "bites_here", Weight: 0.8}
	for _, e := range w.today {
		if e.order != thenBite && e.order != thenFish || e.at.Distance(at) > 3 || w.in.Now.Sub(e.when) > time.Hour {
			continue
		}
		r.Count += count(e)
		r.Age = w.in.Now.Sub(e.when)
		if e.hole != nil {
			r.Holes = []uuid.UUID{e.hole.ID}
		}
	}
	return r, r.Count > 0
}

// quiet tells how long nothing has been seen or caught at a rod's hole.
func (w *world) quiet(at geo.Local, r Rod) (Reason, bool) {
	last := r.Since
	for _, e := range w.today {
		if e.at.Distance(at) <= 3 && e.when.After(last) && lively(e) {
			last = e.when
		}
	}
	const silence = 5 * time.Minute
	age := w.in.Now.Sub(last)
	if last.IsZero() || age < silence {
		return Reason{}, false
	}
	return Reason{Code: "gone_quiet", Weight: 0.7, Age: age}, true
}
