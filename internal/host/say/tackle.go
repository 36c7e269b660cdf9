package say

import (
	"fmt"
	"math"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
)

// TackleText is a tackle sheet in words.
type TackleText struct {
	Title   string
	Rig     string // what was reckoned with
	Sink    string
	Basis   string
	Falls   [][2]string // depth, seconds
	Stretch string
	Pull    string
	Lift    string
	Line    string // how the line and the tip are known
	Flow    []string
	Beware  string   // of the ice, where a current runs
	Card    []string // for guests
	Doubt   []string
}

// Tackle says what a tackle sheet says.
func (v Voice) Tackle(s desk.TackleSheet) TackleText {
	t := TackleText{Title: fmt.Sprintf("%s to %s", v.LureText(s.Mass), v.Units.DepthText(s.Depth))}
	t.Rig = fmt.Sprintf("%s of %s, %s line of %s, %s tip.", v.LureText(s.Mass), s.Of, s.Line, v.LineText(s.Diameter), s.Tip)
	if s.Timed != nil {
		t.Title = fmt.Sprintf("%s to %s", s.Timed.Lure, v.Units.DepthText(s.Depth))
		t.Sink = fmt.Sprintf("Sinks in about %s.", seconds(s.Sinks))
		t.Basis = fmt.Sprintf("From your timed drop of %s: %s to %s in %s.", v.When(s.Timed.When), s.Timed.Lure, v.Units.DepthText(quantity.FromMillimetres(s.Timed.Depth)), seconds(time.Duration(s.Timed.Took)*time.Millisecond))
	} else {
		t.Sink = fmt.Sprintf("Sinks in %s or more.", seconds(s.Sinks))
		t.Basis = "A bare ball of that weight on a free line. Hair, plastic and a spool make it 2 to 4 times as long (common practice, no source). Time one drop and it is your own figure."
	}
	for _, f := range s.Falls {
		t.Falls = append(t.Falls, [2]string{v.Units.DepthText(f.Depth), seconds(f.Time)})
	}
	t.Stretch = fmt.Sprintf("The line gives %s under the pull of 100 g.", v.between(s.Stretch[0], s.Stretch[1]))
	t.Pull = fmt.Sprintf("Pulled down %s, the tip moves %s.", v.handText(s.Bite), v.between(s.Pull[1].Tip, s.Pull[0].Tip))
	t.Lift = fmt.Sprintf("Lifted %s, the tip rises %s.", v.handText(s.Bite), v.between(s.Lift[1].Tip, s.Lift[0].Tip))
	if s.Lift[0].Slack || s.Lift[1].Slack {
		t.Lift = fmt.Sprintf("Lifted %s, the tip rises %s, and then the line is slack: that is all that a fish which comes up shows.", v.handText(s.Bite), v.between(s.Lift[1].Tip, s.Lift[0].Tip))
	}
	switch {
	case s.LineHung != nil && s.TipHung != nil:
		t.Line = "Line and tip from your hung weights."
	case s.LineHung != nil:
		t.Line = "Line from your hung weight; tip of no source."
	case s.TipHung != nil:
		t.Line = "Tip from your hung weight; line from textbook values of the stuff, unverified."
	default:
		t.Line = "Line from textbook values of the stuff, tip of no source: hang a weight and they are your own."
	}
	v.flow(s, &t)
	v.card(s, &t)
	return t
}

// flow says what a current does.
func (v Voice) flow(s desk.TackleSheet, t *TackleText) {
	switch {
	case s.TooFast:
		t.Flow = append(t.Flow, "No current of up to a metre a second leans the line so: measure the lean again.")
	case !s.Flows:
		return
	default:
		if s.FromLean {
			t.Flow = append(t.Flow, fmt.Sprintf("A lean of %.0f degrees tells a current of about %s.", s.Lean.Degrees(), flowText(s.Current)))
		}
		if s.Blown.Far {
			t.Flow = append(t.Flow, fmt.Sprintf("In %s it is too light: the line leans %.0f degrees or more, and no distance can be told.", flowText(s.Current), math.Min(89, s.Blown.Angle.Degrees())))
		} else {
			t.Flow = append(t.Flow, fmt.Sprintf("In %s it hangs %s aside, the line leaning %.0f degrees.", flowText(s.Current), v.handText(s.Blown.Aside), s.Blown.Angle.Degrees()))
		}
		if s.Held {
			t.Flow = append(t.Flow, fmt.Sprintf("No farther aside than %s from %s on.", v.handText(s.Aside), v.LureText(s.Heavy)))
		} else {
			t.Flow = append(t.Flow, "No lure holds it there: thinner line, or another hole.")
		}
	}
	t.Beware = "A current thins ice from below. Where a line leans, read the ice again and log the current."
}

// card writes what a guest needs, in plain words.
func (v Voice) card(s desk.TackleSheet, t *TackleText) {
	count := fmt.Sprintf("Open the reel. Count to %.0f.", math.Ceil(s.Sinks.Seconds()))
	if s.Timed == nil {
		count = fmt.Sprintf("Open the reel. Count: it takes %.0f seconds or more.", math.Ceil(s.Sinks.Seconds()))
	}
	t.Card = []string{
		count,
		"Line gone slack? It lies on the bottom. Close the reel.",
		"Reel up two turns. Watch the tip, not the hole.",
		"Tip goes down: a fish pulls. Lift.",
		"Tip comes UP, or the line goes slack: a fish has lifted it. Lift too.",
		fmt.Sprintf("A bite is small: about %s at the tip.", v.handText((s.Pull[0].Tip+s.Pull[1].Tip)/2)),
	}
}

// LureText prints the weight of a lure: tenths of a gram, or hundredths of an ounce.
func (v Voice) LureText(m quantity.Mass) string {
	if v.Units == quantity.US {
		return fmt.Sprintf("%.2f oz", 16*m.Pounds())
	}
	if g := float64(m / quantity.Gram); g < 9.95 {
		return fmt.Sprintf("%.1f g", g)
	}
	return fmt.Sprintf("%.0f g", float64(m/quantity.Gram))
}

// LineText prints how thick a line is.
func (v Voice) LineText(l quantity.Length) string {
	if v.Units == quantity.US {
		return fmt.Sprintf("%.3f in", l.Inches())
	}
	return fmt.Sprintf("%.2f mm", float64(l/quantity.Millimetre))
}

// handText prints a length that a hand spans, to the millimetre or the tenth of an inch; a longer one to the decimetre.
func (v Voice) handText(l quantity.Length) string {
	switch {
	case v.Units == quantity.US && l < 2*quantity.Foot:
		return fmt.Sprintf("%.1f in", l.Inches())
	case v.Units == quantity.US:
		return fmt.Sprintf("%.1f ft", l.Feet())
	case l < quantity.Centimetre:
		return fmt.Sprintf("%.0f mm", float64(l/quantity.Millimetre))
	case l < 10*quantity.Centimetre:
		return fmt.Sprintf("%.1f cm", l.Centimetres())
	case l < quantity.Metre:
		return fmt.Sprintf("%.0f cm", l.Centimetres())
	}
	return fmt.Sprintf("%.1f m", l.Metres())
}

// between prints two bounds, or one figure where they print alike.
func (v Voice) between(lo, hi quantity.Length) string {
	a, b := v.handText(lo), v.handText(hi)
	if a == b {
		return a
	}
	return a + " to " + b
}

func seconds(d time.Duration) string { return fmt.Sprintf("%.0f s", math.Ceil(d.Seconds())) }

func flowText(u quantity.Speed) string { return fmt.Sprintf("%.1f cm/s", 100*u.MetresPerSecond()) }
