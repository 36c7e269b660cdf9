package icecover

import (
	"cmp"
	"math"
	"slices"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/ice"
	"icehand/internal/stats/ensemble"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// How well a hole tells the average of its zone, as standard deviations; all ours.
const (
	totalError = 0.022 // m: 0.7 cm of reading and 2 cm from place to place
	whiteError = 0.015 // m
	snowError  = 0.025 // m
	waterError = 0.007 // m
)

// How much more a hole of another zone may be off, since zones differ: all ours. Twice the spread over kilometres within a
// zone for the total, and about as much again as drifts make for the white part and the snow.
const (
	zoneTotal = 0.06 // m
	zoneWhite = 0.05 // m
	zoneSnow  = 0.08 // m
)

// What a flag is worth as a number; ours.
const (
	slushSeen      = 0.04 // m, at least, where slush is noted; a member mean above it needs no telling
	slushSeenError = 0.03 // m
	noSlushError   = 0.01 // m
)

const (
	neighbourhood = 100 * quantity.Metre // holes of a day this near are one visit: guides drill where they look for thick ice; ours
	inflation     = 1.04                 // of the spread on each day with holes, within the usual 1.02 to 1.05; ours
	mostSurprise  = 3.0                  // standard deviations; a reading farther off is given a larger error, so that it pulls no harder
	comparedFor   = 7 * 24 * time.Hour   // for which an older hole is compared with a new one
	settledFor    = 14 * 24 * time.Hour  // before the last holes of a run, for which the figure for decisions is settled
	thickest      = 3 * quantity.Metre   // of lake ice that is believed; more is a slip of the pen; ours
	deepestSnow   = 3 * quantity.Metre
)

// dayHoles are the believable holes of one day.
type dayHoles struct {
	day      journal.Day
	at       time.Time // of the last of them, when all of them count as drilled
	readings []*lake.IceReading

	elsewhere bool // in another zone
}

// daysOf sorts readings into days, by time.
func daysOf(readings []*lake.IceReading) []dayHoles {
	sorted := slices.Clone(readings)
	slices.SortStableFunc(sorted, func(a, b *lake.IceReading) int { return a.When.Compare(b.When) })
	var out []dayHoles
	for _, r := range sorted {
		if !believable(r) {
			continue
		}
		k := slices.IndexFunc(out, func(d dayHoles) bool { return d.day == r.Day })
		if k < 0 {
			out = append(out, dayHoles{day: r.Day})
			k = len(out) - 1
		}
		out[k].at, out[k].readings = r.When, append(out[k].readings, r)
	}
	slices.SortStableFunc(out, func(a, b dayHoles) int { return a.at.Compare(b.at) })
	return out
}

// visit is the average of the holes of one day and neighbourhood.
type visit struct {
	at                        time.Time // of the last of them
	day                       journal.Day
	first                     geo.Local
	placed                    bool
	holes                     int
	total, white, snow, water average
	solid                     average // thickest single layer, where layered
	slush, layered, elsewhere bool
}

type average struct {
	sum float64
	n   int
}

func (a *average) add(x quantity.Length, told bool) {
	if told && !math.IsNaN(x.Metres()) {
		a.sum, a.n = a.sum+x.Metres(), a.n+1
	}
}

func (a average) value() float64 { return a.sum / float64(a.n) }

// Lesson is what a visit taught.
type Lesson struct {
	At       time.Time
	Holes    int
	Surprise float64 // standard deviations by which the total lay above what was expected
	Tempered bool    // so far off that it was given less weight: look for a mistake, or for ice that is another zone
}

// believable tells whether a reading can serve as one of the zone's ice. Open water is a hazard and no average.
func believable(r *lake.IceReading) bool {
	return r.Total > 0 && r.Total <= thickest && !(r.White < 0) && !(r.SnowTold && (r.Snow < 0 || r.Snow > deepestSnow)) && !math.IsNaN(r.At.E+r.At.N)
}

// visitsOf sorts the holes of a day into visits. Holes without a place are one visit: nobody knows how near they were.
func visitsOf(readings []*lake.IceReading) []visit {
	var out []visit
	for _, r := range readings {
		k := slices.IndexFunc(out, func(v visit) bool {
			return v.placed == r.Placed && (!v.placed || v.first.Distance(r.At) <= neighbourhood)
		})
		if k < 0 {
			out = append(out, visit{day: r.Day, first: r.At, placed: r.Placed})
			k = len(out) - 1
		}
		out[k].add(r)
	}
	return out
}

func (v *visit) add(r *lake.IceReading) {
	v.at, v.holes = r.When, v.holes+1
	v.total.add(r.Total, true)
	v.white.add(min(r.White, r.Total), r.WhiteTold)
	v.snow.add(r.Snow, r.SnowTold)
	v.water.add(r.Water, r.WaterTold)
	v.solid.add(min(r.Solid, r.Total), r.Layered && r.SolidTold)
	v.slush, v.layered = v.slush || r.Slush, v.layered || r.Layered
}

// Worth values one reading alone: what was not told apart counts as white, and of parted layers only the best one that
// was told.
func Worth(r *lake.IceReading) ice.Worth {
	switch {
	case r.Layered && r.SolidTold:
		return ice.Effective([]ice.Layer{{Kind: ice.Unsorted, Thickness: min(r.Solid, r.Total)}})
	case r.Layered:
		return ice.Worth{Parted: true}
	case r.WhiteTold:
		white := min(r.White, r.Total)
		return ice.Effective([]ice.Layer{{Kind: ice.White, Thickness: white}, {Kind: ice.Clear, Thickness: r.Total - white}})
	}
	return ice.Effective([]ice.Layer{{Kind: ice.Unsorted, Thickness: r.Total}})
}

// Learn lets the cover learn from the holes of a day, all at once, as drilled now. Later holes of the same day would
// count as if they had nothing in common with these; run the season anew instead, see [Run].
func (c *Cover) Learn(readings []*lake.IceReading) []Lesson {
	var out []Lesson
	for _, d := range daysOf(readings) {
		out = append(out, c.learn(d, true)...)
	}
	return out
}

// learn moves the members towards the holes of a day and settles the figure for decisions: the 5 % quantile, but no
// higher than with the thinner holes of the day left out, nor, when all are thinner than any of the week before, than
// without them. A thin hole lowers the estimate, and yet, by making it surer, may lift its low end; that is not to count.
// Settling costs an update for each hole left out; without it the figure is the quantile.
func (c *Cover) learn(d dayHoles, settle bool) []Lesson {
	if d.elsewhere {
		c.learnElsewhere(d)
		return nil
	}
	thickestFirst := slices.Clone(d.readings)
	slices.SortStableFunc(thickestFirst, func(a, b *lake.IceReading) int { return cmp.Compare(Worth(b).Thickness, Worth(a).Thickness) })
	most, least := Worth(thickestFirst[0]).Thickness, Worth(thickestFirst[len(thickestFirst)-1]).Thickness
	c.recent = slices.DeleteFunc(c.recent, func(o drilled) bool { return d.at.Sub(o.at) > comparedFor })
	ceiling := quantity.Length(math.Inf(1))
	if len(c.recent) > 0 && !slices.ContainsFunc(c.recent, func(o drilled) bool { return o.effective <= most }) {
		ceiling = c.low() - c.held
	}
	for k := 1; settle && k < len(thickestFirst); k++ {
		without, left := c.Copy(), thickestFirst[k:]
		without.visit(visitsOf(slices.DeleteFunc(slices.Clone(d.readings), func(r *lake.IceReading) bool { return slices.Contains(left, r) })))
		// (COVER-6)
		ceiling = min(ceiling, without.low())
	}
	lessons := c.visit(visitsOf(d.readings))
	c.held = max(0, c.low()-ceiling)
	c.recent = append(c.recent, drilled{d.at, least})
	return lessons
}

// learnElsewhere moves the members by the holes of another zone. What they tell of layers and slush stays there.
func (c *Cover) learnElsewhere(d dayHoles) {
	visits := visitsOf(d.readings)
	for i := range visits {
		visits[i].elsewhere = true
	}
	c.visit(visits)
}

func (c *Cover) visit(visits []visit) []Lesson {
	var out []Lesson
	for _, v := range visits {
		out = append(out, c.bring(v))
	}
	c.fillSites()
	return out
}

// bring moves the members towards one visit, one number after the other.
func (c *Cover) bring(v visit) Lesson {
	lesson := Lesson{At: v.at, Holes: v.holes}
	if c.inflated != v.day {
		c.inflated = v.day
		c.load()
		c.members.Inflate(inflation)
		c.store()
	}
	if v.elsewhere {
		c.bringElsewhere(v)
		return lesson
	}
	lesson.Surprise, lesson.Tempered = c.update(v.total.value(), totalError, func(col ice.Column) quantity.Length {
		if v.layered {
			return col.Total() + col.Slush // whoever measures from top to bottom measures the slush too
		}
		return col.Total()
	})
	if v.white.n > 0 {
		c.update(v.white.value(), whiteError, func(col ice.Column) quantity.Length { return col.White })
	}
	if v.snow.n > 0 {
		c.update(v.snow.value(), snowError, ice.Column.SnowDepth)
	}
	if v.water.n > 0 {
		c.update(v.water.value(), waterError, ice.Column.WaterBelowTop)
	}
	if v.solid.n > 0 {
		c.update(v.solid.value(), totalError, func(col ice.Column) quantity.Length { return max(col.Lid, col.Total()-col.Lid) })
	}
	c.updateSlush(v)
	if v.layered {
		c.parted = v.day
	} else if c.parted != v.day {
		c.parted = ""
	}
	return lesson
}

// bringElsewhere brings in what a visit to another zone tells of this one.
func (c *Cover) bringElsewhere(v visit) {
	c.update(v.total.value(), math.Hypot(totalError, zoneTotal), ice.Column.Total)
	if v.white.n > 0 {
		c.update(v.white.value(), math.Hypot(whiteError, zoneWhite), func(col ice.Column) quantity.Length { return col.White })
	}
	if v.snow.n > 0 {
		c.update(v.snow.value(), math.Hypot(snowError, zoneSnow), ice.Column.SnowDepth)
	}
}

// updateSlush brings in whether slush was seen: the flags tell no depth.
func (c *Cover) updateSlush(v visit) {
	depth := func(col ice.Column) quantity.Length { return col.Slush }
	if v.slush || v.layered {
		sum := 0.0
		for _, col := range c.columns {
			sum += col.Slush.Metres()
		}
		if sum/float64(len(c.columns)) < slushSeen {
			c.update(slushSeen, slushSeenError, depth)
		}
	} else if v.white.n > 0 || v.snow.n > 0 || v.water.n > 0 { // whoever told so much would have told of slush
		c.update(0, noSlushError, depth)
	}
}

// update brings one number in. It gives the surprise before the error was enlarged, and whether it was.
func (c *Cover) update(read, sd float64, predict func(ice.Column) quantity.Length) (surprise float64, tempered bool) {
	predicted := make([]float64, len(c.columns))
	for i, col := range c.columns {
		predicted[i] = predict(col).Metres()
	}
	d, S, R := read-ensemble.Mean(predicted), square(ensemble.Spread(predicted)), square(sd)
	surprise = d / math.Sqrt(S+R)
	if tempered = math.Abs(surprise) > mostSurprise; tempered {
		// (COVER-4)
		R = math.Abs(d)*math.Sqrt(S+R)/mostSurprise - S
	}
	c.load()
	c.members.Update(predicted, ensemble.Observation{Value: read, Error: math.Sqrt(R)})
	c.store()
	return surprise, tempered
}

func square(x float64) float64 { return float64(x * x) }

// load writes the columns into the members.
func (c *Cover) load() {
	v := c.members.Variable
	for i, col := range c.columns {
		v(clearM)[i], v(whiteM)[i], v(slushM)[i] = col.Clear.Metres(), col.White.Metres(), col.Slush.Metres()
		v(snowMass)[i], v(snowDensity)[i] = float64(col.Snow), float64(col.SnowDensity)
	}
}

// store reads the columns back, with nothing below zero and snow as dense as snow can be. A member that had no ice yet
// and is given some begins now.
func (c *Cover) store() {
	v := c.members.Variable
	for i := range c.columns {
		col := ice.Column{
			Clear: quantity.Length(math.Max(0, v(clearM)[i])), White: quantity.Length(math.Max(0, v(whiteM)[i])), Slush: quantity.Length(math.Max(0, v(slushM)[i])),
			Snow:        quantity.SurfaceDensity(math.Max(0, v(snowMass)[i])),
			SnowDensity: quantity.Density(num.Clamp(v(snowDensity)[i], float64(ice.FreshSnow), float64(ice.SettledSnow))),
		}
		if col.Clear+col.White == 0 {
			c.columns[i] = ice.Column{}
			continue
		}
		if col.Slush > 0 {
			col.Lid = min(c.columns[i].Lid, col.White)
		}
		if c.begins[i].After(c.now) {
			c.begins[i] = c.now
		}
		c.columns[i] = col
	}
}
