package dusk

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/light"
	"icehand/internal/physics/sun"
	"icehand/internal/trade/lake"
)

// Range is the least and the most that a length may be.
type Range [2]quantity.Length

// Cover is what lies between the sky and the fish, as ranges. White and clear ice share one published range of optics, so
// only the total counts.
type Cover struct {
	Snow, Ice Range
	Clarity   Range // depth at which a white disc vanishes
	Melting   bool  // the top is wet
	SnowTold  bool
	IceTold   bool
	ClearTold bool // clarity
}

// What is reckoned with when nothing is told; all our own assumption.
var (
	unknownSnow    = Range{0, 20 * quantity.Centimetre}
	unknownIce     = Range{20 * quantity.Centimetre, 70 * quantity.Centimetre}
	unknownClarity = Range{1.5 * quantity.Metre, 6 * quantity.Metre} // the ends of ordinary lakes
	unknownDepth   = Range{3 * quantity.Metre, 10 * quantity.Metre}  // of a hole on record without one
)

const (
	coverKeeps = 7 * 24 * time.Hour          // an older reading of snow or ice tells no more; our own assumption
	drift      = 3 * quantity.Centimetre     // by which snow differs from hole to hole; our own assumption
	iceDiffers = 5 * quantity.Centimetre     // the same for ice
	clarityOff = 0.2                         // by which a white disc may err, of its depth; our own assumption
	wetFor     = 12 * time.Hour              // since the last air above freezing or slush
	least      = 0.3 * quantity.Metre        // of water over the fish that is reckoned with
	dark       = math.SmallestNonzeroFloat64 // lux, so that no logarithm is of nothing
)

// CoverAt reads snow, ice and wetness from a lake's record as it was known at an instant: from the readings of the newest day
// that has any. Clarity 0: not told.
func CoverAt(l *lake.View, now time.Time, clarity quantity.Length) Cover {
	c := Cover{Snow: unknownSnow, Ice: unknownIce, Clarity: unknownClarity}
	if clarity > 0 {
		c.Clarity, c.ClearTold = Range{clarity * (1 - clarityOff), clarity * (1 + clarityOff)}, true
	}
	var snow, ice readings
	for i := len(l.Ice) - 1; i >= 0; i-- {
		r := l.Ice[i]
		age := now.Sub(r.When)
		if age < 0 {
			continue
		}
		if age > coverKeeps {
			break
		}
		if r.SnowTold && r.Snow >= 0 {
			snow.add(r.Snow, r.When)
		}
		if r.Total > 0 {
			ice.add(r.Total, r.When)
		}
		c.Melting = c.Melting || r.Slush && age <= wetFor
	}
	c.Snow, c.SnowTold = snow.about(unknownSnow, drift)
	c.Ice, c.IceTold = ice.about(unknownIce, iceDiffers)
	for i := len(l.Observed) - 1; i >= 0; i-- {
		o := l.Observed[i]
		if now.Sub(o.When) > wetFor {
			break
		}
		c.Melting = c.Melting || o.AirTold && o.Air > 0 && !o.When.After(now)
	}
	return c
}

// readings sums what was read on the newest day that has readings. They come newest first.
type readings struct {
	newest       time.Time
	n, sum, sumq float64 // metres
}

func (r *readings) add(x quantity.Length, when time.Time) {
	const sameDay = 14 * time.Hour
	if r.n == 0 {
		r.newest = when
	}
	if r.newest.Sub(when) <= sameDay {
		r.n, r.sum, r.sumq = r.n+1, r.sum+x.Metres(), r.sumq+x.Metres()*x.Metres()
	}
}

// about gives the mean of the readings give or take their own spread, or the usual one where that is more.
func (r readings) about(unknown Range, usual quantity.Length) (Range, bool) {
	if r.n == 0 {
		return unknown, false
	}
	mean := r.sum / r.n
	give := math.Max(usual.Metres(), math.Sqrt(math.Max(0, r.sumq/r.n-mean*mean)))
	return Range{quantity.Length(math.Max(0, mean-give)), quantity.Length(mean + give)}, true
}

// pane is the share of the light on the ice that reaches the fish, dimmest and brightest, as natural logarithms.
type pane struct{ dim, bright float64 }

// pane gives the share for fish at the bottom of a depth that is measured from the top of the ice.
func (c Cover) pane(depth Range) pane {
	share := func(snow, ice, z, clarity quantity.Length, ends func(light.Column, quantity.Attenuation, bool) light.Optics) float64 {
		col := light.Column{Snow: snow, Clear: ice, Depth: max(least, z-ice)}
		return math.Log(light.Fraction(col, ends(col, light.WaterAttenuation(clarity), c.Melting)))
	}
	return pane{
		dim:    share(c.Snow[1], c.Ice[1], depth[1], c.Clarity[0], light.Dimmest),
		bright: share(c.Snow[0], c.Ice[0], depth[0], c.Clarity[1], light.Brightest),
	}
}

// Cloud gives the share of the sky that is clouded at an instant; told is false when nobody knows.
type Cloud func(time.Time) (cover float64, told bool)

// glow is the light on the ice, least and most, as natural logarithms of lux.
type glow struct{ low, high float64 }

// sky gives the light on the ice. Cloud that is not told may be anything.
func sky(t time.Time, p geo.Position, cloud Cloud) glow {
	clear := light.Surface(sun.At(t, p).Elevation)
	r := light.Range{Low: light.Clouded(clear, 1).Low, High: clear.High}
	if cloud != nil {
		if cover, told := cloud(t); told && cover >= 0 && cover <= 1 {
			r = light.Clouded(clear, cover)
		}
	}
	return glow{math.Log(math.Max(dark, float64(r.Low))), math.Log(math.Max(dark, float64(r.High)))}
}

// lots is the number of places between the dimmest and the brightest light that are told apart. Where a lake lies
// between them is the same from day to day, so its record can tell.
const lots = 11

// lot gives the i-th place between dimmest (0) and brightest (1).
func lot(i int) float64 { return (float64(i) + 0.5) / lots }

// atFish gives the natural logarithm of the light at the fish, in lux.
func atFish(g glow, p pane, i int) float64 {
	low, high := g.low+p.dim, g.high+p.bright
	// (DUSK-1) ln E = (1 - u) ln E_least + u ln E_most
	return (1-lot(i))*low + lot(i)*high
}

// lotPrior gives how likely each place is before anything was caught: all layers at one end of their ranges at once is
// unlikely.
func lotPrior() [lots]float64 {
	var w [lots]float64
	sum := 0.0
	for i := range w {
		// (DUSK-2) u ~ Beta(2, 2); our own assumption
		w[i] = lot(i) * (1 - lot(i))
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}

const (
	outOfBand = 0.15 // of the rate in the band, far outside of it; our own assumption
	shoulder  = 0.25 // decades of light over which the rate falls off outside the band; our own assumption
)

// response gives the rate at a light against that in the band.
func response(lnLux float64) float64 {
	d := math.Max(0, math.Max(lnLow-lnLux, lnLux-lnHigh)) / math.Ln10 // decades outside the band
	// (DUSK-3)
	return outOfBand + (1-outOfBand)*math.Exp(-d*d/(2*shoulder*shoulder))
}

// inBand tells whether a light lies in the band.
func inBand(lnLux float64) bool {
	return lnLux >= lnLow && lnLux <= lnHigh
}

// lnLow and lnHigh are the ends of the band as natural logarithms of lux.
var lnLow, lnHigh = func() (float64, float64) {
	low, high := Band()
	return math.Log(float64(low)), math.Log(float64(high))
}()
