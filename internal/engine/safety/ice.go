package safety

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/physics/ice"
	"icehand/internal/trade/lake"
)

// Load is what is to be carried by the ice.
type Load struct {
	Class string        // on_foot, group, snow_machine, side_by_side, car, truck: the rows of a table
	Mass  quantity.Mass // 0: the usual mass of the class, a placeholder that the outfit should replace
	Stay  time.Duration // how long it is to stay in one place; 0: it passes
}

// PersonMass is a dressed person with kit; a placeholder, unverified.
const PersonMass = 110 * quantity.Kilogram

// usualMass holds the placeholders, at the heavy end of what is common; unverified. A group is six people.
var usualMass = map[string]quantity.Mass{
	"on_foot": PersonMass, "group": 6 * PersonMass, "snow_machine": 450, "side_by_side": 1000, "car": 2000, "truck": 3300,
}

// IceState is one of the four things that may be said of ice.
type IceState string

// The four states. There is no fifth.
const (
	NoData     IceState = "no_data"     // no reading that counts here: none, too old, too far, or in a state in which no figure is given
	BelowTable IceState = "below_table" // effective thickness under what the table in force asks for
	BelowRule  IceState = "below_rule"  // the calculated load is less than the stated one
	NotBelow   IceState = "not_below"   // not below either, at the holes read; not a go
)

// IceInput is what [Ice] looks at.
type IceInput struct {
	Now      time.Time
	Zone     *time.Location
	At       geo.Local
	Load     Load
	Readings []*lake.IceReading // any order, any age; those without a place are ignored
	Hazards  []*lake.Hazard
	Holes    []*lake.Hole    // drilled holes, for clusters of large ones; may be empty
	Air      []AirHour       // air temperatures of the last days, observed or forecast, for the thaw rules; may be empty
	Table    Table           // zero: the occupational default
	Strength ice.Strength    // of the load formula; can only be lower than the default
	Cover    Cover           // the columns of the lake's zones
	Standing []OnIce         // what is on the ice already; weighs with the load where it is near
	Depth    quantity.Length // of the water at the place, for moving loads; 0: not known
	NoFix    bool            // nobody told At: it is the place of Last, which need not be where anybody stands
	Last     *lake.Hole      // with NoFix: the hole that stands in; nil: none is on record, and At is nowhere
}

// IceAnswer is what may be said about a load at a place.
type IceAnswer struct {
	State     IceState
	Load      Load // with the mass that was reckoned with
	Table     Table
	Asked     quantity.Length // effective thickness that the table asks for, condition rules applied; 0: class not covered, or no thickness holds now
	Effective quantity.Length // the figure: the lesser of the thinnest hole that counts and the low end of the estimate; 0 without data
	Basis     Basis           // what that rests on
	Carries   quantity.Mass   // calculated load by the formula at that thickness; 0 when no figure is given
	Strength  ice.Strength    // of the formula that was used: lower for a stay
	Together  quantity.Mass   // the load with all that stands near, as one load at the place
	Near      int             // loads that weigh in it besides the stated one
	Moving    *ice.Moving     // limits for a vehicle in motion; nil on foot and without a thickness
	Counted   int             // readings that count
	Newest    time.Time       // of those that count
	Nearest   *Nearest        // nearest reading of any age, nil when there is none
	Hazards   []HazardNear    // in force and near, nearest first
	Refusals  []Refusal       // those that withhold a figure first
	NoFix     bool            // nobody told the place: the answer is that of Last
	Last      *lake.Hole      // with NoFix: the hole that stands in for the place; nil: none, and the answer is of nowhere
}

// Distances within which things matter at a place; ours.
const (
	hazardsNear = 500 * quantity.Metre
	crackNear   = 30 * quantity.Metre  // a ridge or crack nearer than this halves the load
	flowNear    = 100 * quantity.Metre // current told nearer than this counts here
	rotNear     = 500 * quantity.Metre // rot is not local
)

// Ice tells what may be said about a load at a place: one of four states, none of which is yes. It panics without a zone.
//
// Only readings of the same civil day within 30 m count (15 m where water flows), and the least of them is the figure.
// A reading of another day, or in a bad state, never carries a figure; it is shown as the nearest, and refusals say why.
func Ice(in IceInput) IceAnswer {
	mustHaveZone(in.Zone)
	if in.NoFix && in.Last == nil {
		in.Readings, in.Hazards, in.Standing, in.Holes = nil, nil, nil, nil // none of them can be near
	}
	q := iceQuestion{in: in, list: judge(in.Readings, in.Zone, in.Now)}
	q.out.NoFix, q.out.Last = in.NoFix, in.Last
	q.out.Load, q.out.Table = in.Load, in.Table.orDefault()
	q.out.Nearest = nearest(in.At, q.list, in.Now)
	q.load()
	q.hazards()
	q.holes()
	q.readings()
	q.weigh()
	q.out.Refusals = append(q.refused, q.warned...)
	return q.out
}

// iceQuestion gathers the answer.
type iceQuestion struct {
	in      IceInput
	list    []judged
	fields  fields
	inside  []*lake.Hazard // whose buffer the place lies in
	counted []judged
	crack   ice.Crack
	current ice.State
	aging   icecover.Cause // what ended the worth of a reading near
	refused []Refusal      // a figure is withheld
	warned  []Refusal      // a figure is made stricter, or something is told
	out     IceAnswer
}

// refuse withholds the figure.
func (q *iceQuestion) refuse(code, text string) { q.refused = once(q.refused, code, text) }

// warn says something without withholding the figure.
func (q *iceQuestion) warn(code, text string) { q.warned = once(q.warned, code, text) }

// once adds a refusal unless its code is there.
func once(list []Refusal, code, text string) []Refusal {
	if slices.ContainsFunc(list, func(r Refusal) bool { return r.Code == code }) {
		return list
	}
	return append(list, Refusal{code, text})
}

// load checks the class and the mass.
func (q *iceQuestion) load() {
	l := &q.out.Load
	usual, known := usualMass[l.Class], KnownClass(l.Class)
	switch {
	case !(l.Mass >= 0) || math.IsInf(float64(l.Mass), 0):
		l.Mass = 0
		q.refuse("mass_unknown", "The mass told is no mass.")
	case l.Mass == 0 && known:
		l.Mass = usual
		q.warn("mass_assumed", fmt.Sprintf("Mass not told; %s assumed.", quantity.SI.MassText(usual)))
	}
	if !known {
		q.refuse("class_unknown", "This class of load is not known.")
	}
	if _, covered := q.out.Table.least(l.Class); known && !covered {
		q.refuse("class_not_covered", "The table in force has no row for this load; none is made up.")
	}
}

// hazards lists those near, and finds those the place lies in.
func (q *iceQuestion) hazards() {
	for _, h := range q.in.Hazards {
		if !h.InForce() || len(h.Points) == 0 {
			continue
		}
		d := quantity.Length(h.Distance(q.in.At))
		if !(d <= hazardsNear) {
			continue
		}
		q.out.Hazards = append(q.out.Hazards, HazardNear{h, age(h.When, q.in.Now), d})
		switch h.What {
		case "ridge", "crack":
			if d <= crackNear {
				q.crack = ice.WetCrack
			}
		}
		if flows(h) && d <= flowNear {
			q.current = ice.Present
		}
		if d == 0 {
			q.inside = append(q.inside, h)
		}
	}
	slices.SortStableFunc(q.out.Hazards, func(a, b HazardNear) int { return cmp.Compare(a.Distance, b.Distance) })
}

// miss is why a reading does not count; the later, the closer it came to counting.
type miss int

const (
	missNone miss = iota
	missStale
	missOtherDay
	missFar
	missAged    // a thaw, new snow, weather not known or a new crack came since
	missOutside // beside the hazard that the place lies in
	missClock
)

// readings finds those that count, and what the others bar.
func (q *iceQuestion) readings() {
	for i := range q.list {
		if r := &q.list[i]; r.Current && r.At.Distance(q.in.At) <= flowNear {
			q.current = ice.Present
		}
	}
	spacing := readingSpacing
	if q.current == ice.Present {
		spacing = flowSpacing
	}
	closest := missNone
	for i := range q.list {
		r := &q.list[i]
		reach := spacing
		if r.state == "rotten" {
			reach = rotNear
		}
		d := apart(r.At, q.in.At, reach)
		if r.recent && d <= reach {
			q.state(*r)
		}
		if why := q.misses(r, d, spacing); why != missNone {
			closest = max(closest, why)
			continue
		}
		q.counted = append(q.counted, *r)
		if r.When.After(q.out.Newest) {
			q.out.Newest = r.When
		}
		q.crack = max(q.crack, r.crack())
	}
	q.out.Counted = len(q.counted)
	if len(q.inside) > 0 {
		z := q.inside[0]
		q.warn("hazard", fmt.Sprintf("Inside a hazard in force: %s, reported %s.", hazardWord(z.What), agoText(age(z.When, q.in.Now))))
	}
	if len(q.counted) == 0 {
		q.without(closest, spacing)
	}
}

// misses tells why a reading at a distance does not count.
func (q *iceQuestion) misses(r *judged, d, spacing quantity.Length) miss {
	switch {
	case r.timed != missNone:
		return r.timed
	case d > spacing:
		return missFar
	case q.ages(r):
		return missAged
	case slices.ContainsFunc(q.inside, func(h *lake.Hazard) bool { return h.Distance(r.At) > 0 }):
		return missOutside
	}
	return missNone
}

// ages tells whether something ended the worth of a reading, and keeps what.
func (q *iceQuestion) ages(r *judged) bool {
	why, aged := q.aged(r)
	if aged {
		q.aging = why
	}
	return aged
}

// without refuses a figure because no reading counts.
func (q *iceQuestion) without(closest miss, spacing quantity.Length) {
	switch closest {
	case missNone:
		q.refuse("no_reading", "No ice reading recorded near here. Drill and read.")
	case missStale:
		q.refuse("stale", "All readings are more than 7 days old. Drill and read.")
	case missOtherDay:
		q.refuse("other_day", "No ice read today; another day's reading gives no figure.")
	case missFar:
		q.refuse("far", fmt.Sprintf("Untested here: a reading speaks for %.0f m about its hole.", spacing.Metres()))
	case missAged:
		q.refuse("aged", agedText[q.aging])
	case missOutside:
		q.refuse("hazard_unread", "Inside a hazard only holes read in it today give a figure.")
	case missClock:
		q.refuse("clock", "A reading is timed in the future. Check that phone's clock.")
	}
}

// agedText says what ended the worth of a reading.
var agedText = map[icecover.Cause]string{
	icecover.Thaw:         "Thaw since the hole was read, a day ago: drill and read again.",
	icecover.Rain:         "Rain since the hole was read, a day ago: drill and read again.",
	icecover.HeavySnow:    "More than 10 cm of snow since the hole was read: drill and read again.",
	icecover.Unknown:      "Weather since the hole was read not known: drill and read again.",
	icecover.NewCrack:     "A crack or open water was reported there after the hole was read.",
	icecover.BrokenUp:     "The ice broke up after the hole was read. Drill and read again.",
	icecover.LevelChanged: "The water level changed after the hole was read. Drill and read again.",
	icecover.OldAge:       "All readings are more than 7 days old. Drill and read.",
}

// state refuses a figure for what a reading near here says of the ice.
func (q *iceQuestion) state(r judged) {
	if r.state == "wet_crack" || r.state == "current" {
		return // these make the figure smaller instead
	}
	if text := stateText[r.state]; text != "" {
		q.refuse(r.state, text)
	}
}

// stateText says what a bad state means.
var stateText = map[string]string{
	"layered":      "Layers parted by water or slush: no load figure holds.",
	"grey":         "Grey or wet ice: no load figure holds.",
	"rotten":       "Candled ice nearby: tables and figures no longer hold. Stay off.",
	"not_floating": "The ice does not float on the water here: no figure holds.",
	"wet_crack":    "A wet crack was read here: figures count half the load.",
	"current":      "Current was read here.",
}

// weigh sets the readings that count against table and formula.
func (q *iceQuestion) weigh() {
	out := &q.out
	least, covered := out.Table.least(out.Load.Class)
	air := judgeAir(q.in.Now, q.in.Air)
	disc := ice.Worst([]ice.Finding{air.thaw, air.mild, air.brittle, ice.Cracked(max(q.crack, ice.NoCrack)), ice.Flow(q.current)})
	q.conditions(air, &disc)
	known := q.figure()
	out.State = NoData
	strength := q.together()
	out.Strength = strength
	if disc.NoNumber {
		out.Effective = 0
		return
	}
	if covered {
		out.Asked = disc.Required(least)
	}
	carries := disc.Load(strength.Load(out.Effective))
	// a load figure needs ice that the formula is meant for; without a row in the table it may only say that it is too little
	figure := known && !slices.ContainsFunc(q.refused, func(r Refusal) bool { return r.Code != "class_not_covered" })
	switch {
	case known && covered && below(out.Effective, out.Asked):
		out.State = BelowTable
	case figure && carries < out.Together:
		out.State = BelowRule
	case figure && covered:
		out.State = NotBelow
	}
	if figure && (covered || out.State == BelowRule) {
		out.Carries = carries
	}
	q.moving()
	if out.State == NoData {
		out.Effective = 0
	}
}

// figure finds the effective thickness that decides: the lesser of the thinnest hole that counts here and of the low end
// of what all holes of the week and the column say of the place. A bad hole is never averaged away.
func (q *iceQuestion) figure() (known bool) {
	unsorted := false
	var least quantity.Length
	for _, r := range q.counted {
		if r.known && (!known || r.effective < least) {
			known, least = true, r.effective
		}
		unsorted = unsorted || r.unsorted
	}
	if unsorted {
		q.warn("unsorted", "White ice not told: all of it counted as white, at half. Tell clear and white.")
	}
	if q.out.Basis = q.basis(least, known); known {
		q.out.Effective = min(least, q.out.Basis.Spot.Low)
	}
	return known
}

// conditions says what weather and cracks do, and makes what is not known stricter: without the air of the last day
// the table counts double, as it would after hours of thaw.
func (q *iceQuestion) conditions(air weatherOf, disc *ice.Discount) {
	switch {
	case air.thaw.NoNumber:
		q.refuse("thaw_day", "Air above 0 C for a day: no figure holds. Stay off.")
	case air.thaw.Thickness > 1:
		q.warn("thaw_hours", "Air above 0 C for 6 of the last 24 h: the table counts double.")
	case !air.known:
		disc.Thickness = max(disc.Thickness, thawUnknown)
		q.warn("no_air_temperature", "Air of the last 24 h not known: the table counts double.")
	}
	switch {
	case air.brittle.NoNumber:
		q.refuse("brittle", "Air fell 15 C or more within 12 h in the last day: brittle, no figure holds.")
	case air.brittle.State == ice.Unknown && air.known:
		q.warn("brittle_unknown", "A sudden fall of the air in the last day cannot be ruled out.")
	}
	switch {
	case air.mild.State == ice.Present:
		q.warn("mild", "Mild for three days: the table asks for an eighth more.")
	case air.mild.State == ice.Unknown && air.known:
		disc.Thickness = max(disc.Thickness, mildUnknown)
		q.warn("mild_unknown", "Air of the last three days not known: an eighth more is asked for.")
	}
	if q.crack >= ice.WetCrack {
		q.warn("wet_crack", "Beside a crack or ridge: half the load, or a quarter where cracks meet.")
	}
	if q.current == ice.Present {
		q.warn("current", "Current under the ice: a quarter less load and more, test holes every 15 m.")
	}
}

// Factors on the thickness asked for when the rule cannot be judged: what the rule would ask for if it applied.
const (
	thawUnknown = 2.0
	mildUnknown = 9.0 / 8
)
