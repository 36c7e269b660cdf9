package ice

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

const day = 24 * time.Hour

// randomSite draws a place within the spread of what is believed.
func randomSite(rng *rand.Rand) Site {
	return Site{
		Air: quantity.HeatTransfer(20 * math.Exp(0.3*rng.NormFloat64())), Water: quantity.Irradiance(math.Exp(0.7 * rng.NormFloat64())),
		Catch: 0.7 * math.Exp(0.5*rng.NormFloat64()), Conduct: 1.3 * math.Exp(0.35*rng.NormFloat64()),
		Warmer: quantity.CelsiusDelta(rng.NormFloat64()), Packing: 1 + rng.Float64(),
	}
}

// winter is a made-up winter of n days with a thaw in it.
func winter(rng *rand.Rand, n int) []Weather {
	out := make([]Weather, n)
	swing := 0.0
	for i := range out {
		swing = 0.75*swing + 3.5*rng.NormFloat64()
		out[i] = Weather{Air: quantity.Celsius(-9 + 9*math.Cos(2*math.Pi*float64(i)/float64(n)) + swing), Span: day}
		if rng.IntN(3) == 0 {
			out[i].Snowfall = quantity.SurfaceDensity(4 * rng.ExpFloat64())
		}
	}
	return out
}

// sound tells what is wrong with a column, "" for nothing.
func sound(c Column) string {
	switch {
	case !(c.Clear >= 0 && c.White >= 0 && c.Slush >= 0 && c.Snow >= 0):
		return "a layer below zero"
	case c.Lid > c.White+1e-12 || c.Lid < 0 || c.Slush == 0 && c.Lid != 0:
		return "a lid that lies on nothing"
	case c.Clear+c.White == 0 && c != Column{}:
		return "something left on open water"
	case c.Freeboard() < -1e-12:
		return "the top below the water"
	case c.Snow > 0 && !(c.SnowDensity >= FreshSnow-1e-9 && c.SnowDensity <= SettledSnow+1e-9):
		return "snow of no density"
	}
	return ""
}

// A column stays sound through any winter; flooding leaves the freeboard at zero, and slush holds back clear ice.
func TestColumnSound(t *testing.T) {
	rng := num.NewStream(31, "column")
	floods, held, lids := 0, 0, 0
	for range 60 {
		s, c := randomSite(rng), Column{}
		for _, w := range winter(rng, 170) {
			before := c
			c = c.Step(w, s)
			if what := sound(c); what != "" {
				t.Fatalf("%s: %+v after %+v at %+v", what, c, w, s)
			}
			if c.Slush > before.Slush && before.Slush == 0 {
				floods++
				near(t, "freeboard after flooding", c.Freeboard().Metres(), 0, 1e-12)
			}
			if before.Slush > 0 && c.White < before.White+before.Slush { // it did not freeze through
				held++
				if c.Clear > before.Clear {
					t.Fatalf("clear ice grew under wet slush: %+v, %+v", before, c)
				}
			}
			if c.Lid > 0 {
				lids++
				if w := c.Worth(); !w.Parted || w.Thickness > c.Clear+WhiteShare*c.base() && w.Thickness > WhiteShare*c.Lid {
					t.Fatalf("layers %+v counted together", c)
				}
			}
		}
	}
	if floods < 20 || held < 20 || lids < 20 {
		t.Fatalf("%d floods, %d days held back, %d with a lid: too few to tell", floods, held, lids)
	}
}

// In frost, colder weather makes thicker ice where snow does not flood it. (A degree colder in a thaw may leave snow on
// the ice that keeps it thinner later, and earlier ice catches earlier snow: then it is not so, and should not be.)
func TestColumnMonotoneInCold(t *testing.T) {
	rng := num.NewStream(32, "cold")
	compared := 0
	for range 300 {
		s := randomSite(rng)
		start := Column{Clear: quantity.Length(0.05 + 0.3*rng.Float64())}
		a, b := start, start
		for _, w := range winter(rng, 80) {
			w.Air = min(w.Air, -1) - quantity.Celsius(math.Max(0, float64(s.Warmer)))
			w.Snowfall /= 8 // too little to flood
			a = a.Step(w, s)
			w.Air--
			b = b.Step(w, s)
			if a.Slush > 0 || b.Slush > 0 || a.Total() == 0 {
				break
			}
			compared++
			if b.Total() < a.Total() {
				t.Fatalf("%+v, 1 C colder %+v", a, b)
			}
		}
	}
	if compared < 10000 {
		t.Fatalf("only %d days compared", compared)
	}
}

// More snow on land makes thinner clear ice, flooded or not.
func TestColumnMoreSnowThinnerClear(t *testing.T) {
	rng := num.NewStream(33, "snow")
	for range 200 {
		s := randomSite(rng)
		var a, b Column
		for i := range 90 {
			w := Weather{Air: quantity.Celsius(-6 - 12*rng.Float64()), Span: day}
			if i%3 == 0 {
				w.Snowfall = 2
			}
			a = a.Step(w, s)
			w.Snowfall *= 1.5
			b = b.Step(w, s)
		}
		if b.Clear > a.Clear+1e-9 {
			t.Fatalf("snow %v makes %v of clear ice, half as much again %v", a.Snow, a.Clear, b.Clear)
		}
	}
}

// Steady weather gives the same in days and in quarters of days, but for snow that settles before the frost is spent and heat of the
// water that is spent after it: half a centimetre in twenty days.
func TestColumnStepLength(t *testing.T) {
	s := UsualSite()
	for _, T := range []quantity.Celsius{-2, -12, -30, 3} {
		start := Column{Clear: 0.2, White: 0.1, Slush: 0.05, Lid: 0.02, Snow: 10, SnowDensity: 250}
		a, b := start, start
		for range 20 {
			a = a.Step(Weather{Air: T, Span: day}, s)
			for range 4 {
				b = b.Step(Weather{Air: T, Span: day / 4}, s)
			}
		}
		near(t, "total", b.Total().Metres(), a.Total().Metres(), 0.005)
		near(t, "slush", b.Slush.Metres(), a.Slush.Metres(), 0.003)
		near(t, "snow", float64(b.Snow), float64(a.Snow), 0.2)
	}
	// a day that freezes and thaws is another matter than its mean: 6 h steps see the thaw
	mean, swing := Column{Clear: 0.3}, Column{Clear: 0.3}
	for range 5 {
		mean = mean.Step(Weather{Air: 0, Span: day}, s)
		for _, T := range []quantity.Celsius{-6, -2, 6, 2} {
			swing = swing.Step(Weather{Air: T, Span: day / 4}, s)
		}
	}
	if swing.Clear >= mean.Clear {
		t.Errorf("melt by day must count: %v, by the mean %v", swing.Clear, mean.Clear)
	}
}

// Without snow and water heat the column is Ashton's law, to the last digits.
func TestColumnIsAshton(t *testing.T) {
	s := Site{Air: UsualAir, Conduct: 1}
	var c Column
	for i := 1; i <= 60; i++ {
		c = c.Step(Weather{Air: -10, Span: day}, s)
		near(t, "thickness", c.Clear.Metres(), Grow(0, quantity.DegreeDays(10*i), AirFilm(UsualAir)).Metres(), 1e-12)
	}
}

// Slush freezes by its latent heat: all the energy that leaves is accounted for.
func TestSlushFreezes(t *testing.T) {
	s := Site{Air: UsualAir, Conduct: 1, Packing: 1}
	c := Column{Clear: 0.3, Slush: 0.10, Snow: 0, SnowDensity: 300}
	hours := 0
	for c.Slush > 0 {
		c = c.Step(Weather{Air: -10, Span: time.Hour}, s)
		if hours++; hours > 1000 {
			t.Fatal("slush never froze")
		}
	}
	// λ y (y/2k + 1/H) = T t, λ = 3.34e5 (875 - 300), y = 0.1: 148 h
	want := 3.34e5 * 575 * 0.1 * (0.1/(2*2.0) + 1.0/20) / 10 / 3600
	near(t, "hours", float64(hours), want, 1)
	near(t, "white", c.White.Metres(), 0.10, 1e-12)
	// snow already in the slush is why white ice comes quicker than clear ice of the same thickness
	if clear := Grow(0, quantity.DegreeDays(10*want/24), AirFilm(UsualAir)); clear >= 0.10 {
		t.Errorf("as much frost makes %v of clear ice", clear)
	}
}

// Melt goes from the top: snow, white, clear; the rate of clear ice is that of Melt.
func TestColumnMelts(t *testing.T) {
	s := Site{Air: UsualAir, Conduct: 1}
	c := Column{Clear: 0.3, White: 0.05, Snow: 5, SnowDensity: 300}
	stage := 0
	for range 400 {
		before := c
		c = c.Step(Weather{Air: 4, Span: 6 * time.Hour}, s)
		if c == (Column{}) {
			stage = 3
			break
		}
		if c.White < before.White && c.Snow > 0 || c.Clear < before.Clear && c.White > 0 {
			t.Fatalf("out of order: %+v, %+v", before, c)
		}
		if before.White == 0 && c.Clear > 0 {
			stage = 2
			near(t, "melt in 6 h", (before.Clear - c.Clear).Metres(), Melt(1, UsualAir).Metres(), 1e-12)
		}
	}
	if stage != 3 {
		t.Errorf("the ice never went: %+v", c)
	}
}

func TestColumnWaterLevel(t *testing.T) {
	c := Column{Clear: 0.3, Snow: 60, SnowDensity: 300}.flooded(UsualSite())
	if c.Slush <= 0 || c.WaterBelowTop() >= 0 {
		t.Errorf("slush on the ice: the water stands above its top: %+v, %v", c, c.WaterBelowTop())
	}
	near(t, "slush", c.Slush.Metres(), SlushDepth(0.3, 0, 60, 300, usualPacking).Metres(), 1e-12)
	dry := Column{Clear: 0.3}
	near(t, "bare", dry.WaterBelowTop().Metres(), 0.0249, 1e-6)
}

// A step panics on what the caller must settle first.
func TestColumnPanics(t *testing.T) {
	for name, w := range map[string]Weather{
		"air unknown": {Air: quantity.Celsius(math.NaN()), Span: day}, "no span": {Air: -5}, "two days": {Air: -5, Span: 48 * time.Hour},
		"snow below zero": {Air: -5, Snowfall: -1, Span: day}, "snow unknown": {Air: -5, Snowfall: quantity.SurfaceDensity(math.NaN()), Span: day},
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			Column{Clear: 0.2}.Step(w, UsualSite())
		}()
	}
}

// Published figures that a winter of the usual site should meet.
func TestColumnPublished(t *testing.T) {
	s := UsualSite()
	run := func(c Column, days int, T quantity.Celsius, snow quantity.SurfaceDensity) Column {
		for range days {
			c = c.Step(Weather{Air: T, Snowfall: snow, Span: day}, s)
		}
		return c
	}
	// [Yang2012]: 0.5 cm a day from December to March under snow; air and snow of southern Finland as we take them
	march := run(Column{}, 120, -7, 1.2)
	near(t, "growth by day, cm", march.Total().Centimetres()/120, 0.5, 0.2)
	// [GowGovoni1983]: maxima of 45 to 67 cm; snow ice up to 50 % of the cover in snowy winters. Flooding at once, where a
	// lake waits for cracks, makes the column's share a little high: a tenth is allowed for it, and 5 cm on the maxima
	snowy := run(Column{}, 110, -6, 2)
	for _, c := range []Column{march, snowy} {
		if h, share := c.Total(), float64(c.White/c.Total()); h < 0.40 || h > 0.72 || share < 0.1 || share > 0.6 {
			t.Errorf("ice at the end of winter: %v, %.2f of it snow ice", h, share)
		}
	}
	// [Zhaka2023]: about 35 % of the snow became snow ice, in the north of Sweden; too much here for the same reason
	north := run(Column{}, 140, -10, 1.2)
	near(t, "snow turned to ice", 1-float64(north.Snow)/(139*1.2*s.Catch), 0.35, 0.15)
	// [GowGovoni1983]: loss 3 to 4 times as fast as growth; air of 3 C, ours
	spring, days := march, 0
	for spring.Total() > 0 && days < 100 {
		spring = run(spring, 1, 3, 0)
		days++
	}
	if ratio := 120 / float64(days); ratio < 3 || ratio > 4.5 {
		t.Errorf("loss %d days, growth 120: ratio %.1f", days, ratio)
	}
	// [Dill]: 1 in for 15 F-days on 2 in of bare ice
	thin := Column{Clear: 2 * quantity.Inch}.Step(Weather{Air: -15 / 1.8, Span: day}, Site{Air: UsualAir, Conduct: 1})
	near(t, "thin ice, in", (thin.Clear - 2*quantity.Inch).Inches(), 1, 0.25)
	t.Logf("march %.1f cm, white %.1f; snowy %.1f cm, white %.1f; north %.2f of the snow; gone in %d days", march.Total().Centimetres(), march.White.Centimetres(),
		snowy.Total().Centimetres(), snowy.White.Centimetres(), 1-float64(north.Snow)/(139*1.2*s.Catch), days)
}
