package journal

import (
	"strings"
	"testing"
)

// An outline that crosses itself says nothing of what lies inside: it is refused, with the corners named.
func TestHazardOutlineCrossing(t *testing.T) {
	at := func(pairs ...int64) (out []Point) {
		for i := 0; i < len(pairs); i += 2 {
			out = append(out, Point{Lat: 479_000_000 + pairs[i], Lon: -450_000_000 + pairs[i+1]})
		}
		return out
	}
	for _, c := range []struct {
		name    string
		shape   string
		points  []Point
		crosses bool
	}{
		{"square", "area", at(0, 0, 0, 100, 100, 100, 100, 0), false},
		{"closed square", "area", at(0, 0, 0, 100, 100, 100, 100, 0, 0, 0), false},
		{"corner told twice", "area", at(0, 0, 0, 0, 0, 100, 100, 100, 100, 0), false},
		{"triangle", "area", at(0, 0, 0, 100, 100, 50), false},
		{"hollow", "area", at(0, 0, 0, 100, 50, 50, 100, 100, 100, 0), false},
		{"bow tie", "area", at(0, 0, 100, 100, 0, 100, 100, 0), true},
		{"five corners, two crossings", "area", at(0, 0, 0, 100, 100, 20, 40, 120, 100, 100), true},
		{"line that crosses itself", "line", at(0, 0, 100, 100, 0, 100, 100, 0), false},
	} {
		err := (&Hazard{What: "thin", Shape: c.shape, Points: c.points, Report: "present"}).Check()
		if (err != nil) != c.crosses || c.crosses && !strings.Contains(err.Error(), "crosses itself, between corners") {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}
