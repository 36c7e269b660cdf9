package tackle

import (
	"math"

	"icehand/internal/base/quantity"
)

// Blown is how a current carries a lure aside.
type Blown struct {
	Aside  quantity.Length // of the lure from below the hole
	Angle  quantity.Angle  // of the line from the plumb line at the hole
	OnLure quantity.Force
	OnLine quantity.Force
	Far    bool // the line leans too far for this reckoning: too light is all that can be said
}

// farthestLean is the lean at the hole, as its tangent, up to which the small-angle reckoning is used: a line's length then
// exceeds its depth by less than an eighth. Ours.
const farthestLean = 0.5

// Drift answers how far aside a current carries a weight on a line at a depth, the same speed from top to bottom. It panics
// when the weight floats.
func Drift(w Weight, diameter quantity.Length, water Water, depth quantity.Length, current quantity.Speed) Blown {
	W := w.Submerged(water).Newtons()
	if W <= 0 || !(diameter > 0) || !(depth >= 0) || !(current >= 0) {
		panic("tackle: a weight that floats, no line, no depth or no current")
	}
	U, z := current.MetresPerSecond(), depth.Metres()
	Fd, Fl := w.drag(water, U), 0.0
	if U > 0 {
		reynolds := float64(water.Density) * U * diameter.Metres() / water.Viscosity
		// (TACKLE-13)
		Fl = 0.5 * float64(water.Density) * U * U * diameter.Metres() * z * LineDrag(reynolds)
	}
	// (TACKLE-14)
	aside := z * (Fd + Fl/2) / W
	// (TACKLE-15)
	lean := (Fd + Fl) / W
	return Blown{Aside: quantity.Length(aside), Angle: quantity.Angle(math.Atan(lean) * 180 / math.Pi), OnLure: quantity.Force(Fd),
		OnLine: quantity.Force(Fl), Far: lean > farthestLean}
}

// heaviest and lightest bound the weights that are looked at.
const (
	lightest = 0.05 * quantity.Gram
	heaviest = 500 * quantity.Gram
)

// Heavy gives the least weight of a material that a current carries aside no farther than is asked; false when none up to
// half a kilogram does.
func Heavy(density quantity.Density, diameter quantity.Length, water Water, depth quantity.Length, current quantity.Speed, asked quantity.Length) (quantity.Mass, bool) {
	if !(asked > 0) {
		panic("tackle: no distance is asked")
	}
	// (TACKLE-16)
	holds := func(m float64) bool {
		return Drift(Weight{Mass: quantity.Mass(m), Density: density}, diameter, water, depth, current).Aside <= asked
	}
	switch {
	case !holds(heaviest.Kilograms()):
		return 0, false
	case holds(lightest.Kilograms()):
		return lightest, true
	}
	return quantity.Mass(bisect(lightest.Kilograms(), heaviest.Kilograms(), holds)), true
}

// Current tells the current from the lean of the line at the hole; false when it is more than a metre a second.
func Current(w Weight, diameter quantity.Length, water Water, depth quantity.Length, lean quantity.Angle) (quantity.Speed, bool) {
	// (TACKLE-17)
	holds := func(u float64) bool { return Drift(w, diameter, water, depth, quantity.Speed(u)).Angle >= lean }
	if !holds(1) {
		return 0, false
	}
	if lean <= 0 {
		return 0, true
	}
	return quantity.Speed(bisect(0, 1, holds)), true
}
