package desk

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/tackle"
	"icehand/internal/trade/journal"
)

// TackleAsk is a lure on a line under a hole. [TackleText.Ask] fills what was left out.
type TackleAsk struct {
	Depth    quantity.Length
	Mass     quantity.Mass
	Of       string // lead, tungsten, brass, tin
	Line     string // nylon, fluorocarbon, braid
	Diameter quantity.Length
	Tip      string          // soft, middling, stiff
	Bite     quantity.Length // how far the fish moves the lure
	Current  quantity.Speed
	Lean     quantity.Angle // of the line at the hole; in place of a current
	Aside    quantity.Length
	Lure     string // name of a lure whose drop was timed
	Water    quantity.Celsius
}

// usualTackle is what is reckoned with where nothing is told; ours.
var usualTackle = TackleAsk{Depth: 10 * quantity.Metre, Mass: 3 * quantity.Gram, Of: "lead", Line: "nylon", Diameter: 0.15 * quantity.Millimetre, Tip: "middling",
	Bite: 2 * quantity.Centimetre, Aside: 0.5 * quantity.Metre, Water: 2}

// weights lists what lures are made of; tips how stiff a tip is, N/m (ours, no source).
var (
	weightOf = map[string]quantity.Density{"lead": tackle.Lead, "tungsten": tackle.Tungsten, "brass": tackle.Brass, "tin": tackle.Tin}
	tipOf    = map[string]float64{"soft": 3, "middling": 10, "stiff": 40}
)

// TackleWeights, TackleLines and TackleTips list the words that may be chosen.
func TackleWeights() []string { return []string{"lead", "tungsten", "brass", "tin"} }

// TackleLines lists what lines are made of.
func TackleLines() []string { return []string{"nylon", "fluorocarbon", "braid"} }

// TackleTips lists how stiff a tip may be.
func TackleTips() []string { return []string{"soft", "middling", "stiff"} }

// Fall is how long a lure takes to a depth.
type Fall struct {
	Depth quantity.Length
	Time  time.Duration
}

// TackleSheet answers a [TackleAsk]. Pairs are the bounds of what is known of the line, the stiffer end first; they are equal
// where a hung weight told the line.
type TackleSheet struct {
	TackleAsk
	Timed    *TimedDrop // nil: a bare sphere of that weight, so "at least"
	Falls    []Fall     // by depth; one of them the depth asked for
	Sinks    time.Duration
	Speed    quantity.Speed
	LineHung *HungWeight
	TipHung  *HungWeight
	TipForce float64            // N/m
	Stretch  [2]quantity.Length // under a pull of one newton, about the weight of 100 g
	Pull     [2]tackle.Bite
	Lift     [2]tackle.Bite
	Flows    bool
	FromLean bool
	TooFast  bool // no current up to a metre a second leans the line so
	Blown    tackle.Blown
	Heavy    quantity.Mass
	Held     bool // Heavy is enough
}

// TimedDrop is one timed drop.
type TimedDrop struct {
	Lure  string    `json:"lure"`
	Mass  int64     `json:"mass_mg"`
	Of    string    `json:"of"`
	Depth int64     `json:"depth_mm"`
	Took  int64     `json:"took_ms"`
	Back  bool      `json:"back,omitempty"` // taken back
	When  time.Time `json:"-"`
}

// HungWeight is one hung weight: with no line out it tells the tip, else the line.
type HungWeight struct {
	Line     string    `json:"line,omitempty"`
	Diameter int64     `json:"diameter_um,omitempty"`
	Tip      string    `json:"tip"`
	Out      int64     `json:"out_mm"`
	Mass     int64     `json:"mass_mg"`
	Droop    int64     `json:"droop_um"`
	Back     bool      `json:"back,omitempty"`
	When     time.Time `json:"-"`
}

// Keys of the settings that hold the outfit's own figures.
const (
	timedSetting = "tackle_drop"
	hungSetting  = "tackle_hung"
)

// ownTackle reads the outfit's own figures: the newest drop of each lure, and the newest hung weight of each line and tip.
func (v View) ownTackle() (drops []TimedDrop, hung []HungWeight) {
	for _, s := range slices.Backward(v.Lake.Settings(timedSetting)) {
		var x TimedDrop
		if s.When.After(v.Now) || json.Unmarshal(s.Value, &x) != nil || weightOf[x.Of] == 0 || x.Mass <= 0 || x.Depth <= 0 || x.Took <= 0 && !x.Back {
			continue
		}
		if x.When = s.When; !slices.ContainsFunc(drops, func(o TimedDrop) bool { return strings.EqualFold(o.Lure, x.Lure) }) {
			drops = append(drops, x)
		}
	}
	for _, s := range slices.Backward(v.Lake.Settings(hungSetting)) {
		var x HungWeight
		if s.When.After(v.Now) || json.Unmarshal(s.Value, &x) != nil || x.Mass <= 0 {
			continue
		}
		if x.When = s.When; !slices.ContainsFunc(hung, func(o HungWeight) bool { return o.same(x) }) {
			hung = append(hung, x)
		}
	}
	return slices.DeleteFunc(drops, func(x TimedDrop) bool { return x.Back }), slices.DeleteFunc(hung, func(x HungWeight) bool { return x.Back })
}

// same tells whether two hung weights told the same thing.
func (w HungWeight) same(o HungWeight) bool {
	return w.Out == 0 && o.Out == 0 && w.Tip == o.Tip || w.Out > 0 && o.Out > 0 && w.Line == o.Line && w.Diameter == o.Diameter
}

// Drops lists the lures whose drop was timed, the newest first.
func (v View) Drops() []TimedDrop {
	drops, _ := v.ownTackle()
	return drops
}

// weight gives the lure of a timed drop with its slowness.
func (x TimedDrop) weight(water tackle.Water) (tackle.Weight, error) {
	w := tackle.Weight{Mass: quantity.Mass(x.Mass) * quantity.Gram / 1000, Density: weightOf[x.Of]}
	return tackle.Timed(w, water, quantity.FromMillimetres(x.Depth), time.Duration(x.Took)*time.Millisecond)
}

// Tackle answers how a lure behaves, with the outfit's own figures where it has some.
func (v View) Tackle(q TackleAsk) (TackleSheet, error) {
	s := TackleSheet{TackleAsk: q, TipForce: tipOf[q.Tip]}
	water := tackle.WaterAt(q.Water)
	drops, hung := v.ownTackle()
	slowness := 0.0
	if i := slices.IndexFunc(drops, func(x TimedDrop) bool { return q.Lure != "" && strings.EqualFold(x.Lure, q.Lure) }); i >= 0 {
		s.Timed = &drops[i]
		timed, err := drops[i].weight(water)
		if err != nil {
			return s, fault.Wrap(err, fault.BadInput, "Time it again, or take it back.", "the timed drop of %s cannot be", drops[i].Lure)
		}
		slowness = timed.Slowness
		if s.Mass == 0 {
			s.Mass = timed.Mass
		}
		s.Of = cmp.Or(s.Of, drops[i].Of)
	} else if q.Lure != "" {
		return s, fault.New(fault.NotFound, "Time a drop of it first: how deep, how many seconds.", "no drop of %q is on record", q.Lure)
	}
	w := tackle.Weight{Mass: s.Mass, Density: weightOf[s.Of], Slowness: slowness}
	s.Speed, s.Sinks = w.Terminal(water), w.Sink(water, q.Depth)
	for z := 2 * quantity.Metre; z <= 16*quantity.Metre; z += 2 * quantity.Metre {
		s.Falls = append(s.Falls, Fall{z, w.Sink(water, z)})
	}
	s.rig(hung, w.Submerged(water))
	s.current(w, water)
	return s, nil
}

// rig answers for the line and the tip.
func (s *TackleSheet) rig(hung []HungWeight, submerged quantity.Force) {
	m, _ := tackle.MaterialOf(s.Line)
	moduli := [2]float64{m.Modulus.High, m.Modulus.Low}
	for i, x := range hung {
		if x.Out == 0 && x.Tip == s.Tip {
			if r, err := x.rig(0); err == nil {
				s.TipForce, s.TipHung = r.Tip, &hung[i]
			}
		}
	}
	for i, x := range hung {
		if x.Out > 0 && x.Line == s.Line && x.Diameter == micrometres(s.Diameter) {
			tip := tipOf[x.Tip]
			if s.TipHung != nil && x.Tip == s.Tip {
				tip = s.TipForce
			}
			if r, err := x.rig(tip); err == nil {
				moduli, s.LineHung = [2]float64{r.Modulus, r.Modulus}, &hung[i]
			}
		}
	}
	for i, E := range moduli {
		r := tackle.Rig{Out: s.Depth, Diameter: s.Diameter, Modulus: E, Tip: s.TipForce}
		s.Stretch[i], s.Pull[i], s.Lift[i] = r.Stretch(quantity.Newton), r.Pull(s.Bite), r.Lift(s.Bite, submerged)
	}
}

// rig gives what a hung weight told of a rig; the tip is the one known, for a weight with line out.
func (w HungWeight) rig(tip float64) (tackle.Rig, error) {
	r := tackle.Rig{Out: quantity.FromMillimetres(w.Out), Diameter: quantity.Length(w.Diameter) * quantity.Millimetre / 1000, Modulus: 1, Tip: tip}
	return tackle.Hung(r, quantity.Mass(w.Mass)*quantity.Gram/1000, quantity.Length(w.Droop)*quantity.Millimetre/1000)
}

func micrometres(l quantity.Length) int64 { return (1000 * l).Millimetres() }

// current answers for the current told, or for the one that leans the line so.
func (s *TackleSheet) current(w tackle.Weight, water tackle.Water) {
	if s.Lean > 0 {
		s.FromLean = true
		u, ok := tackle.Current(w, s.Diameter, water, s.Depth, s.Lean)
		if s.Current, s.TooFast = u, !ok; !ok {
			return
		}
	}
	if s.Flows = s.Current > 0; !s.Flows {
		return
	}
	s.Blown = tackle.Drift(w, s.Diameter, water, s.Depth, s.Current)
	s.Heavy, s.Held = tackle.Heavy(w.Density, s.Diameter, water, s.Depth, s.Current, s.Aside)
}

// TellDrop records one timed drop; one of a lure that is told again replaces the first, and a drop of no time takes it back.
func (d *Desk) TellDrop(ctx context.Context, a Act, t TackleText, took string) error {
	q, err := t.Ask()
	if err != nil {
		return err
	}
	x := TimedDrop{Lure: strings.TrimSpace(t.Lure), Mass: milligrams(q.Mass), Of: q.Of, Depth: q.Depth.Millimetres()}
	if x.Of = cmp.Or(q.Of, usualTackle.Of); q.Mass == 0 && x.Lure != "" {
		return fault.New(fault.BadInput, "Add its weight, such as 3 g.", "a timed drop needs the lure's weight")
	}
	if x.Lure == "" || len(x.Lure) > 40 {
		return fault.New(fault.BadInput, "Give the lure a short name of its own, such as red spoon.", "a timed drop needs the lure's name")
	}
	if x.Back = strings.TrimSpace(took) == ""; !x.Back {
		sec, err := quantity.ParseNumber(strings.TrimSuffix(strings.TrimSpace(took), "s"))
		if err != nil || !(sec > 0 && sec <= 600) {
			return fault.New(fault.BadInput, "Write the seconds, such as 21.", "%q is no time of a drop", took)
		}
		x.Took = int64(1000 * sec)
		if _, err := x.weight(tackle.WaterAt(q.Water)); err != nil {
			w := tackle.Weight{Mass: q.Mass, Density: weightOf[x.Of]}
			return fault.Wrap(err, fault.BadInput, "Check depth, weight and seconds, and time it again.", "a bare ball of that weight needs %.0f s to that depth; %s s cannot be", w.Sink(tackle.WaterAt(q.Water), q.Depth).Seconds(), took)
		}
	}
	value, err := json.Marshal(x)
	if err != nil {
		return fmt.Errorf("desk: a timed drop: %w", err)
	}
	return d.Record(ctx, a, &journal.Setting{Key: timedSetting, Value: value})
}

// TellHung records one hung weight: with line out it tells the line, with none the tip. No droop takes it back.
func (d *Desk) TellHung(ctx context.Context, a Act, t TackleText, out, weight, droop string) error {
	q, err := t.Ask()
	if err != nil {
		return err
	}
	x := HungWeight{Tip: q.Tip}
	if out = strings.TrimSpace(out); out != "" && out != "0" {
		l, _, err := quantity.ParseLength(out, t.unit())
		if err != nil || !(l >= 0.5*quantity.Metre && l <= 100*quantity.Metre) {
			return fault.New(fault.BadInput, "Write the length of line between tip and weight, such as 10 m; leave it empty to tell the tip.", "%q is no length of line", out)
		}
		x.Out, x.Line, x.Diameter = l.Millimetres(), q.Line, micrometres(q.Diameter)
	}
	m, err := quantity.ParseMass(weight, quantity.Gram)
	if err != nil || !(m > 0 && m <= 2*quantity.Kilogram) {
		return fault.New(fault.BadInput, "Write the weight that was hung, such as 20 g.", "%q is no weight to hang", weight)
	}
	x.Mass = milligrams(m)
	if x.Back = strings.TrimSpace(droop) == ""; !x.Back {
		l, _, err := quantity.ParseLength(droop, quantity.Centimetre)
		if err != nil || !(l > 0 && l <= 10*quantity.Metre) {
			return fault.New(fault.BadInput, "Write how far the weight sank below where the bare line ended, such as 14 cm.", "%q is no droop", droop)
		}
		x.Droop = micrometres(l)
		if _, err := x.rig(tipOf[q.Tip]); err != nil {
			return fault.Wrap(err, fault.BadInput, "Hang it once with no line out first: that tells the tip.", "the tip alone gives more than %s", droop)
		}
	}
	value, err := json.Marshal(x)
	if err != nil {
		return fmt.Errorf("desk: a hung weight: %w", err)
	}
	return d.Record(ctx, a, &journal.Setting{Key: hungSetting, Value: value})
}
