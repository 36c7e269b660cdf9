package check

import (
	"math"

	"icehand/internal/base/quantity"
	"icehand/internal/stats/search"
)

var searchSlugs = []Slug{
	{"random_search", "1", "chance of detection by a random search", keys("width_m", "m", "speed_m_s", "m/s", "time_s", "s", "area_m2", "m2"),
		func(in Inputs) (float64, error) {
			C := search.Coverage(length(in, "width_m"), quantity.Speed(in.n("speed_m_s")), seconds(in, "time_s"), quantity.Area(in.n("area_m2")))
			return search.RandomDetection(C), nil
		}},
	{"random_detection", "1", "the same by coverage", keys("coverage", "1"),
		func(in Inputs) (float64, error) { return search.RandomDetection(in.n("coverage")), nil }},
	{"exhaustive_detection", "1", "chance of detection by a sweep without gaps", keys("coverage", "1"),
		func(in Inputs) (float64, error) { return search.ExhaustiveDetection(in.n("coverage")), nil }},
	{"inverse_cube_detection", "1", "chance of detection by parallel inverse-cube sweeps", keys("coverage", "1"),
		func(in Inputs) (float64, error) { return search.InverseCubeDetection(in.n("coverage")), nil }},
	{"at_least_one", "1", "chance of at least one success", keys("p", "1", "n", "1"),
		func(in Inputs) (float64, error) { return search.AtLeastOne(in.n("p"), int(in.n("n"))), nil }},
	{"looks_for", "1", "looks that bring the chance of a success to a level", keys("p", "1", "level", "1"),
		func(in Inputs) (float64, error) { return float64(search.LooksFor(in.n("p"), in.n("level"))), nil }},
	{"square_grid_hit", "1", "chance that a square grid hits a circle", keys("radius_m", "m", "spacing_m", "m"),
		func(in Inputs) (float64, error) {
			return search.SquareGridHit(in.n("radius_m") / in.n("spacing_m")), nil
		}},
	{"triangular_grid_hit", "1", "chance that a triangular grid hits a circle", keys("radius_m", "m", "spacing_m", "m"),
		func(in Inputs) (float64, error) {
			return search.TriangularGridHit(in.n("radius_m") / in.n("spacing_m")), nil
		}},
	{"square_grid_ratio", "1", "radius over spacing for a chance of a hit", keys("hit", "1"),
		func(in Inputs) (float64, error) { return search.SquareGridRatio(in.n("hit")), nil }},
	{"square_spacing", "m", "widest square grid that misses no circle", keys("radius_m", "m"),
		func(in Inputs) (float64, error) { return search.SquareSpacing(length(in, "radius_m")).Metres(), nil }},
	{"triangular_spacing", "m", "widest triangular grid that misses no circle", keys("radius_m", "m"),
		func(in Inputs) (float64, error) {
			return search.TriangularSpacing(length(in, "radius_m")).Metres(), nil
		}},
	{"split_effort", "1", "best effort for one cell, counted from 1", keys("p", kindList, "total", "1", "cell", "1"),
		func(in Inputs) (float64, error) {
			return search.Split(in.l("p"), in.n("total"))[int(in.n("cell"))-1], nil
		}},
	{"split_detection", "1", "chance of detection by the best split", keys("p", kindList, "total", "1"),
		func(in Inputs) (float64, error) {
			return search.Detection(in.l("p"), search.Split(in.l("p"), in.n("total"))), nil
		}},
	{"detection", "1", "chance of detection by a stated split", keys("p", kindList, "x", kindList),
		func(in Inputs) (float64, error) { return search.Detection(in.l("p"), in.l("x")), nil }},
	{"blank", "1", "chance that it is here after a look saw nothing", keys("p", "1", "d", "1"),
		func(in Inputs) (float64, error) { return search.Blank(in.n("p"), in.n("d")), nil }},
	{"blank_intensity", "1", "expected number after a look saw nothing", keys("v", "1", "d", "1"),
		func(in Inputs) (float64, error) { return search.BlankIntensity(in.n("v"), in.n("d")), nil }},
	{"existence", "1", "expected number behind a detection", keys("d", "1", "v", "1", "false_intensity", "1"),
		func(in Inputs) (float64, error) {
			return search.Existence(in.n("d")*in.n("v"), in.n("false_intensity")), nil
		}},
	{"best_stay", "min", "stay that brings the most in the long run", keys("tau_min", "min", "travel_min", "min"),
		func(in Inputs) (float64, error) { return search.BestStay(in.n("tau_min"), in.n("travel_min")), nil }},
	{"best_rate", "1/min", "long-run rate at the best stay", keys("gain", "1", "tau_min", "min", "travel_min", "min"),
		func(in Inputs) (float64, error) {
			τ, T := in.n("tau_min"), in.n("travel_min")
			return search.LongRunRate(in.n("gain"), τ, T, search.BestStay(τ, T)), nil
		}},
	{"gamma_mean", "1/min", "expected rate after events in a time", keys("shape", "1", "rate_min", "min", "events", "1", "time_min", "min"),
		func(in Inputs) (float64, error) {
			return belief(in).Update(in.n("events"), in.n("time_min")).Mean(), nil
		}},
	{"gamma_giving_up", "min", "wait without an event until the expected rate has fallen so far", keys("shape", "1", "rate_min", "min", "elsewhere_per_min", "1/min"),
		func(in Inputs) (float64, error) { return belief(in).GivingUp(in.n("elsewhere_per_min")), nil }},
	{"gamma_event_worth", "min", "extra wait that one event buys", keys("shape", "1", "rate_min", "min", "elsewhere_per_min", "1/min"),
		func(in Inputs) (float64, error) {
			ρ := in.n("elsewhere_per_min")
			return belief(in).Update(1, 0).GivingUp(ρ) - belief(in).GivingUp(ρ), nil
		}},
	{"gamma_none", "1", "chance of no event in a time", keys("shape", "1", "rate_min", "min", "time_min", "min"),
		func(in Inputs) (float64, error) { return belief(in).None(in.n("time_min")), nil }},
	{"diffusivity", "m2/s", "long-run spreading of a persistent walk", keys("speed_m_s", "m/s", "turn_s", "s"),
		func(in Inputs) (float64, error) {
			return search.Diffusivity(quantity.Speed(in.n("speed_m_s")), seconds(in, "turn_s")), nil
		}},
	{"spread", "m", "standard deviation on each axis after a time", keys("diffusivity_m2_s", "m2/s", "time_s", "s"),
		func(in Inputs) (float64, error) {
			return search.Spread(in.n("diffusivity_m2_s"), seconds(in, "time_s")).Metres(), nil
		}},
	{"blob_look", "1", "chance that a Gaussian look detects a Gaussian blob", keys("pd", "1", "scale_m", "m", "variance_m2", "m2", "distance_m", "m"),
		func(in Inputs) (float64, error) {
			return search.BlobLook(in.n("pd"), math.Pow(in.n("scale_m"), 2), in.n("variance_m2"), math.Pow(in.n("distance_m"), 2)), nil
		}},
	{"log_normal_mean", "1", "mean of a log-normal quantity", keys("m", "1", "v", "1"),
		func(in Inputs) (float64, error) { return search.LogNormalMean(in.n("m"), in.n("v")), nil }},
	{"on_share", "1", "share of time that a two-state thing is on", keys("on_min", "min", "off_min", "min"),
		func(in Inputs) (float64, error) { return twoState(in).OnShare(), nil }},
	{"on_after", "1", "chance that it is on a time after it was off", keys("on_min", "min", "off_min", "min", "time_min", "min"),
		func(in Inputs) (float64, error) { return twoState(in).OnAfter(in.n("time_min")), nil }},
}

func belief(in Inputs) search.Gamma {
	return search.Gamma{Shape: in.n("shape"), Rate: in.n("rate_min")}
}

func twoState(in Inputs) search.TwoState {
	return search.TwoState{On: in.n("on_min"), Off: in.n("off_min")}
}
