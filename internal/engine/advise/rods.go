package advise

import (
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/engine/plan"
	"icehand/internal/stats/search"
	"icehand/internal/trade/lake"
)

const (
	shortAsk = 2 * time.Minute  // the sit clock runs at least this long
	longAsk  = 25 * time.Minute // and at most this long
	sharers  = 12.0             // m: rods nearer to one another fish one school

	closeRates = 0.15 // share by which two rates may differ and still be as good; our own choice
)

// rods says for every rod whether to stay or move, by the rule of [plan.Filter.Call].
func (w *world) rods(s *Step) {
	if len(w.in.Rods) == 0 {
		return
	}
	crew, holes := w.crew()
	crew.MayHop = func(rod, hole int) bool { return w.hopped(crew.Rods[rod].At, crew.Holes[hole].At) }
	s.Rods = make([]RodStep, len(w.in.Rods))
	first := w.named()
	if first >= 0 { // the guest whose first fish the day is about has the choice of holes
		s.Rods[first] = w.rod(w.in.Rods[first], &crew, holes)
		s.Rods[first].Why = append(s.Rods[first].Why, Reason{Code: "first_fish", Weight: 0.1})
	}
	for i, r := range w.in.Rods {
		if i != first {
			s.Rods[i] = w.rod(r, &crew, holes)
		}
	}
}

// named gives the rod of the guest whose first fish the day is about; -1 when nobody is named, or the fish was had.
func (w *world) named() int {
	who := w.in.AimFor
	if who == uuid.Nil || w.in.Party == nil || w.in.Aim != "first_fish" {
		return -1
	}
	for _, f := range w.in.Party.Fish {
		if f.Guest == who && f.Day == w.day && !f.When.After(w.in.Now) {
			return -1
		}
	}
	number := 0
	if g := w.in.Party.Guest(who); g != nil {
		number = g.Rod
	}
	for _, s := range w.in.Party.RodsAt(w.in.Now) {
		if s.Guest == who {
			number = s.Rod
		}
	}
	if number == 0 {
		return -1
	}
	return slices.IndexFunc(w.in.Rods, func(r Rod) bool { return r.Number == number })
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

// rod weighs one rod's hole against the best open one, the move charged. A hole that it is sent to is taken for the rods
// after it.
func (w *world) rod(r Rod, crew *plan.Crew, holes []*lake.Hole) RodStep {
	now := w.in.Now
	out := RodStep{Rod: r.Number, Do: Stay, ReAsk: now.Add(shortAsk)}
	at, ok := w.rodAt(r)
	i := slices.IndexFunc(crew.Rods, func(c plan.Rod) bool { return c.Number == r.Number })
	if !ok || i < 0 {
		out.Why = []Reason{{Code: "no_place", Weight: 1, Text: "this hole has no place, so nothing is known of it"}}
		return out
	}
	call := w.filter.Call(crew, i)
	out.Here = rateOf(w.filter.Rate(at, max(1, w.rodsNear(at, sharers))))
	out.Why = w.hereWhy(at, r)
	if call.Best < 0 {
		out.ReAsk = now.Add(w.sitClock(out.Here, 0))
		return out
	}
	best := holes[call.Best]
	out.There = w.rateAfter(at, best)
	out.ReAsk = now.Add(w.sitClock(out.Here, out.There.Mean))
	out.TossUp = !call.Sure && math.Abs(call.There-call.Here) <= closeRates*math.Max(call.There, call.Here)
	if call.Hole < 0 || out.There.Mean <= out.Here.Mean {
		// the crew's call and the rate shown may differ; a rod is never sent to where less is believed to be had
		return out
	}
	out.TossUp = out.TossUp || out.There.Mean <= (1+closeRates)*out.Here.Mean // as shown: nobody should walk for that alone
	crew.Holes[call.Hole].Taken = true
	crew.Rods[i] = plan.Rod{Number: r.Number, At: best.At, Hole: call.Hole, Since: now}
	out.Do, out.To, out.ReAsk = Move, best.ID, now
	out.Why = w.why(best.At, w.filter.Odds(best.At, w.options.LookLength))
	if q, ok := w.quiet(at, r); ok {
		out.Why = append([]Reason{q}, out.Why...)
	}
	return out
}

// rateAfter gives the rate to expect at another hole, the move charged.
func (w *world) rateAfter(from geo.Local, h *lake.Hole) Rate {
	const stay = 20 * time.Minute // over which a move must pay
	move := w.walk(h.At.Distance(from)) + w.options.SetUp
	// (PLAN-50) the move's share of the stay earns nothing
	left := math.Max(0, 1-move.Seconds()/stay.Seconds())
	r := w.filter.Rate(h.At, 1+w.rodsNear(h.At, sharers))
	return Rate{r.Mean * left, r.Low * left, r.High * left}
}

// hopped asks the vetoes about a rod's move.
func (w *world) hopped(from, to geo.Local) bool {
	done := w.in.Now.Add(w.walk(from.Distance(to)) + w.options.SetUp)
	return w.inTime(to, done) && !w.hops(from)(to, done).Barred
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
	out = append(out, w.why(at, w.filter.Odds(at, w.options.LookLength))...)
	return append(out, w.habits.reasons()...)
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
