package say

import (
	"fmt"
	"math"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
)

// Words that stand under advice, on the rescue pages and in the cold.
const (
	CheckRules = "Check local rules, closures and permits. Guide's licence and judgement apply."
	AdviceOnly = "Advice only. Call the emergency number."
)

// TurnBackText is the strip on top of every page.
type TurnBackText struct {
	Clock    string  // 14:55
	Label    string  // turn back
	Left     string  // in 2 h 10
	Reason   string  // the binding deadline in words
	Share    float64 // of the bar that is left, 0 to 1
	Near     bool    // half an hour or less
	Past     bool
	Override string   // said when the guide set another time
	Unknown  []string // what was not known and made it earlier
	SetBack  bool     // the clock was set back today: Unknown begins with it
	All      []string // every deadline with its latest start
	Way      string   // the way home: 2.4 km SSE, 40 min, this morning's line
}

// A full bar is six hours; the strip inverts in the last half hour. Our own choice.
const (
	fullBar = 6 * time.Hour
	near    = 30 * time.Minute
)

// TurnBack says the turn-back time. Time left is rounded down.
func (v Voice) TurnBack(t safety.TurnBack) TurnBackText {
	out := TurnBackText{Clock: v.Clock(t.At), Label: "turn back", Reason: fit(v.Local(t.Binding.Text)), Way: v.Way(t.Way), SetBack: t.SetBack > 0}
	for _, u := range t.Unknown {
		out.Unknown = append(out.Unknown, v.Local(u))
	}
	if t.At.IsZero() { // an engine without an answer must not look like plenty of time
		out.Left, out.Past, out.Near = "unknown: head in", true, true
		return out
	}
	left := t.At.Sub(v.Now)
	switch {
	case left < 0:
		out.Past, out.Near = true, true
		out.Label, out.Left = "turn-back time past", Span(left)+" ago: head in"
		if left > -time.Minute {
			out.Left = "head in now"
		}
	case left < time.Minute:
		out.Near, out.Left = true, "now"
	default:
		out.Near, out.Left = left <= near, "in "+Span(left)
	}
	out.Share = math.Max(0, math.Min(1, float64(left)/float64(fullBar)))
	if t.Override != nil {
		out.Override = fit(fmt.Sprintf("Set by the guide at %s; computed %s.", v.Clock(t.Override.Set), v.Clock(t.Computed)))
	}
	if t.Fallen != "" {
		out.Override = fit(v.Local(t.Fallen))
	}
	for _, d := range t.All {
		out.All = append(out.All, v.Clock(d.Start)+" "+v.Local(d.Text))
	}
	return out
}

// Way says the way home.
func (v Voice) Way(w safety.Way) string {
	if w.Unplaced {
		return "Not known: no fix and no hole of today."
	}
	if w.Distance <= 0 {
		return "At the landing."
	}
	s := v.Units.DistanceText(w.Distance) + " " + w.Bearing.Compass() + " (" + Degrees(w.Bearing) + ")"
	if w.Travel > 0 {
		s += fmt.Sprintf(", %d min", minutesUp(w.Travel))
	}
	if w.Basis != "" {
		s += ", " + v.Local(w.Basis)
	}
	return s
}

// Cold says wind chill and how soon bare skin can freeze.
func (v Voice) Cold(air quantity.Celsius, wind10 quantity.Speed) (chill, frostbite string) {
	a := safety.ColdWatch(safety.ColdInput{Air: air, AirTold: true, Wind: wind10, WindTold: true})
	return v.Chill(a, air, wind10), a.Words[0]
}

// Wind says a wind with the direction it comes from; gust may be 0.
func (v Voice) Wind(speed, gust quantity.Speed, from quantity.Bearing, fromTold bool) string {
	s := "wind " + v.Units.WindText(speed)
	if fromTold {
		s = "wind " + from.Compass() + " " + v.Units.WindText(speed)
	}
	if gust > speed {
		s += ", gusts " + v.Units.WindText(gust)
	}
	return s
}
