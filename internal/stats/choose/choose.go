// Package choose picks the next of many options when each may or may not pay: the start of the chain of options that
// pays most a minute.
//
// Start with [Best]. It assumes that all options pay alike when they pay, and that trying one lowers the chance of those
// near it. It leaves out why a chance is what it is, and everything that forbids an option: the caller asks for the next
// best until one may be taken.
// Model note: docs/models/search.md.
package choose

import (
	"cmp"
	"math"
	"slices"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
)

// Option is one thing that may be tried.
type Option struct {
	At     geo.Local
	Chance float64 // that it pays
	Fixed  float64 // minutes that it costs beside the way to it
	Key    int64   // identity, for ties
	Near   float64 // radius in metres within which trying it lowers other chances
	Worth  float64 // of a success; 0: 1
	Takes  float64 // minutes that a success takes; 0: the rule's
}

// Rule are the chooser's constants.
type Rule struct {
	PerMinute float64 // metres walked a minute
	Handling  float64 // minutes that a success takes
	Length    int     // options in a chain
	Starts    int     // best single options from which chains are tried
	Step      float64 // resolution of scores: smaller differences are no differences
}

// Scored is an option with the score of the best chain found that starts with it.
type Scored struct {
	Option
	Score float64 // worth a minute
	Chain []int   // indices into the options, the first included
}

// Best ranks the most promising options by the chain that each begins, best first, equal scores by key.
func Best(from geo.Local, options []Option, r Rule) []Scored {
	type single struct {
		i     int
		score float64
	}
	singles := make([]single, len(options))
	for i, o := range options {
		singles[i] = single{i, num.Quantise(r.begin(from, o).ratio(), r.Step)}
	}
	slices.SortFunc(singles, func(a, b single) int {
		return cmp.Or(cmp.Compare(b.score, a.score), cmp.Compare(options[a.i].Key, options[b.i].Key))
	})
	pool := singles[:min(len(singles), 4*r.Starts)]
	out := make([]Scored, 0, len(singles))
	for k, s := range singles {
		c := Scored{Option: options[s.i], Score: s.score, Chain: []int{s.i}}
		if k < r.Starts {
			near := make([]int, len(pool))
			for j, p := range pool {
				near[j] = p.i
			}
			c.Chain, c.Score = chain(from, options, near, s.i, r)
		}
		out = append(out, c)
	}
	// chains beat their own first link, so only those that were extended are ranked against one another
	head := out[:min(len(out), r.Starts)]
	slices.SortStableFunc(head, func(a, b Scored) int {
		return cmp.Or(cmp.Compare(b.Score, a.Score), cmp.Compare(a.Key, b.Key))
	})
	return out
}

// minutes gives what an option costs from a place.
func (r Rule) minutes(from geo.Local, o Option) float64 {
	return float64(from.Distance(o.At))/r.PerMinute + o.Fixed
}

// sum is what a chain of options promises.
type sum struct{ worth, minutes float64 }

func (s sum) ratio() float64 {
	// (PLAN-17) worth over the minutes spent, handling included
	return s.worth / s.minutes
}

func (r Rule) begin(from geo.Local, o Option) sum { return r.add(sum{}, from, o, o.Chance) }

// add appends an option, whose chance is p by now.
func (r Rule) add(s sum, from geo.Local, o Option, p float64) sum {
	worth, takes := o.Worth, o.Takes
	if worth == 0 {
		worth = 1
	}
	if takes == 0 {
		takes = r.Handling
	}
	return sum{s.worth + p*worth, s.minutes + r.minutes(from, o) + p*takes}
}

// chain extends a first option greedily by those of the pool that raise the ratio most, or lower it least.
func chain(from geo.Local, options []Option, pool []int, first int, r Rule) ([]int, float64) {
	links := []int{first}
	total := r.begin(from, options[first])
	best := total.ratio()
	left := make([]float64, len(pool)) // chances that are left
	for k, i := range pool {
		left[k] = options[i].Chance * spared(options[first], options[i].At)
	}
	for len(links) < r.Length {
		next, most := -1, sum{0, 1}
		here := options[links[len(links)-1]].At
		for k, i := range pool {
			if slices.Contains(links, i) {
				continue
			}
			if s := r.add(total, here, options[i], left[k]); next < 0 || s.ratio() > most.ratio() {
				next, most = i, s
			}
		}
		if next < 0 {
			break
		}
		links = append(links, next)
		total = most
		best = math.Max(best, total.ratio())
		for k, i := range pool {
			left[k] *= spared(options[next], options[i].At)
		}
	}
	return links, num.Quantise(best, r.Step)
}

// spared gives the share of a chance that is left at p after an option was tried.
func spared(tried Option, p geo.Local) float64 {
	d := float64(tried.At.Distance(p))
	if d > 4*tried.Near {
		return 1
	}
	// (PLAN-18) overlap of two footprints, Gaussian form
	return 1 - 0.93*math.Exp(-d*d/(tried.Near*tried.Near))
}
