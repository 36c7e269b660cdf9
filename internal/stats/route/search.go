package route

import (
	"context"
	"math"
	"slices"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Way gives the cheapest way from a place to another; there and back cost the same. The error is the context's alone.
func (p *Plane) Way(ctx context.Context, from, to geo.Local) (Way, error) {
	switch {
	case p.blocked(from):
		return none(FromBlocked), nil
	case p.blocked(to):
		return none(ToBlocked), nil
	case from == to:
		return Way{Points: []geo.Local{from}}, nil
	case less(from, to):
		return p.find(ctx, from, to)
	}
	w, err := p.find(ctx, to, from) // always searched the same way round, so that there and back are one
	slices.Reverse(w.Points)
	return w, err
}

func less(a, b geo.Local) bool { return a.E < b.E || a.E == b.E && a.N < b.N }

func (p *Plane) find(ctx context.Context, from, to geo.Local) (Way, error) {
	s := p.searcher(from, to, false)
	if cost, ok := s.between(s.from, s.to); ok && cost <= p.least*from.Distance(to).Metres()*(1+1e-12) {
		return s.way([]geo.Local{from, to}), nil // nothing can be cheaper
	}
	if err := s.run(ctx, s.from, math.Inf(1)); err != nil {
		return none(NoWay), err
	}
	if s.parent[s.to] < 0 {
		return none(NoWay), nil
	}
	return s.way(s.smooth(s.trace(s.to))), nil
}

// Steps gives the cheapest way by steps between neighbouring cells, from and to their middles: up to 8 % too dear, and the
// yardstick of [Plane.Way]. It panics on a region without costs.
func (p *Plane) Steps(ctx context.Context, from, to geo.Local) (Way, error) {
	if p.region.Costs == nil {
		panic("route: steps need a raster")
	}
	a, okA := p.lattice.cellAt(from)
	b, okB := p.lattice.cellAt(to)
	switch {
	case !okA || p.blocked(p.lattice.centre(a)):
		return none(FromBlocked), nil
	case !okB || p.blocked(p.lattice.centre(b)):
		return none(ToBlocked), nil
	}
	s := p.searcher(p.lattice.centre(a), p.lattice.centre(b), true)
	s.to = int32(b)
	if err := s.run(ctx, int32(a), math.Inf(1)); err != nil {
		return none(NoWay), err
	}
	if a != b && s.parent[b] < 0 {
		return none(NoWay), nil
	}
	return s.way(s.trace(int32(b))), nil
}

// blocked tells whether a way can neither begin nor end at a place.
func (p *Plane) blocked(at geo.Local) bool {
	if p.region.Costs != nil {
		c, ok := p.lattice.cellAt(at)
		if !ok || math.IsInf(p.factor(c), 1) {
			return true
		}
	}
	if len(p.region.Outline.Outer) > 0 {
		in := p.region.Outline.ShoreDistance(at)
		if !p.region.Outline.Contains(at) {
			in = -in
		}
		if in+p.region.Ends.Metres() < math.Max(p.region.Keep.Metres(), leastKeep)-slack {
			return true
		}
	}
	return p.inObstacle(at) || !p.clear(at, func(e edge) bool { return !e.outline })
}

// searcher is one search. Nodes are the cells, if there are costs, then the corners, then start and goal.
type searcher struct {
	*probe
	cells    int
	from, to int32 // to: -1 for none
	ends     [2]geo.Local
	steps    bool // between neighbouring cells alone
	cost     []float64
	parent   []int32
	done     []bool
	queue    heap
}

func (p *Plane) searcher(from, to geo.Local, steps bool) *searcher {
	s := &searcher{probe: p.probe(), ends: [2]geo.Local{from, to}, steps: steps}
	if p.region.Costs != nil {
		s.cells = p.lattice.w * p.lattice.h
	}
	n := s.cells + len(p.corners) + 2
	s.from, s.to = int32(n-2), int32(n-1)
	s.cost, s.parent, s.done = make([]float64, n), make([]int32, n), make([]bool, n)
	for i := range s.cost {
		s.cost[i], s.parent[i] = math.Inf(1), -1
	}
	return s
}

func (s *searcher) at(i int32) geo.Local {
	switch k := int(i) - s.cells; {
	case k < 0:
		return s.lattice.centre(int(i))
	case k < len(s.corners):
		return s.corners[k].at
	default:
		return s.ends[k-len(s.corners)]
	}
}

// isEnd tells whether a node is start or goal.
func (s *searcher) isEnd(i int32) bool { return int(i) >= s.cells+len(s.corners) }

// between gives the cost of the stretch between two nodes, and whether it may be walked.
func (s *searcher) between(i, j int32) (float64, bool) {
	a, b := s.at(i), s.at(j)
	cost, ok := s.stretch(a, b, s.isEnd(i), s.isEnd(j))
	if ok && s.region.Ends > 0 && s.isEnd(i) {
		// an end may lie across the bank; the way from it may not run on there
		switch {
		case s.isEnd(j):
			ok = s.overIn(a, b)
		case int(j) < s.cells && math.IsInf(s.cost[j], 1): // corners, and what was reached before, lie inside
			ok = s.inOutline(b)
		}
	}
	return cost, ok
}

// overIn tells whether the stretch between two ends that crosses no edge of the outline between them runs inside of it.
func (s *searcher) overIn(a, b geo.Local) bool {
	part, heed := s.rein(a, b, a.Distance(b).Metres(), true, true)
	return !heed || s.inOutline(part[0])
}

// run finds the cheapest way to the goal, or to all nodes within the limit when there is no goal [Hart1968].
func (s *searcher) run(ctx context.Context, start int32, limit float64) error {
	s.cost[start] = 0
	s.queue.push(0, start)
	for count := 0; len(s.queue) > 0; count++ {
		if count%1024 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		i := s.queue.pop()
		if s.done[i] {
			continue
		}
		s.done[i] = true
		if i == s.to {
			return nil
		}
		s.neighbours(i, func(j int32) {
			if !s.done[j] {
				s.relax(i, j, limit)
			}
		})
	}
	return nil
}

// relax makes the way to j cheaper by i, or past it straight from where the way to i last bent [Nash2007]: so ways are
// not bound to the raster's eight directions.
func (s *searcher) relax(i, j int32, limit float64) {
	best, by := s.cost[j], int32(-1)
	to := s.at(j)
	// (ROUTE-3) no stretch is cheaper than its length at the least factor
	atLeast := func(k int32) float64 { return s.cost[k] + s.least*s.at(k).Distance(to).Metres() }
	if g := s.parent[i]; g >= 0 && !s.steps && s.cells > 0 && atLeast(g) < best {
		if c, ok := s.between(g, j); ok && s.cost[g]+c < best {
			best, by = s.cost[g]+c, g
		}
	}
	if atLeast(i) < best {
		if c, ok := s.between(i, j); ok && s.cost[i]+c < best {
			best, by = s.cost[i]+c, i
		}
	}
	if by < 0 || best > limit {
		return
	}
	s.cost[j], s.parent[j] = best, by
	rank := best
	if s.to >= 0 {
		rank += s.least * to.Distance(s.at(s.to)).Metres()
	}
	s.queue.push(rank, j)
}

// neighbours calls visit with the nodes that may follow on a node.
func (s *searcher) neighbours(i int32, visit func(int32)) {
	if s.cells == 0 {
		for j := range int32(len(s.cost)) {
			if j != i {
				visit(j)
			}
		}
		return
	}
	corner := func(k int32) { visit(int32(s.cells) + k) }
	switch k := int(i) - s.cells; {
	case k < 0:
		s.besides(int(i), visit)
		if s.steps {
			return
		}
		for _, c := range s.near[i] {
			corner(c)
		}
	case k < len(s.corners):
		s.lattice.within(s.corners[k].at, linkCells*s.lattice.cell, func(c int) { visit(int32(c)) })
		for _, c := range s.linked[k] {
			corner(c)
		}
	default:
		s.lattice.within(s.at(i), s.endReach(), func(c int) { visit(int32(c)) })
		for c, o := range s.corners {
			if o.at.Distance(s.at(i)).Metres() <= math.Max(s.endReach(), o.reachM) {
				corner(int32(c))
			}
		}
	}
	if s.to >= 0 && i != s.to && !s.steps {
		reach := s.endReach()
		if k := int(i) - s.cells; k >= 0 && k < len(s.corners) {
			reach = math.Max(reach, s.corners[k].reachM)
		}
		if s.at(i).Distance(s.at(s.to)).Metres() <= reach {
			visit(s.to)
		}
	}
}

// endReach is how far start and goal are linked to the middles of cells.
func (p *Plane) endReach() float64 { return linkCells*p.lattice.cell + p.region.Ends.Metres() }

// besides calls visit with the eight cells round a cell.
func (s *searcher) besides(c int, visit func(int32)) {
	l := s.lattice
	for dj := -1; dj <= 1; dj++ {
		for di := -1; di <= 1; di++ {
			if i, j := c%l.w+di, c/l.w+dj; (di != 0 || dj != 0) && l.has(i, j) {
				visit(int32(j*l.w + i))
			}
		}
	}
}

// trace gives the places from the start to a node.
func (s *searcher) trace(i int32) []geo.Local {
	var out []geo.Local
	for ; i >= 0; i = s.parent[i] {
		out = append(out, s.at(i))
	}
	slices.Reverse(out)
	return out
}

func (s *searcher) way(points []geo.Local) Way {
	w := Way{Points: points, Cost: quantity.Length(s.costOf(points, true, true))}
	for k := 1; k < len(points); k++ {
		w.Length += points[k-1].Distance(points[k])
	}
	return w
}

// heap is a queue of nodes, lowest rank first, equal ranks by node.
type heap []ranked

type ranked struct {
	rank float64
	node int32
}

func (h heap) less(a, b int) bool {
	return h[a].rank < h[b].rank || h[a].rank == h[b].rank && h[a].node < h[b].node
}

func (h *heap) push(rank float64, node int32) {
	*h = append(*h, ranked{rank, node})
	q := *h
	for k := len(q) - 1; k > 0 && q.less(k, (k-1)/2); k = (k - 1) / 2 {
		q[k], q[(k-1)/2] = q[(k-1)/2], q[k]
	}
}

func (h *heap) pop() int32 {
	q := *h
	top := q[0].node
	last := len(q) - 1
	q[0] = q[last]
	q = q[:last]
	*h = q
	for k := 0; ; {
		m := k
		for _, c := range []int{2*k + 1, 2*k + 2} {
			if c < last && q.less(c, m) {
				m = c
			}
		}
		if m == k {
			return top
		}
		q[k], q[m] = q[m], q[k]
		k = m
	}
}
