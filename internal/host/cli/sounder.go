package cli

import (
	"context"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/sounder"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
)

type sounderCmd struct {
	Hang    string `help:"How far the transducer hangs below the water in the hole: 30 cm, 1 ft." placeholder:"LENGTH"`
	Assumed string `help:"Speed of sound that the display assumes: 1500 m/s." placeholder:"SPEED"`
	Water   string `help:"Temperature of the water below the ice: 2 C, 36 F." placeholder:"TEMP"`
	Cone    string `help:"Full angle of the cone in degrees: 20." placeholder:"DEG"`
	Pulse   string `help:"Length of the pulse: 100us." placeholder:"TIME"`
	Back    bool   `help:"Take back what was told: depths count as shown."`
	Depth   string `help:"Print what a shown depth stands for: 8.4 m, 30 ft." placeholder:"DEPTH"`
	Units   string `kong:"-"` // in which a bare number was typed
}

func (c sounderCmd) tells() bool {
	return c.Hang+c.Assumed+c.Water+c.Cone+c.Pulse != ""
}

// change gives the sounder that was told with what was typed now in its place.
func (c sounderCmd) change(s sounder.Sounder, told bool) (sounder.Sounder, error) {
	if !told {
		s = sounder.Usual()
		if c.Hang == "" {
			return s, fault.New(fault.BadInput, `Measure it, and add --hang "30 cm".`, "how deep the transducer hangs below the water is not told")
		}
	}
	units, _ := quantity.ParseSystem(c.Units)
	metre := quantity.Metre
	if units == quantity.US {
		metre = quantity.Foot
	}
	var err error
	if c.Hang != "" {
		if s.Hang, _, err = quantity.ParseLength(c.Hang, metre); err != nil {
			return s, fault.New(fault.BadInput, "Write it with its unit: 30 cm, 1 ft.", "%q is no length", c.Hang)
		}
	}
	if c.Assumed != "" {
		if s.Assumed, err = quantity.ParseSpeed(c.Assumed, quantity.MetrePerSecond); err != nil {
			return s, fault.New(fault.BadInput, "Write it as 1500 m/s.", "%q is no speed of sound", c.Assumed)
		}
	}
	if c.Water != "" {
		if s.Water, err = quantity.ParseTemperature(c.Water, units); err != nil {
			return s, fault.New(fault.BadInput, "Write it with its unit: 2 C or 36 F.", "%q is no temperature", c.Water)
		}
	}
	if c.Cone != "" {
		x, err := parseDegrees(c.Cone)
		if err != nil {
			return s, err
		}
		s.Cone = x
	}
	if c.Pulse != "" {
		if s.Pulse, err = time.ParseDuration(c.Pulse); err != nil {
			return s, fault.New(fault.BadInput, "Write it with its unit: 100us.", "%q is no length of a pulse", c.Pulse)
		}
	}
	return s, nil
}

// record writes what was told of the sounder.
func (c sounderCmd) record(ctx context.Context, d *desk.Desk) error {
	return tellSounder(ctx, d, desk.Act{}, c.Back, c.change)
}

// tellSounder changes what was told of the sounder by the time of the act, or takes it back.
func tellSounder(ctx context.Context, d *desk.Desk, a desk.Act, back bool, change func(sounder.Sounder, bool) (sounder.Sounder, error)) error {
	value := sounder.NotTold()
	if !back {
		var s sounder.Sounder
		var told bool
		err := d.Read(ctx, func(v desk.View) error {
			at := a.At
			if at.IsZero() {
				at = d.Clock()
			}
			s, told = sounder.At(v.Lake, at)
			return nil
		})
		if err == nil {
			s, err = change(s, told)
		}
		if err == nil {
			value, err = s.Value()
		}
		if err != nil {
			return err
		}
	}
	return d.Record(ctx, a, &journal.Setting{Key: sounder.Setting, Value: value})
}

func (c sounderCmd) Run(ctx context.Context, g *Globals) error {
	c.Units = g.Units
	switch {
	case c.Back && c.tells() || c.Depth != "" && (c.Back || c.tells()):
		return fault.New(fault.BadInput, "Tell it, take it back, or ask for a depth, one at a time.", "the sounder is told, taken back or asked at once")
	case !c.Back && !c.tells():
		return c.show(ctx, g)
	}
	if err := g.record(ctx, "/local/sounder", c); err != nil {
		return err
	}
	return g.saved()
}

// sounderJSON is what is told of the sounder, and what a shown depth stands for.
type sounderJSON struct {
	Told    bool      `json:"told"`
	Assumed float64   `json:"assumed_m_s,omitempty"`
	Water   *float64  `json:"water_c,omitempty"`
	Hang    *float64  `json:"hang_m,omitempty"`
	Cone    float64   `json:"cone_deg,omitempty"`
	Pulse   int64     `json:"pulse_us,omitempty"`
	Shown   float64   `json:"shown_m,omitempty"`
	True    float64   `json:"depth_m,omitempty"` // as shown when no sounder was told
	Sees    *seesJSON `json:"sees,omitempty"`
}

// seesJSON is what the cone covers on a flat bottom, about.
type seesJSON struct {
	Across  float64 `json:"across_m"`
	Beneath float64 `json:"hidden_beneath_m"`
	AtEdge  float64 `json:"hidden_at_rim_m"`
}

// sounderAnswer fills the answer; shown 0 asks for no depth.
func sounderAnswer(s sounder.Sounder, told bool, shown quantity.Length) sounderJSON {
	out := sounderJSON{Told: told}
	if told {
		water, hang := round(s.Water.Degrees(), 1), round(s.Hang.Metres(), 3)
		out.Assumed, out.Water, out.Hang, out.Cone, out.Pulse = round(s.Assumed.MetresPerSecond(), 1), &water, &hang, round(float64(s.Cone), 1), s.Pulse.Microseconds()
	}
	if shown == 0 {
		return out
	}
	depth := shown
	if told {
		depth = s.True(shown)
	}
	out.Shown, out.True = round(shown.Metres(), 2), round(depth.Metres(), 2)
	if x, ok := s.Sees(depth, 0); told && ok {
		out.Sees = &seesJSON{round(x.Footprint.Metres(), 2), round(x.Beneath.Metres(), 2), round(x.AtEdge.Metres(), 2)}
	}
	return out
}

// deepestShown is more than any lake a guide drills on; ours.
const deepestShown = 500 * quantity.Metre

func (c sounderCmd) show(ctx context.Context, g *Globals) error {
	shown := quantity.Length(0)
	if c.Depth != "" {
		unit := quantity.Metre
		if g.system() == quantity.US {
			unit = quantity.Foot
		}
		x, _, err := quantity.ParseLength(c.Depth, unit)
		if err != nil || !(x > 0) || x > deepestShown {
			return fault.New(fault.BadInput, "Write it with its unit: 8.4 m, 30 ft.", "%q is no depth", c.Depth)
		}
		shown = x
	}
	return g.question(ctx, func(s *session, shape shaper) error {
		return s.Read(ctx, func(v desk.View) error {
			x, told := sounder.At(v.Lake, s.now)
			if g.JSON {
				return g.printJSON(sounderAnswer(x, told, shown))
			}
			if !told {
				g.say("No sounder was told: depths count as shown.")
				return nil
			}
			says := shape.voice.Sounder(x)
			g.say("%s.", strings.ToUpper(says[:1])+says[1:])
			if shown > 0 {
				g.say("%s", shape.voice.TrueDepth(x.True(shown), x))
				if sight, ok := x.Sees(x.True(shown), 0); ok {
					g.say("%s", shape.voice.Sight(sight))
				}
			}
			return nil
		})
	})
}

func parseDegrees(text string) (quantity.Angle, error) {
	x, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(text), "°"), 64)
	if err != nil {
		return 0, fault.New(fault.BadInput, "Give the full angle, as 20.", "%q is no angle", text)
	}
	return quantity.Angle(x), nil
}

// doSounder tells what is known of the sounder.
func (a *asker) doSounder(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time    *time.Time `json:"time"`
		Hang    *float64   `json:"hang_m"`
		Assumed *float64   `json:"assumed_m_s"`
		Water   *float64   `json:"water_c"`
		Cone    *float64   `json:"cone_deg"`
		Pulse   *int64     `json:"pulse_us"`
		Back    bool       `json:"back"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	tells := m.Hang != nil || m.Assumed != nil || m.Water != nil || m.Cone != nil || m.Pulse != nil
	if tells == m.Back {
		return nil, fault.New(fault.BadInput, `Give "hang_m" and what else is known, or "back": true alone.`, "the sounder is neither told nor taken back, or both")
	}
	err = tellSounder(ctx, a.desk, desk.Act{At: at}, m.Back, func(s sounder.Sounder, told bool) (sounder.Sounder, error) {
		if !told {
			if s = sounder.Usual(); m.Hang == nil {
				return s, fault.New(fault.BadInput, `Measure it, and give "hang_m".`, "how deep the transducer hangs below the water is not told")
			}
		}
		if m.Hang != nil {
			s.Hang = quantity.Length(*m.Hang)
		}
		if m.Assumed != nil {
			s.Assumed = quantity.Speed(*m.Assumed)
		}
		if m.Water != nil {
			s.Water = quantity.Celsius(*m.Water)
		}
		if m.Cone != nil {
			s.Cone = quantity.Angle(*m.Cone)
		}
		if m.Pulse != nil {
			s.Pulse = time.Duration(*m.Pulse) * time.Microsecond
		}
		return s, nil
	})
	if err != nil {
		return nil, err
	}
	return map[string]bool{"ok": true}, nil
}

// askSounder answers what is told of the sounder, and what a shown depth stands for.
func (a *asker) askSounder(ctx context.Context, line []byte) (any, error) {
	var m struct {
		verbField
		Time  *time.Time `json:"time"`
		Shown *float64   `json:"shown_m"`
	}
	if err := decode(line, &m); err != nil {
		return nil, err
	}
	at, err := a.at(m.Time)
	if err != nil {
		return nil, err
	}
	shown := quantity.Length(0)
	if m.Shown != nil {
		if shown = quantity.Length(*m.Shown); !(shown > 0) || shown > deepestShown {
			return nil, fault.New(fault.BadInput, "Give the metres that the display shows.", "%g m is no depth", *m.Shown)
		}
	}
	var out sounderJSON
	err = a.desk.Read(ctx, func(v desk.View) error {
		s, told := sounder.At(v.Lake, at)
		out = sounderAnswer(s, told, shown)
		return nil
	})
	return out, err
}
