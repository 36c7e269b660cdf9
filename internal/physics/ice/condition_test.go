package ice

import (
	"math"
	"testing"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// hours makes a series from runs of hours at a temperature, oldest first.
func hours(runs ...float64) []quantity.Celsius {
	var out []quantity.Celsius
	for i := 0; i < len(runs); i += 2 {
		for range int(runs[i]) {
			out = append(out, quantity.Celsius(runs[i+1]))
		}
	}
	return out
}

// The rule of [MNDNRThaw] from both sides of its lines, and at unknown.
func TestThaw(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name      string
		hourly    []quantity.Celsius
		state     State
		thickness float64
		noNumber  bool
	}{
		{"frost", hours(48, -5), Absent, 1, false},
		{"5 h of thaw", hours(43, -5, 5, 1), Absent, 1, false},
		{"6 h of thaw", hours(42, -5, 6, 1), Present, 2, false},
		{"6 h of thaw in pieces", hours(30, -5, 3, 1, 6, -2, 3, 1, 6, -2), Present, 2, false},
		{"6 h of thaw, older than a day", hours(18, -5, 6, 1, 24, -5), Absent, 1, false},
		{"0 C is no thaw", hours(48, 0), Absent, 1, false},
		{"23 h in a row", hours(25, -5, 23, 1), Present, 2, false},
		{"24 h in a row", hours(24, -5, 24, 1), Present, 2, true},
		{"24 h in a row, frost since 23 h", hours(1, -5, 24, 1, 23, -5), Present, 2, true},
		{"24 h in a row, frost since 24 h", hours(24, 1, 24, -5), Absent, 1, false},
		{"a day known only", hours(24, -5), Absent, 1, false},
		{"5 h unknown", hours(43, -5, 5, nan), Absent, 1, false},
		{"6 h unknown", hours(42, -5, 6, nan), Unknown, 1, false},
		{"nothing known", nil, Unknown, 1, false},
		{"thaw now, before that unknown", hours(12, 1), Unknown, 2, false},
		{"thaw for a day but for an unknown hour", hours(24, -5, 12, 1, 1, nan, 11, 1), Unknown, 2, false},
	} {
		f := Thaw(c.hourly)
		if f.State != c.state || f.Thickness != c.thickness || f.NoNumber != c.noNumber {
			t.Errorf("%s: %+v", c.name, f)
		}
	}
}

// A thaw judged with fewer hours known is never looser than the truth found later: unknown, or as strict.
func TestThawForgetsNothing(t *testing.T) {
	rng := num.NewStream(11, "thaw")
	for range 5000 {
		truth := make([]quantity.Celsius, 48)
		T := rng.Float64()*6 - 3
		for i := range truth {
			T += rng.Float64()*2 - 1
			truth[i] = quantity.Celsius(T)
		}
		full := Thaw(truth)
		seen := append([]quantity.Celsius(nil), truth...)
		for i := range seen {
			if rng.IntN(4) == 0 {
				seen[i] = quantity.Celsius(math.NaN())
			}
		}
		part := Thaw(seen)
		if part.State == Absent && full.State != Absent || part.State == Present && full.NoNumber && !part.NoNumber {
			t.Fatalf("known in part: %+v; in full: %+v", part, full)
		}
	}
}

func TestBrittle(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name   string
		hourly []quantity.Celsius
		state  State
	}{
		{"steady", hours(36, -10), Absent},
		{"14.9 C", hours(30, -5, 6, -19.9), Absent},
		{"15 C", hours(30, -5, 6, -20), Present},
		{"15 C, 23 h ago", hours(13, -5, 23, -20), Present},
		{"15 C, 25 h ago", hours(11, -5, 25, -20), Absent},
		{"15 C in 13 h", append(hours(12, -5), ramp(-5, -20, 13, 11)...), Absent},
		{"15 C in 12 h", append(hours(12, -5), ramp(-5, -20, 12, 12)...), Present},
		{"3 h unknown", hours(15, -10, 3, nan, 18, -10), Absent},
		{"4 h unknown", hours(15, -10, 4, nan, 17, -10), Unknown},
		{"nothing known", nil, Unknown},
		{"half a day known, with a fall", hours(3, -2, 3, -18), Present},
	} {
		f := Brittle(c.hourly)
		if f.State != c.state || f.NoNumber != (c.state == Present) {
			t.Errorf("%s: %+v", c.name, f)
		}
	}
}

// ramp goes from the hour at a to the hour at b in n hours, then stays for m hours.
func ramp(a, b float64, n, m int) []quantity.Celsius {
	var out []quantity.Celsius
	for i := range n + m {
		out = append(out, quantity.Celsius(a+(b-a)*math.Min(1, float64(i)/float64(n))))
	}
	return out
}

func TestMild(t *testing.T) {
	for _, c := range []struct {
		name   string
		hourly []quantity.Celsius
		state  State
	}{
		{"15 F", hours(72, float64(quantity.Fahrenheit(15))-0.01), Absent},
		{"above 15 F", hours(72, float64(quantity.Fahrenheit(15))+0.01), Present},
		{"54 of 72 h", hours(54, -5), Present},
		{"53 of 72 h", hours(53, -5), Unknown},
		{"nothing known", nil, Unknown},
	} {
		f := Mild(c.hourly)
		if f.State != c.state || (f.Thickness > 1) != (c.state == Present) {
			t.Errorf("%s: %+v", c.name, f)
		}
	}
}

func TestWorst(t *testing.T) {
	d := Worst(Conditions(Setting{Hourly: hours(72, -20), Crack: NoCrack, Current: Absent}))
	if d.NoNumber || d.Thickness != 1 || len(d.Unknown) != 0 {
		t.Errorf("nothing applies: %+v", d)
	}
	d = Worst(Conditions(Setting{Hourly: hours(72, -20)}))
	if len(d.Unknown) != 2 {
		t.Errorf("nobody looked for cracks and current: %+v", d)
	}
	d = Worst(Conditions(Setting{}))
	if len(d.Unknown) != 5 {
		t.Errorf("nothing known: %+v", d)
	}
	// half the load beside a wet crack [CRRELText]; stricter than the 30 % more thickness of Assur's rule
	d = Worst(Conditions(Setting{Hourly: hours(72, -20), Crack: WetCrack, Current: Present}))
	if d.Thickness < 1.3 || math.Abs(float64(d.Load(1000))-500) > 1e-9 {
		t.Errorf("wet crack over a current: %+v", d)
	}
	// 21 cm on a river where a lake asks for 18 [Barrhead], which is more than the 15 % less load of [MaineChart]
	d = Worst(Conditions(Setting{Hourly: hours(72, -20), Crack: DryCrack, Current: Present}))
	if math.Abs(d.Required(0.18).Metres()-0.21) > 1e-9 || d.Load(1000) > 850 || math.Abs(float64(d.Load(GoldLoad(HighestStrength, d.Required(0.2))))/float64(GoldLoad(HighestStrength, 0.2))-1) > 1e-12 {
		t.Errorf("current: %+v", d)
	}
	// the worst, not the product
	d = Worst(Conditions(Setting{Hourly: hours(66, -20, 6, 2), Crack: WetCrack, Current: Present}))
	if d.Thickness != 2 || d.NoNumber {
		t.Errorf("6 h of thaw beside a wet crack: %+v", d)
	}
}
