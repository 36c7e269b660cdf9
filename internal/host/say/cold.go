package say

import (
	"cmp"
	"fmt"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/physics/cold"
)

// WetFirstAid is all that is said of a wet person, and NoAlarm of a heater without an alarm.
const (
	WetFirstAid = "First-aid training and the emergency service only."
	NoAlarm     = "No CO alarm here. Do not heat."
	FaceCheck   = "Look at one another's faces; a wet person goes to the warm base now."
)

// ColdText is the cold and shelter watch in words.
type ColdText struct {
	Chill   string
	Rests   string // where air and wind come from
	Words   []string
	Faces   string
	Heater  string
	NoAlarm string // "" with an alarm, or without a heater
	Alarm   string
	Vents   string
}

// ColdWatch says the cold and shelter watch.
func (v Voice) ColdWatch(c desk.Cold) ColdText {
	t := ColdText{Chill: v.Chill(c.Cold, c.Air, c.Wind), Words: c.Cold.Words, Rests: "Air and wind from the forecast of this hour."}
	switch {
	case !c.AirTold && !c.WindTold:
		t.Rests = "Neither air nor wind is on record for now."
	case !c.Seen.IsZero():
		t.Rests = v.Observed(c.Station, c.Seen)
	}
	if c.Mixed {
		t.Rests += " The other of air and wind is the forecast's."
	}
	t.Words = append(t.Words, c.Cold.Unknown...)
	t.Faces = "Look at every face by " + v.Clock(c.Watch.Faces) + ", every " + Span(c.Watch.Every) + "."
	if c.Watch.FacesIn {
		t.Faces = "Look at every face now: white, waxy, numb?"
	}
	t.Heater, t.Alarm = "No heater burns by the record.", "Alarm not tried today."
	if !c.Alarm.IsZero() {
		t.Alarm = "Alarm tried " + v.Ago(c.Alarm) + "."
	}
	if c.Watch.Heater {
		t.Heater = "Heater lit " + v.Ago(c.Since) + ". Do not trust its own low-oxygen shut-off."
		open := "one opening within " + v.Units.DepthText(cold.LowerVent) + " of the floor, one near the top, both clear of snow."
		t.Vents = "Vents by " + v.Clock(c.Watch.Vents) + ": " + open
		if c.Watch.VentsIn {
			t.Vents = "Look at the vents now: " + open
		}
		if c.Watch.NoAlarm {
			t.NoAlarm = NoAlarm
		}
	}
	return t
}

// Observed says where and when weather was observed. A station is no look at the ice.
func (v Voice) Observed(station string, when time.Time) string {
	if station != "" {
		return "Measured by station " + station + " " + v.Ago(when) + ", not on the ice."
	}
	return "Seen on the ice " + v.Ago(when) + "."
}

// Urgent says what cannot wait: who is wet, or that a heater burns without an alarm; "" when nothing does.
func (v Voice) Urgent(c desk.Cold) string {
	var names []string
	for _, id := range c.Watch.Wet {
		name := "Somebody"
		if v.Person != nil {
			name = cmp.Or(v.Person(id), name)
		}
		names = append(names, name)
	}
	switch {
	case len(names) > 0:
		return fit(list(names) + " wet: into the warm base now.")
	case c.Watch.NoAlarm:
		return NoAlarm
	}
	return ""
}

// Turn says when somebody's turn in the warm is: its hour, or that it is due.
func (v Voice) Turn(t safety.Turn) string {
	switch {
	case t.Due.IsZero():
		return "warm-up due: not known when last warm"
	case t.Over:
		return "warm-up due since " + v.Clock(t.Due)
	}
	return "warm-up " + v.Clock(t.Due) + ", every " + Span(t.Every)
}

// WarmBy names the deadline that the coldest person sets: who, by when, and what makes it so; "" with nobody out.
func (v Voice) WarmBy(w safety.WatchAnswer) string {
	t := w.Coldest
	if t == nil {
		return ""
	}
	who := "Somebody"
	if v.Person != nil {
		who = cmp.Or(v.Person(t.Person), who)
	}
	switch t.Age {
	case "child", "elder":
		who += ", " + t.Age
	}
	why := "; every " + Span(t.Every)
	switch {
	case w.Blind:
		why += ", shorter while the cold is not known"
	case w.Hard:
		why += ", not " + Span(t.Usual) + ", in this wind chill"
	}
	switch {
	case t.Due.IsZero():
		return "Warm-up deadline now: " + who + ", not known when last warm."
	case t.Over:
		return "Warm-up deadline past: " + who + ", since " + v.Clock(t.Due) + "."
	}
	return "Warm-up deadline " + v.Clock(t.Due) + ": " + who + why + "."
}

// Chill says how cold it feels; what is not known has no figure.
func (v Voice) Chill(a safety.ColdAnswer, air quantity.Celsius, wind quantity.Speed) string {
	switch {
	case !a.Known:
		return "How cold it feels is not known."
	case a.Riding != nil && a.Riding.Applies:
		return fmt.Sprintf("Wind chill %s riding: air %s, wind %s.", v.Units.TemperatureText(a.Riding.Index), v.Units.TemperatureText(air), v.Units.WindText(wind))
	case a.Still.Applies:
		return fmt.Sprintf("Wind chill %s: air %s, wind %s.", v.Units.TemperatureText(a.Still.Index), v.Units.TemperatureText(air), v.Units.WindText(wind))
	}
	return "Air " + v.Units.TemperatureText(air) + ", wind " + v.Units.WindText(wind) + "."
}

// Immersion says the course of falling into ice water, a teaching rule [Giesbrecht2006].
func Immersion() []ConditionText {
	minutes := func(d time.Duration) string { return fmt.Sprintf("%.0f min", d.Minutes()) }
	return []ConditionText{
		{minutes(cold.BreathControl), "Master the breathing first. Others keep back, on ice that was read: rope or pole."},
		{minutes(cold.UsefulMovement), "Hands and legs still work: out the way you came, picks, roll. Then the warm base, and call."},
		{minutes(cold.Unconsciousness), "About this long until the cold takes consciousness; sooner without flotation."},
	}
}
