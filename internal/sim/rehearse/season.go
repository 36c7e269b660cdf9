package rehearse

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

// DaysInSeason is a full season: early ice at its start, late ice at its end.
const DaysInSeason = 60

// SeasonReport compares ways that fish the same lakes day after day.
type SeasonReport struct {
	Seed    uint64         `json:"seed"`
	Lakes   int            `json:"lakes"`
	Winters int            `json:"winters"`
	Days    int            `json:"days"` // a winter
	Rods    int            `json:"rods"`
	Ways    []SeasonPolicy `json:"policies"`
}

// SeasonPolicy is how one way did over the winters.
type SeasonPolicy struct {
	Name    string         `json:"name"`
	Winters []SeasonWinter `json:"winters"`
}

// SeasonWinter is one winter of a way, in stretches of days.
type SeasonWinter struct {
	Winter int       `json:"winter"` // 1 is the first
	All    Stretch   `json:"all"`
	Parts  []Stretch `json:"parts"`
}

// Stretch is some days of a winter, both ends counted from 1.
type Stretch struct {
	From            int     `json:"from"`
	To              int     `json:"to"`
	FishPerHour     float64 `json:"fish_per_rod_hour"`
	GoodPerHour     float64 `json:"good_fish_per_rod_hour"`
	OverRemembering *Ratio  `json:"fish_over_remembering_rule,omitempty"` // bootstrap over lakes
	GoodRemembering *Ratio  `json:"good_over_remembering_rule,omitempty"`
	ShareOfMap      *Ratio  `json:"share_of_true_map_gain,omitempty"` // of what the same planner gains by knowing the map; bootstrap over lakes
}

// stretches are the days of a winter that the tables show.
var stretches = [][2]int{{1, 2}, {4, 6}, {9, 11}, {19, 21}, {39, 41}, {58, 60}}

// SeasonOptions says what to compare.
type SeasonOptions struct {
	Lakes   int // shared out over the families
	Winters int // 0: 1
	Days    int // 0: DaysInSeason
	Options     // Seed, Families, Ways, Rods, Aim, Workers, Progress
}

// SeasonWays are compared when none are named.
func SeasonWays() []string {
	return []string{"spiral-rule", "remembering-rule", "notes-planner", "notes-memory", "notes-map", "engine", "engine-memory", "true-map"}
}

func (o *SeasonOptions) settle() error {
	if len(o.Ways) == 0 {
		o.Ways = SeasonWays()
	}
	if o.Days == 0 {
		o.Days = DaysInSeason
	}
	o.Winters = max(1, o.Winters)
	if o.Lakes < 1 {
		return fault.New(fault.BadInput, "Ask for at least one lake.", "a season on %d lakes cannot be rehearsed", o.Lakes)
	}
	o.Options.Days = o.Days
	if err := o.Options.settle(); err != nil {
		return err
	}
	if slices.Contains(o.Ways, "bound") {
		return fault.New(fault.BadInput, "Leave the bound out of seasons.", "the bound walks no season")
	}
	return nil
}

// RunSeason walks every way through whole winters on the same lakes. Ways with a memory keep it; the others begin anew
// each day. Yesterday's catch does not thin today's fish.
func RunSeason(ctx context.Context, o SeasonOptions) (*SeasonReport, error) {
	if err := o.settle(); err != nil {
		return nil, err
	}
	lakes, err := o.work(ctx, o.lakeJobs(newSurfaces()))
	if err != nil {
		return nil, err
	}
	return o.tabulateSeason(o.byWay(lakes)), nil
}

// lakeJobs are the lakes with all their winters.
func (o *SeasonOptions) lakeJobs(depths *surfaces) []job {
	jobs := make([]job, o.Lakes)
	for lake := range jobs {
		jobs[lake] = job{fmt.Sprintf("season/%dx%d/%d", o.Winters, o.Days, lake), o.Winters * o.Days * len(o.Ways),
			func(ctx context.Context, passed func(int)) ([]Outcome, error) {
				return o.winters(ctx, depths, lake, passed)
			}}
	}
	return jobs
}

// byWay parts the outcomes of each lake, which are in the order of days, by way.
func (o *SeasonOptions) byWay(lakes [][]Outcome) [][][]Outcome {
	out := make([][][]Outcome, len(lakes))
	for i, all := range lakes {
		out[i] = make([][]Outcome, len(o.Ways))
		for k, x := range all {
			out[i][k%len(o.Ways)] = append(out[i][k%len(o.Ways)], x)
		}
	}
	return out
}

// winters walks all ways through all winters of one lake, day by day.
func (o *SeasonOptions) winters(ctx context.Context, depths *surfaces, lake int, passed func(days int)) ([]Outcome, error) {
	f := o.family(o.Families[lake%len(o.Families)])
	seed := o.Seed + uint64(lake)
	var out []Outcome
	kept := make([]way.Way, len(o.Ways))
	for winter := range o.Winters {
		l := world.NewLake(f, seed, winter)
		for day := range o.Days {
			season := world.Season(2 * float64(day) / float64(max(1, o.Days-1)))
			date := winter*DaysInSeason + day
			d := l.Day(season, uint64(date))
			for i, name := range o.Ways {
				if err := ctx.Err(); err != nil {
					return nil, err
				}
				run := d.Run()
				w, n := kept[i], find(name)
				if w == nil {
					w = n.make(setting{d, run, depths, o.Budget})
				}
				if n.memory {
					kept[i] = w
				}
				r, err := Walk(d, run, w, Brief(d, o.Rods, o.Aim, seed*1000+uint64(date), date))
				if err != nil {
					return nil, fmt.Errorf("rehearse: way %s on %s lake %d, day %d: %w", name, f.Name, seed, date, err)
				}
				out = append(out, r)
			}
			passed(len(o.Ways))
		}
	}
	return out, nil
}

func (o *SeasonOptions) tabulateSeason(outcomes [][][]Outcome) *SeasonReport {
	r := &SeasonReport{Seed: o.Seed, Lakes: o.Lakes, Winters: o.Winters, Days: o.Days, Rods: o.Rods}
	index := func(name string) int { return slices.Index(o.Ways, name) }
	// byLake sums a figure over a stretch for each lake
	byLake := func(w, winter, from, to int, figure func(Outcome) float64) []float64 {
		var out []float64
		for _, lake := range outcomes {
			s := 0.0
			for d := from - 1; d < to; d++ {
				s += figure(lake[w][winter*o.Days+d])
			}
			out = append(out, s)
		}
		return out
	}
	stretch := func(w, winter, from, to int) Stretch {
		hours := float64(o.Lakes*o.Rods*(to-from+1)) * world.Length.Hours()
		mine := byLake(w, winter, from, to, fish)
		s := Stretch{From: from, To: to, FishPerHour: sum(mine) / hours, GoodPerHour: sum(byLake(w, winter, from, to, good)) / hours}
		if k := index("remembering-rule"); k >= 0 {
			s.OverRemembering = ratio(mine, byLake(k, winter, from, to, fish))
			s.GoodRemembering = ratio(byLake(w, winter, from, to, good), byLake(k, winter, from, to, good))
		}
		if none, known := o.mapGain(o.Ways[w]); none >= 0 && known >= 0 {
			s.ShareOfMap = shareOf(mine, byLake(none, winter, from, to, fish), byLake(known, winter, from, to, fish))
		}
		return s
	}
	for w, name := range o.Ways {
		p := SeasonPolicy{Name: name}
		for winter := range o.Winters {
			x := SeasonWinter{Winter: winter + 1, All: stretch(w, winter, 1, o.Days)}
			for _, s := range stretches {
				if s[1] <= o.Days {
					x.Parts = append(x.Parts, stretch(w, winter, s[0], s[1]))
				}
			}
			p.Winters = append(p.Winters, x)
		}
		r.Ways = append(r.Ways, p)
	}
	return r
}

// mapGain gives the ways between which a way's share of the map's gain is told: a planner that remembers nothing and one
// that knows the map, each planner against itself; -1 when they were not walked.
func (o *SeasonOptions) mapGain(name string) (none, known int) {
	if strings.HasPrefix(name, "notes") {
		return slices.Index(o.Ways, "notes-planner"), slices.Index(o.Ways, "notes-map")
	}
	return slices.Index(o.Ways, "engine"), slices.Index(o.Ways, "true-map")
}

// shareOf is (mine - none)/(known - none) of the sums; nil when knowing gains nothing.
func shareOf(mine, none, known []float64) *Ratio {
	share := func(pick []int) float64 {
		gained, gain := 0.0, 0.0
		for _, i := range pick {
			// (REHEARSE-12) share of the true map's gain
			gained, gain = gained+mine[i]-none[i], gain+known[i]-none[i]
		}
		if gain <= 0 {
			return math.Inf(1)
		}
		return gained / gain
	}
	all := make([]int, len(mine))
	for i := range all {
		all[i] = i
	}
	r := &Ratio{Value: share(all)}
	if math.IsInf(r.Value, 1) {
		return nil
	}
	values := bootstrap(len(mine), share)
	r.Low, r.High = min(values[draws*25/1000], 1e6), min(values[draws*975/1000], 1e6)
	return r
}
