package care

import (
	"math"
	"slices"
	"time"

	"icehand/internal/base/quantity"
)

// SortFrom is the depth from which fish must not be sorted by size: 30 ft, from which agencies ask to keep what is caught and to stop at
// the limit [NDGF2019].
const SortFrom = 30 * quantity.Foot

// HurtFrom is the depth from which injury is usually seen: 25 ft, as a state biologist puts it [UDWR].
const HurtFrom = 25 * quantity.Foot

// Barred is a plan that may not be advised, with its reason.
type Barred struct {
	From  quantity.Length // depth from which it is barred
	Depth quantity.Length
	Fate  Fate // of one small fish put back
}

// Sorting tells whether a plan to put back small fish and look for larger ones is barred at a depth. It is no penalty: such a plan is not
// advised at all. From may bar it shallower than [SortFrom], never deeper; 0 leaves it there. A depth that is not known bars it.
func Sorting(selective bool, species string, depth, from quantity.Length) (Barred, bool) {
	if from <= 0 || from > SortFrom {
		from = SortFrom
	}
	if !selective || depth > 0 && depth < from {
		return Barred{}, false
	}
	return Barred{from, depth, Weigh(Fish{Species: species, Depth: depth})}, true
}

// Released is a fish that was put back.
type Released struct {
	When  time.Time
	Count int
	Fish
}

// Band counts what was put back from a range of depths.
type Band struct {
	From, To  quantity.Length // To is 0 for the deepest; both are 0 where the depth is not known
	Count     int
	Floated   int
	Low, High float64 // of them expected to die
}

// edges part depths where the published figures change their meaning: half swim down, injury shows, sorting is barred, death is common.
var edges = []quantity.Length{0, 4.5 * quantity.Metre, HurtFrom, SortFrom, 12 * quantity.Metre}

// Count counts what was put back by depth, the shallowest first, fish of unknown depth last.
func Count(all []Released) (out []Band) {
	bands := make([]Band, len(edges)+1)
	for i, from := range edges {
		bands[i].From = from
		if i+1 < len(edges) {
			bands[i].To = edges[i+1]
		}
	}
	for _, r := range all {
		k := len(edges)
		if r.Depth > 0 {
			for k = len(edges) - 1; r.Depth < edges[k]; {
				k--
			}
		}
		f := Weigh(r.Fish)
		b := &bands[k]
		b.Count += r.Count
		b.Low += f.Low * float64(r.Count)
		b.High += f.High * float64(r.Count)
		if r.Down == "floats" {
			b.Floated += r.Count
		}
	}
	return slices.DeleteFunc(bands, func(b Band) bool { return b.Count == 0 })
}

// Toll is a reason to leave: so many fish were put back from so deep.
type Toll struct {
	Count     int
	Shallow   quantity.Length // the least and the greatest depth
	Deep      quantity.Length
	Low, High float64 // of them expected to die
	Since     time.Time
}

// tollFrom is how many fish put back from the depth where sorting is barred, within tollSpan, are a reason to leave; ours.
const (
	tollFrom = 3
	tollSpan = time.Hour
)

// Leave tells whether fish put back are a reason to leave now.
func Leave(all []Released, now time.Time) (Toll, bool) {
	var t Toll
	for _, r := range all {
		if r.Depth < SortFrom || now.Sub(r.When) > tollSpan || r.When.After(now) {
			continue
		}
		f := Weigh(r.Fish)
		if t.Count == 0 || r.Depth < t.Shallow {
			t.Shallow = r.Depth
		}
		if t.Since.IsZero() || r.When.Before(t.Since) {
			t.Since = r.When
		}
		t.Deep = max(t.Deep, r.Depth)
		t.Count += r.Count
		t.Low += f.Low * float64(r.Count)
		t.High += f.High * float64(r.Count)
	}
	return t, t.Count >= tollFrom
}

// What makes a hole one where small fish are sorted; ours.
const (
	MixSpan  = time.Hour // fish longer ago say nothing of it
	mixLeast = 4         // fish before anything is said
	mixGoal  = 0.5       // share kept that a party wants at least
)

// Mix gives the 80 % interval of the share kept, of so many fish.
func Mix(kept, all int) (low, high float64) {
	if all <= 0 {
		return 0, 1
	}
	const z = 1.2816 // 90 % point of the normal distribution
	n, p := float64(all), float64(kept)/float64(all)
	// (CARE-6)
	mid := (p + z*z/(2*n)) / (1 + z*z/n)
	half := z * math.Sqrt(p*(1-p)/n+z*z/(4*n*n)) / (1 + z*z/n)
	return max(0, mid-half), min(1, mid+half)
}

// TooSmall tells whether fish at a hole are too small to stay for, where those put back seldom live: enough of them came up within
// [MixSpan], at least three went back, and even the upper end of the share kept stays below one half. Of a depth that is not known nothing is said.
func TooSmall(kept, putBack int, depth quantity.Length) bool {
	_, high := Mix(kept, kept+putBack)
	return depth >= SortFrom && kept+putBack >= mixLeast && putBack >= tollFrom && high < mixGoal
}
