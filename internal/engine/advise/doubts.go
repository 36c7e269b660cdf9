package advise

import (
	"context"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/plan"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/lake"
)

// Doubt is something that would make a step wrong, or turn it.
type Doubt struct {
	Reason         // if_blank, if_marks, school_moved, depth_unsure, few_looks, no_better, worse, too_early
	Odds   *Odds   // what the odds there would then be
	Then   *Follow // what would then be advised; nil when nothing may be
}

// Follow is a step after a step, from the place of the first.
type Follow struct {
	Do     Action
	Hole   uuid.UUID
	Away   quantity.Length
	Paces  int
	Toward quantity.Bearing
}

// turns says how the next look would turn the step: to what the odds there change, and what comes then.
func (w *world) turns(ctx context.Context, s *Step, p geo.Local, done time.Time) []Doubt {
	if s.Do != Drill && s.Do != Look && s.Do != Stay {
		return nil
	}
	look := w.options.LookLength
	if s.Do == Stay {
		done = w.in.Now.Add(s.Odds.Wait) // the sit clock has run out
	}
	after := func(marks lake.Marks) *plan.Filter {
		f := w.filter.Clone()
		f.Look(plan.Look{At: p, When: done, Length: look, Marks: marks})
		return f
	}
	blank, marks := after(lake.None), after(lake.Few)
	told := func(f *plan.Filter) *Odds {
		o := w.odds(f.Odds(p, look))
		return &o
	}
	out := []Doubt{{Reason: Reason{Code: "if_blank", Weight: 1}, Odds: told(blank), Then: w.next(ctx, blank, s, p, done)}}
	if s.Do != Stay {
		out = append(out, Doubt{Reason: Reason{Code: "if_marks", Weight: 0.9}, Odds: told(marks)})
	}
	return out
}

// next gives what would be advised from a place later, with another belief; nil when nothing.
func (w *world) next(ctx context.Context, f *plan.Filter, s *Step, p geo.Local, when time.Time) *Follow {
	later := *w
	later.in.Now, later.filter = when, f
	later.in.Scout = Place{At: p, Known: true, Accuracy: w.in.Scout.Accuracy, Fixed: when}
	if deadline, _ := later.turnBack(); !when.Before(deadline) {
		return &Follow{Do: HeadIn}
	}
	if w.in.Surface == nil {
		return nil
	}
	v := &vetting{world: &later, hop: later.hops(p), answers: map[int64]safety.HopAnswer{}}
	spots, holes := later.openSpots()
	crew, _ := later.crew()
	crew.Holes = append(crew.Holes, plan.Hole{At: p, Open: true})
	best, _, err := f.Choose(ctx, plan.Question{Crew: crew, From: p, Open: spots, Ice: w.ice(), Look: w.options.LookLength, DayGone: later.dayGone(),
		Bold: boldness(w.in.Aim), Budget: s.Budget, Drillable: true, Wanted: 1, Allowed: v.allowed})
	if err != nil || len(best) == 0 {
		return nil
	}
	c := best[0]
	out := &Follow{Do: Drill, Away: p.Distance(c.At), Paces: w.paces(p.Distance(c.At)), Toward: p.BearingTo(c.At)}
	if h := holes[c.Key]; c.Open && h != nil {
		out.Do, out.Hole = Look, h.ID
	}
	return out
}

// doubts lists what the odds cannot see or are unsure of, besides the next look.
func (w *world) doubts(s *Step, p geo.Local) []Doubt {
	const (
		reach   = 100.0                // m: a school farther off says nothing of a place
		unsure  = 1.0 * quantity.Metre // of depth
		aLot    = 5                    // looks that speak for a place
		recent  = time.Minute          // a school seen since has not moved yet
		farther = 5 * quantity.Metre   // less is within the beam
	)
	var out []Doubt
	best := -1
	schools := w.filter.Schools()
	for i, k := range schools {
		if d := float64(k.At.Distance(p)); d <= reach && (best < 0 || d < float64(schools[best].At.Distance(p))) {
			best = i
		}
	}
	if best >= 0 {
		k := schools[best]
		if age := w.in.Now.Sub(k.LastSeen); age >= recent && lengthOf(k.Spread) >= farther {
			out = append(out, Doubt{Reason: Reason{Code: "school_moved", Weight: 0.6, Age: age, Near: lengthOf(k.Spread), Rate: k.Feeding}})
		}
	}
	if n := len(w.nearLooks(p, plan.Odds{})[0].Looks); n < aLot {
		out = append(out, Doubt{Reason: Reason{Code: "few_looks", Weight: 0.4, Count: n, Near: around}})
	}
	if d := w.in.Surface; d != nil {
		switch z := d.At(p); {
		case !z.Known:
			out = append(out, Doubt{Reason: Reason{Code: "depth_unsure", Weight: 0.4}})
		case z.Spread > unsure:
			out = append(out, Doubt{Reason: Reason{Code: "depth_unsure", Weight: 0.3, Depth: z.Mean, Near: z.Spread}})
		}
	}
	return append(out, w.doubtModel(s)...)
}

// doubtModel tells how the forecasts of today have fared, unless they did better than the plainest rival.
func (w *world) doubtModel(s *Step) []Doubt {
	if s.Score.Verdict == Better {
		return nil
	}
	return []Doubt{{Reason: Reason{Code: string(s.Score.Verdict), Weight: 0.2, Count: s.Score.Looks, Of: s.Score.Needed}}}
}
