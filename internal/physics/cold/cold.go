// Package cold answers how hard the air bites: wind chill, and how soon bare skin can freeze.
//
// Start with [WindChill] and [FrostbiteTime]. Wind means the wind at 10 m height, as forecasts and stations give it;
// turn a hand-held reading into one with [FromFaceHeight], and add the wind of riding with [RidingWind].
// It assumes a healthy adult with a dry, bare face, at night or in shade. Wet skin, bare metal, spilt fuel, children
// and medicines freeze or chill sooner and are left out: no formula was found for them. A time to frostbite is never
// an allowance to stay out. A reading that is not a number panics: unknown is for the caller to say.
// Model note: docs/models/cold.md.
package cold

import (
	"math"
	"time"

	"icehand/internal/base/quantity"
)

// The limits of the 2001 index [OsczevskiBluestein2005]: no chill above 10 C or in less wind than a walker makes.
const (
	WarmestChill = quantity.Celsius(10)
	CalmestChill = 4.8 * quantity.KilometrePerHour
)

// faceShare is the wind at face height as a share of the wind at 10 m, as the 2001 index has it built in [OsczevskiBluestein2005].
const faceShare = 0.667

// WindChill gives the 2001 index in the form with degrees Celsius and km/h. Outside its limits the air temperature
// itself comes back and applies is false.
func WindChill(air quantity.Celsius, wind10 quantity.Speed) (index quantity.Celsius, applies bool) {
	if !chills(air, wind10) {
		return air, false
	}
	T, V := air.Degrees(), wind10.KilometresPerHour()
	// (COLD-1)
	return quantity.Celsius(13.12 + 0.6215*T - 11.37*math.Pow(V, 0.16) + 0.3965*T*math.Pow(V, 0.16)), true
}

// WindChillUS gives the same index in the form with degrees Fahrenheit and mph, the one behind printed US charts.
// The two forms differ by rounding, at most 0.4 C.
func WindChillUS(air quantity.Celsius, wind10 quantity.Speed) (index quantity.Celsius, applies bool) {
	if !chills(air, wind10) {
		return air, false
	}
	T, V := air.Fahrenheit(), wind10.MilesPerHour()
	// (COLD-2)
	return quantity.Fahrenheit(35.74 + 0.6215*T - 35.75*math.Pow(V, 0.16) + 0.4275*T*math.Pow(V, 0.16)), true
}

func chills(air quantity.Celsius, wind10 quantity.Speed) bool {
	mustBeKnown(air, wind10)
	return air <= WarmestChill && wind10 > CalmestChill
}

// FromFaceHeight turns a wind read at face height into the 10 m wind that the formulas want.
func FromFaceHeight(wind quantity.Speed) quantity.Speed {
	// (COLD-3)
	return quantity.Speed(wind.MetresPerSecond() / faceShare)
}

// RidingWind gives the 10 m wind that would chill a standing face as riding chills it, taking the wind as head-on.
// It takes the careful one of two readings: the ride simply added to the wind, or the ride in place of the walking
// speed that the index has built in.
func RidingWind(wind10, ride quantity.Speed) quantity.Speed {
	V, S := wind10.KilometresPerHour(), ride.KilometresPerHour()
	walk := CalmestChill.KilometresPerHour()
	// (COLD-4)
	return quantity.Speed(V+math.Max(S, (S-walk)/faceShare)) * quantity.KilometrePerHour
}

// frostless is the skin temperature below which the quickest twentieth of people freeze: the formula has no meaning
// in warmer air.
const frostless = -4.8 // C [OsczevskiBluestein2005]

// Frostbite says how soon the bare face of the quickest 5 % of people can freeze.
type Frostbite struct {
	// Possible is false in air too warm for skin to freeze. It does not say that cold does no harm.
	Possible bool
	// Time is the shorter of the formula and the upper edge of the band; meaningless unless Possible.
	Time time.Duration
	// Band is the hazard band of the wind chill.
	Band Band
	// Extrapolated marks a time outside the range for which the formula was stated: wind above 25 km/h and less than 15 minutes.
	Extrapolated bool
}

// FrostbiteTime gives the time to frostbite in the stated air and 10 m wind.
func FrostbiteTime(air quantity.Celsius, wind10 quantity.Speed) Frostbite {
	index, _ := WindChill(air, wind10)
	f := Frostbite{Band: BandOf(index)}
	t, possible := FrostbiteFormula(air, wind10)
	if !possible {
		return f
	}
	f.Possible = true
	f.Extrapolated = wind10 <= 25*quantity.KilometrePerHour || t >= 15*time.Minute
	f.Time = t
	if f.Band.Latest > 0 && f.Band.Latest < f.Time {
		f.Time = f.Band.Latest
	}
	return f
}

// FrostbiteFormula gives the bare formula, for comparison; what is shown comes from [FrostbiteTime]. It gives false in
// air too warm for the formula to have a meaning, and at most a year, so that air just below that cannot overflow.
func FrostbiteFormula(air quantity.Celsius, wind10 quantity.Speed) (time.Duration, bool) {
	mustBeKnown(air, wind10)
	T, V := air.Degrees(), math.Max(0, wind10.KilometresPerHour())
	if !(T < frostless) {
		return 0, false
	}
	// (COLD-5) minutes; in a storm the first factor would fall below zero
	t := math.Max(0, -24.5*(0.667*V+4.8)+2111) * math.Pow(frostless-T, -1.668)
	return time.Duration(math.Min(t, 365*24*60) * float64(time.Minute)), true
}

// mustBeKnown panics on a reading that is not a number: an unknown temperature or wind has no wind chill, and must be
// said to be unknown before it gets here.
func mustBeKnown(air quantity.Celsius, wind quantity.Speed) {
	if math.IsNaN(float64(air)) || math.IsNaN(float64(wind)) {
		panic("cold: air or wind is not a number")
	}
}

// Band is a hazard band of wind chill, as Environment and Climate Change Canada prints it.
type Band struct {
	Warmest, Coldest quantity.Celsius // whole degrees, both included
	Soonest, Latest  time.Duration    // time in which bare skin can freeze; 0 where the table names none
}

// Bands lists the hazard bands from mild to severe [ECCCWindChill]. The last one has no coldest edge.
func Bands() []Band {
	return []Band{
		{Warmest: 0, Coldest: -9},
		{Warmest: -10, Coldest: -27},
		{Warmest: -28, Coldest: -39, Soonest: 10 * time.Minute, Latest: 30 * time.Minute},
		{Warmest: -40, Coldest: -47, Soonest: 5 * time.Minute, Latest: 10 * time.Minute},
		{Warmest: -48, Coldest: -54, Soonest: 2 * time.Minute, Latest: 5 * time.Minute},
		{Warmest: -55, Coldest: quantity.Celsius(math.Inf(-1)), Latest: 2 * time.Minute},
	}
}

// BandOf gives the band of a wind chill, rounded to the whole degree as the index is printed, halves to the colder.
// An index that rounds above 0 falls in the mildest band; one that is not a number in the severest.
func BandOf(index quantity.Celsius) Band {
	whole := quantity.Celsius(math.Ceil(float64(index) - 0.5))
	bands := Bands()
	for _, b := range bands {
		if whole >= b.Coldest {
			return b
		}
	}
	return bands[len(bands)-1]
}
