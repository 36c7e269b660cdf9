package care

import (
	"math"
	"testing"
	"time"

	"icehand/internal/base/quantity"
)

func near(a, b, tolerance float64) bool { return math.Abs(a-b) <= tolerance }

// The curves pass through the published figures and are never extrapolated: beyond them the nearest figure stands as a bound.
func TestNeverExtrapolated(t *testing.T) {
	for _, c := range []struct {
		of    string
		depth float64
		share float64
		bound Bound
	}{
		{"walleye_death", 10, 0.05, Between}, {"walleye_death", 12, 0.37, Between}, // [Lyon2022]
		{"walleye_death", 9.9, 0.05, AtMost}, {"walleye_death", 2, 0.05, AtMost}, {"walleye_death", 12.1, 0.37, AtLeast}, {"walleye_death", 30, 0.37, AtLeast},
		{"perch_barotrauma", 7.6, 0.13, Between}, {"perch_barotrauma", 16.8, 0.74, Between}, // [Knight2019]
		{"perch_barotrauma", 7.5, 0.13, AtMost}, {"perch_barotrauma", 17, 0.74, AtLeast},
	} {
		_, _, share, bound := Curve(c.of, quantity.Length(c.depth))
		if !near(share, c.share, 1e-12) || bound != c.bound {
			t.Errorf("%s at %v m: %v %q, want %v %q", c.of, c.depth, share, bound, c.share, c.bound)
		}
	}
	for _, c := range []struct {
		depth, share float64
		bound        Bound
	}{{2.9, 0.88, AtLeast}, {3, 0.88, Between}, {3.75, 0.80, Between}, {4.5, 0.72, Between}, {6, 0.37, Between}, {6.1, 0.37, AtMost}} { // [Klingsheim2015]
		if share, bound := SwimsDown(quantity.Length(c.depth)); !near(share, c.share, 1e-12) || bound != c.bound {
			t.Errorf("from %v m: %v %q, want %v %q", c.depth, share, bound, c.share, c.bound)
		}
	}
}

// Every verdict from both sides of its line, and at unknown, which is never fine.
func TestVerdicts(t *testing.T) {
	for _, c := range []struct {
		f    Fish
		want Verdict
	}{
		{Fish{Species: "perch", Depth: 4}, Doubtful}, // injury is bounded by 13 %, half of which may die: not under 5 %
		{Fish{Species: "perch", Depth: 11}, Doubtful}, {Fish{Species: "perch", Depth: 14.5}, Doubtful}, {Fish{Species: "perch", Depth: 15}, CountIt}, {Fish{Species: "perch", Depth: 20}, CountIt},
		{Fish{Species: "walleye", Depth: 5}, Doubtful}, {Fish{Species: "walleye", Depth: 10.2}, Doubtful}, {Fish{Species: "walleye", Depth: 12.5}, Doubtful}, {Fish{Species: "walleye", Depth: 12.6}, CountIt},
		{Fish{Species: "perch"}, Doubtful}, {Fish{Species: "pike", Depth: 3}, Doubtful}, {Fish{}, Doubtful},
		{Fish{Species: "perch", Depth: 4, Down: "floats"}, CountIt}, {Fish{Species: "pike", Depth: 3, Deep: true, Bleeding: true}, CountIt}, {Fish{Species: "pike", Depth: 3, Bleeding: true}, Doubtful},
	} {
		if got := Weigh(c.f); got.Verdict != c.want || len(got.Why) == 0 || got.Low > got.High || got.Known && (got.Mean < got.Low || got.Mean > got.High) {
			t.Errorf("%+v: %+v, want %s", c.f, got, c.want)
		}
	}
	eyes := func(air quantity.Celsius) bool {
		for _, w := range Weigh(Fish{Species: "perch", Depth: 4, Air: air, AirTold: true}).Why {
			if w.Code == "eyes" {
				return true
			}
		}
		return false
	}
	if eyes(-12) || !eyes(-12.1) {
		t.Error("eyes are at risk below -12 C")
	}
}

// More depth never makes a fish fare better, for perch and walleye, seen or not.
func TestDeeperIsNeverBetter(t *testing.T) {
	rank := map[Verdict]int{Fine: 0, Doubtful: 1, CountIt: 2}
	for _, species := range []string{"perch", "walleye"} {
		last := Weigh(Fish{Species: species, Depth: 12.6})
		for d := 12.7; d < 30; d += 0.1 {
			f := Weigh(Fish{Species: species, Depth: quantity.Length(d)})
			if rank[f.Verdict] < rank[last.Verdict] || f.Mean < last.Mean-1e-12 {
				t.Fatalf("%s at %.1f m: %+v after %+v", species, d, f, last)
			}
			last = f
		}
	}
}

// Sorting by size is barred from 30 ft on [NDGF2019], or from shallower where the outfit says so, never from deeper; an unknown depth bars it.
func TestSorting(t *testing.T) {
	const foot = quantity.Foot
	for _, c := range []struct {
		selective   bool
		depth, from quantity.Length
		barred      bool
	}{{true, 29.9 * foot, 0, false}, {true, 30 * foot, 0, true}, {true, 11, 0, true}, {false, 11, 0, false}, {true, 0, 0, true}, {true, 8, 7.6, true}, {true, 7.5, 7.6, false}, {true, 11, 15, true}} {
		b, barred := Sorting(c.selective, "perch", c.depth, c.from)
		if barred != c.barred || barred && (b.From > SortFrom || b.Depth != c.depth) {
			t.Errorf("%+v: %+v %v", c, b, barred)
		}
	}
}

// Fish put back are counted by depth, and three from where sorting is barred within an hour are a reason to leave.
func TestCountAndLeave(t *testing.T) {
	now := time.Date(2026, 1, 15, 14, 0, 0, 0, time.UTC)
	at := func(minutes int, depth quantity.Length, n int, down string) Released {
		return Released{now.Add(-time.Duration(minutes) * time.Minute), n, Fish{Species: "perch", Depth: depth, Down: down}}
	}
	bands := Count([]Released{at(5, 3, 2, ""), at(5, 11, 4, ""), at(5, 11, 1, "floats"), at(5, 0, 1, ""), at(5, 9.2, 1, ""), at(5, 9.1, 1, "")})
	want := []struct {
		from    quantity.Length
		n, away int
	}{{0, 2, 0}, {HurtFrom, 1, 0}, {SortFrom, 6, 1}, {0, 1, 0}}
	if len(bands) != len(want) {
		t.Fatalf("%+v", bands)
	}
	for i, w := range want {
		if b := bands[i]; b.From != w.from || b.Count != w.n || b.Floated != w.away || b.Low > b.High || b.High > float64(b.Count) {
			t.Errorf("band %d: %+v, want %+v", i, b, w)
		}
	}
	for _, c := range []struct {
		fish  []Released
		leave bool
	}{{[]Released{at(10, 11, 2, "")}, false}, {[]Released{at(10, 11, 3, "")}, true}, {[]Released{at(10, 9.1, 9, "")}, false}, {[]Released{at(61, 11, 9, "")}, false}, {[]Released{at(60, 11, 1, ""), at(3, 12, 2, "")}, true},
		{[]Released{at(-5, 11, 9, "")}, false}} {
		toll, leave := Leave(c.fish, now)
		if leave != c.leave || leave && (toll.High > float64(toll.Count) || toll.Shallow < SortFrom || toll.Deep < toll.Shallow) {
			t.Errorf("%+v: %+v %v", c.fish, toll, leave)
		}
	}
}

// The share kept and what may be said of it: 2 of 9 is 8 to 50 % at 90 %, 1 of 10 is 3 to 28 % at 80 % (worked out in the trade's notes by Wilson's
// score interval [Wilson1927]); a plan is barred below one half, from 30 ft, at four fish of which three went back, and on neither other side.
func TestTooSmall(t *testing.T) {
	if low, high := Mix(1, 10); math.Abs(low-0.03) > 0.005 || math.Abs(high-0.28) > 0.005 {
		t.Errorf("1 of 10: %.3f to %.3f", low, high)
	}
	if low, high := Mix(0, 0); low != 0 || high != 1 {
		t.Errorf("of no fish: %g to %g", low, high)
	}
	for _, x := range []struct {
		kept, back int
		depth      quantity.Length
		want       bool
	}{
		{0, 4, 10.8, true}, {0, 3, 10.8, false}, // three fish say nothing yet
		{1, 9, 10.8, true}, {5, 5, 10.8, false}, // half are kept
		{0, 4, SortFrom, true}, {0, 4, SortFrom - 0.01, false}, {0, 4, 0, false}, // shallow, or not known
		{2, 2, 10.8, false},
	} {
		if got := TooSmall(x.kept, x.back, x.depth); got != x.want {
			t.Errorf("%d kept, %d back from %g m: %v", x.kept, x.back, float64(x.depth), got)
		}
	}
}
