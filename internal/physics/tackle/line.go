package tackle

import (
	"errors"
	"math"

	"icehand/internal/base/quantity"
)

// Range is a figure that is known within bounds only.
type Range struct{ Low, High float64 }

// Material is what a line is made of: its modulus, of the whole cross-section as sold. Published values of the material.
type Material struct {
	Name    string
	Modulus Range // Pa
	Density quantity.Density
}

// Materials lists what lines are made of. Moduli are textbook values from memory, unverified; that of fluorocarbon is taken
// as nylon's, to which one independent wet test compared it; a braid's is its fibre's, halved for the air between fibres
// and for their winding (ours). One hung weight beats them all.
func Materials() []Material {
	return []Material{
		{"nylon", Range{2e9, 3e9}, 1140},
		{"fluorocarbon", Range{1.5e9, 3e9}, 1780},
		{"braid", Range{30e9, 60e9}, 970},
	}
}

// MaterialOf finds a material by name.
func MaterialOf(name string) (Material, bool) {
	for _, m := range Materials() {
		if m.Name == name {
			return m, true
		}
	}
	return Material{}, false
}

// Rig is a line off a rod: the line that is out, and the tip that carries it.
type Rig struct {
	Out      quantity.Length // from the tip to the lure
	Diameter quantity.Length
	Modulus  float64 // Pa, of the cross-section
	Tip      float64 // N/m; +Inf: a tip that does not bend
}

func (r Rig) check() {
	if !(r.Out >= 0) || !(r.Diameter > 0) || !(r.Modulus > 0) || !(r.Tip > 0) {
		panic("tackle: a rig without line, modulus or tip")
	}
}

// area of the line's cross-section, m².
func (r Rig) area() float64 { return math.Pi / 4 * r.Diameter.Metres() * r.Diameter.Metres() }

// Stretch gives how much longer the line gets under a pull.
func (r Rig) Stretch(pull quantity.Force) quantity.Length {
	r.check()
	// (TACKLE-7)
	x := pull.Newtons() * r.Out.Metres() / (r.Modulus * r.area())
	return quantity.Length(x)
}

// StretchFromStrain gives the stretch of a line whose strain under one pull was measured, scaled in proportion.
func StretchFromStrain(strain float64, at, pull quantity.Force, out quantity.Length) quantity.Length {
	// (TACKLE-8)
	x := strain * pull.Newtons() / at.Newtons() * out.Metres()
	return quantity.Length(x)
}

// Bite is how a bite shows above the ice.
type Bite struct {
	Tip    quantity.Length // how far the tip moves
	Eaten  quantity.Length // how far the line gives
	Slack  bool            // the line is slack: the tip shows nothing more
	Needed quantity.Force  // pull or relief behind it
}

// Pull answers: a fish pulls the lure down or aside by a distance; how far does the tip go?
func (r Rig) Pull(by quantity.Length) Bite {
	r.check()
	line := r.Out.Metres() / (r.Modulus * r.area()) // m/N
	// (TACKLE-9)
	F := by.Metres() / (1/r.Tip + line)
	return Bite{Tip: quantity.Length(F / r.Tip), Eaten: quantity.Length(F * line), Needed: quantity.Force(F)}
}

// Lift answers: a fish lifts the lure by a distance; how far does the tip rise before the line is slack? The lure's weight
// in water is all that bends the tip, so a light lure on a stiff tip shows little or nothing.
func (r Rig) Lift(by quantity.Length, submerged quantity.Force) Bite {
	r.check()
	line := r.Out.Metres() / (r.Modulus * r.area())
	// (TACKLE-10)
	full := submerged.Newtons() * (1/r.Tip + line)
	b := Bite{Slack: by.Metres() > full}
	F := submerged.Newtons()
	if !b.Slack {
		F = by.Metres() / (1/r.Tip + line)
	}
	b.Tip, b.Eaten, b.Needed = quantity.Length(F/r.Tip), quantity.Length(F*line), quantity.Force(F)
	return b
}

// Faults of a hung weight.
var (
	errDroop = errors.New("tackle: the droop is less than the tip alone gives")
	errNone  = errors.New("tackle: nothing hung, or nothing drooped")
)

// Hung turns one hung weight into the rig's own figures: with no line out it tells the stiffness of the tip, with line out
// the modulus of the line, the tip being known.
func Hung(r Rig, mass quantity.Mass, droop quantity.Length) (Rig, error) {
	F := mass.Kilograms() * gravity // in air
	x := droop.Metres()
	if !(F > 0) || !(x > 0) {
		return r, errNone
	}
	if r.Out == 0 {
		// (TACKLE-11)
		r.Tip = F / x
		return r, nil
	}
	rest := x - F/r.Tip
	if !(rest > 0) {
		return r, errDroop
	}
	// (TACKLE-12)
	r.Modulus = F * r.Out.Metres() / (rest * r.area())
	return r, nil
}
