package rehearse

import (
	"fmt"
	"math"
	"slices"
	"time"

	"icehand/internal/base/num"
	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

// Report is the outcome of a rehearsal.
type Report struct {
	Seed   uint64        `json:"seed"`
	Days   int           `json:"days"`
	Rods   int           `json:"rods"`
	Aim    way.Aim       `json:"aim"`
	Stages []StageReport `json:"stages"`
	Faults []string      `json:"faults"` // what the run itself found wrong; empty in a sound run
}

// StageReport compares the ways at one time of the winter.
type StageReport struct {
	Stage    string   `json:"stage"`
	Policies []Policy `json:"policies"`
}

// Policy is how one way did.
type Policy struct {
	Name        string     `json:"name"`
	FishPerHour float64    `json:"fish_per_rod_hour"`
	GoodPerHour float64    `json:"good_fish_per_rod_hour"`
	FishRange   [2]float64 `json:"fish_95"`
	OverRule    *Ratio     `json:"fish_over_rule,omitempty"`
	OverSpiral  *Ratio     `json:"fish_over_spiral_rule,omitempty"`
	GoodSpiral  *Ratio     `json:"good_over_spiral_rule,omitempty"`
	OfSeer      *Ratio     `json:"fish_of_clairvoyant,omitempty"`
	FirstFish   float64    `json:"first_fish_minutes"`   // median over guests and days
	FirstSchool float64    `json:"first_school_minutes"` // median over days
	FewFish     float64    `json:"guests_under_three"`   // share
	Blank       float64    `json:"blank_days"`           // share
	Holes       float64    `json:"holes"`                // a day
	Schools     float64    `json:"schools_met"`          // a day
	Rod         RodTime    `json:"rod_time"`
	ScoutIdle   float64    `json:"scout_idle"` // share of the scout's day
	Finding     Finding    `json:"finding"`
	Families    []ByFamily `json:"families"`
}

// RodTime is where rod time went, as shares of all of it.
type RodTime struct {
	Travel  float64 `json:"travel"`
	Off     float64 `json:"off_fish"`
	Resting float64 `json:"over_resting"`
	Feeding float64 `json:"over_feeding"`
	Idle    float64 `json:"idle"`
}

// ByFamily is how a way did on the lakes of one family.
type ByFamily struct {
	Name        string  `json:"name"`
	Days        int     `json:"days"`
	FishPerHour float64 `json:"fish_per_rod_hour"`
	GoodPerHour float64 `json:"good_fish_per_rod_hour"`
	OverRule    *Ratio  `json:"fish_over_rule,omitempty"`
	OverSpiral  *Ratio  `json:"fish_over_spiral_rule,omitempty"`
	GoodSpiral  *Ratio  `json:"good_over_spiral_rule,omitempty"`
	Blank       float64 `json:"blank_days"`
	Rod         RodTime `json:"rod_time"`
	Finding     Finding `json:"finding"`
}

// Ratio is a ratio of means over the same days, with the 95 % range of a paired bootstrap [EfronTibshirani1993].
type Ratio struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

const draws = 1000 // of the bootstrap

// ratio compares two series of the same days; nil when the second never caught anything.
func ratio(a, b []float64) *Ratio {
	if sum(b) == 0 {
		return nil
	}
	// (REHEARSE-7) ratio of means, not mean of ratios
	r := &Ratio{Value: sum(a) / sum(b)}
	values := bootstrap(len(a), func(pick []int) float64 {
		x, y := 0.0, 0.0
		for _, i := range pick {
			x, y = x+a[i], y+b[i]
		}
		if y == 0 {
			return math.Inf(1)
		}
		return x / y
	})
	r.Low, r.High = values[draws*25/1000], min(values[draws*975/1000], 1e6)
	return r
}

// bootstrap draws days with replacement, the same days for every comparison of as many, and sorts what f makes of them.
func bootstrap(n int, f func(pick []int) float64) []float64 {
	rng := num.NewStream(20260125, "bootstrap")
	pick, out := make([]int, n), make([]float64, draws)
	for k := range out {
		for i := range pick {
			pick[i] = rng.IntN(n)
		}
		out[k] = f(pick)
	}
	slices.Sort(out)
	return out
}

func sum(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s
}

func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
}

// series takes one figure out of each day of a way. family -1 takes all days, otherwise those of one family.
func series(days [][]Outcome, w, family, families int, figure func(Outcome) float64) []float64 {
	var out []float64
	for i, d := range days {
		if family < 0 || i%families == family {
			out = append(out, figure(d[w]))
		}
	}
	return out
}

func fish(o Outcome) float64 { return float64(o.Fish) }
func good(o Outcome) float64 { return float64(o.Good) }

func (o *Options) tabulate(stage Stage, days [][]Outcome) StageReport {
	s := StageReport{Stage: stage.Name}
	rule, spiral, seer := slices.Index(o.Ways, "rule"), slices.Index(o.Ways, "spiral-rule"), slices.Index(o.Ways, "clairvoyant")
	over := func(w, rival, family int, figure func(Outcome) float64) *Ratio {
		if rival < 0 {
			return nil
		}
		n := len(o.Families)
		return ratio(series(days, w, family, n, figure), series(days, rival, family, n, figure))
	}
	hours := float64(o.Rods) * world.Length.Hours()
	for w, name := range o.Ways {
		p := o.policy(name, w, days)
		p.OverRule, p.OverSpiral, p.GoodSpiral, p.OfSeer = over(w, rule, -1, fish), over(w, spiral, -1, fish), over(w, spiral, -1, good), over(w, seer, -1, fish)
		for i, f := range o.Families {
			all := series(days, w, i, len(o.Families), fish)
			if len(all) == 0 {
				continue
			}
			n := float64(len(all))
			spent, _, work := spending(days, w, i, len(o.Families))
			p.Families = append(p.Families, ByFamily{
				Name: f, Days: len(all), FishPerHour: sum(all) / n / hours,
				GoodPerHour: sum(series(days, w, i, len(o.Families), good)) / n / hours,
				OverRule:    over(w, rule, i, fish), OverSpiral: over(w, spiral, i, fish), GoodSpiral: over(w, spiral, i, good),
				Blank: sum(series(days, w, i, len(o.Families), blank)) / n, Rod: spent.shares(), Finding: work.finding(len(all)),
			})
		}
		s.Policies = append(s.Policies, p)
	}
	return s
}

func blank(o Outcome) float64 {
	if o.Fish == 0 {
		return 1
	}
	return 0
}

// policy works out the figures of one way that need no rival.
func (o *Options) policy(name string, w int, days [][]Outcome) Policy {
	n := float64(len(days))
	hours := float64(o.Rods) * world.Length.Hours()
	caught := series(days, w, -1, 1, fish)
	p := Policy{Name: name, FishPerHour: sum(caught) / n / hours, GoodPerHour: sum(series(days, w, -1, 1, good)) / n / hours}
	b := bootstrap(len(days), func(pick []int) float64 {
		x := 0.0
		for _, i := range pick {
			x += caught[i]
		}
		return x / n / hours
	})
	p.FishRange = [2]float64{b[draws*25/1000], b[draws*975/1000]}
	var first, school []float64
	few := 0.0
	for _, d := range days {
		x := d[w]
		for g, f := range x.PerGuest {
			first = append(first, x.FirstFish[g].Minutes())
			if f < 3 {
				few++
			}
		}
		school = append(school, x.FirstSchool.Minutes())
		p.Blank += blank(x) / n
		p.Holes += float64(x.Holes) / n
		p.Schools += float64(x.Schools) / n
	}
	p.FirstFish, p.FirstSchool, p.FewFish = median(first), median(school), few/n/float64(o.Rods)
	spent, scout, work := spending(days, w, -1, 1)
	p.Rod, p.Finding = spent.shares(), work.finding(len(days))
	p.ScoutIdle = float64(scout) / n / float64(world.Length)
	return p
}

// spending sums up where a way's time went and what its finding and working came to.
func spending(days [][]Outcome, w, family, families int) (spent Spent, scoutIdle time.Duration, work Work) {
	for i, d := range days {
		if family >= 0 && i%families != family {
			continue
		}
		x := d[w].Spent
		spent.Travel += x.Travel
		spent.Off += x.Off
		spent.Resting += x.Resting
		spent.Feeding += x.Feeding
		spent.Idle += x.Idle
		scoutIdle += d[w].ScoutIdle
		work.add(d[w].Work)
	}
	return spent, scoutIdle, work
}

// shares gives rod time as shares of all of it.
func (s Spent) shares() RodTime {
	all := float64(s.Total())
	return RodTime{float64(s.Travel) / all, float64(s.Off) / all, float64(s.Resting) / all, float64(s.Feeding) / all, float64(s.Idle) / all}
}

// mostIdle is the share of rod time that a way may leave idle; more means that the party waits for itself.
const mostIdle = 0.1

// judge lets the run find fault with itself: a reference that does not lead, or a party that stands about.
func (r *Report) judge() {
	for _, s := range r.Stages {
		r.Faults = append(r.Faults, s.faults()...)
	}
}

func (s *StageReport) faults() (out []string) {
	value := func(name string) float64 {
		for _, p := range s.Policies {
			if p.Name == name {
				return p.FishPerHour
			}
		}
		return math.NaN()
	}
	for _, p := range s.Policies {
		if p.Rod.Idle > mostIdle {
			out = append(out, fmt.Sprintf("%s: %s leaves %.0f %% of rod time idle", s.Stage, p.Name, 100*p.Rod.Idle))
		}
	}
	order := []string{"bound", "clairvoyant", "true-map", "engine", "random"}
	last := ""
	for _, name := range order {
		if math.IsNaN(value(name)) {
			continue
		}
		if last != "" && value(last) <= value(name) {
			out = append(out, fmt.Sprintf("%s: %s (%.2f) does not beat %s (%.2f)", s.Stage, last, value(last), name, value(name)))
		}
		last = name
	}
	return out
}
