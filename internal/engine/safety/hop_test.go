package safety

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/trade/lake"
)

// basin is a lake of 6 by 6 km, with an island of 100 m in its north-east.
func basin(t testing.TB) *ground.Surface {
	t.Helper()
	square := func(e, n, half float64) []geo.Local {
		return []geo.Local{{E: e - half, N: n - half}, {E: e + half, N: n - half}, {E: e + half, N: n + half}, {E: e - half, N: n + half}}
	}
	s, err := ground.Build(context.Background(), ground.Input{Outline: []geo.Polygon{{Outer: square(0, 0, 3000), Holes: [][]geo.Local{square(2000, 2000, 50)}}}, Cell: 100})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// frost is air of -12 C in every hour of the last hours.
func frost(hours int) []AirHour {
	var out []AirHour
	for i := range hours {
		out = append(out, AirHour{Start: at(9, 0).Add(-time.Duration(i) * time.Hour), Air: -12})
	}
	return out
}

// read is a reading of clear ice at a place.
func read(e, n float64, total quantity.Length, when time.Time) *lake.IceReading {
	return &lake.IceReading{When: when, Placed: true, At: geo.Local{E: e, N: n}, Total: total, WhiteTold: true}
}

// hop is a step of 200 m over the open basin that nothing bars: 41 cm was read 2 h ago, 210 m from its end.
func hop(t testing.TB) HopInput {
	return HopInput{Now: at(9, 50), Zone: zone, From: geo.Local{E: 0, N: 0}, To: geo.Local{E: 200, N: 0}, Travel: "foot", Surface: basin(t),
		Readings: []*lake.IceReading{read(-10, 0, 41*cm, at(7, 50))}, Air: frost(72), Cover: exact}
}

func codes(list []Refusal) string {
	var out []string
	for _, r := range list {
		out = append(out, r.Code)
	}
	return strings.Join(out, " ")
}

func TestHopLabel(t *testing.T) {
	in := hop(t)
	a := Hop(in)
	if a.Barred || a.Read || a.Label != "Ice not read there. Nearest 41 cm, 2 h ago, 210 m. Spud ahead." {
		t.Errorf("%v %q %q", a.Barred, codes(a.Reasons), a.Label)
	}
	if a.Nearest.Bearing != 270 || a.Nearest.Age != 2*time.Hour || a.Nearest.Distance != 210 {
		t.Errorf("nearest %+v", a.Nearest)
	}
	in.Readings = append(in.Readings, read(204, 3, 38*cm, at(9, 38)))
	if a = Hop(in); a.Barred || !a.Read || a.Label != "Ice read here 38 cm, 12 min ago." {
		t.Errorf("read 5 m off: %v %q", a.Read, a.Label)
	}
	in.Readings[1].At.E = 204.1
	if a = Hop(in); a.Read {
		t.Error("a reading 5.1 m off is not of the place")
	}
}

// Every rule of the hop from both sides of its line, and at unknown.
func TestHopFromBothSides(t *testing.T) {
	hazard := func(what, shape string, radius quantity.Length, points ...geo.Local) func(*HopInput) {
		return func(in *HopInput) {
			in.Hazards = append(in.Hazards, &lake.Hazard{What: what, Shape: shape, Radius: radius, Points: points, Report: "present", When: at(7, 0)})
		}
	}
	reading := func(change func(r *lake.IceReading)) func(*HopInput) {
		return func(in *HopInput) { change(in.Readings[0]) }
	}
	extra := func(e, n float64, change func(r *lake.IceReading)) func(*HopInput) {
		return func(in *HopInput) {
			r := read(e, n, 41*cm, at(8, 0))
			change(r)
			in.Readings = append(in.Readings, r)
		}
	}
	both := func(changes ...func(*HopInput)) func(*HopInput) {
		return func(in *HopInput) {
			for _, c := range changes {
				c(in)
			}
		}
	}
	yesterday := at(9, 0).AddDate(0, 0, -1)
	for _, c := range []struct {
		name   string
		change func(*HopInput)
		want   string // codes; "": may be advised
	}{
		{"by machine", func(in *HopInput) { in.Travel = "machine" }, "not_on_foot"},
		{"travel unknown", func(in *HopInput) { in.Travel = "" }, "not_on_foot"},
		{"shore unknown", func(in *HopInput) { in.Surface = nil }, "shore_unknown"},
		{"place unknown", func(in *HopInput) { in.To.E = math.NaN() }, "no_place"},

		{"hazard point 31 m off its buffer", hazard("thin", "point", 20, geo.Local{E: 100, N: 51}), ""},
		{"hazard point 30 m off its buffer", hazard("thin", "point", 20, geo.Local{E: 100, N: 50}), "hazard"},
		{"ridge across", hazard("ridge", "line", 0, geo.Local{E: 100, N: -900}, geo.Local{E: 100, N: 900}), "hazard"},
		{"ridge beyond the end", hazard("ridge", "line", 0, geo.Local{E: 231, N: -900}, geo.Local{E: 231, N: 900}), ""},
		{"inside a wide area", hazard("slush", "area", 0, geo.Local{E: -900, N: -900}, geo.Local{E: 900, N: -900}, geo.Local{E: 0, N: 900}), "hazard"},
		{"hazard cleared", both(hazard("thin", "point", 20, geo.Local{E: 100, N: 0}), func(in *HopInput) { in.Hazards[0].Report = "cleared" }), ""},
		{"hazard superseded", both(hazard("thin", "point", 20, geo.Local{E: 100, N: 0}), func(in *HopInput) { in.Hazards[0].Superseded = true }), ""},
		{"a crossing is a hazard too", both(hazard("ridge", "point", 20, geo.Local{E: 100, N: 0}), func(in *HopInput) { in.Hazards[0].Report = "crossing" }), "hazard"},

		{"15 cm", reading(func(r *lake.IceReading) { r.Total = 15 * cm }), ""},
		{"14.9 cm", reading(func(r *lake.IceReading) { r.Total = 14.9 * cm }), "below_table thin"},
		{"20 cm with 10 white", reading(func(r *lake.IceReading) { r.Total, r.White = 20*cm, 10*cm }), ""},
		{"20 cm with 11 white", reading(func(r *lake.IceReading) { r.Total, r.White = 20*cm, 11*cm }), "below_table thin"},
		{"30 cm, white untold", reading(func(r *lake.IceReading) { r.WhiteTold = false }), ""},
		{"29 cm, white untold", reading(func(r *lake.IceReading) { r.Total, r.WhiteTold = 29*cm, false }), "below_table thin"},
		{"29 cm, white told nearby", both(reading(func(r *lake.IceReading) { r.Total, r.WhiteTold = 29*cm, false }), extra(-300, 0, func(r *lake.IceReading) { r.White = 4 * cm })), ""},
		{"open water", reading(func(r *lake.IceReading) { r.Total = 0 }), "below_table thin"},
		{"negative thickness", reading(func(r *lake.IceReading) { r.Total = -1 }), "no_reading"},
		{"absurd thickness", reading(func(r *lake.IceReading) { r.Total = 41 }), "no_reading"},
		{"no place", reading(func(r *lake.IceReading) { r.Placed = false }), "no_reading"},
		{"yesterday", reading(func(r *lake.IceReading) { r.When = yesterday }), "no_reading"},
		{"clock 15 min ahead", reading(func(r *lake.IceReading) { r.When = at(10, 5) }), ""},
		{"clock 16 min ahead", reading(func(r *lake.IceReading) { r.When = at(10, 6) }), "no_reading"},
		{"no readings", func(in *HopInput) { in.Readings = nil }, "no_reading"},

		{"500 m from the end", reading(func(r *lake.IceReading) { r.At.E = -300 }), ""},
		{"501 m from the end", reading(func(r *lake.IceReading) { r.At.E = -301 }), "far"},
		{"both ends near, the middle far", both(func(in *HopInput) { in.To.E = 1100 }, extra(1110, 0, func(*lake.IceReading) {})), "far"},
		{"both ends near, the middle too", both(func(in *HopInput) { in.To.E = 980 }, extra(980, 0, func(*lake.IceReading) {})), ""},

		{"current 101 m off", extra(100, 101, func(r *lake.IceReading) { r.Current = true }), ""},
		{"current 100 m off", extra(100, 100, func(r *lake.IceReading) { r.Current = true }), "current"},
		{"current a month ago", extra(100, 0, func(r *lake.IceReading) { r.Current, r.When = true, at(8, 0).AddDate(0, -1, 0) }), "current"},
		{"current 399 days ago", extra(100, 0, func(r *lake.IceReading) { r.Current, r.When = true, at(8, 0).AddDate(0, 0, -399) }), "current"},
		{"current 401 days ago", extra(100, 0, func(r *lake.IceReading) { r.Current, r.When = true, at(8, 0).AddDate(0, 0, -401) }), ""},
		{"grey", extra(100, 0, func(r *lake.IceReading) { r.Grey = true }), "grey"},
		{"grey 7 days ago", extra(100, 0, func(r *lake.IceReading) { r.Grey, r.When = true, at(9, 51).AddDate(0, 0, -7) }), "grey"},
		{"grey more than 7 days ago", extra(100, 0, func(r *lake.IceReading) { r.Grey, r.When = true, at(9, 49).AddDate(0, 0, -7) }), ""},
		{"rotten", extra(100, 0, func(r *lake.IceReading) { r.Rotten = true }), "rotten"},
		{"layered", extra(100, 0, func(r *lake.IceReading) { r.Layered = true }), "layered"},
		{"wet crack", extra(100, 0, func(r *lake.IceReading) { r.Crack = "wet" }), "wet_crack"},
		{"dry crack", extra(100, 0, func(r *lake.IceReading) { r.Crack = "dry" }), ""},
		{"not floating", extra(100, 0, func(r *lake.IceReading) { r.Water, r.WaterTold = 12*cm, true }), "not_floating"},
		{"floating high", extra(100, 0, func(r *lake.IceReading) { r.Water, r.WaterTold = 7*cm, true }), ""},
		{"slush elsewhere", extra(100, 0, func(r *lake.IceReading) { r.Slush = true }), ""},
		{"slush in the only reading", reading(func(r *lake.IceReading) { r.Slush = true }), "below_table"},
		{"water on the only reading", reading(func(r *lake.IceReading) { r.Water, r.WaterTold = -1*cm, true }), "below_table"},
		{"thin 101 m off", extra(100, 101, func(r *lake.IceReading) { r.Total = 12 * cm }), ""},
		{"thin 100 m off", extra(100, 100, func(r *lake.IceReading) { r.Total = 12 * cm }), "thin"},
		{"thin yesterday 31 m off", extra(100, 31, func(r *lake.IceReading) { r.Total, r.When = 12*cm, yesterday }), ""},
		{"thin yesterday in the corridor", extra(100, 30, func(r *lake.IceReading) { r.Total, r.When = 12*cm, yesterday }), "thin"},
		{"thin yesterday, read again beside it", both(extra(100, 30, func(r *lake.IceReading) { r.Total, r.When = 12*cm, yesterday }), extra(100, 0, func(*lake.IceReading) {})), ""},

		{"end 201 m from shore", both(func(in *HopInput) { in.From, in.To = geo.Local{E: 2700}, geo.Local{E: 2799} }, extra(2700, 0, func(*lake.IceReading) {})), ""},
		{"end 200 m from shore", both(func(in *HopInput) { in.From, in.To = geo.Local{E: 2700}, geo.Local{E: 2800} }, extra(2700, 0, func(*lake.IceReading) {})), "shore"},
		{"past the island", both(func(in *HopInput) { in.From, in.To = geo.Local{E: 1700, N: 2200}, geo.Local{E: 2300, N: 2200} }, extra(2000, 2200, func(*lake.IceReading) {})), "shore"},
		{"well past the island", both(func(in *HopInput) { in.From, in.To = geo.Local{E: 1700, N: 2251}, geo.Local{E: 2300, N: 2251} }, extra(2000, 2251, func(*lake.IceReading) {})), ""},
		{"onto the island", both(func(in *HopInput) { in.From, in.To = geo.Local{E: 1700, N: 2000}, geo.Local{E: 2000, N: 2000} }, extra(2000, 2000, func(*lake.IceReading) {})), "off_water"},
		{"from land", func(in *HopInput) { in.From = geo.Local{E: -3100} }, "off_water far"},

		{"5 h of thaw", func(in *HopInput) { thaw(in.Air, 5) }, ""},
		{"6 h of thaw", func(in *HopInput) { thaw(in.Air, 6) }, "thaw"},
		{"24 h of thaw", func(in *HopInput) { thaw(in.Air, 24) }, "thaw"},
		{"air of the last 24 h only", func(in *HopInput) { in.Air = in.Air[:24] }, ""},
		{"three-hourly air", func(in *HopInput) {
			var thin []AirHour
			for i := 0; i < 72; i += 3 {
				thin = append(thin, in.Air[i])
			}
			in.Air = thin
		}, ""},
		{"sudden fall", func(in *HopInput) { in.Air[3].Air = 3 - 15 - 0.1; in.Air[13].Air = 3 }, "brittle"},
		{"fall of 15", func(in *HopInput) { in.Air[13].Air = 3 }, "brittle"}, // to the -12 of all other hours
		{"fall of 14.9", func(in *HopInput) { in.Air[13].Air = 2.9 }, ""},
		{"mild, 16 cm", both(func(in *HopInput) {
			for i := range in.Air {
				in.Air[i].Air = -3
			}
		}, reading(func(r *lake.IceReading) { r.Total = 16 * cm })), "below_table thin"},
		{"mild, 17 cm", both(func(in *HopInput) {
			for i := range in.Air {
				in.Air[i].Air = -3
			}
		}, reading(func(r *lake.IceReading) { r.Total = 17 * cm })), ""},

		{"arrives in time", func(in *HopInput) { in.Deadline, in.Arrival = at(14, 55), at(14, 55) }, ""},
		{"arrives too late", func(in *HopInput) { in.Deadline, in.Arrival = at(14, 55), at(14, 56) }, "turn_back"},
		{"longer way home from there", func(in *HopInput) {
			in.Deadline, in.Arrival = at(14, 55), at(14, 52)
			in.HomeAt = func(p geo.Local) time.Duration { return time.Duration(p.E/50) * time.Minute }
		}, "turn_back"},
		{"shorter way home from there", func(in *HopInput) {
			in.Deadline, in.Arrival = at(14, 55), at(14, 56)
			in.HomeAt = func(p geo.Local) time.Duration { return time.Duration(-p.E/50) * time.Minute }
		}, "turn_back"},
		{"arrival unknown, past turn-back", func(in *HopInput) { in.Deadline = at(9, 49) }, "turn_back"},
		{"table without a row on foot", func(in *HopInput) { in.Table = Table{Agency: "x", Least: map[string]quantity.Length{"car": 40 * cm}} }, "class_not_covered"},
	} {
		in := hop(t)
		c.change(&in)
		a := Hop(in)
		if got := codes(a.Reasons); got != c.want || a.Barred != (c.want != "") {
			t.Errorf("%s: barred %v by %q, want %q", c.name, a.Barred, got, c.want)
		}
	}
}

// thaw makes the newest hours warm.
func thaw(air []AirHour, hours int) {
	for i := range hours {
		air[i].Air = 0.5
	}
}

// A step follows the figure that Ice names at a hole, not the hole's own thickness: whatever is drilled, the hole supports a
// step exactly when a person standing at it is not below the table.
func TestHopFollowsTheFigure(t *testing.T) {
	met := map[bool]int{}
	for mm := 140; mm <= 240; mm += 2 {
		in := hop(t)
		in.Cover, in.To = Cover{}, geo.Local{E: 100}
		in.Readings = []*lake.IceReading{read(-10, 0, quantity.Length(mm)*quantity.Millimetre, at(7, 50))}
		a, b := Ice(IceInput{Now: in.Now, Zone: in.Zone, At: in.Readings[0].At, Load: Load{Class: "on_foot", Mass: 110}, Readings: in.Readings, Air: in.Air}), Hop(in)
		if (a.State == NotBelow) == b.Barred {
			t.Errorf("%d mm: %s, a step barred %v by %q", mm, a.State, b.Barred, codes(b.Reasons))
		}
		met[b.Barred]++
		if b.Barred && mm > 150 && b.Reasons[1].Text != fmt.Sprintf("Below the table: low end %s at a hole of %s near the line, 2 h ago.", quantity.SI.IceText(a.Effective), quantity.SI.IceText(in.Readings[0].Total)) {
			t.Errorf("%d mm: %q", mm, b.Reasons)
		}
	}
	if met[true] < 10 || met[false] < 10 {
		t.Errorf("barred or not: %v", met)
	}
	// a thick hole beside it does not carry a step onto a hole below the table
	in := hop(t)
	in.Cover = Cover{}
	in.Readings = append(in.Readings, read(200, 0, 16*cm, at(9, 0)))
	if a := Hop(in); codes(a.Reasons) != "thin" || !a.Read {
		t.Errorf("onto an open hole of 16 cm: %v %q", a.Read, codes(a.Reasons))
	}
	// figures worked out before are the same
	in.Figures = NewFigures(IceInput{Now: in.Now, Zone: in.Zone, Readings: in.Readings})
	if a := Hop(in); codes(a.Reasons) != "thin" {
		t.Error(codes(a.Reasons))
	}
}

// Without the air's temperature only a reading with nothing bad about it carries a hop, an eighth more is asked for, and
// the label says that the air is not known.
func TestHopAirUnknown(t *testing.T) {
	in := hop(t)
	in.Air = nil
	a := Hop(in)
	if want := "Ice not read there; air not known. Nearest 41 cm, 2 h ago, 210 m. Spud ahead."; a.Barred || a.Label != want {
		t.Errorf("%q %q, want %q", codes(a.Reasons), a.Label, want)
	}
	in.Readings[0].Total = 16.8 * cm // 15 cm and an eighth: 16.875
	if a = Hop(in); !a.Barred {
		t.Error("16.8 cm in unknown air")
	}
	in.Readings[0].Total = 16.9 * cm
	if a = Hop(in); a.Barred {
		t.Errorf("16.9 cm in unknown air: %q", codes(a.Reasons))
	}
	in.Air = frost(23) // the hour before may have ended a day of thaw
	if a = Hop(in); !strings.Contains(a.Label, "air not known") {
		t.Errorf("23 h known: %q", a.Label)
	}
	in.Air = frost(24)
	if a = Hop(in); strings.Contains(a.Label, "not known") {
		t.Errorf("24 h known: %q", a.Label)
	}
}

// A hopper gives what single hops give, and reads more ice than it needs without growing looser.
func TestHopperAgreesWithHop(t *testing.T) {
	in := many(t, 60)
	h := NewHopper(in)
	barred := 0
	for k := range 200 {
		to := geo.Local{E: float64(k%20)*60 - 600, N: float64(k/20)*60 - 300}
		in.To = to
		a, b := h.Hop(to), Hop(in)
		if a.Barred != b.Barred || a.Label != b.Label || codes(a.Reasons) != codes(b.Reasons) {
			t.Fatalf("to %v: %+v and %+v", to, a, b)
		}
		if a.Barred {
			barred++
		}
		more := in
		more.Readings = append(more.Readings[:len(more.Readings):len(more.Readings)], read(to.E, to.N+20, 9*cm, at(9, 0)))
		if c := Hop(more); !c.Barred {
			t.Fatalf("to %v: a thin reading beside it bars nothing", to)
		}
	}
	if barred == 0 || barred == 200 {
		t.Errorf("%d of 200 hops barred: the case tells nothing", barred)
	}
}

// many is a day with n readings round a base, a few of them bad, and hazards.
func many(t testing.TB, n int) HopInput {
	in := hop(t)
	in.Readings = nil
	for k := range n {
		s, c := math.Sincos(float64(k) * 2.4)
		r := read(12*math.Sqrt(float64(k))*c*3, 12*math.Sqrt(float64(k))*s*3, 41*cm, at(7, 0).Add(time.Duration(k)*time.Second))
		r.Grey = k%50 == 49
		in.Readings = append(in.Readings, r)
	}
	for k := range 20 {
		e := float64(k*150 - 1500)
		in.Hazards = append(in.Hazards, &lake.Hazard{What: "ridge", Shape: "line", Report: "present", When: at(7, 0), Radius: 10,
			Points: []geo.Local{{E: e, N: 420}, {E: e + 80, N: 440}, {E: e + 160, N: 420}}})
	}
	return in
}

func BenchmarkHop200Readings(b *testing.B) {
	h := NewHopper(many(b, 200))
	k := 0
	for b.Loop() {
		k++
		h.Hop(geo.Local{E: float64(k%41)*20 - 400, N: float64(k%37)*20 - 360})
	}
}

func BenchmarkNewHopper200Readings(b *testing.B) {
	in := many(b, 200)
	for b.Loop() {
		NewHopper(in)
	}
}

// Once the ice broke or the water level changed, no reading from before supports a hop; one from after does.
func TestHopAfterTheIceBroke(t *testing.T) {
	for since, barred := range map[time.Time]bool{at(7, 50): false, at(7, 51): true} {
		in := hop(t)
		in.Readings[0].When, in.Ended = at(7, 50), since
		a := Hop(in)
		if a.Barred != barred || barred && codes(a.Reasons) != "aged" {
			t.Errorf("ended %v: barred %v, %s", since, a.Barred, codes(a.Reasons))
		}
	}
}
