package check

import (
	"fmt"
	"math"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/physics/ice"
)

// swingInputs are those of a made-up winter whose air swings once about its mean, coldest in the middle.
var swingInputs = keys("days", "day", "mean_c", "degC", "swing_c", "degC", "snowfall_kg_m2_day", "kg/m2 a day")

// fittedError fits a law of one coefficient to the column of the usual site through a winter and a spring, growing by the root of
// freezing degree-days or, once the snow is gone, going by melting ones, and gives by how much it misses.
func fittedError(in Inputs, growing bool) (float64, error) {
	days := in.n("days")
	if days < 30 || days > 300 {
		return 0, fmt.Errorf("check: fitting a law: a winter has 30 to 300 days")
	}
	var x, y []float64 // what the law goes by, and cm of ice
	var c ice.Column
	most, frost, thaw, bare := 0.0, 0.0, 0.0, 0.0
	for d := 0; d < int(1.5*days); d++ {
		air := in.n("mean_c") + in.n("swing_c")*math.Cos(2*math.Pi*float64(d)/days)
		snow := in.n("snowfall_kg_m2_day")
		if d == 0 || air > 0 {
			snow = 0 // it falls into the water, or as rain
		}
		c = c.Step(ice.Weather{Air: quantity.Celsius(air), Snowfall: quantity.SurfaceDensity(snow), Span: oneDay}, ice.UsualSite())
		h := c.Total().Centimetres()
		frost, thaw = math.Max(0, frost-air), thaw+math.Max(0, air)
		switch rising := h >= most; {
		case rising:
			most, thaw, bare = h, 0, 0
			if growing {
				x, y = append(x, math.Sqrt(frost)), append(y, h)
			}
		case !growing && c.Snow == 0 && h > 0:
			if bare == 0 {
				bare, thaw = h, 0
			}
			x, y = append(x, thaw), append(y, bare-h)
		}
	}
	xx, xy := 0.0, 0.0
	for i := range x {
		xx, xy = xx+x[i]*x[i], xy+x[i]*y[i]
	}
	sum := 0.0
	for i := range x {
		sum += math.Pow(y[i]-xy/xx*x[i], 2)
	}
	return math.Sqrt(sum / float64(len(x))), nil
}

// breakUpSpread runs a cover without holes through a steady winter and a spring that warms steadily.
func breakUpSpread(in Inputs) (float64, error) {
	start := time.Date(2000, 11, 1, 0, 0, 0, 0, time.UTC) // any year
	const lead = 7
	days, warming := in.n("days"), in.n("warming_c_day")
	if !(days > 0 && days <= 300 && warming > 0) {
		return 0, fmt.Errorf("check: break-up: a winter of up to 300 days and a spring that warms are wanted")
	}
	c := icecover.New(icecover.Options{FreezeUp: start.AddDate(0, 0, lead), Start: start})
	left := 1.0
	sum, squares := 0.0, 0.0
	for d := 1; left > 0; d++ {
		if d > 600 {
			return 0, fmt.Errorf("check: break-up: the ice outlasts the summer")
		}
		air, snow := in.n("air_c")+warming*math.Max(0, float64(d)-lead-days), in.n("snowfall_kg_m2_day")
		if air > 0 {
			snow = 0
		}
		if err := c.Advance(ice.Weather{Air: quantity.Celsius(air), Snowfall: quantity.SurfaceDensity(snow), Span: oneDay}); err != nil {
			return 0, err
		}
		if float64(d) > lead+days {
			gone := left - c.Covered()
			sum, squares, left = sum+gone*float64(d), squares+gone*float64(d)*float64(d), c.Covered()
		}
	}
	return math.Sqrt(squares - sum*sum), nil
}

// fitSlugs are those of fitted laws and of how ice differs from place to place.
var fitSlugs = []Slug{
	{"fitted_growth_error", "cm", "root mean square by which a fitted degree-day law misses the column while it grows", swingInputs,
		func(in Inputs) (float64, error) { return fittedError(in, true) }},
	{"fitted_melt_error", "cm", "the same of a fitted melting law once the snow is gone", swingInputs,
		func(in Inputs) (float64, error) { return fittedError(in, false) }},
	{"break_up_spread", "day", "spread of the day of open water over the members of an ice cover without any hole, the weather known",
		keys("days", "day", "air_c", "degC", "snowfall_kg_m2_day", "kg/m2 a day", "warming_c_day", "degC a day"), breakUpSpread},
	{"dune_correlation", "1", "correlation of the ice at two test holes a spacing apart under dunes of any length between two", keys("shortest_m", "m", "longest_m", "m"),
		func(in Inputs) (float64, error) {
			const steps = 2000
			lo, hi, sum := in.n("shortest_m"), in.n("longest_m"), 0.0
			for i := range steps {
				sum += math.Cos(2*math.Pi*ice.HoleSpacing.Metres()/(lo+(hi-lo)*(float64(i)+0.5)/steps)) / steps
			}
			return sum, nil
		}},
	{"hole_correlation", "1", "correlation of the part of the scatter that dunes make, at a distance", keys("distance_m", "m"),
		func(in Inputs) (float64, error) {
			return math.Exp(-in.n("distance_m") / icecover.UsualScatter().NearRange.Metres()), nil
		}},
}
