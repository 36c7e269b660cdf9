package safety

import (
	"cmp"
	"math"
	"slices"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/trade/lake"
)

// Cover is what weather and holes make of the ice of the lake's zones. The zero value knows no column: then a place is
// judged about the thinnest hole that counts there.
type Cover struct {
	Shore   func(geo.Local) (quantity.Length, bool) // distance to the nearest shore; nil: not known
	Fetch   func(geo.Local) quantity.Length         // distance to the shore upwind of the prevailing wind; nil: none prevails
	Columns map[icecover.Zone]Column
	Scatter icecover.Scatter // the zero value: the usual one
	Events  []icecover.Event // of the weather, which end the worth of readings
	Missing string           // why there is no column, in a sentence; "" where there is one
}

// Column is the ice of a zone up to now.
type Column struct {
	Estimate icecover.Estimate
	Trail    []icecover.Change
	Odd      bool // holes of today lie far from what weather and older holes led to expect
}

// Basis tells what the figure of an answer rests on.
type Basis struct {
	Zone    icecover.Zone
	Column  *icecover.Estimate // nil where it is not known
	Missing string             // why not
	Least   quantity.Length    // effective thickness of the thinnest hole that counts here; 0: none
	Spot    icecover.Spot      // what the holes of the week and the column say of the place; zero without any
	Odd     bool               // as of the column
	Ahead   *icecover.Estimate // the column carried on by the forecast, for a plan; never in a figure
	Holes   int                // of the week and the zone, which the field rests on
}

// crackEnds are the hazards whose first report ends the worth of a reading beside them.
var crackEnds = map[string]bool{"ridge": true, "crack": true, "open_water": true}

// ending is whether and why something ended the worth of a reading, which does not depend on the place asked about.
type ending struct {
	why   icecover.Cause
	aged  bool
	known bool // worked out
}

// aged tells whether a reading no longer counts, and why.
func (q *iceQuestion) aged(r *judged) (icecover.Cause, bool) {
	if e := r.ending; !e.known {
		e.why, e.aged = q.ended(r)
		e.known = true
	}
	return r.ending.why, r.ending.aged
}

// ended works out what [iceQuestion.aged] keeps.
func (q *iceQuestion) ended(r *judged) (icecover.Cause, bool) {
	events := q.in.Cover.Events
	for _, h := range q.in.Hazards {
		if h.Supersedes == noHazard && crackEnds[h.What] && len(h.Points) > 0 && h.When.After(r.When) && quantity.Length(h.Distance(r.At)) <= crackNear {
			events = append(events[:len(events):len(events)], icecover.Event{Cause: icecover.NewCrack, From: h.When})
		}
	}
	counts, why := icecover.Counts(r.When, q.in.Now, events)
	return why, !counts && why != icecover.DrilledFuture // clocks ahead have a rule of their own
}

// Zone gives the zone of a place.
func (c Cover) Zone(at geo.Local) icecover.Zone {
	if c.Shore == nil {
		return icecover.ZoneAt(0, false)
	}
	zone := icecover.ZoneAt(c.Shore(at))
	if zone == icecover.Open && c.Fetch != nil {
		return icecover.Within(c.Fetch(at))
	}
	return zone
}

// basis works out the field about the place from all holes of the zone that still count, carried to now: melt is taken
// off and growth not counted.
func (q *iceQuestion) basis(least quantity.Length, read bool) Basis {
	c := q.in.Cover
	b := Basis{Zone: c.Zone(q.in.At), Least: least, Missing: c.Missing}
	column, known := c.Columns[b.Zone]
	z := q.zoneField(b.Zone)
	if z.holes == 0 && !known {
		return b
	}
	reference := least
	switch {
	case known:
		b.Column, b.Odd, reference = &column.Estimate, column.Odd, column.Estimate.Deciding
	case !read:
		reference = z.least
	}
	b.Spot, b.Holes = z.about(reference).AtWeighed(q.in.At, readingSpacing, z.asked), z.holes
	return b
}

// fields keeps each zone's field, which does not depend on the place asked about.
type fields map[icecover.Zone]*zoneField

type zoneField struct {
	field *icecover.Field
	holes int
	least quantity.Length // the thinnest hole
	made  map[quantity.Length]*icecover.Field
	asked icecover.Weighed // places weighed together beforehand
}

// about gives the field about a reference; many places share one.
func (z *zoneField) about(reference quantity.Length) *icecover.Field {
	f := z.made[reference]
	if f == nil {
		f = z.field.About(reference)
		z.made[reference] = f
	}
	return f
}

// zoneField gives the field of a zone, made once.
func (q *iceQuestion) zoneField(zone icecover.Zone) *zoneField {
	if z := q.fields[zone]; z != nil {
		return z
	}
	c := q.in.Cover
	trail := c.Columns[zone].Trail
	z := &zoneField{least: quantity.Length(math.Inf(1)), made: map[quantity.Length]*icecover.Field{}}
	var holes []icecover.Hole
	for i := range q.list {
		r := &q.list[i]
		if !r.known || r.When.After(q.in.Now) && inDoubt(r.IceReading, q.in.Now) || c.Zone(r.At) != zone {
			continue
		}
		if _, aged := q.aged(r); aged {
			continue
		}
		h := icecover.Hole{At: r.At, Effective: icecover.Carry(r.effective, r.When, trail).ForDecision}
		holes, z.least = append(holes, h), min(z.least, h.Effective)
	}
	scatter := c.Scatter
	if scatter == (icecover.Scatter{}) {
		scatter = icecover.UsualScatter()
	}
	z.field, z.holes = icecover.NewField(0, holes, scatter), len(holes)
	if q.fields == nil {
		q.fields = fields{}
	}
	q.fields[zone] = z
	return z
}

// Figures tells of each reading which thickness decides at its hole, by the rule that [Ice] follows at a place. Make it
// with [NewFigures]; it is not for use by two at once.
type Figures struct {
	in     IceInput
	list   []judged
	fields fields
	asked  iceQuestion
	about  []judged // of the place asked about last, to save making it anew
	byEast []int    // the list from west to east
	boxes  []boxed  // hazards in force, with all that is within reach of them
	ready  bool     // the holes of today are weighed
	done   map[*lake.IceReading]figure
}

type figure struct {
	thickness quantity.Length
	known     bool
}

// NewFigures prepares the figures. Of in, only time, zone, readings, hazards and cover are used.
func NewFigures(in IceInput) *Figures {
	mustHaveZone(in.Zone)
	return &Figures{in: in, list: judge(in.Readings, in.Zone, in.Now), fields: fields{}, done: map[*lake.IceReading]figure{}}
}

// question is one about the ice at a place, which shares what does not depend on the place, until the next is asked.
func (f *Figures) question(at geo.Local) *iceQuestion {
	f.asked = iceQuestion{in: f.in, list: f.list, fields: f.fields, counted: f.asked.counted[:0]}
	f.asked.in.At = at
	return &f.asked
}

// prepare works out together what At would work out one by one: what ended the worth of each reading, the hazards' reach,
// and how the zones' holes weigh at the holes of today.
func (f *Figures) prepare() {
	f.ready = true
	places := map[icecover.Zone][]geo.Local{}
	q := f.question(geo.Local{})
	f.byEast = make([]int, len(f.list))
	for i := range f.list {
		r := &f.list[i]
		f.byEast[i] = i
		q.aged(r)
		q.zoneField(f.in.Cover.Zone(r.At))
		if r.timed == missNone && r.known && r.state == "" {
			zone := f.in.Cover.Zone(r.At)
			places[zone] = append(places[zone], r.At)
		}
	}
	slices.SortFunc(f.byEast, func(a, b int) int { return cmp.Compare(f.list[a].At.E, f.list[b].At.E) })
	for zone, list := range places {
		z := q.zoneField(zone)
		z.asked = z.field.Weigh(list)
	}
	for _, h := range f.in.Hazards {
		if h.InForce() && len(h.Points) > 0 {
			f.boxes = append(f.boxes, box(h, flowNear))
		}
	}
}

// At gives the thickness that decides at the hole of a reading; false where none does.
func (f *Figures) At(r *lake.IceReading) (quantity.Length, bool) {
	if x, ok := f.done[r]; ok {
		return x.thickness, x.known
	}
	if !f.ready {
		f.prepare()
	}
	q := f.question(r.At)
	if q.fields[f.in.Cover.Zone(r.At)] != nil { // else the zone's field needs them all
		q.list = f.near(r.At)
	}
	q.in.Hazards = nil // what ended a reading is known by now; of the rest only what is within reach of flowing water matters
	for i := range f.boxes {
		if f.boxes[i].holds(r.At) {
			q.in.Hazards = append(q.in.Hazards, f.boxes[i].Hazard)
		}
	}
	q.hazards()
	q.readings()
	known := q.figure()
	f.done[r] = figure{q.out.Effective, known}
	return q.out.Effective, known
}

// near lists the readings that can matter to the figure at a place, until the next place is asked about.
func (f *Figures) near(p geo.Local) []judged {
	const m = float64(flowNear)
	f.about = f.about[:0]
	first, _ := slices.BinarySearchFunc(f.byEast, p.E-m, func(i int, e float64) int { return cmp.Compare(f.list[i].At.E, e) })
	for _, i := range f.byEast[first:] {
		r := &f.list[i]
		if r.At.E > p.E+m {
			break
		}
		if math.Abs(r.At.N-p.N) <= m {
			f.about = append(f.about, *r)
		}
	}
	return f.about
}

// Samples values readings as [icecover.Refit] wants them: each zone's days apart, by time.
func Samples(readings []*lake.IceReading, zone *time.Location, shore func(geo.Local) (quantity.Length, bool)) []icecover.Sample {
	mustHaveZone(zone)
	c := Cover{Shore: shore}
	var out []icecover.Sample
	for _, r := range judge(readings, zone, time.Time{}) {
		if r.known {
			out = append(out, icecover.Sample{Day: string(r.Day) + " " + string(c.Zone(r.At)), At: r.At, Effective: r.effective})
		}
	}
	return out
}
