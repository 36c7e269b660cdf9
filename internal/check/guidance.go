package check

import (
	"context"
	"fmt"
	"math"

	"icehand/internal/base/geo"
	"icehand/internal/base/geo/wmm"
	"icehand/internal/base/quantity"
	"icehand/internal/stats/route"
)

var guidanceSlugs = []Slug{
	{"grid_square", "1", "1 when a position lies in the stated square of the Military Grid Reference System, written with as many figures, else 0",
		keys("lat", "degree", "lon", "degree", "square", kindText), func(in Inputs) (float64, error) {
			want, err := geo.ParseGridSquare(in.s("square"))
			if err != nil {
				return 0, err
			}
			g, err := position(in).GridSquare(want.Figures)
			return claim(g.Compact() == in.s("square") || g.String() == in.s("square")), err
		}},
	{"dmm_text", "1", "1 when a position is written so in degrees and decimal minutes, else 0", keys("lat", "degree", "lon", "degree", "text", kindText),
		func(in Inputs) (float64, error) { return claim(position(in).DMMText() == in.s("text")), nil }},
	{"grid_convergence", "degree", "how far grid north of the position's own zone lies east of true north", keys("lat", "degree", "lon", "degree"),
		func(in Inputs) (float64, error) { return position(in).ToUTM().Convergence().Degrees(), nil }},
	{"mid_latitude_distance", "m", "distance on the mid-latitude plane", fromTo, func(in Inputs) (float64, error) {
		d, _ := geo.Between(endPositions(in))
		return d.Metres(), nil
	}},
	{"mid_latitude_bearing", "degree", "starting bearing by the mid-latitude plane", fromTo, func(in Inputs) (float64, error) {
		_, b := geo.Between(endPositions(in))
		return b.Degrees(), nil
	}},
	{"mid_latitude_end", "degree", "latitude or longitude of the point at a bearing and distance, by the mid-latitude plane",
		keys("lat", "degree", "lon", "degree", "bearing_deg", "degree", "distance_m", "m", "which", "lat|lon"), func(in Inputs) (float64, error) {
			p := position(in).Toward(quantity.NewBearing(in.n("bearing_deg")), length(in, "distance_m"))
			if in.s("which") == "lat" {
				return p.Lat, nil
			}
			return p.Lon, nil
		}},
	{"declination", "degree", "magnetic declination, east positive", magneticInputs, magnetic(func(f wmm.Field) float64 { return f.Declination.Degrees() })},
	{"declination_rate", "degree/year", "change of the declination in a year", magneticInputs, magnetic(func(f wmm.Field) float64 { return f.PerYear.Degrees() })},
	{"inclination", "degree", "magnetic inclination, down positive", magneticInputs, magnetic(func(f wmm.Field) float64 { return f.Inclination.Degrees() })},
	{"magnetic_total", "nT", "total strength of the magnetic field", magneticInputs, magnetic(func(f wmm.Field) float64 { return f.Total.Nanoteslas() })},
	{"route_known", "1", "1 when there is a way over a raster, else 0; patches are first and last column, first and last row and factor, 0 for closed",
		rasterInputs, func(in Inputs) (float64, error) {
			w, err := rasterWay(in, (*route.Plane).Way)
			return claim(w.Outcome == route.Found), err
		}},
	{"route_steps", "m", "cost of the cheapest way by steps between neighbouring cells of a raster", rasterInputs, func(in Inputs) (float64, error) {
		w, err := rasterWay(in, (*route.Plane).Steps)
		return w.Cost.Metres(), err
	}},
	{"route_any_angle", "m", "cost of the cheapest way over a raster at any angle", rasterInputs, func(in Inputs) (float64, error) {
		w, err := rasterWay(in, (*route.Plane).Way)
		return w.Cost.Metres(), err
	}},
}

var (
	magneticInputs = keys("lat", "degree", "lon", "degree", "height_m", "m", "time", kindTime)
	rasterInputs   = keys("w", "1", "h", "1", "cell_m", "m", "from", kindList, "to", kindList, "patches", kindList)
)

// claim gives 1 for what is so and 0 for what is not.
func claim(so bool) float64 {
	if so {
		return 1
	}
	return 0
}

func endPositions(in Inputs) (a, b geo.Position) {
	return geo.Position{Lat: in.n("lat1"), Lon: in.n("lon1")}, geo.Position{Lat: in.n("lat2"), Lon: in.n("lon2")}
}

func magnetic(part func(wmm.Field) float64) func(Inputs) (float64, error) {
	return func(in Inputs) (float64, error) {
		f, err := wmm.At(position(in), length(in, "height_m"), in.t("time"))
		return part(f), err
	}
}

// rasterWay finds a way between the middles of two cells of a raster with patches.
func rasterWay(in Inputs, find func(*route.Plane, context.Context, geo.Local, geo.Local) (route.Way, error)) (route.Way, error) {
	w, h, cell := int(in.n("w")), int(in.n("h")), in.n("cell_m")
	if w < 1 || h < 1 || w > 500 || h > 500 || !(cell > 0) {
		return route.Way{}, fmt.Errorf("check: a raster of %d by %d cells of %g m", w, h, cell)
	}
	costs := route.NewCosts(geo.Local{}, geo.Local{E: float64(w) * cell, N: float64(h) * cell}, quantity.Length(cell), nil)
	for p := in.l("patches"); len(p) >= 5; p = p[5:] {
		factor := p[4]
		if factor == 0 {
			factor = math.Inf(1)
		}
		for j := max(0, int(p[2])); j <= min(h-1, int(p[3])); j++ {
			for i := max(0, int(p[0])); i <= min(w-1, int(p[1])); i++ {
				costs.Factor[j*costs.W+i] = factor
			}
		}
	}
	from, to := in.l("from"), in.l("to")
	if len(from) != 2 || len(to) != 2 {
		return route.Way{}, fmt.Errorf("check: from and to are a column and a row each")
	}
	middle := func(c []float64) geo.Local { return geo.Local{E: (c[0] + 0.5) * cell, N: (c[1] + 0.5) * cell} }
	return find(route.Prepare(route.Region{Costs: costs}), context.Background(), middle(from), middle(to))
}
