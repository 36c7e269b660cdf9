package safety

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

func TestLearnedSpeed(t *testing.T) {
	line := func(metres quantity.Length, min float64) Stretch {
		return Stretch{Length: metres, Took: time.Duration(min * float64(time.Minute)), Party: true}
	}
	leg := func(metres quantity.Length, min float64) Stretch {
		return Stretch{Length: metres, Took: time.Duration(min * float64(time.Minute))}
	}
	for name, c := range map[string]struct {
		travel string
		record []Stretch
		want   float64 // km/h
	}{
		"nothing":                   {"foot", nil, 0},
		"the party's line":          {"foot", []Stretch{line(2000, 30)}, 4},
		"two lines count as one":    {"foot", []Stretch{line(1000, 20), line(3000, 40)}, 4},
		"no more than the most":     {"foot", []Stretch{line(3000, 20)}, 5},
		"the most of a machine":     {"machine", []Stretch{line(10000, 15)}, 25},
		"a short line is no travel": {"foot", []Stretch{line(499, 30)}, 0},
		"slower than 1 km/h stood":  {"foot", []Stretch{line(500, 31)}, 0},
		"no time, no speed":         {"foot", []Stretch{line(2000, 0)}, 0},
		"two legs are too few":      {"foot", []Stretch{leg(200, 6), leg(200, 6)}, 0},
		"the middle leg":            {"foot", []Stretch{leg(200, 5), leg(200, 6), leg(200, 8)}, 2},
		"legs only slow":            {"foot", []Stretch{leg(400, 4), leg(400, 4), leg(400, 4)}, 3},
		"short legs do not count":   {"foot", []Stretch{leg(149, 6), leg(149, 6), leg(149, 6)}, 0},
		"the line before the legs":  {"foot", []Stretch{line(2000, 30), leg(200, 8), leg(200, 8), leg(200, 8)}, 4},
	} {
		if got := LearnedSpeed(c.travel, c.record).KilometresPerHour(); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %.3f km/h, want %.3f", name, got, c.want)
		}
	}
}

// A pace is learned both ways, a person's own where a line says that they came along, and the slowest binds: from both sides, and at unknown.
func TestPartyPace(t *testing.T) {
	ada, lena, ben := uuid.UUID{1}, uuid.UUID{2}, uuid.UUID{3}
	line := func(metres quantity.Length, min float64, who ...uuid.UUID) Stretch {
		return Stretch{Length: metres, Took: time.Duration(min * float64(time.Minute)), Party: true, Who: who}
	}
	own := func(s Stretch) Stretch { s.Party = false; return s }
	leg := own(line(200, 6)) // 2 km/h
	slowLegs := []Stretch{leg, leg, leg}
	quick := []Stretch{line(2000, 30), line(1500, 22.5), line(3000, 45), line(1000, 15)} // 4 km/h each
	for name, c := range map[string]struct {
		travel         string
		today, earlier []Stretch
		walkers        []Walker
		want           float64 // km/h that the way home is reckoned at
		before         bool
	}{
		"nothing known": {"foot", nil, nil, nil, 3, false},
		"an elder":      {"foot", nil, nil, []Walker{{ada, "elder"}, {ben, "adult"}}, 2.4, false},
		"an age that nobody told counts as grown":  {"foot", nil, nil, []Walker{{ada, ""}}, 3, false},
		"unknown travel counts as walking":         {"", nil, nil, []Walker{{lena, "child"}}, 2.1, false},
		"riding in a vehicle":                      {"vehicle", nil, nil, []Walker{{ada, "elder"}}, 15, false},
		"a child at nobody's measured pace":        {"foot", nil, nil, []Walker{{lena, "child"}, {ada, "adult"}}, 2.1, false},
		"quicker than the default by a line":       {"foot", []Stretch{line(2000, 25)}, nil, []Walker{{ada, "adult"}}, 4.8, false},
		"slower than the default by a line":        {"foot", []Stretch{line(2000, 60)}, nil, []Walker{{ada, "adult"}}, 2, false},
		"the line does not say that she came":      {"foot", []Stretch{line(2000, 30)}, nil, []Walker{{lena, "child"}}, 2.8, false},
		"the line says that she came":              {"foot", []Stretch{line(2000, 30, lena)}, nil, []Walker{{lena, "child"}}, 4, false},
		"one came, another child did not":          {"foot", []Stretch{line(2000, 30, lena)}, nil, []Walker{{lena, "child"}, {ben, "child"}}, 2.8, false},
		"a line of her own is slower":              {"foot", []Stretch{line(2000, 30), own(line(1000, 40, ada))}, nil, []Walker{{ada, "adult"}, {ben, "adult"}}, 1.5, false},
		"a line of his own is quicker":             {"foot", []Stretch{line(2000, 40), own(line(1000, 12, ben))}, nil, []Walker{{ada, "adult"}, {ben, "adult"}}, 3, false},
		"everybody has their own":                  {"foot", []Stretch{own(line(1000, 15, ada)), own(line(1000, 12, ben))}, nil, []Walker{{ada, "adult"}, {ben, "elder"}}, 4, false},
		"as on earlier days":                       {"foot", nil, quick, []Walker{{ada, "adult"}}, 4, true},
		"two earlier days are too few":             {"foot", nil, quick[:2], []Walker{{ada, "adult"}}, 3, false},
		"today before earlier days":                {"foot", []Stretch{line(2000, 60)}, quick, []Walker{{ada, "adult"}}, 2, false},
		"legs slow what earlier days told":         {"foot", slowLegs, quick, []Walker{{ada, "adult"}}, 2, false},
		"earlier days, and a child":                {"foot", nil, quick, []Walker{{lena, "child"}}, 2.8, true},
		"three in four kept it up":                 {"foot", nil, append([]Stretch{line(1000, 30)}, quick...), []Walker{{ada, "adult"}}, 4, true},
		"a machine carries the child":              {"machine", []Stretch{line(9000, 30)}, nil, []Walker{{lena, "child"}}, 18, false},
		"a machine learned to be slower":           {"machine", []Stretch{line(4000, 30)}, nil, []Walker{{ada, "adult"}}, 8, false},
		"nobody's line passes the most on foot":    {"foot", []Stretch{line(3000, 20, ada)}, nil, []Walker{{ada, "adult"}}, 5, false},
		"who stood about has no pace of their own": {"foot", []Stretch{line(500, 31, lena)}, nil, []Walker{{lena, "child"}}, 2.1, false},
	} {
		p := PartyPace(c.travel, c.today, c.earlier, c.walkers)
		in := WayInput{Travel: c.travel, Speed: p.Speed, Slowest: p.Slowest}
		if got := in.pace().KilometresPerHour(); math.Abs(got-c.want) > 1e-9 || p.Earlier != c.before || p.Slowest < 1 {
			t.Errorf("%s: %.3f km/h, earlier %v, factor %v; want %.3f, %v", name, got, p.Earlier, p.Slowest, c.want, c.before)
		}
	}
}

// One more walker never quickens the party: 3000 random records.
func TestOneMoreNeverQuickens(t *testing.T) {
	for seed := range uint64(3000) {
		r := rand.New(rand.NewPCG(seed, 4))
		people := []Walker{{uuid.UUID{1}, "adult"}, {uuid.UUID{2}, "child"}, {uuid.UUID{3}, "elder"}, {uuid.UUID{4}, ""}}
		var today []Stretch
		for range r.IntN(6) {
			s := Stretch{Length: quantity.Length(100 + 3000*r.Float64()), Took: time.Duration(60+3600*r.Float64()) * time.Second, Party: r.IntN(2) == 0}
			for _, p := range people {
				if r.IntN(2) == 0 {
					s.Who = append(s.Who, p.ID)
				}
			}
			today = append(today, s)
		}
		pace := func(n int) quantity.Speed {
			p := PartyPace("foot", today, nil, people[:n])
			return WayInput{Travel: "foot", Speed: p.Speed, Slowest: p.Slowest}.pace()
		}
		for n := 2; n <= len(people); n++ {
			if pace(n) > pace(n-1)*(1+1e-12) {
				t.Fatalf("seed %d: %d walk at %v, %d at %v", seed, n, pace(n), n-1, pace(n-1))
			}
		}
	}
}

// A line walked at a known speed with stops and with the noise of fixes gives that speed back, and is never told quicker by more than a twentieth.
func TestMoving(t *testing.T) {
	for seed := range uint64(200) {
		r := rand.New(rand.NewPCG(seed, 5))
		speed, accuracy := 0.7+0.9*r.Float64(), 3+7*r.Float64() // m/s, m
		var fixes []Fix
		at, now := geo.Local{}, time.Unix(1768480000, 0)
		put := func() {
			p := geo.Local{E: at.E + accuracy/1.5*r.NormFloat64(), N: at.N + accuracy/1.5*r.NormFloat64()}
			fixes = append(fixes, Fix{now, p, quantity.Length(accuracy)})
		}
		for range 4 {
			for range 90 + r.IntN(60) { // walks, a fix every 5 s
				at, now = geo.Local{E: at.E + 5*speed}, now.Add(5*time.Second)
				put()
			}
			for range 60 * r.IntN(4) { // stands for up to 15 min
				now = now.Add(5 * time.Second)
				put()
			}
		}
		length, took := Moving(fixes)
		got := length.Metres() / took.Seconds()
		if got > 1.05*speed || got < 0.8*speed || length.Metres() < 0.85*at.E || length.Metres() > 1.05*at.E {
			t.Errorf("seed %d: %.2f m/s over %.0f m; walked %.2f m/s over %.0f m, fixes within %.0f m", seed, got, length.Metres(), speed, at.E, accuracy)
		}
	}
}

// Poor fixes are left out, from both sides of each line and at unknown; standing still is no travel.
func TestUsable(t *testing.T) {
	at := func(s int, e, accuracy float64) Fix {
		return Fix{time.Unix(1768480000+int64(s), 0), geo.Local{E: e}, quantity.Length(accuracy)}
	}
	for name, c := range map[string]struct {
		fixes []Fix
		bad   int
	}{
		"as told":                {[]Fix{at(0, 0, 5), at(5, 6, 25)}, 0},
		"too far off":            {[]Fix{at(0, 0, 5), at(5, 6, 25.1)}, 1},
		"accuracy not told":      {[]Fix{at(0, 0, 5), at(5, 6, 0)}, 1},
		"a jump of 400 m in 5 s": {[]Fix{at(0, 0, 5), at(5, 400, 5), at(10, 12, 5)}, 1},
		"270 m in 5 s can be":    {[]Fix{at(0, 0, 5), at(5, 270, 5)}, 0},
		"twice at the same time": {[]Fix{at(0, 0, 5), at(0, 1, 5)}, 1},
		"back in time":           {[]Fix{at(5, 0, 5), at(0, 1, 5)}, 1},
		"nothing":                {nil, 0},
	} {
		if good, bad := Usable(c.fixes); bad != c.bad || len(good) != len(c.fixes)-c.bad {
			t.Errorf("%s: %d good, %d bad", name, len(good), bad)
		}
	}
	var still []Fix
	for s := range 400 {
		still = append(still, at(5*s, float64(s%3), 5))
	}
	if length, took := Moving(still); length != 0 || took != 0 {
		t.Errorf("standing: %v m in %v", length.Metres(), took)
	}
}

// A child among the party never makes the turn-back time later, whatever else is known.
func TestSlowerMembersTurnBackEarlier(t *testing.T) {
	in := morning()
	grown := TurnBackTime(in)
	in.Slowest = PartyPace(in.Travel, nil, nil, []Walker{{uuid.UUID{1}, "adult"}, {uuid.UUID{2}, "child"}}).Slowest
	if child := TurnBackTime(in); !child.At.Before(grown.At) {
		t.Errorf("with a child %v, without %v", child.At, grown.At)
	}
}

// Flat light from both sides of each line, and at unknown; what was seen goes before the forecast.
func TestFlatLight(t *testing.T) {
	seen := func(o lake.Observation) *lake.Observation { return &o }
	hour := func(h ForecastHour) *ForecastHour { return &h }
	for name, c := range map[string]struct {
		seen *lake.Observation
		hour *ForecastHour
		want bool
	}{
		"nothing known":            {nil, nil, false},
		"closed sky":               {seen(lake.Observation{Cloud: 0.9, CloudTold: true}), nil, true},
		"broken sky":               {seen(lake.Observation{Cloud: 0.89, CloudTold: true}), nil, false},
		"sight under 3 km":         {seen(lake.Observation{Sight: 2999, SightTold: true}), nil, true},
		"sight of 3 km":            {seen(lake.Observation{Sight: 3000, SightTold: true}), nil, false},
		"light snow":               {seen(lake.Observation{Snowing: "light"}), nil, true},
		"no snow":                  {seen(lake.Observation{Snowing: "none"}), nil, false},
		"forecast of a closed sky": {nil, hour(ForecastHour{Cloud: 1, CloudTold: true}), true},
		"forecast not told":        {nil, hour(ForecastHour{Cloud: 1}), false},
		"forecast of snow":         {nil, hour(ForecastHour{Snow: 0.001, SnowTold: true}), true},
		"seen before forecast":     {seen(lake.Observation{Cloud: 0, CloudTold: true}), hour(ForecastHour{Cloud: 1, CloudTold: true}), false},
		"only air was seen":        {seen(lake.Observation{Air: -10, AirTold: true}), hour(ForecastHour{Cloud: 1, CloudTold: true}), true},
	} {
		if got := FlatLight(c.seen, c.hour); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// Battery and fuel are a deadline like any other: 14:30 - 0:20 packing - 0:30 margin - the way home.
func TestFuelIsADeadline(t *testing.T) {
	for code, tell := range map[string]func(*TurnBackInput, time.Time){
		"fuel":     func(in *TurnBackInput, t time.Time) { in.Fuel = t },
		"cold":     func(in *TurnBackInput, t time.Time) { in.Cold = t },
		"crossing": func(in *TurnBackInput, t time.Time) { in.Crossing = t },
	} {
		in := morning()
		tell(&in, at(14, 30))
		b := TurnBackTime(in)
		d := deadline(t, b, code)
		travel := b.Way.Travel
		if code == "crossing" { // only to the far side of the ridge
			if travel = deadline(t, b, "wind_shift").Travel; travel >= b.Way.Travel {
				t.Errorf("the ridge is as far as the landing: %v", travel)
			}
		}
		if want := at(14, 30).Add(-50*time.Minute - travel); b.Binding.Code != code || !d.Start.Equal(want) || len(d.Text) > 90 {
			t.Errorf("bound by %s, start %v, want %v: %s", b.Binding.Code, d.Start, want, d.Text)
		}
		tell(&in, at(20, 30))
		if b := TurnBackTime(in); b.Binding.Code == code || deadline(t, b, code).Text == "" {
			t.Errorf("%s late in the evening binds", code)
		}
		tell(&in, time.Time{})
		if has(TurnBackTime(in), code) {
			t.Error("a deadline that nobody told")
		}
	}
}
