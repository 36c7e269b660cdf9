package say

import (
	"fmt"
	"strings"
	"time"

	"icehand/internal/engine/advise"
	"icehand/internal/trade/journal"
)

// EveningText is the evening plan in words.
type EveningText struct {
	Title    string
	Stage    string
	Starts   []StartText
	Pattern  string
	Budget   string
	Times    []TimeText
	TurnBack TurnBackText
	Dusk     []string
	Second   []SecondText // about first light, and before dark
	Changes  []string
	Ice      IceText
	Evidence string
	Footer   string
}

// StartText is one start area in words.
type StartText struct {
	Letter, Where, Depth, Odds, First, Rate, GiveUp, Travel string
	Why, Barred                                             []string
}

// TimeText is one time of a plan.
type TimeText struct{ Clock, What string }

var moments = map[string]string{"civil_dawn": "civil dawn", "first_hole": "first hole", "turn_back": "turn back", "civil_dusk": "civil dusk",
	"sunrise": "sunrise", "sunset": "sunset", "noon": "sun highest", "leave": "leave the landing", "nautical_dawn": "nautical dawn",
	"first_light": "first light", "ashore": "ashore"}

var stages = map[string]string{"early": "first ice", "mid": "midwinter", "late": "late ice"}

// Evening says an evening plan.
func (v Voice) Evening(p advise.EveningPlan) EveningText {
	t := EveningText{Title: "Evening plan for " + weekday(p.Day), Stage: p.Stage, TurnBack: v.TurnBack(p.Home), Ice: v.Ice(p.Ice), Footer: CheckRules}
	if s := stages[p.Stage]; s != "" {
		t.Stage = s
	}
	for _, s := range p.Starts {
		t.Starts = append(t.Starts, v.start(s))
	}
	t.Pattern, t.Budget = v.pattern(p), v.budget(p)
	for _, m := range p.Times {
		what := moments[m.Code]
		if what == "" {
			what = strings.ReplaceAll(m.Code, "_", " ")
		}
		t.Times = append(t.Times, TimeText{v.Clock(m.At), what})
	}
	for _, r := range p.Dusk {
		t.Dusk = append(t.Dusk, v.Reason(r))
	}
	for i := range p.Second {
		t.Second = append(t.Second, v.Second(&p.Second[i]))
	}
	for _, r := range p.Changes {
		t.Changes = append(t.Changes, v.Reason(r))
	}
	t.Evidence = v.evidence(p.Evidence)
	return t
}

func weekday(day string) string {
	d := journal.Day(day)
	if !d.Valid() {
		return day
	}
	return d.Midnight(time.UTC).Format("Monday 2 January 2006")
}

func (v Voice) start(s advise.Start) StartText {
	t := StartText{Letter: s.Letter, Odds: v.Odds(s.Odds), Rate: Rate(s.Rate) + " a rod", Where: v.Units.DistanceText(s.Distance) + " from the landing"}
	if s.Distance <= 0 {
		t.Where = "landing not told, so its way is not known"
	}
	if s.Depth[1] > 0 {
		t.Depth = v.Units.DepthText(s.Depth[0]) + " to " + v.Units.DepthText(s.Depth[1])
		if from, to := v.Units.DepthText(s.Depth[0]), v.Units.DepthText(s.Depth[1]); from == to {
			t.Depth = from
		}
	}
	if s.First.Event != "" {
		t.First = fmt.Sprintf("In at least one of the first %s: %s", Few(s.First.Holes, "hole", "holes"), ShortOdds(s.First))
	}
	if s.Travel > 0 {
		t.Travel = fmt.Sprintf("%d min on the way", minutesUp(s.Travel))
	}
	if s.GiveUp > 0 {
		t.GiveUp = "Nothing after " + Span(s.GiveUp) + ": next letter"
	}
	for _, r := range s.Why {
		t.Why = append(t.Why, v.Reason(r))
	}
	for _, r := range s.Barred {
		t.Barred = append(t.Barred, first(v.Local(r.Text)))
	}
	return t
}

func (v Voice) pattern(p advise.EveningPlan) string {
	if len(p.Pattern.Holes) == 0 {
		return ""
	}
	s := fmt.Sprintf("%s of %s, %s apart", first(p.Pattern.Kind), Few(len(p.Pattern.Holes), "hole", "holes"), v.Units.DistanceText(p.Pattern.Spacing))
	if len(p.Pattern.Why) > 0 {
		s += ": " + v.phrase(p.Pattern.Why[0])
	}
	return s + "."
}

func (v Voice) budget(p advise.EveningPlan) string {
	if p.Holes == 0 {
		return "Hole budget not limited: no battery figure is recorded."
	}
	s := Few(p.Holes, "hole", "holes")
	if p.Drill > 0 {
		s += ", " + v.Units.DepthText(p.Drill) + " of ice to drill"
	}
	return first(s) + "."
}

func (v Voice) evidence(e advise.Evidence) string {
	if e.Looks == 0 && e.Soundings == 0 && e.Holes == 0 {
		return "Rests on no record of this lake yet."
	}
	s := fmt.Sprintf("Rests on %s, %s (%d with marks), %d fish", Few(e.Holes, "hole", "holes"), Few(e.Looks, "look", "looks"), e.WithMarks, e.Fish)
	if e.Days > 0 {
		s += " over " + Few(e.Days, "day", "days")
	}
	if !e.From.IsZero() && !e.To.IsZero() {
		s += fmt.Sprintf(", %s to %s", Date(journal.DayOf(e.From, v.zone())), Date(journal.DayOf(e.To, v.zone())))
	}
	if e.Soundings > 0 {
		s += fmt.Sprintf("; %d soundings", e.Soundings)
	}
	return s + "."
}
