package say

import (
	"fmt"
	"strings"
	"time"

	"icehand/internal/engine/advise"
)

// bottoms names the forms of the bottom as the Map does.
var bottoms = map[string]string{"basin": "a basin", "hump": "a hump", "edge": "an edge, where a bank falls away", "transition": "the foot of an edge"}

// sentences gives the words of each reason that the engine may name. A code that is not here is said by its own text,
// so that a newer engine is never silent.
var sentences = map[string]func(Voice, advise.Reason) string{
	"looks_near": func(v Voice, r advise.Reason) string {
		s := fmt.Sprintf("%d of %s within %s had marks", r.Count, Few(r.Of, "look", "looks"), v.Units.DistanceText(r.Near))
		if r.Count == 0 {
			s = fmt.Sprintf("%s within %s, nothing seen", Few(r.Of, "look", "looks"), v.Units.DistanceText(r.Near))
		}
		return s + last(r)
	},
	"heading":      func(_ Voice, r advise.Reason) string { return "marks were moving " + r.Toward.Compass() + last(r) },
	"fresh_ground": fixed("ground not looked at today"),
	"depth_band": func(v Voice, r advise.Reason) string {
		if r.Depth <= 0 {
			return "a depth that holds perch at this stage"
		}
		return v.Units.DepthText(r.Depth) + " deep, where perch keep at this stage"
	},
	"bottom_form": func(_ Voice, r advise.Reason) string {
		how := "more"
		if r.Rate < 1 {
			how = "less"
		}
		return fmt.Sprintf("%s: looks over such bottom have met %s than elsewhere", bottoms[r.Form], how)
	},
	"told_depth": func(v Voice, r advise.Reason) string {
		return fmt.Sprintf("%s deep: you told of perch at %s to %s at this time", v.Units.DepthText(r.Depth), v.Units.DepthText(r.Band[0]), v.Units.DepthText(r.Band[1]))
	},
	"season_record": func(_ Voice, r advise.Reason) string {
		if r.Of == 0 {
			return "the season record speaks for it"
		}
		return fmt.Sprintf("season record: marks in %d of %s near here", r.Count, Few(r.Of, "look", "looks"))
	},
	"bites_here": func(_ Voice, r advise.Reason) string {
		return Few(r.Count, "bite or fish here", "bites and fish here") + last(r)
	},
	"gone_quiet": func(_ Voice, r advise.Reason) string {
		if r.Age <= 0 {
			return "gone quiet here"
		}
		return "nothing seen here for " + Span(r.Age)
	},
	"crowd": func(v Voice, r advise.Reason) string {
		if r.Near <= 0 {
			return "other parties fish close by"
		}
		return "other parties within " + v.Units.DistanceText(r.Near)
	},
	"fish_record": func(_ Voice, r advise.Reason) string {
		if r.Count == 0 {
			return "hardly any fish on record near here"
		}
		return fmt.Sprintf("%d fish on record near here, %.1f a rod-hour", r.Count, r.Rate)
	},
	"caught_out": func(_ Voice, r advise.Reason) string {
		if r.Count == 0 {
			return "fish were taken here already"
		}
		return Few(r.Count, "fish", "fish") + " taken here already" + last(r)
	},
	"hour": func(v Voice, r advise.Reason) string {
		switch {
		case r.Rate > 1:
			return "a good hour by the season record"
		case r.Rate > 0 && r.Rate < 1:
			return "a slow hour by the season record"
		}
		return "the hour, by the season record"
	},
	"sketch": func(_ Voice, r advise.Reason) string {
		if r.Count < 0 {
			return "your own sketch speaks against this ground"
		}
		return "your own sketch of this ground"
	},
	"turn_back": func(v Voice, r advise.Reason) string {
		if t := strings.TrimRight(v.Local(r.Text), ". "); t != "" {
			return "turn back for: " + t
		}
		return "turn-back time is near"
	},
	"serve": func(v Voice, r advise.Reason) string {
		if r.Rate <= 0.5 {
			return "one more hole over the school just seen" + v.atHole(r)
		}
		return "one more hole over the school that feeds" + v.atHole(r)
	},
	"follow": func(v Voice, r advise.Reason) string {
		return "to find the school again that was" + v.atHole(r) + last(r)
	},
	"beside": func(v Voice, r advise.Reason) string {
		return "a rod is on fish" + v.atHole(r) + ": the search stays close"
	},
	"first_fish": fixed("this guest's first fish is the aim"),
	"no_sorting": func(v Voice, r advise.Reason) string {
		if r.Depth <= 0 {
			return "no sorting for size: the depth is not known"
		}
		return "no sorting for size at " + v.Units.DepthText(r.Depth) + ": few live once put back"
	},
	"small_deep": func(v Voice, r advise.Reason) string {
		return fmt.Sprintf("%d of %s kept; from %s few live once put back", r.Count, Few(r.Of, "fish", "fish"), v.Units.DepthText(r.Depth))
	},
	"marks_here": func(_ Voice, r advise.Reason) string { return "marks here, confirmed" + last(r) },
}

// against tells whether a reason speaks against a step: said after a stronger one, it begins with "but".
func against(r advise.Reason) bool {
	switch r.Code {
	case "caught_out", "crowd", "gone_quiet":
		return true
	case "bottom_form":
		return r.Rate < 1
	}
	return false
}

func fixed(s string) func(Voice, advise.Reason) string {
	return func(Voice, advise.Reason) string { return s }
}

// last says how old the newest evidence is.
func last(r advise.Reason) string {
	switch {
	case r.Age <= 0:
		return ""
	case r.Age < time.Minute:
		return ", just now"
	}
	return ", last " + Age(r.Age)
}

// phrase says one reason without large letter or full stop.
func (v Voice) phrase(r advise.Reason) string {
	if f := sentences[r.Code]; f != nil {
		return f(v, r)
	}
	if f := secondWords[r.Code]; f != nil {
		return f(v, r)
	}
	if t := strings.TrimRight(v.Local(r.Text), ". "); t != "" {
		return t
	}
	if t := strings.ReplaceAll(r.Code, "_", " "); t != "" {
		return t
	}
	return "no reason was given"
}

// Reason says one reason as a sentence.
func (v Voice) Reason(r advise.Reason) string { return fit(first(v.phrase(r)) + ".") }

// Because says the largest reason, and the next one or two as far as the line holds them.
func (v Voice) Because(why []advise.Reason) string {
	if len(why) == 0 {
		return "No reason was given."
	}
	s := first(v.phrase(why[0]))
	for _, r := range why[1:min(3, len(why))] {
		next := v.phrase(r)
		if r.Code == "heading" {
			next = "moving " + r.Toward.Compass()
		}
		if against(r) {
			next = "but " + next
		}
		if longer := s + "; " + next; len([]rune(longer)) < Longest {
			s = longer
		}
	}
	return fit(s + ".")
}

// atHole names the first hole of a reason's evidence: at 24; empty when it has no name.
func (v Voice) atHole(r advise.Reason) string {
	if len(r.Holes) == 0 || v.hole(r.Holes[0]) == "" {
		return ""
	}
	return " at " + v.hole(r.Holes[0])
}

// movingRod says why a rod should move: what is amiss here first, then what speaks for there.
func (v Voice) movingRod(why []advise.Reason) string {
	if len(why) < 2 || why[0].Code != "gone_quiet" {
		return v.Because(why)
	}
	s := first(v.phrase(why[0]))
	if longer := s + "; there: " + v.phrase(why[1]); len([]rune(longer)) < Longest {
		s = longer
	}
	return fit(s + ".")
}

// Evidence names the holes that a reason rests on; empty without any.
func (v Voice) Evidence(r advise.Reason) string {
	var names []string
	for _, id := range r.Holes {
		if n := v.hole(id); n != "" {
			names = append(names, n)
		}
	}
	const most = 6
	if len(names) > most {
		names = append(names[:most], fmt.Sprintf("%d more", len(r.Holes)-most))
	}
	if len(names) == 0 {
		return ""
	}
	if len(r.Holes) == 1 {
		return "hole " + names[0]
	}
	return "holes " + list(names)
}
