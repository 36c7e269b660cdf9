package say

import (
	"fmt"
	"math"
	"strings"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/dusk"
	"icehand/internal/engine/safety"
)

// SecondText is the decision about the second target in words.
type SecondText struct {
	Half     string // of a planned day: morning or afternoon; "" for now
	Sentence string // one, at most 90 characters
	Short    string // the same beside the next step, at most 40; empty when it is not near
	Facts    []string
	Light    string // when the light at the fish is in the band
	Why      []string
	Others   []string
	Changes  []string
	Soon     bool // worth a line beside the next step: it begins within the hour and a half, or runs
}

// soon is how long before a switch it is told beside the next step.
const soon = 90 * time.Minute

// Second says the decision about the second target; empty for nil.
func (v Voice) Second(s *advise.Second) SecondText {
	if s == nil {
		return SecondText{}
	}
	t := SecondText{Sentence: fit(v.secondCall(s)), Light: v.Windows(s.Windows, s.Depth)}
	if s.Of != "" {
		t.Half = "Afternoon"
		if s.Morning {
			t.Half = "Morning"
		}
	}
	if b := s.Best; b != nil && told(s.Verdict) {
		t.Facts = v.secondFacts(s)
		for _, o := range s.Others {
			t.Others = append(t.Others, fit(fmt.Sprintf("%s to %s %s: %s", v.Clock(o.Begin), v.Clock(o.End), v.secondPlace(&o, s.Of), walleyeOdds(&o))))
		}
		if t.Soon = s.Verdict != dusk.Perches && b.Leave.Sub(v.Now) <= soon; t.Soon {
			t.Short = v.secondShort(s)
		}
	}
	if x := s.Would; x != nil && len(x.Bar.Refusals) > 0 {
		what := "Better, but barred: "
		if s.Best == nil {
			what = "It would have been: "
		}
		t.Facts = append(t.Facts, fit(what+v.secondPlace(x, s.Of)+", "+walleyeOdds(x)+"."), fit(first(v.Local(x.Bar.Refusals[0].Text))))
	}
	for _, r := range s.Why {
		if r.Text != "" { // what bars it has its own sentence
			t.Why = append(t.Why, fit(first(v.Local(r.Text))))
		} else {
			t.Why = append(t.Why, v.Reason(advise.SecondReason(r)))
		}
	}
	for _, r := range s.Changes {
		t.Changes = append(t.Changes, v.Reason(advise.SecondReason(r)))
	}
	return t
}

// told tells whether a verdict comes with times and a place.
func told(verdict dusk.Verdict) bool {
	return verdict == dusk.Switch || verdict == dusk.TossUp || verdict == dusk.Thin || verdict == dusk.Perches
}

// secondCall says the decision in one sentence.
func (v Voice) secondCall(s *advise.Second) string {
	b := s.Best
	switch {
	case s.Verdict == dusk.NoLight:
		return "No light for walleye in what is left of the day, as far as snow and ice are known."
	case b == nil || s.Verdict == dusk.Barred:
		if why := noPlan[firstRefusal(s).Code]; why != "" {
			return "No walleye plan: " + why + "."
		}
		return "No walleye plan: no step may be advised to a place for it."
	}
	where, until := v.secondPlace(b, s.Of), v.Clock(b.End)
	when := v.Clock(b.Leave)
	if s.Morning {
		when = v.Clock(b.Begin)
	}
	switch s.Verdict {
	case dusk.Switch:
		return fmt.Sprintf("Walleye from %s to %s, %s.", when, until, where)
	case dusk.TossUp:
		return fmt.Sprintf("Walleye %s to %s, %s, or perch: a toss-up.", when, until, where)
	case dusk.Thin:
		return fmt.Sprintf("Too little on record. Walleye, if any: %s to %s, %s.", when, until, where)
	}
	return "Stay on perch: walleye would bring less, even at their best."
}

// secondShort says times and place in few letters.
func (v Voice) secondShort(s *advise.Second) string {
	b := s.Best
	where := "here"
	if b.Place.Form != dusk.Here {
		where = v.Units.DistanceText(b.Distance) + " " + b.Bearing.Compass()
	}
	walleye := map[dusk.Verdict]string{dusk.Switch: "Walleye", dusk.TossUp: "Or walleye", dusk.Thin: "Walleye?"}[s.Verdict]
	return fmt.Sprintf("%s %s to %s, %s", walleye, v.Clock(b.Leave), v.Clock(b.End), where)
}

// noPlan says in few words what bars every plan.
var noPlan = map[string]string{"law": "closed by the rule book", "law_hours": "outside the legal hours", "turn_back": "no time for it before turning back",
	"holes_left": "the batteries are low", "hazard": "a hazard lies in the way", "shore": "too near the shore", "far": "no ice read today near enough"}

// firstRefusal gives what bars the plan that would be best.
func firstRefusal(s *advise.Second) safety.Refusal {
	if s.Would != nil && len(s.Would.Bar.Refusals) > 0 {
		return s.Would.Bar.Refusals[0]
	}
	if len(s.Refused) > 0 {
		return s.Refused[0]
	}
	return safety.Refusal{}
}

var forms = map[dusk.Form]string{dusk.Hump: "hump ", dusk.Break: "break ", dusk.Flat: "flat ", dusk.Spot: "spot on record "}

// secondPlace says where: here, or the form of the bottom with distance and compass point, from a letter when there is one.
func (v Voice) secondPlace(o *dusk.Option, of string) string {
	if o.Place.Form == dusk.Here || o.Distance < 20*quantity.Metre {
		if of != "" {
			return "at " + of
		}
		return "here"
	}
	where := fmt.Sprintf("%s%s %s", forms[o.Place.Form], v.Units.DistanceText(o.Distance), o.Bearing.Compass())
	if of != "" {
		where += " of " + of
	}
	return where
}

func walleyeOdds(o *dusk.Option) string {
	return fmt.Sprintf("%s: %s for a walleye", OddsWord(o.Chance.P), Fraction(o.Chance.P))
}

// secondFacts says odds, yield, cost and ice.
func (v Voice) secondFacts(s *advise.Second) []string {
	o := s.Best
	out := []string{
		walleyeOdds(o) + " in " + Span(o.End.Sub(o.Begin)) + chanceRange(o.Chance),
		number(o.Fish) + " walleye against " + forgone(o),
	}
	if s.Verdict != dusk.Thin {
		out[1] += "; pays " + Fraction(o.Pays)
	}
	if s.Verdict == dusk.Perches {
		return out
	}
	if s.From != nil && s.From.Paces > 0 && o.Place.Form != dusk.Here {
		out = append(out, first(v.Place(s.From)))
	}
	var cost []string
	if o.Minutes >= 1 {
		cost = append(cost, fmt.Sprintf("%.0f min without a line", math.Ceil(o.Minutes-1e-9)))
	}
	if o.Holes > 0 {
		cost = append(cost, Few(o.Holes, "hole", "holes")+", "+v.Units.IceText(o.Ice)+" to drill")
	}
	switch {
	case o.Back:
		cost = append(cost, "then back to perch")
	case !o.TurnBack.IsZero() && o.Place.Form != dusk.Here:
		cost = append(cost, "turn back there "+v.Clock(o.TurnBack))
	}
	if len(cost) > 0 {
		out = append(out, "Costs "+strings.Join(cost, "; "))
	}
	if o.Bar.Label != "" {
		out = append(out, fit(v.Local(o.Bar.Label)))
	}
	return out
}

// chanceRange says how sure a chance is, where that shows in its fractions.
func chanceRange(o dusk.Odds) string {
	low, high := Fraction(o.Low), Fraction(o.High)
	if low == high {
		return ""
	}
	return " (" + low + " to " + high + ", 8 times in 10)"
}

// forgone says what perch are given up.
func forgone(o *dusk.Option) string {
	if o.Forgone.High < 0.05 {
		return "no perch forgone"
	}
	return number(o.Forgone) + " perch forgone"
}

// number says a count with its range.
func number(r dusk.Rate) string { return fmt.Sprintf("%.1f (%.1f to %.1f)", r.Mean, r.Low, r.High) }

// Windows says when the light at a depth is in the walleye band; empty without any.
func (v Voice) Windows(list []dusk.Window, depth dusk.Range) string {
	var parts []string
	for _, w := range list {
		s := fmt.Sprintf("%s to %s (%s to %s)", v.Clock(w.From), v.Clock(w.To), v.Clock(w.Earliest), v.Clock(w.Latest))
		if w.Chance < 0.8 {
			s += ", if at all: " + Fraction(w.Chance)
		}
		parts = append(parts, s)
	}
	if len(parts) == 0 {
		return ""
	}
	at := v.Units.DepthText((depth[0] + depth[1]) / 2)
	return "Light at " + at + " in the walleye band about " + strings.Join(parts, " and ") + "."
}

// CoverUnknown says what of the cover is not known, a sentence each.
func (v Voice) CoverUnknown(c dusk.Cover) []string {
	var out []string
	if !c.SnowTold {
		out = append(out, "Snow not read these 7 days, and it decides: "+v.Units.IceText(c.Snow[0])+" to "+v.Units.IceText(c.Snow[1])+" reckoned with.")
	}
	if !c.IceTold {
		out = append(out, "Ice not read these 7 days: "+v.Units.IceText(c.Ice[0])+" to "+v.Units.IceText(c.Ice[1])+" reckoned with.")
	}
	if !c.ClearTold {
		out = append(out, "Clarity of the water not told: murky to clear is reckoned with.")
	}
	return out
}

// layer says how thick a layer may be.
func (v Voice) layer(r dusk.Range) string {
	least, most := v.Units.IceText(r[0]), v.Units.IceText(r[1])
	if least == most {
		return most
	}
	return least + " to " + most
}

// leastLux is the light below which no figure is told.
const leastLux = 0.1

// luxText says an illuminance to two figures.
func luxText(x quantity.Illuminance) string {
	switch {
	case x < leastLux:
		return "under 0.1"
	case x < 10:
		return fmt.Sprintf("%.1f", float64(x))
	}
	digits := math.Pow(10, math.Floor(math.Log10(float64(x)))-1)
	return fmt.Sprintf("%.0f", math.Round(float64(x)/digits)*digits)
}

// secondWords are the reasons that only the second target has.
var secondWords = map[string]func(Voice, advise.Reason) string{
	"light": func(v Voice, r advise.Reason) string {
		if r.Rate < 0.2 {
			return "but light at " + v.Units.DepthText(r.Depth) + " is hardly in the walleye band then"
		}
		return fmt.Sprintf("light at %s in the walleye band then, %s", v.Units.DepthText(r.Depth), Fraction(r.Rate))
	},
	"thin": func(_ Voice, r advise.Reason) string {
		if r.Count == 0 && r.Rate < 0.5 {
			return "nobody has fished for walleye on record"
		}
		return fmt.Sprintf("only %d walleye in %.0f line-hours after them on record", r.Count, r.Rate)
	},
	"walleye_record": func(_ Voice, r advise.Reason) string {
		return fmt.Sprintf("%d walleye on record, %.0f line-hours after them", r.Count, r.Rate)
	},
	"walleye_spot": func(_ Voice, r advise.Reason) string {
		return fmt.Sprint(r.Count) + " walleye landed there before"
	},
	"hump": func(v Voice, r advise.Reason) string {
		return "a hump, " + v.Units.DepthText(r.Depth) + " above the water round it"
	},
	"break": func(v Voice, r advise.Reason) string {
		return "a break, " + v.Units.DepthText(r.Depth) + " down beside it"
	},
	"on_way": func(v Voice, r advise.Reason) string {
		if r.Depth < 20*quantity.Metre {
			return "it lies on the way home"
		}
		return "it lies " + v.Units.DistanceText(r.Depth) + " off the way home"
	},
	"deep_release": func(v Voice, r advise.Reason) string {
		return "at " + v.Units.DepthText(r.Depth) + " few fish live when put back: keep what you land"
	},
	"law_unverified": fixed("walleye rules not signed off: unverified, check them"),
	"break_even": func(_ Voice, r advise.Reason) string {
		return fmt.Sprintf("pays while perch run under %.1f a rod-hour", r.Rate)
	},
	"snow_not_told":    fixed("the snow depth at a hole: it decides the light"),
	"clarity_not_told": fixed("how clear the water is: murky to clear is reckoned with"),
	"thin_next": func(_ Voice, r advise.Reason) string {
		return fmt.Sprintf("%d walleye or %.0f line-hours after them on record", r.Count, r.Rate)
	},
	"turn_back_moves": fixed("an earlier turn-back time leaves no time for it"),
	"dusk":            fixed("no dusk plan past the turn-back time"),
}
