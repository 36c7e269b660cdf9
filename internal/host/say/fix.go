package say

import (
	"fmt"
	"time"

	"icehand/internal/base/quantity"
)

// NoFix says that a hole was saved without a place, and how the last fix was; the zero fixed is none.
func (v Voice) NoFix(hole string, accuracy quantity.Length, fixed time.Time) string {
	last := ""
	if !fixed.IsZero() {
		last = Span(v.Now.Sub(fixed))
		if accuracy > 0 {
			last = v.Units.FarText(accuracy) + ", " + last
		}
		last = " (last " + last + ")"
	}
	return fit(fmt.Sprintf("No fix%s. Saved as hole %s without place.", last, hole))
}
