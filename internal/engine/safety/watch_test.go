package safety

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/quantity"
)

func coldAt(air quantity.Celsius, wind float64) ColdAnswer {
	return ColdWatch(ColdInput{Air: air, AirTold: true, Wind: quantity.Speed(wind) * kmh, WindTold: true})
}

// Turns in the warm: by age, halved from the hazard band -28 to -39 and quartered from -40, from both sides of each line and at unknown.
// Bands of Environment and Climate Change Canada [ECCCWindChill]; at 20 km/h -16 C chills to -25, -20 C to -30 and -30 C to -43.
func TestTurnsInTheWarm(t *testing.T) {
	child, elder, grown := uuid.New(), uuid.New(), uuid.New()
	people := []Watched{{Person: grown, Age: "adult", Warm: at(9, 0)}, {Person: child, Age: "child", Warm: at(9, 0)}, {Person: elder, Age: "elder", Warm: at(9, 0)}}
	for name, c := range map[string]struct {
		cold ColdAnswer
		want string // child, elder, adult
	}{
		"mild":    {coldAt(-16, 20), "30 45 90"},
		"cold":    {coldAt(-20, 20), "15 22 45"},
		"severe":  {coldAt(-30, 20), "7 11 22"},
		"unknown": {ColdWatch(ColdInput{}), "15 22 45"},
	} {
		a := Watch(WatchInput{Now: at(9, 20), Cold: c.cold, People: people})
		got := fmt.Sprintf("%.0f %.0f %.0f", a.Turns[0].Every.Minutes(), a.Turns[1].Every.Minutes(), a.Turns[2].Every.Minutes())
		if got != c.want || a.Turns[0].Person != child || a.Turns[2].Person != grown {
			t.Errorf("%s: every %s min, want %s", name, got, c.want)
		}
	}
	ride := ColdWatch(ColdInput{Air: -25, AirTold: true, Wind: 20 * kmh, WindTold: true, Ride: 40 * kmh})
	if a := Watch(WatchInput{Now: at(9, 20), Cold: ride, People: people}); a.Turns[0].Every != 7*time.Minute {
		t.Errorf("riding at 40 km/h in -25 C: every %v", a.Turns[0].Every)
	}
}

// A turn is due at its minute and not the minute before; without a time it is due now.
func TestTurnsFallDue(t *testing.T) {
	one := []Watched{{Person: uuid.New(), Age: "child", Warm: at(9, 0)}}
	for minute, over := range map[int]bool{29: false, 30: true} {
		if a := Watch(WatchInput{Now: at(9, minute), Cold: coldAt(-5, 10), People: one}); a.Turns[0].Over != over || !a.Turns[0].Due.Equal(at(9, 30)) {
			t.Errorf("09:%d: %+v", minute, a.Turns[0])
		}
	}
	one[0].Warm = time.Time{}
	if a := Watch(WatchInput{Now: at(9, 0), Cold: coldAt(-5, 10), People: one}); !a.Turns[0].Over {
		t.Error("nobody knows when the child was warm, and no turn is due")
	}
}

// Faces are looked at at least twice within the time in which skin can freeze: -21 C in 20 km/h chills to -32, where [ECCCWindChill] names 10 to 30 min, so every 5.
func TestFacesAndShelter(t *testing.T) {
	a := Watch(WatchInput{Now: at(9, 4), Cold: coldAt(-21, 20), Out: at(9, 0)})
	if soonest := coldAt(-21, 20).Still.Soonest; soonest != 10*time.Minute || a.Every != 5*time.Minute || a.FacesIn || !a.Faces.Equal(at(9, 0).Add(a.Every)) {
		t.Errorf("skin in %v, faces every %v, next %v", coldAt(-21, 20).Still.Soonest, a.Every, a.Faces)
	}
	if a := Watch(WatchInput{Now: at(9, 29), Cold: coldAt(-2, 10), Out: at(9, 0)}); a.FacesIn || a.Heater || a.NoAlarm {
		t.Errorf("mild, half an hour not over, no heater: %+v", a)
	}
	if a := Watch(WatchInput{Now: at(9, 30), Cold: coldAt(-2, 10), Out: at(9, 0)}); !a.FacesIn {
		t.Error("half an hour is over")
	}
	heat := WatchInput{Now: at(10, 0), Cold: coldAt(-5, 10), Heater: at(9, 45)}
	if a := Watch(heat); !a.Heater || !a.NoAlarm || a.VentsIn || !a.Vents.Equal(at(10, 15)) {
		t.Errorf("a heater without alarm: %+v", a)
	}
	heat.COAlarm, heat.Now = at(9, 40), at(10, 15)
	if a := Watch(heat); a.NoAlarm || !a.VentsIn {
		t.Errorf("alarm tried, vents due: %+v", a)
	}
	heat.Vents = at(10, 10)
	if a := Watch(heat); a.VentsIn || !a.Vents.Equal(at(10, 40)) {
		t.Errorf("vents seen at 10:10: %+v", a)
	}
	wet := uuid.New()
	if a := Watch(WatchInput{Now: at(9, 0), People: []Watched{{Person: wet, Wet: at(8, 50)}}}); len(a.Wet) != 1 || a.Wet[0] != wet {
		t.Errorf("a wet person: %+v", a)
	}
}

// The coldest person's limit is a deadline of its own: the first turn due, shorter for a child, in the hard cold and where
// the cold is not known; none with nobody out.
func TestWarmUpDeadline(t *testing.T) {
	grown, child := uuid.New(), uuid.New()
	people := []Watched{{Person: grown, Age: "adult", Warm: at(9, 0)}, {Person: child, Age: "child", Warm: at(9, 30)}}
	wind := 20 * quantity.KilometrePerHour
	for _, c := range []struct {
		name        string
		cold        ColdAnswer
		due         time.Time
		hard, blind bool
	}{
		{"mild", ColdWatch(ColdInput{Air: -5, AirTold: true, Wind: wind, WindTold: true}), at(10, 0), false, false},
		{"index -27.0", ColdWatch(ColdInput{Air: -17.3, AirTold: true, Wind: wind, WindTold: true}), at(10, 0), false, false},
		{"index -28.0", ColdWatch(ColdInput{Air: -18.2, AirTold: true, Wind: wind, WindTold: true}), at(9, 45), true, false},
		{"index -41", ColdWatch(ColdInput{Air: -28.5, AirTold: true, Wind: wind, WindTold: true}), at(9, 22), true, false},
		{"not known", ColdWatch(ColdInput{}), at(9, 45), false, true},
	} {
		a := Watch(WatchInput{Now: at(9, 20), Cold: c.cold, People: people})
		if a.Coldest == nil || !a.Coldest.Due.Equal(c.due) || a.Hard != c.hard || a.Blind != c.blind {
			t.Errorf("%s: index %v, %+v hard %v blind %v, want due %v", c.name, c.cold.Still.Index, a.Coldest, a.Hard, a.Blind, c.due)
		}
	}
	if a := Watch(WatchInput{Now: at(9, 20)}); a.Coldest != nil {
		t.Error("a deadline of nobody")
	}
}
