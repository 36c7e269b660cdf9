package safety

import (
	"strings"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

// The made-up day: Lake Tamaringen, 47.9 N 45 W, solar time UTC-3, 15 January 2026.
var (
	zone  = time.FixedZone("", -3*3600)
	frame = geo.NewFrame(geo.Position{Lat: 47.9, Lon: -45})
)

func at(hour, minute int) time.Time { return time.Date(2026, 1, 15, hour, minute, 0, 0, zone) }

const (
	kmh = quantity.KilometrePerHour
	cm  = quantity.Centimetre
)

// hourly makes a full forecast of the day: SW 12 km/h, and NW 22 km/h from turnsAt on (25: never).
func hourly(turnsAt int) []ForecastHour {
	var out []ForecastHour
	for h := range 24 {
		f := ForecastHour{Start: at(h, 0), Air: -15, Wind: 12 * kmh, Gust: 20 * kmh, From: 225, Sight: 10 * quantity.Kilometre,
			AirTold: true, WindTold: true, GustTold: true, FromTold: true, SnowTold: true, SightTold: true}
		if h >= turnsAt {
			f.Wind, f.From = 22*kmh, 315
		}
		out = append(out, f)
	}
	return out
}

// ridge lies east and west across the way, 40 min at 3.5 km/h north of it stands the party; C2 is its crossing.
func ridge() (wall, crossing *lake.Hazard) {
	wall = &lake.Hazard{What: "ridge", Shape: "line", Points: []geo.Local{{E: -3000, N: 1400}, {E: 3000, N: 1400}}, Report: "present", When: at(6, 50)}
	crossing = &lake.Hazard{What: "ridge", Shape: "point", Points: []geo.Local{{E: 0, N: 1400}}, Radius: 10, Report: "crossing", When: at(6, 58)}
	return wall, crossing
}

// beyond is where the party stands, 40 min of walking north of the near side of the ridge, at 3.5 km/h.
const beyond = 1385 + 3500.0*40/60

func morning() TurnBackInput {
	wall, crossing := ridge()
	here := geo.Local{E: 0, N: beyond}
	return TurnBackInput{Now: at(9, 50), Zone: zone, Day: "2026-01-15", Landing: frame.Origin(), Frame: frame, Here: &here, Farthest: here,
		Way: []geo.Local{{E: 0, N: 0}, {E: 0, N: 1400}, {E: 0, N: beyond}}, Travel: "foot", Speed: 3.5 * kmh,
		Forecast: hourly(17), Issued: at(5, 0), Hazards: []*lake.Hazard{wall, crossing}}
}

func deadline(t *testing.T, b TurnBack, code string) Deadline {
	t.Helper()
	for _, d := range b.All {
		if d.Code == code {
			return d
		}
	}
	t.Fatalf("no deadline %q among %v", code, b.All)
	return Deadline{}
}

func has(b TurnBack, code string) bool {
	for _, d := range b.All {
		if d.Code == code {
			return true
		}
	}
	return false
}

func says(sentences []string, part string) bool {
	return strings.Contains(strings.Join(sentences, "\n"), part)
}

// The worked day of the trade: 17:00 - 0:35 doubt - 0:40 to the ridge - 0:20 packing - 0:30 margin = 14:55.
func TestWorkedDay(t *testing.T) {
	b := TurnBackTime(morning())
	if !b.At.Equal(at(14, 55)) || b.Binding.Code != "wind_shift" || !b.Computed.Equal(b.At) {
		t.Errorf("turn back at %v for %s, want 14:55 for the wind shift", b.At, b.Binding.Code)
	}
	if want := "wind to NW about 17:00; ridge 40 min away"; b.Binding.Text != want {
		t.Errorf("text %q, want %q", b.Binding.Text, want)
	}
	if len(b.Unknown) != 0 {
		t.Errorf("all is known, yet: %q", b.Unknown)
	}
	if b.Way.Basis != "this morning's line" || len(b.Way.Line) != 3 || b.Way.Bearing != 180 {
		t.Errorf("way %+v", b.Way)
	}
	// a table for mid-January at 47.9 N in solar time prints civil dusk as 17:08 (common practice, no source)
	d := deadline(t, b, "dark")
	if d.When.Sub(at(17, 8)).Abs() > 2*time.Minute || d.Travel != 64*time.Minute {
		t.Errorf("dusk %v, travel %v", d.When, d.Travel)
	}
	if !d.Start.Equal(d.When.Add(-114 * time.Minute).Truncate(time.Minute)) {
		t.Errorf("start for dusk %v", d.Start)
	}
}

func TestDeadlinesFromBothSides(t *testing.T) {
	base := func() TurnBackInput { in := morning(); in.Forecast = hourly(25); return in }
	for _, c := range []struct {
		name   string
		change func(h *ForecastHour) // of 14:00
		code   string
		want   bool
	}{
		{"turn of 60 degrees", func(h *ForecastHour) { h.From, h.Wind = 285, 15*kmh }, "wind_shift", true},
		{"turn of 59 degrees", func(h *ForecastHour) { h.From, h.Wind = 284, 15*kmh }, "wind_shift", false},
		{"turn through north", func(h *ForecastHour) { h.From, h.Wind = 20, 30*kmh }, "wind_shift", true},
		{"turn in a light wind", func(h *ForecastHour) { h.From, h.Wind = 315, 14.9*kmh }, "wind_shift", false},
		{"turn of unknown direction", func(h *ForecastHour) { h.From, h.Wind, h.FromTold = 315, 30*kmh, false }, "wind_shift", false},
		{"gust of 50", func(h *ForecastHour) { h.Gust = 50 * kmh }, "front", true},
		{"gust of 49", func(h *ForecastHour) { h.Gust = 49 * kmh }, "front", false},
		{"wind of 50, gust untold", func(h *ForecastHour) { h.Wind, h.GustTold = 50*kmh, false }, "front", true},
		{"wind and gust untold", func(h *ForecastHour) { h.Wind, h.Gust, h.WindTold, h.GustTold = 60*kmh, 60*kmh, false, false }, "front", false},
		{"snow untold", func(h *ForecastHour) { h.Snow, h.SnowTold = 5*cm, false }, "sight", false},
		{"sight 999 m", func(h *ForecastHour) { h.Sight = 999 }, "sight", true},
		{"sight 1000 m", func(h *ForecastHour) { h.Sight = 1000 }, "sight", false},
		{"sight untold", func(h *ForecastHour) { h.Sight, h.SightTold = 0, false }, "sight", false},
		{"snow 1 cm", func(h *ForecastHour) { h.Snow = 10 * quantity.Millimetre }, "sight", true},
		{"snow 0.9 cm", func(h *ForecastHour) { h.Snow = 9 * quantity.Millimetre }, "sight", false},
	} {
		in := base()
		c.change(&in.Forecast[14])
		b := TurnBackTime(in)
		if has(b, c.code) != c.want {
			t.Errorf("%s: deadline %s is %v, want %v", c.name, c.code, has(b, c.code), c.want)
			continue
		}
		if c.want && !deadline(t, b, c.code).When.Equal(at(14, 0)) {
			t.Errorf("%s: at %v", c.name, deadline(t, b, c.code).When)
		}
	}
}

// What is over does not count, except a shift: the crack stays open.
func TestPastWeather(t *testing.T) {
	in := morning()
	in.Forecast = hourly(25)
	in.Forecast[8].Sight, in.Forecast[8].Gust = 100, 70*kmh
	if b := TurnBackTime(in); has(b, "sight") || has(b, "front") {
		t.Errorf("the squall of 08:00 still counts at 09:50: %v", b.All)
	}
	in.Forecast[9].Sight = 100
	if b := TurnBackTime(in); !has(b, "sight") {
		t.Error("the hour that runs is not over")
	}
	in = morning()
	in.Forecast = hourly(9)
	b := TurnBackTime(in)
	if !has(b, "wind_shift") || b.At.After(in.Now) {
		t.Errorf("a shift that has come: %v", b)
	}
	if len(b.Way.Line) != 0 || !strings.HasPrefix(b.Way.Basis, "no known way") {
		t.Errorf("a crossing read before the shift is still a way: %+v", b.Way)
	}
	in.Out = at(9, 30) // came out in the new wind
	if b := TurnBackTime(in); has(b, "wind_shift") {
		t.Error("the wind in which the party came out is no shift")
	}
}

func TestNoForecastIsEarlier(t *testing.T) {
	full := morning()
	full.Forecast = hourly(25)
	b := TurnBackTime(full)
	if b.Binding.Code != "dark" || len(b.Unknown) != 0 {
		t.Fatalf("with a full forecast: %v %q", b.Binding, b.Unknown)
	}
	for _, c := range []struct {
		name   string
		change func(*TurnBackInput)
		early  time.Duration
		says   string
	}{
		{"none", func(in *TurnBackInput) { in.Forecast = nil }, time.Hour, "No forecast: dusk counts 60 min early."},
		{"12 h old", func(in *TurnBackInput) { in.Issued = in.Now.Add(-12 * time.Hour) }, 0, ""},
		{"over 12 h old", func(in *TurnBackInput) { in.Issued = in.Now.Add(-12*time.Hour - time.Minute) }, time.Hour, "The forecast is 12 h old"},
		{"under two days old", func(in *TurnBackInput) { in.Issued = in.Now.Add(-48*time.Hour + time.Minute) }, time.Hour, "The forecast is 47 h old"},
		{"two days old", func(in *TurnBackInput) { in.Issued = in.Now.Add(-48 * time.Hour) }, time.Hour, "The forecast is 2 days old"},
		{"issue unknown", func(in *TurnBackInput) { in.Issued = time.Time{} }, time.Hour, "time of issue"},
		{"ends early", func(in *TurnBackInput) { in.Forecast = in.Forecast[:14] }, time.Hour, "No wind forecast after 16:00"},
		{"wind untold", func(in *TurnBackInput) {
			for i := range in.Forecast {
				in.Forecast[i].WindTold = false
			}
		}, time.Hour, "No wind forecast after 09:50"},
		{"three-hourly", func(in *TurnBackInput) {
			var thin []ForecastHour
			for i := 0; i < 24; i += 3 {
				thin = append(thin, in.Forecast[i])
			}
			in.Forecast = thin
		}, 0, ""},
		{"neither snow nor sight", func(in *TurnBackInput) {
			for i := range in.Forecast {
				in.Forecast[i].SnowTold, in.Forecast[i].SightTold = false, false
			}
		}, 30 * time.Minute, "Neither snow nor sight"},
	} {
		in := full
		in.Forecast = append([]ForecastHour(nil), full.Forecast...)
		c.change(&in)
		got := TurnBackTime(in)
		if d := b.At.Sub(got.At); d != c.early {
			t.Errorf("%s: %v earlier, want %v", c.name, d, c.early)
		}
		if c.says != "" && !says(got.Unknown, c.says) || c.says == "" && len(got.Unknown) > 0 {
			t.Errorf("%s: says %q, want %q", c.name, got.Unknown, c.says)
		}
	}
}

func TestDoubtGrowsWithAge(t *testing.T) {
	for _, c := range []struct{ age, want time.Duration }{
		{0, 35 * time.Minute}, {-time.Hour, 35 * time.Minute}, {6 * time.Hour, 35 * time.Minute}, {6*time.Hour + time.Minute, 40 * time.Minute},
		{9 * time.Hour, 50 * time.Minute}, {12 * time.Hour, 65 * time.Minute}, {20 * time.Hour, 105 * time.Minute},
	} {
		in := morning()
		in.Issued = in.Now.Add(-c.age)
		if d := deadline(t, TurnBackTime(in), "wind_shift"); d.Doubt != c.want {
			t.Errorf("forecast %v old: doubt %v, want %v", c.age, d.Doubt, c.want)
		}
	}
}

func TestNoFixIsEarlier(t *testing.T) {
	in := morning()
	near := geo.Local{E: 0, N: 1800}
	in.Here = &near
	known := TurnBackTime(in)
	in.Here = nil
	b := TurnBackTime(in)
	if !b.At.Before(known.At) || !says(b.Unknown, "No fix") || b.Way.Travel != 64*time.Minute {
		t.Errorf("without a fix %v, with one %v: %q", b.At, known.At, b.Unknown)
	}
}

// Where nothing of today tells a place, an earlier day's farthest place counts, and the way leads nobody; with none on record the
// distance is told as not known.
func TestNoPlaceAtAll(t *testing.T) {
	in := morning()
	far := in.Farthest
	in.Here, in.NoPlace = nil, true
	b := TurnBackTime(in)
	if !says(b.Unknown, "No fix, no hole of today") || !b.Way.Unplaced || b.Way.Travel != 64*time.Minute {
		t.Errorf("an earlier day's place: %+v %q", b.Way, b.Unknown)
	}
	in.Farthest = in.Frame.Local(in.Landing)
	b = TurnBackTime(in)
	if !says(b.Unknown, "where you are is not known") || !b.Way.Unplaced || !strings.Contains(deadline(t, b, "dark").Text, "landing at a distance not known") {
		t.Errorf("no place on record: %+v %q", b.Way, b.Unknown)
	}
	in.Here = &far
	if b = TurnBackTime(in); b.Way.Unplaced || says(b.Unknown, "No fix") {
		t.Errorf("with a fix: %+v %q", b.Way, b.Unknown)
	}
}

func TestSlowerPartyStartsEarlier(t *testing.T) {
	base := TurnBackTime(morning())
	for name, c := range map[string]struct {
		change func(*TurnBackInput)
		travel time.Duration // of the 3733 m home
	}{
		"flat light":            {func(in *TurnBackInput) { in.FlatLight = true }, 96 * time.Minute},
		"slowest member":        {func(in *TurnBackInput) { in.Slowest = 2 }, 128 * time.Minute},
		"no speed measured":     {func(in *TurnBackInput) { in.Speed = 0 }, 75 * time.Minute}, // 3 km/h
		"travel not told":       {func(in *TurnBackInput) { in.Speed, in.Travel = 0, "" }, 75 * time.Minute},
		"speed out of reach":    {func(in *TurnBackInput) { in.Speed = 30 * kmh }, 45 * time.Minute}, // 5 km/h at most
		"factor below 1":        {func(in *TurnBackInput) { in.Slowest = 0.5 }, 64 * time.Minute},
		"by machine, no speed":  {func(in *TurnBackInput) { in.Speed, in.Travel = 0, "machine" }, 15 * time.Minute},
		"landing only guessed":  {func(in *TurnBackInput) { in.LandingUnknown = true }, 80 * time.Minute},
		"landing not a place":   {func(in *TurnBackInput) { in.Landing.Lat = 91 }, 80 * time.Minute},
		"no line, ridge across": {func(in *TurnBackInput) { in.Way = nil }, 128 * time.Minute},
		"no line, no ridge":     {func(in *TurnBackInput) { in.Way, in.Hazards = nil, nil }, 80 * time.Minute},
	} {
		in := morning()
		c.change(&in)
		b := TurnBackTime(in)
		if b.Way.Travel != c.travel {
			t.Errorf("%s: travel %v, want %v", name, b.Way.Travel, c.travel)
		}
		if c.travel > 64*time.Minute && !b.At.Before(base.At) {
			t.Errorf("%s: %v is not before %v", name, b.At, base.At)
		}
	}
}

func TestMarginsOnlyGrow(t *testing.T) {
	in := morning()
	in.Margin, in.PackUp = 5*time.Minute, 25*time.Minute
	in.Margins = map[string]time.Duration{"wind_shift": 45 * time.Minute, "dark": time.Minute}
	b := TurnBackTime(in)
	if d := deadline(t, b, "wind_shift"); d.Margin != 45*time.Minute || !d.Start.Equal(at(14, 35)) {
		t.Errorf("wind shift %+v", d)
	}
	if d := deadline(t, b, "dark"); d.Margin != 30*time.Minute {
		t.Errorf("dark margin %v, want 30 min", d.Margin)
	}
}

func TestNamedHours(t *testing.T) {
	in := morning()
	in.LegalClose, in.Agreed = at(16, 30), at(16, 0)
	b := TurnBackTime(in)
	if b.Binding.Code != "agreed" || !b.At.Equal(at(14, 6)) { // 16:00 - 64 - 20 - 30 min
		t.Errorf("%v for %s", b.At, b.Binding.Code)
	}
	if d := deadline(t, b, "legal_close"); !d.Start.Equal(at(14, 36)) {
		t.Errorf("legal close %+v", d)
	}
}

// Far north the sun may stay down or up: there is an answer all the same. Passages: physics/sun, compared there with ephem.
func TestPolarDays(t *testing.T) {
	north := geo.NewFrame(geo.Position{Lat: 75, Lon: -45})
	for day, want := range map[string]string{"2026-01-15": "no civil light today; lightest at ", "2026-05-15": "light all night; counted to "} {
		in := TurnBackInput{Zone: zone, Day: day, Landing: north.Origin(), Frame: north}
		in.Now, _ = time.ParseInLocation("2006-01-02 15:04", day+" 08:00", zone)
		b := TurnBackTime(in)
		if b.At.IsZero() || !strings.HasPrefix(deadline(t, b, "dark").Text, want) || !has(b, "no_forecast") {
			t.Errorf("%s: %v %q", day, b.At, b.Binding.Text)
		}
	}
}

// A clock that was set back brings every deadline and the answer forward by as much, for whatever reason binds, and says so
// first; a clock that was not changes nothing.
func TestClockSetBack(t *testing.T) {
	plain := TurnBackTime(morning())
	for _, back := range []time.Duration{-time.Hour, 0, 3 * time.Minute, 90 * time.Minute} {
		in := morning()
		in.ClockBack = back
		b, taken := TurnBackTime(in), max(0, back)
		if !b.At.Equal(plain.At.Add(-taken)) || !b.Computed.Equal(b.At) || b.SetBack != taken || len(b.All) != len(plain.All) {
			t.Errorf("%s back: %v, without %v", back, b.At, plain.At)
		}
		for i, d := range b.All {
			if !d.Start.Equal(plain.All[i].Start.Add(-taken)) || !d.When.Equal(plain.All[i].When) {
				t.Errorf("%s back: %s starts %v, without %v", back, d.Code, d.Start, plain.All[i].Start)
			}
		}
		if said := len(b.Unknown) > 0 && strings.Contains(b.Unknown[0], "clock went back"); said != (taken > 0) {
			t.Errorf("%s back: %q", back, b.Unknown)
		}
	}
}

func TestOverride(t *testing.T) {
	computed := at(14, 55)
	for name, c := range map[string]struct {
		o      Override
		change func(*TurnBackInput)
		want   time.Time
		fallen string
	}{
		"later with reason":    {Override{Set: at(9, 0), Until: at(15, 20), Reason: "way_shorter", Computed: computed}, nil, at(15, 20), ""},
		"later without reason": {Override{Set: at(9, 0), Until: at(15, 20), Computed: computed}, nil, computed, "needs a reason"},
		"later, nothing known": {Override{Set: at(9, 0), Until: at(15, 20), Reason: "way_shorter"}, nil, computed, "not known"},
		"earlier":              {Override{Set: at(9, 0), Until: at(14, 0)}, nil, at(14, 0), ""},
		"of yesterday":         {Override{Set: at(9, 0).AddDate(0, 0, -1), Until: at(15, 20), Reason: "way_shorter", Computed: computed}, nil, computed, "another day"},
		"computed 5 min earlier since": {Override{Set: at(9, 0), Until: at(15, 20), Reason: "way_shorter", Computed: computed.Add(5 * time.Minute)},
			nil, at(15, 20), ""},
		"computed 6 min earlier since": {Override{Set: at(9, 0), Until: at(15, 20), Reason: "way_shorter", Computed: computed.Add(6 * time.Minute)},
			nil, computed, "a wind shift came in"},
		"new deadline before an earlier override": {Override{Set: at(9, 0), Until: at(14, 50), Reason: "agreed_ashore", Computed: computed},
			func(in *TurnBackInput) { in.Forecast = hourly(16) }, at(13, 55), "a wind shift came in"},
		"no time": {Override{Set: at(9, 0), Reason: "way_shorter"}, nil, computed, ""},
	} {
		in := morning()
		in.Override = &c.o
		if c.change != nil {
			c.change(&in)
		}
		b := TurnBackTime(in)
		if !b.At.Equal(c.want) || !strings.Contains(b.Fallen, c.fallen) || (b.Fallen == "") != (c.fallen == "") {
			t.Errorf("%s: %v %q, want %v %q", name, b.At, b.Fallen, c.want, c.fallen)
		}
		if (b.Override != nil) != (b.At != b.Computed) {
			t.Errorf("%s: override %v, at %v, computed %v", name, b.Override, b.At, b.Computed)
		}
	}
}

func TestWayHome(t *testing.T) {
	line := []geo.Local{{E: 0, N: 0}, {E: 0, N: 1000}, {E: 1000, N: 1000}}
	way := func(here geo.Local, hazards ...*lake.Hazard) Way {
		return WayHome(WayInput{Now: at(12, 0), Zone: zone, Here: here, Line: line, Hazards: hazards, Travel: "foot"})
	}
	point := func(what string, p geo.Local, radius quantity.Length, report string) *lake.Hazard {
		return &lake.Hazard{What: what, Shape: "point", Points: []geo.Local{p}, Radius: radius, Report: report, When: at(10, 0)}
	}
	w := way(geo.Local{E: 800, N: 1050})
	if w.Basis != "this morning's line" || w.Distance != 50+800+1000 || w.FirstLeg != 180 || len(w.Line) != 4 {
		t.Errorf("beside the line: %+v", w)
	}
	if w.Travel != 37*time.Minute { // 1850 m at 3 km/h
		t.Errorf("travel %v", w.Travel)
	}
	if w = way(geo.Local{E: 800, N: 1200}); w.Basis != "200 m direct to this morning's line, then along it" {
		t.Errorf("off the line: %q", w.Basis)
	}
	thin := point("thin", geo.Local{E: 30, N: 500}, 29, "present")
	if w = way(geo.Local{E: 800, N: 1050}, thin); len(w.Line) == 0 {
		t.Errorf("a hazard 1 m clear of the line bars it: %+v", w)
	}
	thin.Radius = 30
	if w = way(geo.Local{E: 800, N: 1050}, thin); len(w.Line) != 0 || w.Basis != "no known way: thin ice in the way" {
		t.Errorf("a line through thin ice: %+v", w)
	}
	for _, gone := range []func(){func() { thin.Superseded = true }, func() { thin.Superseded, thin.Report = false, "cleared" }} {
		gone()
		if w = way(geo.Local{E: 800, N: 1050}, thin); len(w.Line) == 0 {
			t.Error("a hazard no longer in force bars the way")
		}
	}
	wall := &lake.Hazard{What: "ridge", Shape: "line", Points: []geo.Local{{E: -500, N: 500}, {E: 500, N: 500}}, Report: "present", When: at(7, 0)}
	if w = way(geo.Local{E: 800, N: 1050}, wall); len(w.Line) != 0 {
		t.Error("a line over a ridge without a crossing")
	}
	cross := point("ridge", geo.Local{E: 25, N: 500}, 0, "crossing")
	if w = way(geo.Local{E: 800, N: 1050}, wall, cross); len(w.Line) == 0 {
		t.Errorf("the crossing read today, 25 m off, is no way: %q", w.Basis)
	}
	cross.Points[0].E = 36
	if w = way(geo.Local{E: 800, N: 1050}, wall, cross); len(w.Line) != 0 {
		t.Error("a crossing 36 m off opened the ridge here")
	}
	cross.Points[0].E = 0
	cross.When = at(10, 0).AddDate(0, 0, -1)
	if w = way(geo.Local{E: 800, N: 1050}, wall, cross); len(w.Line) != 0 {
		t.Error("yesterday's crossing is still a way")
	}
	cross.When = at(10, 0)
	line = nil
	if w = way(geo.Local{E: 0, N: 1000}, wall, cross); len(w.Line) != 0 {
		t.Error("a line not travelled today runs over a crossing")
	}
	if w = way(geo.Local{E: 600, N: 1000}); w.Basis != "direct line, not travelled today" || len(w.Line) != 2 {
		t.Errorf("direct: %+v", w)
	}
	if w = way(geo.Local{}); w.Distance != 0 || w.Travel != 0 {
		t.Errorf("at the landing: %+v", w)
	}
}

func TestNoZonePanics(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic without a zone")
		}
	}()
	TurnBackTime(TurnBackInput{Now: at(9, 0)})
}
