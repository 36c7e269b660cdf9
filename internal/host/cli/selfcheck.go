package cli

import (
	"os"

	"icehand/internal/base/fault"
	"icehand/internal/check"
)

type selfcheckCmd struct {
	File string `help:"Run the rows of this file instead, in the layout of docs/checks.md." placeholder:"FILE"`
	List bool   `help:"Print every row with its outcome."`
}

type sourceReport struct {
	Source   string `json:"source"`
	Total    int    `json:"total"`
	Hold     int    `json:"hold"`
	Recalled int    `json:"recalled"`
}

type rowReport struct {
	ID        string  `json:"id"`
	Quantity  string  `json:"quantity"`
	Expected  float64 `json:"expected"`
	Got       float64 `json:"got"`
	Tolerance float64 `json:"tolerance"`
	Holds     bool    `json:"holds"`
	Error     string  `json:"error,omitempty"`
}

func (c selfcheckCmd) rows() ([]check.Check, error) {
	if c.File == "" {
		return check.Embedded()
	}
	f, err := os.Open(c.File)
	if err != nil {
		return nil, fault.Wrap(err, fault.NotFound, "Check the name of the file.", "%s cannot be read", c.File)
	}
	defer f.Close()
	return check.Load(f)
}

func (c selfcheckCmd) Run(g *Globals) error {
	rows, err := c.rows()
	if err != nil {
		return err
	}
	outcomes := check.Run(rows)
	failed := 0
	var sources []sourceReport
	for _, s := range check.Summarise(outcomes) {
		sources = append(sources, sourceReport{s.Source, s.Total, s.Hold, s.Recalled})
		failed += s.Total - s.Hold
	}
	if g.JSON {
		list := make([]rowReport, 0, len(outcomes))
		for _, o := range outcomes {
			list = append(list, newRowReport(o))
		}
		err = g.printJSON(map[string]any{"rows": len(rows), "hold": len(rows) - failed, "sources": sources, "outcomes": list})
	} else {
		c.print(g, sources, outcomes, failed)
	}
	if err == nil && failed > 0 {
		err = fault.New(fault.Internal, "Report these rows; do not rely on the quantities they name.", "%d of %d outside check values do not hold", failed, len(rows))
	}
	return err
}

func newRowReport(o check.Outcome) rowReport {
	r := rowReport{ID: o.ID, Quantity: o.Quantity, Expected: o.Expected, Got: o.Got, Tolerance: o.Tolerance, Holds: o.Holds}
	if o.Err != nil {
		r.Error = o.Err.Error()
	}
	return r
}

func (c selfcheckCmd) print(g *Globals, sources []sourceReport, outcomes []check.Outcome, failed int) {
	for _, o := range outcomes {
		if c.List || !o.Holds {
			state := "holds"
			if !o.Holds {
				state = "FAILS"
			}
			g.say("%s %s %s: got %.8g, expected %.8g within %.3g %s", state, o.ID, o.Quantity, o.Got, o.Expected, o.Tolerance, o.Unit)
			if o.Err != nil {
				g.say("      %v", o.Err)
			}
		}
	}
	for _, s := range sources {
		recalled := ""
		if s.Recalled > 0 {
			recalled = " (some from memory)"
		}
		g.say("%4d of %4d  %s%s", s.Hold, s.Total, s.Source, recalled)
	}
	g.say("%d of %d outside check values hold", len(outcomes)-failed, len(outcomes))
}
