package safety

import (
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

// forbidden are the words that nobody may read about ice; "Not a go" is the one phrase with "go" that may stand.
var forbidden = regexp.MustCompile(`(?i)\b(safe|safely|safety|unsafe|proved|proven|cleared|allowed|go|fine|ok|okay)\b|good ice`)

// exempt literals are no sentences: the report of a hazard as the journal writes it, and the name of the package in panics.
var exempt = map[string]bool{"safety: no time zone": true}

// lint holds a sentence to the rules of words.
func lint(t *testing.T, s string) {
	t.Helper()
	if s == "" || utf8.RuneCountInString(s) > 90 {
		t.Errorf("%d characters: %q", utf8.RuneCountInString(s), s)
	}
	if m := forbidden.FindString(strings.ReplaceAll(s, "Not a go", "")); m != "" {
		t.Errorf("%q says %q", s, m)
	}
}

func lintAll(t *testing.T, list []Refusal) {
	t.Helper()
	for _, r := range list {
		lint(t, r.Text)
		if r.Code == "" || !strings.HasSuffix(r.Text, ".") {
			t.Errorf("refusal %+v", r)
		}
	}
}

// No text in the source of this package holds a forbidden word, whether or not a test reaches it.
func TestNoForbiddenWordInSource(t *testing.T) {
	files, err := os.ReadDir(".")
	if err != nil || len(files) == 0 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	literals := 0
	for _, file := range files {
		if !strings.HasSuffix(file.Name(), ".go") || strings.HasSuffix(file.Name(), "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), file.Name(), nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			switch x := n.(type) {
			case *ast.ImportSpec:
				return false
			case *ast.BasicLit:
				if s, err := strconv.Unquote(x.Value); x.Kind == token.STRING && err == nil {
					literals++
					if m := forbidden.FindString(s); m != "" && !exempt[s] {
						t.Errorf("%s: %q says %q", file.Name(), s, m)
					}
				}
			}
			return true
		})
	}
	if literals < 100 {
		t.Errorf("only %d texts found", literals)
	}
}

// Sentences stay short and clean on thousands of made-up days.
func TestSentencesOfManyDays(t *testing.T) {
	rng := num.NewStream(3, "sentences")
	pick := func(list ...string) string { return list[rng.IntN(len(list))] }
	surface := basin(t)
	kinds := map[string]int{}
	for range 1500 {
		var hazards []*lake.Hazard
		for range rng.IntN(3) {
			hazards = append(hazards, &lake.Hazard{What: pick("ridge", "crack", "thin", "spring", "current", "open_water", "slush", "narrows", "rotten", "other"), Shape: "point",
				Points: []geo.Local{{E: rng.Float64()*600 - 300, N: rng.Float64()*600 - 300}}, Radius: quantity.Length(rng.Float64() * 100),
				Report: pick("present", "crossing", "cleared"), When: at(9, 0).Add(-time.Duration(rng.Float64() * 60 * 24 * float64(time.Hour)))})
		}
		var readings []*lake.IceReading
		for range rng.IntN(5) {
			r := read(rng.Float64()*900-450, rng.Float64()*900-450, quantity.Length(rng.Float64()*120)*cm, at(10, 10).Add(-time.Duration(rng.ExpFloat64()*20*float64(time.Hour))))
			r.WhiteTold, r.Layered, r.Grey, r.Rotten = rng.IntN(2) == 0, rng.IntN(9) == 0, rng.IntN(9) == 0, rng.IntN(20) == 0
			r.Slush, r.Current, r.Crack = rng.IntN(9) == 0, rng.IntN(20) == 0, pick("", "", "dry", "wet", "crossing")
			readings = append(readings, r)
		}
		air := frost(rng.IntN(80))
		thaw(air, min(len(air), rng.IntN(3)*rng.IntN(13)))
		h := Hop(HopInput{Now: at(9, 50), Zone: zone, To: geo.Local{E: rng.Float64()*800 - 400}, Travel: pick("foot", "foot", "machine"), Surface: surface,
			Readings: readings, Hazards: hazards, Air: air, Deadline: at(9, 40+rng.IntN(60))})
		lint(t, h.Label)
		lintAll(t, h.Reasons)
		kinds["hop "+strconv.FormatBool(h.Barred)]++
		place := geo.Local{E: rng.Float64() * 20}
		if len(readings) > 0 {
			place = readings[0].At
		}
		a := Ice(IceInput{Now: at(9, 50), Zone: zone, At: place, Readings: readings, Hazards: hazards, Air: air,
			Load: Load{Class: pick("on_foot", "group", "car", "truck", "tank"), Mass: quantity.Mass(rng.Float64()*9000 - 100)}})
		lintAll(t, a.Refusals)
		kinds[string(a.State)]++

		in := morning()
		in.Forecast = hourly(rng.IntN(30))
		in.Hazards = append(in.Hazards, hazards...)
		for i := range in.Forecast {
			f := &in.Forecast[i]
			f.Gust, f.Sight, f.Snow = quantity.Speed(rng.Float64()*60)*kmh, quantity.Length(500+rng.Float64()*9000), quantity.Length(rng.ExpFloat64())*cm/4
			f.GustTold, f.SightTold, f.WindTold = rng.IntN(9) > 0, rng.IntN(9) > 0, rng.IntN(30) > 0
		}
		in.Issued = in.Now.Add(-time.Duration(rng.IntN(40)) * time.Hour)
		in.Slowest, in.LandingUnknown = rng.Float64()*9, rng.IntN(5) == 0
		if rng.IntN(5) == 0 {
			in.Forecast, in.Here, in.Way = nil, nil, nil
		}
		if rng.IntN(2) == 0 {
			in.LegalClose, in.Agreed = at(17, 30), at(16, 0)
		}
		in.Override = &Override{Set: at(9, 0), Until: at(16, rng.IntN(59)), Reason: pick("", "way_shorter"), Computed: at(14+rng.IntN(3), 0)}
		b := TurnBackTime(in)
		for _, d := range b.All {
			lint(t, d.Text)
			kinds[d.Code]++
			if d.Start.Before(b.Computed) || !d.Start.Equal(d.When.Add(-d.Doubt-d.Travel-d.PackUp-d.Margin).Truncate(time.Minute)) {
				t.Errorf("deadline %+v against %v", d, b.Computed)
			}
		}
		for _, s := range append(b.Unknown, b.Way.Basis) {
			lint(t, s)
		}
		if b.Fallen != "" {
			lint(t, b.Fallen)
			kinds["fallen"]++
		}
		c := ColdWatch(ColdInput{Air: quantity.Celsius(rng.Float64()*60 - 50), AirTold: rng.IntN(9) > 0, Wind: quantity.Speed(rng.Float64() * 25), WindTold: rng.IntN(9) > 0,
			Ride: quantity.Speed(max(0, rng.Float64()*20-8))})
		for _, s := range append(c.Words, c.Unknown...) {
			lint(t, s)
		}
	}
	for _, k := range []string{"hop true", "hop false", string(NoData), string(BelowTable), string(BelowRule), string(NotBelow),
		"dark", "no_forecast", "wind_shift", "front", "sight", "legal_close", "agreed", "fallen"} {
		if kinds[k] == 0 {
			t.Errorf("no case of %q: %v", k, kinds)
		}
	}
	for code := range map[string]bool{"dark": true, "no_forecast": true, "wind_shift": true, "front": true, "sight": true, "legal_close": true, "agreed": true} {
		lint(t, "Since the later time was set, "+deadlineWord(code)+" came in; it no longer counts.")
	}
}

func TestColdWatch(t *testing.T) {
	// Hazard bands and their minutes as printed [ECCCWindChill]: wind chill -28 to -39, 10 to 30 min; -40 to -47, 5 to 10.
	for _, c := range []struct {
		air        quantity.Celsius
		wind       quantity.Speed
		index      float64 // of the chart, whole degrees
		upTo       time.Duration
		freezes    bool
		mustSay    string
		mustNotSay string
	}{
		{-20, 30 * kmh, -33, 30 * time.Minute, true, "Bare skin can freeze in as little as", ""},
		{-30, 30 * kmh, -46, 10 * time.Minute, true, "Not a time allowance.", ""},
		{-45, 60 * kmh, -71, 2 * time.Minute, true, "as little as 1 min", ""},
		{-10, 10 * kmh, -15, math.MaxInt64, true, "Check faces and hands.", " min"},
		{-4, 20 * kmh, -10, 0, false, "Too mild for dry skin to freeze", " min"},
		{-20, 0, -20, math.MaxInt64, true, "", "as little as 60"},
	} {
		a := ColdWatch(ColdInput{Air: c.air, AirTold: true, Wind: c.wind, WindTold: true})
		if !a.Known || math.Abs(a.Still.Index.Degrees()-c.index) > 1 || a.Still.Freezes != c.freezes || a.Still.Soonest > c.upTo || a.Riding != nil {
			t.Errorf("%v %v: %+v", c.air, c.wind, a.Still)
		}
		if len(a.Words) != 1 || !strings.Contains(a.Words[0], c.mustSay) || c.mustNotSay != "" && strings.Contains(a.Words[0], c.mustNotSay) {
			t.Errorf("%v %v: %q", c.air, c.wind, a.Words)
		}
	}
	still := ColdWatch(ColdInput{Air: -15, AirTold: true, Wind: 10 * kmh, WindTold: true, Ride: 30 * kmh})
	if still.Riding == nil || still.Riding.Index >= still.Still.Index || still.Riding.Soonest >= still.Still.Soonest || len(still.Words) != 2 || !strings.HasPrefix(still.Words[1], "Riding: ") {
		t.Errorf("riding: %+v", still)
	}
}

func TestColdWatchUnknown(t *testing.T) {
	for name, in := range map[string]ColdInput{
		"air untold": {Wind: 5, WindTold: true}, "wind untold": {Air: -20, AirTold: true}, "both": {},
		"air no number": {Air: quantity.Celsius(math.NaN()), AirTold: true, Wind: 5, WindTold: true}, "wind negative": {Air: -20, AirTold: true, Wind: -1, WindTold: true},
	} {
		a := ColdWatch(in)
		if a.Known || len(a.Unknown) == 0 || len(a.Words) == 0 || strings.Contains(strings.Join(a.Words, " "), " min") {
			t.Errorf("%s: %+v", name, a)
		}
	}
}
