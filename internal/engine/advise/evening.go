package advise

import (
	"context"
	"math"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
)

const (
	machineSpeed = 15 * quantity.KilometrePerHour // common practice, no source
	reserve      = 0.15                           // of the ice that can be drilled, kept for reading the way back; common practice, no source
	firstHoles   = 8                              // of the first pattern
)

// Evening plans a day: where to start, in which pattern, with how many holes, between which hours. It answers from depth
// and outline alone when nothing is recorded, and says so in its evidence and its wide ranges.
func Evening(ctx context.Context, in Input, day string) (EveningPlan, error) {
	if err := in.check(); err != nil {
		return EveningPlan{}, err
	}
	if !journal.Day(day).Valid() {
		return EveningPlan{}, fault.New(fault.BadInput, "Write the day as 2026-01-16.", "%q is not a day", day)
	}
	if in.Surface == nil {
		return EveningPlan{}, fault.New(fault.Missing, "Import the lake's outline first.", "there is no lake outline")
	}
	in.Memory = nil // that of another day would not do
	in.Home = safety.TurnBack{}
	w, err := in.asOf(ctx, journal.Day(day), in.Now)
	if err != nil {
		return EveningPlan{}, err
	}
	e := &eve{world: w, trip: in.trip(journal.Day(day)), record: w.readRecord()}
	e.landing, e.landingKnown = e.findLanding()
	w.filter.At(e.firstLight())
	p := EveningPlan{Day: day, Stage: string(w.season.Stage), Evidence: w.evidence, Seed: in.Seed}
	if p.Starts, err = e.starts(ctx); err != nil {
		return EveningPlan{}, err
	}
	p.Holes, p.Drill = e.budget()
	e.fill(&p)
	return p, nil
}

// eve is the world on the eve of a day.
type eve struct {
	*world
	trip         *party.Trip // nil when none is recorded
	record       []effort
	landing      geo.Local
	landingKnown bool
}

// trip gives the trip of a day, or the newest before it.
func (in Input) trip(day journal.Day) *party.Trip {
	if in.Party == nil {
		return nil
	}
	if t := in.Party.Trip(day); t != nil {
		return t
	}
	for i := len(in.Party.Trips) - 1; i >= 0; i-- {
		if t := &in.Party.Trips[i]; t.Day < day {
			return t
		}
	}
	return nil
}

// findLanding gives where the party goes onto the ice: the trip's landing, any trip's, else the place of the shore
// nearest to the record's middle is not guessed at, and the lake's origin stands in.
func (e *eve) findLanding() (geo.Local, bool) {
	if e.trip != nil && e.trip.Landing != nil {
		return e.in.Lake.Frame.Local(*e.trip.Landing), true
	}
	if e.in.Party != nil {
		for i := len(e.in.Party.Trips) - 1; i >= 0; i-- {
			if l := e.in.Party.Trips[i].Landing; l != nil {
				return e.in.Lake.Frame.Local(*l), true
			}
		}
	}
	return geo.Local{}, false
}

// firstLight gives civil dawn; where there is none, 8 o'clock.
func (e *eve) firstLight() time.Time {
	if t := e.sun.CivilDawn.Time; !t.IsZero() {
		return t
	}
	return e.day.Midnight(e.in.Lake.Zone).Add(8 * time.Hour)
}

// travelled gives the time from the landing to a place by the trip's way of travel.
func (e *eve) travelled(p geo.Local) (quantity.Length, time.Duration) {
	if !e.landingKnown {
		return 0, 0
	}
	d := e.landing.Distance(p)
	return d, e.paced(d)
}

// pace gives the speed of the trip's way of travel.
func (e *eve) pace() quantity.Speed {
	if e.trip != nil && (e.trip.Travel == "machine" || e.trip.Travel == "vehicle") {
		return machineSpeed
	}
	return e.options.WalkSpeed
}

// budget gives the holes that the batteries allow at the recent thickness, a reserve for the way back kept, and the ice
// that they take; 0 holes when nothing is told.
func (e *eve) budget() (int, quantity.Length) {
	if e.trip == nil || e.trip.Drill <= 0 {
		return 0, 0
	}
	ice := e.ice()
	n := int(float64(e.trip.Drill) * (1 - reserve) / float64(ice))
	return n, quantity.Length(float64(n) * float64(ice))
}

// fill adds pattern, times, ice and what would change the plan.
func (e *eve) fill(p *EveningPlan) {
	start := e.landing
	if len(p.Starts) > 0 {
		start = p.Starts[0].At
		p.Pattern = e.pattern(start, p.Holes)
		first := e.filter.First(p.Pattern.Holes, e.options.LookLength)
		p.Starts[0].First = e.chain(first, len(p.Pattern.Holes))
	}
	p.Home = e.turnBackAt(start)
	p.Times = e.times(p.Home, start)
	class := "on_foot"
	if e.trip != nil {
		switch e.trip.Travel {
		case "machine":
			class = "snow_machine"
		case "vehicle":
			class = "car"
		}
	}
	p.Ice = safety.Ice(safety.IceInput{Now: e.in.Now, Zone: e.in.Lake.Zone, At: start, Load: safety.Load{Class: class}, Readings: e.in.Lake.Ice,
		Hazards: e.in.Lake.Hazards, Air: e.air(), Table: e.options.Table})
	e.twilights(p)
	p.Dusk = []Reason{{Code: "dusk", Weight: 1, Text: "no dusk plan past the turn-back time"}}
	p.Changes = e.eveChanges(p)
	e.ratesByHour(p) // last: what stands before it has its own hours
}

// turnBackAt gives the turn-back time of the day from a start.
func (e *eve) turnBackAt(start geo.Local) safety.TurnBack {
	frame := e.in.Lake.Frame
	in := safety.TurnBackInput{
		Now: e.in.Now, Zone: e.in.Lake.Zone, Day: string(e.day), Landing: frame.Position(e.landing), LandingUnknown: !e.landingKnown,
		Hazards: e.in.Lake.Hazards, Here: &start, Farthest: start, Frame: frame, Travel: "foot", Forecast: e.in.Forecast, Issued: e.in.Issued, Ends: e.in.Ends,
	}
	if e.trip != nil {
		if e.trip.Travel != "" {
			in.Travel = e.trip.Travel
		}
		if e.trip.Day == e.day {
			in.Agreed = e.trip.Agreed
		}
	}
	return safety.TurnBackTime(in)
}

// ratesByHour scales the starts' rates by the hours between the first hole and the turn-back time.
func (e *eve) ratesByHour(p *EveningPlan) {
	for i := range p.Starts {
		s := &p.Starts[i]
		s.Rate = s.Rate.byHour(e.meanHour(e.firstLight().Add(s.Travel), p.Home.At))
	}
}

// times lists the hours of the day in order.
func (e *eve) times(home safety.TurnBack, start geo.Local) []Moment {
	var out []Moment
	add := func(code string, t time.Time) {
		if !t.IsZero() {
			out = append(out, Moment{code, t})
		}
	}
	_, travel := e.travelled(start)
	add("civil_dawn", e.sun.CivilDawn.Time)
	add("first_hole", e.firstLight().Add(travel).Round(time.Minute))
	add("sunrise", e.sun.Sunrise.Time)
	add("turn_back", home.At)
	add("sunset", e.sun.Sunset.Time)
	add("civil_dusk", e.sun.CivilDusk.Time)
	sortMoments(out)
	return out
}

func sortMoments(m []Moment) {
	for i := 1; i < len(m); i++ {
		for j := i; j > 0 && m[j].At.Before(m[j-1].At); j-- {
			m[j], m[j-1] = m[j-1], m[j]
		}
	}
}

// eveChanges says what would change the plan.
func (e *eve) eveChanges(p *EveningPlan) []Reason {
	var out []Reason
	if len(p.Starts) > 1 {
		out = append(out, Reason{Code: "blank_pattern", Weight: 0.5, Age: p.Starts[0].GiveUp, Text: "nothing seen in the first holes: on to B"})
	}
	if b := p.Home.Binding; b.Code != "" && b.Code != "dark" {
		out = append(out, Reason{Code: b.Code, Weight: 0.6, Text: b.Text})
	}
	for _, u := range p.Home.Unknown {
		out = append(out, Reason{Code: "unknown", Weight: 0.3, Text: u})
	}
	out = append(out, Reason{Code: "reading_next", Weight: 0.4, Text: "the first ice reading of the morning, on the way out"})
	return out
}

// pattern lays the first holes: a spiral round marks on record, a line along the depth contour of a slope, else a cross.
func (e *eve) pattern(about geo.Local, budget int) Pattern {
	n := firstHoles
	if budget > 0 {
		n = min(n, budget)
	}
	usable := func(p geo.Local) bool { return e.in.Surface.OnWater(p) && !e.hazardous(p) }
	switch centre, hits := e.hitsNear(about); {
	case hits >= 2:
		return e.spiral(centre, n, usable, hits)
	case e.slopeAt(about) > 0.015:
		return e.rows("line", about, []float64{float64(e.lineBearing(about, nil))}, 60, n, usable, "along the slope's own depth")
	default:
		b := float64(e.lineBearing(about, nil))
		return e.rows("cross", about, []float64{b, b + 90}, 60, n, usable, "even ground: two lines that cross see more of it")
	}
}

func (e *eve) slopeAt(p geo.Local) float64 {
	if s := e.in.Surface.Slope(p); !math.IsNaN(s) {
		return s
	}
	return 0
}

// hitsNear gives the middle of past marks near a place and their number.
func (e *eve) hitsNear(p geo.Local) (geo.Local, int) {
	var sum geo.Local
	n := 0
	for _, r := range e.pastLooks(p) {
		for _, id := range r.Holes {
			if h := e.in.Lake.Hole(id); h != nil {
				sum = sum.Add(h.At)
				n++
			}
		}
	}
	if n == 0 {
		return p, 0
	}
	return geo.Local{E: sum.E / float64(n), N: sum.N / float64(n)}, n
}
