package say

import (
	"fmt"
	"math"

	"icehand/internal/engine/advise"
)

// fractions in which a chance is said, from small to large. Both edges of the words (1 in 5, 1 in 2) are among them, so
// that a rounded fraction never leaves its word.
var fractions = []struct{ n, of int }{
	{1, 20}, {1, 15}, {1, 12}, {1, 10}, {1, 8}, {1, 7}, {1, 6}, {1, 5}, {1, 4}, {1, 3}, {2, 5}, {1, 2}, {3, 5}, {2, 3}, {3, 4}, {4, 5}, {9, 10},
}

// Fraction says a chance as the next smaller fraction of the list, so that rounding never flatters: 0.3 is 1 in 4.
func Fraction(p float64) string {
	said := ""
	for _, f := range fractions {
		if p >= float64(f.n)/float64(f.of)-1e-9 {
			said = fmt.Sprintf("%d in %d", f.n, f.of)
		}
	}
	switch {
	case math.IsNaN(p):
		return "not known"
	case said == "":
		return "less than 1 in 20"
	}
	return said
}

// OddsWord gives the word of a chance: likely, fair or long shot.
func OddsWord(p float64) string {
	switch {
	case p >= 0.5:
		return "likely"
	case p >= 0.2:
		return "fair"
	default:
		return "long shot"
	}
}

// events that odds are told for.
var events = map[string]string{"marks": "marks", "fish": "a fish", "good_fish": "a good fish"}

// Odds says a chance with its event, its plan and wait: fair: 1 in 3 for marks in 30 s; in a sit of 4 min; in 8 holes,
// 30 s each.
func (v Voice) Odds(o advise.Odds) string {
	event := events[o.Event]
	if event == "" {
		event = "marks"
	}
	s := fmt.Sprintf("%s: %s for %s", OddsWord(o.P), Fraction(o.P), event)
	switch {
	case o.Wait <= 0:
	case o.Plan == advise.Sitting:
		s += " in a sit of " + Span(o.Wait)
	case o.Plan == advise.Chain && o.Holes > 0:
		s += " in " + Few(o.Holes, "hole", "holes") + ", " + Span(o.Wait) + " each"
	default:
		s += " in " + Span(o.Wait)
	}
	return s
}

// ShortOdds says a chance in a few letters, its event being told beside it: fair, 1 in 4.
func ShortOdds(o advise.Odds) string { return OddsWord(o.P) + ", " + Fraction(o.P) }

// OddsRange says how sure a chance is: between 1 in 8 and 1 in 2, 8 times in 10.
func OddsRange(o advise.Odds) string {
	if o.High <= o.Low {
		return "range not known"
	}
	return fmt.Sprintf("between %s and %s, 8 times in 10", Fraction(o.Low), Fraction(o.High))
}

// Rate says fish an hour with its range, to what it deserves: 1.2 fish/h (0.4 to 2.8), 18 fish/h (1 to 44).
func Rate(r advise.Rate) string {
	if r.High <= r.Low {
		return ShortRate(r)
	}
	return fmt.Sprintf("%s (%s to %s)", ShortRate(r), rateFigure(r.Low, r.High), rateFigure(r.High, r.High))
}

// ShortRate says the mean alone, where its range is a touch away.
func ShortRate(r advise.Rate) string { return rateFigure(r.Mean, max(r.Mean, r.High)) + " fish/h" }

// rateFigure writes a rate; from ten up the tenths of its range mean nothing.
func rateFigure(x, high float64) string {
	if high >= 10 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.1f", x)
}
