package plan

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/stats/search"
	"icehand/internal/stats/track"
)

// Crew is the party and its holes at an instant: all that a decision needs beside the filter.
type Crew struct {
	Rods  []Rod
	Holes []Hole
	Walk  quantity.Speed
	SetUp time.Duration // of a rod at a hole; 0: 1 min
	Good  float64       // worth of a good fish against another; 0: 2
	// MayHop tells whether a rod may be taken to a hole; nil: always. It is asked best first.
	MayHop func(rod, hole int) bool
}

// Rod is one rod.
type Rod struct {
	Number  int
	At      geo.Local
	Hole    int // index of the hole that it fishes or is carried to; -1: none
	Fishing bool
	Since   time.Time // began to fish there
}

// Hole is a hole of today.
type Hole struct {
	At    geo.Local
	Open  bool // a rod may be put into it, or a look taken
	Skim  bool // it must be skimmed first
	Taken bool // a rod fishes it or is on its way to it
}

// Call is what a rod should do.
type Call struct {
	Hole  int     // to go to; -1: stay
	Here  float64 // worth a minute of staying
	There float64 // worth a minute of the best open hole, the move charged
	Best  int     // that hole; -1: none
	Sure  bool    // fish feed under it: nothing is weighed
}

// Constants of the rod rule; our own assumption, set on made-up lakes unless said otherwise.
const (
	leastSit    = 2 * time.Minute  // common practice, no source
	onFish      = 90 * time.Second // since the newest marks or fish under a rod
	surely      = 0.6              // chance of feeding above which fresh marks are not left
	hopGain     = 1.1              // there must be better than here by this factor
	hopLeast    = 0.004            // and by so much a minute
	testTime    = 3.0              // minutes over fish that do not feed, until that is known
	biteTime    = 18.0             // minutes over fish that feed
	joinWorth   = 0.85             // of a stay, for one that must walk there
	mostSharing = 4                // rods on one school
	hotFor      = 150 * time.Second
	crossReach  = 120.0 // m: farther schools say nothing of a hole
	newestHoles = 60
)

func (c *Crew) good() float64 {
	if c.Good == 0 {
		return 2
	}
	return c.Good
}

func (c *Crew) setUp() float64 {
	if c.SetUp == 0 {
		return 1
	}
	return c.SetUp.Minutes()
}

func (c *Crew) minutes(a, b geo.Local) float64 {
	return float64(a.Distance(b)) / (60 * float64(c.Walk))
}

// over gives the school under a rod and for how long nothing was seen of it; nil when none is.
func (f *Filter) over(r Rod) (*school, time.Duration) {
	if !r.Fishing {
		return nil, 0
	}
	for _, b := range f.berths {
		if b.rod == r.Number && float64(b.at.Distance(r.At)) <= sameHole {
			return b.school, b.silent
		}
	}
	return nil, 0
}

// sharing counts the rods over a school.
func (f *Filter) sharing(c *Crew, s *school) int {
	n := 0
	for _, r := range c.Rods {
		if k, _ := f.over(r); k == s {
			n++
		}
	}
	return n
}

// value is the worth of a fish of a school.
func (c *Crew) value(big float64) float64 { return 1 + (c.good()-1)*big }

// active is the belief about a school with what rests or travels counted by the share that feeds where it is.
func (f *Filter) active(s *school) track.Phases {
	b := s.phases
	for q := range b[track.Resting] {
		b[track.Resting][q] *= f.par.Keeps
		b[track.Travelling][q] *= f.par.Keeps
	}
	return b
}

// staying is the worth a minute of fishing on over a school that so many rods share.
func (f *Filter) staying(c *Crew, s *school, rods int, silent time.Duration) float64 {
	b := f.active(s)
	rate := f.outlook.BestRate(&b, 5*time.Minute) * f.bites.Mean(1) * f.worn(s)
	// (PLAN-56) the rods together wear it down while they stay
	x := float64(max(1, rods)) * rate * biteTime / f.par.Wary
	rate *= -math.Expm1(-x) / math.Max(x, 1e-9)
	if gap := silent.Minutes(); gap > onFish.Minutes() {
		rate *= math.Exp(-(gap - onFish.Minutes()) / 2)
	}
	return rate * c.value(s.big)
}

// testing is the worth of putting one more rod over a school, and the minutes that it takes.
func (f *Filter) testing(c *Crew, s *school) (gain, minutes float64) {
	b := f.active(s)
	feeds := s.phases.Of(track.Feeding)
	return f.outlook.Within(&b, time.Duration(biteTime*float64(time.Minute))) * f.bites.Mean(1) * f.worn(s) * c.value(s.big),
		testTime + (biteTime-testTime)*feeds
}

// finding is the same for a school not yet seen.
func (f *Filter) finding(c *Crew) (gain, minutes float64) {
	return f.testing(c, &school{phases: track.Steady(f.season.Phases, f.season.Good), big: f.season.Big})
}

// Call says what a rod should do: it compares staying with joining a school that others fish and with hopping to any
// open hole. There is no party mode: splitting, calling over, leaving resting fish and going back to old holes follow.
func (f *Filter) Call(c *Crew, rod int) Call {
	r := c.Rods[rod]
	out := Call{Hole: -1, Best: -1}
	own, silent := f.over(r)
	if r.Fishing {
		if own != nil {
			out.Here = f.staying(c, own, f.sharing(c, own), silent)
			out.Sure = own.phases.Of(track.Feeding) > surely && silent <= onFish
		}
		out.Here = math.Max(out.Here, f.lingering(c, r.At))
	}
	young := r.Fishing && f.now.Sub(r.Since) < leastSit
	type option struct {
		hole  int
		worth float64
	}
	var best []option
	for h := max(0, len(c.Holes)-newestHoles); h < len(c.Holes); h++ {
		hole := &c.Holes[h]
		if !hole.Open || hole.Taken || h == r.Hole {
			continue
		}
		if x := f.hopping(c, r, hole, own); x > 0 {
			best = append(best, option{h, x})
		}
	}
	for len(best) > 0 {
		k := 0
		for i := range best {
			if best[i].worth > best[k].worth {
				k = i
			}
		}
		b := best[k]
		if r.Fishing && b.worth <= hopGain*out.Here+hopLeast || c.MayHop == nil || c.MayHop(rod, b.hole) {
			out.There, out.Best = b.worth, b.hole
			break
		}
		best[k] = best[len(best)-1]
		best = best[:len(best)-1]
	}
	if out.Best >= 0 && (!r.Fishing || !young && !out.Sure && out.There > hopGain*out.Here+hopLeast) {
		out.Hole = out.Best
	}
	return out
}

// lingering is the worth a minute of fishing on where nothing shows: schools swim in.
func (f *Filter) lingering(c *Crew, p geo.Local) float64 {
	d := f.depthAt(p)
	r := f.radius(d)
	m, v := f.field.At(p)
	e := f.expected(p, d) * f.passing(p) * f.par.SitWorth * f.par.SitDetect * 2 * r * float64(f.season.Speed) * 60 *
		f.learned().at(d, f.par.BandWidth) * search.LogNormalMean(m, v)
	g, h := f.finding(c)
	return e * g / (1 + e*h)
}

// hopping is the worth a minute of taking a rod to an open hole.
func (f *Filter) hopping(c *Crew, r Rod, hole *Hole, own *school) float64 {
	walk := c.minutes(r.At, hole.At) + c.setUp()
	if hole.Skim {
		walk += skimTime.Minutes()
	}
	joined, none, gain, spent := 0.0, 1.0, 0.0, 0.0
	d := f.depthAt(hole.At)
	reach := f.radius(d)
	for _, s := range f.schools {
		off := float64(s.At.Distance(hole.At))
		if off > crossReach {
			continue
		}
		rods := f.sharing(c, s)
		if rods > 0 && f.now.Sub(s.lastMark) < hotFor {
			if s != own {
				rods++
			}
			radius := float64(f.season.SchoolRadius)
			weight := 0.0
			switch {
			case off < 0.8*radius:
				weight = 1
			case off < 0.8*radius+2:
				weight = 0.5
			}
			if weight > 0 && rods <= mostSharing {
				joined = math.Max(joined, joinWorth*weight*f.staying(c, s, rods, 0)*biteTime/(biteTime+walk))
			}
			continue
		}
		if q := f.shows(s, hole.At, reach); q > 0.01 {
			g, h := f.testing(c, s)
			gain += q * g
			spent += q * h
			none *= 1 - q
		}
	}
	p := f.freshAt(hole.At, d, reach)
	g, h := f.finding(c)
	gain += p * g
	spent += p * h
	// (PLAN-57) worth over walk, set-up, a minute's watch and what the finds take
	return math.Max(joined, gain/(walk+1+spent))
}

// met is the chance of meeting an unseen school at a hole, as it was a moment ago.
type met struct {
	when   time.Time
	chance float64
}

// freshAt is the plain mean chance that a rod meets an unseen school within a minute. It is kept for two minutes.
func (f *Filter) freshAt(p geo.Local, d depth, reach float64) float64 {
	if c, ok := f.freshly[p]; ok && f.now.Sub(c.when) < 2*time.Minute {
		return c.chance
	}
	m, v := f.field.At(p)
	chance, _, _ := f.field.ChanceOf(m, v, f.exposure(p, d, reach, time.Minute), 0, 0)
	if f.freshly == nil {
		f.freshly = map[geo.Local]met{}
	}
	f.freshly[p] = met{f.now, chance}
	return chance
}
