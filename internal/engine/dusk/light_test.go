package dusk

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/sun"
)

var (
	zone  = time.FixedZone("", -3*3600) // solar time at 45 W
	made  = geo.Position{Lat: 47.9, Lon: -45}
	clear = func(time.Time) (float64, bool) { return 0, true }
)

func on(day int, clock string) time.Time {
	c, err := time.Parse("15:04", clock)
	if err != nil {
		panic(err)
	}
	return time.Date(2026, 1, day, c.Hour(), c.Minute(), 0, 0, zone)
}

func under(snow, ice, clarity quantity.Length) Cover {
	return Cover{Snow: Range{snow, snow}, Ice: Range{ice, ice}, Clarity: Range{clarity, clarity}, SnowTold: true, IceTold: true, ClearTold: true}
}

// [Lei2011]: coefficients inside the published ranges give 5.03e-5 of the light at 10 m of water under 10 cm of snow and 50 cm
// of ice, and 1.735e-3 under the bare ice, in water of 0.5/m; our ends hold both.
func TestPaneAgainstLei2011(t *testing.T) {
	for _, c := range []struct{ snow, share float64 }{{0.1, 5.03194e-5}, {0, 1.735127e-3}} {
		p := under(quantity.Length(c.snow), 0.5, 3.4).pane(Range{10.5, 10.5})
		if ln := math.Log(c.share); ln < p.dim || ln > p.bright {
			t.Errorf("%.2f m of snow: %.4g outside %.4g to %.4g", c.snow, c.share, math.Exp(p.dim), math.Exp(p.bright))
		}
	}
}

// [AMSGlossary]: 400 to 585 lux at sunset, 2 to 3.5 at the end of civil twilight, under a clear sky. The sky is asked at the
// computed minute of each; half a minute of sun moves the light by 3 %.
func TestSkyAgainstAMSGlossary(t *testing.T) {
	day := sun.EventsOn(2026, 1, 15, made, zone)
	for _, c := range []struct {
		at        time.Time
		low, high float64
	}{{day.Sunset.Time, 400, 585}, {day.Sunrise.Time, 400, 585}, {day.CivilDusk.Time, 2, 3.5}, {day.CivilDawn.Time, 2, 3.5}} {
		g := sky(c.at, made, clear)
		if math.Abs(math.Exp(g.low)/c.low-1) > 0.03 || math.Abs(math.Exp(g.high)/c.high-1) > 0.03 {
			t.Errorf("%v: %.3g to %.3g, want %g to %g", c.at, math.Exp(g.low), math.Exp(g.high), c.low, c.high)
		}
	}
	known, unknown := sky(on(15, "12:00"), made, clear), sky(on(15, "12:00"), made, nil)
	if unknown.low >= known.low || unknown.high != known.high {
		t.Errorf("cloud not told: %v, clear %v", unknown, known)
	}
}

func day(t *testing.T, c Cover, depth quantity.Length, p geo.Position, at time.Time) Daylight {
	t.Helper()
	return Over(DayInput{Day: at, Zone: zone, Place: p, Cover: c, Depth: Range{depth, depth}, Cloud: clear})
}

// Under bare ice over clear water the band comes in the morning and before dark and leaves noon out; snow moves it to noon;
// much snow leaves none. Common practice, no source, and [WalleyeLight2020] for the band.
func TestSnowMovesTheWindowToNoon(t *testing.T) {
	noon := on(15, "12:00")
	bare := day(t, under(0, 0.3, 6), 5, made, noon).Windows
	if len(bare) != 2 || !bare[0].Morning || bare[0].Noon || bare[1].Morning || !bare[1].From.After(on(15, "13:30")) || bare[1].To.Before(on(15, "15:45")) || bare[1].To.After(on(15, "17:10")) {
		t.Errorf("bare ice: %+v", bare)
	}
	white := day(t, under(0.08, 0.4, 4), 6, made, noon).Windows
	if len(white) != 1 || !white[0].Noon || !white[0].From.Before(on(15, "11:00")) || !white[0].To.After(on(15, "13:00")) {
		t.Errorf("8 cm of snow: %+v", white)
	}
	if deep := day(t, under(0.45, 0.5, 2), 8, made, noon); len(deep.Windows) != 0 || deep.Brightest.Range.High > 6 {
		t.Errorf("45 cm of snow: %+v", deep)
	}
}

// Far north in midwinter the sun stays down: noon may be light enough under bare ice, and in midsummer there is no night.
func TestPolarDays(t *testing.T) {
	north := geo.Position{Lat: 69, Lon: -45}
	winter := day(t, under(0, 0.3, 8), 2, north, time.Date(2025, 12, 21, 12, 0, 0, 0, zone))
	if !winter.Sun.NeverRises() || len(winter.Windows) != 1 || !winter.Windows[0].Noon {
		t.Errorf("polar night: %+v", winter.Windows)
	}
	if w := day(t, under(0.2, 0.6, 3), 6, north, time.Date(2025, 12, 21, 12, 0, 0, 0, zone)).Windows; len(w) != 0 {
		t.Errorf("polar night under snow: %+v", w)
	}
	summer := day(t, under(0.05, 0.6, 3), 6, north, time.Date(2026, 6, 1, 12, 0, 0, 0, zone))
	if !summer.Sun.NeverSets() || len(summer.Course) != 24 {
		t.Errorf("no night: %d hours", len(summer.Course))
	}
}

// More snow, ice, murk, depth or cloud never brings the evening's window later nor the brightest light up.
func TestMoreOverTheFishIsEarlierAndDarker(t *testing.T) {
	rng := num.NewStream(20260115, "dusk light")
	between := func(lo, hi float64) quantity.Length { return quantity.Length(lo + (hi-lo)*rng.Float64()) }
	compared := 0
	for range 200 {
		c, z := under(between(0, 0.1), between(0.2, 0.7), between(1.5, 6)), between(3, 9)
		at := on(1+rng.IntN(28), "12:00")
		a := day(t, c, z, made, at)
		more := c
		deeper := z
		switch rng.IntN(4) {
		case 0:
			if c.Snow[0] == 0 {
				continue
			}
			more.Snow = Range{c.Snow[0] + 0.05, c.Snow[1] + 0.05}
		case 1:
			more.Ice = Range{c.Ice[0] + 0.1, c.Ice[1] + 0.1}
			deeper = z + 0.1
		case 2:
			more.Clarity = Range{0.8 * c.Clarity[0], 0.8 * c.Clarity[1]}
		default:
			deeper += 1
		}
		b := day(t, more, deeper, made, at)
		if b.Brightest.Range.High > a.Brightest.Range.High || b.Brightest.Range.Low > a.Brightest.Range.Low {
			t.Errorf("%+v at %v: brighter under more", c, z)
		}
		last := func(d Daylight) (Window, bool) {
			n := len(d.Windows)
			if n == 0 {
				return Window{}, false
			}
			return d.Windows[n-1], !d.Windows[n-1].Morning || d.Windows[n-1].Noon
		}
		x, ok1 := last(a)
		y, ok2 := last(b)
		if ok1 && ok2 && math.Abs(x.Chance-y.Chance) < 1e-9 { // the same lights reach the band, so their ends compare
			compared++
			if y.Latest.After(x.Latest) || y.To.After(x.To) {
				t.Errorf("%+v at %v: evening window ends %v, with more over it %v", c, z, x.Latest, y.Latest)
			}
		}
	}
	if compared < 30 {
		t.Fatalf("only %d pairs compared", compared)
	}
}

// The band is data: response 1 inside, falling outside, never below the floor.
func TestResponse(t *testing.T) {
	for _, lx := range []float64{6, 20, 68} {
		if response(math.Log(lx)) != 1 {
			t.Errorf("%g lux: %g", lx, response(math.Log(lx)))
		}
	}
	last := 0.0
	for e := -3.0; e < 0.7; e += 0.05 {
		r := response(e * math.Ln10)
		if r < last || r < outOfBand || r > 1 {
			t.Fatalf("10^%.2f lux: %g after %g", e, r, last)
		}
		last = r
	}
}

func TestHourOf(t *testing.T) {
	south := geo.Position{Lat: -47.9, Lon: -45}
	for _, c := range []struct {
		at   time.Time
		p    geo.Position
		want int
	}{
		{on(15, "06:30"), made, 0}, {on(15, "07:30"), made, 1}, {on(15, "08:00"), made, 2}, {on(15, "10:30"), made, 4},
		{on(15, "13:30"), made, 9}, {on(15, "16:20"), made, 7}, {on(15, "16:50"), made, 6}, {on(15, "18:00"), made, 5},
		{on(15, "10:30"), south, 4}, {on(15, "15:30"), south, 9},
	} {
		if got := hourOf(c.at, c.p); got != c.want {
			t.Errorf("%v at %v: hour %d, want %d", c.at, c.p, got, c.want)
		}
	}
}

// poisson draws a count by Knuth's product, good for small means.
func poisson(rng *rand.Rand, mean float64) int {
	n, p := 0, rng.Float64()
	for limit := math.Exp(-mean); p > limit; n++ {
		p *= rng.Float64()
	}
	return n
}
