// Package light answers how much light falls on the ice, and how much of it reaches a depth below.
//
// Start with [Surface] for the light of a clear sky by the sun's elevation, then [Below]. Both give a range, since
// snow and ice differ several-fold; [Range.Middle] is for drawing only.
// [Clouded] dims the light of the clear sky. It assumes no moon, and layers whose light falls off exponentially. Lamps,
// moonlight and the change of colour with depth are left out: no number for them was found that is better than the range.
// Model note: docs/models/light.md.
package light

import (
	"math"
	"sort"

	"icehand/internal/base/quantity"
)

// Range is an estimate of illuminance with its bounds.
type Range struct{ Low, High quantity.Illuminance }

// Middle gives the geometric middle of the range.
func (r Range) Middle() quantity.Illuminance {
	return quantity.Illuminance(math.Sqrt(float64(r.Low) * float64(r.High)))
}

// anchor is the light of a clear moonless sky on level ground at an elevation of the sun's centre.
type anchor struct {
	elevation quantity.Angle
	low, high float64 // lux
}

// anchors run upward. From 5 degrees on they are Haurwitz's clear-sky sunlight times 105 lm/W (unverified), with a
// quarter either way for haze.
var anchors = []anchor{
	{-18, 0.0006, 0.002}, // starlight; unverified
	{-12, 0.007, 0.009},  // 0.008 at the end of nautical twilight [AMSGlossary]
	{-6, 2, 3.5},         // end of civil twilight [AMSGlossary]
	{-0.8333, 400, 585},  // sunset [AMSGlossary]
	{5, 3900, 6500},      // 49.8 W/m2
	{10, 10800, 18000},   // 137.3 W/m2
	{20, 25000, 42000},   // 317.9 W/m2
	{30, 38600, 64000},   // 489.8 W/m2
	{45, 56000, 94000},   // 716.3 W/m2
	{90, 82000, 136000},  // 1037 W/m2
}

// Surface gives the light on the surface for a true elevation of the sun. It panics when that is not a number.
func Surface(elevation quantity.Angle) Range {
	if math.IsNaN(float64(elevation)) {
		panic("light: elevation is not a number")
	}
	first, last := anchors[0], anchors[len(anchors)-1]
	if elevation <= first.elevation {
		return Range{quantity.Illuminance(first.low), quantity.Illuminance(first.high)}
	}
	if elevation >= last.elevation {
		return Range{quantity.Illuminance(last.low), quantity.Illuminance(last.high)}
	}
	i := sort.Search(len(anchors), func(i int) bool { return anchors[i].elevation > elevation })
	a, b := anchors[i-1], anchors[i]
	u := float64(elevation-a.elevation) / float64(b.elevation-a.elevation)
	// (LIGHT-1) straight in the logarithm between anchors
	between := func(p, q float64) quantity.Illuminance {
		return quantity.Illuminance(math.Exp((1-u)*math.Log(p) + u*math.Log(q)))
	}
	return Range{between(a.low, b.low), between(a.high, b.high)}
}

// What a sky full of cloud takes from the light: high thin cloud the least, rain cloud the most, 0.75 on the whole
// [KastenCzeplak1980]; the two ends are unverified.
const (
	thinCloud  = 0.39
	thickCloud = 0.84
)

// Clouded gives the light under cloud that covers a share of the sky, 0 to 1, from that of the clear sky. The law is of
// sunlight; that it holds in the twilights too is our own assumption. It panics outside 0 to 1.
func Clouded(clear Range, cover float64) Range {
	if !(cover >= 0 && cover <= 1) {
		panic("light: cloud cover is not a share")
	}
	// (LIGHT-4)
	taken := math.Pow(cover, 3.4)
	return Range{Low: quantity.Illuminance(float64(clear.Low) * (1 - thickCloud*taken)), High: quantity.Illuminance(float64(clear.High) * (1 - thinCloud*taken))}
}

// Optics holds what a column takes from the light.
type Optics struct {
	Albedo                    float64 // share thrown back at the top, 0 to 1
	Snow, White, Clear, Water quantity.Attenuation
}

// Column is what lies over a depth.
type Column struct {
	Snow, White, Clear quantity.Length
	Depth              quantity.Length // of water below the ice
}

// Fraction gives the share of the light on the surface that reaches the bottom of the column. It panics on a negative
// thickness or attenuation and on an albedo outside 0 to 1.
func Fraction(c Column, o Optics) float64 {
	A := o.Albedo
	hs, hw, hi, z := c.Snow.Metres(), c.White.Metres(), c.Clear.Metres(), c.Depth.Metres()
	ks, kw, ki, Kd := float64(o.Snow), float64(o.White), float64(o.Clear), float64(o.Water)
	if !(A >= 0 && A <= 1 && min(hs, hw, hi, z, ks, kw, ki, Kd) >= 0) {
		panic("light: thickness, attenuation or albedo out of range")
	}
	// (LIGHT-2)
	return (1 - A) * math.Exp(-ks*hs-kw*hw-ki*hi-Kd*z)
}

// Brightest and Dimmest give the two ends of published optics for a column under a given water. White ice shares the
// range of snow-free ice, for want of better.
func Brightest(c Column, water quantity.Attenuation, melting bool) Optics {
	return Optics{Albedo: albedo(c, melting)[0], Snow: 14, White: 1, Clear: 1, Water: water} // [Lei2011]
}

// Dimmest is the other end; see [Brightest].
func Dimmest(c Column, water quantity.Attenuation, melting bool) Optics {
	return Optics{Albedo: albedo(c, melting)[1], Snow: 25, White: 5, Clear: 5, Water: water} // [Lei2011]
}

// Typical gives the attenuation of clear ice, white ice and snow that a published lake model uses [Simstrat].
const (
	TypicalClear = 1 * quantity.PerMetre
	TypicalWhite = 3 * quantity.PerMetre
	TypicalSnow  = 24 * quantity.PerMetre
)

// albedo gives the least and the greatest share thrown back [Lei2011].
func albedo(c Column, melting bool) [2]float64 {
	switch {
	case melting:
		return [2]float64{0.18, 0.22}
	case c.Snow > 0:
		return [2]float64{0.74, 0.92}
	default:
		return [2]float64{0.1, 0.4}
	}
}

// WaterAttenuation gives the attenuation of water by the depth at which a white disc vanishes [PooleAtkins1929];
// the constant is unverified. It panics unless the depth is above zero.
func WaterAttenuation(secchi quantity.Length) quantity.Attenuation {
	if !(secchi > 0) {
		panic("light: Secchi depth must be above zero")
	}
	// (LIGHT-3)
	return quantity.Attenuation(1.7 / secchi.Metres())
}

// Below gives the range of light at the bottom of a column, from the range on the surface and both ends of the optics.
func Below(surface Range, c Column, water quantity.Attenuation, melting bool) Range {
	return Range{
		Low:  quantity.Illuminance(float64(surface.Low) * Fraction(c, Dimmest(c, water, melting))),
		High: quantity.Illuminance(float64(surface.High) * Fraction(c, Brightest(c, water, melting))),
	}
}
