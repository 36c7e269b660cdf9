package say

import (
	"fmt"
	"math"
	"strings"

	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
)

// AloudText is what a phone's voice says of the way and the turn-back time.
type AloudText struct {
	Words  string // all of it, numbers figure by figure
	Change string // differs when something besides the course is worth saying anew: off the line or back on it, another turn-back time
	Course string // degrees true; "" without a way
}

// Aloud says the way and the turn-back time for ears alone.
func (v Voice) Aloud(g desk.Guide, home TurnBackText) AloudText {
	var said, change []string
	var heading string
	tell := func(words, key string) {
		said = append(said, words)
		change = append(change, key)
	}
	if g.FromHole != nil || !g.Here.Known {
		tell("No fix.", "no fix")
	}
	s := g.Steer
	if len(g.Line) == 0 {
		tell("No known way. Stay where you are. Call.", "no way")
	} else {
		if !s.On {
			side := map[bool]string{true: "right", false: "left"}[s.Right]
			tell(v.farAloud(s.Off)+" "+side+" of the line. Back to it first. Ice not read between. Spud ahead.", "off "+side)
		}
		whole := func(b quantity.Bearing) float64 { return math.Mod(math.Round(b.Degrees()), 360) }
		heading = fmt.Sprint(whole(s.Bearing))
		course := "Walk " + Figures(fmt.Sprintf("%03.0f", whole(s.Bearing))) + " true"
		if g.Declined {
			course += ", " + Figures(fmt.Sprintf("%03.0f", whole(g.Field.Magnetic(s.Bearing)))) + " by compass"
		}
		said = append(said, course+".", v.farAloud(s.Leg)+".")
	}
	for _, h := range g.Hazards {
		tell("Runs into: "+HazardWord(h.What)+".", h.What)
	}
	if g.To != nil {
		said = append(said, "Ice not read on the line. Spud ahead.")
	}
	switch {
	case home.Clock == "" || home.Left == "unknown: head in":
		tell("Turn-back time unknown. Head in.", "unknown")
	case home.Past:
		tell("Turn-back time "+Figures(home.Clock)+" is past. Head in.", "past")
	default:
		tell("Turn back at "+Figures(home.Clock)+".", fmt.Sprint(home.Clock, home.Near))
	}
	return AloudText{strings.Join(said, " "), strings.Join(change, "|"), heading}
}

// farAloud says a distance.
func (v Voice) farAloud(l quantity.Length) string {
	number, unit, _ := strings.Cut(v.Units.DistanceText(l), " ")
	word := map[string]string{"m": "metre", "km": "kilometre", "yd": "yard", "mi": "mile"}[unit]
	if number != "1" {
		word += "s"
	}
	return sentence(Figures(number) + " " + word)
}

func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

var figures = [...]string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}

// Figures says a number figure by figure, as on a radio: 14:53 is one four five three, 2.4 is two point four.
func Figures(s string) string {
	var out []string
	for _, r := range s {
		switch {
		case r >= '0' && r <= '9':
			out = append(out, figures[r-'0'])
		case r == '.':
			out = append(out, "point")
		}
	}
	return strings.Join(out, " ")
}

// Part is a piece of a line; a large one is a number that is read at a glance.
type Part struct {
	Text  string
	Large bool
}

// parts cuts a line into its courses of three figures and the words between them.
func parts(s string) (out []Part) {
	figure := func(i int) bool { return i < len(s) && s[i] >= '0' && s[i] <= '9' }
	from := 0
	for i := 0; i < len(s); i++ {
		if figure(i) && figure(i+1) && figure(i+2) && !figure(i+3) && (i == 0 || !figure(i-1)) {
			out = append(out, Part{s[from:i], false}, Part{s[i : i+3], true})
			from, i = i+3, i+2
		}
	}
	return append(out, Part{s[from:], false})
}
