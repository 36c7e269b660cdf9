package tackle

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"icehand/internal/base/quantity"
)

var cold = WaterAt(2)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.9g, want %.9g within %g", what, got, want, tolerance)
	}
}

// The outside values stand in internal/check; these hold what no table prints.

// Stokes's law, the limit of the drag law for slow flow: a grain of 20 µm sinks at g d²(ρs-ρ)/18μ [Stokes1851].
func TestSlowGrainFollowsStokes(t *testing.T) {
	d := 20e-6
	w := Sphere(quantity.Length(d), 2650)
	stokes := gravity * d * d * (2650 - float64(cold.Density)) / (18 * cold.Viscosity)
	near(t, "speed", float64(w.Terminal(cold)), stokes, 0.01*stokes)
}

// Drag never falls as speed rises, or a sinking lure would have two speeds.
func TestDragRises(t *testing.T) {
	w := Weight{Mass: 2 * quantity.Gram, Density: Lead}
	last := 0.0
	for i := range 4000 {
		v := 1e-4 * math.Pow(10, float64(i)/800)
		if f := w.drag(cold, v); f < last {
			t.Fatalf("drag falls at %g m/s", v)
		} else {
			last = f
		}
	}
}

func lure(t *rapid.T) Weight {
	return Weight{Mass: quantity.Mass(rapid.Float64Range(0.2, 30).Draw(t, "g")) * quantity.Gram, Density: quantity.Density(rapid.Float64Range(2000, 17000).Draw(t, "density"))}
}

// A heavier weight of one make sinks sooner, thicker water slows it, and twice the depth is twice the time.
func TestSinkIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, z := lure(t), quantity.Length(rapid.Float64Range(1, 40).Draw(t, "m"))
		heavy := w
		heavy.Mass *= 1.2
		at := w.Sink(cold, z)
		if !(heavy.Sink(cold, z) < at) {
			t.Fatal("a heavier one is no sooner down")
		}
		// In quick flow viscosity counts nothing and water of 4 C is denser by 0.013 %, so a thousandth is left to that.
		if w.Sink(WaterAt(0), z).Seconds() < 0.999*w.Sink(WaterAt(4), z).Seconds() {
			t.Fatal("colder, thicker water makes it sink faster")
		}
		if twice := w.Sink(cold, 2*z); math.Abs(twice.Seconds()-2*at.Seconds()) > 1e-6 {
			t.Fatalf("twice the depth takes %v, once %v", twice, at)
		}
	})
}

// A timed drop comes back as the time that was told, at the depth that was told.
func TestTimedDropComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, z := lure(t), quantity.Length(rapid.Float64Range(1, 40).Draw(t, "m"))
		took := time.Duration(float64(w.Sink(cold, z)) * rapid.Float64Range(0.9, 6).Draw(t, "slower"))
		c, err := Timed(w, cold, z, took)
		if err != nil {
			t.Fatal(err)
		}
		if got := c.Sink(cold, z); math.Abs(float64(got-took)) > 1e-6*float64(took) {
			t.Fatalf("%v, was timed as %v", got, took)
		}
	})
	w := Weight{Mass: 2 * quantity.Gram, Density: Lead} // 10.3 s over 15 m
	if _, err := Timed(w, cold, 15, 5*time.Second); err == nil {
		t.Error("a drop twice as fast as a bare sphere was believed")
	}
	if _, err := Timed(w, cold, 15, 9*time.Second); err != nil {
		t.Error("a stopwatch's second was refused:", err)
	}
}

func rig(t *rapid.T) Rig {
	return Rig{Out: quantity.Length(rapid.Float64Range(1, 30).Draw(t, "out")), Diameter: quantity.Length(rapid.Float64Range(0.08, 0.4).Draw(t, "mm")) * quantity.Millimetre,
		Modulus: rapid.Float64Range(1e9, 6e10).Draw(t, "Pa"), Tip: rapid.Float64Range(1, 200).Draw(t, "tip")}
}

// What the fish moves is what the tip and the line take up between them; more line, thinner line and softer line eat more.
func TestBitesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, by := rig(t), quantity.Length(rapid.Float64Range(0.001, 0.3).Draw(t, "by"))
		b := r.Pull(by)
		if math.Abs(float64(b.Tip+b.Eaten-by)) > 1e-12 {
			t.Fatalf("%v and %v of %v", b.Tip, b.Eaten, by)
		}
		longer, thinner, softer := r, r, r
		longer.Out *= 1.3
		thinner.Diameter *= 0.8
		softer.Modulus *= 0.8
		for _, x := range []Rig{longer, thinner, softer} {
			if !(x.Pull(by).Tip < b.Tip) {
				t.Fatal("more give shows no less at the tip")
			}
		}
		// A lifted lure shows the same until its weight is used up, then no more.
		W := Weight{Mass: 3 * quantity.Gram, Density: Lead}.Submerged(cold)
		up := r.Lift(by, W)
		if !up.Slack && math.Abs(float64(up.Tip-b.Tip)) > 1e-12 || up.Slack && !(up.Tip <= b.Tip) {
			t.Fatal("lifting shows more than pulling")
		}
		if up.Slack && math.Abs(float64(up.Tip)-W.Newtons()/r.Tip) > 1e-12 {
			t.Fatal("a slack line shows more than the lure's weight")
		}
	})
}

// A hung weight comes back: the tip first, with no line out, then the line.
func TestHungWeightComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, m := rig(t), quantity.Mass(rapid.Float64Range(2, 100).Draw(t, "g"))*quantity.Gram
		F := quantity.Force(m.Kilograms() * gravity)
		bare := r
		bare.Out, bare.Tip = 0, 1
		tip, err := Hung(bare, m, quantity.Length(F.Newtons()/r.Tip))
		if err != nil || math.Abs(tip.Tip-r.Tip) > 1e-9*r.Tip {
			t.Fatal(tip.Tip, r.Tip, err)
		}
		told := r
		told.Modulus = 1
		line, err := Hung(told, m, r.Stretch(F)+quantity.Length(F.Newtons()/r.Tip))
		if err != nil || math.Abs(line.Modulus-r.Modulus) > 1e-6*r.Modulus {
			t.Fatal(line.Modulus, r.Modulus, err)
		}
	})
	r := Rig{Out: 10, Diameter: 0.2 * quantity.Millimetre, Modulus: 2e9, Tip: 5}
	for _, droop := range []quantity.Length{0, 0.01} { // 20 g bends that tip by 3.9 cm alone
		if _, err := Hung(r, 20*quantity.Gram, droop); err == nil {
			t.Errorf("a droop of %v was believed", droop)
		}
	}
}

// A faster current carries farther, a heavier weight less far; the weight found is just heavy enough; the lean tells the current back.
func TestCurrent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, z := lure(t), quantity.Length(rapid.Float64Range(2, 20).Draw(t, "m"))
		d, u := 0.15*quantity.Millimetre, quantity.Speed(rapid.Float64Range(0.002, 0.1).Draw(t, "m/s"))
		b := Drift(w, d, cold, z, u)
		heavy := w
		heavy.Mass *= 1.5
		if !(Drift(heavy, d, cold, z, u).Aside < b.Aside) || !(Drift(w, d, cold, z, 1.2*u).Aside > b.Aside) || !(Drift(w, 1.2*d, cold, z, u).Aside > b.Aside) {
			t.Fatal("not monotone")
		}
		if m, ok := Heavy(Lead, d, cold, z, u, 0.5); ok && m > lightest {
			just := Drift(Weight{Mass: m, Density: Lead}, d, cold, z, u).Aside
			if math.Abs(float64(just)-0.5) > 1e-6 {
				t.Fatalf("%v aside with the weight for 0.5 m", just)
			}
		}
		if got, ok := Current(w, d, cold, z, b.Angle); !ok || math.Abs(float64(got-u)) > 1e-6 {
			t.Fatalf("%v, was %v", got, u)
		}
	})
	still := Drift(Weight{Mass: 2 * quantity.Gram, Density: Lead}, 0.15*quantity.Millimetre, cold, 10, 0)
	if still.Aside != 0 || still.Far {
		t.Error("still water carries it aside")
	}
	if _, ok := Heavy(Lead, quantity.Millimetre, cold, 30, 2, quantity.Millimetre); ok {
		t.Error("half a kilogram holds anything")
	}
}

// Outside what it knows it refuses: warm water, a cork, a rig without a line.
func TestRefusals(t *testing.T) {
	for name, f := range map[string]func(){
		"water of 5 C": func() { WaterAt(5) }, "water of NaN": func() { WaterAt(quantity.Celsius(math.NaN())) },
		"no flow": func() { SphereDrag(0) }, "cork": func() { Weight{Mass: 1, Density: 200}.Sink(cold, 1) },
		"no modulus": func() { Rig{Out: 1, Diameter: 1, Tip: 1}.Pull(1) }, "no mass": func() { Weight{Density: Lead}.Submerged(cold) },
	} {
		t.Run(name, func(t *testing.T) {
			defer func() {
				if recover() == nil {
					t.Error("not refused")
				}
			}()
			f()
		})
	}
	if v := (Weight{Mass: 1, Density: 200}).Terminal(cold); v != 0 {
		t.Error("a cork sinks at", v)
	}
}
