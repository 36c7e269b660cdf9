package check

import (
	"icehand/internal/base/quantity"
	"icehand/internal/engine/care"
)

const careKinds = "walleye_death|perch_barotrauma"

var careSlugs = []Slug{
	{"release_slope", "1/m", "slope of the curve through two published figures of fish put back", keys("of", careKinds),
		func(in Inputs) (float64, error) {
			slope, _, _, _ := care.Curve(in.s("of"), 0)
			return slope, nil
		}},
	{"release_half", "m", "depth at which that curve is one in two", keys("of", careKinds),
		func(in Inputs) (float64, error) {
			_, half, _, _ := care.Curve(in.s("of"), 0)
			return half.Metres(), nil
		}},
	{"release_share", "1", "share at a depth by that curve", keys("of", careKinds, "depth_m", "m"),
		func(in Inputs) (float64, error) {
			_, _, share, _ := care.Curve(in.s("of"), length(in, "depth_m"))
			return share, nil
		}},
	{"swims_down", "1", "share of perch that swim down within 3 s", keys("depth_m", "m"),
		func(in Inputs) (float64, error) {
			share, _ := care.SwimsDown(length(in, "depth_m"))
			return share, nil
		}},
	{"gas_ratio", "1", "volume of a gas at the surface against that at a depth", keys("depth_m", "m", "surface_pa", "Pa"),
		func(in Inputs) (float64, error) {
			return care.GasRatio(length(in, "depth_m"), quantity.Pressure(in.n("surface_pa"))), nil
		}},
	{"share_bound", "1", "bound of the exact 95 % interval of a share", keys("of", "1", "in", "1", "end", "low|high"),
		func(in Inputs) (float64, error) {
			low, high := care.ExactInterval(int(in.n("of")), int(in.n("in")))
			if in.s("end") == "low" {
				return low, nil
			}
			return high, nil
		}},
}
