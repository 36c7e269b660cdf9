package cli

import (
	"context"
	"strconv"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
)

type depthsCmd struct {
	Low   string `arg:"" optional:"" help:"Shallow end: 9 m, 30 ft. Without it what was told is printed." placeholder:"LOW"`
	High  string `arg:"" optional:"" help:"Deep end." placeholder:"HIGH"`
	Stage string `help:"Stage of the season: early, mid or late; without it all season." placeholder:"STAGE"`
	Back  bool   `help:"Take back what was told."`
}

// text gives what was typed.
func (c depthsCmd) text() (desk.DepthsText, error) {
	if c.Back == (c.Low != "" || c.High != "") {
		return desk.DepthsText{}, fault.New(fault.BadInput, "Use icehand depths 9m 12m --stage mid, or icehand depths --back --stage mid.", "the depths are told in part, or told and taken back")
	}
	return desk.DepthsText{Low: c.Low, High: c.High, Stage: c.Stage}, nil
}

// record writes the depths.
func (c depthsCmd) record(ctx context.Context, d *desk.Desk) error {
	t, err := c.text()
	if err != nil {
		return err
	}
	return d.TellDepths(ctx, desk.Act{}, t)
}

func (c depthsCmd) Run(ctx context.Context, g *Globals) error {
	if c.Low == "" && c.High == "" && !c.Back {
		return c.show(ctx, g)
	}
	if err := g.record(ctx, "/local/depths", c); err != nil {
		return err
	}
	return g.saved()
}

type toldDepthsJSON struct {
	Stage string  `json:"stage"`
	LowM  float64 `json:"low_m"`
	HighM float64 `json:"high_m"`
	Told  string  `json:"told"`
}

// show prints what was told.
func (c depthsCmd) show(ctx context.Context, g *Globals) error {
	return g.question(ctx, func(s *session, shape shaper) error {
		return s.Read(ctx, func(v desk.View) error {
			told := v.ToldDepths()
			if g.JSON {
				out := []toldDepthsJSON{}
				for _, d := range told {
					out = append(out, toldDepthsJSON{string(d.Stage), round(d.Low.Metres(), 1), round(d.High.Metres(), 1), d.When.In(shape.zone).Format(time.RFC3339)})
				}
				return g.printJSON(map[string]any{"depths": out})
			}
			if len(told) == 0 {
				g.say("No depths were told; those of the stage are taken.")
			}
			for _, d := range told {
				g.say("%s", shape.voice.ToldDepths(d))
			}
			return nil
		})
	})
}

// doDepths tells the depths that perch keep.
func (a *asker) doDepths(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time  *time.Time `json:"time"`
		Low   *float64   `json:"low_m"`
		High  *float64   `json:"high_m"`
		Stage string     `json:"stage"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	if (m.Low == nil) != (m.High == nil) {
		return nil, fault.New(fault.BadInput, `Give "low_m" and "high_m", or neither to take back what was told.`, "one end of the depths is missing")
	}
	t := desk.DepthsText{Stage: m.Stage, Unit: quantity.Metre}
	if m.Low != nil {
		metres := func(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
		t.Low, t.High = metres(*m.Low), metres(*m.High)
	}
	if err := a.desk.TellDepths(ctx, desk.Act{At: at}, t); err != nil {
		return nil, err
	}
	return map[string]bool{"ok": true}, nil
}
