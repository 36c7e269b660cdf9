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
	Score float64 // successes a minute
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
		singles[i] = single{i, num.Quantise(ratio(o.Chance, r.minutes(from, o), r), r.Step)}
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

// ratio is the gain a minute of a set of options.
func ratio(chance, minutes float64, r Rule) float64 {
	// (PLAN-17) successes over the minutes spent, handling included
	return chance / (minutes + chance*r.Handling)
}

// chain extends a first option greedily by those of the pool that raise the ratio most, or lower it least.
func chain(from geo.Local, options []Option, pool []int, first int, r Rule) ([]int, float64) {
	links := []int{first}
	o := options[first]
	chance, minutes := o.Chance, r.minutes(from, o)
	best := ratio(chance, minutes, r)
	for len(links) < r.Length {
		next, gain, nextChance, nextMinutes := -1, -1.0, 0.0, 0.0
		here := options[links[len(links)-1]].At
		for _, i := range pool {
			if slices.Contains(links, i) {
				continue
			}
			p := options[i].Chance
			for _, l := range links {
				p *= spared(options[l], options[i].At)
			}
			m := r.minutes(here, options[i])
			if g := ratio(chance+p, minutes+m, r); g > gain {
				next, gain, nextChance, nextMinutes = i, g, p, m
			}
		}
		if next < 0 {
			break
		}
		links = append(links, next)
		chance, minutes = chance+nextChance, minutes+nextMinutes
		best = math.Max(best, gain)
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
