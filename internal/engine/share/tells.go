package share

import (
	"fmt"
	"strings"

	"icehand/internal/base/quantity"
)

// Tell is one thing that a report says, and what somebody who wants the spot makes of it.
type Tell struct {
	What, Stranger string
	Look           bool // the guide must look: no program can tell
}

// Tells answers: what does this tell a stranger? It goes through the report as it would be sent.
func (r Report) Tells() []Tell {
	out := []Tell{{"the lake: " + r.Lake.String(), "that you fish there; nothing narrower than the whole lake", false},
		{"the day: " + r.Day.Text(), "whom to ask who was out and saw you", false}}
	if r.Best != NoPart {
		out = append(out, Tell{"the part of the day: " + r.Best.word(), "no hour, so no travelling time and no sun to measure", false})
	}
	if r.Depth != NoClass {
		out = append(out, Tell{"the depth, in a word: " + r.Depth.word(), "which third of the lake to look in. Leave it out unless they need it", true})
	}
	total := 0
	for _, c := range r.Catch {
		total += c.Kept + c.PutBack
	}
	out = append(out, Tell{fmt.Sprintf("counts and sizes: %d fish", total), "how good the day was, not where", total >= 40})
	if r.Weather.Chilled || r.Weather.Cold {
		out = append(out, Tell{"the weather in classes", "nothing: it was the same all over the lake", false})
	}
	var names []string
	for _, p := range r.Party {
		names = append(names, p.Name.String())
	}
	out = append(out, Tell{"names: " + strings.Join(names, ", "), "whom to ask. A child's name goes out with it: ask the parents", len(r.Firsts) > 0})
	for i, p := range r.Photos {
		out = append(out, Tell{fmt.Sprintf("picture %d, %d by %d dots, drawn anew without metadata", i+1, p.Width, p.Height),
			"skyline, shelters, ridges, the sun, a screen, flags and shavings: look behind the fish", true})
		if c := p.Caption.String(); c != "" {
			out = append(out, Tell{fmt.Sprintf("the caption of picture %d: %s", i+1, c), "what a neighbour of yours would read into it", true})
		}
	}
	if s := r.Words.String(); s != "" {
		out = append(out, Tell{"your words: " + s, "what a neighbour of yours would read into them", true})
	}
	if len(r.Again) > 0 {
		out = append(out, Tell{"what returning guests have caught, all days together", "that they come back", false})
	}
	if !r.Next.None() {
		out = append(out, Tell{"the day they mean to come again: " + r.Next.Text(), "when to follow you", true})
	}
	return out
}

// Absent lists what no report can hold, whatever was recorded.
func Absent() []string {
	return []string{"positions, tracks, maps", "numbers of holes", "depths in figures", "hours", "distances, directions, travelling times", "ice readings", "who found the fish, and how"}
}

// Outside lists the ways out that no report can close.
func Outside() []string {
	return []string{"A guest's own telephone keeps its own track and pictures: ask them.", "Shavings, flags and tracks lie on the ice for all to see.", "What was said by open radio was heard."}
}

// lengthText prints the length of a fish; "" when it was not measured.
func lengthText(u quantity.System, l quantity.Length) string {
	if l <= 0 {
		return ""
	}
	return u.FishText(l)
}
