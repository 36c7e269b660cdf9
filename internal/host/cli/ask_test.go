package cli

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"icehand/internal/base/geo"
)

// talk runs icehand ask on the lines and gives the answers.
func (m *machine) talk(lines ...string) []map[string]any {
	m.t.Helper()
	m.env.In = strings.NewReader(strings.Join(lines, "\n") + "\n")
	var out []map[string]any
	for _, l := range strings.Split(strings.TrimSpace(m.must("ask")), "\n") {
		var a map[string]any
		if err := json.Unmarshal([]byte(l), &a); err != nil {
			m.t.Fatalf("%v: %s", err, l)
		}
		out = append(out, a)
	}
	if len(out) != len(lines) {
		m.t.Fatalf("%d answers to %d lines", len(out), len(lines))
	}
	return out
}

// lake gives the line that makes the example lake with soundings on the Long Flat.
func lakeLine(t *testing.T) string {
	t.Helper()
	outline, err := os.ReadFile(examples + "outline.geojson")
	if err != nil {
		t.Fatal(err)
	}
	var compact any
	if err := json.Unmarshal(outline, &compact); err != nil {
		t.Fatal(err)
	}
	raw, err := json.Marshal(compact)
	if err != nil {
		t.Fatal(err)
	}
	var soundings []string
	f := geo.NewFrame(geo.Position{Lat: 47.9, Lon: -45})
	for e := -1500.0; e <= 1500; e += 300 {
		for n := -1500.0; n <= 1500; n += 300 {
			p := f.Position(geo.Local{E: e, N: n})
			soundings = append(soundings, fmt.Sprintf(`{"lat":%.7f,"lon":%.7f,"depth_m":%.2f}`, p.Lat, p.Lon, 11+e/3000))
		}
	}
	return fmt.Sprintf(`{"do":"lake","name":"Tamaringen","outline":%s,"zone":"Etc/GMT+3","freeze_up":"2025-11-24","soundings":[%s]}`, raw, strings.Join(soundings, ","))
}

// at gives a position of the example lake in metres from 47.9 N 45 W.
func at(e, n float64) string {
	p := geo.NewFrame(geo.Position{Lat: 47.9, Lon: -45}).Position(geo.Local{E: e, N: n})
	return fmt.Sprintf(`{"lat":%.7f,"lon":%.7f}`, p.Lat, p.Lon)
}

// day gives the lines that begin a day on which hops on foot may be advised.
func day(t *testing.T) []string {
	lines := []string{lakeLine(t), `{"do":"party","rods":4,"at":` + at(0, -3000) + `,"time":"2026-01-15T07:00:00-03:00"}`}
	for h := range 30 {
		lines = append(lines, fmt.Sprintf(`{"do":"weather","time":"2026-01-%02dT%02d:00:00-03:00","air_c":-15,"wind_kmh":8,"from_deg":225}`, 14+h/24, h%24))
	}
	for i, n := range []float64{-200, 0, 200} {
		lines = append(lines, fmt.Sprintf(`{"do":"ice","time":"2026-01-15T08:%02d:00-03:00","at":%s,"cm":43,"white_cm":4,"snow_cm":8}`, i*5, at(0, n)))
	}
	return lines
}

func fail(a map[string]any) string {
	if e, ok := a["error"].(map[string]any); ok {
		return fmt.Sprint(e["code"])
	}
	return ""
}

// Ten looks move the odds and the next step sensibly.
func TestTenLooksThroughAsk(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	lines := day(t)
	ask := func(time string, e, n float64) {
		lines = append(lines, fmt.Sprintf(`{"ask":"odds","time":"2026-01-15T%s:00-03:00","at":%s}`, time, at(e, n)))
	}
	look := func(time string, e, n float64, marks int) {
		lines = append(lines, fmt.Sprintf(`{"do":"look","time":"2026-01-15T%s:00-03:00","at":%s,"depth_m":11.1,"seconds":30,"marks":%d}`, time, at(e, n), marks))
	}
	ask("09:00", 300, 0)
	start := len(lines) - 1
	look("09:01", 300, 0, 0)
	ask("09:02", 300, 0)
	blank := len(lines) - 1
	for i := range 4 {
		look(fmt.Sprintf("09:%02d", 5+i*4), 300, float64(60*i+60), 0)
	}
	ask("09:20", -300, 0)
	before := len(lines) - 1
	look("09:21", -300, 0, 6)
	look("09:22", -300, 0, 5)
	ask("09:23", -300, 0)
	marks := len(lines) - 1
	lines = append(lines, fmt.Sprintf(`{"ask":"next","time":"2026-01-15T09:24:00-03:00","scout":%s,"rods":[]}`, at(-300, 0)))
	next := len(lines) - 1
	ask("13:30", -300, 0)
	stale := len(lines) - 1
	ask("13:30", 0, 150)
	calm := len(lines) - 1
	lines = append(lines, fmt.Sprintf(`{"do":"crowd","time":"2026-01-15T13:31:00-03:00","at":%s,"radius_m":80,"shelters":12}`, at(0, 150)))
	ask("13:32", 0, 150)
	crowd := len(lines) - 1
	answers := m.talk(lines...)
	for i, a := range answers {
		if code := fail(a); code != "" {
			t.Fatalf("line %d: %v\n%s", i, a, lines[i][:min(200, len(lines[i]))])
		}
	}
	p := func(i int) float64 { return answers[i]["odds"].(float64) }
	if !(p(blank) < p(start)) {
		t.Errorf("an empty look: %g to %g", p(start), p(blank))
	}
	if !(p(marks) > p(before)) {
		t.Errorf("marks: %g to %g", p(before), p(marks))
	}
	if !(p(stale) < p(marks)) {
		t.Errorf("a stale mark: %g to %g", p(marks), p(stale))
	}
	if !(p(crowd) < p(calm)) {
		t.Errorf("crowd: %g to %g", p(calm), p(crowd))
	}
	n := answers[next]
	if n["turn_back"] == "" || n["scout"].(map[string]any)["do"] == "" || len(n["why"].([]any)) == 0 {
		t.Errorf("%v", n)
	}
}

// No look is proposed over an unmeasured hazard, on shore, or beyond turn-back.
func TestAskObeysVetoes(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	lines := day(t)
	next := func(time string) {
		lines = append(lines, fmt.Sprintf(`{"ask":"next","time":"2026-01-15T%s:00-03:00","scout":%s}`, time, at(0, 0)))
	}
	next("09:00")
	open := len(lines) - 1
	lines = append(lines, fmt.Sprintf(`{"do":"hazard","time":"2026-01-15T09:01:00-03:00","what":"thin","shape":"point","points":[%s],"radius_m":2000}`, at(0, 0)))
	next("09:02")
	barred := len(lines) - 1
	next("16:30")
	late := len(lines) - 1
	answers := m.talk(lines...)
	do := func(i int) string { return fmt.Sprint(answers[i]["scout"].(map[string]any)["do"]) }
	if do(open) != "drill" && do(open) != "look" {
		t.Fatalf("with ice read all about: %v", answers[open])
	}
	if do(barred) == "drill" || do(barred) == "look" {
		t.Errorf("over a hazard: %v", answers[barred])
	}
	if do(late) != "head_in" {
		t.Errorf("past turn-back %v: %v", answers[late]["turn_back"], do(late))
	}
}

func TestAskRefusesAndGoesOn(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	lines := day(t)
	first := len(lines)
	bad := map[string]string{
		`not json`: "bad_input", `{"do":"fly"}`: "bad_input", `{"do":"look","ask":"next"}`: "bad_input", `{}`: "bad_input",
		`{"do":"look","marks":0}`: "bad_input",
		`{"do":"look","time":"2026-01-15T09:00:00-03:00","at":` + at(0, 0) + `}`:                          "bad_input", // no marks
		`{"do":"look","time":"2026-01-15T09:00:00-03:00","hole":99,"marks":0}`:                            "not_found",
		`{"do":"look","time":"2026-01-15T09:00:00-03:00","at":` + at(0, 0) + `,"marks":0,"depth_m":0}`:    "bad_input",
		`{"do":"look","time":"2026-01-15T09:00:00-03:00","at":` + at(0, 0) + `,"marks":-1}`:               "bad_input",
		`{"do":"look","time":"2026-01-15T09:00:00-03:00","at":` + at(-16000, 0) + `,"marks":2}`:           "bad_input", // land
		`{"do":"look","time":"2026-01-15T09:00:00-03:00","at":{"lat":91,"lon":0},"marks":2}`:              "bad_input",
		`{"do":"look","time":"2026-01-15T09:00:00-03:00","at":` + at(0, 0) + `,"marks":0,"colour":"red"}`: "bad_input",
		`{"do":"fish","time":"2026-01-15T09:00:00-03:00","cm":303,"kept":true}`:                           "bad_input",
		`{"do":"ice","time":"2026-01-15T09:00:00-03:00","at":` + at(0, 0) + `,"cm":-3}`:                   "bad_input",
		`{"do":"ice","time":"2026-01-15T09:00:00-03:00","at":` + at(0, 0) + `,"cm":30,"white_cm":31}`:     "bad_input",
		`{"ask":"ice","load":"tank"}`: "bad_input",
		// hole 1 was drilled at 08:00 by the reading of its ice
		`{"do":"look","time":"2026-01-15T07:30:00-03:00","hole":1,"marks":2}`:                                    "bad_input",
		`{"do":"ice","time":"2026-01-15T07:30:00-03:00","hole":1,"cm":40}`:                                       "bad_input",
		`{"do":"bite","time":"2026-01-15T07:30:00-03:00","hole":1}`:                                              "bad_input",
		`{"do":"fish","time":"2026-01-15T07:30:00-03:00","hole":1}`:                                              "bad_input",
		`{"do":"sit","from":"2026-01-15T07:30:00-03:00","hole":1,"rod":1}`:                                       "bad_input",
		`{"do":"bite","time":"2026-01-15T09:00:00-03:00","hole":99}`:                                             "not_found",
		`{"do":"look","time":"2031-01-15T09:00:00-03:00","at":` + at(0, 0) + `,"marks":2}`:                       "bad_input", // the future
		`{"ask":"next","time":"2031-01-15T09:00:00-03:00"}`:                                                      "bad_input",
		`{"do":"ice","time":"2026-01-15T09:00:00-03:00","at":` + at(-16000, 0) + `,"cm":40}`:                     "bad_input", // land
		`{"do":"sit","from":"2026-01-15T09:00:00-03:00","at":` + at(-16000, 0) + `,"rod":1}`:                     "bad_input",
		`{"do":"sit","from":"2026-01-15T09:10:00-03:00","to":"2026-01-15T09:00:00-03:00","at":` + at(0, 0) + `}`: "bad_input",
	}
	var order []string
	for l := range bad {
		order = append(order, l)
	}
	odds := `{"ask":"odds","time":"2026-01-15T09:05:00-03:00","at":` + at(0, 0) + `}`
	lines = append(append(append(lines, odds), order...), odds)
	answers := m.talk(lines...)
	for i, l := range order {
		if got := fail(answers[first+1+i]); got != bad[l] {
			t.Errorf("%s: %v, want %s", l, answers[first+1+i], bad[l])
		}
	}
	if a, b := answers[first]["odds"], answers[len(answers)-1]["odds"]; a != b || a == nil {
		t.Errorf("wrong lines changed the odds from %v to %v", a, b)
	}
}

// A line of the wrong kind is answered in the words of whoever wrote it, and ask answers as of --at.
func TestAskSaysWhatIsWrong(t *testing.T) {
	m := newMachine(t, "2026-11-30T12:00:00Z")
	lines := append(day(t), `{"do":"look","time":"2026-01-15T09:00:00-03:00","hole":1,"marks":"lots"}`, `{"do":"fish","cm":"30"}`, `{"do":"fish","kept":1}`, `{"do":"fish","typo":1}`, `{"do":"fish","guest":["a"]}`, `{"do":"fish","count":1.5}`)
	answers := m.talk(lines...)
	for i, want := range []string{"marks is text where a whole number belongs", "cm is text where a number belongs", "kept is a number where true or false belongs", `it has no field "typo"`, "guest is a list where text in quotes belongs", "count is 1.5 where a whole number belongs"} {
		e, _ := answers[len(lines)-6+i]["error"].(map[string]any)
		if said, _ := e["message"].(string); said != "the line cannot be read: "+want {
			t.Errorf("%s: %q", lines[len(lines)-6+i], said)
		}
	}
	lake := lakeLine(t)
	m.env.In = strings.NewReader(lake + "\n" + `{"ask":"tally"}` + "\n")
	if out := m.must("ask", "--at", "2026-01-15T12:00:00-03:00"); !strings.Contains(out, `"day":"2026-01-15"`) {
		t.Errorf("as of 15 January: %s", out)
	}
	if status := m.run("ask", "--at", "noonish"); status != exitUsage {
		t.Errorf("as of noonish: status %d", status)
	}
}

func TestAskIsTheSameForASeed(t *testing.T) {
	lines := append(day(t), `{"ask":"next","time":"2026-01-15T09:00:00-03:00","scout":`+at(0, 0)+`}`)
	var first string
	for range 2 {
		m := newMachine(t, "2026-01-15T12:50:00Z")
		a := m.talk(lines...)
		last := a[len(a)-1]
		delete(last["scout"].(map[string]any), "hole_id") // ids of acts are random
		raw, err := json.Marshal(last["scout"])
		if err != nil {
			t.Fatal(err)
		}
		if first == "" {
			first = string(raw)
		} else if first != string(raw) {
			t.Errorf("%s and %s", first, raw)
		}
	}
}
