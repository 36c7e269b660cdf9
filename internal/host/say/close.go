package say

import (
	"fmt"
	"strings"

	"icehand/internal/host/desk"
)

// StayedOn says that a rod sat on where it had been told to leave.
func (v Voice) StayedOn(x desk.Stayed) string {
	verb := "stayed"
	if x.On {
		verb = "stays, so far"
	}
	return fmt.Sprintf("Overruled: rod %d %s %s.", x.Rod, verb, Span(x.For))
}

// closeWords are the choices of the close of day.
var closeWords = map[string]map[string]string{
	"moved":    {"wind": "wind", "light": "light", "noise": "noise or people", "feed": "food gone", "nothing": "they stayed", "unknown": "no idea"},
	"ice":      {"none": "none", "thinner": "thinner than told", "crack": "new crack", "ridge": "ridge moved", "slush": "slush, water on top", "other": "something else"},
	"tomorrow": {"best": "where it was best", "new": "new ground", "far": "farther out", "near": "nearer shore", "unknown": "not yet"},
}

// CloseWord gives the words of a choice of the close of day; "" for none.
func CloseWord(question, code string) string { return closeWords[question][code] }

// Wants says what is still open at the end of a day, the gravest first.
func (v Voice) Wants(x desk.Closing) (out []string) {
	if len(x.Out) > 0 {
		out = append(out, "Not reported ashore: "+strings.Join(x.Out, ", ")+".")
	}
	if x.Rods > 0 {
		out = append(out, Few(x.Rods, "line is", "lines are")+" still told as in the water.")
	}
	if x.Unnamed > 0 {
		out = append(out, Few(x.Unnamed, "kept fish has", "kept fish have")+" no name.")
	}
	for _, n := range x.Notes {
		if n.Code != "unmeasured" {
			out = append(out, "Against the rules: "+n.Text+".")
		}
	}
	switch {
	case !x.Counted && x.Kept > 0:
		out = append(out, fmt.Sprintf("Bags not counted: %d kept by the tally.", x.Kept))
	case len(x.Differ) > 0 || x.Counted && x.Bags != x.Kept:
		out = append(out, fmt.Sprintf("%d in bags, %d kept by the tally; differs: %s.", x.Bags, x.Kept, strings.Join(x.Differ, ", ")))
	}
	if x.Open > 0 {
		out = append(out, Few(x.Open, "hole stands", "holes stand")+" open and unmarked.")
	}
	for _, o := range x.Due {
		out = append(out, sentenceOf(o.Text+", last day "+string(o.By)))
	}
	return out
}

// Spell says a spell of fish of the day.
func (v Voice) Spell(s desk.Spell) string {
	n := "1 fish"
	if s.Fish != 1 {
		n = fmt.Sprintf("%d fish", s.Fish)
	}
	return fmt.Sprintf("%s to %s at %s, %s", v.Clock(s.From), v.Clock(s.To), v.Hole(s.Hole), n)
}

// Closed says a close of day, a line a question.
func (v Voice) Closed(c desk.Closed) []string {
	best := "not told"
	if c.Best != nil {
		best = v.Spell(*c.Best)
	}
	out := []string{"Best spell: " + best + "."}
	for _, q := range [][3]string{{"What moved the fish, a guess", CloseWord("moved", c.Moved), c.MovedWords}, {"Ice surprises", CloseWord("ice", c.Ice), c.IceWords},
		{"Guests", "", c.Guests}, {"Tomorrow, first idea", CloseWord("tomorrow", c.Tomorrow), c.TomorrowWords}} {
		var words []string
		for _, w := range q[1:] {
			if w != "" {
				words = append(words, w)
			}
		}
		if len(words) == 0 {
			words = []string{"not told"}
		}
		out = append(out, q[0]+": "+strings.TrimSuffix(strings.Join(words, "; "), ".")+".")
	}
	return out
}
