package plan

import (
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

// watched sits a rod at a place from t0 on, half a minute at a time, with so many marks each time.
func watched(f *Filter, rod int, at geo.Local, from time.Time, halfMinutes, count int) time.Time {
	for range halfMinutes {
		f.Sit(SitSpan{At: at, Rod: rod, From: from, To: from.Add(look), Watched: true, Count: count})
		from = from.Add(look)
	}
	return from
}

func crewAt(now time.Time, at ...geo.Local) Crew {
	c := Crew{Walk: 1}
	for i, p := range at {
		c.Rods = append(c.Rods, Rod{Number: i, At: p, Hole: i, Fishing: true, Since: now.Add(-10 * time.Minute)})
		c.Holes = append(c.Holes, Hole{At: p, Open: true, Taken: true})
	}
	return c
}

// biting gives a filter whose rod 0 at the origin takes fish, and the time.
func biting(t *testing.T, f *Filter) time.Time {
	t.Helper()
	now := t0
	for range 6 {
		now = watched(f, 0, geo.Local{}, now, 2, 3)
		f.Fish(Fish{At: geo.Local{}, When: now, Count: 1})
	}
	return now
}

func TestRodOnFeedingFishIsNotCalledAway(t *testing.T) {
	f := fresh(t)
	now := biting(t, f)
	c := crewAt(now, geo.Local{})
	marked := geo.Local{E: 60}
	f.Look(Look{At: marked, When: now, Length: look, Marks: lake.Many})
	c.Holes = append(c.Holes, Hole{At: marked, Open: true})
	if call := f.Call(&c, 0); !call.Sure || call.Hole >= 0 {
		t.Errorf("on feeding fish: %+v", call)
	}
	if call := f.Call(&c, 0); call.Here <= 0.05 {
		t.Errorf("six fish in six minutes are worth %.3f a minute", call.Here)
	}
}

func TestRodsJoinASchoolThatFeeds(t *testing.T) {
	f := fresh(t)
	now := biting(t, f)
	blank := geo.Local{E: 40}
	now2 := watched(f, 1, blank, now.Add(-5*time.Minute), 10, 0)
	c := crewAt(now2, geo.Local{}, blank)
	c.Holes = append(c.Holes, Hole{At: geo.Local{E: 2, N: 2}, Open: true}, Hole{At: geo.Local{E: 60}, Open: true})
	if call := f.Call(&c, 1); call.Hole != 2 {
		t.Errorf("the rod on a blank hole: %+v, want hole 2 beside the school", call)
	}
	// a hole that another rod is on its way to is no longer free
	c.Holes[2].Taken = true
	if call := f.Call(&c, 1); call.Hole == 2 || call.Best == 2 {
		t.Errorf("two rods sent to one hole: %+v", call)
	}
	// nor one that may not be gone to
	c.Holes[2].Taken = false
	c.MayHop = func(_, hole int) bool { return hole != 2 }
	if call := f.Call(&c, 1); call.Hole == 2 {
		t.Errorf("over a veto: %+v", call)
	}
}

func TestRodLeavesABlankHoleForMarksButNotAtOnce(t *testing.T) {
	f := fresh(t)
	blank, marked := geo.Local{}, geo.Local{E: 30}
	now := watched(f, 0, blank, t0, 8, 0)
	f.Look(Look{At: marked, When: now, Length: look, Marks: lake.Many})
	c := crewAt(now, blank)
	c.Holes = append(c.Holes, Hole{At: marked, Open: true})
	if call := f.Call(&c, 0); call.Hole != 1 {
		t.Errorf("marks 30 m off: %+v", call)
	}
	c.Rods[0].Since = now.Add(-time.Minute)
	if call := f.Call(&c, 0); call.Hole >= 0 {
		t.Errorf("called away after a minute: %+v", call)
	}
}

// Fish that do not bite are known for resting, and left for marks not yet tried.
func TestRestingFishAreLeft(t *testing.T) {
	f := fresh(t)
	now := watched(f, 0, geo.Local{}, t0, 2, 6)
	c := crewAt(now, geo.Local{})
	first := f.Call(&c, 0).Here
	now = watched(f, 0, geo.Local{}, now, 20, 6)
	c = crewAt(now, geo.Local{})
	last := f.Call(&c, 0).Here
	if last >= first/2 {
		t.Errorf("ten minutes without a bite took the stay from %.4f to %.4f only", first, last)
	}
	// few marks promise less from the start, and fall as low
	f = fresh(t)
	now = watched(f, 0, geo.Local{}, t0, 22, 3)
	c = crewAt(now, geo.Local{})
	if few := f.Call(&c, 0).Here; few >= first/2 {
		t.Errorf("over few marks the stay is still worth %.4f of %.4f", few, first)
	}
}

func TestScoutServesAHotSchoolFirst(t *testing.T) {
	f := fresh(t)
	now := biting(t, f)
	blank := geo.Local{E: 40}
	now = watched(f, 1, blank, now.Add(-5*time.Minute), 10, 0)
	q := Question{Crew: crewAt(now, geo.Local{}, blank), From: geo.Local{E: 20}, Ice: 40 * quantity.Centimetre, Look: look, Drillable: true}
	best := chosen(t, f, q)
	if best[0].For != Serve || best[0].At.Distance(geo.Local{}) > 8 || best[0].At.Distance(geo.Local{}) < 2 {
		t.Errorf("first %+v, want a hole over the school", best[0])
	}
	// with a free hole there already, the scout looks on, but near
	q.Holes = append(q.Holes, Hole{At: geo.Local{E: 3}, Open: true})
	for _, c := range chosen(t, f, q) {
		if c.For == Serve {
			t.Errorf("a needless hole: %+v", c)
		}
		if c.At.Distance(geo.Local{}) > hotReach+1 {
			t.Errorf("far from the school that feeds: %+v", c)
		}
	}
}

func TestBiggerFishWeighMoreWhenSizeIsTheAim(t *testing.T) {
	f := fresh(t)
	now := t0
	for range 4 {
		now = watched(f, 0, geo.Local{}, now, 2, 3)
		f.Fish(Fish{At: geo.Local{}, When: now, Count: 1, Good: true})
	}
	c := crewAt(now, geo.Local{})
	numbers := f.Call(&c, 0).Here
	c.Good = 6
	if size := f.Call(&c, 0).Here; size < 3*numbers/2 {
		t.Errorf("four good fish: worth %.3f for numbers, %.3f for size", numbers, size)
	}
}

// A copy for today forecasts today as the whole filter does.
func TestTodayForecastsAlike(t *testing.T) {
	f, _ := busy(t, 1)
	f.Night()
	whole, today := f.Clone(), f.Today()
	start := f.Now().Add(12 * time.Hour)
	for i := range 30 {
		l := Look{At: geo.Local{E: 30 * float64(i)}, When: start.Add(time.Duration(i) * 3 * time.Minute), Length: look}
		if i%7 == 3 {
			l.Marks = lake.Few
		}
		whole.Look(l)
		today.Look(l)
	}
	for _, p := range []geo.Local{{}, {E: 200}, {E: 500, N: 40}, {E: -300}} {
		if a, b := whole.Odds(p, look), today.Odds(p, look); a != b {
			t.Errorf("%v: %+v and %+v", p, a, b)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("a copy for today lived through a night")
		}
	}()
	today.Night()
}
