// Package icecover answers how thick the ice of a zone of the lake is likely to be, how sure that is, and how long a
// drilled reading still says something, from weather since before freeze-up and the holes drilled since.
//
// Start with [Run]: all weather and all readings in, a [Cover] out; a new hole is a new Run, which takes milliseconds.
// [Cover.Estimate] tells ranges, [ForDecision] the one thickness that a decision may lean on, [Expiry] and [Carry] what
// is left of an older reading. [Cover.Copy] and [Cover.Advance] look ahead for a plan.
// It assumes that one zone is one column with chance differences from place to place, and freshwater ice that floats. It
// never lifts a drilled number: decisions take the lesser of what was drilled and the 5 % quantile of effective thickness,
// and without a hole there is no number. It leaves out the differences between places, hazards (which overrule it),
// springs, currents, ridges and rot. Nothing here says that ice is safe.
// Model note: docs/models/icecover.md.
package icecover

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/ice"
	"icehand/internal/stats/ensemble"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// Options says how to begin.
type Options struct {
	FreezeUp time.Time // when the ice came to stay, as far as is known
	Start    time.Time // of the weather; a week before FreezeUp leaves room for its doubt
	Members  int       // 0 for 100
	Seed     uint64
	// Elsewhere are readings of the lake's other zones. They have freeze-up, air and weather in common with this one, so
	// they teach it, as readings with a larger error. See [Among].
	Elsewhere []*lake.IceReading
}

const usualMembers = 100

// The variables of a member. The layers are in metres, the snow in kg/m2 and kg/m3.
const (
	clearM = iota
	whiteM
	slushM
	snowMass
	snowDensity
	lnAir                          // of the air transfer, W/m2K; from here on what weather does not change
	lnCatch                        // of the share of snow caught
	lnConduct                      // of the factor on the conductivity of snow
	lnWater                        // of the heat from the water, W/m2
	warmerC                        // air over the ice less air where it is measured, C
	freezeDays                     // freeze-up later than thought, days
	variables                      // how many
	uncertain  = variables - lnAir // six of them
)

// prior holds middle and spread of the six uncertain numbers before any hole is drilled, in the order of the variables.
// All ours; the middles are those of [ice.UsualSite].
var prior = func() [uncertain]struct{ middle, spread float64 } {
	s := ice.UsualSite()
	return [uncertain]struct{ middle, spread float64 }{
		{num.Log(float64(s.Air)), 0.3}, {num.Log(s.Catch), 0.5}, {num.Log(s.Conduct), 0.35}, {num.Log(float64(s.Water)), 0.7}, {0, 1}, {0, 2},
	}
}()

// Cover is the ice of one zone as far as it is known at one moment. Make it with [New] or [Run].
type Cover struct {
	now      time.Time
	members  *ensemble.Ensemble
	columns  []ice.Column
	sites    []ice.Site
	begins   []time.Time
	trail    []Change
	recent   []drilled       // of the last week
	held     quantity.Length // by which the figure for decisions stays below the quantile
	inflated journal.Day     // the last day with holes
	parted   journal.Day     // on which a hole found layers parted by water or slush, "" when later ones did not
}

// drilled is the thinnest hole of a day, as so much clear ice.
type drilled struct {
	at        time.Time
	effective quantity.Length
}

// New makes a cover of open water. It panics on a single member, and on a freeze-up or start that is not told.
func New(o Options) *Cover {
	if o.FreezeUp.IsZero() || o.Start.IsZero() {
		panic("icecover: freeze-up and start must be told")
	}
	n := o.Members
	if n == 0 {
		n = usualMembers
	}
	c := &Cover{now: o.Start, members: ensemble.New(variables, n), columns: make([]ice.Column, n), sites: make([]ice.Site, n), begins: make([]time.Time, n)}
	noise := num.NewNoise(o.Seed, "icecover")
	for p, b := range prior {
		x := c.members.Variable(lnAir + p)
		for i := range x {
			x[i] = noise.Normal(uint64(i), uint64(p))
		}
		// a hundred draws are off by a tenth in the mean; that chance is taken out
		mean, sd := ensemble.Mean(x), ensemble.Spread(x)
		for i := range x {
			// (COVER-1)
			x[i] = b.middle + float64(b.spread*(x[i]-mean)/sd)
		}
	}
	for i, days := range c.members.Variable(freezeDays) {
		c.begins[i] = o.FreezeUp.Add(time.Duration(days * 24 * float64(time.Hour)))
	}
	c.fillSites()
	return c
}

// fillSites turns the uncertain numbers into what the column wants.
func (c *Cover) fillSites() {
	v := c.members.Variable
	for i := range c.sites {
		c.sites[i] = ice.Site{
			Air: quantity.HeatTransfer(num.Exp(v(lnAir)[i])), Catch: num.Exp(v(lnCatch)[i]), Conduct: num.Exp(v(lnConduct)[i]),
			Water: quantity.Irradiance(num.Exp(v(lnWater)[i])), Warmer: quantity.CelsiusDelta(v(warmerC)[i]),
		}
	}
}

// Now gives the moment up to which weather is known.
func (c *Cover) Now() time.Time { return c.now }

// Copy gives a cover that can be carried ahead without changing this one.
func (c *Cover) Copy() *Cover {
	d := *c
	d.members = ensemble.New(variables, len(c.columns))
	for v := range variables {
		copy(d.members.Variable(v), c.members.Variable(v))
	}
	d.columns, d.sites, d.begins = append([]ice.Column(nil), c.columns...), append([]ice.Site(nil), c.sites...), append([]time.Time(nil), c.begins...)
	d.trail, d.recent = append([]Change(nil), c.trail...), append([]drilled(nil), c.recent...)
	return &d
}

// Advance carries all members through a step of weather. It refuses weather that is not known, and then changes nothing:
// what the ice did meanwhile is for whoever calls to settle.
func (c *Cover) Advance(w ice.Weather) error {
	if err := c.refuse(w); err != nil {
		return err
	}
	end := c.now.Add(w.Span)
	before := c.meanEffective()
	for i := range c.columns {
		part := w
		if late := c.begins[i].Sub(c.now); late >= w.Span {
			continue
		} else if late > 0 {
			part.Span -= late
			part.Snowfall *= quantity.SurfaceDensity(part.Span.Hours() / w.Span.Hours())
		}
		c.columns[i] = c.columns[i].Step(part, c.sites[i])
	}
	c.now = end
	change := c.meanEffective() - before
	c.trail = append(c.trail, Change{Until: end, Growth: max(0, change), Melt: max(0, -change)})
	return nil
}

// refuse gives an error for weather that is not known.
func (c *Cover) refuse(w ice.Weather) error {
	if math.IsNaN(w.Air.Degrees()) || math.IsInf(w.Air.Degrees(), 0) || !(w.Snowfall >= 0 && !math.IsInf(float64(w.Snowfall), 0)) || !(w.Span > 0 && w.Span <= 24*time.Hour) {
		return fmt.Errorf("icecover: carrying the ice on from %s: weather not known: air %v C, snowfall %v kg/m2, span %v", c.now.Format(time.RFC3339), w.Air.Degrees(), float64(w.Snowfall), w.Span)
	}
	return nil
}

// Covered gives the share of the members that have ice.
func (c *Cover) Covered() float64 {
	n := 0.0
	for _, col := range c.columns {
		if col.Total() > 0 {
			n++
		}
	}
	return n / float64(len(c.columns))
}

func (c *Cover) meanEffective() quantity.Length {
	sum := 0.0
	for i := range c.columns {
		sum += c.columns[i].Worth().Thickness.Metres()
	}
	return quantity.Length(sum / float64(len(c.columns)))
}

// Trail lists what the steps so far added and took, on the mean of the members, oldest first.
func (c *Cover) Trail() []Change { return c.trail }

// Range is what the members span: nine of ten lie between Low and High.
type Range struct {
	Low, Middle, High quantity.Length
}

// Estimate is what the members say, as the average over the zone. A single place differs from it by about 2 cm more.
type Estimate struct {
	At                            time.Time
	Total, White, Snow, Effective Range
	Water                         Range           // below the top of the ice, as in a fresh hole; below zero where slush lies on it
	Slush                         float64         // share of the members with slush in or on the ice
	Parted                        bool            // the last day's holes found layers parted: no figure for a load may be named
	Deciding                      quantity.Length // at most the low end of Effective; see [ForDecision]
}

// The ends of a range, and the quantile that decisions take.
const (
	lowShare  = 0.05
	highShare = 0.95
)

// Estimate tells the ice at this moment.
func (c *Cover) Estimate() Estimate {
	e := Estimate{At: c.now, Parted: c.parted != ""}
	x := make([]float64, len(c.columns))
	of := func(value func(ice.Column) quantity.Length) Range {
		for i, col := range c.columns {
			x[i] = value(col).Metres()
		}
		// (COVER-2)
		return Range{quantity.Length(ensemble.Quantile(x, lowShare)), quantity.Length(ensemble.Mean(x)), quantity.Length(ensemble.Quantile(x, highShare))}
	}
	e.Total = of(ice.Column.Total)
	e.White = of(func(col ice.Column) quantity.Length { return col.White })
	e.Snow = of(ice.Column.SnowDepth)
	e.Water = of(ice.Column.WaterBelowTop)
	e.Effective = of(c.effective)
	for _, col := range c.columns {
		if col.Slush > 0 {
			e.Slush += 1 / float64(len(c.columns))
		}
	}
	// (COVER-3)
	e.Deciding = max(0, min(e.Effective.Low, e.Effective.Low-c.held))
	return e
}

// effective is the worth of a member. Where a hole found parted layers, the best of them counts alone in every member.
func (c *Cover) effective(col ice.Column) quantity.Length {
	w := col.Worth().Thickness
	if c.parted == "" {
		return w
	}
	white := ice.Effective([]ice.Layer{{Kind: ice.White, Thickness: col.White}}).Thickness
	return min(w, max(white, col.Clear))
}

// low is the 5 % quantile of effective thickness.
func (c *Cover) low() quantity.Length {
	x := make([]float64, len(c.columns))
	for i, col := range c.columns {
		x[i] = c.effective(col).Metres()
	}
	return quantity.Length(ensemble.Quantile(x, lowShare))
}

// ForDecision gives the effective thickness that a decision may lean on: the lesser of the low end of the estimate and
// of every hole that still counts there, carried to now; a bad hole is never averaged away. It is false without such a
// hole, and where layers are parted: then there is no figure.
func ForDecision(e Estimate, holes []quantity.Length) (quantity.Length, bool) {
	if len(holes) == 0 || e.Parted {
		return 0, false
	}
	least := e.Deciding
	for _, h := range holes {
		if math.IsNaN(h.Metres()) {
			return 0, false
		}
		least = min(least, h)
	}
	return max(0, least), true
}

// Run carries a zone from its start through all weather and lets it learn from all readings on the way, whatever their
// order. Weather follows on from the start without gaps; readings later than the weather are left out, as are those
// before it. It stops with an error at the first step that is not known, or when the context ends, and gives the cover
// up to there. The figure for decisions is settled from the holes of the last two weeks, which is where it is asked for.
func Run(ctx context.Context, o Options, weather []ice.Weather, readings []*lake.IceReading) (*Cover, []Lesson, error) {
	c := New(o)
	days := daysOf(readings)
	var settleFrom time.Time
	if len(days) > 0 {
		settleFrom = days[len(days)-1].at.Add(-settledFor)
	}
	for _, d := range daysOf(o.Elsewhere) {
		d.elsewhere = true
		days = append(days, d)
	}
	slices.SortStableFunc(days, func(a, b dayHoles) int { return a.at.Compare(b.at) })
	var lessons []Lesson
	for _, w := range weather {
		if err := cmp.Or(ctx.Err(), c.refuse(w)); err != nil {
			return c, lessons, err
		}
		end := c.now.Add(w.Span)
		for len(days) > 0 && !days[0].at.After(end) {
			d := days[0]
			days = days[1:]
			if d.at.Before(c.now) {
				continue // before the first weather
			}
			if first := d.at.Sub(c.now); first > 0 {
				part := w
				part.Span = first
				part.Snowfall *= quantity.SurfaceDensity(first.Hours() / w.Span.Hours())
				if err := c.Advance(part); err != nil {
					return c, lessons, err
				}
				w.Snowfall -= part.Snowfall
				w.Span -= first
			}
			lessons = append(lessons, c.learn(d, !d.at.Before(settleFrom))...)
		}
		if w.Span == 0 { // the last hole was at its very end
			continue
		}
		if err := c.Advance(w); err != nil {
			return c, lessons, err
		}
	}
	return c, lessons, nil
}

// Zoned is what is known of a zone among the others of its lake.
type Zoned struct {
	Estimate Estimate // learned from the holes of all zones; its Deciding is never above what the zone's own holes give
	Trail    []Change // by the zone's own holes
	Lessons  []Lesson // of the zone's own holes
	Ahead    *Cover   // learned from all, for looking ahead
}

// Among runs a zone twice, with its own holes and with those elsewhere as well, so that what other zones teach narrows
// the estimate and may lower the figure for decisions, and never lifts it.
func Among(ctx context.Context, o Options, weather []ice.Weather, readings []*lake.IceReading) (Zoned, error) {
	alone := o
	alone.Elsewhere = nil
	own, lessons, err := Run(ctx, alone, weather, readings)
	if err != nil {
		return Zoned{}, err
	}
	z := Zoned{Estimate: own.Estimate(), Trail: own.Trail(), Lessons: lessons, Ahead: own}
	if len(o.Elsewhere) == 0 {
		return z, nil
	}
	if z.Ahead, _, err = Run(ctx, o, weather, readings); err != nil {
		return Zoned{}, err
	}
	deciding := z.Estimate.Deciding
	z.Estimate = z.Ahead.Estimate()
	// (COVER-13)
	z.Estimate.Deciding = min(z.Estimate.Deciding, deciding)
	return z, nil
}
