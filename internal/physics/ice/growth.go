// Package ice answers how a sheet of lake ice grows and melts, how it floats, and what the formulas and agency tables
// say about a load on it.
//
// Start with [Effective] for what a drilled hole is worth, [Strength.Load] for the formula and [Table.Required] for a
// table; [Conditions] says which rules make both stricter. [Together] makes one load of all that stands within reach;
// [MovingAdvice] limits its speed. [Column.Step], [Grow] and [GrowthPerDay] are for planning: a model never lifts a
// drilled number.
// It assumes freshwater ice that floats on water. It never says that ice is safe, and no function here can: what was
// not drilled is unknown. Salt and rot of the crystal edges are left out; where no published number was found (rot), the
// answer is that there is no number.
// Model note: docs/models/ice.md.
package ice

import (
	"math"

	"icehand/internal/base/quantity"
)

// Properties of ice and water near 0 C.
const (
	ClearConductivity = 2.24 * quantity.WattPerMetreKelvin   // [Ashton]; 2.22 in other lake models
	WhiteConductivity = 2.0 * quantity.WattPerMetreKelvin    // unverified
	ClearDensity      = 917 * quantity.KilogramPerCubicMetre // [Ashton] prints 916
	WhiteDensity      = 875 * quantity.KilogramPerCubicMetre // [Simstrat], after Saloranta 2000
	WaterDensity      = 1000 * quantity.KilogramPerCubicMetre
	latentHeat        = 3.34e5 // J/kg [Ashton]
	secondsPerDay     = 86400.0
)

// Air carries heat from a bare surface at 10 to 30 W/m2K, the more the windier [Ashton]; 20 is the middle, ours.
const (
	CalmAir  = 10 * quantity.WattPerSquareMetreKelvin
	UsualAir = 20 * quantity.WattPerSquareMetreKelvin
	WindyAir = 30 * quantity.WattPerSquareMetreKelvin
)

// WaterHeat is the flux from the water to the ice over an open basin in mid-winter, tuned for one lake [Yang2012];
// inflows and narrows bring several times as much.
const WaterHeat = 0.5 * quantity.WattPerSquareMetre

// Resistance is a resistance to heat flow, in square metres and kelvins per watt. Resistances of layers add.
type Resistance float64

// AirFilm gives the resistance between the surface and the air.
func AirFilm(H quantity.HeatTransfer) Resistance { return Resistance(1 / float64(H)) }

// Cover gives the resistance of a layer, for instance of snow.
func Cover(thickness quantity.Length, k quantity.Conductivity) Resistance {
	return Resistance(thickness.Metres() / float64(k))
}

// Alpha is a coefficient of the square-root law, in metres per square root of a Celsius degree-day.
type Alpha float64

// Units of Alpha.
const (
	CentimetrePerRootCelsiusDay Alpha = 0.01
	InchPerRootFahrenheitDay    Alpha = 0.0254 * 1.3416407864998738 // times the square root of 1.8
)

// StefanAlpha gives the coefficient for bare ice whose surface is as cold as the air: an upper bound.
func StefanAlpha(k quantity.Conductivity, ice quantity.Density) Alpha {
	// (ICE-1)
	return Alpha(math.Sqrt(2 * float64(k) * secondsPerDay / (float64(ice) * latentHeat)))
}

// Surroundings is a row of the table of fitted coefficients [USACE]: a lake or river and its cover, with the range of alpha.
type Surroundings struct {
	Name      string
	Low, High Alpha
}

// FittedAlphas lists the published coefficients [USACE], from quick growth to slow.
func FittedAlphas() []Surroundings {
	u := InchPerRootFahrenheitDay
	return []Surroundings{
		{"windy lake, no snow", 0.8 * u, 0.8 * u},
		{"average lake with snow", 0.5 * u, 0.7 * u},
		{"average river with snow", 0.4 * u, 0.5 * u},
		{"sheltered small river, rapid flow", 0.2 * u, 0.4 * u},
	}
}

// Stefan gives the thickness that the square-root law expects. It is two to four times too thick below about 15 cm;
// use [Grow] there.
func Stefan(α Alpha, frost quantity.DegreeDays) quantity.Length {
	mustNotBeNegative(float64(frost), "degree-days")
	// (ICE-2)
	return quantity.Length(float64(α) * math.Sqrt(float64(frost)))
}

// FreezingDegreeDays sums the frost of daily mean temperatures from freeze-up on, oldest first: warm days subtract and
// the sum never falls below zero. A day that is not a number adds nothing and is counted as missing.
func FreezingDegreeDays(means []quantity.Celsius) (frost quantity.DegreeDays, missing int) {
	for _, T := range means {
		if math.IsNaN(float64(T)) {
			missing++
			continue
		}
		// (ICE-3)
		frost = quantity.DegreeDays(math.Max(0, float64(frost)-T.Degrees()))
	}
	return frost, missing
}

// Grow gives the thickness of clear ice after a spell of frost under a constant cover, from the thickness at its start.
// With [AirFilm] alone as the cover it is Ashton's law for thin ice. It panics on a negative thickness or frost.
func Grow(start quantity.Length, frost quantity.DegreeDays, above Resistance) quantity.Length {
	mustNotBeNegative(start.Metres(), "thickness")
	mustNotBeNegative(float64(frost), "degree-days")
	k, ρ, L := float64(ClearConductivity), float64(ClearDensity), latentHeat
	b := k * float64(above)
	h0, S := start.Metres(), float64(frost)
	// (ICE-4)
	return quantity.Length(math.Sqrt(float64((h0+b)*(h0+b))+2*k*secondsPerDay*S/(ρ*L)) - b)
}

// GrowthPerDay gives how much clear ice a day adds at its underside, below zero when the water melts more than the
// frost makes. In air above 0 C it counts no frost: see [Melt] for the top.
func GrowthPerDay(air quantity.Celsius, clear quantity.Length, above Resistance, water quantity.Irradiance) quantity.Length {
	mustNotBeNegative(clear.Metres(), "thickness")
	T := math.Min(0, air.Degrees())
	// (ICE-5)
	q := (0 - T) / (clear.Metres()/float64(ClearConductivity) + float64(above))
	return quantity.Length((q - float64(water)) * secondsPerDay / (float64(ClearDensity) * latentHeat))
}

// Melt gives the thickness of clear ice that warm air takes from a bare top.
func Melt(thaw quantity.DegreeDays, H quantity.HeatTransfer) quantity.Length {
	mustNotBeNegative(float64(thaw), "degree-days")
	// (ICE-6)
	return quantity.Length(float64(H) * secondsPerDay * float64(thaw) / (float64(ClearDensity) * latentHeat))
}

// SnowConductivity gives the conductivity of dry snow by its density [Sturm1997]; coefficients unverified. Denser than
// 0.6 g/cm3, the end of the data, it is taken at 0.6; it panics on a negative density.
func SnowConductivity(density quantity.Density) quantity.Conductivity {
	mustNotBeNegative(float64(density), "density")
	r := math.Min(0.6, float64(density/quantity.GramPerCubicCentimetre))
	if r < 0.156 {
		// (ICE-7)
		return quantity.Conductivity(0.023 + 0.234*r)
	}
	// (ICE-8)
	return quantity.Conductivity(0.138 - 1.01*r + 3.233*r*r)
}

// mustNotBeNegative panics on a caller's mistake; it also catches what is not a number.
func mustNotBeNegative(x float64, what string) {
	if !(x >= 0) {
		panic("ice: " + what + " must not be negative")
	}
}
