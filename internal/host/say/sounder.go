package say

import (
	"fmt"
	"math"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/sounder"
)

// Sounder says what was told of a sounder.
func (v Voice) Sounder(s sounder.Sounder) string {
	text := fmt.Sprintf("assumes %.0f m/s, hung %s", s.Assumed.MetresPerSecond(), v.small(s.Hang))
	if s.Cone > 0 {
		text += fmt.Sprintf(", cone %.0f degrees", float64(s.Cone))
	}
	return text
}

// TrueDepth says what a shown depth stands for.
func (v Voice) TrueDepth(depth quantity.Length, s sounder.Sounder) string {
	text := v.Units.DepthText(depth)
	if v.Units == quantity.US {
		text = fmt.Sprintf("%.1f ft", depth.Feet())
	}
	return fmt.Sprintf("True depth about %s: the display assumes %.0f m/s and hangs %s below the water.", text, s.Assumed.MetresPerSecond(), v.small(s.Hang))
}

// Sight says how wide a sounder sees and what the bottom hides from it. Nothing seen there is no proof of no fish.
func (v Voice) Sight(s sounder.Sight) string {
	text := fmt.Sprintf("Sees about %s across at the bottom. Cannot see the lowest %s under the hole, %s at the rim.", v.Units.DepthText(s.Footprint), v.small(s.Beneath), v.small(s.AtEdge))
	if s.Smear >= 10*quantity.Centimetre {
		text += fmt.Sprintf(" The slope smears the bottom over %s.", v.small(s.Smear))
	}
	return text
}

// small prints a length of some centimetres or inches.
func (v Voice) small(l quantity.Length) string {
	if v.Units == quantity.US {
		return fmt.Sprintf("%.0f in", math.Ceil(l.Inches()))
	}
	return fmt.Sprintf("%.0f cm", math.Ceil(float64(l/quantity.Centimetre)-1e-9))
}
