package hours

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mathext"

	"icehand/internal/stats/search"
)

// Spells says how events come within a day: in short busy spells with long lulls, or evenly. All times are in the same
// unit, that of a step's exposure by one rod or line.
type Spells struct {
	Busy, Lull float64 // usual lengths
	Quiet      float64 // rate in a lull against that in a spell
	GapShape   float64 // gamma shape of the lulls' own lengths about their mean
	GapSeen    float64 // as if so many lulls of the usual length had been seen
}

// UsualSpells are 10 to 20 minutes with a lull of a couple of hours (common practice, no source), in minutes; the rest is
// our own choice.
var UsualSpells = Spells{Busy: 15, Lull: 120, Quiet: 0.1, GapShape: 4, GapSeen: 2}

// Span is a spell: the first step in it and the first after it.
type Span struct{ From, To int }

// Found is what a day's steps tell.
type Found struct {
	Spans []Span
	Busy  float64 // chance that the last step lies in a spell
	Lead  float64 // natural log of how much likelier the counts are in spells than at an even rate
	// Told is false when there are too few events to tell: Lead under ln 10, or no spell.
	Told bool
}

const (
	rateSteps = 25
	leastRate = 0.003 // events by unit of exposure; in minutes 0.2 an hour
	mostRate  = 1.0
)

// Find looks for spells in counts by steps of equal length, in order; a step without exposure tells nothing. step is the
// length of one in units of time.
func (s Spells) Find(c Counts, step float64) Found {
	check(c, len(c.Events))
	n := len(c.Events)
	if events, _ := total(c); n == 0 || events == 0 {
		return Found{}
	}
	var even, spells []float64
	var posts [][]float64
	for i := range rateSteps {
		λ := leastRate * math.Pow(mostRate/leastRate, float64(i)/(rateSteps-1))
		one := 0.0
		for t := range c.Events {
			one += logPoisson(c.Events[t], λ*c.Exposure[t])
		}
		lead, post := s.forward(c, step, λ)
		even, spells, posts = append(even, one), append(spells, lead), append(posts, post)
	}
	out := Found{Lead: logMean(spells) - logMean(even)}
	busy := make([]float64, n)
	norm := logMean(spells) + math.Log(rateSteps)
	for i, post := range posts {
		w := math.Exp(spells[i] - norm)
		for t, p := range post {
			busy[t] += w * p
		}
	}
	for t := 0; t < n; t++ {
		if busy[t] <= 0.5 {
			continue
		}
		from := t
		for t < n && busy[t] > 0.5 {
			t++
		}
		out.Spans = append(out.Spans, Span{from, t})
	}
	out.Busy = busy[n-1]
	out.Told = out.Lead >= math.Log(10) && len(out.Spans) > 0
	return out
}

// forward gives the log likelihood of the two states with a busy rate, and for every step the chance of being busy.
func (s Spells) forward(c Counts, step, λ float64) (float64, []float64) {
	n := len(c.Events)
	on := search.TwoState{On: s.Busy, Off: s.Lull}
	start := on.OnShare()
	// (HOUR-8) two states, changing at the rates of their mean lengths [search.TwoState]
	toBusy := on.OnAfter(step)
	toLull := (1 - start) * -math.Expm1(-(1/s.Busy+1/s.Lull)*step)
	like := make([][2]float64, n) // lull, busy
	alpha := make([][2]float64, n)
	log := 0.0
	p := [2]float64{1 - start, start}
	for t := range n {
		a, b := logPoisson(c.Events[t], s.Quiet*λ*c.Exposure[t]), logPoisson(c.Events[t], λ*c.Exposure[t])
		most := math.Max(a, b)
		like[t] = [2]float64{math.Exp(a - most), math.Exp(b - most)}
		alpha[t] = [2]float64{p[0] * like[t][0], p[1] * like[t][1]}
		sum := alpha[t][0] + alpha[t][1]
		log += most + math.Log(sum)
		alpha[t][0], alpha[t][1] = alpha[t][0]/sum, alpha[t][1]/sum
		p = [2]float64{alpha[t][0]*(1-toBusy) + alpha[t][1]*toLull, alpha[t][0]*toBusy + alpha[t][1]*(1-toLull)}
	}
	busy := make([]float64, n)
	beta := [2]float64{1, 1}
	for t := n - 1; t >= 0; t-- {
		a, b := alpha[t][0]*beta[0], alpha[t][1]*beta[1]
		busy[t] = b / (a + b)
		x, y := like[t][0]*beta[0], like[t][1]*beta[1]
		beta = [2]float64{(1-toBusy)*x + toBusy*y, toLull*x + (1-toLull)*y}
		sum := beta[0] + beta[1]
		beta[0], beta[1] = beta[0]/sum, beta[1]/sum
	}
	return log, busy
}

// logPoisson leaves out ln y!, which is the same for every rate.
func logPoisson(y, μ float64) float64 {
	if y == 0 {
		return -μ
	}
	return y*math.Log(math.Max(μ, 1e-12)) - μ
}

// logMean gives the logarithm of the mean of what has these logarithms.
func logMean(x []float64) float64 { return floats.LogSumExp(x) - math.Log(float64(len(x))) }

// Next gives how long until the next spell begins when a lull has lasted so long already, from the lulls seen: the middle
// of it and the ends that hold 8 in 10.
func (s Spells) Next(lulls []float64, lasted float64) (low, middle, high float64) {
	seen := search.Gamma{Shape: s.GapSeen * s.GapShape, Rate: s.GapSeen * s.Lull}
	for _, g := range lulls {
		seen = seen.Update(s.GapShape, g)
	}
	// (HOUR-9) lull ~ gamma(k, β), β ~ gamma(A, B): P(lull < x) = I(k, A) at x/(B + x)
	below := func(x float64) float64 { return mathext.RegIncBeta(s.GapShape, seen.Shape, x/(seen.Rate+x)) }
	gone := below(lasted)
	at := func(p float64) float64 {
		lo, hi := lasted, lasted+1000*s.Lull
		for range 80 {
			if mid := (lo + hi) / 2; below(mid) < gone+p*(1-gone) {
				lo = mid
			} else {
				hi = mid
			}
		}
		return (lo+hi)/2 - lasted
	}
	return at(0.1), at(0.5), at(0.9)
}
