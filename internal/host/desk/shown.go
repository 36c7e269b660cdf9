package desk

import (
	"context"
	"encoding/json"
	"math"
	"time"

	"github.com/google/uuid"

	"icehand/internal/engine/advise"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
)

// Shown is what the journal keeps of a step that was shown: whole numbers and words only.
type Shown struct {
	Do       advise.Action  `json:"do"`
	Hole     string         `json:"hole,omitempty"`
	To       *journal.Point `json:"to,omitempty"`
	Sentence string         `json:"sentence"`
	Reason   string         `json:"reason"`
	OddsPPM  int64          `json:"odds_ppm"`
	WaitS    int64          `json:"wait_s"`
	MinutesS int64          `json:"cost_s"`
	TurnBack int64          `json:"turn_back"`
	Second   string         `json:"second,omitempty"`      // verdict on the second target, when it stood beside the step
	SecondIs string         `json:"second_text,omitempty"` // its words
	PaysPPM  int64          `json:"second_pays_ppm,omitempty"`
	Over     []int64        `json:"rods_to_move,omitempty"` // rods that were told to leave their hole
}

// Same tells whether two shown steps are one call: the same thing to do at the same place, the same rods to move, and the same word on the
// second target.
func (s Shown) Same(o Shown) bool {
	const near = 50 // 1e-7 degree, about half a metre
	if s.Do != o.Do || s.Hole != o.Hole || s.Second != o.Second || (s.To == nil) != (o.To == nil) || len(s.Over) != len(o.Over) {
		return false
	}
	for i := range s.Over {
		if s.Over[i] != o.Over[i] {
			return false
		}
	}
	off := func(a, b int64) bool { return max(a-b, b-a) >= near }
	return s.To == nil || !off(s.To.Lat, o.To.Lat) && !off(s.To.Lon, o.To.Lon)
}

// JournalStep records a step that is about to be shown, once as long as the call stays the same. Shown brings its words.
func (d *Desk) JournalStep(ctx context.Context, s advise.Step, shown Shown) error {
	shown.Do, shown.OddsPPM = s.Do, int64(math.Round(s.Odds.P*1e6))
	shown.WaitS, shown.MinutesS = int64(s.Odds.Wait.Seconds()), int64(math.Round(s.Cost.Minutes*60))
	if s.Hole != uuid.Nil {
		shown.Hole = s.Hole.String()
	}
	for _, r := range s.Rods {
		if r.Do == advise.Move || r.Do == advise.Leave {
			shown.Over = append(shown.Over, int64(r.Rod))
		}
	}
	var last Shown
	err := d.Read(ctx, func(v View) error {
		if s.Do == advise.Drill || s.Do == advise.Look || s.Do == advise.Move {
			shown.To = journal.PointOf(v.Lake.Frame.Position(s.To))
		}
		for i := len(v.Party.Advised) - 1; i >= 0; i-- {
			if a := v.Party.Advised[i]; a.Question == "next" {
				if journal.DayOf(a.When, v.Lake.Zone) == v.Today {
					_ = json.Unmarshal(a.Answer, &last) // an answer of another shape is a different one
				}
				break
			}
		}
		return nil
	})
	if err != nil || shown.Same(last) {
		return err
	}
	answer, err := json.Marshal(shown)
	if err != nil {
		return err
	}
	return d.Advised(ctx, "next", s.Seed, s.Budget, answer)
}

// StayedAnyway is how long a rod sits on after it was told to move before that is called overruled: the time to reel in and pack up; ours.
const StayedAnyway = 5 * time.Minute

// Stayed is a rod that sat on against advice.
type Stayed struct {
	Rod  int
	Sit  *party.Sit
	From time.Time // first told to move during the sit
	For  time.Duration
	On   bool // it sits there still
}

// StayedOn lists the rods of a day that sat on where they had been told to leave, by the first such advice of each sit.
func (v View) StayedOn(day journal.Day) (out []Stayed) {
	for _, s := range v.Party.Sits {
		if s.Day != day || s.From.After(v.Now) {
			continue
		}
		for _, a := range v.Party.Advised {
			if a.Question != "next" || !a.When.After(s.From) || !s.Lasting(a.When) {
				continue
			}
			var shown Shown
			if json.Unmarshal(a.Answer, &shown) != nil || !has(shown.Over, int64(s.Rod)) {
				continue
			}
			end, on := s.To, false
			if end.IsZero() || end.After(v.Now) {
				end, on = v.Now, true
			}
			if stay := end.Sub(a.When); stay > StayedAnyway {
				out = append(out, Stayed{s.Rod, s, a.When, stay, on})
			}
			break
		}
	}
	return out
}

func has(all []int64, x int64) bool {
	for _, y := range all {
		if x == y {
			return true
		}
	}
	return false
}
