package desk

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"icehand/internal/engine/safety"
)

// Money is read to the hundredth and written as it was read; what could be taken two ways is refused.
func TestMoney(t *testing.T) {
	for s, want := range map[string]int64{"150": 15_000, "12.5": 1_250, "0,05": 5, " 7.25 ": 725, "0": 0} {
		if got, err := Money(s); err != nil || got != want {
			t.Errorf("%q: %d, %v", s, got, err)
		}
	}
	for _, s := range []string{"", "-3", "+3", "1.234", "1,000.50", "1 000", "ten", "1e3", ".5", "5.", "999999999"} {
		if got, err := Money(s); err == nil {
			t.Errorf("%q was taken as %d", s, got)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Int64Range(0, 9_999_999_999).Draw(t, "c")
		if got, err := Money(MoneyText(c)); err != nil || got != c {
			t.Fatalf("%d comes back as %d, %v", c, got, err)
		}
	})
	if MoneyText(-105) != "-1.05" {
		t.Error(MoneyText(-105))
	}
}

// A load-out that is written out and read again is the same, and weighs what its parts weigh.
func TestLoadOutComesBack(t *testing.T) {
	const typed = "truck 1; truck; 2900 kg; 3; 2 x auger 12 kg, 4 x battery 3.5 kg\nsled; snow machine; 320; 1; heater 6 kg\n"
	l, err := ParseLoadOut("2026-01-15", typed)
	if err != nil || len(l.Vehicles) != 2 {
		t.Fatal(l, err)
	}
	again, err := ParseLoadOut("2026-01-15", l.Text())
	if err != nil || again.Text() != l.Text() {
		t.Errorf("%q, then %q, %v", l.Text(), again.Text(), err)
	}
	want := 2900 + 3*float64(safety.PersonMass) + 24 + 14
	if got := l.Vehicles[0].Mass().Kilograms(); math.Abs(got-want) > 1e-9 {
		t.Errorf("%g kg, want %g", got, want)
	}
	if l, err := ParseLoadOut("2026-01-15", "a; truck; 990 lb; 0"); err != nil || math.Abs(l.Vehicles[0].Mass().Kilograms()-449.056) > 0.001 {
		t.Error(l, err)
	}
}

// FuzzLoadOut: whatever is typed, what is taken comes back from its own text.
func FuzzLoadOut(f *testing.F) {
	for _, s := range []string{"truck 1; truck; 2900 kg; 3; 2 x auger 12 kg", "a; on foot; 0; 1", ";;;", "a; truck; 1 kg; 1; 3 x x 3 x 4 kg", "a; car; 1 t; 2; gear 1e3 kg"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		l, err := ParseLoadOut("2026-01-15", s)
		if err != nil {
			return
		}
		again, err := ParseLoadOut("2026-01-15", l.Text())
		if err != nil || again.Text() != l.Text() {
			t.Fatalf("%q, then %q, %v", l.Text(), again.Text(), err)
		}
	})
}
