package plan

import (
	"slices"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/stats/intensity"
)

// belief is what is held of the ground: what places are worth, and by which factors all of them, those of a day and those
// of a depth differ from what was expected.
type belief struct {
	field *intensity.Field
	level *intensity.Factor
	day   *intensity.Factor
	bands []*intensity.Factor // by depth
	forms []*intensity.Factor // by form of the bottom
}

func newBelief(p Params) belief {
	b := belief{field: intensity.New(p.Field), level: intensity.NewFactor(p.LevelSD), day: intensity.NewFactor(p.DaySD)}
	for range deepestBand {
		b.bands = append(b.bands, intensity.NewFactor(p.BandSD))
	}
	for range ground.Kinds {
		b.forms = append(b.forms, intensity.NewFactor(p.FormSD))
	}
	return b
}

// clone gives a copy; that of no belief is none.
func (b *belief) clone() (c belief) {
	if b.field != nil {
		c.become(b)
	}
	return c
}

// become makes a belief a copy of another, in the room that it has.
func (b *belief) become(o *belief) {
	if b.field == nil {
		b.field = &intensity.Field{}
	}
	b.field.Become(o.field)
	level, day := *o.level, *o.day
	b.level, b.day, b.bands, b.forms = &level, &day, copied(o.bands), copied(o.forms)
}

func copied(list []*intensity.Factor) []*intensity.Factor {
	out := make([]*intensity.Factor, len(list))
	for i, x := range list {
		n := *x
		out[i] = &n
	}
	return out
}

// learn takes in an exposure (by prior expectation) and what came of it.
func (b *belief) learn(p geo.Local, d depth, width quantity.Length, exposure float64, o intensity.Observation) {
	b.level.Share, b.day.Share = 1, 1
	shared := []*intensity.Factor{b.level, b.day}
	if d.known {
		i, j, w := bandsOf(d.m, width)
		b.bands[i].Share = 1 - w
		shared = append(shared, b.bands[i])
		if j != i {
			b.bands[j].Share = w
			shared = append(shared, b.bands[j])
		}
	}
	if d.form != flat {
		shared = append(shared, b.forms[d.form-1])
	}
	o.Exposure = exposure
	b.field.ObserveWith(p, o, shared)
}

// age lets a night pass.
func (b *belief) age(p Params) {
	b.field.Age(p.FieldKeep)
	b.level.Age(p.LevelKeep)
	for _, x := range slices.Concat(b.bands, b.forms) {
		x.Age(p.FieldKeep)
	}
}

// settle brings the factors up to date.
func (b *belief) settle() {
	b.level.Settle()
	b.day.Settle()
	for _, x := range slices.Concat(b.bands, b.forms) {
		x.Settle()
	}
}
