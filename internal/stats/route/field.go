package route

import (
	"context"
	"math"
	"slices"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Field is what it costs to get home from everywhere. It is safe for concurrent use.
type Field struct {
	s *searcher // its nodes are settled; its probe is not used any more
}

// Field works out the cost of the way home from every place, up to a limit: the cost that the time left allows. It
// panics on a region without costs. The error is the context's alone.
func (p *Plane) Field(ctx context.Context, home geo.Local, limit quantity.Length) (*Field, error) {
	if p.region.Costs == nil {
		panic("route: a field needs a raster")
	}
	s := p.searcher(home, home, false)
	s.to = -1
	if p.blocked(home) {
		return &Field{s}, nil
	}
	if err := s.run(ctx, s.from, limit.Metres()); err != nil {
		return nil, err
	}
	return &Field{s}, nil
}

// Cell gives the cost from the middle of a cell of the raster; +Inf: no known way within the limit.
func (f *Field) Cell(i int) quantity.Length { return quantity.Length(f.s.cost[:f.s.cells][i]) }

// Cost gives the cost from a place; +Inf: no known way within the limit.
func (f *Field) Cost(at geo.Local) quantity.Length {
	c, _ := f.exit(at)
	return quantity.Length(c)
}

// exit gives the cost of the way home from a place, and the first node on it; -1 when there is none.
func (f *Field) exit(at geo.Local) (best float64, by int32) {
	best, by = math.Inf(1), -1
	s := *f.s
	s.probe = s.Plane.probe()
	if s.blocked(at) {
		return best, by
	}
	try := func(i int32) {
		if i < 0 || math.IsInf(s.cost[i], 1) || s.cost[i]+s.least*s.at(i).Distance(at).Metres() >= best {
			return
		}
		if c, ok := s.stretch(s.at(i), at, s.isEnd(i), true); ok && s.cost[i]+c < best && (!s.isEnd(i) || s.overIn(s.at(i), at)) {
			best, by = s.cost[i]+c, i
		}
	}
	with := func(i int32) { try(s.parent[i]); try(i) }
	if home := s.ends[0]; home.Distance(at).Metres() <= s.endReach() {
		try(s.from)
	}
	s.lattice.within(at, s.endReach(), func(c int) { with(int32(c)) })
	for k, o := range s.corners {
		if o.at.Distance(at).Metres() <= s.endReach() {
			with(int32(s.cells + k))
		}
	}
	return best, by
}

// Way gives the way home from a place.
func (f *Field) Way(at geo.Local) Way {
	s := *f.s
	s.probe = s.Plane.probe()
	switch _, by := f.exit(at); {
	case s.blocked(at):
		return none(FromBlocked)
	case s.blocked(s.ends[0]):
		return none(ToBlocked)
	case at == s.ends[0]:
		return Way{Points: []geo.Local{at}}
	case by < 0:
		return none(NoWay)
	default:
		points := append(s.trace(by), at)
		w := s.way(s.smooth(points))
		slices.Reverse(w.Points)
		return w
	}
}
