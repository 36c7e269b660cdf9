package say

import (
	"fmt"
	"strings"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
)

// RescueText is the rescue card in words: every position is given in the format that the asker may want.
type RescueText struct {
	Grid, Minutes, Decimal, UTM string
	GridAloud, MinutesAloud     []geo.Said // to be read over a radio or telephone
	Sure                        string     // datum, accuracy, age
	Landing                     string     // bearing and distance from the landing
	Approach                    string     // where rescuers get onto the ice, and what was read on the way
	LandingAt                   string     // the first of these alone
	Home                        string     // bearings home
	People                      string
}

// Rescue says the rescue card.
func (v Voice) Rescue(r desk.Rescue) RescueText {
	t := RescueText{Grid: r.Grid.String(), GridAloud: r.Grid.Aloud(), Minutes: r.Position.DMMText(), MinutesAloud: r.Position.DMMAloud(),
		Decimal: r.Position.DecimalText(), UTM: r.Position.ToUTM().String(), People: Few(r.OnIce, "person", "people") + " on the ice by the record"}
	sure := []string{"WGS 84"}
	if r.AtLanding {
		t.Sure = "WGS 84. No fix and no hole of today: this is the landing, not the party."
		if r.Guessed {
			t.Sure = "WGS 84. No fix, no hole of today, no landing told: this is the lake, not the party."
		}
	}
	if r.FromHole != "" {
		sure = append(sure, "no fix: the place of hole "+r.FromHole)
	}
	if r.Accuracy > 0 {
		sure = append(sure, "within "+v.Units.FarText(r.Accuracy))
	} else {
		sure = append(sure, "accuracy not known")
	}
	if !r.AtLanding {
		t.Sure = strings.Join(append(sure, v.Ago(r.Fixed)), ", ") + "."
	}
	from := "the landing"
	if r.Guessed {
		from = "the day's first hole (no landing is told)"
	}
	t.Landing = fmt.Sprintf("%s from %s, %s", v.Units.DistanceText(r.FromLanding), from, compassed(r.Bearing, r.Magnetic, r.Declined))
	t.LandingAt = "Landing: " + r.LandingGrid.String() + ", " + r.Landing.DMMText() + "."
	if r.Guessed {
		t.LandingAt = "Landing not told."
	}
	t.Approach = t.LandingAt + " " + v.wayRead(r)
	t.Home = "Home lies " + compassed(r.Home, r.HomeMag, r.Declined) + "."
	if r.AtLanding {
		t.Landing, t.Home = "Where the party is, is not known", ""
	}
	return t
}

// wayRead says what was read today on the way that rescuers may come, and how old that is.
func (v Voice) wayRead(r desk.Rescue) string {
	if len(r.Way.Line) < 2 {
		return "No known way."
	}
	s := "No ice was read on the way today."
	if x := r.Read; x.Holes > 0 {
		s = fmt.Sprintf("On the way ice was read in %s today: %s", Few(x.Holes, "hole", "holes"), v.Units.IceText(x.Least))
		if x.Most > x.Least {
			s += " to " + v.Units.IceText(x.Most)
		}
		s += ", the last " + v.Ago(x.Last) + "."
	}
	for _, h := range r.Read.Crossings {
		s += " Crossing of " + v.Clock(h.When) + "."
	}
	return s
}

// compassed says a bearing true and by compass. A compass near an auger, a sled or a machine points anywhere.
func compassed(b, magnetic quantity.Bearing, known bool) string {
	if !known {
		return Degrees(b) + " (no compass bearing: the magnetic model covers 2025 to 2029)"
	}
	return strings.TrimSuffix(Degrees(b), " true") + " true, " + strings.TrimSuffix(Degrees(magnetic), " true") + " by compass"
}
