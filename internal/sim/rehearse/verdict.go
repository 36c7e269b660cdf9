package rehearse

import (
	"fmt"
	"math"
	"slices"
)

// Target is a row of the table.
type Target struct {
	Part      string     `json:"part"`
	Name      string     `json:"name"`
	Where     string     `json:"where"` // stage, family, winter or range of odds
	Got       *Ratio     `json:"got"`   // nil: nothing to tell it from
	Least     *float64   `json:"at_least,omitempty"`
	LowLeast  *float64   `json:"lower_bound_at_least,omitempty"`
	Most      *float64   `json:"at_most,omitempty"`
	Prototype *Prototype `json:"prototype,omitempty"`
	Verdict   Verdict    `json:"verdict"`
	Scaled    Verdict    `json:"scaled_verdict,omitempty"`
	Note      string     `json:"note,omitempty"`
}

// Prototype is what the best earlier design reached on other lakes and reaches here; the targets are scaled by the ratio.
type Prototype struct {
	Way      string   `json:"way"`
	There    float64  `json:"there"`
	Here     *Ratio   `json:"here"`
	Factor   float64  `json:"factor"`
	Least    *float64 `json:"scaled_at_least,omitempty"`
	LowLeast *float64 `json:"scaled_lower_bound_at_least,omitempty"`
}

// Verdict says whether a target is reached.
type Verdict string

// The verdicts. NotTold stands where there is too little to judge.
const (
	Reached Verdict = "reached"
	Missed  Verdict = "missed"
	NotTold Verdict = "not told"
)

// judge holds a figure against its limits; nil limits do not bind.
func judge(got *Ratio, least, lowLeast, most *float64) Verdict {
	switch {
	case got == nil || math.IsNaN(got.Value):
		return NotTold
	case least != nil && got.Value < *least, lowLeast != nil && got.Low < *lowLeast, most != nil && got.Value > *most:
		return Missed
	}
	return Reached
}

// add judges a row and puts it into the table.
func (t *Targets) add(row Target) {
	if row.Verdict == "" {
		row.Verdict = judge(row.Got, row.Least, row.LowLeast, row.Most)
	}
	if p := row.Prototype; p != nil {
		row.Scaled = NotTold
		if p.Here != nil {
			p.Factor = p.Here.Value / p.There
			scale := func(x *float64) *float64 {
				if x == nil {
					return nil
				}
				return new(*x * p.Factor)
			}
			// (REHEARSE-14) scaled target = target x (prototype here / prototype there)
			p.Least, p.LowLeast = scale(row.Least), scale(row.LowLeast)
			row.Scaled = judge(row.Got, p.Least, p.LowLeast, nil)
		}
	}
	t.Rows = append(t.Rows, row)
}

// order puts the rows in the order of the table: single days, aims and wrong beliefs, seasons, odds, tests.
func (t *Targets) order() {
	rank := []string{"days", "size", "flat", "season", "odds", "lock-in", "exact"}
	slices.SortStableFunc(t.Rows, func(a, b Target) int { return slices.Index(rank, a.Part) - slices.Index(rank, b.Part) })
}

// Figures that the best earlier designs reached on the lakes on which they were made, by stage or winter.
var (
	overRuleThere   = map[string]float64{"early": 3.37, "mid": 3.00, "late": 3.26}
	overSpiralThere = map[string]float64{"early": 1.94, "mid": 1.62, "late": 1.62}
	goodSpiralThere = map[string]float64{"early": 2.18, "mid": 2.03, "late": 1.64}
	ofSeerThere     = map[string]float64{"early": 0.207, "mid": 0.223, "late": 0.284}
	ofSeerLeast     = map[string]float64{"early": 0.25, "mid": 0.28, "late": 0.33}
	rememberThere   = []float64{1.91, 2.13, 1.99}
	rememberLeast   = []float64{2.3, 2.5, 2.5}
	mapShares       = []struct {
		from         int // day on which the stretch begins
		by           string
		least, there float64
	}{{9, "by day 10", 0.6, 0.46}, {19, "by day 20", 0.85, 0.75}}
)

// stageDays are the outcomes of a stage, read by the names of ways.
type stageDays struct {
	o    *Options
	name string
	days [][]Outcome
}

// stages parts outcomes by stage.
func (o *Options) stages(done [][]Outcome) (out []stageDays) {
	for i, s := range o.Stages {
		out = append(out, stageDays{o, s.Name, done[i*o.Days : (i+1)*o.Days]})
	}
	return out
}

// over is the ratio of two ways' figures on all days (family -1) or those of a family; nil when one was not walked.
func (s stageDays) over(name, rival string, family int, figure func(Outcome) float64) *Ratio {
	a, b, n := slices.Index(s.o.Ways, name), slices.Index(s.o.Ways, rival), len(s.o.Families)
	if a < 0 || b < 0 {
		return nil
	}
	return ratio(series(s.days, a, family, n, figure), series(s.days, b, family, n, figure))
}

// mean is a way's mean by day, with its range.
func (s stageDays) mean(name string, figure func(Outcome) float64) *Ratio {
	x := series(s.days, slices.Index(s.o.Ways, name), -1, 1, figure)
	ones := make([]float64, len(x))
	for i := range ones {
		ones[i] = 1
	}
	return ratio(x, ones)
}

// few is the share of guests with fewer than three fish.
func few(o Outcome) float64 {
	n := 0.0
	for _, f := range o.PerGuest {
		if f < 3 {
			n++
		}
	}
	return n / float64(len(o.PerGuest))
}

// days judges the single days.
func (t *Targets) days(o *Options, done [][]Outcome, word Word) {
	t.Compared = o.report(done)
	t.Faults = append(t.Faults, t.Compared.Faults...)
	for _, s := range o.stages(done) {
		proto := func(there map[string]float64, rival string, figure func(Outcome) float64) *Prototype {
			return &Prototype{Way: "notes-planner", There: there[s.name], Here: s.over("notes-planner", rival, -1, figure)}
		}
		row := func(name string, got *Ratio) Target { return Target{Part: "days", Name: name, Where: s.name, Got: got} }

		r := row("fish over rule", s.over("engine", "rule", -1, fish))
		r.Least, r.LowLeast, r.Prototype = new(4.0), new(3.3), proto(overRuleThere, "rule", fish)
		t.add(r)
		r = row("fish over spiral-rule", s.over("engine", "spiral-rule", -1, fish))
		r.Least, r.LowLeast, r.Prototype = new(2.2), new(1.8), proto(overSpiralThere, "spiral-rule", fish)
		t.add(r)
		for i, f := range o.Families {
			r = row("fish over spiral-rule, each family", s.over("engine", "spiral-rule", i, fish))
			r.Where, r.Least = s.name+", "+f, new(1.0)
			t.add(r)
		}
		r = row("share of the clairvoyant", s.over("engine", "clairvoyant", -1, fish))
		r.Least, r.Prototype = new(ofSeerLeast[s.name]), proto(ofSeerThere, "clairvoyant", fish)
		t.add(r)
		r = row("days without a fish", s.mean("engine", blank))
		r.Most = new(0.003)
		t.add(r)
		r = row("guests with fewer than three", s.mean("engine", few))
		r.Most = new(0.04)
		t.add(r)
		r = row("engine-wrong over spiral-rule", s.over("engine-wrong", "spiral-rule", -1, fish))
		r.Least, r.LowLeast = new(1.0), new(0.95)
		t.add(r)
	}
	slices.SortStableFunc(t.Rows, func(a, b Target) int { return dayRank(a) - dayRank(b) })
	t.odds("engine, first day", forecasts(o, done, "engine"), word)
}

// dayRank keeps the stages of one comparison together.
func dayRank(r Target) int {
	return slices.Index([]string{"fish over rule", "fish over spiral-rule", "fish over spiral-rule, each family", "share of the clairvoyant",
		"days without a fish", "guests with fewer than three", "engine-wrong over spiral-rule"}, r.Name)
}

// size judges the aim at good-sized fish. The earlier design was measured there with the aim at numbers.
func (t *Targets) size(o *Options, done [][]Outcome) {
	t.Size = o.report(done)
	for _, s := range o.stages(done) {
		t.add(Target{Part: "size", Name: "good fish over spiral-rule, aim size", Where: s.name, Got: s.over("engine", "spiral-rule", -1, good), Least: new(2.5),
			Prototype: &Prototype{Way: "notes-planner", There: goodSpiralThere[s.name], Here: s.over("notes-planner", "spiral-rule", -1, good)}})
	}
}

// flat judges ground with little to learn.
func (t *Targets) flat(o *Options, done [][]Outcome) {
	t.Flat = o.report(done)
	for _, s := range o.stages(done) {
		t.add(Target{Part: "flat", Name: "fish over spiral-rule, flat ground", Where: s.name, Got: s.over("engine", "spiral-rule", -1, fish), Least: new(1.3),
			Note: fmt.Sprintf("notes-planner %v", s.over("notes-planner", "spiral-rule", -1, fish))})
	}
}

// seasons judges what a record is worth.
func (t *Targets) seasons(o *SeasonOptions, lakes [][][]Outcome, word Word) {
	t.Season = o.tabulateSeason(lakes)
	winter := func(name string, winter int) *SeasonWinter {
		i := slices.IndexFunc(t.Season.Ways, func(p SeasonPolicy) bool { return p.Name == name })
		return &t.Season.Ways[i].Winters[winter]
	}
	for w := range min(o.Winters, len(rememberLeast)) {
		t.add(Target{Part: "season", Name: "engine-memory over remembering-rule, every day", Where: fmt.Sprintf("winter %d", w+1),
			Got: winter("engine-memory", w).All.OverRemembering, Least: new(rememberLeast[w]),
			Prototype: &Prototype{Way: "notes-memory", There: rememberThere[w], Here: winter("notes-memory", w).All.OverRemembering}})
	}
	for _, x := range mapShares {
		share := func(name string) *Ratio {
			for _, s := range winter(name, 0).Parts {
				if s.From == x.from {
					return s.ShareOfMap
				}
			}
			return nil
		}
		t.add(Target{Part: "season", Name: "share of the true map's gain", Where: x.by, Got: share("engine-memory"), Least: new(x.least),
			Prototype: &Prototype{Way: "notes-memory", There: x.there, Here: share("notes-memory")}})
	}
	var told [][]Forecast
	w := slices.Index(o.Ways, "engine-memory")
	for _, lake := range lakes {
		for _, day := range lake[w] {
			told = append(told, day.Forecasts)
		}
	}
	t.odds("engine-memory, seasons", told, word)
}

// forecasts are those of a way, by day.
func forecasts(o *Options, done [][]Outcome, name string) (out [][]Forecast) {
	w := slices.Index(o.Ways, name)
	for _, day := range done {
		out = append(out, day[w].Forecasts)
	}
	return out
}

// Odds are judged by tenths with at least fewLooks looks, within offBy.
const (
	fewLooks = 300
	offBy    = 0.05
)

// odds judges forecasts. The looks at places without a known school are tabled too, not judged.
func (t *Targets) odds(of string, days [][]Forecast, word Word) {
	c := calibrate(of, days, word)
	unknown := make([][]Forecast, len(days))
	for i, d := range days {
		for _, f := range d {
			if fresh(f) {
				unknown[i] = append(unknown[i], f)
			}
		}
	}
	t.Calibrations = append(t.Calibrations, c, calibrate(of+", no school known there", unknown, word))
	for _, s := range c.Tenths {
		if s.Looks == 0 {
			continue
		}
		r := Target{Part: "odds", Name: "odds by tenth, " + of, Where: fmt.Sprintf("%.1f to %.1f", s.From, s.To), Got: s.Seen,
			Least: new(math.Max(0, s.Told-offBy)), Most: new(math.Min(1, s.Told+offBy)), Note: fmt.Sprintf("told %.3f, %d looks", s.Told, s.Looks)}
		if s.Looks < fewLooks {
			r.Verdict = NotTold
		}
		t.add(r)
	}
	for _, s := range c.Words {
		t.add(Target{Part: "odds", Name: "odds by word, " + of, Where: s.Name, Got: s.Seen, Least: new(s.From), Most: new(s.To),
			Note: fmt.Sprintf("told %.3f, %d looks", s.Told, s.Looks)})
	}
}

// lockIn judges the first of the ways put to the test: every lake must pass.
func (t *Targets) lockIn(lakes []LockIn) {
	t.LockIn = lakes
	passed, ones, worst := []float64{}, []float64{}, math.Inf(1)
	for _, l := range lakes {
		if l.Way != lockInWays[0] {
			continue
		}
		x := 0.0
		if l.After > 1 {
			x = 1
		}
		passed, ones, worst = append(passed, x), append(ones, 1), math.Min(worst, l.After)
	}
	t.add(Target{Part: "lock-in", Name: "lakes on which the record does not lock in", Where: fmt.Sprintf("%d lakes", len(ones)), Got: ratio(passed, ones), Least: new(1.0),
		Note: fmt.Sprintf("worst lake %.2f of its mean", worst)})
}

// exact judges the choice among looks by cases that can be solved by trying everything.
func (t *Targets) exact(seed uint64) {
	const cases = 200
	reached, best := solveTiny(seed, cases, engineChooses)
	r, worst, all := ratio(reached, best), math.Inf(1), 0
	for i := range reached {
		worst = math.Min(worst, reached[i]/best[i])
		if reached[i] >= 0.95*best[i] {
			all++
		}
	}
	t.add(Target{Part: "exact", Name: "tiny exact cases, of the best possible", Where: fmt.Sprintf("%d cases", cases), Got: r, Least: new(0.95),
		Note: fmt.Sprintf("%d of them at least 0.95, worst %.3f", all, worst)})
}
