package plan

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/stats/intensity"
	"icehand/internal/trade/lake"
)

// berth is where a rod was last known to fish, and the school under it.
type berth struct {
	rod    int
	at     geo.Local
	until  time.Time     // told up to here
	school *school       // nil: none known
	since  time.Time     // the rod has been here
	silent time.Duration // watched without marks since the newest marks, bite or fish
}

const (
	sameHole = 3.0 // m
	goneFor  = 5 * time.Minute
	lostVar  = 150 // m2, of a school's place when it was lost minutes ago
)

// berthOf gives a rod's berth at a place; it is new when the rod was elsewhere or nothing was told for a while.
func (f *Filter) berthOf(rod int, at geo.Local, from time.Time) (b *berth, fresh bool) {
	const longest = time.Minute // between two pieces of one sit
	for _, b := range f.berths {
		if b.rod != rod {
			continue
		}
		if float64(b.at.Distance(at)) <= sameHole && from.Sub(b.until) <= longest {
			return b, false
		}
		*b = berth{rod: rod, at: at, since: from}
		return b, true
	}
	b = &berth{rod: rod, at: at, since: from}
	f.berths = append(f.berths, b)
	return b, true
}

// join makes a school that of the rods that fish at a place.
func (f *Filter) join(s *school, at geo.Local) {
	for _, b := range f.berths {
		if float64(b.at.Distance(at)) <= sameHole && f.now.Sub(b.until) < goneFor {
			b.school, b.silent = s, 0
		}
	}
}

// Sit takes in a piece of a sit. Bites and fish in it are told as such.
func (f *Filter) Sit(s SitSpan) {
	f.advance(s.To)
	t := s.To.Sub(s.From)
	if t <= 0 {
		return
	}
	b, fresh := f.berthOf(s.Rod, s.At, s.From)
	b.until = s.To
	switch {
	case !s.Watched:
		f.unwatched(b, t)
	case s.Count > 0:
		f.overMarks(b, s, t)
	default:
		f.overNothing(b, t, fresh)
	}
	f.cached = nil
}

// unwatched takes in a piece of a sit of which only the bites are known.
func (f *Filter) unwatched(b *berth, t time.Duration) {
	d := f.depthAt(b.at)
	r := f.radius(d)
	over := false
	for _, k := range f.schools {
		if q := f.shows(k, b.at, r); q >= 0.05 {
			over = true
			f.noBite(k, q, t)
		}
	}
	if !over {
		f.stood(b, d, r, t)
		// (PLAN-22) a blank sit casts a shadow too
		f.shadows.Cast(b.at, f.now, r, -f.par.SitDetect*math.Expm1(-t.Minutes()/f.par.SitShadow.Minutes()))
	}
}

// stood lets the field learn that a standing rod met nothing new.
func (f *Filter) stood(b *berth, d depth, r float64, t time.Duration) {
	// (PLAN-40) exposure of a standing rod
	e := f.expected(b.at, d) * f.passing(b.at) * f.par.SitWorth * f.par.SitDetect * (f.sweep(r, t) - f.sweep(r, 0)) * f.shadows.Left(b.at, f.now)
	f.teach(b.at, d, e, intensity.Observation{Weight: 1})
}

// noBite weighs a school's phases by a time in which nothing bit, when the school was there with chance q.
func (f *Filter) noBite(k *school, q float64, t time.Duration) {
	scale := f.bites.Mean(1) * f.worn(k)
	mean, _ := k.phases.Moments(f.par.Bites)
	f.bites.Add([2]int32{}, q*mean*t.Minutes(), 0)
	like := f.par.Bites
	for p := range like {
		for c := range like[p] {
			// (PLAN-39) no bite in t
			like[p][c] = math.Exp(-q * scale * like[p][c] * t.Minutes())
		}
	}
	k.phases.Weigh(like)
}

// overMarks takes in that a rod had marks under it.
func (f *Filter) overMarks(b *berth, s SitSpan, t time.Duration) {
	d := f.depthAt(b.at)
	r := f.radius(d)
	if b.school == nil || b.school.Exists < f.par.LeastExists {
		exposure := f.expected(b.at, d) * f.passing(b.at) * f.par.LookWorth * f.par.Detect * f.sweep(r, t) * f.shadows.Left(b.at, f.now)
		mute := f.censored(b.at)
		k, share := f.associate(b.at, d, r, exposure)
		if k == nil {
			k = f.newSchool(b.at, f.fresh(b.at, d, exposure), s.Count > fewMarks)
			f.pending = append(f.pending, pending{b.at, f.now, marksOf(s.Count), k, exposure, share, d, false, mute})
		}
		b.school = k
	}
	f.sighted(b.school, b.at, r)
	b.school.phases.Weigh(movement(s.Moving))
	if s.From.Equal(b.since) {
		b.school.phases.Weigh(strength(s.Count))
		b.school.phases.Weigh(alike(f.par.Clear)) // (PLAN-64) seen
	}
	b.silent = 0
	f.noBite(b.school, 1, t)
	f.settle(false)
}

// overNothing takes in that a rod's sonar showed nothing. The first half minute is a look.
func (f *Filter) overNothing(b *berth, t time.Duration, fresh bool) {
	b.silent += t
	d := f.depthAt(b.at)
	r := f.radius(d)
	for _, k := range f.schools {
		if k != b.school && !f.attended(k) {
			f.missed(k, b.at, r)
		}
	}
	if k := b.school; k != nil {
		if b.silent < goneFor {
			return
		}
		if f.now.Sub(k.lastMark) >= goneFor { // no other rod has it
			k.left, k.Var = true, math.Max(k.Var, lostVar)
		}
		b.school = nil
	}
	detect := f.par.Detect
	if fresh {
		e := f.expected(b.at, d) * f.passing(b.at) * f.par.LookWorth * f.par.Detect * f.sweep(r, t) * f.shadows.Left(b.at, f.now)
		f.teach(b.at, d, e, intensity.Observation{Weight: 1})
	} else {
		f.stood(b, d, r, t)
		detect = -f.par.SitDetect * math.Expm1(-t.Minutes()/f.par.SitShadow.Minutes())
	}
	f.shadows.Cast(b.at, f.now, r, detect)
}

// attended tells whether a rod has the school under it.
func (f *Filter) attended(k *school) bool {
	for _, b := range f.berths {
		if b.school == k && f.now.Sub(b.until) < time.Minute {
			return true
		}
	}
	return false
}

const fewMarks = 3 // more are many; common practice, no source

func marksOf(count int) lake.Marks {
	switch {
	case count <= 0:
		return lake.None
	case count <= fewMarks:
		return lake.Few
	}
	return lake.Many
}

// worn is the share of its bites that a fished school still gives.
func (f *Filter) worn(k *school) float64 {
	// (PLAN-55) wariness by fish taken
	return math.Exp(-k.pressure / f.par.Wary)
}

// caught weighs a school's size by a fish.
func (k *school) caught(good bool) {
	like := [2]float64{0.85, 0.25} // chance of a small fish in a school of small and of good fish; our own assumption
	small, big := like[0], like[1]
	if good {
		small, big = 1-like[0], 1-like[1]
	}
	k.big = k.big * big / (k.big*big + (1-k.big)*small)
}
