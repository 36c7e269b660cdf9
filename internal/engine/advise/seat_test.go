package advise

import (
	"testing"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// The party of the worked day at eight holes: children nearest the base with a grown-up beside, the elder next, the last grown-up where the signs are.
func TestSeats(t *testing.T) {
	id := func(k byte) uuid.UUID { return uuid.UUID{k} }
	people := []Sitter{{id(1), "adult", 1000}, {id(2), "adult", 1000}, {id(3), "child", 300}, {id(4), "child", 300}, {id(5), "elder", 400}}
	var holes []SeatHole
	for k := range 8 {
		holes = append(holes, SeatHole{Hole: id(byte(10 + k)), At: geo.Local{E: float64(20 * k)}})
	}
	holes[7].Signs = 9
	by := map[uuid.UUID]Seat{}
	hole := map[uuid.UUID]bool{}
	for _, s := range Seats(people, holes, geo.Local{}) {
		by[s.Person] = s
		if hole[s.Hole] {
			t.Errorf("two sit at %v", s.Hole)
		}
		hole[s.Hole] = true
	}
	for who, want := range map[byte]struct {
		hole byte
		why  string
	}{3: {10, NearBase}, 1: {11, ByChild}, 4: {12, NearBase}, 2: {13, ByChild}, 5: {14, NearBase}} {
		if s := by[id(who)]; s.Hole != id(want.hole) || s.Why != want.why {
			t.Errorf("%d sits at %v, %s", who, s.Hole[0], s.Why)
		}
	}
	if by[id(3)].Grownup != id(1) || by[id(3)].Base != 0 {
		t.Errorf("%+v", by[id(3)])
	}
	alone := Seats(append(people, Sitter{id(6), "adult", 1000}), holes, geo.Local{})
	if last := alone[len(alone)-1]; last.Person != id(6) || last.Hole != id(17) || last.Why != Outer {
		t.Errorf("the grown-up who is free sits at %v, %s", last.Hole[0], last.Why)
	}
}

// A reach on both sides of its line; too few holes; nobody; holes too far apart for a grown-up to be near.
func TestSeatsEdges(t *testing.T) {
	far := []SeatHole{{Hole: uuid.UUID{9}, At: geo.Local{N: 100}}}
	for reach, want := range map[quantity.Length]string{100: NearBase, 99.9: NoHole, 0: NearBase} {
		if got := Seats([]Sitter{{uuid.UUID{1}, "child", reach}}, far, geo.Local{})[0].Why; got != want {
			t.Errorf("reach %v: %s", reach, got)
		}
	}
	two := Seats([]Sitter{{uuid.UUID{1}, "adult", 0}, {uuid.UUID{2}, "adult", 0}}, far, geo.Local{})
	if len(two) != 2 || two[1].Why != NoHole {
		t.Errorf("%+v", two)
	}
	if got := Seats(nil, far, geo.Local{}); len(got) != 0 {
		t.Errorf("%+v", got)
	}
	for gap, want := range map[float64]bool{30: true, 30.5: false} {
		s := Seats([]Sitter{{uuid.UUID{1}, "child", 0}, {uuid.UUID{2}, "adult", 0}}, []SeatHole{{Hole: uuid.UUID{9}}, {Hole: uuid.UUID{8}, At: geo.Local{E: gap}}}, geo.Local{})
		if (s[0].Grownup != uuid.Nil) != want {
			t.Errorf("at %v m: %+v", gap, s)
		}
	}
}
