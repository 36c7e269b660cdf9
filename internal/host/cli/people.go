package cli

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
)

type peopleCmd struct {
	Left    string `help:"Tell what is left of something: bait, battery, fuel, heat." placeholder:"WHAT"`
	Percent int64  `help:"How much of it, in percent." default:"-1" placeholder:"N"`

	Add     string   `help:"Put somebody onto the day." placeholder:"NAME"`
	Role    string   `help:"Of somebody put on: guest, guide or scout." placeholder:"ROLE"`
	Age     string   `help:"Of somebody put on: adult, child or elder." placeholder:"AGE"`
	Rod     int64    `help:"The rod that is theirs." placeholder:"N"`
	Licence string   `help:"Licence number; it stays on this device." placeholder:"TEXT"`
	Seen    bool     `help:"You have seen the licence."`
	Until   string   `help:"Last day on which it holds." placeholder:"DATE"`
	Notes   string   `help:"Health and clothing: for you and for rescue alone." placeholder:"WORDS"`
	Who     []string `help:"Whom --seen, --until, --notes or --state are about; left out with --state: everybody of the day." placeholder:"NAME"`
	State   string   `help:"Report people: on_ice, ashore, leaving, unseen." placeholder:"STATE"`
	Double  string   `help:"Take the later entry of somebody who was entered twice off the day." placeholder:"NAME"`
	Why     string   `help:"Of --double: why." default:"entered twice" placeholder:"WORDS"`
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

// record writes what was told: somebody put on, people reported, licences and notes, or what is left of something.
func (c peopleCmd) record(ctx context.Context, d *desk.Desk) error {
	if c.Left != "" {
		return d.Record(ctx, desk.Act{}, &journal.Supply{What: c.Left, Left: c.Percent})
	}
	if c.Add != "" {
		return d.Join(ctx, desk.Act{}, desk.Joining{Name: c.Add, Role: c.Role, Age: c.Age, Rod: c.Rod, Licence: c.Licence, Seen: c.Seen, Until: journal.Day(c.Until), Notes: c.Notes, OnIce: c.State == "on_ice"})
	}
	if c.Double != "" {
		return d.DoubleNamed(ctx, desk.Act{}, c.Double, c.Why)
	}
	var who []uuid.UUID
	err := d.Read(ctx, func(v desk.View) error {
		for _, n := range c.Who {
			id, err := v.GuestNamed(n)
			if err != nil {
				return err
			}
			who = append(who, id)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if c.State != "" {
		if err := d.Report(ctx, desk.Act{}, who, c.State); err != nil {
			return err
		}
	}
	return c.roster(ctx, d, who)
}

// roster tells licence and notes of people; what was not typed stays.
func (c peopleCmd) roster(ctx context.Context, d *desk.Desk, who []uuid.UUID) error {
	var r desk.Roster
	if c.Seen {
		r.Seen = &c.Seen
	}
	if c.Licence != "" {
		r.Licence = &c.Licence
	}
	if until := journal.Day(c.Until); until != "" {
		r.Until = &until
	}
	if c.Notes != "" {
		r.Notes = &c.Notes
	}
	if r == (desk.Roster{}) {
		return nil
	}
	if len(who) == 0 {
		return fault.New(fault.BadInput, "Say --who NAME, or --add NAME for somebody new.", "nobody is named")
	}
	for _, id := range who {
		if err := d.TellRoster(ctx, desk.Act{}, id, r); err != nil {
			return err
		}
	}
	return nil
}

// tells tells whether something is to be written.
func (c peopleCmd) tells() bool {
	return c.Left != "" || c.Add != "" || c.State != "" || c.Double != "" || c.Seen || c.Licence != "" || c.Until != "" || c.Notes != ""
}

func (c peopleCmd) Run(ctx context.Context, g *Globals) error {
	if c.tells() {
		return g.put(ctx, "/local/left", c)
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
			if m.Twice {
				line += "; the same name stands twice: is it one person? Then icehand people --double " + strconv.Quote(m.Name)
			}
			if m.Licence == "expired" {
				line += "; the licence has run out"
			}
			g.say("%s", line)
		}
		for _, what := range slices.Sorted(maps.Keys(j.Left)) {
			g.say("%s: %d %% left", what, j.Left[what])
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
