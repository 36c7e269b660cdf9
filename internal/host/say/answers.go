package say

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/trade/journal"
)

// Answer is one of the ten questions that a guide asks of any advice, with its answer in short lines.
type Answer struct {
	Number   int
	Key      string // why, looks, wrong, cost, stay, tried, ice, home, walk, seen
	Question string
	Lines    []string
}

// Answers says the ten answers of a step, in their order; none when the step carries none.
func (v Voice) Answers(s advise.Step) []Answer {
	a := s.Answers
	if a == nil {
		return nil
	}
	out := []Answer{
		{Key: "why", Question: "Why there?", Lines: v.whyThere(s)},
		{Key: "looks", Question: "How many looks, how old?", Lines: v.basis(s)},
		{Key: "wrong", Question: "What would make it wrong?", Lines: v.wrong(s)},
		{Key: "cost", Question: "What does it cost?", Lines: v.bill(s)},
		{Key: "stay", Question: "What if we stay instead?", Lines: v.staying(s)},
		{Key: "tried", Question: "Tried before?", Lines: v.tried(s)},
		{Key: "ice", Question: "Is the ice there measured?", Lines: v.iceThere(s)},
		{Key: "home", Question: "Still home by the turn-back?", Lines: v.homeFrom(s)},
		{Key: "walk", Question: "Who can walk that far?", Lines: v.walkers(s)},
		{Key: "seen", Question: "Who can see us go?", Lines: v.seen(s)},
	}
	switch s.Do {
	case advise.Stay:
		out[0].Question, out[4].Question = "Why here?", "What if we go instead?"
	case advise.HeadIn, advise.Leave, advise.Wait:
		out[0].Question = "Why?"
	}
	for i := range out {
		out[i].Number = i + 1
	}
	return out
}

// nowhere is said where an answer hangs on a place and the step has none.
const nowhere = "No place is advised now."

func (v Voice) whyThere(s advise.Step) []string {
	var out []string
	for _, r := range s.Answers.Why {
		line := first(v.phrase(r))
		if against(r) {
			line = "Against: " + v.phrase(r)
		}
		if e := v.Evidence(r); e != "" && !strings.Contains(line, v.atHole(r)) || v.atHole(r) == "" && e != "" {
			line += " (" + e + ")"
		}
		out = append(out, line+".")
	}
	if r := s.RuledOut; r != nil {
		out = append(out, fmt.Sprintf("You ruled out %s at %s; without that it would be the step: %s.", v.Place(r.From), v.Clock(r.When), ShortOdds(r.Odds)))
	}
	if w := AimWord(s.Aim); w != "" && s.Answers.Somewhere {
		out = append(out, "Weighed for the aim of the day: "+w+".")
	}
	return out
}

func (v Voice) basis(s advise.Step) []string {
	a := s.Answers
	var out []string
	if a.Somewhere {
		if b := a.Basis.Near; b.Looks > 0 {
			out = append(out, fmt.Sprintf("%s today within %s, %d with marks: %s.", Few(b.Looks, "look", "looks"), v.Units.DistanceText(a.Basis.Near.Within), b.Marks, v.ages(b)))
		} else {
			out = append(out, "No look within "+v.Units.DistanceText(a.Basis.Near.Within)+" in the last 2 h.")
		}
		if b := a.Basis.Past; b.Looks > 0 {
			out = append(out, fmt.Sprintf("Earlier days within %s: %s on %s, %d with marks, last %s.", v.Units.DistanceText(a.Basis.Past.Within),
				Few(b.Looks, "look", "looks"), Few(b.Days, "day", "days"), b.Marks, Date(journal.DayOf(b.Newest, v.zone()))))
		} else {
			out = append(out, "No look of an earlier day within "+v.Units.DistanceText(a.Basis.Past.Within)+".")
		}
		out = append(out, fmt.Sprintf("About %.0f tenths of the odds come from marks seen today, the rest from depth, stage and record.", math.Round(10*a.Basis.Known)))
		if s.Odds.High > s.Odds.Low {
			out = append(out, "Odds "+Fraction(s.Odds.P)+"; "+OddsRange(s.Odds)+".")
		}
	}
	all := fmt.Sprintf("In all %s today, %d with marks", Few(a.Basis.Today.Looks, "look", "looks"), a.Basis.Today.Marks)
	if b := a.Basis.Season; b.Looks > 0 {
		all += fmt.Sprintf("; %d on %s before, %d with marks", b.Looks, Few(b.Days, "day", "days"), b.Marks)
	}
	return append(out, all+".")
}

// ages says how old the looks of a count are, the newest first.
func (v Voice) ages(c advise.Count) string {
	newest, oldest := v.Now.Sub(c.Newest), v.Now.Sub(c.Oldest)
	if oldest-newest < time.Minute {
		return Age(newest)
	}
	return "newest " + Age(newest) + ", oldest " + Age(oldest)
}

func (v Voice) wrong(s advise.Step) []string {
	var out []string
	for _, d := range s.Answers.Wrong {
		out = append(out, v.doubt(d))
	}
	for _, r := range s.Changes {
		if r.Code != "marks_next" && r.Code != "blank_next" { // said above with their odds
			out = append(out, first(v.phrase(r))+".")
		}
	}
	if s.TossUp {
		out = append(out, "It is a toss-up with the next one.")
	}
	return out
}

// doubt says one thing that would make a step wrong.
func (v Voice) doubt(d advise.Doubt) string {
	switch d.Code {
	case "if_blank":
		out := "Nothing there: the odds there become " + Fraction(d.Odds.P)
		if d.Then != nil {
			out += "; then " + v.follow(*d.Then)
		}
		return out + "."
	case "if_marks":
		return "Marks there: " + Fraction(d.Odds.P) + " for marks again in " + Span(d.Odds.Wait) + "; look twice, then lines."
	case "school_moved":
		return "The school was last seen " + Age(d.Age) + "; by now it may be " + v.Units.DistanceText(d.Near) + " off."
	case "few_looks":
		return fmt.Sprintf("Little speaks for it: %s within %s.", Few(d.Count, "look", "looks"), v.Units.DistanceText(d.Near))
	case "depth_unsure":
		if d.Depth <= 0 {
			return "The depth there is not known."
		}
		return "Depth there " + v.Units.DepthText(d.Depth) + ", give or take " + v.Units.DepthText(d.Near) + "."
	case string(advise.TooEarly), string(advise.NoBetter), string(advise.Worse):
		return v.Score(advise.Score{Verdict: advise.Verdict(d.Code), Looks: d.Count, Needed: d.Of})
	}
	return first(v.phrase(d.Reason)) + "."
}

// follow says a step after the step.
func (v Voice) follow(f advise.Follow) string {
	switch {
	case f.Do == advise.HeadIn:
		return "head in"
	case f.Hole != uuid.Nil && v.hole(f.Hole) != "":
		return "look again in " + v.hole(f.Hole)
	}
	return fmt.Sprintf("drill %d paces %s of it", f.Paces, f.Toward.Compass())
}

func (v Voice) bill(s advise.Step) []string {
	b := s.Answers.Cost
	if b.Minutes <= 0 {
		return []string{"Nothing: no step is taken."}
	}
	var parts []string
	if b.Distance > 0 {
		parts = append(parts, v.Units.DistanceText(b.Distance)+" to walk")
	}
	if b.Drill > 0 {
		parts = append(parts, v.Units.IceText(b.Ice)+" to drill")
	}
	if b.Look > 0 {
		parts = append(parts, Span(b.Look)+" to look")
	}
	if b.Line > 0 {
		parts = append(parts, "rods set up")
	}
	out := []string{v.Cost(b.Cost) + ", done " + v.doneBy(b.Until) + ": " + strings.Join(parts, ", ") + "."}
	switch {
	case b.Holes == 0:
		out = append(out, "No hole.")
	case b.HolesLeft > 0:
		out = append(out, fmt.Sprintf("%s of about %d left in the batteries.", Few(b.Holes, "hole", "holes"), b.HolesLeft))
	default:
		out = append(out, Few(b.Holes, "hole", "holes")+". How much the batteries can drill was not told.")
	}
	slowest := time.Duration(0)
	for _, w := range s.Answers.Walk {
		if w.Can && w.Rod > 0 {
			slowest = max(slowest, w.Walk)
		}
	}
	if slowest > 0 {
		out = append(out, fmt.Sprintf("With marks, the slowest rod that can is there in %d min.", minutesUp(slowest)))
	}
	return out
}

// doneBy writes the minute by which something is done, rounded up.
func (v Voice) doneBy(t time.Time) string { return v.Clock(t.Add(time.Minute - time.Nanosecond)) }

func (v Voice) staying(s advise.Step) []string {
	x := s.Answers.Stay
	var out []string
	if s.Do == advise.HeadIn || s.Do == advise.Leave {
		return []string{"Staying is not weighed: " + strings.ToLower(v.sentence(s.Do, nil, "", 0))}
	}
	if s.Do == advise.Stay {
		for _, o := range s.Others {
			t := v.Alternative(o)
			out = append(out, t.Sentence+": "+t.Odds+", "+t.Cost+".")
		}
		if len(out) == 0 {
			out = append(out, "No other place may be advised, or none is worth the way.")
		}
	} else if x.Odds.Event != "" {
		out = append(out, "Where you stand: "+ShortOdds(x.Odds)+" for marks in "+Span(x.Odds.Wait)+".")
	}
	if x.Rods > 0 {
		line := "The rods as they sit, together: "
		if x.Rods == 1 {
			line = "The rod as it sits: "
		}
		out = append(out, line+Rate(x.Rate)+".")
		if x.Moves > 0 {
			moves := "move"
			if x.Moves > 1 {
				moves = fmt.Sprintf("%d moves", x.Moves)
			}
			out = append(out, "After the "+moves+" advised: "+Rate(x.Moved)+".")
		}
		if x.Quiet > 0 {
			out = append(out, fmt.Sprintf("%d of %s: nothing seen for 5 min or more.", x.Quiet, Few(x.Rods, "rod", "rods")))
		}
	} else {
		out = append(out, "No line is in the water.")
	}
	return out
}

func (v Voice) tried(s advise.Step) []string {
	if !s.Answers.Somewhere {
		return []string{nowhere}
	}
	t := s.Answers.Before
	within := v.Units.DistanceText(t.Within)
	if len(t.Visits) == 0 {
		if t.Nearest <= 0 {
			return []string{"Never: no hole is on record."}
		}
		return []string{"Never within " + within + ". The nearest hole, " + v.hole(t.Hole) + ", is " + v.Units.DistanceText(t.Nearest) + " off."}
	}
	var out []string
	for _, x := range t.Visits {
		when := Date(x.Day)
		if x.Day == v.today() {
			when = "Today"
		}
		when += " " + v.Clock(x.First)
		if x.Last.Sub(x.First) >= time.Minute {
			when += " to " + v.Clock(x.Last)
		}
		out = append(out, when+": "+v.came(x)+".")
	}
	if t.Days > 0 {
		out = append(out, fmt.Sprintf("%s before that: %s.", Few(t.Days, "day", "days"), v.came(t.Earlier)))
	} else if t.Visits[len(t.Visits)-1].Day == v.today() {
		out = append(out, "On no earlier day within "+within+".")
	}
	return out
}

// came says what came of a visit.
func (v Voice) came(x advise.Visit) string {
	parts := []string{Few(len(x.Holes), "hole", "holes")}
	switch {
	case x.Looks == 0:
		parts = append(parts, "no look")
	default:
		parts = append(parts, fmt.Sprintf("%s, %d with marks", Few(x.Looks, "look", "looks"), x.Marks))
	}
	if x.Fish > 0 || x.Sat > 0 {
		fish := Few(x.Fish, "fish", "fish")
		if x.Good > 0 {
			fish += fmt.Sprintf(" (%d good)", x.Good)
		}
		if x.Sat >= time.Minute {
			fish += " in " + Span(x.Sat) + " of sitting"
		}
		parts = append(parts, fish)
	}
	return strings.Join(parts, ", ")
}

func (v Voice) iceThere(s advise.Step) []string {
	a := s.Answers
	if !a.Somewhere {
		return []string{nowhere}
	}
	var out []string
	if s.Do == advise.Stay {
		out = append(out, v.Nearest(a.Ice.Safety.Nearest))
	} else {
		out = append(out, v.Hop(a.Ice.Safety))
	}
	if n := a.Ice.Safety.Nearest; n != nil && n.Reading != nil {
		by := ""
		if v.Writer != nil {
			by = v.Writer(a.Ice.By, a.Ice.When)
		}
		if by == "" {
			by = "who is not on record"
		}
		out = append(out, "That reading: "+v.When(a.Ice.When)+", by "+by+".")
	}
	if a.Ice.Today > 0 {
		out = append(out, fmt.Sprintf("Thinnest of %s today: %s at %s, %s off.", Few(a.Ice.Today, "reading", "readings"),
			v.Units.IceText(a.Ice.Thinnest), v.Clock(a.Ice.ThinWhen), v.Units.DistanceText(a.Ice.ThinAway)))
	} else {
		out = append(out, "No ice was read today.")
	}
	return append(out, TestAsYouGo)
}

func (v Voice) homeFrom(s advise.Step) []string {
	h := s.Answers.Home
	var out []string
	latest := "turn-back " + v.Clock(h.Latest)
	if s.Answers.Somewhere {
		latest = "start home from there by " + v.Clock(h.Latest)
	}
	switch {
	case s.Do == advise.HeadIn:
		out = append(out, "The turn-back time is "+v.Clock(h.At)+": head in now.")
	case h.Spare < 0:
		out = append(out, "No: done "+v.doneBy(h.Done)+", "+latest+".")
	default:
		out = append(out, "Done "+v.doneBy(h.Done)+"; "+latest+": "+Span(h.Spare)+" left.")
	}
	if h.Known {
		out = append(out, fmt.Sprintf("%d min home from there. Turn-back %s: %s.", minutesUp(h.Travel), v.Clock(h.At), strings.TrimRight(v.Local(h.Text), ".")))
	} else if s.Answers.Somewhere {
		out = append(out, "No way home from there is known; the turn-back time of where you stand is used.")
	}
	if !h.Set.IsZero() {
		out = append(out, "Turn-back set by the guide at "+v.Clock(h.Set)+"; computed "+v.Clock(h.Would)+".")
	}
	if !h.Told {
		out = append(out, "No turn-back time was worked out: two hours before sunset stand in.")
	}
	return out
}

// person names somebody, or says the role.
func (v Voice) person(w advise.Walker) string {
	if v.Person != nil {
		if n := v.Person(w.Person); n != "" {
			return n
		}
	}
	if w.Rod > 0 {
		return fmt.Sprintf("%s of rod %d", w.Role, w.Rod)
	}
	return w.Role
}

func (v Voice) walkers(s advise.Step) []string {
	if !s.Answers.Somewhere {
		return []string{nowhere}
	}
	if len(s.Answers.Walk) == 0 {
		return []string{"Nobody is recorded for today."}
	}
	var can, lost, children []string
	var out []string
	var slowest advise.Walker
	far := quantity.Length(0)
	for _, w := range s.Answers.Walk {
		switch {
		case !w.Placed:
			lost = append(lost, v.person(w))
		case w.Can:
			can = append(can, v.person(w))
			if w.Walk > slowest.Walk {
				slowest = w
			}
		case w.Barred != "":
			out = append(out, v.person(w)+": not advised. "+first(strings.TrimRight(v.Local(w.Barred), "."))+".")
		default:
			out = append(out, fmt.Sprintf("%s: %s off, farther than %s at a stretch.", v.person(w), v.Units.DistanceText(w.Distance), v.Units.DistanceText(w.Reach)))
		}
		if w.FromBase > 0 {
			children = append(children, v.person(w))
			far = w.FromBase
		}
	}
	if len(can) > 0 {
		line := list(can) + "."
		if slowest.Walk > 0 {
			line += fmt.Sprintf(" Slowest: %s, %s, %d min.", v.person(slowest), v.Units.DistanceText(slowest.Distance), minutesUp(slowest.Walk))
		}
		out = append([]string{line}, out...)
	}
	if len(lost) > 0 {
		out = append(out, "Not known where: "+list(lost)+".")
	}
	if len(children) > 0 {
		out = append(out, "From the base it is "+v.Units.DistanceText(far)+": far to warmth for "+list(children)+".")
	}
	return append(out, v.reaches(s.Answers.Walk))
}

// reaches says how far people are taken to walk.
func (v Voice) reaches(all []advise.Walker) string {
	usual := map[string]string{}
	var told, ages []string
	for _, w := range all {
		switch {
		case w.Told:
			told = append(told, v.person(w)+" "+v.Units.DistanceText(w.Reach))
		case usual[w.Age] == "":
			usual[w.Age] = v.Units.DistanceText(w.Reach)
		}
	}
	for _, age := range []string{"child", "elder", "adult"} {
		if usual[age] != "" {
			ages = append(ages, age+" "+usual[age])
		}
	}
	line := "At a stretch: "
	if len(told) > 0 {
		line += "told, " + list(told)
		if len(ages) > 0 {
			line += "; "
		}
	}
	if len(ages) > 0 {
		line += "by age, " + list(ages)
	}
	return line + "."
}

// sees says how a party sees a person.
var sees = map[advise.Sees]string{
	advise.Plainly: "you are in plain sight", advise.AsASpeck: "you show as a speck", advise.TooSmall: "too far for a bare eye",
	advise.Hidden: "land lies between", advise.Beyond: "farther than one sees now", advise.Sunken: "below the horizon",
}

func (v Voice) seen(s advise.Step) []string {
	if !s.Answers.Somewhere {
		return []string{nowhere}
	}
	x := s.Answers.Seen
	var out []string
	for _, p := range x.Parties {
		who := Few(p.Shelters, "shelter", "shelters")
		if p.Shelters == 0 {
			who = "A party"
		}
		line := fmt.Sprintf("%s %s %s, reported %s: %s", who, v.Units.DistanceText(p.Distance), p.Toward.Compass(), Age(p.Age), sees[p.Sees])
		const closer = 50 * quantity.Metre
		switch {
		case p.Now-p.Distance > closer:
			line += ", " + v.Units.DistanceText(p.Now-p.Distance) + " nearer to them than now"
		case p.Distance-p.Now > closer && p.Now > 0:
			line += ", " + v.Units.DistanceText(p.Distance-p.Now) + " farther than now"
		}
		out = append(out, line+".")
	}
	if x.More > 0 {
		out = append(out, Few(x.More, "party", "parties")+" more, farther off.")
	}
	if len(x.Parties) == 0 {
		out = append(out, "No other party is on record today; who was not logged is not known.")
	}
	if x.Left > 0 {
		out = append(out, Few(x.Left, "party is", "parties are")+" reported gone.")
	}
	plain := "On open ice a person is told for one from " + v.Units.DistanceText(x.Plain)
	if x.Shore > 0 {
		plain += "; the shore is " + v.Units.DistanceText(x.Shore) + " off"
	}
	out = append(out, plain+".")
	if x.AirTold && x.Air < x.Reach {
		out = append(out, "One sees about "+v.Units.DistanceText(x.Air)+" now.")
	}
	if x.Dark {
		out = append(out, "It is dark: a light shows much farther.")
	}
	return out
}
