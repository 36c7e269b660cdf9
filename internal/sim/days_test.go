package sim

import (
	"math"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// What the invented season was described with: 55 to 60 looks a day, 21 % of holes with marks, 9 % with three perch or more,
// 54 % of perch kept, and 1.8 kept for an hour of a rod in the first half of January. The bounds are wide: ten days differ.
func TestPastDaysAreLikely(t *testing.T) {
	for _, seed := range []uint64{1, 2, 3} {
		d, _, log := filled(t, seed)
		if len(d.Past) != 10 {
			t.Fatalf("seed %d: %d guided days, want 10", seed, len(d.Past))
		}
		var sum Tally
		for i, x := range d.Past {
			if x.Looks < 40 || x.Looks > 85 {
				t.Errorf("seed %d: %d looks on day %d", seed, x.Looks, i)
			}
			if x.Kept > 100 {
				t.Errorf("seed %d: five people kept %d perch on day %d, over their limit", seed, x.Kept, i)
			}
			sum.Looks += x.Looks
			sum.WithMarks += x.WithMarks
			sum.ThreeUp += x.ThreeUp
			sum.Kept += x.Kept
			sum.PutBack += x.PutBack
			sum.RodHours += x.RodHours
		}
		for what, x := range map[string]struct{ got, lo, hi float64 }{
			"looks a day":            {float64(sum.Looks) / 10, 50, 65},
			"share with marks":       {float64(sum.WithMarks) / float64(sum.Looks), 0.12, 0.33},
			"share with three perch": {float64(sum.ThreeUp) / float64(sum.Looks), 0.05, 0.15},
			"kept a day":             {float64(sum.Kept) / 10, 30, 75},
			"share kept":             {float64(sum.Kept) / float64(sum.Kept+sum.PutBack), 0.35, 0.7},
			"kept an hour of a rod":  {float64(sum.Kept) / sum.RodHours, 1.0, 2.9},
		} {
			if x.got < x.lo || x.got > x.hi {
				t.Errorf("seed %d: %s %.2f, want %.2f to %.2f", seed, what, x.got, x.lo, x.hi)
			}
		}
		checkJournal(t, d, log, sum)
	}
}

// checkJournal holds the tallies against what the journal itself says.
func checkJournal(t *testing.T, d *Demo, log *journal.Log, sum Tally) {
	t.Helper()
	l, p := views(d, log)
	kept, marked := 0, 0
	guided := map[journal.Day]bool{}
	for _, x := range pastDays {
		guided[x.day] = x.family != ""
	}
	for _, f := range p.Fish {
		if guided[f.Day] && f.Kept {
			kept += f.Count
		}
	}
	for _, k := range l.Looks {
		if h := l.Hole(k.Hole); guided[h.Day] && k.Marks != lake.None {
			marked++
		}
	}
	if kept != sum.Kept || marked != sum.WithMarks {
		t.Errorf("seed %d: the journal says %d kept and %d looks with marks, the days %d and %d", d.Seed, kept, marked, sum.Kept, sum.WithMarks)
	}
	for day := range guided {
		for person, c := range p.Tally(day) {
			if person != [16]byte{} && c.Kept["perch"] > limit+1 { // one may have been moved to another by a correction
				t.Errorf("seed %d: one person kept %d perch on %s", d.Seed, c.Kept["perch"], day)
			}
		}
		for _, w := range p.OnIce(clock(day, 20, 0)) {
			if w.OnIce {
				t.Errorf("seed %d: somebody is still on the ice on the evening of %s", d.Seed, day)
			}
		}
	}
}

func TestWorldIsTheSameForASeed(t *testing.T) {
	l := NewLake(1)
	live := func(seed uint64) Tally {
		w := NewWorld(l, seed, clock("2026-01-06", 5, 0))
		return w.GuideDay(NewDiary(l, seed, "test"), Outing{Day: "2026-01-06", People: partyOf("Quarles"), Start: l.Base, Heading: 200,
			First: clock("2026-01-06", 7, 30), LinesUp: clock("2026-01-06", 12, 0), Travel: "foot"})
	}
	if a, b := live(5), live(5); a != b || a.Looks == 0 {
		t.Errorf("the same seed gave %+v and %+v", a, b)
	}
	if a, b := live(5), live(6); a == b {
		t.Error("two seeds gave the same day")
	}
}

// Schools keep to water, move at most 250 m an hour by day, and their size share never changes.
func TestSchoolsKeepTheirWays(t *testing.T) {
	l := NewLake(2)
	w := NewWorld(l, 2, clock("2026-01-06", 7, 0))
	if len(w.schools) < 100 {
		t.Fatalf("%d schools", len(w.schools))
	}
	phases := map[phase]int{}
	for range 60 {
		before := append([]school(nil), w.schools...)
		w.Advance(w.Now.Add(10 * time.Minute))
		for i, s := range w.schools {
			phases[s.does]++
			if !l.Water(s.at) && l.Outline.ShoreDistance(s.at) > habitatCellM {
				t.Fatalf("school %d is on land at %v", i, s.at)
			}
			if m := s.at.Distance(before[i].at).Metres(); m > 250.0/6+0.1 {
				t.Fatalf("school %d went %.0f m in ten minutes", i, m)
			}
			if s.goodShare != before[i].goodShare || s.radiusM < 12 || s.radiusM > 45 {
				t.Fatalf("school %d: share %.2f, radius %.0f m", i, s.goodShare, s.radiusM)
			}
		}
	}
	if len(phases) != 3 {
		t.Errorf("phases seen: %v", phases)
	}
	if a, b := appetite(clock(today, 9, 30)), appetite(clock(today, 12, 0)); a <= b+0.1 {
		t.Errorf("appetite %.2f in the middle of the morning, %.2f at noon", a, b)
	}
}

// A look in a school shows fish nearly always, one far from all schools nearly never; caught fish are missing afterwards.
func TestWhatIsSeenAndFelt(t *testing.T) {
	l := NewLake(3)
	w := NewWorld(l, 3, clock("2026-01-06", 9, 0))
	w.schools = w.schools[:1]
	s := &w.schools[0]
	s.at, s.fish, s.radiusM, s.does, s.drift, s.until = l.Base, 1500, 30, feeding, geo.Local{}, w.Now.Add(time.Hour)
	in, out := 0, 0
	for range 300 {
		if w.Marks(l.Base, w.Now, 30) > 0 {
			in++
		}
		if w.Marks(l.Base.Add(geo.Local{E: 60}), w.Now, 30) > 0 {
			out++
		}
	}
	if in < 290 || out > 8 { // mean 5 echoes or more inside; outside only the false ones, 1.5 of 300
		t.Errorf("marks in %d of 300 looks inside and %d outside", in, out)
	}
	landed := 0.0
	for range 60 {
		for _, b := range w.Bites(l.Base, w.Now, 60) {
			if b.Landed {
				landed++
				if b.Length < 9*quantity.Centimetre || b.Length > 38*quantity.Centimetre {
					t.Errorf("a fish of %.0f cm", b.Length.Centimetres())
				}
			}
		}
	}
	if landed < 10 || math.Abs(s.fish+landed-1500) > 1e-9 {
		t.Errorf("%.0f landed, %.0f left of 1500", landed, s.fish)
	}
	if n := len(w.Bites(l.Base.Add(geo.Local{E: 60}), w.Now, 3600)); n != 0 {
		t.Errorf("%d bites where no fish is", n)
	}
}

// 3.5 km/h is 58.3 m a minute.
func TestWalk(t *testing.T) {
	start := clock(today, 9, 50)
	w := Walk{From: geo.Local{E: 10, N: 20}, To: geo.Local{E: 10, N: 220}, Start: start}
	for _, x := range []struct {
		after time.Duration
		north float64
	}{{-time.Minute, 20}, {0, 20}, {time.Minute, 20 + 58.333}, {3 * time.Minute, 20 + 175}, {4 * time.Minute, 220}, {time.Hour, 220}} {
		if p := w.At(start.Add(x.after)); math.Abs(p.N-x.north) > 0.01 || p.E != 10 {
			t.Errorf("after %s at %v, want N %.1f", x.after, p, x.north)
		}
	}
	if p := (Walk{From: w.From, To: w.From, Start: start}).At(start.Add(time.Hour)); p != w.From {
		t.Errorf("a walk of no length ends at %v", p)
	}
}
