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

// Rounding may never bring a reading into reach that lies out of it, nor make a reach longer; what ice is asked to be is
// never printed smaller. The reach of a reading is 30 m, 32.8 yd.
func TestRoundsToTheCarefulSide(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{SI.FarText(0), "0 m"}, {US.FarText(0), "0 yd"}, {SI.FarText(30), "30 m"}, {SI.FarText(30.001), "31 m"}, {SI.FarText(30.4), "31 m"}, {SI.FarText(99.2), "100 m"}, {SI.FarText(101), "110 m"}, {SI.FarText(951), "1.0 km"}, {SI.FarText(1001), "1.1 km"},
		{SI.NearText(30), "30 m"}, {SI.NearText(14.99), "14 m"}, {SI.NearText(109), "100 m"}, {SI.NearText(1999), "1.9 km"},
		{US.FarText(30.1), "33 yd"}, {US.NearText(30), "32 yd"}, {US.FarText(15), "17 yd"}, {US.FarText(2 * Mile), "2.0 mi"}, {US.NearText(Mile - 1), "0.9 mi"},
		{SI.DistanceText(30.4), "30 m"}, {SI.IceUpText(15 * Centimetre), "15 cm"}, {SI.IceUpText(15.1 * Centimetre), "16 cm"}, {US.IceUpText(15 * Centimetre), "6 in"}, {US.IceUpText(4 * Inch), "4 in"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
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
