package light

import (
	"math"
	"testing"

	"icehand/internal/base/quantity"
)

// The glossary's twilight values [AMSGlossary]: 0.008 lux at -12 degrees, 2 to 3.5 at -6, 400 to 585 at sunset.
func TestSurfaceAnchors(t *testing.T) {
	if r := Surface(-12); math.Abs(float64(r.Middle())-0.008) > 0.001 {
		t.Errorf("end of nautical twilight %v", r)
	}
	if r := Surface(-6); r.Low != 2 || math.Abs(float64(r.High)-3.5) > 1e-9 {
		t.Errorf("end of civil twilight %v", r)
	}
	if r := Surface(-0.8333); math.Abs(float64(r.Low)-400) > 1e-9 || math.Abs(float64(r.High)-585) > 1e-9 {
		t.Errorf("sunset %v", r)
	}
}

// Haurwitz's sunlight, 1098 cos z exp(-0.057/cos z), times 105 lm/W lies inside the range at every elevation from 5 degrees on.
func TestSurfaceAgainstHaurwitz(t *testing.T) {
	for e := 5.0; e <= 90; e++ {
		c := math.Sin(e * math.Pi / 180)
		lux := 105 * 1098 * c * math.Exp(-0.057/c)
		if r := Surface(quantity.Angle(e)); lux < float64(r.Low) || lux > float64(r.High) {
			t.Errorf("%v degrees: %.0f outside %v", e, lux, r)
		}
	}
}

func TestSurfaceMonotone(t *testing.T) {
	last := Surface(-90)
	for e := quantity.Angle(-30); e <= 95; e += 0.1 {
		r := Surface(e)
		if r.Low < last.Low || r.High < last.High || r.Low >= r.High || r.Middle() < r.Low || r.Middle() > r.High {
			t.Fatalf("%v: %v after %v", e, r, last)
		}
		last = r
	}
}

// More of anything over the fish leaves less light, and the range holds its own middle.
func TestBelowMonotone(t *testing.T) {
	base := Column{Snow: 0.1, White: 0.1, Clear: 0.3, Depth: 10}
	noon := Surface(20)
	r := Below(noon, base, 0.5, false)
	if !(r.Low > 0 && r.Low < r.High) {
		t.Fatal(r)
	}
	more := []Column{base, base, base, base}
	more[0].Snow += 0.05
	more[1].White += 0.05
	more[2].Clear += 0.05
	more[3].Depth++
	for i, c := range more {
		if m := Below(noon, c, 0.5, false); m.Low >= r.Low || m.High >= r.High {
			t.Errorf("case %d: %v, before %v", i, m, r)
		}
	}
	mid := Optics{Albedo: 0.83, Snow: TypicalSnow, White: TypicalWhite, Clear: TypicalClear, Water: 0.5}
	if f := Fraction(base, mid) * float64(noon.Middle()); f < float64(r.Low) || f > float64(r.High) {
		t.Errorf("typical %v outside %v", f, r)
	}
	if WaterAttenuation(3.4) != 0.5 {
		t.Error("1.7 over the disc's depth")
	}
}

// [KastenCzeplak1980]: a share of 1 - 0.75 N^3.4 is left under cloud of cover N. It lies between our ends at every cover, a
// clear sky takes nothing, and more cloud leaves less.
func TestCloudedAgainstKastenCzeplak(t *testing.T) {
	clear := Surface(15)
	if Clouded(clear, 0) != clear {
		t.Errorf("clear sky %v, want %v", Clouded(clear, 0), clear)
	}
	last := clear
	for n := 1; n <= 8; n++ {
		cover := float64(n) / 8
		share := 1 - 0.75*math.Pow(cover, 3.4)
		r := Clouded(clear, cover)
		if share < float64(r.Low/clear.Low) || share > float64(r.High/clear.High) {
			t.Errorf("%d eighths: published share %.3f outside %.3f to %.3f", n, share, float64(r.Low/clear.Low), float64(r.High/clear.High))
		}
		if r.Low >= last.Low || r.High >= last.High {
			t.Errorf("%d eighths: %v after %v", n, r, last)
		}
		last = r
	}
}
