package say

import (
	"fmt"
	"math"
	"strings"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/safety"
)

// StepText is the next step in words.
type StepText struct {
	Sentence string   // one, at most 90 characters
	Reason   string   // one, at most 90 characters
	Facts    []string // odds with event and wait; cost
	Ice      string   // state of the ice there; empty when the step does not leave this hole
	Others   []AlternativeText
	Rods     []RodText
	TossUp   string // said when the best alternative is as good
	Changes  []string
	Spread   string     // of the odds
	Second   SecondText // the second target
	Plain    string     // said when the line-and-spiral way answered
	Clock    string     // the sit clock of every rod in one line; empty without rods
	Aim      string     // "" when not told
}

// AlternativeText is another step in words.
type AlternativeText struct{ Sentence, Odds, Cost, Reason, Ice string }

// RodText is what one or several rods should do.
type RodText struct{ Sentence, Rate, Reason, Short string }

// Step says the next step.
func (v Voice) Step(s advise.Step) StepText {
	t := StepText{Sentence: v.call(s), Reason: v.Because(s.Why), Rods: v.rods(s.Rods), Second: v.Second(s.Second)}
	t.Facts = v.facts(s.Do, s.Odds, s.Cost)
	if moves(s.Do) {
		t.Ice = v.Hop(s.Ice)
		t.Spread = OddsRange(s.Odds)
	}
	for _, a := range s.Others {
		t.Others = append(t.Others, v.Alternative(a))
	}
	if s.TossUp && len(t.Others) > 0 {
		t.TossUp = "A toss-up with the next one: either will do."
	}
	if s.Plain {
		t.Plain = "By line and spiral: little to go on yet."
		if s.Score.Verdict == advise.Worse {
			t.Plain = v.Score(s.Score)
		}
	}
	t.Clock = v.SitClock(s.Rods)
	t.Aim = AimWord(s.Aim)
	for _, r := range s.Changes {
		t.Changes = append(t.Changes, v.Reason(r))
	}
	return t
}

// moves tells whether an action leads to a place with odds of its own.
func moves(a advise.Action) bool {
	return a == advise.Drill || a == advise.Look || a == advise.Move
}

// call says a step's sentence.
func (v Voice) call(s advise.Step) string {
	if s.Do == advise.Stay {
		return v.stay(s)
	}
	if s.Do == advise.Wait && len(s.Why) > 0 && (s.Why[0].Code == "no_reading" || s.Why[0].Code == "far") {
		return "Read the ice where you stand first."
	}
	return v.sentence(s.Do, s.From, v.hole(s.Hole), 0)
}

// stay says how long the sit clock still runs when it is known.
func (v Voice) stay(s advise.Step) string {
	var ask time.Time
	for _, r := range s.Rods {
		if r.Do == advise.Stay && (ask.IsZero() || r.ReAsk.Before(ask)) {
			ask = r.ReAsk
		}
	}
	return v.sentence(advise.Stay, nil, v.hole(s.Hole), minutesUp(ask.Sub(v.Now)))
}

// sentence says an action at a place.
func (v Voice) sentence(do advise.Action, from *advise.Anchor, hole string, minutes int) string {
	switch do {
	case advise.Drill:
		return fit("Drill " + v.Place(from) + ".")
	case advise.Look:
		if hole == "" {
			return fit("Look again " + v.Place(from) + ".")
		}
		return fit("Look again in " + hole + v.way(from, hole) + ".")
	case advise.Move:
		if hole == "" {
			return fit("Bring the party over, " + v.Place(from) + ".")
		}
		return fit("Bring the party over to " + hole + v.way(from, hole) + ".")
	case advise.Stay:
		at := "here"
		if hole != "" {
			at = "at " + hole
		}
		if minutes > 0 {
			return fit(fmt.Sprintf("Sit %s %d min more.", at, minutes))
		}
		return fit("Sit " + at + ".")
	case advise.HeadIn:
		return "Head in now."
	case advise.Leave:
		return "Leave this spot."
	case advise.Wait:
		return "Wait. No step may be advised from here."
	}
	return fit(first(strings.ReplaceAll(string(do), "_", " ")) + ".")
}

// way says where a named hole lies, unless its anchor is that hole itself.
func (v Voice) way(from *advise.Anchor, hole string) string {
	if from == nil || from.Paces == 0 || fmt.Sprint(from.Number) == hole {
		return ""
	}
	short := *from
	short.OnLine = nil // the hole is named already
	return ", " + v.Place(&short)
}

// facts says odds and cost.
func (v Voice) facts(do advise.Action, o advise.Odds, c advise.Cost) []string {
	var out []string
	if o.Event != "" && do != advise.HeadIn && do != advise.Wait && do != advise.Leave {
		out = append(out, v.Odds(o))
	}
	if s := v.Cost(c); s != "" {
		if c.Holes > 0 {
			s += ", " + Few(c.Holes, "hole", "holes")
		}
		out = append(out, s)
	}
	return out
}

// Score says how the forecasts of today's looks have fared.
func (v Voice) Score(s advise.Score) string {
	looks := Few(s.Looks, "look", "looks")
	switch s.Verdict {
	case advise.Worse:
		return "The odds did worse than a constant rate today (" + looks + "): line and spiral answers."
	case advise.NoBetter:
		return "The odds did no better than a constant rate today (" + looks + ")."
	case advise.Better:
		return "The odds did better than a constant rate today (" + looks + ")."
	}
	return fmt.Sprintf("Too early to judge the odds: %d looks of %d.", s.Looks, s.Needed)
}

// SitClock says the minutes left of every rod's sit, rods of one mind together: 1: 4 min | 2, 5: 2 min | 3: to 19.
func (v Voice) SitClock(steps []advise.RodStep) string {
	var order []string
	rods := map[string][]string{}
	for _, r := range steps {
		var what string
		switch r.Do {
		case advise.Stay:
			what = fmt.Sprintf("%d min", minutesUp(r.ReAsk.Sub(v.Now)))
			if r.ReAsk.Sub(v.Now) <= 0 {
				what = "ask again"
			}
		case advise.Move:
			what = "to " + v.hole(r.To)
			if r.TossUp {
				what += "?"
			}
		default:
			what = "lines up"
		}
		if rods[what] == nil {
			order = append(order, what)
		}
		rods[what] = append(rods[what], fmt.Sprint(r.Rod))
	}
	var out []string
	for _, what := range order {
		out = append(out, strings.Join(rods[what], ", ")+": "+what)
	}
	return strings.Join(out, " | ")
}

// aims are the aims of a day in the order in which they are offered.
var aims = []struct{ code, words string }{
	{"numbers", "numbers"}, {"size", "good-sized fish"}, {"action", "action"}, {"first_fish", "a first fish"}, {"learning", "learning ground for tomorrow"},
}

// Aims lists the codes of the aims.
func Aims() []string {
	var out []string
	for _, a := range aims {
		out = append(out, a.code)
	}
	return out
}

// AimWord names an aim; "" for a code that is none.
func AimWord(code string) string {
	for _, a := range aims {
		if a.code == code {
			return a.words
		}
	}
	return ""
}

// Cost says what a step takes in minutes, rounded up.
func (v Voice) Cost(c advise.Cost) string {
	if c.Minutes <= 0 {
		return ""
	}
	return fmt.Sprintf("%.0f min", math.Ceil(c.Minutes-1e-9))
}

// CostLong says a cost in full: 4 min, 60 m to walk, 1 hole, 41 cm to drill.
func (v Voice) CostLong(c advise.Cost) string {
	var parts []string
	if s := v.Cost(c); s != "" {
		parts = append(parts, s)
	}
	if c.Distance > 0 {
		parts = append(parts, v.Units.DistanceText(c.Distance)+" to walk")
	}
	if c.Holes > 0 {
		parts = append(parts, Few(c.Holes, "hole", "holes"))
	}
	if c.Ice > 0 {
		parts = append(parts, v.Units.IceText(c.Ice)+" to drill")
	}
	return strings.Join(parts, ", ")
}

// Alternative says another step.
func (v Voice) Alternative(a advise.Alternative) AlternativeText {
	t := AlternativeText{Cost: v.Cost(a.Cost), Reason: v.Because(a.Why)}
	minutes := 0
	if a.Do == advise.Stay {
		minutes = int(math.Ceil(a.Cost.Minutes))
	}
	from := a.From
	if from != nil {
		short := *from
		short.OnLine = nil // one way of saying it is enough beside the step
		from = &short
	}
	t.Sentence = strings.TrimRight(v.sentence(a.Do, from, v.hole(a.Hole), minutes), ".")
	if a.Odds.Event != "" {
		t.Odds = ShortOdds(a.Odds)
	}
	if moves(a.Do) {
		t.Ice = v.Hop(a.Ice)
	}
	return t
}

// Hop says the state of the ice on a step.
func (v Voice) Hop(h safety.HopAnswer) string {
	switch {
	case h.Barred && len(h.Reasons) > 0:
		return fit(first(v.Local(h.Reasons[0].Text)))
	case h.Label != "" && v.Units == quantity.SI:
		return fit(h.Label)
	}
	s := v.NotReadThere(h.Nearest)
	if h.Read && h.Nearest != nil && h.Nearest.Reading != nil {
		s = fmt.Sprintf("Ice read here %s, %s.", v.Units.IceText(h.Nearest.Reading.Total), Age(h.Nearest.Age))
	}
	if strings.Contains(h.Label, "ir not known") { // the engine's own line says so in SI units
		s += " Air not known."
	}
	return fit(s)
}

// rods says what the rods should do, rods of one mind in one line.
func (v Voice) rods(steps []advise.RodStep) []RodText {
	type mind struct {
		do   advise.Action
		to   string
		ask  int
		toss bool
	}
	var order []mind
	numbers := map[mind][]string{}
	one := map[mind]advise.RodStep{}
	for _, r := range steps {
		m := mind{r.Do, v.hole(r.To), 0, r.Do == advise.Move && r.TossUp}
		if r.Do == advise.Stay {
			m.ask = minutesUp(r.ReAsk.Sub(v.Now))
			m.to = ""
		}
		if _, seen := one[m]; !seen {
			order, one[m] = append(order, m), r
		}
		numbers[m] = append(numbers[m], fmt.Sprint(r.Rod))
	}
	var out []RodText
	for _, m := range order {
		r, who := one[m], "Rod "+list(numbers[m])
		if len(numbers[m]) > 1 {
			who = "Rods " + list(numbers[m])
		}
		t := RodText{Rate: Rate(r.Here), Reason: v.Because(r.Why), Short: ShortRate(r.Here)}
		switch m.do {
		case advise.Stay:
			t.Sentence = who + ": sit on"
			if m.ask > 0 {
				t.Sentence = fmt.Sprintf("%s: sit %d min more", who, m.ask)
			}
		case advise.Move:
			t.Sentence = strings.TrimRight(who+": move to "+m.to, " ")
			if r.TossUp {
				t.Sentence = who + ": a toss-up, stay or move to " + m.to
			}
			t.Rate = "here " + Rate(r.Here) + ", there " + Rate(r.There)
			t.Short = rateFigure(r.Here.Mean, max(r.Here.High, r.There.High)) + " here, " + rateFigure(r.There.Mean, max(r.Here.High, r.There.High)) + " there"
			t.Reason = v.movingRod(r.Why)
		case advise.Leave:
			t.Sentence, t.Rate, t.Short = who+": lines up, leave this spot", "", ""
		case advise.HeadIn:
			t.Sentence, t.Rate, t.Short = who+": lines up, head in", "", ""
		default:
			t.Sentence = who + ": " + strings.ReplaceAll(string(m.do), "_", " ")
		}
		out = append(out, t)
	}
	return out
}

// minutesUp rounds a time left up to whole minutes; 0 when it is over.
func minutesUp(d time.Duration) int {
	if d <= 0 || d > 24*time.Hour {
		return 0
	}
	return int(math.Ceil(d.Minutes()))
}
