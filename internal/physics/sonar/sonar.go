// Package sonar answers what a vertical sounder in still, cold fresh water can and cannot show.
//
// Start with [SoundSpeed] and [TrueDepth] for depths, [Beam] for the cone, [FlatHidden] and [SlopeHidden] for what the
// bottom hides. The encounter functions say what waiting is worth when what is sought moves.
// It assumes a free disc-shaped face, its far field, and a nominal cone with a hard edge: strong echoes are seen
// outside it, so show sizes as "about". Gain, noise and the strength of single echoes are left out: echo strength tells
// little of size.
// Model note: docs/models/sonar.md.
package sonar

import (
	"math"
	"time"

	"icehand/internal/base/quantity"
)

// SoundSpeed gives the speed of sound in pure water at the air's pressure [Marczak1997]. It holds from 0 to 95 C, is let
// run on to -1 C for a thermometer's error, and panics outside.
func SoundSpeed(water quantity.Celsius) quantity.Speed {
	T := checkedWater(water)
	// (SONAR-1)
	return quantity.Speed(1402.385 + T*(5.038813+T*(-5.799136e-2+T*(3.287156e-4+T*(-1.398845e-6+T*2.787860e-9)))))
}

// BilaniukWong gives the same from an independent fit, to tell how far the two disagree [BilaniukWong1993].
func BilaniukWong(water quantity.Celsius) quantity.Speed {
	T := checkedWater(water)
	// (SONAR-2)
	return quantity.Speed(1402.38744 + T*(5.03836171+T*(-5.81172916e-2+T*(3.34638117e-4+T*(-1.48259672e-6+T*3.16585020e-9)))))
}

func checkedWater(water quantity.Celsius) float64 {
	if !(water >= -1 && water <= 95) {
		panic("sonar: water temperature outside -1 to 95 C")
	}
	return water.Degrees()
}

// TrueDepth corrects a shown depth for the speed of sound that the display assumed.
func TrueDepth(shown quantity.Length, assumed, actual quantity.Speed) quantity.Length {
	if !(assumed > 0 && actual > 0) {
		panic("sonar: speed of sound must be above zero")
	}
	d, c0, c := shown.Metres(), assumed.MetresPerSecond(), actual.MetresPerSecond()
	// (SONAR-3)
	return quantity.Length(d * c / c0)
}

// RangeResolution gives the least difference of range at which two echoes stay apart.
func RangeResolution(c quantity.Speed, pulse time.Duration) quantity.Length {
	// (SONAR-4)
	return quantity.Length(c.MetresPerSecond() * pulse.Seconds() / 2)
}

// Wavelength gives the length of the wave.
func Wavelength(c quantity.Speed, f quantity.Frequency) quantity.Length {
	// (SONAR-5)
	return quantity.Length(c.MetresPerSecond() / float64(f))
}

// waveNumber gives k times the radius of a disc.
func waveNumber(c quantity.Speed, f quantity.Frequency, disc quantity.Length) float64 {
	return 2 * math.Pi / Wavelength(c, f).Metres() * disc.Metres() / 2
}

// halfPower is the argument ka sin(angle) at which a disc sends half the power it sends ahead: (2 J1(x)/x)2 = 1/2.
const halfPower = 1.616340

// DiscResponse gives the one-way amplitude of a disc, relative to straight ahead, by x = ka sin(angle).
func DiscResponse(x float64) float64 {
	if x == 0 {
		return 1
	}
	// (SONAR-6)
	return 2 * math.J1(x) / x
}

// DiscBeam gives the full width of a disc's beam, one way, to half the power. It panics when the disc is too small
// for its wave to form a beam.
func DiscBeam(c quantity.Speed, f quantity.Frequency, disc quantity.Length) Beam {
	ka := waveNumber(c, f, disc)
	if !(ka > halfPower) {
		panic("sonar: disc too small for a beam")
	}
	// (SONAR-7)
	return Beam(2 * math.Asin(halfPower/ka) * 180 / math.Pi)
}

// TwoWaySolidAngle gives the equivalent two-way solid angle of a disc's beam; the approximation is unverified.
func TwoWaySolidAngle(ka float64) quantity.SolidAngle {
	// (SONAR-8)
	return quantity.SolidAngle(5.78 / (ka * ka))
}

// TargetsPerPulse gives the mean number of targets in the volume that one pulse fills; echoes are single only when
// it is far below 1 [Sawada1993]. The count of targets is per cubic metre.
func TargetsPerPulse(c quantity.Speed, pulse time.Duration, ψ quantity.SolidAngle, r quantity.Length, perCubicMetre float64) float64 {
	τ, R, ρ := pulse.Seconds(), r.Metres(), perCubicMetre
	// (SONAR-9)
	return c.MetresPerSecond() * τ * float64(ψ) * R * R * ρ / 2
}

// Beam is the full angle of a nominal cone.
type Beam quantity.Angle

func (b Beam) halfTangent() float64 { return math.Tan(quantity.Angle(b / 2).Radians()) }

// Footprint gives the width of the cone at a distance below the face.
func (b Beam) Footprint(depth quantity.Length) quantity.Length {
	// (SONAR-10)
	return quantity.Length(2 * depth.Metres() * b.halfTangent())
}

// FootprintArea gives the area of the cone at a distance below the face.
func (b Beam) FootprintArea(depth quantity.Length) quantity.Area {
	d := b.Footprint(depth).Metres()
	return quantity.Area(math.Pi * d * d / 4)
}

// LayerVolume gives the volume of the cone between two depths.
func (b Beam) LayerVolume(top, bottom quantity.Length) quantity.Volume {
	z1, z2, tan := top.Metres(), bottom.Metres(), b.halfTangent()
	// (SONAR-11)
	return quantity.Volume(math.Pi * tan * tan * (z2*z2*z2 - z1*z1*z1) / 3)
}

// FlatHidden gives the height above a flat bottom that is lost in its echo at an angle off the axis [OnaMitson1996].
// On the axis, angle 0, only the pulse remains.
func FlatHidden(depth quantity.Length, off quantity.Angle, c quantity.Speed, pulse time.Duration) quantity.Length {
	z, θ := depth.Metres(), off.Radians()
	// (SONAR-12)
	return quantity.Length(z*(1/math.Cos(θ)-1)) + RangeResolution(c, pulse)
}

// SlopeHidden gives what a sloping bottom hides on the axis, and over how much range its echo is smeared. Our own
// geometry, in the plane of the slope, for a vertical beam; the pulse comes on top. It panics unless half the beam and
// the slope together stay below 90 degrees.
func SlopeHidden(depth quantity.Length, beam Beam, slope quantity.Angle) (hidden, smear quantity.Length) {
	z, θ, b := depth.Metres(), quantity.Angle(beam/2).Radians(), math.Abs(slope.Radians())
	if !(θ >= 0 && b+θ < math.Pi/2) {
		panic("sonar: beam and slope too steep")
	}
	// (SONAR-13) nearest point of the bottom inside the beam, and the farthest
	rmin := z * math.Cos(b)
	if b > θ {
		rmin = z * math.Cos(b) / math.Cos(b-θ)
	}
	rmax := z * math.Cos(b) / math.Cos(b+θ)
	return quantity.Length(z - rmin), quantity.Length(rmax - rmin)
}
