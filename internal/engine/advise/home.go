package advise

import (
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
)

// unknownHome is how long before sunset the party must start home when no turn-back time was given: earlier than any
// worked-out one usually is; our own choice.
const unknownHome = 2 * time.Hour

// turnBack gives the latest time to start home, and whether it was told.
func (w *world) turnBack() (time.Time, bool) {
	if at := w.in.Home.At; !at.IsZero() {
		return at, true
	}
	if s := w.sun.Sunset; !s.Time.IsZero() {
		return s.Time.Add(-unknownHome), false
	}
	return w.in.Now, false // no sun and no turn-back time: nothing more may be advised
}

// landing gives the end of the way home, as far as it is known.
func (w *world) landing() (geo.Local, bool) {
	way := w.in.Home.Way
	if n := len(way.Line); n > 0 {
		return way.Line[n-1], true
	}
	if p, ok := w.scout(); ok && way.Distance > 0 {
		return p.Toward(way.Bearing, way.Distance), true
	}
	return geo.Local{}, false
}

// homeward gives the travel home from a place at the pace of the way home; nil when no way is known.
func (w *world) homeward() func(geo.Local) time.Duration {
	end, ok := w.landing()
	if !ok {
		return nil
	}
	way := w.in.Home.Way
	from, known := w.scout()
	straight := float64(w.options.WalkSpeed)
	if d := float64(from.Distance(end)); known && d > 100 && way.Travel > 0 {
		straight = d / way.Travel.Seconds() // metres of straight distance a second, detours and rests included
	}
	return func(p geo.Local) time.Duration {
		return time.Duration(float64(p.Distance(end)) / straight * float64(time.Second))
	}
}

// inTime tells whether a look at a place that ends at an instant leaves time to be home as early as by starting from here
// at the turn-back time.
func (w *world) inTime(p geo.Local, done time.Time) bool {
	deadline, _ := w.turnBack()
	home := w.homeward()
	if home == nil {
		return done.Before(deadline)
	}
	extra := time.Duration(0)
	if from, ok := w.scout(); ok {
		extra = max(0, home(p)-home(from)) // a nearer place buys no time: the bound stays careful
	}
	return !done.Add(extra).After(deadline)
}

// hops gives the veto over steps from a place. Everything that does not depend on where they lead is worked out once.
func (w *world) hops(from geo.Local) func(to geo.Local, arrival time.Time) safety.HopAnswer {
	in := w.hopInput(from)
	if w.in.Veto != nil {
		return func(to geo.Local, arrival time.Time) safety.HopAnswer {
			in.To, in.Arrival = to, arrival
			return w.in.Veto(in)
		}
	}
	var arrives time.Time
	in.ArriveAt = func(geo.Local) time.Time { return arrives }
	hopper := safety.NewHopper(in)
	return func(to geo.Local, arrival time.Time) safety.HopAnswer {
		arrives = arrival
		return hopper.Hop(to)
	}
}

// hopInput gathers what the vetoes look at for steps from a place.
func (w *world) hopInput(from geo.Local) safety.HopInput {
	deadline, _ := w.turnBack()
	if w.figures == nil || !w.figured.Equal(w.in.Now) {
		w.figured = w.in.Now
		w.figures = safety.NewFigures(safety.IceInput{Now: w.in.Now, Zone: w.in.Lake.Zone, Readings: w.in.Lake.Ice, Hazards: w.in.Lake.Hazards, Cover: w.in.Cover})
	}
	return safety.HopInput{
		Now: w.in.Now, Zone: w.in.Lake.Zone, From: from, Travel: "foot", Surface: w.in.Surface,
		Readings: w.in.Lake.Ice, Hazards: w.in.Lake.Hazards, Air: w.air(), Table: w.options.Table, Ended: w.in.IceEnded, Cover: w.in.Cover, Figures: w.figures,
		Deadline: deadline, HomeAt: w.homeward(),
	}
}

// ask puts one hop to the vetoes.
func (w *world) ask(in safety.HopInput) safety.HopAnswer {
	if w.in.Veto != nil {
		return w.in.Veto(in)
	}
	return safety.Hop(in)
}

// air gives the air temperatures seen and forecast.
func (w *world) air() []safety.AirHour {
	var out []safety.AirHour
	for _, o := range w.in.Lake.Observed {
		if o.AirTold && !o.When.After(w.in.Now) {
			out = append(out, safety.AirHour{Start: o.When, Air: o.Air})
		}
	}
	for _, h := range w.in.Forecast {
		if h.AirTold {
			out = append(out, safety.AirHour{Start: h.Start, Air: h.Air})
		}
	}
	return out
}

// walk gives how long a distance takes on foot.
func (w *world) walk(d quantity.Length) time.Duration {
	return time.Duration(float64(d) / float64(w.options.WalkSpeed) * float64(time.Second))
}
