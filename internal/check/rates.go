package check

import (
	"fmt"

	"gonum.org/v1/gonum/mathext"

	"icehand/internal/stats/hours"
)

var rateSlugs = []Slug{
	{"rate_deviance", "1", "deviance of rates by bin from one common rate", keys("events", kindList, "hours", kindList),
		func(in Inputs) (float64, error) {
			c, err := counts(in)
			if err != nil {
				return 0, err
			}
			d, _, _ := hours.Deviance(c)
			return d, nil
		}},
	{"rate_flat", "1", "chance that one common rate gives as much", keys("events", kindList, "hours", kindList),
		func(in Inputs) (float64, error) {
			c, err := counts(in)
			if err != nil {
				return 0, err
			}
			_, _, p := hours.Deviance(c)
			return p, nil
		}},
	{"rates_shape", "1", "shape of the gamma that rates were drawn from", keys("events", kindList, "hours", kindList),
		func(in Inputs) (float64, error) {
			c, err := counts(in)
			if err != nil {
				return 0, err
			}
			g, err := hours.FitGamma(c)
			return g.Shape, err
		}},
	{"rates_rate", "h", "rate of that gamma", keys("events", kindList, "hours", kindList),
		func(in Inputs) (float64, error) {
			c, err := counts(in)
			if err != nil {
				return 0, err
			}
			g, err := hours.FitGamma(c)
			return g.Rate, err
		}},
	{"rate_shrunk", "1/h", "expected rate of one bin, counted from 1, shrunk to that gamma", keys("events", kindList, "hours", kindList, "bin", "1"),
		func(in Inputs) (float64, error) {
			c, err := counts(in)
			if err != nil {
				return 0, err
			}
			i := int(in.n("bin")) - 1
			if i < 0 || i >= len(c.Events) {
				return 0, fmt.Errorf("check: there is no bin %d", i+1)
			}
			g, err := hours.FitGamma(c)
			if err != nil {
				return 0, err
			}
			return g.Update(c.Events[i], c.Exposure[i]).Mean(), nil
		}},
	{"gamma_quantile", "1/min", "quantile of the rate after events in a time", keys("shape", "1", "rate_min", "min", "events", "1", "time_min", "min", "level", "1"),
		func(in Inputs) (float64, error) {
			g := belief(in).Update(in.n("events"), in.n("time_min"))
			return mathext.GammaIncRegInv(g.Shape, in.n("level")) / g.Rate, nil
		}},
}

// counts reads events and hours, which must be as many.
func counts(in Inputs) (hours.Counts, error) {
	c := hours.Counts{Events: in.l("events"), Exposure: in.l("hours")}
	if len(c.Events) != len(c.Exposure) {
		return c, fmt.Errorf("check: %d events and %d hours", len(c.Events), len(c.Exposure))
	}
	return c, nil
}
