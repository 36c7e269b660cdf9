package rehearse

import (
	"math"
	"math/rand/v2"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/stats/choose"
)

// A tiny case can be solved by trying everything: nine cells in a square and four looks. The lake is one of three with
// chances of their own, so that every look tells something of the other cells, and where to go next hangs on what was seen.
const (
	tinySide  = 3
	tinyCells = tinySide * tinySide
	tinyLooks = 4
	tinyMaps  = 3
	tinyStepM = 60.0 // between cells
	tinyFixed = 1.5  // minutes of drilling and looking
	tinyFind  = 3.0  // minutes that a find takes
	tinyDay   = 60.0 // minutes until a find is worth nothing
)

// tiny is a case: the chances of marks by lake and cell, and where the scout stands.
type tiny struct {
	chance [tinyMaps][tinyCells]float64
	start  int
}

// tinyState is what is known and done in a case.
type tinyState struct {
	weight [tinyMaps]float64 // of each lake, sums to 1
	looked [tinyCells]bool
	at     int
	now    float64 // minutes
	looks  int     // done
}

// chooser says which cell to look at next. Chances of cells that were looked at are 0.
type chooser func(from geo.Local, cells [tinyCells]geo.Local, chances [tinyCells]float64, looksLeft int) int

func newTiny(rng *rand.Rand) (c tiny) {
	for m := range c.chance {
		rich := math.Exp(0.5 * rng.NormFloat64())
		for i := range c.chance[m] {
			c.chance[m][i] = num.Clamp(0.12*rich*math.Exp(0.8*rng.NormFloat64()), 0.01, 0.9)
		}
	}
	c.start = rng.IntN(tinyCells)
	return c
}

func (c *tiny) begin() tinyState {
	s := tinyState{at: c.start}
	for m := range s.weight {
		s.weight[m] = 1.0 / tinyMaps
	}
	return s
}

func tinyAt(cell int) geo.Local {
	return geo.Local{E: tinyStepM * float64(cell%tinySide), N: tinyStepM * float64(cell/tinySide)}
}

// value is the worth from a state on: of the best choices when choose is nil, else of its.
func (c *tiny) value(s tinyState, choose chooser) float64 {
	if s.looks == tinyLooks {
		return 0
	}
	if choose != nil {
		var cells [tinyCells]geo.Local
		var chances [tinyCells]float64
		for i := range cells {
			cells[i] = tinyAt(i)
			if !s.looked[i] {
				for m, w := range s.weight {
					chances[i] += w * c.chance[m][i]
				}
			}
		}
		return c.look(s, choose(tinyAt(s.at), cells, chances, tinyLooks-s.looks), choose)
	}
	best := 0.0
	for i := range tinyCells {
		if !s.looked[i] {
			best = math.Max(best, c.look(s, i, nil))
		}
	}
	return best
}

// look is the worth of looking at a cell and going on.
func (c *tiny) look(s tinyState, cell int, choose chooser) float64 {
	s.now += float64(tinyAt(s.at).Distance(tinyAt(cell)))/60 + tinyFixed
	s.at, s.looked[cell], s.looks = cell, true, s.looks+1
	hit, blank := s, s
	p := 0.0
	for m, w := range s.weight {
		hit.weight[m], blank.weight[m] = w*c.chance[m][cell], w*(1-c.chance[m][cell])
		p += hit.weight[m]
	}
	for m := range s.weight {
		hit.weight[m] /= p
		blank.weight[m] /= 1 - p
	}
	hit.now += tinyFind
	// (REHEARSE-15) V(s) = max over cells of p (1 - t/60 min + V(hit)) + (1 - p) V(blank)
	return p*(1-s.now/tinyDay+c.value(hit, choose)) + (1-p)*c.value(blank, choose)
}

// engineChooses is the engine's own choice among looks, given the same chances.
func engineChooses(from geo.Local, cells [tinyCells]geo.Local, chances [tinyCells]float64, looksLeft int) int {
	var options []choose.Option
	for i, p := range chances {
		if p > 0 {
			options = append(options, choose.Option{At: cells[i], Chance: p, Fixed: tinyFixed, Key: int64(i), Near: 10})
		}
	}
	rule := choose.Rule{PerMinute: 60, Handling: tinyFind, Length: looksLeft, Starts: tinyCells, Step: 1e-5}
	return int(choose.Best(from, options, rule)[0].Key)
}

// solveTiny gives what choose reaches and what could be reached in n cases drawn from a seed.
func solveTiny(seed uint64, n int, choose chooser) (reached, best []float64) {
	rng := num.NewStream(seed, "tiny cases")
	for range n {
		c := newTiny(rng)
		reached, best = append(reached, c.value(c.begin(), choose)), append(best, c.value(c.begin(), nil))
	}
	return reached, best
}
