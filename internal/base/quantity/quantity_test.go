package quantity

import (
	"math"
	"testing"
)

func TestParseLength(t *testing.T) {
	for _, c := range []struct {
		s    string
		want float64 // metres
	}{
		{"38'", 38 * 0.3048}, {"11.6 m", 11.6}, {`14"`, 14 * 0.0254}, {`4'6"`, 4.5 * 0.3048}, {"4 ft 6 in", 4.5 * 0.3048},
		{"38 ft", 11.5824}, {"41cm", 0.41}, {"11,6 m", 11.6}, {"20 ft.", 6.096}, {"6 ft 0", 6 * 0.3048}, {"38", 38 * 0.3048}, {"38’", 38 * 0.3048},
	} {
		got, _, err := ParseLength(c.s, Foot)
		if err != nil || math.Abs(got.Metres()-c.want) > 1e-12 {
			t.Errorf("%q: %v, %v; want %v", c.s, got, err, c.want)
		}
	}
	for _, s := range []string{"", "m", "1,600 ft", "4'13\"", "5 parsecs", "NaN", "1e400 m", "3 m 4", "--4 m", "4 ft 6 ft"} {
		if got, _, err := ParseLength(s, Foot); err == nil {
			t.Errorf("%q accepted as %v", s, got)
		}
	}
	if _, _, err := ParseLength("38", 0); err == nil {
		t.Error("a bare number needs a unit when there is no fallback")
	}
}

// 0.3048 m and 0.45359237 kg are exact by the international yard and pound agreement of 1959.
func TestExactUnits(t *testing.T) {
	if (20*Foot).Metres() != 6.096 || math.Abs((800*Pound).Kilograms()-362.873896) > 1e-9 {
		t.Error("foot or pound")
	}
	if c := Fahrenheit(-40); c != -40 {
		t.Error("-40 is the same on both scales")
	}
}

// Rounding may never make ice look thicker than it was read.
func TestIceTextRoundsDown(t *testing.T) {
	if got := SI.IceText(40.9 * Centimetre); got != "40 cm" {
		t.Error(got)
	}
	if got := US.IceText(3.99 * Inch); got != "3.5 in" {
		t.Error(got)
	}
	if got := US.IceText(4 * Inch); got != "4 in" {
		t.Error(got)
	}
}

func TestCompass(t *testing.T) {
	for deg, want := range map[float64]string{0: "N", 11.24: "N", 11.26: "NNE", 359.9: "N", 247.5: "WSW", 348.76: "N", 348.74: "NNW"} {
		if got := NewBearing(deg).Compass(); got != want {
			t.Errorf("%v: %s, want %s", deg, got, want)
		}
	}
	if b := NewBearing(-1e-17); b < 0 || b >= 360 {
		t.Error(b)
	}
}

// FuzzParseLength: whatever is accepted is a finite number of metres.
func FuzzParseLength(f *testing.F) {
	for _, s := range []string{"38'", `4'6"`, "11,6 m", "1e999"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if l, _, err := ParseLength(s, Foot); err == nil && (math.IsNaN(float64(l)) || math.IsInf(float64(l), 0)) {
			t.Errorf("%q gave %v", s, l)
		}
	})
}
