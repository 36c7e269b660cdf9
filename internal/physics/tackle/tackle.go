// Package tackle answers how a lure on a line behaves under a hole: how long it sinks, how much of a bite reaches the rod
// tip, how far a current carries it aside, and how heavy it must be for a depth.
//
// Start with [Weight.Sink] for the drop, [Rig.Pull] and [Rig.Lift] for a bite, [Drift] for a current and [Heavy] for
// the weight; [Timed] and [Hung] turn one timed drop and one hung weight into the outfit's own figures, which beat any here.
// It assumes still or steady water of 0 to 4 C, a round weight and a line that hangs nearly straight. It leaves out the
// weave of braids, knots, ice on the line, line running off a stiff spool and what a fish feels.
// Model note: docs/models/tackle.md.
package tackle

import (
	"errors"
	"fmt"
	"math"
	"time"

	"icehand/internal/base/quantity"
)

// gravity is standard gravity, m/s² [Definition].
const gravity = 9.80665

// Densities of what weights are made of, kg/m³. Handbook values from memory, unverified.
const (
	Lead     = 11340 * quantity.KilogramPerCubicMetre
	Tungsten = 17500 * quantity.KilogramPerCubicMetre // the sintered alloy; pure metal is 19,300
	Brass    = 8500 * quantity.KilogramPerCubicMetre
	Tin      = 7290 * quantity.KilogramPerCubicMetre
)

// Water is what a lure sinks through.
type Water struct {
	Density   quantity.Density
	Viscosity float64 // Pa s
}

// Water under ice, at 0, 2 and 4 C. From memory, unverified; the row at 2 C is the one that the check values were worked out with.
var waters = [3]Water{{999.84, 1.7916e-3}, {999.94, 1.6735e-3}, {999.97, 1.5673e-3}}

// WaterAt gives fresh water of a temperature from 0 to 4 C, as lies under ice. It panics outside.
func WaterAt(t quantity.Celsius) Water {
	x := t.Degrees() / 2
	if !(x >= 0 && x <= 2) {
		panic(fmt.Sprintf("tackle: water of %g C does not lie under ice", t.Degrees()))
	}
	i := min(1, int(x))
	f := x - float64(i)
	a, b := waters[i], waters[i+1]
	return Water{a.Density + quantity.Density(f)*(b.Density-a.Density), a.Viscosity * math.Pow(b.Viscosity/a.Viscosity, f)}
}

// SphereDrag gives the drag coefficient of a sphere by its Reynolds number. It panics at zero and below.
func SphereDrag(reynolds float64) float64 {
	if !(reynolds > 0) {
		panic("tackle: no flow, no drag coefficient")
	}
	if reynolds >= 1000 {
		return 0.44
	}
	// (TACKLE-1)
	return 24 / reynolds * (1 + 0.15*math.Pow(reynolds, 0.687))
}

// LineDrag gives the drag coefficient of a thin line across the flow by its Reynolds number. It panics at zero and below.
func LineDrag(reynolds float64) float64 {
	if !(reynolds > 0) {
		panic("tackle: no flow, no drag coefficient")
	}
	// (TACKLE-2)
	return 1 + 10*math.Pow(reynolds, -2.0/3)
}

// Weight is a lure or sinker, taken as a round one.
type Weight struct {
	Mass    quantity.Mass
	Density quantity.Density // of what it is made of
	// Slowness says how many times longer it sinks than a bare sphere, as one timed drop told; 0: not timed, a bare sphere.
	Slowness float64
}

// Sphere makes a weight of a sphere's diameter.
func Sphere(diameter quantity.Length, density quantity.Density) Weight {
	return Weight{Mass: quantity.Mass(float64(density) * math.Pi / 6 * math.Pow(diameter.Metres(), 3)), Density: density}
}

func (w Weight) check() {
	if !(w.Mass > 0) || !(w.Density > 0) {
		panic("tackle: a weight of no mass or density")
	}
}

// diameter of the sphere of that mass, m.
func (w Weight) diameter() float64 {
	return math.Cbrt(6 * w.Mass.Kilograms() / (math.Pi * float64(w.Density)))
}

// Submerged gives what it weighs in water; negative when it floats.
func (w Weight) Submerged(water Water) quantity.Force {
	w.check()
	// (TACKLE-3)
	W := w.Mass.Kilograms() * gravity * (1 - float64(water.Density)/float64(w.Density))
	return quantity.Force(W)
}

// drag on the sphere at a speed, N.
func (w Weight) drag(water Water, speed float64) float64 {
	if speed <= 0 {
		return 0
	}
	d := w.diameter()
	reynolds := float64(water.Density) * speed * d / water.Viscosity
	// (TACKLE-4)
	return 0.5 * float64(water.Density) * speed * speed * math.Pi / 4 * d * d * SphereDrag(reynolds)
}

// Terminal gives the speed at which it sinks once drag carries its weight, slowed as its timed drop told. 0 when it floats.
func (w Weight) Terminal(water Water) quantity.Speed {
	W := w.Submerged(water).Newtons()
	if W <= 0 {
		return 0
	}
	v := bisect(0, 100, func(v float64) bool { return w.drag(water, v) >= W })
	return quantity.Speed(v / w.slowness())
}

func (w Weight) slowness() float64 {
	if w.Slowness > 0 {
		return w.Slowness
	}
	return 1
}

// Sink gives how long it sinks to a depth with slack line. It panics when it floats.
func (w Weight) Sink(water Water, depth quantity.Length) time.Duration {
	v := w.Terminal(water)
	if v <= 0 {
		panic("tackle: what floats never gets there")
	}
	// (TACKLE-5)
	t := depth.Metres() / v.MetresPerSecond()
	return time.Duration(t * float64(time.Second))
}

// errTiming says that a timed drop contradicts physics.
var errTiming = errors.New("tackle: a lure cannot sink faster than a bare sphere of its weight")

// Timed turns one timed drop into a slowness, which holds for that lure on that line and, as a guess, for others of its
// make. A drop faster than a bare sphere's by more than a fifth is refused: a depth, a time or a weight is wrong.
func Timed(w Weight, water Water, depth quantity.Length, took time.Duration) (Weight, error) {
	w.Slowness = 0
	bare := w.Sink(water, depth).Seconds()
	// (TACKLE-6)
	s := took.Seconds() / bare
	if !(s >= 0.8) {
		return w, errTiming
	}
	w.Slowness = s
	return w, nil
}

// bisect finds where a condition that fails below and holds above begins to hold.
func bisect(lo, hi float64, holds func(float64) bool) float64 {
	for range 200 {
		mid := (lo + hi) / 2
		if mid <= lo || mid >= hi {
			break
		}
		if holds(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi
}
