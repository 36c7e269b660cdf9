package ice

import (
	"math"

	"icehand/internal/base/quantity"
)

// Rule names a condition that makes table and formula stricter.
type Rule string

// The rules.
const (
	ThawRule    Rule = "thaw"
	MildRule    Rule = "mild"
	BrittleRule Rule = "brittle"
	CrackRule   Rule = "crack"
	CurrentRule Rule = "current"
)

// State tells whether a rule applies.
type State int

// The states. The zero value is unknown, and unknown is never shown as absent.
const (
	Unknown State = iota
	Absent
	Present
)

// Finding is what one rule says.
type Finding struct {
	Rule      Rule
	State     State
	Thickness float64 // multiplies the required thickness, as far as is known; 1 for no change
	NoNumber  bool    // no load and no thickness may be named: stay off
	Missing   int     // hours of weather that the rule wanted and did not have
	Source    string  // key in docs/references.md
}

// Crack is what was seen of cracks within reach of the load.
type Crack int

// The cracks. The zero value is that nobody has looked.
const (
	CrackNotLooked Crack = iota
	NoCrack
	DryCrack
	WetCrack
	WetCracksMeet
)

// Setting is what the rules want to know.
type Setting struct {
	// Hourly holds air temperatures of the hours up to now, newest last, not a number where unknown. 72 hours serve every rule.
	Hourly  []quantity.Celsius
	Crack   Crack
	Current State // flowing water under the ice
}

// Conditions applies all rules.
func Conditions(s Setting) []Finding {
	return []Finding{Thaw(s.Hourly), Mild(s.Hourly), Brittle(s.Hourly), Cracked(s.Crack), Flow(s.Current)}
}

// The numbers of the rules.
const (
	thawHours      = 6    // hours above 0 C of the last 24 that double the table [MNDNRThaw]
	thawFactor     = 2.0  // [MNDNRThaw]
	stayOffHours   = 24   // hours above 0 C in a row after which no number holds [MNDNRThaw] [TM5852]
	brittleFall    = 15.0 // C within brittleWithin hours; ours, the sources name no figure
	brittleWithin  = 12   // hours
	brittleFor     = 24   // hours for which the ice counts as brittle after the fall [CCOHS2013]
	mildHours      = 72   // hours of the mean [TM5852, table 2-1]
	mildFactor     = 9.0 / 8
	currentFactor  = 7.0 / 6 // on the thickness over flowing water: 21 cm on a river for 18 on a lake [Barrhead]; the 15 % less load of [MaineChart] is laxer
	wetCrackLoad   = 0.5     // share of the load left beside a wet crack [CRRELText]
	crossingLoad   = 0.25    // where two meet; unverified
	longestUnknown = 3       // hours of missing weather in a row that cannot hide a sudden fall
)

// mildAbove is the mean above which the mild column holds: 15 F, the end of the cold one [TM5852, table 2-1]. The
// table prints its mild column from 20 F; the gap between counts as mild.
var mildAbove = quantity.Fahrenheit(15)

// Thaw applies the thaw rule: above 0 C for 6 of the last 24 hours, the required thickness doubles; above 0 C for 24
// hours in a row, ended less than 24 hours ago, no number holds. Where unknown hours could make a day of thaw, the state
// is unknown even if the doubling is certain.
func Thaw(hourly []quantity.Celsius) Finding {
	f := Finding{Rule: ThawRule, Thickness: 1, Source: "MNDNRThaw"}
	above, certain, possible := 0, 0, 0 // certain and possible: length of the run of thaw up to this hour
	mayStayOff := false
	for i, T := range lastHours(hourly, 2*24) {
		recent, missing := i >= 24, math.IsNaN(float64(T))
		certain, possible = certain+1, possible+1
		if !(T > 0) {
			certain = 0
		}
		if T <= 0 {
			possible = 0
		}
		if !recent {
			continue
		}
		if T > 0 {
			above++
		}
		if missing {
			f.Missing++
		}
		f.NoNumber = f.NoNumber || certain >= stayOffHours
		mayStayOff = mayStayOff || possible >= stayOffHours
	}
	if above >= thawHours {
		f.Thickness = thawFactor
	}
	switch {
	case f.NoNumber:
		f.State, f.Thickness = Present, thawFactor
	case mayStayOff:
		f.State = Unknown
	case above >= thawHours:
		f.State = Present
	case above+f.Missing < thawHours:
		f.State = Absent
	}
	return f
}

// Mild applies the mild-weather rule: a mean above 15 F over three days asks for an eighth more thickness, as from 8 to 9 in.
func Mild(hourly []quantity.Celsius) Finding {
	f := Finding{Rule: MildRule, Thickness: 1, Source: "TM5852"}
	sum, n := 0.0, 0
	for _, T := range lastHours(hourly, mildHours) {
		if math.IsNaN(float64(T)) {
			f.Missing++
			continue
		}
		sum += T.Degrees()
		n++
	}
	switch {
	case f.Missing > mildHours/4: // a mean over less than three quarters of the time is no mean of the three days
	case sum/float64(n) > mildAbove.Degrees():
		f.State, f.Thickness = Present, mildFactor
	default:
		f.State = Absent
	}
	return f
}

// Brittle applies the rule of the sudden fall: once it has fallen by 15 C within 12 hours, no number holds until 24 hours
// after it stops falling.
func Brittle(hourly []quantity.Celsius) Finding {
	f := Finding{Rule: BrittleRule, Thickness: 1, Source: "CCOHS2013"}
	h := lastHours(hourly, brittleFor+brittleWithin)
	gap, longest := 0, 0
	before := quantity.Celsius(math.NaN()) // the last known hour
	for j, T := range h {
		if math.IsNaN(float64(T)) {
			f.Missing++
			gap++
			longest = max(longest, gap)
			continue
		}
		gap = 0
		stillFalling := !(T >= before)
		before = T
		if j < brittleWithin || !stillFalling { // it ended more than a day ago, or was counted already
			continue
		}
		for i := j - brittleWithin; i < j; i++ {
			if h[i].Minus(T) >= brittleFall {
				f.State, f.NoNumber = Present, true
			}
		}
	}
	if f.State != Present && longest <= longestUnknown {
		f.State = Absent
	}
	return f
}

// Cracked applies the rule of cracks: half the load beside a wet one. A dry crack is logged and takes nothing off.
func Cracked(c Crack) Finding {
	f := Finding{Rule: CrackRule, Thickness: 1, Source: "CRRELText"}
	switch c {
	case NoCrack, DryCrack:
		f.State = Absent
	case WetCrack:
		f.State, f.Thickness = Present, thicknessFor(wetCrackLoad)
	case WetCracksMeet:
		f.State, f.Thickness = Present, thicknessFor(crossingLoad)
	}
	return f
}

// Flow applies the rule of flowing water: a sixth more thickness, which leaves 73 % of the load.
func Flow(current State) Finding {
	f := Finding{Rule: CurrentRule, State: current, Thickness: 1, Source: "Barrhead"}
	if current == Present {
		f.Thickness = currentFactor
	}
	return f
}

// thicknessFor turns a share of the load into a factor on the required thickness: the load goes as its square.
func thicknessFor(load float64) float64 {
	// (ICE-17)
	return 1 / math.Sqrt(load)
}

// lastHours gives the last n hours, filled with unknown hours where the series is shorter.
func lastHours(hourly []quantity.Celsius, n int) []quantity.Celsius {
	if len(hourly) >= n {
		return hourly[len(hourly)-n:]
	}
	out := make([]quantity.Celsius, n)
	for i := range out {
		out[i] = quantity.Celsius(math.NaN())
	}
	copy(out[n-len(hourly):], hourly)
	return out
}

// Discount is what several findings come to.
type Discount struct {
	NoNumber  bool
	Thickness float64 // multiplies the required thickness
	Unknown   []Rule  // rules that could not be judged; the discount may be too small
}

// Worst combines findings: the worst counts, not the product, and nothing unknown is passed over.
func Worst(findings []Finding) Discount {
	d := Discount{Thickness: 1}
	for _, f := range findings {
		d.NoNumber = d.NoNumber || f.NoNumber
		d.Thickness = math.Max(d.Thickness, f.Thickness)
		if f.State == Unknown {
			d.Unknown = append(d.Unknown, f.Rule)
		}
	}
	return d
}

// Load gives what the discount leaves of a calculated load.
func (d Discount) Load(load quantity.Mass) quantity.Mass {
	return quantity.Mass(load.Kilograms() / (d.Thickness * d.Thickness))
}

// Required gives the thickness needed once the discount is applied.
func (d Discount) Required(h quantity.Length) quantity.Length {
	return quantity.Length(h.Metres() * d.Thickness)
}
