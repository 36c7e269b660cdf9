package dusk

import (
	"cmp"
	"math"
	"slices"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
)

// Form is the shape of the bottom at a place.
type Form string

// The forms.
const (
	Hump  Form = "hump"  // shallower than the water round it
	Break Form = "break" // the bottom falls away to one side
	Flat  Form = "flat"
	Spot  Form = "spot" // walleye were landed there before, whatever the bottom
	Here  Form = "here" // where the lines are now
)

// Place is a place that was weighed.
type Place struct {
	At     geo.Local
	Form   Form
	Depth  Range
	Known  bool            // the depth is
	Relief quantity.Length // how much deeper the water goes within 150 m
	Edge   float64         // 0 on the flat, 1 on a sharp edge
	Off    quantity.Length // across the way home, 0 on it
	OnWay  bool            // there is a way home, and the place lies on or near it
	Fish   int             // walleye on record there
}

const (
	edgeReach    = 150.0                 // m within which deeper water makes an edge; our own assumption
	edgeScale    = 2.0                   // m of relief at which an edge is most of what it can be; our own assumption
	middlingEdge = 0.5                   // where the depths round a place are not known; our own assumption
	humpShare    = 0.75                  // of the ring that is deeper makes a hump; our own assumption
	humpRise     = 0.5                   // m by which the ring must be deeper to count; within what a chart errs
	ring         = 8                     // places about a place that are asked
	nearWay      = 400 * quantity.Metre  // from the way home that is still near it: within a reading's reach; our own assumption
	reach        = 1000 * quantity.Metre // from here within which places are looked for without a way; our own assumption
	apart        = 150 * quantity.Metre
	mostPlaces   = 8
	lattice      = 75.0 // m between places looked at
	mostLooked   = 6000
	leastDepth   = 2 * quantity.Metre  // shallower is left out; our own assumption
	deepest      = 12 * quantity.Metre // deeper too: what is landed from there seldom lives when put back [Lyon2022]
)

// edge gives how much of an edge a relief makes.
func edge(relief quantity.Length, _ Form, known bool) float64 {
	if !known {
		return middlingEdge
	}
	// (DUSK-16)
	return -math.Expm1(-relief.Metres() / edgeScale)
}

// reliefAt gives how much deeper the water goes about a place, and the form of the bottom.
func reliefAt(s *ground.Surface, p geo.Local) (relief quantity.Length, form Form, known bool) {
	z := s.At(p)
	if !z.Known {
		return 0, Flat, false
	}
	deeper, asked := 0, 0
	for k := range ring {
		a := 2 * math.Pi * float64(k) / ring
		q := s.At(p.Add(geo.Local{E: edgeReach * math.Sin(a), N: edgeReach * math.Cos(a)}))
		if !q.Known {
			continue
		}
		asked++
		d := q.Mean - z.Mean
		relief = max(relief, d)
		if d.Metres() >= humpRise {
			deeper++
		}
	}
	switch {
	case asked < ring/2:
		return 0, Flat, false
	case float64(deeper) >= humpShare*float64(asked):
		form = Hump
	case edge(relief, "", true) > 0.4:
		form = Break
	default:
		form = Flat
	}
	return relief, form, true
}

// Search is where places are looked for.
type Search struct {
	From     geo.Local
	Way      []geo.Local       // home, from here on; may be empty
	Surfaces []*ground.Surface // finest first; nil ones are passed over
	Belief   *Belief
}

// places lists those worth weighing: where the lines are now, spots on record, and edges near the way home or near here.
func (s Search) places() []Place {
	out := []Place{s.place(s.From, Here)}
	if s.Belief != nil {
		for _, r := range s.Belief.spots {
			if r.fish > 0 && s.near(r.at) {
				p := s.place(r.at, Spot)
				p.Fish = int(r.fish + 0.5)
				out = append(out, p)
			}
		}
	}
	slices.SortStableFunc(out[1:], func(a, b Place) int { return cmp.Compare(b.Fish, a.Fish) })
	out = out[:min(len(out), 1+mostPlaces/2)]
	for _, p := range s.edges() {
		if len(out) > mostPlaces {
			break
		}
		if !slices.ContainsFunc(out, func(o Place) bool { return o.At.Distance(p.At) < apart }) {
			out = append(out, p)
		}
	}
	return out
}

// place describes a place. The form that is told stands for one that the bottom gives.
func (s Search) place(at geo.Local, form Form) Place {
	p := Place{At: at, Form: form, Depth: unknownDepth, Edge: middlingEdge}
	for _, g := range s.Surfaces {
		if g == nil {
			continue
		}
		z := g.At(at)
		if !z.Known {
			continue
		}
		relief, f, known := reliefAt(g, at)
		p.Depth, p.Known, p.Relief, p.Edge = z1(z), true, relief, edge(relief, f, known)
		if form == "" {
			p.Form = f
		}
		break
	}
	if len(s.Way) > 1 {
		p.Off = geo.FootOn(s.Way, at).Off
		if p.Off < 0 {
			p.Off = -p.Off
		}
		p.OnWay = p.Off <= nearWay
	}
	return p
}

// depth gives the depth by the finest surface that knows it.
func (s Search) depth(at geo.Local) ground.Depth {
	for _, g := range s.Surfaces {
		if g != nil {
			if z := g.At(at); z.Known {
				return z
			}
		}
	}
	return ground.Depth{}
}

// near tells whether a place lies near the way home or near here.
func (s Search) near(p geo.Local) bool {
	if p.Distance(s.From) <= reach {
		return true
	}
	return len(s.Way) > 1 && math.Abs(geo.FootOn(s.Way, p).Off.Metres()) <= nearWay.Metres()
}

// edges looks over the finest surface that knows a stretch of water for its sharpest edges, best first.
func (s Search) edges() []Place {
	var out []Place
	for _, at := range s.lattice() {
		if z := s.depth(at); z.Known && z.Mean >= leastDepth && z.Mean <= deepest {
			if p := s.place(at, ""); p.Form != Flat && p.Known {
				out = append(out, p)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Place) int {
		return cmp.Or(cmp.Compare(num.Quantise(b.Edge, 0.02), num.Quantise(a.Edge, 0.02)), cmp.Compare(a.At.Distance(s.From), b.At.Distance(s.From)))
	})
	var kept []Place
	for _, p := range out {
		if len(kept) < mostPlaces && !slices.ContainsFunc(kept, func(o Place) bool { return o.At.Distance(p.At) < apart }) {
			kept = append(kept, p)
		}
	}
	return kept
}

// lattice gives the places looked at: about here, then beside the way home, on whole multiples of the lattice so that a step
// of the guide moves none.
func (s Search) lattice() []geo.Local {
	seen := map[[2]int]bool{}
	var out []geo.Local
	about := func(c geo.Local, r quantity.Length) {
		lo, hi := int(math.Floor((c.E-r.Metres())/lattice)), int(math.Ceil((c.E+r.Metres())/lattice))
		down, up := int(math.Floor((c.N-r.Metres())/lattice)), int(math.Ceil((c.N+r.Metres())/lattice))
		for y := down; y <= up; y++ {
			for x := lo; x <= hi; x++ {
				p := geo.Local{E: float64(x) * lattice, N: float64(y) * lattice}
				if len(out) < mostLooked && !seen[[2]int{x, y}] && c.Distance(p) <= r {
					seen[[2]int{x, y}] = true
					out = append(out, p)
				}
			}
		}
	}
	about(s.From, reach)
	if len(s.Way) > 1 {
		length := geo.FootOn(s.Way, s.Way[0]).Ahead
		for d := quantity.Length(0); d <= length; d += nearWay {
			about(geo.PointAlong(s.Way, d), nearWay)
		}
	}
	return out
}
