// Package sounder answers how deep it is where a sounder shows a depth, and what a sounder sees at a hole.
//
// Start with [Depth] for a hole's depth, [At] for the sounder in force, and [Sounder.Sees] for its footprint and what the
// bottom hides. It assumes that what was told of the instrument held from then on; a line's depth is taken as it is.
// It leaves out the freeboard, some centimetres. Model note: docs/models/sonar.md.
package sounder

import (
	"encoding/json"
	"fmt"
	"math"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/sonar"
	"icehand/internal/trade/lake"
)

// Sounder is what was told of the instrument that shows depths. Depths stay on record as shown; what it really was is
// worked out from what was told to be true at the time.
type Sounder struct {
	Assumed quantity.Speed   // of sound, by the display's maker
	Water   quantity.Celsius // mean of the water below the ice
	Hang    quantity.Length  // of the transducer below the water line
	Cone    quantity.Angle   // full; 0: not told
	Pulse   time.Duration    // 0: usualPulse
}

// usualPulse is what is taken for a pulse that was not told: common practice, no source.
const usualPulse = 100 * time.Microsecond

// Setting is the key of the setting that holds it.
const Setting = "sounder"

// sounderValue is its layout.
type sounderValue struct {
	Assumed int64 `json:"assumed_mm_s"`
	Water   int64 `json:"water_ddeg"` // 0.1 degree C
	Hang    int64 `json:"hang_mm"`
	Cone    int64 `json:"cone_ddeg,omitempty"` // 0.1 degree
	Pulse   int64 `json:"pulse_us,omitempty"`
}

// Value gives the setting's value, or says what cannot be meant.
func (s Sounder) Value() (json.RawMessage, error) {
	switch {
	case !(s.Assumed >= 1300 && s.Assumed <= 1600):
		return nil, fault.New(fault.BadInput, "Look it up in the sounder's papers; 1500 is usual.", "a sound speed of %.0f m/s is outside 1300 to 1600", s.Assumed.MetresPerSecond())
	case !(s.Water >= 0 && s.Water <= 10):
		return nil, fault.New(fault.BadInput, "Under ice it is 0 to 4.", "water of %.1f C is outside 0 to 10", s.Water.Degrees())
	case !(s.Hang >= 0 && s.Hang <= 3):
		return nil, fault.New(fault.BadInput, "Measure from the water in the hole down to the transducer.", "a transducer %.1f m down is outside 0 to 3 m", s.Hang.Metres())
	case s.Pulse != 0 && !(s.Pulse >= 10*time.Microsecond && s.Pulse <= 5*time.Millisecond):
		return nil, fault.New(fault.BadInput, "Look it up in the sounder's papers, or leave it out.", "a pulse of %v is outside 10us to 5ms", s.Pulse)
	case s.Cone != 0 && !(s.Cone >= 2 && s.Cone <= 60):
		return nil, fault.New(fault.BadInput, "Give the full angle, as 20.", "a cone of %.0f degrees is outside 2 to 60", float64(s.Cone))
	}
	v := sounderValue{int64(math.Round(s.Assumed.MetresPerSecond() * 1000)), int64(math.Round(s.Water.Degrees() * 10)), s.Hang.Millimetres(),
		int64(math.Round(float64(s.Cone) * 10)), s.Pulse.Microseconds()}
	raw, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("sounder: writing: %w", err)
	}
	return raw, nil
}

// Usual is taken for what was never told: what displays commonly assume, and water between 0 and 4 C. Common practice, no
// source. How deep the transducer hangs nobody can guess.
func Usual() Sounder { return Sounder{Assumed: 1500, Water: 2} }

// NotTold gives the setting's value that takes back what was told: from then on depths count as shown.
func NotTold() json.RawMessage { return json.RawMessage(`{}`) }

// At gives the sounder in force at an instant; told is false when none was told by then.
func At(l *lake.View, at time.Time) (s Sounder, told bool) {
	raw := l.Setting(Setting, at)
	var v sounderValue
	if raw == nil || json.Unmarshal(raw, &v) != nil || v.Assumed <= 0 {
		return s, false
	}
	return Sounder{Assumed: quantity.Speed(float64(v.Assumed) / 1000), Water: quantity.Celsius(float64(v.Water) / 10), Hang: quantity.FromMillimetres(v.Hang),
		Cone: quantity.Angle(float64(v.Cone) / 10), Pulse: time.Duration(v.Pulse) * time.Microsecond}, true
}

// True gives the depth behind a shown one, from the water line down.
func (s Sounder) True(shown quantity.Length) quantity.Length {
	// (SONAR-19) depth = shown c/c0 + hang
	return sonar.TrueDepth(shown, s.Assumed, sonar.SoundSpeed(s.Water)) + s.Hang
}

// Depth gives the depth at a hole: as measured by a line, or behind what the sounder showed when one was told. 0 when
// none is on record.
func Depth(l *lake.View, h *lake.Hole) (depth quantity.Length, corrected bool) {
	if h.Depth <= 0 || h.DepthBy != "sonar" {
		return h.Depth, false
	}
	s, told := At(l, h.Drilled)
	if !told {
		return h.Depth, false
	}
	return s.True(h.Depth), true
}

// Sight is what a sounder sees at a hole; sizes are "about": strong echoes are seen outside a nominal cone.
type Sight struct {
	Footprint quantity.Length // width of the cone at the bottom
	Beneath   quantity.Length // hidden above the bottom straight under the hole
	AtEdge    quantity.Length // hidden above a flat bottom at the cone's edge
	Smear     quantity.Length // over which a slope draws the bottom's echo out
}

// Sees tells what the sounder sees at a true depth; slope is rise over run, NaN or 0 for flat. ok is false without a cone.
func (s Sounder) Sees(depth quantity.Length, slope float64) (out Sight, ok bool) {
	below := depth - s.Hang
	if s.Cone <= 0 || below <= 0 {
		return Sight{}, false
	}
	pulse := s.Pulse
	if pulse == 0 {
		pulse = usualPulse
	}
	beam, c := sonar.Beam(s.Cone), sonar.SoundSpeed(s.Water)
	out.Footprint = beam.Footprint(below)
	out.AtEdge = sonar.FlatHidden(below, s.Cone/2, c, pulse)
	out.Beneath = sonar.RangeResolution(c, pulse)
	if slope > 0 {
		const steepest = 45 // degrees; a map's slope is never to be believed beyond
		b := quantity.Angle(math.Min(steepest, math.Atan(slope)*180/math.Pi))
		hidden, smear := sonar.SlopeHidden(below, beam, b)
		out.Beneath += hidden
		out.Smear = smear
	}
	return out, true
}
