package sonar

import (
	"math"
	"testing"
	"time"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// The half-power argument solves the disc's equation; the textbook prints 1.616.
func TestHalfPower(t *testing.T) {
	if r := DiscResponse(halfPower); math.Abs(r*r-0.5) > 1e-6 {
		t.Errorf("half power is %v", r*r)
	}
	if DiscResponse(0) != 1 || math.Abs(DiscResponse(1e-6)-1) > 1e-9 {
		t.Error("straight ahead is 1")
	}
}

// Two independent fits agree to 3 mm/s between 0 and 5 C [Marczak1997] [BilaniukWong1993].
func TestSoundSpeedFits(t *testing.T) {
	for T := quantity.Celsius(0); T <= 5; T += 0.5 {
		if d := math.Abs(float64(SoundSpeed(T) - BilaniukWong(T))); d > 0.003 {
			t.Errorf("%v C: fits differ by %v m/s", T, d)
		}
		if SoundSpeed(T+0.5) <= SoundSpeed(T) {
			t.Errorf("%v C: speed falls", T)
		}
	}
}

// The sloping bottom by brute force: the nearest and the farthest point of a line inside the cone.
func TestSlopeHiddenByBruteForce(t *testing.T) {
	rng := num.NewStream(3, "sonar")
	for range 200 {
		z, θ, b := 5+20*rng.Float64(), rng.Float64()*15, rng.Float64()*20
		hidden, smear := SlopeHidden(quantity.Length(z), Beam(2*θ), quantity.Angle(b))
		rmin, rmax := math.Inf(1), 0.0
		for i := range 20001 {
			φ := (-θ + 2*θ*float64(i)/20000) * math.Pi / 180
			// along a ray at angle φ downslope from the vertical, the bottom z + x tan(b)
			r := z / (math.Cos(φ) - math.Sin(φ)*math.Tan(b*math.Pi/180))
			rmin, rmax = math.Min(rmin, r), math.Max(rmax, r)
		}
		if math.Abs(float64(hidden)-(z-rmin)) > 1e-5 || math.Abs(float64(smear)-(rmax-rmin)) > 1e-5 {
			t.Fatalf("z %v, half beam %v, slope %v: %v %v, brute force %v %v", z, θ, b, hidden, smear, z-rmin, rmax-rmin)
		}
	}
	h, _ := SlopeHidden(10, 20, 0)
	if h != 0 {
		t.Errorf("flat: %v hidden on the axis", h)
	}
}

// The gas model against a simulated plane of moving discs: within four standard errors of 4000 trials.
func TestPassChanceSimulated(t *testing.T) {
	const R, v, n, wait = 7.0, 0.1, 1e-4, 1200.0
	rng := num.NewStream(4, "gas")
	half := R + v*wait // nothing from farther away can arrive
	mean := n * 4 * half * half
	hits, trials := 0, 4000
	for range trials {
		hit := false
		for u := rng.ExpFloat64(); u < mean && !hit; u += rng.ExpFloat64() { // Poisson number of discs
			x, y := (2*rng.Float64()-1)*half, (2*rng.Float64()-1)*half
			s, c := math.Sincos(2 * math.Pi * rng.Float64())
			τ := math.Max(0, math.Min(wait, -(x*c+y*s)/v)) // nearest approach
			hit = math.Hypot(x+c*v*τ, y+s*v*τ) <= R
		}
		if hit {
			hits++
		}
	}
	want := -math.Expm1(-Swept(R, v, n, time.Duration(wait)*time.Second))
	got := float64(hits) / float64(trials)
	if se := math.Sqrt(want * (1 - want) / float64(trials)); math.Abs(got-want) > 4*se {
		t.Errorf("simulated %v, formula %v, standard error %v", got, want, se)
	}
	// a fresh look and the wait of equal worth
	w := FreshLookTime(R, v)
	if a, b := PresenceChance(R, n), PassChance(R, v, n, w); math.Abs(a-b) > 1e-9 {
		t.Errorf("fresh look %v, wait %v", a, b)
	}
}

func TestGuards(t *testing.T) {
	for name, f := range map[string]func(){
		"hot water":  func() { SoundSpeed(96) },
		"no speed":   func() { TrueDepth(10, 0, 1400) },
		"small disc": func() { DiscBeam(1400, 50*quantity.Kilohertz, 0.001) },
		"steep":      func() { SlopeHidden(10, 90, 50) },
		"still fish": func() { MeanDwell(3, 0) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}
