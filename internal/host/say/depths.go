package say

import (
	"fmt"
	"math"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/ground"
)

// Depths says how far the depth surface can be trusted: how far it missed holes that it was not shown, and what the
// holes say of the chart.
func (v Voice) Depths(q ground.Quality) string {
	var s string
	switch {
	case q.Compared > 0:
		s = fmt.Sprintf("Depths miss holes left out by %s (rms of %s).", v.fineDepth(q.RMSE), Few(q.Compared, "hole", "holes"))
	case q.ChartSoundings > 0:
		s = "Depths are the chart's own: too few holes to test them."
	default:
		s = "No depths on record but the outline."
	}
	if off := q.ChartScale - 1; q.ChartScale > 0 && math.Abs(off) >= 0.02 {
		way := "shallow"
		if off < 0 {
			way = "deep"
		}
		s += fmt.Sprintf(" The chart reads about %.0f %% %s.", math.Abs(1/q.ChartScale-1)*100, way)
	}
	return s
}

// fineDepth prints a small depth: decimetres, or half feet.
func (v Voice) fineDepth(l quantity.Length) string {
	if v.Units == quantity.US {
		return fmt.Sprintf("%.1f ft", l.Feet())
	}
	return fmt.Sprintf("%.2f m", l.Metres())
}

// ToldDepths says at which depths the guide finds perch.
func (v Voice) ToldDepths(d advise.Depths) string {
	when := "All season"
	if w := stages[string(d.Stage)]; w != "" {
		when = first(w)
	}
	return fmt.Sprintf("%s: usually at %s to %s, told %s.", when, v.Units.DepthText(d.Low), v.Units.DepthText(d.High), v.When(d.When))
}
