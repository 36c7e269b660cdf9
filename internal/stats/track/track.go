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

// Spread lets time pass: the variance grows by rate m2 a second.
func (t *Target) Spread(rate float64, dt time.Duration) {
	// (PLAN-8) V <- V + 2 D dt
	t.Var += 2 * rate * dt.Seconds()
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
	cast []shadow
}

type shadow struct {
	at     geo.Local
	when   time.Time
	var0   float64
	detect float64
}

// Cast adds a look that met nothing; detect is the chance that it would have met what was there.
func (s *Shadows) Cast(at geo.Local, when time.Time, radiusM, detect float64) {
	s.cast = append(s.cast, shadow{at, when, radiusM * radiusM / 2, detect})
}

// forgotten is the number of memories after which a shadow is dropped: what is left is under 5 %.
const forgotten = 3

// Left gives the share of unseen targets that may be at p now, 1 where nobody looked.
func (s *Shadows) Left(p geo.Local, now time.Time) float64 {
	left := 1.0
	for i := range s.cast {
		c := &s.cast[i]
		age := now.Sub(c.when).Seconds()
		d2 := square(p.E-c.at.E) + square(p.N-c.at.N)
		v := c.var0 + 2*s.Diffusion*age
		if d2 > 12*v { // the shadow is lighter than 0.25 % there
			continue
		}
		// (PLAN-12) a look's shadow spreads by diffusion and fades with new arrivals
		depth := c.detect * c.var0 / v * math.Exp(-age/s.Memory.Seconds())
		left *= 1 - depth*math.Exp(-d2/(2*v))
	}
	return left
}

// Forget drops shadows that no longer matter.
func (s *Shadows) Forget(now time.Time) {
	kept := s.cast[:0]
	for _, c := range s.cast {
		if now.Sub(c.when) < forgotten*s.Memory {
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
