package advise

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

const (
	triedNear  = 60 * quantity.Metre // the same place for a guide; our own choice
	mostVisits = 3                   // told one by one
)

// Tried is what came of a place before.
type Tried struct {
	Within  quantity.Length
	Visits  []Visit         // by day, the newest first, at most three
	Earlier Visit           // the older ones together; its Day is the newest of them
	Days    int             // of Earlier
	Nearest quantity.Length // of the nearest hole ever drilled, when nothing lies within; 0: none on record
	Hole    uuid.UUID       // that hole
}

// Visit is a day at a place.
type Visit struct {
	Day         journal.Day
	First, Last time.Time
	Looks       int
	Marks       int // looks with marks
	Fish, Good  int
	Bites       int
	Sat         time.Duration // by all rods together
	Holes       []uuid.UUID
}

func (v *Visit) at(when time.Time) {
	if v.First.IsZero() || when.Before(v.First) {
		v.First = when
	}
	if when.After(v.Last) {
		v.Last = when
	}
}

// tried gathers what was done within reach of a place, by day.
func (w *world) tried(p geo.Local) Tried {
	out := Tried{Within: triedNear}
	near := map[uuid.UUID]bool{}
	visits := map[journal.Day]*Visit{}
	on := func(when time.Time) *Visit {
		day := journal.DayOf(when, w.in.Lake.Zone)
		v := visits[day]
		if v == nil {
			v = &Visit{Day: day}
			visits[day] = v
		}
		v.at(when)
		return v
	}
	for _, h := range w.in.Lake.Holes {
		if !h.Placed || h.Label == "retracted" || h.Drilled.After(w.in.Now) {
			continue
		}
		d := h.At.Distance(p)
		if out.Nearest == 0 || d < out.Nearest {
			out.Nearest, out.Hole = max(d, quantity.Millimetre), h.ID
		}
		if d <= triedNear {
			near[h.ID] = true
			v := on(h.Drilled)
			v.Holes = append(v.Holes, h.ID)
		}
	}
	for _, l := range w.in.Lake.Looks {
		if near[l.Hole] && !l.When.After(w.in.Now) {
			v := on(l.When)
			if v.Looks++; l.Marks != lake.None {
				v.Marks++
			}
		}
	}
	w.triedByParty(near, on)
	w.sum(&out, visits)
	return out
}

// triedByParty adds what rods did at holes.
func (w *world) triedByParty(near map[uuid.UUID]bool, on func(time.Time) *Visit) {
	if w.in.Party == nil {
		return
	}
	for _, x := range w.in.Party.Fish {
		if near[x.Hole] && !x.When.After(w.in.Now) {
			v := on(x.When)
			v.Fish += max(1, x.Count)
			if x.Length >= w.options.GoodLength || x.Size == "good" || x.Size == "big" {
				v.Good += max(1, x.Count)
			}
		}
	}
	for _, b := range w.in.Party.Bites {
		if near[b.Hole] && !b.When.After(w.in.Now) {
			on(b.When).Bites++
		}
	}
	for _, s := range w.in.Party.Sits {
		if !near[s.Hole] || s.From.After(w.in.Now) {
			continue
		}
		to := s.To
		if to.IsZero() || to.After(w.in.Now) {
			to = w.in.Now
		}
		on(s.From).Sat += min(longestSit, to.Sub(s.From))
	}
}

// sum lists the newest visits and adds up the older ones.
func (w *world) sum(out *Tried, visits map[journal.Day]*Visit) {
	var days []journal.Day
	for day := range visits {
		days = append(days, day)
	}
	slices.Sort(days)
	slices.Reverse(days)
	for i, day := range days {
		v := visits[day]
		if i < mostVisits {
			out.Visits = append(out.Visits, *v)
			continue
		}
		e := &out.Earlier
		if out.Days++; e.Day == "" {
			e.Day = day
		}
		e.at(v.First)
		e.at(v.Last)
		e.Looks, e.Marks, e.Fish, e.Good, e.Bites, e.Sat = e.Looks+v.Looks, e.Marks+v.Marks, e.Fish+v.Fish, e.Good+v.Good, e.Bites+v.Bites, e.Sat+v.Sat
		e.Holes = append(e.Holes, v.Holes...)
	}
}
