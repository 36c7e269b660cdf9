package ice

import (
	"fmt"
	"math"

	"icehand/internal/base/quantity"
)

// Kind is what a layer seen in a hole is made of.
type Kind int

// The kinds. The zero value is ice that nobody has told apart, and counts as white.
const (
	Unsorted Kind = iota
	Clear
	White
	Slush
	Water
	Snow
)

// Layer is one layer of a hole's wall.
type Layer struct {
	Kind      Kind
	Thickness quantity.Length
}

// Worth is what a hole's layers are worth for bearing.
type Worth struct {
	Thickness quantity.Length // as so much clear ice
	Parted    bool            // slush, water or snow lies between solid layers: only the best one was counted
	Unsorted  bool            // some ice was not told apart and was counted as white
}

// WhiteShare is how much clear ice a thickness of white ice stands for. Half the thickness is a quarter of the load.
const WhiteShare = 0.5 // [MNDNRTable] doubles the table on white ice; [TM5852]; Ottawa's skateway counts the same way

// Effective gives the worth of layers listed from the top down. Snow, slush and water count nothing; where they part the
// ice, only the solid layer that is worth most counts. It panics on a negative thickness.
func Effective(layers []Layer) Worth {
	var w Worth
	var run quantity.Length
	solids, inSolid := 0, false
	for _, l := range layers {
		mustNotBeNegative(l.Thickness.Metres(), "thickness")
		if l.Thickness == 0 {
			continue
		}
		share := 0.0
		switch l.Kind {
		case Clear:
			share = 1
		case White:
			share = WhiteShare
		case Unsorted:
			share = WhiteShare
			w.Unsorted = true
		default:
			run, inSolid = 0, false
			continue
		}
		if !inSolid {
			solids, inSolid = solids+1, true
		}
		// (ICE-12)
		run += quantity.Length(share * l.Thickness.Metres())
		w.Thickness = max(w.Thickness, run)
	}
	w.Parted = solids > 1
	return w
}

// Strength is the coefficient A of the load formula. The zero value is the default, which is also the highest: a
// Strength can be made lower and not higher.
type Strength struct {
	below quantity.Pressure // how far below the default
}

// HighestStrength is A = 3.5 kg/cm2, the 50 psi of a state agency's table [MNDNRTable]. The 4 to 6 of winter-road
// guides presuppose a maintained road and daily profiles and are not offered.
const HighestStrength = 3.5 * quantity.KilogramPerSquareCentimetre

// LowerStrength makes a Strength below the default. Anything higher, or not above zero, is an error.
func LowerStrength(a quantity.Pressure) (Strength, error) {
	if !(a > 0 && a <= HighestStrength) {
		return Strength{}, fmt.Errorf("ice: setting the strength: %.2f kg/cm2 is not above 0 and at most 3.5", float64(a/quantity.KilogramPerSquareCentimetre))
	}
	return Strength{below: HighestStrength - a}, nil
}

// StandingStrength is for loads that stay longer than [LongestParking]: A = 2.2 kg/cm2, which asks for twice the
// thickness that the same source asks of a moving load [Smith2004]. It is at most s.
func (s Strength) StandingStrength() Strength {
	const standing = 2.197 * quantity.KilogramPerSquareCentimetre // from t = 8 sqrt(W) in inches and short tons [Smith2004]
	return Strength{below: HighestStrength - min(s.Pressure(), standing)}
}

// Pressure gives A.
func (s Strength) Pressure() quantity.Pressure { return HighestStrength - s.below }

// Load gives the calculated load for ice of that effective thickness: all that stands within reach of one spot,
// together. It is a figure of comparison, never a permission.
func (s Strength) Load(effective quantity.Length) quantity.Mass {
	return GoldLoad(s.Pressure(), effective)
}

// Required gives the effective thickness at which the calculated load equals a load.
func (s Strength) Required(load quantity.Mass) quantity.Length {
	mustNotBeNegative(load.Kilograms(), "load")
	return quantity.Length(math.Sqrt(load.Kilograms() * standardGravity / s.Pressure().Pascals()))
}

const standardGravity = 9.80665 // m/s2, exact; turns the kilogram-force of the sources into pascals

// GoldLoad is the bare formula P = A h2 with any A, for comparing with published tables [Gold1971]. Advice goes through
// [Strength]. It panics on a negative A or thickness.
func GoldLoad(a quantity.Pressure, effective quantity.Length) quantity.Mass {
	mustNotBeNegative(a.Pascals(), "strength")
	mustNotBeNegative(effective.Metres(), "thickness")
	A, h := a.Pascals()/standardGravity, effective.Metres()
	// (ICE-13)
	return quantity.Mass(A * h * h)
}

// GoldStrength gives the A that a published load and thickness imply. It panics unless the thickness is above zero.
func GoldStrength(load quantity.Mass, effective quantity.Length) quantity.Pressure {
	if !(effective > 0) {
		panic("ice: thickness must be above zero")
	}
	h := effective.Metres()
	return quantity.Pressure(load.Kilograms() * standardGravity / (h * h))
}

// ManualLoad is a military manual's rough guide for short stays, P = h2/16 in short tons and inches [TM5852]. It is
// looser than ours and serves as a comparison.
func ManualLoad(clear quantity.Length) quantity.Mass {
	h := clear.Inches()
	// (ICE-14)
	return quantity.Mass(h*h/16) * quantity.ShortTon
}

// SmithThickness gives the thickness 4 S sqrt(W) in inches for W short tons [Smith2004]: S = 1 for moving loads on clear
// ice, 2 for white ice or for a stay of more than two hours.
func SmithThickness(load quantity.Mass, S float64) quantity.Length {
	W := float64(load / quantity.ShortTon)
	// (ICE-15)
	return quantity.Length(4*S*math.Sqrt(W)) * quantity.Inch
}

// FairbanksThickness gives the thickness 5 sqrt(W) in inches for a slow vehicle of W short tons [UAFGI], a comparison.
func FairbanksThickness(load quantity.Mass) quantity.Length {
	W := float64(load / quantity.ShortTon)
	// (ICE-16)
	return quantity.Length(5*math.Sqrt(W)) * quantity.Inch
}
