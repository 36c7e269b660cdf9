package safety

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/physics/sun"
	"icehand/internal/trade/lake"
)

// TurnBackInput is what [TurnBackTime] looks at. Unknown members make the answer earlier.
type TurnBackInput struct {
	Now            time.Time
	Zone           *time.Location
	Day            string         // civil date; "": that of Now
	Landing        geo.Position   // where home is
	LandingUnknown bool           // Landing is a guess: the answer says so
	Hazards        []*lake.Hazard // in force or not; a way never crosses one in force except at a crossing
	Here           *geo.Local     // nil: no fix; the farthest place of the day is used
	Farthest       geo.Local      // farthest place from the landing reached today
	NoPlace        bool           // nothing of today tells a place: Farthest is of an earlier day, or the landing where none is on record
	Frame          geo.Frame
	Way            []geo.Local    // this morning's line, landing first; may be empty
	Unread         bool           // Way was travelled and its ice not read
	Travel         string         // foot, machine, vehicle
	Speed          quantity.Speed // measured; 0: the careful default of the way of travel
	Earlier        bool           // Speed was measured on earlier days
	Slowest        float64        // factor for the slowest member, at least 1; 0: 1
	FlatLight      bool
	Forecast       []ForecastHour     // may be empty: then dusk is brought forward, and it is said
	Observed       []lake.Observation // weather seen on the ice, by time: a shift that came early counts
	Measured       []lake.Observation // weather of stations near the lake, by time: a shift there counts beside what was seen
	Issued         time.Time          // of the forecast; zero: unknown, and the forecast counts as stale
	Out            time.Time          // when the party came onto the ice: a shift is one from the wind of that hour; zero: 06:00 of the day
	Crossings      []*lake.Hazard     // more ridges and cracks, when not in Hazards; those that lie across the way count
	Agreed         time.Time          // zero: none
	Ends                              // hours that somebody told, and what is taken off for packing and chance
	Override       *Override
	// ClockBack is by how much the clock that tells Now has gone back today against the time that really passed; 0: not
	// at all, or the guide has looked at it since. Which of the two clocks was right is not known: the earlier answer holds.
	ClockBack time.Duration
	// Round makes the search for a way over water round hazards, given when the wind shifts: see [NewRound]. nil: not asked.
	Round   func(shifted time.Time) func(from, to geo.Local) ([]geo.Local, bool)
	Margins map[string]time.Duration // by deadline code: more margin than the default, never less
}

// Ends are hours that end the day because somebody told them, and how long packing takes and how much is kept in hand;
// zero: not told.
type Ends struct {
	LegalClose time.Time     // from when fishing is not lawful
	Fuel       time.Time     // until when battery and fuel last
	Crossing   time.Time     // by when the last ridge or crack must lie behind
	Cold       time.Time     // until when whoever is coldest can be out
	PackUp     time.Duration // 0: 20 min
	Margin     time.Duration // less than 30 min: 30 min
}

// Override is a new turn-back time that the guide has set, with its reason.
type Override struct {
	Set, Until time.Time
	Reason     string
	Computed   time.Time // the computed time that was shown when it was set; without it a later time does not count
}

// Deadline is one named reason to be off the ice.
type Deadline struct {
	Code   string        // dark, no_forecast, wind_shift, wind_came, wind_measured, front, sight, legal_close, agreed, fuel, crossing, cold
	When   time.Time     // the deadline itself
	Doubt  time.Duration // taken off for its uncertainty
	Travel time.Duration // home, or to the crossing
	PackUp time.Duration
	Margin time.Duration
	Start  time.Time // When - Doubt - Travel - PackUp - Margin: latest start
	Text   string    // at most 90 characters, for the strip: "wind to NW about 17:00; ridge 40 min away"
}

// TurnBack is the latest minute to start home and what binds it.
type TurnBack struct {
	At       time.Time
	Binding  Deadline
	All      []Deadline // by Start
	Computed time.Time  // before any override
	Override *Override  // the one in force, nil when there is none
	Fallen   string     // why an override that was given does not count; one sentence, empty otherwise
	Unknown  []string   // what was not known and made it earlier, a plain sentence each
	Way      Way
	SetBack  time.Duration // by how much the clock was set back today, taken off above
}

// The numbers of the turn-back time.
const (
	LeastMargin   = 30 * time.Minute // common practice, no source
	UsualPackUp   = 20 * time.Minute // common practice, no source
	comesOut      = 6                // o'clock: the hour whose wind counts as the morning's when nobody told; ours
	overrideSlack = 5 * time.Minute  // the computed time may move earlier by this before an override falls; ours
	clockSlack    = 15 * time.Minute // phones' clocks differ by minutes; a record further ahead of now is in doubt; ours
)

// TurnBackTime gives the latest minute to start home: the least of deadline - doubt - travel - packing - margin over the
// named deadlines. It panics without a zone; everything else that is missing makes the answer earlier and is said.
func TurnBackTime(in TurnBackInput) TurnBack {
	mustHaveZone(in.Zone)
	b := newReckoning(in)
	b.dark()
	b.weather()
	b.fixed("legal_close", in.LegalClose, "legal hours end")
	b.fixed("agreed", in.Agreed, "agreed ashore")
	b.fixed("fuel", in.Fuel, "battery or fuel to")
	b.fixed("cold", in.Cold, "the coldest can be out to")
	b.crossing()
	b.lost()
	slices.SortStableFunc(b.out.All, func(x, y Deadline) int {
		return cmp.Or(x.Start.Compare(y.Start), cmp.Compare(x.Code, y.Code))
	})
	b.out.Binding = b.out.All[0] // there is always a dark one
	b.out.Computed = b.out.Binding.Start
	b.out.At = b.out.Computed
	b.override()
	return b.out
}

// reckoning gathers the deadlines.
type reckoning struct {
	in       TurnBackInput
	noon     time.Time // of the day
	hours    []ForecastHour
	sun      sun.Day
	shift    shift
	came     Came     // a shift that was seen; zero: none
	measured Came     // a shift that a station measured; zero: none
	barrier  *meeting // the last ridge or crack across the way home, nil when there is none
	toCross  time.Duration
	out      TurnBack
}

func newReckoning(in TurnBackInput) *reckoning {
	b := &reckoning{in: in}
	if !in.Landing.Valid() {
		b.in.Landing, b.in.LandingUnknown = in.Frame.Origin(), true
	}
	if b.in.PackUp <= 0 {
		b.in.PackUp = UsualPackUp
	}
	b.in.Margin = max(in.Margin, LeastMargin)
	day, err := time.ParseInLocation("2006-01-02", in.Day, in.Zone)
	if err != nil {
		day = in.Now.In(in.Zone)
	}
	b.noon = time.Date(day.Year(), day.Month(), day.Day(), 12, 0, 0, 0, in.Zone)
	if in.Out.IsZero() {
		b.in.Out = time.Date(day.Year(), day.Month(), day.Day(), comesOut, 0, 0, 0, in.Zone)
	}
	b.sun = sun.EventsOn(day.Year(), day.Month(), day.Day(), b.in.Landing, in.Zone)
	b.hours = slices.Clone(in.Forecast)
	slices.SortStableFunc(b.hours, func(x, y ForecastHour) int { return x.Start.Compare(y.Start) })
	b.shift = findShift(b.hours, b.in.Out, b.noon.Add(12*time.Hour))
	b.came, _ = ShiftCame(in.Observed, b.hours, b.in.Out, in.Now, in.Zone)
	b.measured, _ = ShiftCame(in.Measured, b.hours, b.in.Out, in.Now, in.Zone)
	b.home()
	return b
}

// home finds the way and the last barrier on it.
func (b *reckoning) home() {
	in := &b.in
	w := WayInput{Now: in.Now, Zone: in.Zone, Landing: in.Frame.Local(in.Landing), Line: in.Way, Unread: in.Unread, Shifted: b.shifted(),
		Travel: in.Travel, Speed: in.Speed, Earlier: in.Earlier, Slowest: in.Slowest, FlatLight: in.FlatLight}
	if in.Round != nil {
		w.Round = in.Round(b.shifted())
	}
	w.Hazards = slices.Clone(in.Hazards)
	for _, h := range in.Crossings {
		if !slices.Contains(w.Hazards, h) {
			w.Hazards = append(w.Hazards, h)
		}
	}
	if in.Here != nil {
		w.Here = *in.Here
	} else {
		w.Here = in.Farthest
		switch {
		case !in.NoPlace:
			b.unknown("No fix: counted from the farthest place of the day.")
		case in.Farthest != in.Frame.Local(in.Landing):
			b.unknown("No fix, no hole of today: counted from the farthest place of the day before.")
		default:
			b.unknown("No fix and no hole of late: where you are is not known.")
		}
	}
	way, met := wayHome(w)
	factor := 1.0
	switch {
	case len(way.Line) == 0:
		b.unknown("No known way home; the straight line's time counts double.")
		factor = noWayFactor
	case way.guessed():
		b.unknown("No line travelled today leads home; the time counts a quarter more.")
		factor = guessFactor
	}
	if in.LandingUnknown {
		b.unknown("Landing not told: a guess is used, and its time counts a quarter more.")
		factor *= guessFactor
		way.Travel = w.travelTime(way.Distance, factor)
	}
	way.Unplaced = in.Here == nil && in.NoPlace
	b.out.Way = way
	for i, m := range met {
		if m.hazard.What == "ridge" || m.hazard.What == "crack" {
			if b.barrier == nil || m.alongM > b.barrier.alongM {
				b.barrier = &met[i]
				b.toCross = min(way.Travel, w.travelTime(quantity.Length(m.alongM), factor))
			}
		}
	}
}

func (b *reckoning) unknown(sentence string) { b.out.Unknown = append(b.out.Unknown, sentence) }

// add works out a deadline's latest start, to the minute before.
func (b *reckoning) add(code string, when time.Time, doubt, travel time.Duration, text string) {
	d := Deadline{Code: code, When: when.In(b.in.Zone), Doubt: doubt, Travel: travel, PackUp: b.in.PackUp, Margin: max(b.in.Margin, b.in.Margins[code]), Text: text}
	// (SAFETY-1)
	d.Start = d.When.Add(-d.Doubt - d.Travel - d.PackUp - d.Margin).In(b.in.Zone).Truncate(time.Minute)
	b.out.All = append(b.out.All, d)
}

func (b *reckoning) clock(t time.Time) string { return t.In(b.in.Zone).Format("15:04") }

// away tells how far the landing or a ridge is.
func (b *reckoning) away(what string, travel time.Duration) string {
	if b.out.Way.Unplaced && travel == 0 {
		return what + " at a distance not known"
	}
	return fmt.Sprintf("%s %d min away", what, int(travel.Minutes()))
}

// dark adds civil dusk, and the earlier one that stands in for a forecast.
func (b *reckoning) dark() {
	when, text := b.sun.CivilDusk.Time, ""
	switch b.sun.CivilDusk.Passage {
	case sun.Happens:
		text = "civil dusk " + b.clock(when)
	case sun.StaysBelow: // the lightest moment stands in
		when = b.sun.Transit
		text = "no civil light today; lightest at " + b.clock(when)
	case sun.StaysAbove: // the least light stands in: never a blank
		when = b.sun.Transit.Add(12 * time.Hour)
		text = "light all night; counted to " + b.clock(when)
	}
	travel := b.out.Way.Travel
	b.add("dark", when, 0, travel, text+"; "+b.away("landing", travel))
	if early, why := b.forecastGap(when); early > 0 {
		b.unknown(why)
		b.add("no_forecast", when, early, travel, fmt.Sprintf("%s, counted %d min early: no full forecast", text, int(early.Minutes())))
	}
}

// fixed adds a deadline that somebody named.
func (b *reckoning) fixed(code string, when time.Time, words string) {
	if when.IsZero() {
		return
	}
	travel := b.out.Way.Travel
	b.add(code, when, 0, travel, fmt.Sprintf("%s %s; %s", words, b.clock(when), b.away("landing", travel)))
}

// crossing adds the hour by which the last ridge or crack must lie behind.
func (b *reckoning) crossing() {
	if b.in.Crossing.IsZero() {
		return
	}
	travel, away := b.behindBarrier()
	b.add("crossing", b.in.Crossing, 0, travel, fmt.Sprintf("over the crossing by %s; %s", b.clock(b.in.Crossing), away))
}

// lost brings every deadline forward by what the clock went back: had the old clock been right, they would come so much
// earlier by the new one.
func (b *reckoning) lost() {
	back := b.in.ClockBack
	if back <= 0 {
		return
	}
	b.out.SetBack = back
	for i := range b.out.All {
		d := &b.out.All[i]
		// (SAFETY-8) what the clock went back is doubt of every hour
		d.Doubt += back
		d.Start = d.Start.Add(-back)
	}
	minutes := int((back + time.Minute - 1) / time.Minute)
	b.out.Unknown = slices.Insert(b.out.Unknown, 0, fmt.Sprintf("This clock went back %d min: turn-back comes as much earlier. Check it.", minutes)) // said first
}

// override puts the guide's own time in place of the computed one. An earlier time always counts. A later one needs a
// reason, belongs to the day, and falls when the computed time has since moved earlier.
func (b *reckoning) override() {
	o := b.in.Override
	if o == nil || o.Until.IsZero() {
		return
	}
	until := o.Until.In(b.in.Zone).Truncate(time.Minute)
	later := until.After(b.out.Computed)
	switch {
	case !sameDay(o.Set, b.noon, b.in.Zone):
		b.out.Fallen = "The new time was set on another day; it does not count."
	case !later:
		b.out.At, b.out.Override = until, o
	case o.Reason == "":
		b.out.Fallen = "A later time needs a reason; without one it does not count."
	case o.Computed.IsZero():
		b.out.Fallen = "What was computed when the later time was set is not known; it does not count."
	case o.Computed.Sub(b.out.Computed) > overrideSlack:
		b.out.Fallen = fmt.Sprintf("Since the later time was set, %s came in; it no longer counts.", deadlineWord(b.out.Binding.Code))
	default:
		b.out.At, b.out.Override = until, o
	}
}

// deadlineWord names a deadline inside a sentence.
func deadlineWord(code string) string {
	return map[string]string{"dark": "a longer way or earlier dusk", "no_forecast": "a lack of forecast", "wind_shift": "a wind shift", "wind_came": "a wind shift seen on the ice", "wind_measured": "a wind shift at a station", "front": "strong wind",
		"sight": "snow or poor sight", "legal_close": "an earlier legal hour", "agreed": "an earlier agreed hour",
		"fuel": "less battery or fuel", "crossing": "an earlier hour for the crossing", "cold": "an earlier hour for the coldest"}[code]
}
