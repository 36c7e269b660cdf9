package say

import (
	"fmt"
	"math"
	"strings"

	"github.com/google/uuid"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
)

// GuideText is how to walk home or to a hole, in words.
type GuideText struct {
	Title string // Way home, Way to hole 17
	Walk  string // the one thing to do now: 181 true, 196 by compass
	Parts []Part // Walk with its courses apart, to be drawn large
	Far   string // 400 m, 533 paces
	Then  string // the bend after it
	Side  string // on the line, or how far off it
	Off   bool   // outside the corridor
	Left  string // what is left in all
	Speed string // at what pace that is reckoned
	Basis string // what the line rests on
	Fix   string
	Stale bool // no fix
	Bars  []string
	Pace  string // how long a pace counts
}

// CompassWarning stands beside every compass bearing.
const CompassWarning = "Hold the compass away from auger, sled, machine and phone; there it points anywhere."

// Guide says which way now.
func (v Voice) Guide(g desk.Guide) GuideText {
	t := GuideText{Title: "Way home", Fix: "Fix " + v.Ago(g.Here.Fixed) + ", accuracy not known.", Basis: first(v.Local(g.Back.Way.Basis)) + "."}
	if g.Here.Accuracy > 0 {
		t.Fix = "Fix " + v.Ago(g.Here.Fixed) + ", within " + v.Units.FarText(g.Here.Accuracy) + "."
	}
	if g.To != nil {
		t.Title = "Way to hole " + HoleName(g.To, v.today())
		t.Basis = "Straight line, ice not read on it. Spud ahead."
		for _, h := range g.Hazards {
			t.Bars = append(t.Bars, "Runs into: "+v.HazardAge(h)+".")
		}
	}
	if g.FromHole != nil {
		t.Stale = true
		t.Fix = "No fix. Reckoned from hole " + HoleName(g.FromHole, v.today()) + ", drilled " + v.Ago(g.FromHole.Drilled) + "."
	}
	whose := "A pace"
	if g.Walker != uuid.Nil && v.Person != nil {
		whose = "A pace of " + v.Person(g.Walker)
	}
	t.Pace = fmt.Sprintf("%s counts %s, %s.", whose, v.pace(g.Pace), map[bool]string{true: "as measured", false: "the usual; not measured"}[g.Paced])
	bearing := func(b quantity.Bearing) string { return compassed(b, g.Field.Magnetic(b), g.Declined) }
	if len(g.Line) == 0 {
		t.Walk, t.Off = "No known way. Stay where you are; call.", true
		t.Parts = parts(t.Walk)
		t.Far = fmt.Sprintf("The landing lies %s off, %s. That is no way.", v.Units.DistanceText(g.Straight), bearing(g.Bearing))
		return t
	}
	s := g.Steer
	t.Walk = "Walk " + bearing(s.Bearing) + "."
	t.Parts = parts(t.Walk)
	t.Far = fmt.Sprintf("%s, %.0f paces", v.Units.DistanceText(s.Leg), math.Round(s.Leg.Metres()/g.Pace.Metres()))
	side := map[bool]string{true: "right", false: "left"}[s.Right]
	switch {
	case !s.On:
		t.Off = true
		t.Side = fmt.Sprintf("%s %s of the line: back to it first. Ice not read between. Spud ahead.", v.Units.DistanceText(s.Off), side)
	case s.Off < quantity.Metre:
		t.Side = "On the line."
	default:
		t.Side = fmt.Sprintf("%s %s of the line, inside the corridor.", v.Units.DistanceText(s.Off), side)
	}
	if s.Turns {
		t.Then = fmt.Sprintf("Then turn %s to %s.", turnSide(s.Bearing, s.Then), bearing(s.Then))
	}
	t.Left = v.Units.DistanceText(s.Left) + " to go."
	if g.To == nil {
		t.Left = fmt.Sprintf("%s to go, %d min.", v.Units.DistanceText(s.Left), minutesUp(g.Back.Way.Travel))
		t.Speed = v.speedText(g.Back.Way)
	}
	return t
}

// turnSide tells to which hand one bearing lies of another.
func turnSide(from, to quantity.Bearing) string {
	if math.Remainder(to.Degrees()-from.Degrees(), 360) < 0 {
		return "left"
	}
	return "right"
}

// speed tells a speed of travel.
func (v Voice) speed(x quantity.Speed) string {
	if v.Units == quantity.US {
		return fmt.Sprintf("%.1f mph", x.MilesPerHour())
	}
	return fmt.Sprintf("%.1f km/h", x.KilometresPerHour())
}

// pace tells the length of a pace, and how many make a hundred metres or feet.
func (v Voice) pace(p quantity.Length) string {
	if v.Units == quantity.US {
		return fmt.Sprintf("%.1f ft, %.0f to 100 ft", p.Feet(), 100/p.Feet())
	}
	return fmt.Sprintf("%.2f m, %.0f to 100 m", p.Metres(), 100/p.Metres())
}

// speedText tells the pace that the time home is reckoned at, and what it rests on.
func (v Voice) speedText(w safety.Way) string {
	if w.Pace <= 0 {
		return ""
	}
	rests := []string{"the careful default"}
	if w.Measured {
		rests[0] = "measured today"
	}
	if w.Earlier {
		rests[0] = "as on earlier days"
	}
	if w.Slowest > 1 {
		rests = append(rests, "the slowest member's")
	}
	speed := v.speed(w.Pace)
	if w.Flat {
		rests = append(rests, "flat light")
	}
	return fmt.Sprintf("Reckoned at %s: %s.", speed, strings.Join(rests, ", "))
}

// WhiteoutText is the whiteout sheet in words.
type WhiteoutText struct {
	Choice     string
	Threats    []string
	Conditions []ConditionText
	Barred     string
}

// ConditionText is one condition for going.
type ConditionText struct{ Mark, Text string }

// Whiteout says the choice between staying and going. It never says that going is right.
func (v Voice) Whiteout(a safety.WhiteoutAnswer) WhiteoutText {
	t := WhiteoutText{Choice: "Stay together at the base: heat, food, vents open. Nobody walks off alone."}
	if len(a.Threats) > 0 {
		t.Choice = "Decide before the tracks fill in. From the ice side:"
	}
	for _, x := range a.Threats {
		t.Threats = append(t.Threats, v.Local(x)+".")
	}
	mark := map[safety.Holds]string{safety.Met: "by record", safety.NotMet: "not so", safety.NotKnown: "you tell"}
	for _, c := range a.Conditions {
		t.Conditions = append(t.Conditions, ConditionText{mark[c.Is], v.Local(c.Text) + "."})
	}
	if a.Barred {
		t.Barred = "Not all of it holds by the record: stay, and call."
	}
	return t
}

// Line says a recorded line in a sentence or two.
func (v Voice) Line(l desk.Line) string {
	what := map[string]string{"out": "Way out", "home": "Way home", "scouting": "Scouting"}[l.Purpose]
	if what == "" {
		what = "Line"
	}
	s := fmt.Sprintf("%s %s to %s: %s", what, v.Clock(l.From), v.Clock(l.To), v.Units.DistanceText(l.Length))
	if minutes := l.Moving.Minutes(); minutes >= 1 && l.Length > 0 {
		s += fmt.Sprintf(" in %.0f min of travel, %s", math.Round(minutes), v.speed(quantity.Speed(l.Length.Metres()/l.Moving.Seconds())))
	}
	s += "."
	if l.Timed {
		s += fmt.Sprintf(" %d fixes", l.Fixes)
		if l.Bad > 0 {
			s += fmt.Sprintf(", %d of them poor and left out", l.Bad)
		}
		s += "."
	}
	return s
}
