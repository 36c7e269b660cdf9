package rehearse

import (
	"context"
	"slices"

	"icehand/internal/base/fault"
	"icehand/internal/sim/way"
)

// TargetOptions says how much to walk for the table of targets.
type TargetOptions struct {
	Parts      []string // none: all
	Lakes      int      // of the seasons and of the lock-in test; 0: 30
	Winters    int      // 0: 3
	SeasonDays int      // 0: DaysInSeason
	Word       Word     // of a chance, as pages say it; nil: no rows for words
	Options             // Days a stage, Seed, Stages, Families, Rods, Budget, Workers, Progress, Ledger
}

// Targets is the table: what must be reached, what was, and all that it was read from.
type Targets struct {
	Seed         uint64        `json:"seed"`
	Days         int           `json:"days"` // a stage
	Rods         int           `json:"rods"`
	Lakes        int           `json:"lakes"`
	Winters      int           `json:"winters"`
	SeasonDays   int           `json:"season_days"`
	Parts        []string      `json:"parts"`
	Rows         []Target      `json:"targets"`
	Calibrations []Calibration `json:"calibrations,omitempty"`
	Compared     *Report       `json:"days_report,omitempty"`
	Size         *Report       `json:"size_report,omitempty"`
	Flat         *Report       `json:"flat_report,omitempty"`
	Season       *SeasonReport `json:"season_report,omitempty"`
	LockIn       []LockIn      `json:"lock_in,omitempty"`
	Faults       []string      `json:"faults"`
}

// part is a piece of the table that can be walked by itself.
type part struct {
	name string
	jobs []job
	take func(t *Targets, done [][]Outcome) // what its jobs gave, in order
}

// Parts lists the pieces of the table in the order in which they are walked; the long ones first.
func Parts() []string { return []string{"season", "lock-in", "days", "size", "flat", "exact"} }

// rivals are the ways of the parts that compare the engine with the honest rival only.
func rivals() []string { return []string{"spiral-rule", "notes-planner", "engine"} }

func (o *TargetOptions) settle() error {
	if o.Lakes == 0 {
		o.Lakes = 30
	}
	if o.Winters == 0 {
		o.Winters = 3
	}
	if o.SeasonDays == 0 {
		o.SeasonDays = DaysInSeason
	}
	if o.Days == 0 {
		o.Days = 300
	}
	if len(o.Parts) == 0 {
		o.Parts = Parts()
	}
	for _, p := range o.Parts {
		if !slices.Contains(Parts(), p) {
			return fault.New(fault.BadInput, "Parts are season, lock-in, days, size, flat and exact.", "the table of targets has no part %q", p)
		}
	}
	if len(o.Ways) > 0 || o.Flat || o.Aim != "" {
		return fault.New(fault.BadInput, "Leave ways and aim out.", "the table of targets compares ways and aims of its own")
	}
	return o.Options.settle()
}

// season gives the settled options of the seasons; the lock-in test has its lakes.
func (o *TargetOptions) season() (SeasonOptions, error) {
	s := SeasonOptions{Lakes: o.Lakes, Winters: o.Winters, Days: o.SeasonDays, Options: o.Options}
	s.Ways = slices.DeleteFunc(SeasonWays(), func(name string) bool { return name == "spiral-rule" })
	return s, s.settle()
}

// parts gives the wanted pieces, ready to be walked.
func (o *TargetOptions) parts() ([]part, error) {
	depths := newSurfaces()
	season, err := o.season()
	if err != nil {
		return nil, err
	}
	days := func(name string, ways []string, aim way.Aim, flat bool, take func(*Targets, *Options, [][]Outcome)) part {
		x := o.Options
		x.Ways, x.Aim, x.Flat = ways, aim, flat
		p := part{name: name, take: func(t *Targets, done [][]Outcome) { take(t, &x, done) }}
		for _, stage := range x.Stages {
			p.jobs = append(p.jobs, x.dayJobs(name, stage, depths)...)
		}
		return p
	}
	all := []part{
		{"season", season.lakeJobs(depths), func(t *Targets, done [][]Outcome) { t.seasons(&season, season.byWay(done), o.Word) }},
		{"lock-in", season.lockInJobs(depths), func(t *Targets, done [][]Outcome) { t.lockIn(season.lockedIn(done)) }},
		days("days", singleDay(), way.Numbers, false, func(t *Targets, x *Options, done [][]Outcome) { t.days(x, done, o.Word) }),
		days("size", rivals(), way.Size, false, (*Targets).size),
		days("flat", rivals(), way.Numbers, true, (*Targets).flat),
		{name: "exact", take: func(t *Targets, _ [][]Outcome) { t.exact(o.Seed) }},
	}
	return slices.DeleteFunc(all, func(p part) bool { return !slices.Contains(o.Parts, p.name) }), nil
}

// RunTargets walks what the table of targets asks for and judges it. With a ledger it goes on where an earlier run was
// ended, also by other parts or with more days.
func RunTargets(ctx context.Context, o TargetOptions) (*Targets, error) {
	if err := o.settle(); err != nil {
		return nil, err
	}
	parts, err := o.parts()
	if err != nil {
		return nil, err
	}
	var jobs []job
	for _, p := range parts {
		jobs = append(jobs, p.jobs...)
	}
	done, err := o.work(ctx, jobs)
	if err != nil {
		return nil, err
	}
	t := &Targets{Seed: o.Seed, Days: o.Options.Days, Rods: o.Rods, Lakes: o.Lakes, Winters: o.Winters, SeasonDays: o.SeasonDays, Faults: []string{}}
	for _, p := range parts {
		t.Parts = append(t.Parts, p.name)
		p.take(t, done[:len(p.jobs)])
		done = done[len(p.jobs):]
	}
	t.order()
	return t, nil
}
