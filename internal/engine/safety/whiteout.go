package safety

import (
	"fmt"
	"time"

	"icehand/internal/base/quantity"
)

// WhiteoutInput is what [Whiteout] looks at.
type WhiteoutInput struct {
	Now      time.Time
	Back     TurnBack
	Fix      bool // fresh
	Accuracy quantity.Length
	Counted  time.Time // last full head count; zero: none today
	Missing  int       // at it
}

// Holds is whether a condition holds, as far as the record knows.
type Holds int

// What the record knows of a condition.
const (
	NotKnown Holds = iota // only the guide can tell
	Met
	NotMet
)

// Condition is one condition for going in a whiteout.
type Condition struct {
	Code string // line, fix, count, linked, pace, told
	Text string // at most 90 characters
	Is   Holds
}

// WhiteoutAnswer is the choice between staying and going when nothing can be seen. Staying is the answer unless the ice side threatens; the guide decides.
type WhiteoutAnswer struct {
	Threats    []string // from the ice side, today
	Barred     bool     // at least one condition for going is known not to hold
	Conditions []Condition
}

// goodFix is how good a fix must be to walk by in a whiteout, and countFresh how old the head count may be; common practice, no source.
const (
	goodFix    = 10 * quantity.Metre
	countFresh = 15 * time.Minute
)

// Whiteout gives what threatens from the ice side and the conditions for going, each with what the record knows of it. It never says that going is right.
func Whiteout(in WhiteoutInput) WhiteoutAnswer {
	var a WhiteoutAnswer
	for _, d := range in.Back.All {
		if d.Code == "wind_shift" || d.Code == "wind_came" || d.Code == "wind_measured" {
			a.Threats = append(a.Threats, sentence(d.Text))
		}
	}
	is := func(code string, met bool, text string) {
		h := NotMet
		if met {
			h = Met
		}
		a.Conditions = append(a.Conditions, Condition{code, text, h})
		a.Barred = a.Barred || !met
	}
	ask := func(code, text string) { a.Conditions = append(a.Conditions, Condition{code, text, NotKnown}) }
	switch {
	case !in.Fix: // the way home is reckoned from elsewhere
		is("line", false, "On this morning's line only. No fix: where you stand is not known")
		is("fix", false, "A fix better than 10 m. No fix now")
	default:
		is("line", in.Back.Way.Travelled(), "On this morning's line only, to the landing used today. By record: "+in.Back.Way.Basis)
		is("fix", in.Accuracy > 0 && in.Accuracy < goodFix, "A fix better than 10 m. Now within "+quantity.SI.FarText(in.Accuracy))
	}
	age := in.Now.Sub(in.Counted)
	switch {
	case in.Counted.IsZero():
		is("count", false, "Everybody counted. No head count today")
	case in.Missing > 0:
		is("count", false, fmt.Sprintf("Everybody counted. %d missing at the last count", in.Missing))
	default:
		is("count", age <= countFresh, "Everybody counted just now. Last count "+agoText(age))
	}
	ask("linked", "Everybody on one rope or hand to hand, the sweep named")
	ask("pace", "At the slowest walker's pace, spud ahead, stop when the line is lost")
	ask("told", "Somebody ashore told: who goes, which way, when you call next")
	return a
}
