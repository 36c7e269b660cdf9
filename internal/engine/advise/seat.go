package advise

import (
	"cmp"
	"slices"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Sitter is somebody who needs a hole.
type Sitter struct {
	Person uuid.UUID
	Age    string // child, adult, elder
	Reach  quantity.Length
}

// SeatHole is an open hole.
type SeatHole struct {
	Hole  uuid.UUID
	At    geo.Local
	Signs int // of fish at it today
}

// Seat is somebody's place in a seat plan. Hole is zero when no hole is left for them that they are walked to.
type Seat struct {
	Person  uuid.UUID
	Hole    uuid.UUID
	Base    quantity.Length // from the base
	Why     string          // near_base, grown_up_by_child, outer, no_hole
	Grownup uuid.UUID       // of a child: the grown-up nearest
}

// Why somebody sits where they sit.
const (
	NearBase = "near_base"         // children and elders, the shortest walk
	ByChild  = "grown_up_by_child" // a grown-up at the hole nearest a child
	Outer    = "outer"             // whoever walks well takes the outer holes
	NoHole   = "no_hole"
)

// spacing is how near another hole must be to a child's for a grown-up to take it: beyond, nobody is near enough.
const spacing = nearGrownUp

// Seats puts people at open holes: children at those nearest the base, each with a grown-up at the nearest hole within 30 m where there is one, then elders, then the
// rest at the holes with most signs of fish. Common practice, no source; ours. Equal holes are taken in order of distance, then identity.
func Seats(people []Sitter, holes []SeatHole, base geo.Local) (out []Seat) {
	free := slices.Clone(holes)
	slices.SortStableFunc(free, func(a, b SeatHole) int {
		return cmp.Or(cmp.Compare(base.Distance(a.At), base.Distance(b.At)), slices.Compare(a.Hole[:], b.Hole[:]))
	})
	order := slices.Clone(people)
	rank := map[string]int{"child": 0, "elder": 1}
	of := func(s Sitter) int {
		if r, ok := rank[s.Age]; ok {
			return r
		}
		return 2
	}
	slices.SortStableFunc(order, func(a, b Sitter) int { return cmp.Or(of(a)-of(b), slices.Compare(a.Person[:], b.Person[:])) })
	taken := map[uuid.UUID]bool{}
	take := func(s Sitter, i int, why string) Seat {
		seat := Seat{Person: s.Person, Hole: free[i].Hole, Base: base.Distance(free[i].At), Why: why}
		free = slices.Delete(free, i, i+1)
		taken[s.Person] = true
		out = append(out, seat)
		return seat
	}
	within := func(s Sitter, i int) bool { return s.Reach <= 0 || base.Distance(free[i].At) <= s.Reach }
	for _, s := range order {
		if taken[s.Person] {
			continue
		}
		i := firstSeat(s, free, within)
		if i < 0 {
			out = append(out, Seat{Person: s.Person, Why: NoHole})
			continue
		}
		at := free[i].At
		switch s.Age {
		case "child":
			take(s, i, NearBase)
			beside(order, &free, taken, at, &out, take)
		case "elder":
			take(s, i, NearBase)
		default:
			take(s, i, Outer)
		}
	}
	return out
}

// firstSeat gives the hole for somebody: the nearest to the base for children and elders, else that with most signs; -1 when none is in reach.
func firstSeat(s Sitter, free []SeatHole, within func(Sitter, int) bool) int {
	best := -1
	for i := range free {
		switch {
		case !within(s, i):
		case best < 0:
			if best = i; s.Age == "child" || s.Age == "elder" {
				return best
			}
		case free[i].Signs > free[best].Signs:
			best = i
		}
	}
	return best
}

// beside puts the next grown-up without a hole at the free hole nearest a child's, where one lies near enough.
func beside(order []Sitter, free *[]SeatHole, taken map[uuid.UUID]bool, child geo.Local, out *[]Seat, take func(Sitter, int, string) Seat) {
	near := -1
	for i, h := range *free {
		if h.At.Distance(child) <= spacing && (near < 0 || h.At.Distance(child) < (*free)[near].At.Distance(child)) {
			near = i
		}
	}
	if near < 0 {
		return
	}
	for _, g := range order {
		if g.Age == "adult" && !taken[g.Person] {
			mine := len(*out) - 1
			take(g, near, ByChild)
			(*out)[mine].Grownup = g.Person
			return
		}
	}
}
