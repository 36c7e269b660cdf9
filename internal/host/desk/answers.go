package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/engine/ground"
	"icehand/internal/engine/safety"
	"icehand/internal/feed/weather"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// thinkOver is how old a first answer is before it is thought over; our own choice.
const thinkOver = 5 * time.Second

// stepCache keeps the last next step until something new is recorded, the phone moves or a minute goes by. Asked for
// again meanwhile, it is thought over once.
type stepCache struct {
	over bool // thought over
	pos  uint64
	now  time.Time
	here advise.Place
	step advise.Step
	ok   bool
}

// Next answers: what now, and why? from overrides the phone's place when it is known.
func (d *Desk) Next(ctx context.Context, from *advise.Place) (step advise.Step, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		now := d.Clock()
		here := d.here(now)
		if from != nil {
			here = *from
		}
		c, again := &d.step, false
		moved := here.Known != c.here.Known || here.Known && here.At.Distance(c.here.At) > 3*quantity.Metre
		if c.ok && c.pos == uint64(d.pos) && !moved && now.Sub(c.now) < time.Minute && !now.Before(c.now) {
			if c.over || now.Sub(c.now) < thinkOver {
				step = c.step
				return nil
			}
			again = true
		}
		in, err := d.input(ctx, now, here)
		if err != nil {
			return err
		}
		in.Answers = true
		if again {
			in.Budget = advise.MoreBudget
		}
		if step, err = advise.Next(ctx, in); err != nil {
			return fmt.Errorf("desk: next step: %w", err)
		}
		*c = stepCache{over: again, pos: uint64(d.pos), now: now, here: here, step: step, ok: true}
		return nil
	})
	return step, err
}

// Odds answers: where are schools likely now, over the working area?
func (d *Desk) Odds(ctx context.Context) (m advise.OddsMap, err error) {
	err = d.withInput(ctx, func(in advise.Input) error {
		m, err = advise.MapOdds(ctx, in)
		return err
	})
	return m, err
}

// OddsAt answers: what are the odds at this place, and why?
func (d *Desk) OddsAt(ctx context.Context, at geo.Local) (o advise.Odds, why []advise.Reason, err error) {
	err = d.withInput(ctx, func(in advise.Input) error {
		o, why, err = advise.Here(ctx, in, at)
		return err
	})
	return o, why, err
}

// Evening answers: where to start on a day, and when?
func (d *Desk) Evening(ctx context.Context, day journal.Day) (p advise.EveningPlan, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		in, err := d.input(ctx, d.Clock(), advise.Place{})
		if err != nil {
			return err
		}
		if in.Surface = d.surface(); in.Surface == nil {
			return fmt.Errorf("desk: evening plan: %w", d.noOutline())
		}
		in.Ends, in.Law = d.ends(day), d.duskLaw(day)
		t := d.party.Trip(day)
		in.Spare = &advise.Spare{Selective: t != nil && t.Aim == "size"}
		if p, err = advise.Evening(ctx, in, string(day)); err != nil || len(p.Starts) == 0 {
			return err
		}
		at, err := d.iceInput(ctx, in.Now, p.Starts[0].At) // with the column and what stands there
		if err != nil {
			return err
		}
		at.Load = safety.Load{Class: p.Ice.Load.Class}
		p.Ice = safety.Ice(at)
		p.Ice.Basis.Ahead = d.ahead(ctx, p.Ice.Basis.Zone, day.Midnight(d.lake.Zone).Add(dawn))
		return nil
	})
	return p, err
}

func (d *Desk) withInput(ctx context.Context, f func(advise.Input) error) error {
	return d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		now := d.Clock()
		in, err := d.input(ctx, now, d.here(now))
		if err != nil {
			return err
		}
		return f(in)
	})
}

// input gathers all that the engine may know. The caller holds mu.
func (d *Desk) input(ctx context.Context, now time.Time, here advise.Place) (advise.Input, error) {
	hours, issued, err := d.forecast(ctx)
	if err != nil {
		return advise.Input{}, err
	}
	about := d.action(now, here)
	surface, err := d.near(ctx, about)
	if err != nil {
		return advise.Input{}, err
	}
	if surface == nil {
		return advise.Input{}, d.noOutline()
	}
	in := advise.Input{Now: now, Lake: d.lake, Party: d.party, Surface: surface, Forecast: hours, Issued: issued, Scout: here,
		Seed: d.opt.Seed, Options: d.options(now)}
	if in.Cover, err = d.cover(ctx, now); err != nil {
		return advise.Input{}, err
	}
	for _, e := range d.ended(now) {
		if e.From.After(in.IceEnded) {
			in.IceEnded = e.From
		}
	}
	today := journal.DayOf(now, d.lake.Zone)
	in.Law = d.duskLaw(today)
	if t := d.party.Trip(today); t != nil {
		in.Aim, in.AimFor = t.Aim, t.AimFor
	}
	in.Spare = &advise.Spare{Selective: in.Aim == "size"}
	for _, s := range d.party.RodsAt(now) {
		r := advise.Rod{Number: s.Rod, Hole: s.Hole, Since: s.From, Sit: s.ID}
		if h := d.lake.Hole(s.Hole); h != nil && h.Placed {
			r.At = h.At
		}
		in.Rods = append(in.Rods, r)
	}
	in.NotThere = d.notThere()
	in.Home = d.turnBack(now, here, hours, issued)
	in.Wide = d.surface()
	in.TurnBackAt = func(p geo.Local) safety.TurnBack {
		return d.turnBack(now, advise.Place{At: p, Known: true, Fixed: now}, hours, issued)
	}
	in.Memory, err = d.remember(ctx, today, in)
	return in, err
}

// memoryCache keeps what the engine made of the past days, until the day turns, the working area moves, or an entry
// comes in that may concern a past day.
type memoryCache struct {
	day    journal.Day
	centre geo.Local
	memory *advise.Memory
}

// saw drops the memory when an entry may concern a day other than the memory's own.
func (m *memoryCache) saw(e *journal.Entry) {
	if ruling(e) { // it concerns its own day alone
		return
	}
	switch e.Kind {
	case journal.KindAmend, journal.KindRetract, journal.KindLake, journal.KindSketch, journal.KindSetting:
		m.memory = nil
	default:
		if e.Day != m.day {
			m.memory = nil
		}
	}
}

func (d *Desk) remember(ctx context.Context, today journal.Day, in advise.Input) (*advise.Memory, error) {
	if m := &d.memory; m.memory != nil && m.day == today && m.centre == d.ground.centre {
		return m.memory, nil
	}
	memory, err := advise.Remember(ctx, in)
	if err != nil {
		return nil, fmt.Errorf("desk: past days: %w", err)
	}
	d.memory = memoryCache{today, d.ground.centre, memory}
	return memory, nil
}

// action gives the middle of the working area: the phone's place, else today's newest hole, else the newest hole at
// all, else the lake's origin.
func (d *Desk) action(now time.Time, here advise.Place) geo.Local {
	if here.Known {
		return here.At
	}
	if h := d.lastHole(now); h != nil {
		return h.At
	}
	return geo.Local{}
}

// lastHole gives the newest hole with a place; nil without any.
func (d *Desk) lastHole(now time.Time) *lake.Hole {
	for i := len(d.lake.Holes) - 1; i >= 0; i-- {
		if h := d.lake.Holes[i]; h.Placed && !h.Drilled.After(now) {
			return h
		}
	}
	return nil
}

// options reads the outfit's dated settings.
func (d *Desk) options(now time.Time) advise.Options {
	var o advise.Options
	number := func(key string) (float64, bool) {
		var v float64
		raw := d.lake.Setting(key, now)
		return v, raw != nil && json.Unmarshal(raw, &v) == nil
	}
	if v, ok := number("walk_speed_mms"); ok {
		o.WalkSpeed = quantity.Speed(v / 1000)
	}
	if v, ok := number(paceSetting); ok {
		o.Pace = quantity.FromMillimetres(int64(v))
	}
	if v, ok := number("good_length_mm"); ok {
		o.GoodLength = quantity.FromMillimetres(int64(v))
	}
	if v, ok := number(claritySetting); ok {
		o.Clarity = quantity.FromMillimetres(int64(v))
	}
	if v, ok := number("look_s"); ok {
		o.LookLength = time.Duration(v) * time.Second
	}
	if v, ok := number("set_up_s"); ok {
		o.SetUp = time.Duration(v) * time.Second
	}
	o.Table = d.table(now)
	o.HolesLeft = d.holesLeft(now)
	return o
}

// holesLeft turns the ice that the batteries can drill into holes at the day's mean thickness; 0 when not told.
func (d *Desk) holesLeft(now time.Time) int {
	today := journal.DayOf(now, d.lake.Zone)
	t := d.party.Trip(today)
	if t == nil || t.Drill == 0 {
		return 0
	}
	ice, n := 0.0, 0
	for _, r := range d.lake.Ice {
		if r.Day == today {
			ice, n = ice+r.Total.Metres(), n+1
		}
	}
	if n == 0 {
		return 0
	}
	mean := ice / float64(n)
	left := int((t.Drill.Metres()-mean*float64(len(d.lake.HolesOn(today))))/mean + 0.5)
	return max(left, 1)
}

// Weather answers what it is like out there now: the newest observation, else the forecast's hour.
func (d *Desk) Weather(ctx context.Context) (w Now, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		hours, issued, err := d.forecast(ctx)
		if err != nil {
			return err
		}
		w = d.weather(d.Clock(), hours)
		w.Issued = issued
		return nil
	})
	return w, err
}

// weather finds the newest observation and the forecast's hour of an instant.
func (d *Desk) weather(now time.Time, hours []safety.ForecastHour) Now {
	w := Now{At: now, Hours: hours}
	for i := len(d.lake.Observed) - 1; i >= 0; i-- {
		if o := d.lake.Observed[i]; !o.When.After(now) && now.Sub(o.When) < 3*time.Hour {
			w.Observed = &o
			break
		}
	}
	for i := len(d.lake.Measured) - 1; i >= 0; i-- {
		if o := d.lake.Measured[i]; !o.When.After(now) {
			if now.Sub(o.When) <= weather.ReadingStaleAfter {
				w.Measured = &o
			}
			break
		}
	}
	for i := range hours {
		if !hours[i].Start.After(now) && now.Before(hours[i].Start.Add(time.Hour)) {
			w.Hour = &hours[i]
		}
	}
	return w
}

// Now is the weather at an instant; what is not known is nil.
type Now struct {
	At       time.Time
	Observed *lake.Observation // on the ice
	Measured *lake.Observation // by a station near the lake
	Hour     *safety.ForecastHour
	Hours    []safety.ForecastHour
	Issued   time.Time
}

// AirAndWind gives the observation that tells both: seen on the ice, else measured by a station; nil when neither does.
func (w Now) AirAndWind() *lake.Observation {
	for _, o := range []*lake.Observation{w.Observed, w.Measured} {
		if o != nil && o.AirTold && o.WindTold {
			return o
		}
	}
	return nil
}

// Contours gives the depth contours of the whole lake at the levels asked for, and its outline.
func (d *Desk) Contours(ctx context.Context, levels []quantity.Length) (lines []ground.Contour, outline []geo.Polygon, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		s := d.surface()
		if s == nil {
			return d.noOutline()
		}
		lines, outline = s.Contours(levels), d.ground.polygons
		return nil
	})
	return lines, outline, err
}

// Bottom gives the depth surface of the whole lake.
func (d *Desk) Bottom(ctx context.Context) (s *ground.Surface, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		if s = d.surface(); s == nil {
			return d.noOutline()
		}
		return nil
	})
	return s, err
}

// SlopeAt gives the steepness of the bottom at a place, rise over run; NaN where it is not known.
func (d *Desk) SlopeAt(ctx context.Context, at geo.Local) (slope float64) {
	slope = math.NaN()
	_ = d.withInput(ctx, func(in advise.Input) error { // without a lake nothing is known
		if slope = in.Surface.Slope(at); math.IsNaN(slope) {
			slope = d.surface().Slope(at)
		}
		return nil
	})
	return slope
}

// DepthAt gives depth and spread at a place.
func (d *Desk) DepthAt(ctx context.Context, at geo.Local) (z ground.Depth, err error) {
	err = d.withInput(ctx, func(in advise.Input) error {
		if z = in.Surface.At(at); !z.Known {
			z = d.surface().At(at)
		}
		return nil
	})
	return z, err
}

// Quality gives how good the whole lake's depth surface is.
func (d *Desk) Quality(ctx context.Context) (q ground.Quality, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		s := d.surface()
		if s == nil {
			return d.noOutline()
		}
		q = s.Report()
		return nil
	})
	return q, err
}

// Advised journals a step as it was shown, under the id of the act that showed it.
func (d *Desk) Advised(ctx context.Context, question string, seed uint64, budget int, answer json.RawMessage) error {
	return d.Record(ctx, Act{}, &journal.Advice{Engine: advise.Version, Seed: int64(seed), Budget: int64(budget), Question: question, Answer: answer})
}

// HoleByNumber finds a hole by its number on a day.
func (d *Desk) HoleByNumber(ctx context.Context, day journal.Day, number int64) (id uuid.UUID, err error) {
	err = d.with(ctx, func() error {
		for _, h := range d.lake.HolesOn(day) {
			if h.Number == number && h.Label != "retracted" {
				id = h.ID
			}
		}
		return nil
	})
	return id, err
}

// Question narrows what [Desk.NextFor] is asked about: where the scout stands and which rods fish where, when that is
// not as the journal has it.
type Question struct {
	From *advise.Place
	// Guess says that From is where the record last puts the scout, not a fix: the turn-back time stays the careful one.
	Guess  bool
	Rods   []advise.Rod // nil: the sits that last
	Aim    string       // "": the day's
	Budget int          // places weighed; 0: those of a first answer
}

// NextFor answers the next step for a stated scout and rods. It is not cached.
func (d *Desk) NextFor(ctx context.Context, q Question) (step advise.Step, err error) {
	err = d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		now := d.Clock()
		here := d.here(now)
		if q.From != nil {
			here = *q.From
		}
		in, err := d.input(ctx, now, here)
		if err != nil {
			return err
		}
		if q.Rods != nil {
			in.Rods = q.Rods
		}
		if q.Aim != "" {
			in.Aim = q.Aim
			in.Spare = &advise.Spare{Selective: q.Aim == "size"}
		}
		if q.Guess {
			hours, issued, err := d.forecast(ctx)
			if err != nil {
				return err
			}
			in.Home = d.turnBack(now, advise.Place{}, hours, issued)
		}
		in.Answers, in.Budget = true, q.Budget
		step, err = advise.Next(ctx, in)
		return err
	})
	return step, err
}
