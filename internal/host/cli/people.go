package cli

import (
	"context"
	"fmt"
	"math"

	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

type peopleCmd struct {
	Left    string `help:"Tell what is left of something: bait, battery, fuel, heat." placeholder:"WHAT"`
	Percent int64  `help:"How much of it, in percent." default:"-1" placeholder:"N"`
}

type memberJSON struct {
	Name    string `json:"name"`
	Role    string `json:"role"`
	Age     string `json:"age"`
	State   string `json:"state"` // on_ice, leaving, unseen, ashore, not_reported
	Since   string `json:"since,omitempty"`
	Contra  bool   `json:"contradictory"`
	Hole    string `json:"hole,omitempty"`
	Fishing bool   `json:"fishing"`
	WaitS   int64  `json:"waited_s"`
	Fished  bool   `json:"since_a_fish"`
	Licence string `json:"licence"`
	Twice   bool   `json:"same_name_twice"`
}

type calledJSON struct {
	Name    string  `json:"name"`
	ArriveS float64 `json:"there_in_s"`
	FishS   float64 `json:"at_the_fish_s"`
	Barred  string  `json:"not_called,omitempty"`
}

type callJSON struct {
	Hole  string       `json:"hole"`
	StayS float64      `json:"stay_s"`
	Rests int          `json:"rests_on"`
	Who   []calledJSON `json:"who"`
}

type gatheringJSON struct {
	Members []memberJSON     `json:"members"`
	Loud    []string         `json:"loud"`
	Open    int              `json:"open_holes"`
	Left    map[string]int64 `json:"left_pct"`
	Call    *callJSON        `json:"call"`
}

// record tells what is left of something.
func (c peopleCmd) record(ctx context.Context, d *desk.Desk) error {
	return d.Record(ctx, desk.Act{}, &journal.Supply{What: c.Left, Left: c.Percent})
}

func (c peopleCmd) Run(ctx context.Context, g *Globals) error {
	if c.Left != "" {
		if err := g.record(ctx, "/local/left", c); err != nil {
			return err
		}
		return g.saved()
	}
	return g.question(ctx, func(s *session, sh shaper) error {
		x, err := s.Gathering(ctx)
		if err != nil {
			return err
		}
		if g.JSON {
			return g.printJSON(gathered(x, sh))
		}
		for _, name := range x.Loud {
			g.say("! %s: reports contradict, or out of sight. Counted as on the ice.", name)
		}
		j := gathered(x, sh)
		for _, m := range j.Members {
			line := fmt.Sprintf("%s (%s): %s", m.Name, m.Role, m.State)
			if m.Hole != "" {
				line += ", hole " + m.Hole
			}
			if m.WaitS > 0 {
				line += ", " + map[bool]string{true: "last fish ", false: "no fish for "}[m.Fished] + fmt.Sprintf("%d min", m.WaitS/60)
			}
			g.say("%s", line)
		}
		for what, n := range j.Left {
			g.say("%s: %d %% left", what, n)
		}
		g.say("%d holes stand open", j.Open)
		if j.Call == nil {
			g.say("No sign of fish at a hole in the last minutes: nobody to call over.")
			return nil
		}
		g.say("Fish at hole %s, about %d min more (%d earlier spells and what is usual). Whom to call over, for your eyes:", j.Call.Hole, int(j.Call.StayS/60), j.Call.Rests)
		for _, w := range j.Call.Who {
			if w.Barred != "" {
				g.say("  %s: not called, %s", w.Name, w.Barred)
				continue
			}
			g.say("  %s: there in %.0f s, %.0f min at the fish", w.Name, w.ArriveS, math.Floor(w.FishS/60))
		}
		return nil
	})
}

// gathered shapes a gathering.
func gathered(x desk.Gathering, sh shaper) gatheringJSON {
	out := gatheringJSON{Members: []memberJSON{}, Loud: append([]string{}, x.Loud...), Open: len(x.Open), Left: map[string]int64{}}
	names := map[string]string{}
	for _, m := range x.Members {
		names[m.ID.String()] = m.Name
		j := memberJSON{Name: m.Name, Role: m.Role, Age: m.Age, State: "not_reported", Contra: m.Where.Contradictory, Fishing: m.Fishing, WaitS: int64(m.Waited.Seconds()), Fished: m.Fished, Licence: m.Licence, Twice: m.Twice}
		if m.Told {
			j.State, j.Since = m.Where.State, sh.time(m.Where.Since)
		}
		if m.Hole != nil {
			j.Hole = say.HoleName(m.Hole, x.Day)
		}
		out.Members = append(out.Members, j)
	}
	for _, s := range x.Supplies {
		out.Left[s.What] = s.Left
	}
	if c := x.Calling; c != nil {
		out.Call = &callJSON{Hole: say.HoleName(c.Hole, x.Day), StayS: c.Stay.Seconds(), Rests: c.Rests}
		for _, w := range c.Who {
			out.Call.Who = append(out.Call.Who, called(names[w.Person.String()], w))
		}
	}
	return out
}

func called(name string, w advise.Called) calledJSON {
	return calledJSON{name, w.Arrives.Seconds(), w.Fishes.Seconds(), w.Barred}
}
