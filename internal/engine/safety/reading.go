package safety

import (
	"math"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/ice"
	"icehand/internal/trade/lake"
)

// The numbers by which readings count.
const (
	readingSpacing = ice.HoleSpacing          // a figure reaches no further from a hole
	flowSpacing    = ice.HoleSpacingFlow      // the same where water flows
	dropAfter      = 7 * 24 * time.Hour       // a reading says nothing of strength after that; ours
	thickest       = 3 * quantity.Metre       // of lake ice that is believed; more is a slip of the pen; ours
	whiteReach     = 500 * quantity.Metre     // within which a told white share stands in for one not told; ours
	floatSlack     = 2 * quantity.Centimetre  // on reading the water level; ours
	compareTo      = quantity.Millimetre / 10 // thicknesses that round alike are alike
)

// below compares thicknesses, so that 15 cm is never below 15 cm by a last bit.
func below(h, least quantity.Length) bool {
	return math.Round(float64(h/compareTo)) < math.Round(float64(least/compareTo))
}

// judged is a reading and what it is worth.
type judged struct {
	*lake.IceReading
	effective quantity.Length // as so much clear ice
	known     bool            // false: no thickness can be named, as for layers of which the thickest was not told
	unsorted  bool            // white ice was not told apart, here or nearby today, and all counted as white
	state     string          // what bars a figure: layered, grey, rotten, not_floating; or halves it: wet_crack, current; "": none told
	wet       bool            // slush or water on the ice
	recent    bool            // of the last week, or a clock a little ahead
	ending    *ending         // what ended its worth, once asked
	timed     miss            // why its time keeps it from counting now; missNone: it does not
}

// usable tells whether a reading can be placed and believed at all.
func usable(r *lake.IceReading) bool {
	return r.Placed && r.Total >= 0 && r.Total <= thickest && !math.IsNaN(r.At.E+r.At.N) && !(r.White < 0) && !(r.Solid < 0)
}

// inDoubt tells whether a reading is timed so far ahead that its clock cannot be believed. It supports nothing then.
func inDoubt(r *lake.IceReading, now time.Time) bool { return r.When.After(now.Add(clockSlack)) }

// age gives how old a record is; a clock a little ahead counts as now.
func age(when, now time.Time) time.Duration { return max(0, now.Sub(when)) }

// judge values the usable readings as of now. Where white ice was not told, the greatest share told nearby on the same day stands
// in, since it is entered when it changes; without one all the ice counts as white.
func judge(readings []*lake.IceReading, zone *time.Location, now time.Time) []judged {
	today := dayOf(now, zone)
	out, days, endings := make([]judged, 0, len(readings)), make([]int, 0, len(readings)), make([]ending, len(readings))
	type told struct {
		at    geo.Local
		white quantity.Length
		share float64
	}
	whites := map[int][]told{} // by day
	for i, r := range readings {
		if usable(r) {
			day := dayOf(r.When, zone)
			j := judged{IceReading: r, recent: age(r.When, now) <= dropAfter, ending: &endings[i]}
			switch {
			case inDoubt(r, now):
				j.timed = missClock
			case !j.recent:
				j.timed = missStale
			case day != today:
				j.timed = missOtherDay
			}
			out, days = append(out, j), append(days, day)
			if r.WhiteTold && r.Total > 0 && !r.Layered {
				whites[day] = append(whites[day], told{r.At, r.White, float64(r.White / r.Total)})
			}
		}
	}
	for i := range out {
		j := &out[i]
		white, found := j.White, j.WhiteTold
		if !found {
			for _, w := range whites[days[i]] {
				if w.at.Distance(j.At) <= whiteReach {
					white, found = max(white, w.white, quantity.Length(w.share*j.Total.Metres())), true
				}
			}
		}
		j.value(white, found)
	}
	return out
}

// value works out the worth of one reading.
func (j *judged) value(white quantity.Length, sorted bool) {
	layers := []ice.Layer{{Kind: ice.Unsorted, Thickness: j.Total}}
	j.known = true
	switch {
	case j.Layered:
		j.known = j.SolidTold
		layers[0].Thickness = min(j.Solid, j.Total)
		if j.WhiteTold && j.White == 0 {
			layers[0].Kind = ice.Clear
		}
	case sorted:
		white = min(white, j.Total)
		layers = []ice.Layer{{Kind: ice.White, Thickness: white}, {Kind: ice.Clear, Thickness: j.Total - white}}
	}
	w := ice.Effective(layers)
	j.effective, j.unsorted = w.Thickness, w.Unsorted
	j.wet = j.Slush || j.WaterTold && j.Water < 0
	switch {
	case j.Rotten:
		j.state = "rotten"
	case j.Layered:
		j.state = "layered"
	case j.Grey:
		j.state = "grey"
	case j.WaterTold && j.Water > ice.Freeboard(0, j.Total, 0)+floatSlack: // white ice floats highest
		j.state = "not_floating"
	case j.Crack == "wet" || j.Crack == "crossing":
		j.state = "wet_crack"
	case j.Current:
		j.state = "current"
	}
}

// crack gives what the reading says of cracks. Nothing noted counts as none: a crack is noted by whoever stands beside it.
func (j judged) crack() ice.Crack {
	switch j.Crack {
	case "dry":
		return ice.DryCrack
	case "wet":
		return ice.WetCrack
	case "crossing":
		return ice.WetCracksMeet
	}
	return ice.NoCrack
}

// apart gives the distance of two places, or infinity where one coordinate alone differs by more than most: a lake's
// readings are mostly far off, and a root for each is slow.
func apart(a, b geo.Local, most quantity.Length) quantity.Length {
	if m := most.Metres(); math.Abs(a.E-b.E) > m || math.Abs(a.N-b.N) > m {
		return quantity.Length(math.Inf(1))
	}
	return a.Distance(b)
}

// nearest gives the nearest of some readings, the newer of two as near; nil without any.
func nearest(to geo.Local, list []judged, now time.Time) *Nearest {
	best, d := -1, math.Inf(1)
	for i := range list {
		e := math.Hypot(list[i].At.E-to.E, list[i].At.N-to.N)
		if e < d || e == d && list[i].When.After(list[best].When) {
			best, d = i, e
		}
	}
	if best < 0 {
		return nil
	}
	r := list[best]
	return &Nearest{Reading: r.IceReading, Age: age(r.When, now), Distance: quantity.Length(d), Bearing: to.BearingTo(r.At)}
}
