// Package care answers what becomes of a fish that is put back from a depth in winter, which plans that rules out, and when
// fish that were put back are a reason to leave.
//
// Start with [Weigh] for one fish, [Sorting] for a plan, [Count] and [Leave] for a day.
// It takes published figures as they are: between two published depths it interpolates, beyond them it names the nearest
// figure as a bound and never extrapolates. Venting is never advised. What the law orders to put back goes back whatever
// is said here. It leaves out how fish were counted, and words. Model note: docs/models/care.md.
package care

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"icehand/internal/base/quantity"
)

// Fish is a fish about to be put back.
type Fish struct {
	Species  string
	Depth    quantity.Length // at which it was hooked; 0: not known
	Air      quantity.Celsius
	AirTold  bool
	Deep     bool // hooked behind the mouth
	Bleeding bool
	Down     string // quick, slow, floats; "": not seen yet
}

// Verdict says what a fish put back is to be counted as.
type Verdict string

// The verdicts. Nothing unknown is ever fine.
const (
	Fine     Verdict = "fine"
	Doubtful Verdict = "doubtful"
	CountIt  Verdict = "count_it" // as dead
)

// Reason is one thing that speaks for a verdict.
type Reason struct {
	Code   string // depth, unknown, other_species, down_share, deep, bleeding, floats, slow, quick, gills, eyes
	Share  float64
	Bound  Bound
	Source string
}

// Bound says on which side of the published depths a figure stands.
type Bound string

// The bounds.
const (
	Between Bound = ""
	AtMost  Bound = "at_most"  // shallower than any published figure
	AtLeast Bound = "at_least" // deeper than any
)

// Fate is what is expected of a fish.
type Fate struct {
	Verdict         Verdict
	Known           bool    // there are published figures for it
	Low, Mean, High float64 // chance of dying
	Bound           Bound
	Why             []Reason
}

// pair is a share published at two depths; the curve runs through both and no farther.
type pair struct {
	d1, d2 float64 // m
	p1, p2 float64
	source string
}

// Published pairs. Between them a logistic curve; the two studies of walleye disagree on depth, so a range is given.
var (
	walleyeDeath    = pair{10, 12, 0.05, 0.37, "Lyon2022"}
	perchBarotrauma = pair{7.6, 16.8, 0.13, 0.74, "Knight2019"}
)

func logit(p float64) float64 { return math.Log(p / (1 - p)) }

// curve gives the slope, per metre, and the depth of one in two of a curve through two published figures.
func (c pair) curve() (slope, half float64) {
	// (CARE-1)
	slope = (logit(c.p2) - logit(c.p1)) / (c.d2 - c.d1)
	half = c.d1 - logit(c.p1)/slope
	return slope, half
}

// at gives the share at a depth: on the curve between the two depths, else the nearer figure as a bound.
func (c pair) at(depthM float64) (float64, Bound) {
	switch {
	case depthM < c.d1:
		return c.p1, AtMost
	case depthM > c.d2:
		return c.p2, AtLeast
	}
	slope, half := c.curve()
	// (CARE-1)
	return 1 / (1 + math.Exp(-slope*(depthM-half))), Between
}

// Curve gives the curve of one kind of figure, for checks: walleye_death or perch_barotrauma.
func Curve(of string, depth quantity.Length) (slope float64, half quantity.Length, share float64, bound Bound) {
	c := walleyeDeath
	if of == "perch_barotrauma" {
		c = perchBarotrauma
	}
	slope, h := c.curve()
	share, bound = c.at(depth.Metres())
	return slope, quantity.Length(h), share, bound
}

// What else is published. A share of fish with pressure injury dies; how large, nobody has measured under ice.
const (
	perchDies     = 0.5 // of perch with pressure injury: assumed
	perchDiesLow  = 0.2 // assumed
	perchDiesHigh = 1.0 // as managers assumed [Knight2019]

	kerrHigh        = 0.64 // of perch from 10 to 15 m, the worst of the studies reviewed [Kerr2001]; quoted
	walleyeAll      = 18   // of 260, hooked at 6 to 12.5 m, died in 24 h [Twardek2018]
	walleyeSeen     = 260
	walleyeDeepHook = 0.148 // [Twardek2018]
)

// swimsDown tells the share of perch that swam down within 3 s after they were caught through ice [Klingsheim2015].
var swimsDown = []struct{ depthM, share float64 }{{3, 0.88}, {4.5, 0.72}, {6, 0.37}}

// SwimsDown gives the share of perch able to swim down at once from a depth: linear between the published depths (CARE-3), the nearest
// figure as a bound beyond them.
func SwimsDown(depth quantity.Length) (share float64, bound Bound) {
	d, all := depth.Metres(), swimsDown
	if d < all[0].depthM {
		return all[0].share, AtLeast
	}
	for i := 1; i < len(all); i++ {
		a, b := all[i-1], all[i]
		if d <= b.depthM {
			// (CARE-3)
			return a.share + (b.share-a.share)*(d-a.depthM)/(b.depthM-a.depthM), Between
		}
	}
	return all[len(all)-1].share, AtMost
}

// GasRatio gives how many times larger a gas is at the surface than at a depth, by Boyle's law, in fresh water.
func GasRatio(depth quantity.Length, surface quantity.Pressure) float64 {
	const rho, g = 1000, 9.80665 // kg/m3, m/s2
	// (CARE-4)
	return (surface.Pascals() + rho*g*depth.Metres()) / surface.Pascals()
}

// ExactInterval gives the exact 95 % interval of a share (Clopper and Pearson).
func ExactInterval(k, n int) (low, high float64) {
	const tail = 0.025
	low, high = 0, 1
	// (CARE-5)
	if k > 0 {
		low = mathext.InvRegIncBeta(float64(k), float64(n-k+1), tail)
	}
	if k < n {
		high = mathext.InvRegIncBeta(float64(k+1), float64(n-k), 1-tail)
	}
	return low, high
}

// Verdicts by the chance of dying; ours. Air below which eyes are at risk: agency fish-health specialist [FishHealth], 10 F.
const (
	doubtfulFrom = 0.05
	countFrom    = 0.30
	eyesBelow    = quantity.Celsius(-12)
	gillsBelow   = quantity.Celsius(0)
)

// Weigh says what is expected of a fish that is put back.
func Weigh(f Fish) Fate {
	out := Fate{Verdict: Fine, Low: 0, High: 1}
	switch {
	case f.Depth <= 0:
		out.Why = append(out.Why, Reason{Code: "unknown"})
	case f.Species == "perch":
		out.perch(f.Depth)
	case f.Species == "walleye":
		out.walleye(f)
	default:
		out.Why = append(out.Why, Reason{Code: "other_species"})
	}
	switch {
	case !out.Known, out.Mean >= doubtfulFrom && out.Mean < countFrom:
		out.Verdict = Doubtful
	case out.Mean >= countFrom:
		out.Verdict = CountIt
	}
	out.seen(f)
	return out
}

// worse makes a verdict no better than another.
func (out *Fate) worse(v Verdict) {
	if out.Verdict == Fine || v == CountIt {
		out.Verdict = v
	}
}

// seen weighs how the fish was hooked, how it went, and the air.
func (out *Fate) seen(f Fish) {
	why := func(code string, v Verdict, source string) {
		out.worse(v)
		out.Why = append(out.Why, Reason{Code: code, Source: source})
	}
	if f.Down == "floats" {
		why("floats", CountIt, "Keniry1996")
	}
	if f.Down == "slow" {
		why("slow", Doubtful, "Klingsheim2015")
	}
	if f.Deep && f.Bleeding {
		why("bleeding", CountIt, "Reeves2007")
	} else if f.Bleeding {
		why("bleeding", Doubtful, "Reeves2007")
	}
	if f.Deep && f.Species != "walleye" {
		why("deep", Doubtful, "Twardek2018")
	}
	switch {
	case !f.AirTold:
	case f.Air < eyesBelow:
		why("eyes", Doubtful, "FishHealth")
	case f.Air < gillsBelow:
		out.Why = append(out.Why, Reason{Code: "gills", Source: "FishHealth"})
	}
}

// perch weighs a perch by depth.
func (out *Fate) perch(depth quantity.Length) {
	hurt, bound := perchBarotrauma.at(depth.Metres())
	out.Known, out.Bound = true, bound
	// (CARE-2)
	out.Low, out.Mean, out.High = hurt*perchDiesLow, hurt*perchDies, hurt*perchDiesHigh
	if d := depth.Metres(); d >= 10 && d <= 15 {
		out.Low, out.High = 0, math.Max(out.High, kerrHigh)
	}
	out.widen()
	out.Why = append(out.Why, Reason{Code: "depth", Share: hurt, Bound: bound, Source: "Knight2019"})
	down, at := SwimsDown(depth)
	if down < 0.5 || at == AtMost {
		out.Verdict = Doubtful
	}
	out.Why = append(out.Why, Reason{Code: "down_share", Share: down, Bound: at, Source: "Klingsheim2015"})
}

// walleye weighs a walleye by depth and hook. The two studies under ice disagree on depth: both count.
func (out *Fate) walleye(f Fish) {
	d := f.Depth.Metres()
	curve, bound := walleyeDeath.at(d)
	out.Known, out.Bound, out.Low, out.Mean, out.High = true, bound, curve, curve, curve
	if d >= 6 && d <= 12.5 {
		low, high := ExactInterval(walleyeAll, walleyeSeen)
		mean := float64(walleyeAll) / walleyeSeen
		if f.Deep {
			mean, high = walleyeDeepHook, math.Max(high, walleyeDeepHook)
		}
		out.Low, out.High, out.Mean = math.Min(curve, low), math.Max(curve, high), (curve+mean)/2
	}
	out.widen()
	out.Why = append(out.Why, Reason{Code: "depth", Share: curve, Bound: bound, Source: "Lyon2022"})
	if f.Deep {
		out.Why = append(out.Why, Reason{Code: "deep", Share: walleyeDeepHook, Source: "Twardek2018"})
		out.worse(Doubtful)
	}
}

// widen opens a range on the side on which nothing is published.
func (out *Fate) widen() {
	switch out.Bound {
	case AtMost:
		out.Low = 0
	case AtLeast:
		out.High = 1
	}
}
