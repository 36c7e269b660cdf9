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

// fittedGrowth fits the root of freezing degree-days to the column of the usual site through a winter, and gives by how much
// it misses.
func fittedGrowth(in Inputs) (float64, error) {
	days := in.n("days")
	if days < 30 || days > 300 {
		return 0, fmt.Errorf("check: fitting a law: a winter has 30 to 300 days")
	}
	var x, y []float64 // root of the frost, and cm of ice
	var c ice.Column
	most, frost := 0.0, 0.0
	for d := 0; d < int(1.5*days); d++ {
		air := in.n("mean_c") + in.n("swing_c")*math.Cos(2*math.Pi*float64(d)/days)
		snow := in.n("snowfall_kg_m2_day")
		if d == 0 || air > 0 {
			snow = 0 // it falls into the water, or as rain
		}
		c = c.Step(ice.Weather{Air: quantity.Celsius(air), Snowfall: quantity.SurfaceDensity(snow), Span: oneDay}, ice.UsualSite())
		h := c.Total().Centimetres()
		frost = math.Max(0, frost-air)
		if h >= most {
			most = h
			x, y = append(x, math.Sqrt(frost)), append(y, h)
		}
	}
	return misfit(x, y), nil
}

// misfit fits y = a x and gives the root mean square by which it misses.
func misfit(x, y []float64) float64 {
	xx, xy, sum := 0.0, 0.0, 0.0
	for i := range x {
		xx, xy = xx+x[i]*x[i], xy+x[i]*y[i]
	}
	for i := range x {
		sum += math.Pow(y[i]-xy/xx*x[i], 2)
	}
	return math.Sqrt(sum / float64(len(x)))
}

// springInputs are those of a steady winter and a spring that warms steadily.
var springInputs = keys("days", "day", "air_c", "degC", "snowfall_kg_m2_day", "kg/m2 a day", "warming_c_day", "degC a day")

// fittedDecay fits one melting law, centimetres lost by degree-day above 0 C, to the column of a site over nine winters as years
// differ: 2 C colder to 2 C milder, half to half as much again of the snow. It gives by how much the law misses while the
// ice goes: snow that melts first is what it cannot see.
func fittedDecay(in Inputs, site ice.Site) (float64, error) {
	days, warming := in.n("days"), in.n("warming_c_day")
	if !(days >= 30 && days <= 300 && warming >= 0.05) {
		return 0, fmt.Errorf("check: fitting a melting law: a winter of 30 to 300 days and a spring that warms are wanted")
	}
	var x, y []float64 // degree-days above 0 C, and cm of ice lost since the first of them
	for year := range 9 {
		air, snowfall := in.n("air_c")+2*float64(year%3-1), in.n("snowfall_kg_m2_day")*(0.5+0.5*float64(year/3))
		var c ice.Column
		thaw, most := 0.0, 0.0
		for d := 0.0; d < 1000; d++ {
			T, snow := air+warming*math.Max(0, d-days), snowfall
			if d == 0 || T > 0 {
				snow = 0 // it falls into the water, or as rain
			}
			c = c.Step(ice.Weather{Air: quantity.Celsius(T), Snowfall: quantity.SurfaceDensity(snow), Span: oneDay}, site)
			h := c.Total().Centimetres()
			if most = math.Max(most, h); T <= 0 {
				continue
			}
			if h == 0 {
				break
			}
			thaw += T
			x, y = append(x, thaw), append(y, most-h)
		}
	}
	if len(x) == 0 {
		return 0, fmt.Errorf("check: fitting a melting law: no ice to melt")
	}
	return misfit(x, y), nil
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
		fittedGrowth},
	{"fitted_melt_error", "cm", "root mean square by which one melting law misses the column over nine winters, 2 C and half the snow about the one told", springInputs,
		func(in Inputs) (float64, error) { return fittedDecay(in, ice.UsualSite()) }},
	{"break_up_spread", "day", "spread of the day of open water over the members of an ice cover without any hole, the weather known",
		springInputs, breakUpSpread},
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
