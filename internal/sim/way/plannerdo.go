package way

import (
	"math"
	"slices"
	"time"

	"icehand/internal/base/geo"
)

// bigWorth is what a good fish counts against a small one.
func (p *planner) bigWorth() float64 {
	if p.b.Aim == Size {
		return 6
	}
	return 2
}

func (p *planner) value(t *track) float64 { return 1 + (p.bigWorth()-1)*t.big }

// usualValue is the worth of a fish of an unseen school.
func (p *planner) usualValue() float64 { return 1 + (p.bigWorth()-1)*0.3 }

// shared is the part of a rod's bites that is left when several rods fish a school.
func (p *planner) shared(t *track, rods int) float64 {
	left := math.Max(2, 0.8*p.bel.fish-t.taken)
	return math.Min(1, left/(6*float64(max(1, rods))))
}

// stay is the worth a minute of fishing on over a school.
func (p *planner) stay(t *track, rods int, gap time.Duration) float64 {
	s := p.future.best(&t.b) * p.value(t) * p.shared(t, rods)
	if g := gap.Minutes(); g > 1.5 {
		s *= math.Exp(-(g - 1.5) / 2)
	}
	return s
}

func (p *planner) Guest(v *View, rod int) Order {
	p.pass(v.Now)
	g := v.Guests[rod]
	s, margin := 0.0, gainNeeded
	if g.Fishing {
		if v.Now-g.Since < leastStay {
			return Order{Do: Stay}
		}
		if t := p.here[rod]; t != nil {
			gap := v.Now - p.lastOn[rod]
			if t.feeding() > 0.6 && gap <= 90*time.Second {
				return Order{Do: Stay}
			}
			s = p.stay(t, t.rods, gap)
		}
		s = math.Max(s, p.linger(g))
	}
	best, bestValue := -1, 0.0
	for h := max(0, len(v.Holes)-60); h < len(v.Holes); h++ {
		if v.Holes[h].Rod != Scout || v.Shut(h) || v.Now-v.Holes[h].Used > 175*time.Minute {
			continue
		}
		if x := p.hop(v, g.At, h, p.here[rod]); x > bestValue {
			best, bestValue = h, x
		}
	}
	if best >= 0 && (!g.Fishing || bestValue > margin*s+gainLeast) {
		p.leave(rod, 40)
		p.mask.cast(v.Holes[best].At, p.reach(float64(v.Holes[best].Depth)), 0.3) // the next guest picks another
		return Order{Do: Move, Hole: best}
	}
	if g.Fishing {
		return Order{Do: Stay}
	}
	return Order{Do: Wait}
}

// linger is the worth a minute of fishing on where nothing shows: schools swim in.
func (p *planner) linger(g Guest) float64 {
	depth := float64(p.b.Chart(g.At))
	r := p.field.row(g.At, depth)
	meets := p.density(&r, p.expected(g.At, depth), 1) * detect * 2 * p.reach(depth) * p.bel.speedMS * 60
	return meets * findWorth * p.usualValue() / (1 + meets*findTime)
}

// hop is the worth a minute of going to an open hole: joining a school that others fish, or trying one's luck.
func (p *planner) hop(v *View, from geo.Local, h int, own *track) float64 {
	hole := v.Holes[h]
	walk := float64(from.Distance(hole.At))/float64(p.b.Walk)/60 + 1
	if v.Now-hole.Used > Crust {
		walk++
	}
	joined, sumPG, sumPH := 0.0, 0.0, 0.0
	reach := p.reach(float64(hole.Depth))
	for _, t := range p.tracks {
		d := float64(t.at.Distance(hole.At))
		if t.rods > 0 && v.Now-t.mark < 150*time.Second {
			rods := t.rods
			if t != own {
				rods++
			}
			weight := 0.0
			switch {
			case d < 0.8*p.bel.radiusM:
				weight = 1
			case d < 0.8*p.bel.radiusM+2:
				weight = 0.5
			}
			if weight > 0 && rods <= 4 {
				const horizon = 20.0
				joined = math.Max(joined, 0.85*weight*p.stay(t, rods, 0)*horizon/(horizon+walk))
			}
			continue
		}
		if d > 120 {
			continue
		}
		q := t.shows(hole.At, reach)
		if m, ok := p.marked[h]; ok && v.Now-m < 4*time.Minute && d < reach {
			q = math.Max(q, 0.8*t.exists)
		}
		if q > 0.01 {
			sumPG += q * p.future.over(&t.b, 9) * p.value(t) * p.shared(t, 1)
			sumPH += q * findTime
		}
	}
	depth := float64(hole.Depth)
	r := p.field.row(hole.At, depth)
	fresh := -math.Expm1(-p.density(&r, p.expected(hole.At, depth), 1) * p.swept(reach, 60) * p.mask.at(hole.At))
	sumPG += fresh * findWorth * p.usualValue()
	sumPH += fresh * findTime
	// (REHEARSE-10) worth a minute = sum P G / (walk + set-up + sum P H)
	return math.Max(joined, sumPG/(walk+2+sumPH))
}

func (p *planner) Scout(v *View) Order {
	p.pass(v.Now)
	hot := p.hottest(v)
	if hot != nil {
		if o, ok := p.serve(v, hot); ok {
			return o
		}
	}
	if o, ok := p.follow(v); ok {
		return o
	}
	return p.search(v, hot)
}

// hottest is the school that feeds best with rods on it, nil when none does.
func (p *planner) hottest(v *View) *track {
	var hot *track
	best := 0.0
	for _, t := range p.tracks {
		if t.rods > 0 && t.feeding() > 0.5 && v.Now-t.mark < 150*time.Second && v.Now-t.fish < 10*time.Minute {
			if s := p.stay(t, t.rods, 0); s > best {
				hot, best = t, s
			}
		}
	}
	return hot
}

// serve drills for guests that would gain by joining a hot school and find no hole over it.
func (p *planner) serve(v *View, hot *track) (Order, bool) {
	poorer := 0
	for rod, g := range v.Guests {
		earns := 0.0
		if t := p.here[rod]; t != nil && g.Fishing {
			if t == hot {
				continue
			}
			earns = p.stay(t, t.rods, v.Now-p.lastOn[rod])
		}
		if earns < 0.5*p.stay(hot, hot.rods+1, 0) {
			poorer++
		}
	}
	free := 0
	for h := range v.Holes {
		if v.Holes[h].Rod == Scout && !v.Shut(h) && float64(v.Holes[h].At.Distance(hot.at)) < 0.8*p.bel.radiusM {
			free++
		}
	}
	if min(poorer, 4-hot.rods) <= free {
		return Order{}, false
	}
	for k := range 16 {
		at := turned(hot.at, k, 2.5)
		if p.apart(v, at, 2) {
			return Order{Do: Drill, At: at}, true
		}
	}
	return Order{}, false
}

func (p *planner) apart(v *View, at geo.Local, m float64) bool {
	if !p.b.Inside(at) {
		return false
	}
	for i := range v.Holes {
		h := &v.Holes[i]
		// the sides before the distance: this is asked of every hole for every place
		if math.Abs(h.At.E-at.E) < m && math.Abs(h.At.N-at.N) < m && float64(h.At.Distance(at)) < m {
			return false
		}
	}
	return true
}

func (p *planner) drillMinutes() float64 { return (20+55*float64(p.b.Ice))/60 + lookTime.Minutes() }

// follow looks for a school that was just seen and is worth more than a fresh find.
func (p *planner) follow(v *View) (Order, bool) {
	var best geo.Local
	bestScore, fresh := 0.0, findWorth*p.usualValue()
	for _, t := range p.tracks {
		g := p.future.over(&t.b, 9) * p.value(t) * p.shared(t, 1)
		if t.rods > 0 || v.Now-t.mark > 15*time.Minute || g < fresh {
			continue
		}
		for k := range 7 {
			at := t.at
			if k > 0 {
				a, r := float64(k)*math.Pi/3, 1.1*p.reach(p.bel.depthM)
				at = at.Add(geo.Local{E: r * math.Cos(a), N: r * math.Sin(a)})
			}
			if !p.apart(v, at, 5) {
				continue
			}
			q := t.shows(at, p.reach(p.bel.depthM)) * p.mask.at(at)
			cost := float64(v.Scout.Distance(at))/float64(p.b.Walk)/60 + p.drillMinutes()
			if score := q * g / (cost + q*findTime); score > bestScore {
				best, bestScore = at, score
			}
		}
	}
	if bestScore == 0 || bestScore < p.usualRate(v) {
		return Order{}, false
	}
	return Order{Do: Drill, At: best, Look: lookTime}, true
}

// usualRate is what the scout's search yields, in worth a minute, by the best place near him.
func (p *planner) usualRate(v *View) float64 {
	_, rate := p.chain(v, nil)
	return rate
}

func (p *planner) search(v *View, hot *track) Order {
	at, _ := p.chain(v, hot)
	return Order{Do: Drill, At: at, Look: lookTime}
}

// option is a place that the scout may look at.
type option struct {
	at   geo.Local
	p    float64
	gain float64 // p x worth
}

// chain gives the first of five holes whose worth by minute, walking and working included, is greatest.
func (p *planner) chain(v *View, hot *track) (geo.Local, float64) {
	options := p.options(v, hot)
	if len(options) == 0 {
		return p.somewhere(v), 0
	}
	const starts, holes = 16, 5
	fixed, perM := p.drillMinutes(), 1/(float64(p.b.Walk)*60)
	type start struct {
		i     int
		score float64
	}
	var first []start
	for i, o := range options {
		cost := float64(v.Scout.Distance(o.at))*perM + fixed
		first = append(first, start{i, o.gain / (cost + o.p*findTime)})
	}
	slices.SortStableFunc(first, func(a, b start) int {
		if a.score > b.score {
			return -1
		} else if a.score < b.score {
			return 1
		}
		return a.i - b.i
	})
	used := make([]bool, len(options))
	best, bestRate := options[first[0].i].at, -1.0
	for _, f := range first[:min(starts, len(first))] {
		clear(used)
		used[f.i] = true
		at := options[f.i].at
		gain := options[f.i].gain
		cost := float64(v.Scout.Distance(at))*perM + fixed + options[f.i].p*findTime
		for range holes - 1 {
			next, nextRate := -1, 0.0
			for i := range options {
				if used[i] {
					continue
				}
				o := &options[i]
				c := float64(at.Distance(o.at))*perM + fixed + o.p*findTime
				if r := (gain + o.gain) / (cost + c); r > nextRate {
					next, nextRate = i, r
				}
			}
			if next < 0 {
				break
			}
			used[next] = true
			o := options[next]
			cost += float64(at.Distance(o.at))*perM + fixed + o.p*findTime
			gain += o.gain
			at = o.at
		}
		if rate := gain / cost; rate > bestRate {
			best, bestRate = options[f.i].at, rate
		}
	}
	return best, bestRate
}

// options lists places of the lattice that may be looked at, nudged off holes that are there.
func (p *planner) options(v *View, hot *track) []option {
	const most = 160
	reachM := 500.0
	about := v.Scout
	if hot != nil {
		reachM, about = 120, hot.at
	}
	eta := p.eta()
	var out []option
	for i := range p.cells {
		c := &p.cells[i]
		if float64(c.at.Distance(about)) > reachM {
			continue
		}
		at := c.at
		if !p.apart(v, at, 20) {
			at = geo.Local{E: at.E + 24, N: at.N + 24}
			if !p.apart(v, at, 20) {
				continue
			}
		}
		reach := p.reach(c.depth)
		chance := -math.Expm1(-p.density(&c.row, c.base, eta) * p.swept(reach, lookTime.Seconds()) * p.mask.at(at))
		gain := chance * findWorth * p.usualValue()
		for _, t := range p.tracks {
			if t.rods > 0 {
				continue
			}
			if q := t.shows(at, reach); q > 0.02 {
				chance = 1 - (1-chance)*(1-q)
				gain += q * p.future.over(&t.b, 9) * p.value(t)
			}
		}
		out = append(out, option{at, chance, gain})
	}
	if len(out) > most { // the likelier ones
		slices.SortStableFunc(out, func(a, b option) int {
			if a.gain > b.gain {
				return -1
			} else if a.gain < b.gain {
				return 1
			}
			return 0
		})
		out = out[:most]
	}
	return out
}

// somewhere is a place for a hole when the neighbourhood is drilled full.
func (p *planner) somewhere(v *View) geo.Local {
	for k := 1; k < 2000; k++ {
		if at := turned(v.Scout, k, 25); p.apart(v, at, 20) {
			return at
		}
	}
	return v.Scout
}
