package cli

import (
	"context"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/manner"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
)

type tackleCmd struct {
	Depth   string `help:"Depth to drop to: 11 m, 36 ft; 10 m when left out." placeholder:"LEN"`
	Weight  string `help:"Weight of the lure: 3 g, 0.1 oz." placeholder:"MASS"`
	Of      string `help:"What it is made of: lead, tungsten, brass or tin." placeholder:"STUFF"`
	Line    string `help:"Line: nylon, fluorocarbon or braid." placeholder:"STUFF"`
	Thick   string `help:"Thickness of the line: 0.15 mm." placeholder:"LEN"`
	Tip     string `help:"Rod tip: soft, middling or stiff." placeholder:"TIP"`
	Bite    string `help:"How far a fish moves the lure: 2 cm." placeholder:"LEN"`
	Current string `help:"Current under the ice: 3 cm/s." placeholder:"SPEED"`
	Lean    string `help:"Lean of the line at the hole in degrees, which tells the current." placeholder:"DEG"`
	Aside   string `help:"How far aside the lure may hang: 0.5 m." placeholder:"LEN"`
	Lure    string `help:"Name of a lure whose drop was timed." placeholder:"NAME"`
	Water   string `help:"Temperature of the water, 0 to 4 C." placeholder:"TEMP"`

	Timed string `help:"Record one timed drop of --lure, with --weight and --depth: seconds. Empty takes it back." placeholder:"SECONDS" default:"-"`
	Hung  string `help:"Record one hung weight, with --droop: 20 g." placeholder:"MASS"`
	Out   string `help:"Line out under the hung weight: 10 m; left out, it tells the tip." placeholder:"LEN"`
	Droop string `help:"How far the hung weight sank below the bare line's end: 14 cm. Left out takes it back." placeholder:"LEN"`
	Card  bool   `help:"Print the card for guests only."`

	Record bool `help:"What your own record says of lures and manners, with its range, or that there is too little to tell."`
}

// text gives what was typed.
func (c tackleCmd) text(unit quantity.Length) desk.TackleText {
	return desk.TackleText{Depth: c.Depth, Mass: c.Weight, Of: c.Of, Line: c.Line, Diameter: c.Thick, Tip: c.Tip, Bite: c.Bite, Current: c.Current, Lean: c.Lean,
		Aside: c.Aside, Lure: c.Lure, Water: c.Water, Unit: unit}
}

// record writes a timed drop or a hung weight.
func (c tackleCmd) record(ctx context.Context, d *desk.Desk) error {
	if c.Hung != "" {
		return d.TellHung(ctx, desk.Act{}, c.text(0), c.Out, c.Hung, c.Droop)
	}
	return d.TellDrop(ctx, desk.Act{}, c.text(0), c.Timed)
}

func (c tackleCmd) Run(ctx context.Context, g *Globals) error {
	timed := c.Timed != "-"
	switch {
	case timed && c.Hung != "":
		return fault.New(fault.BadInput, "Record one, then the other.", "a timed drop and a hung weight are told together")
	case c.Hung == "" && (c.Droop != "" || c.Out != ""):
		return fault.New(fault.BadInput, "Add --hung and the weight that was hung.", "a droop without a weight tells nothing")
	case timed || c.Hung != "":
		if err := g.record(ctx, "/local/tackle", c); err != nil {
			return err
		}
		return g.saved()
	}
	unit := quantity.Metre
	if g.system() == quantity.US {
		unit = quantity.Foot
	}
	ask, err := c.text(unit).Ask()
	if err != nil {
		return err
	}
	return g.question(ctx, func(s *session, sh shaper) error {
		return s.Read(ctx, func(d desk.View) error {
			if c.Record {
				return g.manners(d, sh)
			}
			sheet, err := d.Tackle(ask)
			if err != nil {
				return err
			}
			if g.JSON {
				return g.printJSON(shapeTackle(sheet))
			}
			g.tackle(sh.voice.Tackle(sheet), c.Card)
			return nil
		})
	})
}

// manners prints what the record says of lures and manners.
func (g *Globals) manners(d desk.View, sh shaper) error {
	if g.JSON {
		return g.printJSON(mannersJSON(d, sh))
	}
	rec := d.Manners()
	for _, by := range []manner.By{manner.Lure, manner.MannerOf} {
		rows := rec.Rows(by, "")
		for _, r := range sh.voice.MannerRows(by, rows) {
			g.say("  %-24s %s, %s", r.Name, r.Took, r.Rate)
		}
		g.say("%s", sh.voice.Compared(by, rows))
	}
	g.say("%.0f rod-hours of which nobody told how they were fished.", rec.Untold.Hours())
	g.say("%s", say.MannerCaution)
	return nil
}

// tackle prints the sheet, or its card alone.
func (g *Globals) tackle(t say.TackleText, card bool) {
	if !card {
		g.lines("", t.Title, t.Rig, "", t.Sink, t.Basis)
		for _, f := range t.Falls {
			g.say("  %6s  %s", f[0], f[1])
		}
		g.lines("", "", t.Stretch, t.Pull, t.Lift, t.Line)
		g.lines("", t.Flow...)
		g.lines("", t.Beware, "", "For guests:")
	}
	for i, x := range t.Card {
		g.say("%d. %s", i+1, x)
	}
}

// tackleJSON is the sheet for programs. Pairs hold the bounds, least first.
type tackleJSON struct {
	DepthM      float64            `json:"depth_m"`
	WeightG     float64            `json:"weight_g"`
	Of          string             `json:"of"`
	Line        string             `json:"line"`
	LineMM      float64            `json:"line_mm"`
	Tip         string             `json:"tip"`
	TipNM       float64            `json:"tip_n_per_m"`
	Lure        string             `json:"lure,omitempty"`
	SinkS       float64            `json:"sink_s"`
	AtLeast     bool               `json:"at_least"`
	SpeedMS     float64            `json:"speed_m_s"`
	Falls       map[string]float64 `json:"sink_s_by_depth_m"`
	StretchM    [2]float64         `json:"stretch_m_per_newton"`
	PullTipM    [2]float64         `json:"pull_tip_m"`
	LiftTipM    [2]float64         `json:"lift_tip_m"`
	BiteM       float64            `json:"bite_m"`
	Slack       bool               `json:"lift_slackens"`
	LineHung    string             `json:"line_hung,omitempty"`
	TipHung     string             `json:"tip_hung,omitempty"`
	CurrentMS   *float64           `json:"current_m_s,omitempty"`
	AsideM      *float64           `json:"aside_m,omitempty"`
	LeanDeg     *float64           `json:"lean_deg,omitempty"`
	TooLight    bool               `json:"too_light"`
	HeavyEnough *float64           `json:"heavy_enough_g,omitempty"`
}

func shapeTackle(s desk.TackleSheet) tackleJSON {
	out := tackleJSON{DepthM: round(s.Depth.Metres(), 2), WeightG: round(float64(s.Mass/quantity.Gram), 3), Of: s.Of, Line: s.Line, LineMM: round(float64(s.Diameter/quantity.Millimetre), 3),
		Tip: s.Tip, TipNM: round(s.TipForce, 2), SinkS: round(s.Sinks.Seconds(), 1), AtLeast: s.Timed == nil, SpeedMS: round(s.Speed.MetresPerSecond(), 3), Falls: map[string]float64{},
		StretchM: [2]float64{round(s.Stretch[0].Metres(), 4), round(s.Stretch[1].Metres(), 4)}, BiteM: round(s.Bite.Metres(), 4),
		PullTipM: [2]float64{round(s.Pull[1].Tip.Metres(), 4), round(s.Pull[0].Tip.Metres(), 4)}, LiftTipM: [2]float64{round(s.Lift[1].Tip.Metres(), 4), round(s.Lift[0].Tip.Metres(), 4)},
		Slack: s.Lift[0].Slack || s.Lift[1].Slack, TooLight: s.Blown.Far}
	for _, f := range s.Falls {
		out.Falls[quantity.SI.DepthText(f.Depth)] = round(f.Time.Seconds(), 1)
	}
	if s.Timed != nil {
		out.Lure = s.Timed.Lure
	}
	if s.LineHung != nil {
		out.LineHung = s.LineHung.When.Format(time.RFC3339)
	}
	if s.TipHung != nil {
		out.TipHung = s.TipHung.When.Format(time.RFC3339)
	}
	if s.Flows {
		put := func(x float64, digits int) *float64 { x = round(x, digits); return &x }
		out.CurrentMS = put(s.Current.MetresPerSecond(), 4)
		if !s.Blown.Far {
			out.AsideM, out.LeanDeg = put(s.Blown.Aside.Metres(), 3), put(s.Blown.Angle.Degrees(), 1)
		}
		if s.Held {
			out.HeavyEnough = put(float64(s.Heavy/quantity.Gram), 2)
		}
	}
	return out
}
