// Package rehearse answers which way of searching finds more fish, and why: it walks a party by each way through the
// same made-up days and compares what they caught, how long they waited and where their time went.
//
// Start with [Run]; [Report.Table] prints for people, [Report.Picture] draws, and a Report marshals to JSON. Everything
// is invented; no figure is a catch forecast, and ratios hold on these lakes only.
// It assumes one scout, guests of ordinary hand, and ice that is good to walk on everywhere. It leaves out weather,
// hazards, turn-back and the way home: all ways would pay alike.
// Model note: docs/models/rehearsal.md.
package rehearse

import (
	"context"
	"fmt"
	"slices"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

// Seeds below EvaluationSeed are for tuning; results that are quoted come from EvaluationSeed upwards.
const EvaluationSeed = 900000

// Stage is a time of the winter.
type Stage struct {
	Name   string
	Season world.Season
}

// Stages gives early, middle and late ice.
func Stages() []Stage {
	return []Stage{{"early", world.Early}, {"mid", world.Mid}, {"late", world.Late}}
}

// Options says what to compare on what.
type Options struct {
	Days     int      // a stage; shared out over the families
	Seed     uint64   // of the first day
	Stages   []Stage  // none: all
	Families []string // none: all
	Ways     []string // none: all
	Rods     int      // 0: 4
	Aim      way.Aim  // "": numbers
	Lakes    int      // different lakes of a family; 0: each day has its own
	Budget   int      // places that the engine weighs for each step; 0: 300, a first answer
	Workers  int      // 0: 1
	Flat     bool     // lakes whose places are worth nearly the same
	Ledger   *Ledger  // nil: nothing is kept for later

	// Progress, when not nil, is told how many days of a way are done of how many. It is called from one goroutine at a time.
	Progress func(done, of int)
}

func (o *Options) settle() error {
	if o.Days < 1 {
		return fault.New(fault.BadInput, "Ask for at least one day.", "%d days cannot be rehearsed", o.Days)
	}
	if o.Rods == 0 {
		o.Rods = 4
	}
	if o.Rods < 1 || o.Rods > 12 {
		return fault.New(fault.BadInput, "One scout can serve 1 to 12 guests.", "%d guests are no party for one scout", o.Rods)
	}
	if o.Aim == "" {
		o.Aim = way.Numbers
	}
	if len(o.Stages) == 0 {
		o.Stages = Stages()
	}
	if len(o.Families) == 0 {
		for _, f := range world.Families() {
			o.Families = append(o.Families, f.Name)
		}
	}
	for _, name := range o.Families {
		if _, ok := world.FamilyByName(name); !ok {
			return fault.New(fault.BadInput, "Families are pods, contour, roamers and bottom.", "there is no family of lakes called %q", name)
		}
	}
	if len(o.Ways) == 0 {
		o.Ways = singleDay()
	}
	for _, name := range o.Ways {
		if !slices.Contains(Names(), name) {
			return fault.New(fault.BadInput, fmt.Sprintf("Ways are %v.", Names()), "there is no way of searching called %q", name)
		}
	}
	if o.Budget <= 0 {
		o.Budget = firstLook
	}
	o.Workers = max(1, o.Workers)
	return nil
}

// dated is one day to be walked by every way.
type dated struct {
	family string
	lake   uint64
	date   uint64
	season world.Season
}

func (o *Options) dayAt(stage Stage, i int) dated {
	n := len(o.Families)
	lake := i / n
	if o.Lakes > 0 {
		lake %= o.Lakes
	}
	return dated{o.Families[i%n], o.Seed + uint64(lake), uint64(i / n), stage.Season}
}

// family gives a kind of lake as it is wanted.
func (o *Options) family(name string) world.Family {
	f, _ := world.FamilyByName(name)
	if o.Flat {
		f = f.Flat()
	}
	return f
}

// walkAll walks every way through one day.
func (o *Options) walkAll(ctx context.Context, depths *surfaces, at dated) ([]Outcome, error) {
	f := o.family(at.family)
	d := world.NewLake(f, at.lake, 0).Day(at.season, at.date)
	var out []Outcome
	for _, name := range o.Ways {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if name == "bound" {
			out = append(out, bound(d, o.Rods))
			continue
		}
		run := d.Run()
		w := find(name).make(setting{d, run, depths, o.Budget})
		r, err := Walk(d, run, w, Brief(d, o.Rods, o.Aim, at.lake*1000+at.date, 0))
		if err != nil {
			return nil, fmt.Errorf("rehearse: way %s on %s lake %d, day %d: %w", name, at.family, at.lake, at.date, err)
		}
		out = append(out, r)
	}
	return out, nil
}

// dayJobs are the days of a stage.
func (o *Options) dayJobs(part string, stage Stage, depths *surfaces) []job {
	jobs := make([]job, o.Days)
	for i := range jobs {
		jobs[i] = job{fmt.Sprintf("%s/%s/%d", part, stage.Name, i), len(o.Ways), func(ctx context.Context, passed func(int)) ([]Outcome, error) {
			out, err := o.walkAll(ctx, depths, o.dayAt(stage, i))
			if err == nil {
				passed(len(o.Ways))
			}
			return out, err
		}}
	}
	return jobs
}

// Run walks all ways through all days. The same options give the same report on one machine, however many workers.
func Run(ctx context.Context, o Options) (*Report, error) {
	if err := o.settle(); err != nil {
		return nil, err
	}
	depths := newSurfaces()
	var jobs []job
	for _, stage := range o.Stages {
		jobs = append(jobs, o.dayJobs("days", stage, depths)...)
	}
	days, err := o.work(ctx, jobs)
	if err != nil {
		return nil, err
	}
	return o.report(days), nil
}

// report tables the days of all stages, one stage after the other.
func (o *Options) report(days [][]Outcome) *Report {
	r := &Report{Seed: o.Seed, Days: o.Days, Rods: o.Rods, Aim: o.Aim}
	for i, stage := range o.Stages {
		r.Stages = append(r.Stages, o.tabulate(stage, days[i*o.Days:(i+1)*o.Days]))
	}
	r.judge()
	return r
}

// Brief gives what a party knows before the first hole of a day.
func Brief(d *world.Day, rods int, aim way.Aim, seed uint64, date int) way.Briefing {
	low, high := d.Band()
	b := way.Briefing{Rods: rods, Aim: aim, Length: world.Length, Season: float64(d.Season), Date: date,
		Width: world.WidthM, Height: world.HeightM, Landing: d.Lake.Landing(), Start: d.Start(), Chart: d.Lake.Chart,
		Low: low, High: high, Ice: d.Ice(), Walk: walk, Seed: seed}
	for _, c := range d.Crowds() {
		b.Crowds = append(b.Crowds, way.Crowd{At: c.At, Radius: c.Radius})
	}
	return b
}

// bound is nobody's day: what all rods would take if each stood at the best place of every minute at no cost.
func bound(d *world.Day, rods int) Outcome {
	all, good := d.BestBites()
	out := Outcome{PerGuest: make([]int, rods), FirstFish: make([]time.Duration, rods)}
	for i := range rods {
		out.PerGuest[i] = int(all * world.Length.Minutes())
		out.Fish += out.PerGuest[i]
	}
	out.Good = int(good * world.Length.Minutes() * float64(rods))
	out.Spent.Feeding = time.Duration(rods) * world.Length
	return out
}
