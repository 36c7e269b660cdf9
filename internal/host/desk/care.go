package desk

import (
	"github.com/google/uuid"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/care"
	"icehand/internal/engine/sounder"
	"icehand/internal/trade/tally"
)

// Released lists what was put back today, with the depth of each fish's hole; told is false when the air is not known.
func (v View) Released(air quantity.Celsius, told bool) []care.Released {
	var out []care.Released
	for _, f := range v.Sheet(v.Today, v.Now).Fish() {
		if !f.Kept && f.Fate != "lost" {
			out = append(out, care.Released{When: f.When, Count: f.Count, Fish: v.releasedFish(f, air, told)})
		}
	}
	return out
}

func (v View) releasedFish(f *tally.Fish, air quantity.Celsius, told bool) care.Fish {
	return care.Fish{Species: f.Species, Depth: v.depthOf(f.Hole), Air: air, AirTold: told, Deep: f.Deep, Bleeding: f.Bleeding, Down: f.Down}
}

// depthOf gives the depth at a hole; 0 when it is not known.
func (v View) depthOf(hole uuid.UUID) quantity.Length {
	h := v.Lake.Hole(hole)
	if h == nil {
		return 0
	}
	depth, _ := sounder.Depth(v.Lake, h)
	return depth
}

// Release says what is expected of a fish that was put back; false for one that was kept, lost or is not on record.
func (v View) Release(fish uuid.UUID, air quantity.Celsius, told bool) (care.Fish, care.Fate, bool) {
	f := v.ledger.Find(fish)
	if f == nil || f.Kept || f.Fate == "lost" {
		return care.Fish{}, care.Fate{}, false
	}
	x := v.releasedFish(f, air, told)
	return x, care.Weigh(x), true
}

// Sorting tells whether the day's plan is one that may not be advised: looking for size where fish that are put back seldom live. It goes
// by the deepest hole in which a rod fishes now; without a rod in the water there is nothing to bar.
func (v View) Sorting() (care.Barred, bool) {
	t := v.Party.Trip(v.Today)
	rods := v.Party.RodsAt(v.Now)
	if t == nil || t.Aim != "size" || len(rods) == 0 {
		return care.Barred{}, false
	}
	deepest, species, unknown := quantity.Length(0), "perch", false
	for _, s := range rods {
		depth := v.depthOf(s.Hole)
		unknown = unknown || depth == 0
		if depth >= deepest {
			deepest = depth
			if to := v.Party.TargetAt(s, v.Now); to != "" {
				species = to
			}
		}
	}
	if unknown && deepest < care.SortFrom {
		deepest = 0
	}
	return care.Sorting(true, species, deepest, 0)
}
