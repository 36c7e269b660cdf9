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

// Odds says a chance with its event and wait: fair: 1 in 3 for marks in 10 min.
func (v Voice) Odds(o advise.Odds) string {
	event := events[o.Event]
	if event == "" {
		event = "marks"
	}
	s := fmt.Sprintf("%s: %s for %s", OddsWord(o.P), Fraction(o.P), event)
	if o.Wait > 0 {
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

// Rate says fish an hour with its range: 1.2 an hour (0.4 to 2.8).
func Rate(r advise.Rate) string {
	if r.High <= r.Low {
		return fmt.Sprintf("%.1f an hour", r.Mean)
	}
	return fmt.Sprintf("%.1f an hour (%.1f to %.1f)", r.Mean, r.Low, r.High)
}
