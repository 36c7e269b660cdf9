package intensity

import (
	"cmp"
	"slices"
)

// Level learns by which factor a whole set of expectations was off: the rate's overall size, or that of a class.
// Observations come in groups (neighbourhoods) that share a luck of their own, so a group with much exposure does not
// count as many independent ones. The sums do not depend on the order of observations. The zero Level is not ready:
// use [NewLevel].
type Level struct {
	shape  float64 // of the gamma prior with mean 1
	luck   float64 // variance of the groups' own factors
	groups map[cell]sums
	keys   []cell // sorted
	total  sums   // over the groups, weighed
}

type sums struct{ expected, seen float64 }

// NewLevel makes a level with a gamma prior of mean 1 and variance 1/shape; luck is the variance between groups.
func NewLevel(shape, luck float64) *Level {
	if !(shape > 0 && luck >= 0) {
		panic("intensity: level needs a positive shape")
	}
	return &Level{shape: shape, luck: luck, groups: map[cell]sums{}}
}

// Add takes in what was expected and seen in a group.
func (l *Level) Add(group [2]int32, expected, seen float64) {
	g, ok := l.groups[group]
	if !ok {
		i, _ := slices.BinarySearchFunc(l.keys, cell(group), compareCells)
		l.keys = slices.Insert(l.keys, i, cell(group))
	}
	l.weigh(g, -1)
	g = sums{g.expected + expected, g.seen + seen}
	l.groups[group] = g
	l.weigh(g, 1)
}

func compareCells(a, b cell) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) }

// weigh adds a group to the totals or takes it out, weighed by how much its own luck allows it to tell.
func (l *Level) weigh(g sums, sign float64) {
	// (PLAN-6) weight of a group whose counts vary as mu + luck mu^2
	w := sign / (1 + l.luck*g.expected)
	l.total.expected += w * g.expected
	l.total.seen += w * g.seen
}

// Gamma gives the posterior of the factor, when all expectations are multiplied by scale first: shape and rate.
func (l *Level) Gamma(scale float64) (shape, rate float64) {
	// (PLAN-7) gamma posterior of the factor
	return l.shape + l.total.seen, l.shape + scale*l.total.expected
}

// Mean gives the posterior mean of the factor.
func (l *Level) Mean(scale float64) float64 {
	a, b := l.Gamma(scale)
	return a / b
}

// Age keeps a share of all that was seen and expected.
func (l *Level) Age(keep float64) {
	l.total = sums{}
	for _, k := range l.keys { // in a fixed order: the same evidence gives the same sum
		g := l.groups[k]
		g = sums{keep * g.expected, keep * g.seen}
		l.groups[k] = g
		l.weigh(g, 1)
	}
}

// Clone gives a copy that may go its own way.
func (l *Level) Clone() *Level {
	c := *l
	c.keys = slices.Clone(l.keys)
	c.groups = make(map[cell]sums, len(l.groups))
	for k, g := range l.groups {
		c.groups[k] = g
	}
	return &c
}
