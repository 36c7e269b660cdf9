package safety

import (
	"fmt"
	"math"
	"slices"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/physics/ice"
	"icehand/internal/trade/lake"
)

// HopInput is a step over the ice that the planner would like to advise.
type HopInput struct {
	Now      time.Time
	Zone     *time.Location
	From, To geo.Local
	Travel   string // foot; anything else is never advised over unread ice
	Surface  *ground.Surface
	Readings []*lake.IceReading
	Hazards  []*lake.Hazard
	Air      []AirHour
	Table    Table
	Cover    Cover                         // the columns of the lake's zones, for what decides at a hole
	Figures  *Figures                      // what decides at each hole, when worked out for Now already; nil: worked out
	Ended    time.Time                     // readings from before support nothing: the ice broke or the water level changed; zero: neither
	Deadline time.Time                     // turn-back time at From; zero: none known, and not checked
	Arrival  time.Time                     // expected arrival and first look at To; zero: now
	ArriveAt func(geo.Local) time.Time     // the same by place, for a Hopper; nil: Arrival
	HomeAt   func(geo.Local) time.Duration // travel home from a place; nil: From's counts for To
}

// HopAnswer says whether a hop may be advised and how it must be labelled.
type HopAnswer struct {
	Barred  bool
	Reasons []Refusal // why barred
	Read    bool      // ice read at the place itself or beside it today
	Label   string    // the line to show with the advice, at most 90 characters; never empty
	Nearest *Nearest  // nearest of today's readings, else of all; nil without any
}

// ReadHere is how near a reading is of the place itself: within a phone's fix; ours.
const ReadHere = 5 * quantity.Metre

// The numbers of a hop.
const (
	corridorHalf = 30.0                 // m to each side of the straight line; a compass course on foot wanders; ours
	shoreKeep    = 200.0                // m: nearer the shore the same total is weaker [AdamsProwse1981]; the figure is ours
	hopReach     = 500 * quantity.Metre // from every place of the hop to a same-day reading at or above the table; ours
	badReach     = 100.0                // m from the line within which a bad reading bars; ours
	shoreStep    = 5.0                  // m, least step along the line when asking for the shore
	reachStep    = 1.0                  // m, least step along the line when asking for readings
	currentKeeps = 400 * 24 * time.Hour // current does not go away within a season
)

// Hop tells whether a hop over the ice may be advised. On foot only, and only over open basin: all of the line on water
// and more than 200 m from shore, no hazard in force within 30 m of its buffer, no bad or thin reading nearby, no thaw,
// and everywhere within 500 m of ice read today at or above the table. What is not known bars, or is said in the label.
// To ask about many places from one, use [NewHopper]. It panics without a zone.
func Hop(in HopInput) HopAnswer { return NewHopper(in).Hop(in.To) }

// Hopper answers for many places what [Hop] answers for one.
type Hopper struct {
	in       HopInput
	fixed    []Refusal // what bars every hop
	today    []judged  // usable readings of today, for the label
	older    []judged  // recent ones of other days, used when there is none of today
	support  []geo.Local
	spots    []spot
	hazards  []boxed
	airKnown bool
	asked    quantity.Length
	shoreM   float64 // of From
}

// spot is a reading that bars its surroundings.
type spot struct {
	at     geo.Local
	reachM float64
	judged
	code string
	low  quantity.Length // what decides there, where its own thickness is not below the table; 0 elsewhere
}

// boxed is a hazard with the box around its buffer and what is within reach of it.
type boxed struct {
	*lake.Hazard
	min, max geo.Local
}

// NewHopper prepares all that does not depend on where the hop leads. To and Arrival are not used when ArriveAt is given.
func NewHopper(in HopInput) *Hopper {
	mustHaveZone(in.Zone)
	h := &Hopper{in: in}
	bar := func(code, text string) { h.fixed = once(h.fixed, code, text) }
	if in.Travel != "foot" {
		bar("not_on_foot", "Only on foot is a step over unread ice ever advised.")
	}
	least, covered := in.Table.orDefault().least("on_foot")
	if !covered {
		bar("class_not_covered", "The table in force has no row on foot.")
	}
	air := judgeAir(in.Now, in.Air)
	h.airKnown = air.known
	switch {
	case air.thaw.NoNumber, air.thaw.Thickness > 1:
		bar("thaw", "Thaw in the last 24 h: no step over unread ice.")
	case air.brittle.NoNumber:
		bar("brittle", "Sudden fall of the air in the last day: no step over unread ice.")
	}
	factor := 1.0
	if air.mild.State == ice.Present || !air.known {
		factor = mildUnknown
	}
	h.asked = quantity.Length(factor * least.Metres())
	h.sort()
	if len(h.support) == 0 {
		bar(h.withoutSupport())
	}
	switch {
	case in.Surface == nil:
		bar("shore_unknown", "The shore is not known: no step over unread ice.")
	case !in.Surface.OnWater(in.From):
		bar("off_water", "The hop begins outside the lake's outline.")
	default:
		h.shoreM = in.Surface.ShoreDistance(in.From).Metres()
	}
	for _, z := range in.Hazards {
		if z.InForce() && len(z.Points) > 0 {
			h.hazards = append(h.hazards, box(z, corridorHalf))
		}
	}
	return h
}

// sort tells readings that support a hop from those that bar it.
func (h *Hopper) sort() {
	now := h.in.Now
	var recent []*lake.IceReading
	for _, r := range h.in.Readings {
		old := age(r.When, now)
		if old <= dropAfter || r.Current && old <= currentKeeps {
			recent = append(recent, r)
		}
	}
	list := judge(recent, h.in.Zone, now)
	figures := h.in.Figures
	if figures == nil {
		figures = NewFigures(IceInput{Now: now, Zone: h.in.Zone, Readings: h.in.Readings, Hazards: h.in.Hazards, Cover: h.in.Cover})
	}
	var thin []spot
	for _, j := range list {
		today := sameDay(j.When, now, h.in.Zone)
		decides := j.effective
		if today && j.state == "" && j.known {
			if low, known := figures.At(j.IceReading); known {
				decides = min(decides, low)
			}
		}
		low := j.known && below(decides, h.asked)
		switch {
		case j.state != "":
			h.spots = append(h.spots, spot{j.At, badReach, j, j.state, 0})
		case low && today:
			s := spot{j.At, badReach, j, "thin", 0}
			if !below(j.effective, h.asked) {
				s.low = decides
			}
			h.spots = append(h.spots, s)
		case low:
			thin = append(thin, spot{j.At, corridorHalf, j, "thin", 0})
		case today && !inDoubt(j.IceReading, now) && !j.wet && !j.When.Before(h.in.Ended):
			h.support = append(h.support, j.At)
		}
		switch {
		case !today:
			h.older = append(h.older, j)
		case !inDoubt(j.IceReading, now):
			h.today = append(h.today, j)
		}
	}
	for _, s := range thin { // an older thin reading bars until the ice was read beside it today
		again := slices.ContainsFunc(h.support, func(p geo.Local) bool { return p.Distance(s.at) <= readingSpacing })
		if !again {
			h.spots = append(h.spots, s)
		}
	}
}

// withoutSupport says why no reading of today supports a hop, with what would help.
func (h *Hopper) withoutSupport() (code, text string) {
	switch {
	case len(h.today) == 0:
		return "no_reading", "No ice read today. Drill and read where you stand first."
	case slices.ContainsFunc(h.today, func(j judged) bool { return j.When.Before(h.in.Ended) }):
		return "aged", "The ice broke or the water level changed since: drill and read again."
	case slices.ContainsFunc(h.today, func(j judged) bool { return j.unsorted }):
		return "below_table", "Not at the table with white ice untold, counted half. Tell clear and white."
	}
	return "below_table", "No reading today is at or above the table and free of bad signs."
}

// box finds the box of all that lies within reach of a hazard's buffer.
func box(z *lake.Hazard, reach quantity.Length) boxed {
	b := boxed{Hazard: z, min: z.Points[0], max: z.Points[0]}
	for _, p := range z.Points[1:] {
		b.min = geo.Local{E: min(b.min.E, p.E), N: min(b.min.N, p.N)}
		b.max = geo.Local{E: max(b.max.E, p.E), N: max(b.max.N, p.N)}
	}
	m := (z.Radius + reach).Metres()
	b.min, b.max = b.min.Sub(geo.Local{E: m, N: m}), b.max.Add(geo.Local{E: m, N: m})
	return b
}

// holds tells whether a place lies in the box.
func (b *boxed) holds(p geo.Local) bool {
	return p.E >= b.min.E && p.E <= b.max.E && p.N >= b.min.N && p.N <= b.max.N
}

// Hop answers for one place.
func (h *Hopper) Hop(to geo.Local) HopAnswer {
	a := HopAnswer{Reasons: slices.Clone(h.fixed)}
	bar := func(code, text string) { a.Reasons = append(a.Reasons, Refusal{code, text}) }
	if math.IsNaN(to.E+to.N) || math.IsInf(to.E+to.N, 0) {
		bar("no_place", "The place asked about is not known.")
		return a.labelled(h)
	}
	if a.Nearest = nearest(to, h.today, h.in.Now); a.Nearest == nil {
		a.Nearest = nearest(to, h.older, h.in.Now)
	} else {
		a.Read = a.Nearest.Distance <= ReadHere
	}
	for i := range h.hazards {
		if z := &h.hazards[i]; z.inWay(h.in.From, to) {
			bar("hazard", sentence(hazardWord(z.What))+" within 30 m of the line, reported "+agoText(age(z.When, h.in.Now))+".")
		}
	}
	for i := range h.spots {
		if s := &h.spots[i]; geo.SegmentDistance(s.at, h.in.From, to) <= s.reachM {
			bar(s.code, s.text(h.in.Now))
		}
	}
	h.late(to, bar)
	if h.in.Surface != nil && h.shoreM > 0 {
		h.ashore(to, bar)
	}
	if len(h.support) > 0 && !h.supported(to) {
		bar("far", "No ice at or above the table read today within 500 m all along the line.")
	}
	return a.labelled(h)
}

// late bars a hop from whose end the party would start home too late.
func (h *Hopper) late(to geo.Local, bar func(code, text string)) {
	if h.in.Deadline.IsZero() {
		return
	}
	arrival, latest := h.in.Arrival, h.in.Deadline
	if h.in.ArriveAt != nil {
		arrival = h.in.ArriveAt(to)
	}
	if arrival.Before(h.in.Now) {
		arrival = h.in.Now
	}
	if h.in.HomeAt != nil {
		latest = latest.Add(-max(0, h.in.HomeAt(to)-h.in.HomeAt(h.in.From)))
	}
	if arrival.After(latest) {
		bar("turn_back", "Beyond turn-back: the way home from there would start too late.")
	}
}

// ashore bars a hop that leaves the water or comes near the shore. The distance to shore changes by no more than one
// walks, so the line is asked in steps of what is to spare.
func (h *Hopper) ashore(to geo.Local, bar func(code, text string)) {
	if !h.in.Surface.OnWater(to) {
		bar("off_water", "The place asked about lies outside the lake's outline.")
		return
	}
	near := !along(h.in.From, to, shoreStep, h.shoreM-shoreKeep, func(p geo.Local) float64 {
		return h.in.Surface.ShoreDistance(p).Metres() - shoreKeep
	})
	if near {
		bar("shore", "Within 200 m of shore, where the same total is weaker ice.")
	}
}

// supported tells whether every place of the line lies within 500 m of a supporting reading.
func (h *Hopper) supported(to geo.Local) bool {
	spare := func(p geo.Local) float64 {
		best := math.Inf(1)
		for _, s := range h.support {
			e, n := s.E-p.E, s.N-p.N
			best = min(best, e*e+n*n)
		}
		return hopReach.Metres() - math.Sqrt(best) + 1e-9 // a reading at 500 m counts
	}
	return along(h.in.From, to, reachStep, spare(h.in.From), spare)
}

// along walks a line and tells whether something is to spare everywhere on it, when that changes by no more than one
// walks; first is what is to spare at its start.
func along(from, to geo.Local, step, first float64, spare func(geo.Local) float64) bool {
	length := from.Distance(to).Metres()
	left := first
	for walked := 0.0; ; {
		if !(left > 0) {
			return false
		}
		if walked >= length {
			return true
		}
		walked = min(length, walked+max(left, step))
		t := walked / length
		left = spare(geo.Local{E: from.E + t*(to.E-from.E), N: from.N + t*(to.N-from.N)})
	}
}

// inWay tells whether a hazard's buffer reaches into the corridor.
func (b *boxed) inWay(from, to geo.Local) bool {
	if max(from.E, to.E) < b.min.E || min(from.E, to.E) > b.max.E || max(from.N, to.N) < b.min.N || min(from.N, to.N) > b.max.N {
		return false
	}
	return segmentToHazard(from, to, b.Hazard) <= b.Radius.Metres()+corridorHalf
}

// text says what was read at a spot that bars.
func (s *spot) text(now time.Time) string {
	what := map[string]string{"layered": "Layered ice", "grey": "Grey or wet ice", "rotten": "Candled ice", "not_floating": "Ice not floating",
		"wet_crack": "A wet crack", "current": "Current"}[s.code]
	switch {
	case s.low > 0:
		return fmt.Sprintf("Below the table: low end %s at a hole of %s near the line, %s.", quantity.SI.IceText(s.low), quantity.SI.IceText(s.Total), agoText(age(s.When, now)))
	case s.code == "thin":
		what = "Below the table, " + quantity.SI.IceText(s.Total) + ","
		if s.unsorted {
			what = "Below the table with white untold, " + quantity.SI.IceText(s.Total) + ","
		}
	}
	return fmt.Sprintf("%s read near the line, %s.", what, agoText(age(s.When, now)))
}

// labelled closes the answer: barred or not, and the line to show.
func (a HopAnswer) labelled(h *Hopper) HopAnswer {
	a.Barred = len(a.Reasons) > 0
	switch {
	case a.Barred && !a.Read:
		a.Label = a.Reasons[0].Text
	case a.Read:
		a.Label = "Ice read here " + quantity.SI.IceText(a.Nearest.Reading.Total) + ", " + agoText(a.Nearest.Age) + "."
		if !h.airKnown {
			a.Label += " Air not known."
		}
	case h.airKnown:
		a.Label = "Ice not read there. " + nearestText("Nearest", a.Nearest) + ". Spud ahead."
	default:
		a.Label = "Ice not read there; air not known. " + nearestText("Nearest", a.Nearest) + ". Spud ahead."
	}
	return a
}
