package ice

import (
	"math"
	"testing"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.6g, want %.6g within %g", what, got, want, tol)
	}
}

// The agency's table of weights, 50 psi on clear ice [MNDNRTable]: printed pounds are exact.
func TestGoldMNDNR(t *testing.T) {
	for h, lb := range map[quantity.Length]float64{4: 800, 5: 1250, 8: 3200, 12: 7200, 20: 20000} {
		near(t, "load", GoldLoad(50*quantity.PoundPerSquareInch, h*quantity.Inch).Pounds(), lb, 1e-6)
	}
}

// Ashton's warning: plain Stefan errs to the dangerous side on thin ice, and never to the other.
func TestStefanAboveAshton(t *testing.T) {
	α := StefanAlpha(ClearConductivity, ClearDensity)
	for frost := quantity.DegreeDays(1); frost < 1000; frost *= 1.5 {
		for _, H := range []quantity.HeatTransfer{CalmAir, UsualAir, WindyAir} {
			if a, s := Grow(0, frost, AirFilm(H)), Stefan(α, frost); a >= s {
				t.Errorf("%v degree-days: Ashton %v, Stefan %v", frost, a, s)
			}
		}
	}
}

// Colder makes thicker, snow makes thinner, and two spells make what one does.
func TestGrowthMonotone(t *testing.T) {
	rng := num.NewStream(7, "ice")
	for range 2000 {
		h0 := quantity.Length(rng.Float64())
		S := quantity.DegreeDays(500 * rng.Float64())
		R := AirFilm(quantity.HeatTransfer(10 + 20*rng.Float64()))
		h := Grow(h0, S, R)
		if h < h0-1e-12 || Grow(h0, S+1, R) <= h || Grow(h0+0.01, S, R) <= h {
			t.Fatalf("%v %v %v: growth not monotone", h0, S, R)
		}
		if Grow(h0, S+1, R+Cover(0.1, 0.15)) >= Grow(h0, S+1, R) {
			t.Fatalf("%v %v: snow did not slow growth", h0, S)
		}
		near(t, "two spells", float64(Grow(Grow(h0, S/3, R), 2*S/3, R)), float64(h), 1e-9)
	}
	near(t, "day by day", float64(GrowthPerDay(-15, 0.3, AirFilm(UsualAir), 0)), float64(Grow(0.3, 0.015, AirFilm(UsualAir))-0.3)*1000, 1e-5)
	if GrowthPerDay(-0.1, 0.5, AirFilm(UsualAir)+Cover(0.3, 0.15), 5) >= 0 || GrowthPerDay(5, 0.3, AirFilm(UsualAir), 1) >= 0 {
		t.Error("water heat alone must thin the ice")
	}
}

func TestFreezingDegreeDays(t *testing.T) {
	for _, c := range []struct {
		means   []quantity.Celsius
		want    float64
		missing int
	}{
		{nil, 0, 0}, {[]quantity.Celsius{-5, -3}, 8, 0}, {[]quantity.Celsius{-5, 3, -1}, 3, 0},
		{[]quantity.Celsius{4, 4, -2}, 2, 0},   // warm days before freeze-up leave no debt
		{[]quantity.Celsius{-2, 10, -3}, 3, 0}, // floor at zero
		{[]quantity.Celsius{-2, quantity.Celsius(math.NaN()), -3}, 5, 1},
	} {
		got, missing := FreezingDegreeDays(c.means)
		if math.Abs(float64(got)-c.want) > 1e-12 || missing != c.missing {
			t.Errorf("%v: %v, %d missing; want %v", c.means, got, missing, c.want)
		}
	}
}

func TestSnowConductivityBranches(t *testing.T) {
	// the published branches meet at 0.156 g/cm3 to within their rounding
	near(t, "joint", float64(SnowConductivity(155.999)), float64(SnowConductivity(156.001)), 0.0005)
	if SnowConductivity(900) != SnowConductivity(600) {
		t.Error("beyond the data")
	}
}

// Archimedes: after flooding the top of the ice is level with the water again.
func TestFloatAfterFlooding(t *testing.T) {
	rng := num.NewStream(8, "float")
	flooded := 0
	for range 2000 {
		b, w := quantity.Length(rng.Float64()*0.6), quantity.Length(rng.Float64()*0.3)
		density := quantity.Density(100 + 250*rng.Float64())
		snow := SnowLoad(quantity.Length(rng.Float64()*0.6), density)
		f := Freeboard(b, w, snow)
		near(t, "inverse", float64(LoadFromFreeboard(b, w, f)), float64(snow), 1e-9)
		x := SlushDepth(b, w, snow, density, 1.5)
		if (x > 0) != (f < 0) {
			t.Fatalf("freeboard %v, slush %v", f, x)
		}
		if x > 0 {
			flooded++
			left := snow - quantity.SurfaceDensity(1.5*float64(x)*float64(density))
			near(t, "freeboard after", float64(Freeboard(b, w+x, left)), 0, 1e-12)
		}
	}
	if flooded == 0 {
		t.Fatal("no case flooded")
	}
}

func TestEffective(t *testing.T) {
	for _, c := range []struct {
		name     string
		layers   []Layer
		want     float64 // centimetres
		parted   bool
		unsorted bool
	}{
		{"clear and white [MNDNRTable]", []Layer{{Snow, 0.1}, {White, 0.1}, {Clear, 0.2}}, 25, false, false},
		{"all white", []Layer{{White, 0.2}}, 10, false, false},
		{"slush between: only the better layer", []Layer{{White, 0.2}, {Slush, 0.05}, {Clear, 0.15}}, 15, true, false},
		{"water between: the top is better", []Layer{{Clear, 0.2}, {Water, 0.01}, {Clear, 0.1}}, 20, true, false},
		{"a layer of no thickness parts nothing", []Layer{{White, 0.1}, {Slush, 0}, {Clear, 0.2}}, 25, false, false},
		{"slush on top parts nothing", []Layer{{Slush, 0.1}, {Clear, 0.2}}, 20, false, false},
		{"not told apart counts as white", []Layer{{Unsorted, 0.4}}, 20, false, true},
		{"slush and snow carry nothing", []Layer{{Snow, 0.4}, {Slush, 0.4}}, 0, false, false},
		{"nothing read", nil, 0, false, false},
	} {
		w := Effective(c.layers)
		near(t, c.name, w.Thickness.Centimetres(), c.want, 1e-9)
		if w.Parted != c.parted || w.Unsorted != c.unsorted {
			t.Errorf("%s: %+v", c.name, w)
		}
	}
}

// White ice in place of clear never raises the worth, and no layer is worth more than its thickness.
func TestEffectiveNeverRaised(t *testing.T) {
	rng := num.NewStream(9, "effective")
	for range 3000 {
		layers := make([]Layer, 1+rng.IntN(5))
		total := quantity.Length(0)
		for i := range layers {
			layers[i] = Layer{Kind(rng.IntN(6)), quantity.Length(rng.Float64() * 0.4)}
			total += layers[i].Thickness
		}
		before := Effective(layers).Thickness
		if before > total {
			t.Fatalf("%v: worth %v", layers, before)
		}
		i := rng.IntN(len(layers))
		for _, k := range []Kind{White, Unsorted, Slush, Snow, Water} {
			if layers[i].Kind != Clear {
				break
			}
			layers[i].Kind = k
			if after := Effective(layers).Thickness; after > before+1e-12 {
				t.Fatalf("%v: kind %d raised %v to %v", layers, k, before, after)
			}
			layers[i].Kind = Clear
		}
	}
}

// A can be lowered and not raised.
func TestStrengthOnlyFalls(t *testing.T) {
	unit := quantity.KilogramPerSquareCentimetre
	near(t, "default", float64(Strength{}.Load(25*quantity.Centimetre)), 2187.5, 1e-6)
	for _, a := range []quantity.Pressure{3.5 * unit, 2.2 * unit, 0.1 * unit} {
		s, err := LowerStrength(a)
		if err != nil || s.Pressure() > HighestStrength {
			t.Errorf("%v: %v", a, err)
		}
		near(t, "strength", float64(s.Pressure()), float64(a), 1e-6)
		near(t, "there and back", float64(s.Load(s.Required(400))), 400, 1e-9)
	}
	for _, a := range []quantity.Pressure{3.51 * unit, 6 * unit, 0, -1, quantity.Pressure(math.NaN()), quantity.Pressure(math.Inf(1))} {
		if s, err := LowerStrength(a); err == nil || s != (Strength{}) {
			t.Errorf("%v accepted", a)
		}
	}
	// parked for more than two hours: the doubled rule asks for more than the default A does [Smith2004]
	if SmithThickness(400, 2) <= (Strength{}).Required(400) {
		t.Error("the rule for long stays is the stricter one")
	}
}

func TestTables(t *testing.T) {
	if h, ok := Occupational().Required(OnFoot); !ok || h != 15*quantity.Centimetre {
		t.Errorf("on foot: %v %v", h, ok)
	}
	for _, c := range []Class{SideBySide, Truck} {
		if _, ok := Occupational().Required(c); ok {
			t.Errorf("%v: the source names no figure", c)
		}
	}
	if len(Tables()) < 4 {
		t.Fatal("tables missing")
	}
	for _, table := range Tables() {
		if table.Agency == "" || table.Source == "" || table.Dated == "" || table.Jurisdiction == "" || len(table.Rows) == 0 {
			t.Errorf("%+v: incomplete", table)
		}
		for i, r := range table.Rows {
			if r.AsRead == "" || i > 0 && (r.Class <= table.Rows[i-1].Class || r.Thickness < table.Rows[i-1].Thickness) {
				t.Errorf("%s: row %v", table.Agency, r)
			}
			if r.Class == OnFoot && r.Thickness < 10*quantity.Centimetre {
				t.Errorf("%s: a chart that thin is not to be shipped", table.Agency)
			}
		}
	}
	h, from, ok := Strictest(SnowMachine, Tables()...)
	if !ok || from.Source != "SDGFP2015" || h != 12*quantity.Inch {
		t.Errorf("strictest: %v %s", h, from.Agency)
	}
	if _, _, ok := Strictest(Truck, Occupational()); ok {
		t.Error("no table covers a truck there")
	}
}

// Default A is laxer than tables for light loads and stricter for heavy ones, which is why both are asked.
func TestFormulaAndTableCross(t *testing.T) {
	table := Occupational()
	foot, _ := table.Required(OnFoot)
	if (Strength{}).Required(110) >= foot {
		t.Error("a person of 110 kg: the table asks for more")
	}
	car, _ := table.Required(Car)
	if (Strength{}).Required(6000) <= car {
		t.Error("6 t: the formula asks for more")
	}
}

// A county's table for 2,000 kg in motion asks for 18 cm on a lake and 21 cm on a river [Barrhead]: less than we do.
func TestBarrhead(t *testing.T) {
	h := Strength{}.Required(2000)
	river := Worst([]Finding{Flow(Present)}).Required(h)
	if h < 18*quantity.Centimetre || river < 21*quantity.Centimetre {
		t.Errorf("lake %v, river %v", h, river)
	}
}
