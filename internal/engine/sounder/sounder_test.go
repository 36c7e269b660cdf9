package sounder

import (
	"errors"
	"math"
	"testing"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
)

// 10 m shown by a display that assumes 1500 m/s is 9.41 m at 2 C by Marczak's speed of 1412.233 m/s [Marczak1997]; a
// transducer 0.3 m down reads 0.3 m short.
func TestSounderTruth(t *testing.T) {
	s := Sounder{Assumed: 1500, Water: 2}
	if got := s.True(10).Metres(); math.Abs(got-9.4149) > 5e-4 {
		t.Errorf("%.4f m", got)
	}
	s.Hang = 0.3
	if got := s.True(10).Metres(); math.Abs(got-9.7149) > 5e-4 {
		t.Errorf("hung: %.4f m", got)
	}
	if s := (Sounder{Assumed: 1412.233, Water: 2}); math.Abs(s.True(8).Metres()-8) > 1e-5 {
		t.Error("a display that assumes the right speed is corrected")
	}
}

// At 10 m a cone of 20 degrees is 3.53 m wide and hides 15.4 cm at its edge beside the pulse [OnaMitson1996]; a slope of 5
// degrees hides 3.8 cm under the hole and smears 0.35 m (our own geometry, tested by brute force in package sonar).
func TestWhatASounderSees(t *testing.T) {
	s := Sounder{Assumed: 1500, Water: 2, Cone: 20}
	pulse := 1412.233 * 1e-4 / 2
	flat, ok := s.Sees(10, math.NaN())
	if !ok || math.Abs(flat.Footprint.Metres()-3.5265) > 1e-3 || math.Abs(flat.AtEdge.Metres()-0.1543-pulse) > 1e-3 || math.Abs(flat.Beneath.Metres()-pulse) > 1e-6 || flat.Smear != 0 {
		t.Errorf("%+v", flat)
	}
	slope, _ := s.Sees(10, math.Tan(5*math.Pi/180))
	if math.Abs(slope.Beneath.Metres()-0.0381-pulse) > 1e-3 || math.Abs(slope.Smear.Metres()-0.35) > 0.01 {
		t.Errorf("%+v", slope)
	}
	if _, ok := (Sounder{Assumed: 1500, Water: 2}).Sees(10, 0); ok {
		t.Error("a cone that was not told")
	}
	if _, ok := s.Sees(0, 0); ok {
		t.Error("a depth that is not known")
	}
	if steep, ok := s.Sees(10, 50); !ok || math.IsNaN(steep.Smear.Metres()) {
		t.Errorf("a cliff: %+v", steep)
	}
}

// What cannot be meant is refused with what to do; what can comes back to the tenth of a degree and the millimetre.
func TestSounderValue(t *testing.T) {
	good := Sounder{Assumed: 1500, Water: 1.5, Hang: 0.35, Cone: 19.5, Pulse: 120 * time.Microsecond}
	if raw, err := good.Value(); err != nil || string(raw) != `{"assumed_mm_s":1500000,"water_ddeg":15,"hang_mm":350,"cone_ddeg":195,"pulse_us":120}` {
		t.Errorf("%s %v", raw, err)
	}
	for name, change := range map[string]func(*Sounder){
		"feet a second": func(s *Sounder) { s.Assumed = 4921 }, "no speed": func(s *Sounder) { s.Assumed = 0 }, "nothing": func(s *Sounder) { s.Assumed = quantity.Speed(math.NaN()) },
		"warm": func(s *Sounder) { s.Water = 35 }, "feet": func(s *Sounder) { s.Hang = 12 }, "above": func(s *Sounder) { s.Hang = -0.1 }, "wide": func(s *Sounder) { s.Cone = 200 },
	} {
		s := good
		change(&s)
		var f *fault.Error
		if _, err := s.Value(); !errors.As(err, &f) || f.Hint == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}
