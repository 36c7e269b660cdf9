package cold

import (
	"math"
	"testing"
	"time"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// Cells of the 2001 chart of the US National Weather Service, whole degrees Fahrenheit: within one rounding unit, since
// printed charts carry copying errors of that size.
func TestNWSChart(t *testing.T) {
	for _, c := range []struct{ f, mph, want float64 }{
		{0, 15, -19}, {-20, 30, -53}, {10, 25, -11}, {5, 5, -5}, {-40, 60, -91}, {40, 5, 36}, {40, 60, 25}, {-45, 60, -98}, {-45, 5, -63},
	} {
		got, ok := WindChillUS(quantity.Fahrenheit(c.f), quantity.Speed(c.mph)*quantity.MilePerHour)
		if !ok || math.Abs(got.Fahrenheit()-c.want) > 1 {
			t.Errorf("%v F %v mph: %.2f F, chart %v", c.f, c.mph, got.Fahrenheit(), c.want)
		}
	}
}

// The index below its threshold of wind, and above its warmest air, is the air temperature [OsczevskiBluestein2005].
func TestWindChillLimits(t *testing.T) {
	for _, c := range []struct {
		air     quantity.Celsius
		kmh     float64
		applies bool
	}{{-20, 0, false}, {-20, 4.8, false}, {-20, 4.81, true}, {10, 20, true}, {10.01, 20, false}, {-20, -3, false}} {
		index, applies := WindChill(c.air, quantity.Speed(c.kmh)*quantity.KilometrePerHour)
		if applies != c.applies || !applies && index != c.air {
			t.Errorf("%v at %v km/h: %v %v", c.air, c.kmh, index, applies)
		}
		if _, us := WindChillUS(c.air, quantity.Speed(c.kmh)*quantity.KilometrePerHour); us != applies {
			t.Errorf("%v at %v km/h: the US form disagrees on its limits", c.air, c.kmh)
		}
	}
}

// The two published forms agree to 0.4 C over the chart's range; colder air and more wind never feel warmer.
func TestWindChillForms(t *testing.T) {
	rng := num.NewStream(1, "cold")
	for range 5000 {
		air := quantity.Celsius(-45 + 45*rng.Float64())
		wind := quantity.Speed(5+90*rng.Float64()) * quantity.KilometrePerHour
		si, _ := WindChill(air, wind)
		us, _ := WindChillUS(air, wind)
		if math.Abs(float64(si-us)) > 0.4 {
			t.Fatalf("%v %v: %v and %v", air, wind, si, us)
		}
		colder, _ := WindChill(air-1, wind)
		windier, _ := WindChill(air, wind+quantity.KilometrePerHour)
		if colder >= si || windier >= si {
			t.Fatalf("%v %v: chill not monotone", air, wind)
		}
	}
}

// Environment and Climate Change Canada's table at the edges of its bands; the formula may never give more than the band does.
func TestFrostbiteBands(t *testing.T) {
	for _, c := range []struct {
		index  quantity.Celsius
		latest time.Duration
	}{
		{5, 0}, {-27, 0}, {-27.4, 0}, {-27.5, 30 * time.Minute}, {-28, 30 * time.Minute}, {-39.4, 30 * time.Minute}, {-39.5, 10 * time.Minute},
		{-47, 10 * time.Minute}, {-48, 5 * time.Minute}, {-54, 5 * time.Minute}, {-55, 2 * time.Minute}, {-90, 2 * time.Minute},
		{quantity.Celsius(math.NaN()), 2 * time.Minute},
	} {
		if got := BandOf(c.index).Latest; got != c.latest {
			t.Errorf("wind chill %v: %v, want %v", c.index, got, c.latest)
		}
	}
	for air := quantity.Celsius(0); air > -60; air -= 0.5 {
		last := time.Duration(math.MaxInt64)
		for kmh := 0.0; kmh <= 150; kmh += 5 {
			f := FrostbiteTime(air, quantity.Speed(kmh)*quantity.KilometrePerHour)
			if f.Possible != (air < -4.8) {
				t.Fatalf("%v C: possible %v", air, f.Possible)
			}
			if !f.Possible {
				continue
			}
			if f.Time < 0 || f.Time > last || f.Band.Latest > 0 && f.Time > f.Band.Latest {
				t.Fatalf("%v C %v km/h: %v, less wind gave %v, band %v", air, kmh, f.Time, last, f.Band)
			}
			last = f.Time
		}
	}
	// -55 and colder: the formula alone would say about 3 minutes
	if f := FrostbiteTime(-40, 40*quantity.KilometrePerHour); f.Time > 2*time.Minute {
		t.Errorf("-40 C in 40 km/h: %v", f.Time)
	}
}

// The formula's negative base is guarded: warm and calm air, storms, and readings that are not known.
func TestFrostbiteGuards(t *testing.T) {
	for _, air := range []quantity.Celsius{-4.8, -4, 0, 20} {
		if f := FrostbiteTime(air, 40*quantity.KilometrePerHour); f.Possible || f.Time != 0 {
			t.Errorf("%v C: %+v", air, f)
		}
	}
	for _, f := range []func(){func() { FrostbiteTime(quantity.Celsius(math.NaN()), 5) }, func() { WindChill(-5, quantity.Speed(math.NaN())) }} {
		func() {
			defer func() {
				if recover() == nil {
					t.Error("an unknown reading went through")
				}
			}()
			f()
		}()
	}
	if f := FrostbiteTime(-4.8000001, 0); !f.Possible || f.Time <= 0 {
		t.Errorf("just below the limit: %+v", f)
	}
	if f := FrostbiteTime(-20, 500*quantity.KilometrePerHour); f.Time != 0 {
		t.Errorf("storm: %+v", f)
	}
}

func TestRidingWind(t *testing.T) {
	kmh := quantity.KilometrePerHour
	if got := RidingWind(20*kmh, 0); math.Abs(got.KilometresPerHour()-20) > 1e-9 {
		t.Errorf("standing: %v", got.KilometresPerHour())
	}
	if got := RidingWind(20*kmh, 10*kmh); math.Abs(got.KilometresPerHour()-30) > 1e-9 {
		t.Errorf("slow ride: %v", got.KilometresPerHour())
	}
	// 40 km/h in place of a 4.8 km/h walk, at face height: (40-4.8)/0.667 = 52.77
	if got := RidingWind(0, 40*kmh); math.Abs(got.KilometresPerHour()-52.77) > 0.01 {
		t.Errorf("fast ride: %v", got.KilometresPerHour())
	}
	if got := FromFaceHeight(20 * kmh); math.Abs(got.KilometresPerHour()-29.985) > 0.001 {
		t.Errorf("hand-held: %v", got.KilometresPerHour())
	}
}
