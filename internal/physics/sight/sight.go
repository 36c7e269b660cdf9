// Package sight answers how far over level ground a thing can be seen: how far the horizon lies, from how far a thing of
// some height still shows above it, and how large it looks.
//
// Start with [Range] for "from how far can I be seen", then [Angle] for "as what".
// It assumes level ice, air of usual refraction and a bare eye of normal sharpness. It leaves out haze, snow, light and
// land between: the caller knows of those, or says that it does not.
// Model note: docs/models/sight.md.
package sight

import (
	"math"

	"icehand/internal/base/quantity"
)

// nauticalMile is 1852 m by definition [Definition].
const nauticalMile = 1852 * quantity.Metre

// horizonConstant is in nautical miles by square root of a foot, usual refraction included [Bowditch2002]; the same
// book's 2.07 for metres contradicts it and is a known misprint.
const horizonConstant = 1.17

// What an eye of normal sharpness makes out: a letter of the 6/6 line is five minutes of arc high and its strokes one
// [Snellen1862].
const (
	Shape = 5 * quantity.ArcMinute // what it is can be told
	Speck = 1 * quantity.ArcMinute // that there is something can be told
)

// Horizon gives how far away level ground meets the sky for an eye at some height. It panics below zero.
func Horizon(eye quantity.Length) quantity.Length {
	if !(eye >= 0) {
		panic("sight: an eye below the ground")
	}
	h := eye.Feet()
	// (SIGHT-1)
	D := horizonConstant * math.Sqrt(h)
	return quantity.Length(D) * nauticalMile
}

// Range gives from how far a thing of some height still shows above the horizon. It panics below zero.
func Range(eye, thing quantity.Length) quantity.Length {
	// (SIGHT-2)
	return Horizon(eye) + Horizon(thing)
}

// Angle gives how high a thing looks from a distance; a right angle at none.
func Angle(thing, distance quantity.Length) quantity.Angle {
	// (SIGHT-3)
	θ := math.Atan2(float64(thing), float64(distance))
	return quantity.Angle(θ*180/math.Pi) * quantity.Degree
}
