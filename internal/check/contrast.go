package check

import "icehand/internal/stats/contrast"

var contrastInputs = keys("events1", "1", "time1", "1", "events2", "1", "time2", "1")

func two(in Inputs) contrast.Two {
	return contrast.Ratio(int(in.n("events1")), in.n("time1"), int(in.n("events2")), in.n("time2"), 0.95)
}

var contrastSlugs = []Slug{
	{"rate_bound", "1/h", "bound of the exact 95 % interval of a rate", keys("events", "1", "hours", "h", "end", "low|high"),
		func(in Inputs) (float64, error) {
			r := contrast.Rate(int(in.n("events")), in.n("hours"), 0.95)
			if in.s("end") == "low" {
				return r.Low, nil
			}
			return r.High, nil
		}},
	{"rates_p", "1", "central p-value of two equal rates", contrastInputs, func(in Inputs) (float64, error) { return two(in).P, nil }},
	{"rates_ratio", "1", "ratio of two rates", contrastInputs, func(in Inputs) (float64, error) { return two(in).Ratio, nil }},
	{"rates_ratio_low", "1", "lower bound of the exact 95 % interval of that ratio", contrastInputs, func(in Inputs) (float64, error) { return two(in).Interval.Low, nil }},
	{"rates_ratio_high", "1", "upper bound of it", contrastInputs, func(in Inputs) (float64, error) { return two(in).Interval.High, nil }},
}
