package safety

import (
	"fmt"
	"math"
	"strings"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

// Way is the way home as far as it is known.
type Way struct {
	Distance quantity.Length  // along the line; straight when there is no known way
	Bearing  quantity.Bearing // from here straight to the landing, true
	FirstLeg quantity.Bearing // of the first leg of the line, true; as Bearing without a line
	Travel   time.Duration    // at the slowest member's pace, rounded up to the minute
	Line     []geo.Local      // from here to the landing; empty: no known way
	Basis    string           // "this morning's line", "direct line, not travelled today", "no known way: ..."
	Pace     quantity.Speed   // that Travel is reckoned at, the slowest member's and flat light's shares taken off
	Measured bool             // Pace rests on a measured speed
	Earlier  bool             // which was measured on earlier days
	Slowest  float64          // factor of the slowest member in it, at least 1
	Flat     bool             // flat light is counted in it
	Unplaced bool             // neither fix nor hole of today: it begins at an earlier day's place, and leads nobody
}

// guessed tells whether the line was not travelled today.
func (w Way) guessed() bool { return strings.HasSuffix(w.Basis, notTravelled) }

// Travelled tells whether all of the line was travelled and read today.
func (w Way) Travelled() bool { return len(w.Line) > 1 && w.Basis == thisMorning }

// OnMorningLine tells whether the way follows this morning's line, from here or once it is joined.
func (w Way) OnMorningLine() bool { return len(w.Line) > 1 && strings.Contains(w.Basis, thisMorning) }

const (
	notTravelled = ", not travelled today"
	thisMorning  = "this morning's line"
	iceNotRead   = ", ice not read on it"
)

// WayInput is what [WayHome] looks at.
type WayInput struct {
	Now           time.Time
	Zone          *time.Location
	Here, Landing geo.Local
	Line          []geo.Local    // travelled and read this morning, landing first; empty: none
	Unread        bool           // Line was travelled and its ice not read
	Hazards       []*lake.Hazard // in force or not
	Shifted       time.Time      // when the wind shifted or will; a crossing read before a shift that has come counts as shut
	Travel        string         // foot, machine, vehicle; anything else counts as foot
	Speed         quantity.Speed // measured; 0: the careful default
	Earlier       bool           // Speed was measured on earlier days
	Slowest       float64        // factor for the slowest member, at least 1; 0: 1
	FlatLight     bool
	// Round finds a way over water round hazards, as [NewRound] makes it; ok is false when there is none. nil: not asked.
	Round func(from, to geo.Local) (line []geo.Local, ok bool)
}

// Paces of the ways of travel: the careful default and the most that a measured speed counts for. Common practice, no
// source: 3 to 4 km/h with a loaded sled on packed snow, up to 5 on bare ice; 15 to 25 km/h towing guests or by truck.
var paces = map[string]struct{ usual, most quantity.Speed }{
	"foot":    {3 * quantity.KilometrePerHour, 5 * quantity.KilometrePerHour},
	"machine": {15 * quantity.KilometrePerHour, 25 * quantity.KilometrePerHour},
	"vehicle": {15 * quantity.KilometrePerHour, 25 * quantity.KilometrePerHour},
}

const (
	flatLightFactor = 1.5  // on the time, when the snow shows no relief; common practice, no source
	guessFactor     = 1.25 // on the time, for a line not travelled today or a landing that is a guess; ours
	noWayFactor     = 2.0  // on the time over the straight distance, when no way is known: a way round; ours
	joinNear        = 100 * quantity.Metre
	crossingReach   = 30 * quantity.Metre // a crossing is known this far to each side of where it was read; ours
	lineStep        = 5.0                 // m, for finding where a line meets a hazard
)

// WayHome gives the line home: this morning's, joined at its nearest point; where there is none or something bars it,
// the way round land and hazards that [WayInput].Round finds; without Round the direct line, which may meet land. Ways
// that were not travelled today are labelled so. It never gives a line over a hazard in force. A ridge or crack may lie
// across a line only at a crossing that was read today, after any shift of the wind.
func WayHome(in WayInput) Way {
	mustHaveZone(in.Zone)
	w, _ := wayHome(in)
	return w
}

// meeting is where a way meets a hazard: the hazard and the metres from here to the far side of it.
type meeting struct {
	hazard *lake.Hazard
	alongM float64
}

// wayHome also gives what lies across the line, or across the straight line when no way is known, nearest first.
func wayHome(in WayInput) (Way, []meeting) {
	path, travelled, basis, guessed := in.path()
	met, bar, length := in.along(path, travelled)
	if (bar != nil || guessed) && in.Round != nil {
		if round, ok := in.Round(in.Here, in.Landing); ok {
			path, basis, guessed = round, "way round land and hazards"+notTravelled, true
			met, bar, length = in.along(path, 0)
		} else if bar == nil {
			bar = &lake.Hazard{What: "land"}
		}
	}
	w := Way{Distance: in.Here.Distance(in.Landing), Bearing: in.Here.BearingTo(in.Landing)}
	w.FirstLeg = w.Bearing
	factor := 1.0
	if bar != nil {
		w.Basis = "no known way: " + hazardWord(bar.What) + " in the way"
		factor = noWayFactor
		met, _, _ = in.along([]geo.Local{in.Here, in.Landing}, 1)
	} else {
		w.Line, w.Basis, w.Distance = path, basis, length
		w.FirstLeg = firstLeg(path)
		if guessed {
			factor = guessFactor
		}
	}
	w.Travel = in.travelTime(w.Distance, factor)
	w.Pace, w.Measured, w.Slowest, w.Flat = in.pace(), in.Speed > 0, max(1, in.Slowest), in.FlatLight
	w.Earlier = w.Measured && in.Earlier
	return w, met
}

// path gives the line to be tried first, how many of its first legs were not travelled today, what it rests on, and
// whether all of it is a guess.
func (in WayInput) path() (path []geo.Local, untravelled int, basis string, guessed bool) {
	if len(in.Line) < 2 {
		return []geo.Local{in.Here, in.Landing}, 1, "direct line" + notTravelled, true
	}
	path, off := joined(in.Here, in.Line, in.Landing)
	unread := ""
	if in.Unread {
		unread = iceNotRead
	}
	if off > joinNear {
		return path, 1, fmt.Sprintf("%s direct to this morning's line, then along it%s", quantity.SI.DistanceText(off), unread), false
	}
	return path, 0, thisMorning + unread, false
}

// along gives what a path meets, the first thing that bars it, and its length. The first legs, untravelled many, may use
// no crossing.
func (in WayInput) along(path []geo.Local, untravelled int) (met []meeting, bar *lake.Hazard, length quantity.Length) {
	done := 0.0
	for i := 1; i < len(path); i++ {
		a, b := path[i-1], path[i]
		for _, h := range in.Hazards {
			along, open, ok := meet(a, b, h, in, i > untravelled)
			if !ok {
				continue
			}
			met = append(met, meeting{h, done + along})
			if !open && bar == nil {
				bar = h
			}
		}
		done += a.Distance(b).Metres()
	}
	return met, bar, quantity.Length(done)
}

// travelTime gives the time over a distance at the slowest member's pace, rounded up to the minute.
func (in WayInput) travelTime(d quantity.Length, factor float64) time.Duration {
	// (SAFETY-2)
	minutes := d.Metres() / in.pace().MetresPerSecond() * factor / 60
	return time.Duration(math.Ceil(math.Min(minutes, 7*24*60)-1e-6)) * time.Minute
}

// pace gives the speed that a way is reckoned at, guesses about the way left out.
func (in WayInput) pace() quantity.Speed {
	pace := paceOf(in.Travel)
	v := pace.usual
	if in.Speed > 0 {
		v = min(in.Speed, pace.most)
	}
	slower := max(1, in.Slowest)
	if in.FlatLight {
		slower *= flatLightFactor
	}
	return quantity.Speed(v.MetresPerSecond() / slower)
}

// joined gives the path from here to the nearest point of a line and back along it to the landing, and the length of
// its first leg.
func joined(here geo.Local, line []geo.Local, landing geo.Local) ([]geo.Local, quantity.Length) {
	foot := geo.FootOn(line, here) // a later leg wins a tie: the longer way home
	path := []geo.Local{here}
	add := func(p geo.Local) {
		if p != path[len(path)-1] {
			path = append(path, p)
		}
	}
	add(foot.At)
	for i := foot.Leg; i >= 0; i-- {
		add(line[i])
	}
	add(landing)
	if len(path) == 1 {
		path = append(path, landing)
	}
	return path, quantity.Length(math.Abs(foot.Off.Metres()))
}

// firstLeg gives the direction to the first point of the path that is a few paces away.
func firstLeg(path []geo.Local) quantity.Bearing {
	for _, p := range path[1:] {
		if path[0].Distance(p) > 20*quantity.Metre {
			return path[0].BearingTo(p)
		}
	}
	return path[0].BearingTo(path[len(path)-1])
}

// meet tells whether the leg a-b meets a hazard in force, how far along the leg it leaves it, and whether that place is
// a crossing in use. Only a travelled leg may use a crossing.
func meet(a, b geo.Local, h *lake.Hazard, in WayInput, travelled bool) (along float64, open, ok bool) {
	if !h.InForce() || len(h.Points) == 0 || !(segmentToHazard(a, b, h) <= h.Radius.Metres()) {
		return 0, false, false
	}
	open = travelled && (h.What == "ridge" || h.What == "crack")
	length := a.Distance(b).Metres()
	steps := math.Ceil(length / lineStep)
	for k := 0.0; k <= steps; k++ {
		t := k / math.Max(steps, 1)
		p := geo.Local{E: a.E + t*(b.E-a.E), N: a.N + t*(b.N-a.N)}
		if h.Distance(p) > lineStep {
			continue
		}
		along = t * length
		open = open && atCrossing(p, h, in)
	}
	return along, open, true
}

// atCrossing tells whether a place in a ridge or crack is where the party has read a crossing today.
func atCrossing(p geo.Local, h *lake.Hazard, in WayInput) bool {
	for _, c := range in.Hazards {
		if c.Report != "crossing" || !c.InForce() || len(c.Points) == 0 || c.When.After(in.Now.Add(clockSlack)) || !sameDay(c.When, in.Now, in.Zone) {
			continue
		}
		if shut := in.Shifted; !shut.IsZero() && !in.Now.Before(shut) && c.When.Before(shut) {
			continue
		}
		if c == h || (c.What == "ridge" || c.What == "crack") && c.Distance(p) <= crossingReach.Metres() {
			return true
		}
	}
	return false
}

// hazardWord gives the word of a hazard for a sentence.
func hazardWord(what string) string {
	switch what {
	case "open_water":
		return "open water"
	case "thin":
		return "thin ice"
	case "rotten":
		return "rotten ice"
	case "ridge", "crack", "spring", "current", "slush", "narrows", "land":
		return what
	}
	return "hazard"
}

// segmentToHazard gives the metres from the segment a-b to a hazard's bare shape, its radius not counted.
func segmentToHazard(a, b geo.Local, h *lake.Hazard) float64 {
	pts := h.Points
	if h.Shape == "area" && len(pts) >= 3 {
		ring := geo.Polygon{Outer: pts}
		if ring.Contains(a) || ring.Contains(b) {
			return 0
		}
	}
	best := geo.SegmentDistance(pts[0], a, b)
	for i := 1; i < len(pts) && best > 0; i++ {
		best = min(best, geo.SegmentGap(a, b, pts[i-1], pts[i]))
	}
	if h.Shape == "area" && best > 0 {
		best = min(best, geo.SegmentGap(a, b, pts[len(pts)-1], pts[0]))
	}
	return best
}
