package world

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
)

// Run is one way's day: the schools as they were, but for those that it has touched. Ask it in order of time.
type Run struct {
	day     *Day
	live    []int32 // schools that were touched
	schools []school
	is      []int16 // place in schools by school, -1 untouched
	minute  int     // to which the touched ones are brought
	near    []int16 // scratch of around
	seen    school

	Gave int // schools that gave a fish

	// What the last Look and the last Fish were truly over, for those who judge a day; no way sees it. Good until the next call.
	Seen, Fished []Below
}

// Below is a school under a hole.
type Below struct {
	School  int
	Feeding bool
}

// Run opens the day for one way.
func (d *Day) Run() *Run {
	r := &Run{day: d, is: make([]int16, d.n)}
	for i := range r.is {
		r.is[i] = -1
	}
	return r
}

// Echo is what a sonar shows.
type Echo struct {
	Count  int    // separate marks
	Moving string // still, slow, fast; "" without marks or when not made out
}

// Bite is a take. One that is lost has no size.
type Bite struct {
	Landed, Good bool
	From         Below // whose; no way sees it
}

// Over is what is truly below a hole.
type Over int

// What may be below.
const (
	Nothing Over = iota
	NotFeeding
	Feeding
)

// Constants of seeing and biting; invented.
const (
	coneTan     = 0.1763 // tangent of the sonar's half angle, 10 degrees
	falseMarks  = 0.005  // chance of an echo that is no fish, in half a minute
	seeFish     = 0.9    // chance that a fish in the cone is told from clutter
	landed      = 0.75
	pressedBy   = 0.4 // bites left under a crowd
	memory      = 130 // minutes in which taken fish are forgotten to a third
	holdMinutes = 4
	lureM       = 1.5 // how far beyond a school's rim a lure draws
	handling    = 0.5 // minutes that a bite keeps a rod busy
)

// advance brings touched schools to a minute.
func (r *Run) advance(minute int) {
	for ; r.minute < minute; r.minute++ {
		for k := range r.schools {
			s := &r.schools[k]
			r.day.Lake.Family.habits.step(r.day, s, r.minute)
			s.taken *= 1 - 1.0/memory
		}
	}
}

// touch makes a school the run's own, as it is now.
func (r *Run) touch(i int) *school {
	if k := r.is[i]; k >= 0 {
		return &r.schools[k]
	}
	s := r.day.dawn[i]
	for m := range r.minute {
		r.day.Lake.Family.habits.step(r.day, &s, m)
	}
	r.is[i] = int16(len(r.schools))
	r.live = append(r.live, int32(i))
	r.schools = append(r.schools, s)
	return &r.schools[len(r.schools)-1]
}

// state gives a school as it is now: its own copy when touched, else the day's, which does not face the way it goes.
func (r *Run) state(i int) (s school, touched bool) {
	if k := r.is[i]; k >= 0 {
		return r.schools[k], true
	}
	s = r.day.dawn[i]
	k := r.minute*r.day.n + i
	s.x, s.y, s.phase = float64(r.day.xs[k]), float64(r.day.ys[k]), r.day.does[k]
	if r.minute > 0 { // it heads away from where it was
		j := k - r.day.n
		s.dx, s.dy = s.x-float64(r.day.xs[j]), s.y-float64(r.day.ys[j])
	}
	return s, false
}

// face turns an untouched school the way it goes.
func (s *school) face() {
	if s.long != s.wide && (s.dx != 0 || s.dy != 0) { // nobody asks a round school where its nose is
		s.head = math.Atan2(s.dy, s.dx)
	}
}

// around visits the schools whose middle lies within reach of a place now, untouched ones first, each kind in its order.
func (r *Run) around(p geo.Local, reachM float64, visit func(i int, s *school)) {
	r.near = r.day.near(r.near[:0], r.minute, p.E, p.N, reachM)
	for _, i := range r.near {
		if r.is[i] < 0 {
			r.seen, _ = r.state(int(i))
			if r.minute > 0 {
				r.seen.face()
			}
			visit(int(i), &r.seen)
		}
	}
	for k, i := range r.live {
		s := &r.schools[k]
		if dx, dy := s.x-p.E, s.y-p.N; dx*dx+dy*dy < reachM*reachM {
			visit(int(i), s)
		}
	}
}

func minuteOf(t time.Duration) int { return min(max(0, int(t/time.Minute)), minutes) }

// Look shows what a sonar in a hole sees from a time on, for a while. by tells observers apart.
func (r *Run) Look(p geo.Local, from, length time.Duration, by int) Echo {
	r.advance(minuteOf(from))
	noise := seeded(r.day.seed, 7, uint64(from), uint64(by+2))
	z := at(r.day.Lake.depth, p.E, p.N)
	foot := z * coneTan
	T := length.Seconds()
	mean := falseMarks * T / 30
	most, does := 0.0, resting
	r.Seen = r.Seen[:0]
	r.around(p, r.day.farthestM, func(i int, s *school) {
		c := thick(s.near(p.E, p.N, 0.5*foot))
		if c == 0 {
			return
		}
		r.Seen = append(r.Seen, Below{i, s.phase == feeding})
		perM2 := s.fish / (math.Pi * s.long * s.wide) * c
		speed := (0.004 + math.Hypot(s.dx, s.dy)/60) // m/s; fish turn about even when their school stays
		// (REHEARSE-4) mean marks = n/(pi a b) c(q) (pi f^2 + 2 f v T) clear seen, times a lognormal of its own
		m := perM2 * (math.Pi*foot*foot + 2*foot*speed*T) * r.day.Lake.Family.clear[s.phase] * seeFish
		m *= math.Exp(0.5*noise.normal() - 0.125)
		mean += m
		if m > most {
			most, does = m, s.phase
		}
	})
	e := Echo{Count: noise.poisson(math.Min(mean, 40))}
	if e.Count > 0 && most > 0 {
		e.Moving = moving(does, &noise)
	}
	return e
}

// moving says how marks seemed to move: told rightly more often than not, and unsaid a third of the time.
func moving(does phase, noise *dice) string {
	chance := [...][2]float64{resting: {0.6, 0.3}, travelling: {0.1, 0.35}, feeding: {0.2, 0.45}}[does] // still, slow; else fast
	if noise.unit() < 0.33 {
		return ""
	}
	switch u := noise.unit(); {
	case u < chance[0]:
		return "still"
	case u < chance[0]+chance[1]:
		return "slow"
	}
	return "fast"
}

// rate is how many bites a minute a school offers to a rod at a place.
func (r *Run) rate(s *school, p geo.Local) float64 {
	c := thick(s.near(p.E, p.N, lureM))
	if c == 0 {
		return 0
	}
	// (REHEARSE-5) bites a minute = rate c(q) exp(-taken/wary), less under a crowd and of the last dozen
	b := r.day.Lake.Family.bites[s.phase] * c
	if s.taken != 0 {
		b *= math.Exp(-s.taken / r.day.wary(s))
	}
	if r.day.crowded(p, 0) {
		b *= pressedBy
	}
	return b * num.Clamp(s.fish/12, 0, 1) // the last dozen thin out
}

// Fish gives what one rod takes at a place from a time on, for a while, and what was truly below. skill scales its bites.
func (r *Run) Fish(p geo.Local, from, length time.Duration, rod int, skill float64) (bites []Bite, over Over) {
	r.advance(minuteOf(from))
	noise := seeded(r.day.seed, 8, uint64(from), uint64(rod))
	type offer struct {
		i int
		b float64
	}
	var offers [8]offer
	n, sum := 0, 0.0
	r.Fished = r.Fished[:0]
	r.around(p, r.day.farthestM, func(i int, s *school) {
		if s.near(p.E, p.N, 0) < 1 {
			if s.phase == feeding {
				over = Feeding
			} else if over == Nothing {
				over = NotFeeding
			}
		}
		if b := r.rate(s, p); b > 0 && n < len(offers) {
			offers[n] = offer{i, b}
			r.Fished = append(r.Fished, Below{i, s.phase == feeding})
			n++
			sum += b
		}
	})
	// (REHEARSE-6) the rod is ready for 1/(1 + h B) of the time
	free := 1 / (1 + handling*skill*sum) // share of the time in which the rod is ready
	for k, o := range offers[:n] {
		for range noise.poisson(o.b * skill * length.Minutes() * free) {
			s := r.touch(o.i)
			if s.fish < 1 {
				break
			}
			b := Bite{Landed: noise.unit() < landed, From: r.Fished[k]}
			if b.Landed {
				if s.gave == 0 {
					r.Gave++
				}
				s.gave++
				b.Good = noise.unit() < s.good
				s.fish--
				s.taken++
				s.held = int16(r.minute + holdMinutes)
			}
			bites = append(bites, b)
		}
	}
	return bites, over
}

// Skill gives a guest's hand for the day, 1 on average.
func (d *Day) Skill(rod int) float64 {
	s := seeded(d.seed, 9, uint64(rod))
	return math.Exp(0.2*s.normal() - 0.02)
}
