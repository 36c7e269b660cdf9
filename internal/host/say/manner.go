package say

import (
	"fmt"
	"math"
	"strings"
	"time"

	"icehand/internal/engine/manner"
)

// MannerRow says what one lure or manner took.
type MannerRow struct {
	Name, Took, Rate string
}

// MannerRows says what was taken by lure or manner.
func (v Voice) MannerRows(by manner.By, rows []manner.Row) []MannerRow {
	var out []MannerRow
	for _, r := range rows {
		name := r.Name
		if by == manner.MannerOf {
			name = first(manner.Word(name))
		}
		rate := "too short to tell a rate"
		if r.Time >= leastTold {
			rate = fmt.Sprintf("%.1f an hour (%.1f to %.1f)", r.Rate, r.Low, r.High)
		}
		out = append(out, MannerRow{name, fmt.Sprintf("%s in %.1f rod-hours, %s", Few(r.Events, "bite", "bites"), r.Time.Hours(), Few(r.Sits, "sit", "sits")), rate})
	}
	return out
}

// leastTold is how long must have been fished before a rate is told: in minutes a range says nothing. Ours.
const leastTold = time.Hour

// Compared says what can be said of two lures or manners.
func (v Voice) Compared(by manner.By, rows []manner.Row) string {
	what := "lures"
	if by == manner.MannerOf {
		what = "manners"
	}
	c, ok := manner.Compare(rows)
	if !ok {
		return fmt.Sprintf("Too few to compare %s: log how you fish, one tap a change.", what)
	}
	name := func(r manner.Row) string {
		if by == manner.MannerOf {
			return strings.ToLower(manner.Word(r.Name))
		}
		return r.Name
	}
	a, b := name(c.A), name(c.B)
	switch c.Verdict {
	case manner.TooFew:
		return fmt.Sprintf("Too few to compare %s and %s: it takes %d rod-hours and %d sits of each, %d bites of both.", a, b, manner.LeastHours, manner.LeastSits, manner.LeastEvents)
	case manner.Undecided:
		return fmt.Sprintf("Undecided: %s took %s as often as %s, and luck alone can do that (%s).", a, times(c.Ratio), b, timesRange(c))
	}
	return fmt.Sprintf("%s took %s as often as %s (%s). Schools and hours differ too: try both side by side.", first(a), times(c.Ratio), b, timesRange(c))
}

func times(x float64) string {
	if math.IsInf(x, 1) {
		return "many times"
	}
	return fmt.Sprintf("%.1f times", x)
}

func timesRange(c manner.Compared) string {
	if math.IsInf(c.High, 1) {
		return fmt.Sprintf("19 of 20: %.1f times or more", c.Low)
	}
	return fmt.Sprintf("19 of 20: %.1f to %.1f times", c.Low, c.High)
}

// MannerCaution stands under every comparison.
const MannerCaution = "Bites are fish landed and fish missed. Ranges are 19 of 20, widened because fish come in schools. A lure that is tried when nothing bites looks worse than it is."

// CommonPractice marks what has no source.
const CommonPractice = "Common practice, no source."
