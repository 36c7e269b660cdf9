package desk

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/engine/safety"
	"icehand/internal/physics/ice"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// Ice answers what may be said about a load at a place; a nil place is here.
func (d *Desk) Ice(ctx context.Context, at *geo.Local, load safety.Load) (a safety.IceAnswer, err error) {
	err = d.withIce(ctx, at, func(in safety.IceInput) {
		in.Load = load
		a = safety.Ice(in)
	})
	return a, err
}

// Loads is what is on the ice, and the people whose place is not known.
type Loads struct {
	At       geo.Local // of the answer: here, or where the record last puts the phone
	All      []safety.OnIce
	Judged   []safety.Stood  // those with a clock, in the order of All
	IDs      []uuid.UUID     // of the parked loads, in the order of Judged
	Unplaced int             // people on the ice who sit at no hole
	Reach    quantity.Length // within which loads weigh together, on the thickest ice read of late; 0 where none was
}

// OnIce answers what is on the ice now and what may be said of what stands there.
func (d *Desk) OnIce(ctx context.Context) (s Loads, err error) {
	err = d.withIce(ctx, nil, func(in safety.IceInput) {
		s = Loads{At: in.At, All: in.Standing, Judged: safety.Standing(in)}
		for _, p := range d.lake.Parked {
			if p.Until.IsZero() && !p.Since.After(in.Now) {
				s.IDs = append(s.IDs, p.ID)
			}
		}
		s.Reach = d.reach(in.Now)
		seated := 0
		for _, x := range in.Standing {
			if x.Since.IsZero() {
				seated += int(float64(x.Mass/safety.PersonMass) + 0.5)
			}
		}
		for _, w := range d.party.OnIce(in.Now) {
			if w.OnIce {
				s.Unplaced++
			}
		}
		s.Unplaced = max(0, s.Unplaced-seated)
	})
	return s, err
}

// reach gives how far loads weigh together: two characteristic lengths, where a load still weighs a quarter.
func (d *Desk) reach(now time.Time) quantity.Length {
	var most quantity.Length
	for _, r := range d.lake.Ice {
		if !r.When.After(now) && now.Sub(r.When) < 7*24*time.Hour {
			most = max(most, r.Total)
		}
	}
	return 2 * ice.CharacteristicLength(most, ice.ShortModulus)
}

// TestedTo answers how far the straight line to a place was read today; a nil start is here.
func (d *Desk) TestedTo(ctx context.Context, from *geo.Local, to geo.Local) (t safety.Tested, err error) {
	err = d.withIce(ctx, from, func(in safety.IceInput) { t = safety.TestedAlong([]geo.Local{in.At, to}, in) })
	return t, err
}

// ReadPlaces answers where the ice was read in the last week and how far each hole still speaks.
func (d *Desk) ReadPlaces(ctx context.Context) (out []safety.ReadPlace, err error) {
	err = d.withIce(ctx, nil, func(in safety.IceInput) { out = safety.ReadPlaces(in) })
	return out, err
}

// withIce gathers all that is known of the ice about a place; nil is here, and without a fix the newest hole, which is said.
func (d *Desk) withIce(ctx context.Context, at *geo.Local, f func(safety.IceInput)) error {
	return d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		now := d.Clock()
		here := d.here(now)
		place := d.action(now, here)
		var last *lake.Hole
		switch {
		case at != nil:
			place = *at
		case !here.Known:
			if last = d.lastHole(now); last != nil {
				place = last.At
			}
		default: // a fix cannot tell the hole it was taken at from a place a few metres off
			if h := d.findHole(here, journal.DayOf(now, d.lake.Zone)); h != nil && h.Placed && h.At.Distance(place) <= safety.ReadHere {
				place = h.At
			}
		}
		in, err := d.iceInput(ctx, now, place)
		if err == nil {
			in.NoFix, in.Last = at == nil && !here.Known, last
			f(in)
		}
		return err
	})
}

// iceInput is all that is known of the ice about a place. The caller holds mu.
func (d *Desk) iceInput(ctx context.Context, now time.Time, place geo.Local) (safety.IceInput, error) {
	hours, _, err := d.forecast(ctx)
	if err != nil {
		return safety.IceInput{}, err
	}
	cover, err := d.cover(ctx, now)
	if err != nil {
		return safety.IceInput{}, err
	}
	in := safety.IceInput{Now: now, Zone: d.lake.Zone, At: place, Readings: d.lake.Ice, Hazards: d.lake.Hazards, Holes: d.lake.Holes,
		Air: d.airHours(hours), Table: d.table(now), Strength: d.strength(now), Cover: cover, Standing: d.onIce(now)}
	if s := d.surface(); s != nil {
		if z := s.At(place); z.Known {
			in.Depth = z.Mean
		}
	}
	return in, nil
}

// dawn is the hour of a day for which its ice is told ahead.
const dawn = 7 * time.Hour

// onIce lists what is on the ice at places that are known: parked loads, then people at the holes where they sit.
func (d *Desk) onIce(now time.Time) []safety.OnIce {
	var out []safety.OnIce
	for _, p := range d.lake.Parked {
		if p.Until.IsZero() && !p.Since.After(now) {
			out = append(out, safety.OnIce{What: p.What, Mass: p.Mass, At: p.At, Since: p.Since})
		}
	}
	at, seen := map[uuid.UUID]int{}, map[uuid.UUID]bool{}
	for _, s := range d.party.RodsAt(now) {
		h := d.lake.Hole(s.Hole)
		if h == nil || !h.Placed || s.Guest != uuid.Nil && seen[s.Guest] {
			continue
		}
		seen[s.Guest] = true
		i, there := at[h.ID]
		if !there {
			i = len(out)
			at[h.ID] = i
			out = append(out, safety.OnIce{What: "people", At: h.At})
		}
		out[i].Mass += safety.PersonMass
	}
	return out
}

// tableChoice is the setting of the ice table: the name of an agency's table, or an outfit's own, with who entered it.
type tableChoice struct {
	Agency       string           `json:"agency"`
	By           string           `json:"by"`
	Jurisdiction string           `json:"jurisdiction,omitempty"`
	Dated        string           `json:"dated,omitempty"`
	Source       string           `json:"source,omitempty"`
	Least        map[string]int64 `json:"least_mm,omitempty"`
}

// IceTableSetting is the key of the setting that chooses the ice table.
const IceTableSetting = "ice_table"

// iceStrengthSetting is the key of the setting that lowers A of the load formula, in grams by square centimetre.
const iceStrengthSetting = "ice_a_g_cm2"

// endings are the settings by which a person ends all readings of the ice, with their cause.
var endings = map[string]icecover.Cause{"ice_broken_up": icecover.BrokenUp, "ice_level_changed": icecover.LevelChanged}

// ending is what such a setting holds.
type ending struct {
	At int64  `json:"at"` // ms since 1970
	By string `json:"by,omitempty"`
}

// EndReadings records that wind broke the ice or the water level changed: every reading before that counts no more.
func (d *Desk) EndReadings(ctx context.Context, a Act, cause icecover.Cause, by string) error {
	for key, c := range endings {
		if c != cause {
			continue
		}
		return d.record(ctx, a, func(a Act) error {
			value, err := json.Marshal(ending{a.At.UnixMilli(), strings.TrimSpace(by)})
			if err != nil {
				return fmt.Errorf("desk: ending the ice readings: %w", err)
			}
			return d.write(ctx, item{a.ID, a.At, &journal.Setting{Key: key, Value: value}})
		})
	}
	return fault.New(fault.BadInput, "Say whether the ice broke or the water level changed.", "%q ends no reading", cause)
}

// ended lists what people said that ends readings.
func (d *Desk) ended(now time.Time) []icecover.Event {
	var out []icecover.Event
	for key, cause := range endings {
		var e ending
		if raw := d.lake.Setting(key, now); raw != nil && json.Unmarshal(raw, &e) == nil && e.At > 0 {
			out = append(out, icecover.Event{Cause: cause, From: time.UnixMilli(e.At)})
		}
	}
	slices.SortFunc(out, func(a, b icecover.Event) int { return cmp.Compare(a.Cause, b.Cause) })
	return out
}

// table gives the ice table in force. Any table may be chosen, or entered with its jurisdiction, date and source; one
// looser than the occupational set counts only with the name of the person who chose it, and an own one never without.
func (d *Desk) table(now time.Time) safety.Table {
	var c tableChoice
	raw := d.lake.Setting(IceTableSetting, now)
	if raw == nil || json.Unmarshal(raw, &c) != nil {
		return safety.DefaultTable()
	}
	c.By = strings.TrimSpace(c.By)
	for _, t := range c.tables() {
		if t.Agency == c.Agency && (c.By != "" || safety.Stricter(t, safety.DefaultTable())) {
			t.Editor = c.By
			return t
		}
	}
	return safety.DefaultTable()
}

// tables lists what the choice may name: the agencies' tables, or the one that it brings itself.
func (c tableChoice) tables() []safety.Table {
	if len(c.Least) == 0 {
		return safety.Tables()
	}
	own := safety.Table{Agency: c.Agency, Jurisdiction: c.Jurisdiction, Dated: c.Dated, Source: c.Source, Least: map[string]quantity.Length{}}
	if c.By == "" || c.Agency == "" || c.Jurisdiction == "" || c.Dated == "" || c.Source == "" {
		return nil
	}
	for class, mm := range c.Least {
		if safety.KnownClass(class) && mm > 0 {
			own.Least[class] = quantity.FromMillimetres(mm)
		}
	}
	return []safety.Table{own}
}

// strength gives A of the load formula: the default, or lower when the outfit has set it so.
func (d *Desk) strength(now time.Time) ice.Strength {
	var grams int64
	raw := d.lake.Setting(iceStrengthSetting, now)
	if raw == nil || json.Unmarshal(raw, &grams) != nil {
		return ice.Strength{}
	}
	s, err := ice.LowerStrength(quantity.Pressure(float64(grams)/1000) * quantity.KilogramPerSquareCentimetre)
	if err != nil {
		return ice.Strength{} // what would raise it counts for nothing
	}
	return s
}

// LowerStrength records a lower A of the load formula, from now on; it cannot be raised above the default.
func (d *Desk) LowerStrength(ctx context.Context, a Act, p quantity.Pressure) error {
	if _, err := ice.LowerStrength(p); err != nil {
		return fault.Wrap(err, fault.BadInput, "Write a figure above 0 and at most 3.5, in kg/cm2.", "the formula's strength can only be lowered")
	}
	grams := int64(float64(p/quantity.KilogramPerSquareCentimetre)*1000 + 1e-6)
	return d.Record(ctx, a, &journal.Setting{Key: iceStrengthSetting, Value: json.RawMessage(strconv.FormatInt(max(1, grams), 10))})
}

// EnterTable records an outfit's own table and puts it in force: with jurisdiction, date, source, and who entered it.
func (d *Desk) EnterTable(ctx context.Context, a Act, t safety.Table) error {
	c := tableChoice{Agency: t.Agency, By: strings.TrimSpace(t.Editor), Jurisdiction: t.Jurisdiction, Dated: t.Dated, Source: t.Source, Least: map[string]int64{}}
	for field, value := range map[string]string{"agency": c.Agency, "by": c.By, "jurisdiction": c.Jurisdiction, "dated": c.Dated, "source": c.Source} {
		if strings.TrimSpace(value) == "" {
			return fault.New(fault.BadInput, "Tell agency, jurisdiction, dated, source, and who enters it.", "the table's %q is empty", field)
		}
	}
	if day := journal.Day(strings.TrimSpace(c.Dated)); !day.Valid() || day > journal.DayOf(d.Clock().Add(24*time.Hour), time.UTC) {
		return fault.New(fault.BadInput, "Write its date as 2026-01-10.", "the table's date %q is no day up to today", c.Dated)
	}
	for class, h := range t.Least {
		if !safety.KnownClass(class) || !(h > 0) || h > thickestAsked {
			return fault.New(fault.BadInput, "Classes: on_foot, group, snow_machine, side_by_side, car, truck; thickness above 0 and at most 3 m.", "the table's row %q cannot be", class)
		}
		c.Least[class] = h.Millimetres()
	}
	if len(c.Least) == 0 {
		return fault.New(fault.BadInput, "Give at least one class.", "the table has no rows")
	}
	value, err := json.Marshal(c)
	if err != nil {
		return fmt.Errorf("desk: entering an ice table: %w", err)
	}
	return d.Record(ctx, a, &journal.Setting{Key: IceTableSetting, Value: value})
}

// thickestAsked bounds what a table may ask for: more is a slip of the pen.
const thickestAsked = 3 * quantity.Metre

// ChooseTable records which agency's table is in force from now on, and who chose it.
func (d *Desk) ChooseTable(ctx context.Context, a Act, agency, by string) error {
	value, err := safety.Choice(agency, strings.TrimSpace(by))
	if err != nil {
		return err
	}
	return d.Record(ctx, a, &journal.Setting{Key: IceTableSetting, Value: value})
}
