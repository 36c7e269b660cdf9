// Package track follows things that move slowly and are seen only when one looks in the right spot: where those seen may
// be by now ([Target]), where looking without finding makes it useless to look again soon ([Shadows]), and in which
// phase of activity they are ([Phases]).
//
// Start with [Shadows] for blank looks and [Target.Shows] for the chance that a known target is met at a place.
// It assumes diffusion: targets wander without a heading. How many unseen ones there may be is the work of package intensity.
// Model note: docs/models/search.md.
package track

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/stats/search"
)

// Target is one thing that was seen: where it may be and whether it is there at all.
type Target struct {
	At     geo.Local
	Var    float64 // variance of each coordinate, m2
	Exists float64 // chance that it is still about
}

// Spread lets time pass: the variance grows by wander m2 a second.
func (t *Target) Spread(wander float64, dt time.Duration) {
	// (PLAN-8) V <- V + w dt
	t.Var += wander * dt.Seconds()
}

// Shows gives the chance that a look with a detection radius of radiusM at p meets the target.
func (t *Target) Shows(p geo.Local, radiusM, detect float64) float64 {
	d2 := square(p.E-t.At.E) + square(p.N-t.At.N)
	// (PLAN-9) Gaussian sensor times Gaussian belief, SEARCH-16, if the target is about at all
	return t.Exists * search.BlobLook(detect, radiusM*radiusM, t.Var, d2)
}

// Miss takes in a look that would have met the target with chance q, its existence included, and met nothing.
func (t *Target) Miss(q float64) {
	if t.Exists == 0 {
		return
	}
	// (PLAN-10) SEARCH-13
	t.Exists = search.Blank(t.Exists, math.Min(0.999, q/t.Exists))
}

// Hit takes in a meeting at p: the belief moves towards p and narrows.
func (t *Target) Hit(p geo.Local, radiusM float64) {
	noise := radiusM * radiusM / 2
	// (PLAN-11) product of two Gaussians
	k := t.Var / (t.Var + noise)
	t.At = t.At.Add(geo.Local{E: k * (p.E - t.At.E), N: k * (p.N - t.At.N)})
	t.Var *= 1 - k
}

func square(x float64) float64 { return x * x }

// Motion says how fast what is unseen fills a place that was looked at.
type Motion struct {
	Diffusion float64       // m2/s
	Memory    time.Duration // after which new arrivals have made the looking void by a factor e
}

// Shadows are the traces of looks that met nothing: for a while it is of less use to look there again.
// The zero Shadows with a Motion is ready to use.
type Shadows struct {
	Motion
	epoch time.Time // of the first
	cast  []shadow
}

type shadow struct {
	e, n   float64 // m
	when   float64 // s since the epoch
	var0   float64
	detect float64
}

// Cast adds a look that met nothing; detect is the chance that it would have met what was there. One that follows at the
// same place within minutes is joined to the earlier.
func (s *Shadows) Cast(at geo.Local, when time.Time, radiusM, detect float64) {
	const samePlace, soon, backTo = 1.0, 3 * 60.0, 12 // m, s, shadows
	if len(s.cast) == 0 {
		s.epoch = when
	}
	x := shadow{at.E, at.N, when.Sub(s.epoch).Seconds(), radiusM * radiusM / 2, detect}
	for i := len(s.cast) - 1; i >= max(0, len(s.cast)-backTo); i-- {
		c := &s.cast[i]
		if math.Abs(c.e-x.e) < samePlace && math.Abs(c.n-x.n) < samePlace && c.var0 == x.var0 && x.when-c.when < soon {
			c.when, c.detect = x.when, 1-(1-c.detect)*(1-x.detect)
			return
		}
	}
	s.cast = append(s.cast, x)
}

// A shadow is dropped when it is older than so many memories: what is left is under 5 %. It is not followed farther than
// its reach, where it is lighter than 1 %.
const (
	forgotten   = 3
	shadowReach = 75.0 // m
)

// Left gives the share of unseen targets that may be at p now, 1 where nobody looked.
func (s *Shadows) Left(p geo.Local, now time.Time) float64 {
	if len(s.cast) == 0 {
		return 1
	}
	left, t := 1.0, now.Sub(s.epoch).Seconds()
	for i := range s.cast {
		c := &s.cast[i]
		x, y := p.E-c.e, p.N-c.n
		if x > shadowReach || x < -shadowReach || y > shadowReach || y < -shadowReach {
			continue
		}
		age := t - c.when
		d2 := x*x + y*y
		v := c.var0 + 2*s.Diffusion*age
		if d2 > 12*v { // the shadow is lighter than 0.25 % there
			continue
		}
		// (PLAN-12) a look's shadow spreads by diffusion and fades with new arrivals
		depth := c.detect * c.var0 / v * math.Exp(-age/s.Memory.Seconds()-d2/(2*v))
		left *= 1 - depth
	}
	return left
}

// Forget drops shadows that no longer matter.
func (s *Shadows) Forget(now time.Time) {
	t := now.Sub(s.epoch).Seconds()
	kept := s.cast[:0]
	for _, c := range s.cast {
		if t-c.when < forgotten*s.Memory.Seconds() {
			kept = append(kept, c)
		}
	}
	s.cast = kept
}

// Clear drops all shadows.
func (s *Shadows) Clear() { s.cast = nil }

// Clone gives a copy that may go its own way.
func (s *Shadows) Clone() *Shadows {
	c := *s
	c.cast = append([]shadow(nil), s.cast...)
	return &c
}
