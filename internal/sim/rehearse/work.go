package rehearse

import (
	"time"

	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

// Work is what a day's finding and working came to, told from the truth. A school is met when a sonar stands over it,
// and worked when a lure reaches it while it feeds.
type Work struct {
	Met        int           // different schools under anybody's sonar
	MetFeeding int           // of these, found feeding at least once
	ByScout    int           // of MetFeeding, first found feeding by the scout
	Worked     int           // of MetFeeding, fished while they fed
	WorkedFish int           // fish landed from schools that fed
	UntilRod   time.Duration // summed over Worked: from the first sonar over it while it fed to the first rod
	RodTime    time.Duration // of rods over schools that fed
	SchoolTime time.Duration // of schools that fed with at least one rod over them
}

// add sums up days.
func (w *Work) add(o Work) {
	w.Met += o.Met
	w.MetFeeding += o.MetFeeding
	w.ByScout += o.ByScout
	w.Worked += o.Worked
	w.WorkedFish += o.WorkedFish
	w.UntilRod += o.UntilRod
	w.RodTime += o.RodTime
	w.SchoolTime += o.SchoolTime
}

// Finding is the same by day, for tables.
type Finding struct {
	Met        float64 `json:"schools_under_sonar"`           // a day
	MetFeeding float64 `json:"schools_met_feeding"`           // a day
	ByScout    float64 `json:"met_feeding_by_scout"`          // share of MetFeeding that the scout found first
	Worked     float64 `json:"worked"`                        // share of MetFeeding that a rod fished while they fed
	FishEach   float64 `json:"fish_by_school_met_feeding"`    // landed while it fed
	FishWorked float64 `json:"fish_by_school_worked"`         // the same by school that a rod fished
	Rods       float64 `json:"rods_at_once"`                  // mean over the time in which a feeding school had a rod
	UntilRod   float64 `json:"minutes_until_rod"`             // from the first sonar over a feeding school to its first rod
	FishByHour float64 `json:"fish_by_rod_hour_over_feeding"` // of rods over feeding schools
}

// finding gives the figures of the sum of some days.
func (w Work) finding(days int) Finding {
	by := func(a, b float64) float64 {
		if b == 0 {
			return 0
		}
		return a / b
	}
	n, met, worked := float64(days), float64(w.MetFeeding), float64(w.Worked)
	return Finding{
		Met: by(float64(w.Met), n), MetFeeding: by(met, n), ByScout: by(float64(w.ByScout), met), Worked: by(worked, met),
		FishEach: by(float64(w.WorkedFish), met), FishWorked: by(float64(w.WorkedFish), worked),
		Rods: by(float64(w.RodTime), float64(w.SchoolTime)), UntilRod: by(w.UntilRod.Minutes(), worked),
		FishByHour: by(float64(w.WorkedFish), w.RodTime.Hours()),
	}
}

// tally keeps what Work needs while the day passes.
type tally struct {
	work    Work
	met     map[int]bool
	feeding map[int]time.Duration // when a sonar first stood over it while it fed
	worked  map[int]bool
	busy    map[[2]int]bool // school and half minute with a rod over it while it feeds
}

func newTally() tally {
	return tally{met: map[int]bool{}, feeding: map[int]time.Duration{}, worked: map[int]bool{}, busy: map[[2]int]bool{}}
}

// looked takes in what a sonar truly stood over.
func (t *tally) looked(now time.Duration, by int, seen []world.Below) {
	for _, b := range seen {
		t.met[b.School] = true
		if _, known := t.feeding[b.School]; b.Feeding && !known {
			t.feeding[b.School] = now
			if by == way.Scout {
				t.work.ByScout++
			}
		}
	}
}

// fished takes in half a minute of a rod.
func (t *tally) fished(now time.Duration, over []world.Below, bites []world.Bite) {
	for _, b := range over {
		if !b.Feeding {
			continue
		}
		if _, known := t.feeding[b.School]; !known { // a lure may draw from beyond the sonar
			t.feeding[b.School] = now
		}
		if !t.worked[b.School] {
			t.worked[b.School] = true
			t.work.UntilRod += now - t.feeding[b.School]
		}
		// rods report every half minute, each at its own second
		slot := [2]int{b.School, int(now / way.Step)}
		t.work.RodTime += way.Step
		if !t.busy[slot] {
			t.busy[slot] = true
			t.work.SchoolTime += way.Step
		}
	}
	for _, b := range bites {
		if b.Landed && b.From.Feeding {
			t.work.WorkedFish++
		}
	}
}

func (t *tally) sum() Work {
	w := t.work
	w.Met, w.MetFeeding, w.Worked = len(t.met), len(t.feeding), len(t.worked)
	return w
}
