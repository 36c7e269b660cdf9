package plan

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/stats/intensity"
	"icehand/internal/stats/search"
	"icehand/internal/stats/track"
	"icehand/internal/trade/lake"
)

// Look takes in a look.
func (f *Filter) Look(l Look) {
	f.advance(l.When)
	wait := l.Length
	if wait <= 0 {
		wait = f.par.UsualLook
	}
	if !f.unjudged {
		f.tally.Add(f.Odds(l.At, wait).P, l.Marks != lake.None)
	}
	d := f.depthAt(l.At)
	r := f.radius(d)
	exposure := f.expected(l.At, d) * f.passing(l.At) * f.par.LookWorth * f.par.Detect * f.sweep(r, wait) * f.shadows.Left(l.At, f.now)
	if l.Marks == lake.None {
		f.teach(l.At, d, exposure, intensity.Observation{Weight: 1})
		for _, s := range f.schools {
			f.missed(s, l.At, r)
		}
		f.shadows.Cast(l.At, f.now, r, f.par.Detect)
		return
	}
	mute := f.censored(l.At)
	s, share := f.associate(l.At, d, r, exposure)
	if s == nil {
		s = f.newSchool(l.At, f.fresh(l.At, d, exposure), l.Marks == lake.Many)
	} else {
		f.sighted(s, l.At, r)
	}
	s.phases.Weigh(movement(l.Moving))
	s.phases.Weigh(strength(l.Count))
	s.phases.Weigh(alike(f.par.Clear)) // (PLAN-64) seen
	f.join(s, l.At)
	f.learn(l.At, d, exposure, intensity.Observation{Seen: true, Weight: share, False: f.doubt(l.Marks)})
	f.pending = append(f.pending, pending{l.At, f.now, l.Marks, s, exposure, share, d, true, mute})
	f.settle(false)
}

// fresh is the number of schools not yet known that an exposure is expected to meet.
func (f *Filter) fresh(p geo.Local, d depth, exposure float64) float64 {
	m, v := f.field.At(p)
	return exposure * f.learned().at(d, f.par.BandWidth) * search.LogNormalMean(m, v)
}

// associate gives the known school that marks at a place most likely are, nil when a new one is likelier, and the chance
// that they are a new one.
func (f *Filter) associate(p geo.Local, d depth, r, exposure float64) (*school, float64) {
	fresh := f.fresh(p, d, exposure)
	sum, most := 0.0, 0.0
	var best *school
	for _, s := range f.schools {
		q := f.shows(s, p, r)
		sum += q
		if q > most {
			best, most = s, q
		}
	}
	if most <= fresh {
		best = nil
	}
	if sum+fresh <= 0 {
		return best, 1
	}
	// (PLAN-37) soft association
	return best, fresh / (fresh + sum)
}

// shows is the chance that a look at p shows a known school.
func (f *Filter) shows(s *school, p geo.Local, r float64) float64 {
	detect := f.par.Detect * s.phases.Mean(f.par.Clear)
	q := s.Shows(p, r, detect)
	d := float64(s.lastAt.Distance(p))
	if d < 3*r && !s.left {
		// (PLAN-38) where it was last seen it stays a while
		stay := math.Exp(-f.now.Sub(s.lastMark).Seconds()/f.par.Residence.Seconds() - d*d/(r*r))
		q = math.Max(q, s.Exists*detect*stay)
	}
	// what was taken of it is no longer there to be seen
	return q * math.Max(0.05, 1-s.taken/f.season.SchoolSize)
}

// missed takes in that a look at p did not show a known school: it is elsewhere, or hidden because it rests, or gone.
func (f *Filter) missed(s *school, p geo.Local, r float64) {
	q := f.shows(s, p, r)
	if clear := s.phases.Mean(f.par.Clear); s.Exists > 0 && clear > 0 {
		under := math.Min(0.999, q/(s.Exists*clear)) // chance that a school of which all stood clear would have shown
		like := f.par.Clear
		for phase := range like {
			// (PLAN-64) nothing seen, by phase
			like[phase] = 1 - under*like[phase]
		}
		s.phases.Weigh(alike(like))
	}
	s.Miss(q)
	s.left = s.left || float64(s.lastAt.Distance(p)) < r
}

// censored tells whether a confirmed school was seen so near and so lately that neither marks nor a blank there say anything
// lasting about the ground.
func (f *Filter) censored(p geo.Local) bool {
	near := float64(f.par.CensorNear)
	for _, s := range f.schools {
		if s.confirmed && f.now.Sub(s.lastMark) < f.par.CensorFor && float64(s.At.Distance(p)) < near+math.Min(near, math.Sqrt(s.Var)) {
			return true
		}
	}
	return false
}

// newSchool starts a school at a place. One that follows near an older one inherits part of what was believed of it.
func (f *Filter) newSchool(p geo.Local, fresh float64, many bool) *school {
	const surely, inherit = 0.97, 40 // minutes
	s := &school{Target: track.Target{At: p, Var: f.par.FreshVar, Exists: search.Existence(fresh, f.par.FalseRate)},
		phases: track.Steady(f.season.Phases, f.season.Good), big: f.season.Big, first: f.now, lastAt: p, lastMark: f.now}
	if many {
		s.Exists = math.Max(s.Exists, surely)
	}
	for _, o := range f.schools {
		if near := float64(o.At.Distance(p)); near < 2*math.Sqrt(o.Var)+2*float64(f.season.SchoolRadius) {
			share := o.Exists * math.Exp(-f.now.Sub(o.lastMark).Minutes()/inherit)
			s.phases.Mix(o.phases, 1-share)
			s.big += share * (o.big - s.big)
			s.pressure = math.Max(s.pressure, share*o.pressure)
		}
	}
	f.schools = append(f.schools, s)
	return s
}

// sighted takes in that a known school was seen at p.
func (f *Filter) sighted(s *school, p geo.Local, r float64) {
	const surely = 0.97
	if f.now.Sub(s.first) >= f.par.Confirm {
		s.confirmed = true
	}
	s.Exists = math.Max(s.Exists, surely)
	s.Hit(p, r)
	s.lastAt, s.lastMark, s.left = p, f.now, false
}

// strength gives the likelihood of how many marks a first look showed, by phase: fish that feed or swim stand clear of the
// bottom, where a sonar hides them when they rest; our own assumption.
func strength(count int) track.Phases {
	like := [3]float64{1, 1, 1}
	switch {
	case count > fewMarks:
		like = [3]float64{0.7, 1, 1.3}
	case count > 0:
		like = [3]float64{1.2, 1, 0.8}
	}
	return alike(like)
}

// alike gives likelihoods that do not depend on quality.
func alike(like [3]float64) (out track.Phases) {
	for p, l := range like {
		out[p] = [2]float64{l, l}
	}
	return out
}

// movement gives the likelihood of how marks moved, by phase; our own assumption.
func movement(how string) track.Phases {
	like := [3]float64{1, 1, 1}
	switch how {
	case "still":
		like = [3]float64{1.6, 0.5, 0.6}
	case "slow":
		like = [3]float64{0.9, 1, 1.1}
	case "fast":
		like = [3]float64{0.5, 1.5, 1.4}
	}
	return alike(like)
}

// Bite takes in a take that was not landed.
func (f *Filter) Bite(b Bite) { f.taken(b.At, b.When, 1, 0) }

// Fish takes in a catch. It confirms that a school is there.
func (f *Filter) Fish(x Fish) {
	n := max(1, x.Count)
	s := f.taken(x.At, x.When, n, n)
	s.caught(x.Good)
	const samePlace = 10.0 // m
	for i := range f.catches {
		c := &f.catches[i]
		if float64(c.At.Distance(x.At)) < samePlace {
			c.fish = c.fish*math.Exp(-f.now.Sub(c.When).Hours()/f.par.CatchFade.Hours()) + float64(n)
			c.When = f.now
			return
		}
	}
	f.catches = append(f.catches, catch{x.At, f.now, float64(n)})
}

// taken takes in bites, some of them landed.
func (f *Filter) taken(at geo.Local, when time.Time, bites, landed int) *school {
	f.advance(when)
	d := f.depthAt(at)
	r := f.radius(d)
	exposure := f.expected(at, d) * f.passing(at) * f.par.LookWorth * f.par.Detect * f.sweep(r, f.par.UsualLook) * f.shadows.Left(at, f.now)
	mute := f.censored(at)
	s, share := f.under(at), 0.0
	if s == nil {
		s, share = f.associate(at, d, r, exposure)
	}
	if s == nil {
		s = f.newSchool(at, f.fresh(at, d, exposure), true)
		f.pending = append(f.pending, pending{at, f.now, lake.Many, s, exposure, share, d, false, mute})
	}
	f.sighted(s, at, r)
	f.join(s, at)
	s.confirmed = true
	s.lastFish = f.now
	s.taken += float64(landed)
	s.pressure += float64(landed)
	const telling = 5 // bites at once: more say nothing new of the phase
	for range min(bites, telling) {
		s.phases.Weigh(f.par.Bites)
	}
	f.bites.Add([2]int32{}, 0, float64(min(bites, telling)))
	f.cached = nil
	f.settle(false)
	return s
}

// under gives the school that a rod at a place was last known to fish, nil when none.
func (f *Filter) under(at geo.Local) *school {
	for _, b := range f.berths {
		if b.school != nil && float64(b.at.Distance(at)) <= sameHole && f.now.Sub(b.until) < goneFor {
			return b.school
		}
	}
	return nil
}

// Crowd takes in other parties. A newer report about the same place replaces the older.
func (f *Filter) Crowd(c Crowd) {
	f.advance(c.When)
	kept := f.crowds[:0]
	for _, o := range f.crowds {
		if o.At.Distance(c.At) > max(o.Radius, c.Radius) {
			kept = append(kept, o)
		}
	}
	f.crowds = kept
	if !c.Gone {
		f.crowds = append(f.crowds, c)
	}
}
