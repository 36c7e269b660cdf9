package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
)

type iceCmd struct {
	Load  string        `help:"Class of load: on_foot, group, snow_machine, side_by_side, car, truck." default:"on_foot"`
	Mass  string        `help:"Its mass, with a unit: 450 kg." placeholder:"MASS"`
	Pos   string        `name:"at-place" help:"Where: latitude, longitude, or a hole's number today; else where the record last puts you. --at takes it too." placeholder:"POS"`
	To    string        `help:"Also tell how far the straight line to this place was read today: a position or hole." placeholder:"POS"`
	Stay  time.Duration `help:"How long it is to stay in one place: 3h. Beyond 2h the figure is that for standing loads." placeholder:"TIME"`
	Table string        `help:"Put an agency's table in force from now on, by its name; with --by. Recorded. Without a name that fits, the tables are listed." placeholder:"AGENCY"`
	Own   string        `name:"own-table" help:"Put a table of your own in force, from a JSON file with agency, jurisdiction, dated, source and least_cm by class; with --by. Recorded." placeholder:"FILE" type:"path"`
	Lower float64       `name:"strength" help:"Lower A of the load formula, in kg/cm2; 3.5 is the default and the most. Recorded." placeholder:"A"`
	By    string        `help:"Who answers for a table that asks for less than the default." placeholder:"NAME"`
}

func (c iceCmd) Run(ctx context.Context, g *Globals) error {
	switch {
	case c.Lower != 0:
		return c.lower(ctx, g)
	case c.Own != "":
		return c.enter(ctx, g)
	case c.Table != "":
		return c.choose(ctx, g)
	}
	load, err := c.load()
	if err != nil {
		return err
	}
	if c.Pos == "" && isPlace(g.At) { // --at is a time everywhere else; here people write a place
		c.Pos, g.At = g.At, ""
	}
	return g.question(ctx, func(s *session, sh shaper) error {
		where, err := placeOrHole(ctx, s, c.Pos)
		if err != nil {
			return err
		}
		to, err := placeOrHole(ctx, s, c.To)
		if err != nil {
			return err
		}
		var line *safety.Tested
		if to != nil {
			t, err := s.TestedTo(ctx, where, *to)
			if err != nil {
				return err
			}
			line = &t
		}
		a, err := s.Ice(ctx, where, load)
		if err != nil {
			return err
		}
		on, err := s.OnIce(ctx)
		if err != nil {
			return err
		}
		if g.JSON {
			return g.printJSON(sh.iceFully(a, on, line))
		}
		g.printIce(sh.voice.Ice(a))
		if line != nil {
			g.lines("", sh.voice.Tested(*line)...)
		}
		if len(on.Judged) > 0 {
			g.say("Standing on the ice:")
			for _, x := range on.Judged {
				t := sh.voice.Stood(x)
				g.say("  %s", t.Says)
				g.lines("    ", t.Lines...)
			}
		}
		g.say("%s", say.TestAsYouGo)
		return nil
	})
}

func (c iceCmd) load() (safety.Load, error) {
	load := safety.Load{Class: c.Load, Stay: c.Stay}
	if !safety.KnownClass(c.Load) {
		return load, fault.New(fault.BadInput, "Use on_foot, group, snow_machine, side_by_side, car or truck.", "%q is no class of load", c.Load)
	}
	if c.Stay < 0 {
		return load, fault.New(fault.BadInput, "Write a length of time such as 3h or 90m.", "a stay cannot be shorter than none")
	}
	if c.Mass == "" {
		return load, nil
	}
	m, err := quantity.ParseMass(c.Mass, 0)
	if err != nil || !(m > 0) {
		return load, fault.New(fault.BadInput, "Write a mass above zero with its unit, such as 450 kg or 990 lb.", "%q is not a mass", c.Mass)
	}
	load.Mass = m
	return load, nil
}

// isPlace tells a place from a time: a position has a comma, or a hole is named.
func isPlace(text string) bool {
	_, err := holeNumber(text)
	return err == nil || strings.Contains(text, ",")
}

// holeNumber reads "hole 12" or "12".
func holeNumber(text string) (int64, error) {
	return strconv.ParseInt(strings.TrimSpace(strings.TrimPrefix(strings.ToLower(strings.TrimSpace(text)), "hole")), 10, 32)
}

// placeOrHole reads a position or a hole of today; nothing is nil.
func placeOrHole(ctx context.Context, s *session, text string) (*geo.Local, error) {
	if n, err := holeNumber(text); err == nil {
		return holeOfToday(ctx, s, n)
	}
	at, err := s.place(ctx, text)
	if err != nil || at == nil {
		return nil, err
	}
	return &at.At, nil
}

func holeOfToday(ctx context.Context, s *session, number int64) (at *geo.Local, err error) {
	err = s.Read(ctx, func(v desk.View) error {
		for _, h := range v.Lake.HolesOn(v.Today) {
			if h.Number == number && h.Placed {
				at = &h.At
			}
		}
		if at == nil {
			return fault.New(fault.NotFound, "Name a hole of today, or write latitude, longitude.", "hole %d of today has no place on record", number)
		}
		return nil
	})
	return at, err
}

// iceTable puts a table in force: an agency's by name, or one of the outfit's own.
type iceTable struct {
	Agency, By string
	Own        *safety.Table
}

func (c iceTable) record(ctx context.Context, d *desk.Desk) error {
	if c.Own != nil {
		return d.EnterTable(ctx, desk.Act{}, *c.Own)
	}
	return d.ChooseTable(ctx, desk.Act{}, c.Agency, c.By)
}

// iceStrength lowers A of the load formula, in kg/cm2.
type iceStrength struct{ A float64 }

func (c iceStrength) record(ctx context.Context, d *desk.Desk) error {
	return d.LowerStrength(ctx, desk.Act{}, quantity.Pressure(c.A)*quantity.KilogramPerSquareCentimetre)
}

// choose records which table is in force.
func (c iceCmd) choose(ctx context.Context, g *Globals) error {
	known := false
	var names []string
	for _, t := range safety.Tables() {
		known = known || t.Agency == c.Table
		names = append(names, t.Agency)
	}
	if !known {
		return fault.New(fault.BadInput, "Choose one of: "+strings.Join(names, "; ")+".", "%q is no table on record", c.Table)
	}
	if err := g.record(ctx, "/local/ice-table", iceTable{Agency: c.Table, By: c.By}); err != nil {
		return err
	}
	if g.JSON {
		return g.printJSON(map[string]any{"ok": true, "table": c.Table, "by": c.By})
	}
	g.say("Table in force from now: %s. %s", c.Table, say.TestAsYouGo)
	return nil
}

// lower records a lower strength of the formula.
func (c iceCmd) lower(ctx context.Context, g *Globals) error {
	if err := g.record(ctx, "/local/ice-strength", iceStrength{c.Lower}); err != nil {
		return err
	}
	if g.JSON {
		return g.printJSON(map[string]any{"ok": true, "strength_kg_cm2": c.Lower})
	}
	g.say("The load formula counts with %g kg/cm2 from now. %s", c.Lower, say.TestAsYouGo)
	return nil
}

// ownTable is a table in a file.
type ownTable struct {
	Agency       string             `json:"agency"`
	Jurisdiction string             `json:"jurisdiction"`
	Dated        string             `json:"dated"`
	Source       string             `json:"source"`
	Least        map[string]float64 `json:"least_cm"`
}

// mostTable bounds the file of a table.
const mostTable = 64 << 10

// enter records a table of the outfit's own.
func (c iceCmd) enter(ctx context.Context, g *Globals) error {
	hint := `Write {"agency":"...","jurisdiction":"...","dated":"2026-01-10","source":"...","least_cm":{"on_foot":18,"snow_machine":28}}.`
	data, err := os.ReadFile(c.Own)
	if err != nil {
		return fault.Wrap(err, fault.BadInput, "Check its name and your rights.", "the file %s cannot be read", c.Own)
	}
	var t ownTable
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if len(data) > mostTable || d.Decode(&t) != nil {
		return fault.New(fault.BadInput, hint, "the file %s holds no table", c.Own)
	}
	table := safety.Table{Agency: t.Agency, Jurisdiction: t.Jurisdiction, Dated: t.Dated, Source: t.Source, Editor: c.By, Least: map[string]quantity.Length{}}
	for class, cm := range t.Least {
		table.Least[class] = quantity.Length(cm) * quantity.Centimetre
	}
	if err := g.record(ctx, "/local/ice-table", iceTable{By: c.By, Own: &table}); err != nil {
		return err
	}
	if g.JSON {
		return g.printJSON(map[string]any{"ok": true, "table": t.Agency, "by": c.By})
	}
	g.say("Table in force from now: %s. %s", say.TableName(table), say.TestAsYouGo)
	return nil
}

func (g *Globals) printIce(t say.IceText) {
	g.lines("", t.Of, t.Sentence)
	g.lines("  ", t.Nearest, t.Table, t.Asks, t.Carries, t.Together)
	g.lines("  ", t.Basis...)
	g.lines("  ", t.Moving...)
	g.lines("  - ", t.Refusals...)
	g.lines("  ! ", t.Hazards...)
}

// iceFullJSON is an ice answer with all it rests on.
type iceFullJSON struct {
	iceJSON
	ThinnestCm float64     `json:"thinnest_hole_effective_cm,omitempty"`
	Zone       string      `json:"zone"`
	LowCm      float64     `json:"estimate_low_effective_cm,omitempty"`
	MiddleCm   float64     `json:"estimate_middle_effective_cm,omitempty"`
	FieldHoles int         `json:"estimate_holes"`
	Column     *columnJSON `json:"column,omitempty"`
	NoColumn   string      `json:"no_column,omitempty"`
	TogetherKg float64     `json:"load_with_what_is_near_kg"`
	Near       int         `json:"loads_near"`
	Moving     *movingJSON `json:"in_motion,omitempty"`
	Standing   []stoodJSON `json:"standing"`
	Line       *lineJSON   `json:"line,omitempty"`
}

type lineJSON struct {
	LengthM   float64 `json:"length_m"`
	UntestedM float64 `json:"untested_m"`
	FirstM    float64 `json:"first_untested_m"`
	SpacingM  float64 `json:"spacing_m"`
	Hazards   int     `json:"hazards"`
}

// columnJSON holds ranges of nine in ten, in centimetres.
type columnJSON struct {
	At          string     `json:"at"`
	TotalCm     [2]float64 `json:"total_cm"`
	WhiteCm     [2]float64 `json:"white_cm"`
	SnowCm      [2]float64 `json:"snow_cm"`
	EffectiveCm [2]float64 `json:"effective_cm"`
	WaterCm     [2]float64 `json:"water_below_top_cm"`
	Slush       float64    `json:"slush_chance"`
}

type movingJSON struct {
	LimitKmh   float64 `json:"limit_kmh"`
	ShoreKmh   float64 `json:"limit_near_shore_kmh"`
	FromKmh    float64 `json:"waves_from_kmh"`
	ToKmh      float64 `json:"waves_to_kmh"`
	DepthKnown bool    `json:"depth_known"`
}

type stoodJSON struct {
	What       string   `json:"what"`
	MassKg     float64  `json:"mass_kg"`
	Since      string   `json:"since"`
	MoveBy     string   `json:"move_by"`
	Overdue    bool     `json:"overdue"`
	TogetherKg float64  `json:"on_its_spot_kg"`
	CarriesKg  float64  `json:"calculated_load_kg,omitempty"`
	Over       bool     `json:"over"`
	Rim        string   `json:"rim"`
	TooNearM   float64  `json:"vehicle_too_near_m,omitempty"`
	Text       []string `json:"text"`
}

func (s shaper) iceFully(a safety.IceAnswer, on desk.Loads, line *safety.Tested) iceFullJSON {
	cm := func(l quantity.Length) float64 { return round(l.Centimetres(), 1) }
	kmh := func(v quantity.Speed) float64 { return round(v.KilometresPerHour(), 1) }
	b := a.Basis
	out := iceFullJSON{iceJSON: s.ice(a), ThinnestCm: cm(b.Least), Zone: string(b.Zone), LowCm: cm(b.Spot.Low), MiddleCm: cm(b.Spot.Middle), FieldHoles: b.Holes,
		NoColumn: b.Missing, TogetherKg: round(a.Together.Kilograms(), 0), Near: a.Near, Standing: []stoodJSON{}}
	if e := b.Column; e != nil {
		of := func(r icecover.Range) [2]float64 { return [2]float64{cm(r.Low), cm(r.High)} }
		out.Column = &columnJSON{s.time(e.At), of(e.Total), of(e.White), of(e.Snow), of(e.Effective), of(e.Water), round(e.Slush, 2)}
	}
	if m := a.Moving; m != nil {
		out.Moving = &movingJSON{kmh(m.Limit), kmh(m.Shore), kmh(m.Band.Low), kmh(m.Band.High), m.DepthKnown}
	}
	if line != nil {
		m := func(l quantity.Length) float64 { return round(l.Metres(), 0) }
		out.Line = &lineJSON{m(line.Length), m(line.Untested), m(line.First), m(line.Spacing), line.Hazards}
	}
	for _, x := range on.Judged {
		t := s.voice.Stood(x)
		out.Standing = append(out.Standing, stoodJSON{x.What, round(x.Mass.Kilograms(), 0), s.time(x.Since), s.time(x.Due), x.Overdue, round(x.Together.Kilograms(), 0),
			round(x.Carries.Kilograms(), 0), x.Over, string(x.Rim), round(x.TooNear.Metres(), 1), append([]string{t.Says}, t.Lines...)})
	}
	return out
}
