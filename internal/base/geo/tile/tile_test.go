package tile

import (
	"math"
	"testing"

	"icehand/internal/base/geo"
)

// The formula of web maps worked out independently in Python, and npm pmtiles 4.5.0, zxyToTileId.
func TestReference(t *testing.T) {
	lake := geo.Position{Lat: 46.2, Lon: -93.7}
	if a, b := At(lake, 12), At(lake, 14); a != (Tile{12, 981, 1453}) || b != (Tile{14, 3927, 5815}) {
		t.Error(a, b)
	}
	if r := Pixel(46.2, 14, 256).Metres(); math.Abs(r-6.61317) > 1e-4 {
		t.Error(r)
	}
	for id, x := range map[int]Tile{0: {0, 0, 0}, 4: {1, 1, 0}, 5: {2, 0, 0}, 9007901: {12, 981, 1453}} {
		if x.ID() != id {
			t.Errorf("%v has the number %d, want %d", x, x.ID(), id)
		}
	}
}

// Numbers of a level follow those of the level before, each once, and neighbours along the curve touch.
func TestNumbersFollowTheCurve(t *testing.T) {
	next := 0
	for z := range 6 {
		at := map[int]Tile{}
		for x := range 1 << z {
			for y := range 1 << z {
				at[Tile{z, x, y}.ID()] = Tile{z, x, y}
			}
		}
		if len(at) != 1<<(2*z) {
			t.Fatalf("level %d: %d numbers", z, len(at))
		}
		for i := range len(at) {
			a, ok := at[next+i]
			b, more := at[next+i+1]
			if dx, dy := a.X-b.X, a.Y-b.Y; !ok || more && dx*dx+dy*dy != 1 {
				t.Fatalf("level %d: %v then %v", z, a, b)
			}
		}
		next += len(at)
	}
}

func TestEdges(t *testing.T) {
	if a := At(geo.Position{Lat: 90, Lon: 180}, 3); a != (Tile{3, 7, 0}) {
		t.Error(a)
	}
	if a := At(geo.Position{Lat: -90, Lon: -180}, 3); a != (Tile{3, 0, 7}) {
		t.Error(a)
	}
}
