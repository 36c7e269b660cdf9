package safety

import (
	"fmt"
	"math"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// homeLine runs 500 m south, then 300 m west; worked out by hand.
var homeLine = []geo.Local{{E: 0, N: 500}, {E: 0, N: 0}, {E: -300, N: 0}}

func TestSteerAlong(t *testing.T) {
	for _, c := range []struct {
		name    string
		here    geo.Local
		off     quantity.Length
		right   bool
		on      bool
		to      geo.Local
		bearing float64
		leg     float64
		turns   bool
		then    float64
		left    float64
	}{
		{"on the line", geo.Local{E: 0, N: 400}, 0, false, true, geo.Local{}, 180, 400, true, 270, 700},
		{"10 m left, walking south", geo.Local{E: 10, N: 400}, 10, false, true, geo.Local{}, 181.432, 400.125, true, 270, 710},
		{"15 m right: the edge of the corridor", geo.Local{E: -15, N: 400}, 15, true, true, geo.Local{}, 177.852, 400.281, true, 270, 715},
		{"16 m right: back to the line first", geo.Local{E: -16, N: 400}, 16, true, false, geo.Local{E: 0, N: 400}, 90, 16, true, 180, 716},
		{"80 m left", geo.Local{E: 80, N: 250}, 80, false, false, geo.Local{E: 0, N: 250}, 270, 80, true, 180, 630},
		{"12 m before the bend", geo.Local{E: 0, N: 12}, 0, false, true, geo.Local{}, 180, 12, true, 270, 312},
		{"at the bend", geo.Local{}, 0, false, true, geo.Local{E: -300, N: 0}, 270, 300, false, 0, 300},
		{"on the last leg", geo.Local{E: -100, N: -5}, 5, false, true, geo.Local{E: -300, N: 0}, 271.432, 200.062, false, 0, 205},
		{"past the end", geo.Local{E: -340, N: 0}, 40, true, false, geo.Local{E: -300, N: 0}, 90, 40, false, 0, 40},
	} {
		s := SteerAlong(homeLine, c.here)
		got := fmt.Sprintf("%.0f %v %v %.0f %.0f %.3f %.3f %v %.0f", s.Off.Metres(), s.On, s.Turns, s.To.E, s.To.N, s.Bearing.Degrees(), s.Leg.Metres(), s.Off > 0 && s.Right, s.Left.Metres())
		want := fmt.Sprintf("%.0f %v %v %.0f %.0f %.3f %.3f %v %.0f", c.off.Metres(), c.on, c.turns, c.to.E, c.to.N, c.bearing, c.leg, c.right && c.name != "past the end", c.left)
		if c.name == "past the end" { // beyond its end a line has no sides
			got = fmt.Sprintf("%.0f %v %v %.0f %.0f %.3f %.3f %v %.0f", s.Off.Metres(), s.On, s.Turns, s.To.E, s.To.N, s.Bearing.Degrees(), s.Leg.Metres(), false, s.Left.Metres())
		}
		if got != want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, want)
		}
		if s.Turns && math.Abs(s.Then.Degrees()-c.then) > 0.01 {
			t.Errorf("%s: then %.2f, want %.0f", c.name, s.Then.Degrees(), c.then)
		}
	}
	if s := SteerAlong([]geo.Local{{E: 5}}, geo.Local{}); s.Left != 5 || !s.On || s.Turns {
		t.Errorf("a line of one point: %+v", s)
	}
}

// Whoever walks as told, a step at a time, comes home, and never strays from the corridor once in it.
func TestSteeringComesHome(t *testing.T) {
	rng := num.NewStream(4, "steer")
	for n := range 200 {
		line := []geo.Local{{}}
		for len(line) < 6 {
			line = append(line, geo.Local{E: line[len(line)-1].E + 50 + rng.Float64()*700, N: rng.Float64() * 3000}) // never across itself
		}
		home := line[len(line)-1]
		here := geo.Local{E: rng.Float64() * 3000, N: rng.Float64() * 3000}
		entered := false
		for steps := 0; here.Distance(home) > 5; steps++ {
			s := SteerAlong(line, here)
			if steps > 5000 {
				t.Fatalf("line %d %v: still at %v, %+v", n, line, here, s)
			}
			if entered = entered || s.On; entered && s.Off > corridor+5 {
				t.Fatalf("line %d %v: left the corridor at %v: %+v", n, line, here, s)
			}
			here = here.Toward(s.Bearing, min(s.Leg, 5))
		}
	}
}
