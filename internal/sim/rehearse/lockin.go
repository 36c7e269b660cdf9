package rehearse

import (
	"context"
	"fmt"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

// The lock-in test: a record must not make the party sit for ever where it sat first. Each lake is fished for
// lockInDays from a poor start; on the day after, the ground of the holes must be worth more than the lake's on average.
// Rods that sit see false marks at the world's rate, 0.5 % by half minute.
const lockInDays = 10

// lockInWays are put to the test; the first is judged.
var lockInWays = []string{"engine-memory", "notes-memory"}

// LockIn is how a way fared on one lake of the test.
type LockIn struct {
	Family string  `json:"family"`
	Lake   uint64  `json:"lake"`
	Way    string  `json:"way"`
	First  float64 `json:"first_day"`     // worth of the ground of the first day's holes over the lake's mean
	After  float64 `json:"after_10_days"` // of the eleventh's
}

// lockInJobs are the lakes of the test.
func (o *SeasonOptions) lockInJobs(depths *surfaces) []job {
	jobs := make([]job, o.Lakes)
	for lake := range jobs {
		jobs[lake] = job{fmt.Sprintf("lock-in/%d", lake), (lockInDays + 1) * len(lockInWays), func(ctx context.Context, passed func(int)) ([]Outcome, error) {
			return o.lockIn(ctx, depths, lake, passed)
		}}
	}
	return jobs
}

// lockIn fishes one lake by each way and gives the first and the last day of each.
func (o *SeasonOptions) lockIn(ctx context.Context, depths *surfaces, lake int, passed func(int)) (out []Outcome, err error) {
	family, seed := o.lockInLake(lake)
	l := world.NewLake(o.family(family), seed, 0)
	for _, name := range lockInWays {
		var w way.Way
		for date := range lockInDays + 1 {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			d := l.Day(world.Early, uint64(date))
			truth := d.TrueMap()
			run := d.Run()
			if w == nil {
				w = find(name).make(setting{d, run, depths, o.Budget})
			}
			b := Brief(d, o.Rods, o.Aim, seed*1000+uint64(date), date)
			b.Start = poorStart(b, truth)
			p := newParty(d, run, w, b)
			if err := p.through(); err != nil {
				return nil, fmt.Errorf("rehearse: lock-in test of %s on %s lake %d, day %d: %w", name, family, seed, date, err)
			}
			p.out.Ground = worth(p.view.Holes, truth)
			if date == 0 || date == lockInDays {
				out = append(out, p.out)
			}
			passed(1)
		}
	}
	return out, nil
}

func (o *SeasonOptions) lockInLake(lake int) (family string, seed uint64) {
	return o.Families[lake%len(o.Families)], o.Seed + uint64(lake)
}

// poorStart is the worst of forty places where a guide might begin.
func poorStart(b way.Briefing, truth *world.Map) geo.Local {
	rng := num.NewStream(b.Seed, "poor start")
	worst, least := b.Start, truth.At(b.Start)
	for range 40 {
		p := geo.Local{E: rng.Float64() * float64(b.Width), N: rng.Float64() * float64(b.Height)}
		if z := b.Chart(p); z < b.Low || z > b.High || b.Crowded(p, 150) {
			continue
		}
		if x := truth.At(p); x < least {
			worst, least = p, x
		}
	}
	return worst
}

// worth is the mean true density of schools at the holes over that of the lake; 0 without holes.
func worth(holes []way.Hole, truth *world.Map) float64 {
	if len(holes) == 0 {
		return 0
	}
	sum := 0.0
	for _, h := range holes {
		sum += truth.At(h.At)
	}
	mean := 0.0
	for _, x := range truth.PerM2 {
		mean += x
	}
	mean /= float64(len(truth.PerM2))
	// (REHEARSE-13) mean density at the holes over the mean density of the lake
	return sum / float64(len(holes)) / mean
}

// lockedIn tables the outcomes of the lakes.
func (o *SeasonOptions) lockedIn(lakes [][]Outcome) (out []LockIn) {
	for i, days := range lakes {
		family, seed := o.lockInLake(i)
		for k, name := range lockInWays {
			out = append(out, LockIn{family, seed, name, days[2*k].Ground, days[2*k+1].Ground})
		}
	}
	return out
}
