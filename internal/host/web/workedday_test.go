package web_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/host/desk"
	"icehand/internal/host/importing"
	"icehand/internal/host/paper"
	guestreport "icehand/internal/host/report"
	"icehand/internal/host/web"
	"icehand/internal/sim"
)

// dayLine is a line of the example day, as far as a page can take it.
type dayLine struct {
	Do, Ask              string
	Time, From           time.Time
	At                   *struct{ Lat, Lon float64 }
	Hole                 int64
	Rod, Rods            int
	Name, Role, Age      string
	Licence, Notes       string
	Seen                 *bool  `json:"licence_seen"`
	Until                string `json:"licence_until"`
	OnIce                *bool  `json:"on_ice"`
	Who                  json.RawMessage
	Species, What, State string
	Count                int
	Watcher, Parked, Out string
	Calls                []struct{ Who, Number string }
	Vehicles, Areas      []string
	Equipment, Sealed    string
	CheckIn              int `json:"check_in_min"`
	Cm                   float64
	DepthM               float64 `json:"depth_m"`
	WhiteCm              float64 `json:"white_cm"`
	AirC                 float64 `json:"air_c"`
	WindKmh              float64 `json:"wind_kmh"`
	Marks                int
	Guest, Size, Person  string
	Kept                 bool
	Lure, Manner, Screen string
	Note, To, Why        string
	LastOf               string `json:"last_of"`
	Points               []struct{ Lat, Lon float64 }
	Ashore               *time.Time
	Travel, Aim, Target  string
	DrillM               float64 `json:"drill_m"`
	Bags                 []struct {
		Who  string
		Fish int
	}
}

// dayPages lives through the day by the handler.
type dayPages struct {
	t      *testing.T
	h      http.Handler
	d      *desk.Desk
	now    time.Time
	fields map[string]string // of bags, for the close
}

func (p *dayPages) post(path string, f url.Values) string {
	p.t.Helper()
	w := post(p.h, path, f)
	if w.Code != http.StatusSeeOther {
		p.t.Fatalf("%s %s %v: status %d: %s", p.now.Format("15:04"), path, f, w.Code, regexp.MustCompile(`(?s).*<main`).ReplaceAllString(w.Body.String(), ""))
	}
	return w.Header().Get("Location")
}

func (p *dayPages) page(path string) string {
	p.t.Helper()
	w := get(p.h, path)
	if w.Code != http.StatusOK {
		p.t.Fatalf("%s: status %d: %s", path, w.Code, w.Body)
	}
	return w.Body.String()
}

// person, hole and sit find what a form names.
func (p *dayPages) person(name string) string {
	p.t.Helper()
	id, err := view(p.t, p.d).GuestNamed(name)
	if err != nil {
		p.t.Fatal(err)
	}
	return id.String()
}

func (p *dayPages) hole(number int64) string {
	p.t.Helper()
	id, err := p.d.HoleByNumber(p.t.Context(), "2026-01-15", number)
	if err != nil || id == uuid.Nil {
		p.t.Fatalf("hole %d: %v", number, err)
	}
	return id.String()
}

func (p *dayPages) sit(rod int) string {
	for _, s := range view(p.t, p.d).Party.RodsAt(p.now) {
		if s.Rod == rod {
			return s.ID.String()
		}
	}
	p.t.Fatalf("%s: rod %d does not sit", p.now.Format("15:04"), rod)
	return ""
}

// at puts the phone's fix, or the hole, into a form.
func (p *dayPages) at(f url.Values, l dayLine) url.Values {
	if l.At != nil {
		for k, v := range map[string]string{"lat": fmt.Sprint(l.At.Lat), "lon": fmt.Sprint(l.At.Lon), "accuracy": "4", "age": "2"} {
			f.Set(k, v)
		}
	} else if l.Hole > 0 {
		f.Set("hole", p.hole(l.Hole))
	}
	return f
}

func cm(x float64) string { return fmt.Sprintf("%g cm", x) }

// lines posts one line of the day, as somebody presses it.
func (p *dayPages) line(l dayLine) {
	p.t.Helper()
	switch l.Do {
	case "party":
		p.post("/trip", form("day", "2026-01-15", "rods", fmt.Sprint(l.Rods), "travel", l.Travel, "landing", fmt.Sprintf("%.6f, %.6f", l.At.Lat, l.At.Lon), "ashore", "17:00", "drill", fmt.Sprint(l.DrillM), "aim", l.Aim, "target", l.Target))
	case "person":
		f := form("name", l.Name, "role", l.Role, "age", l.Age, "rod", fmt.Sprint(l.Rod), "licence", l.Licence, "until", l.Until, "notes", l.Notes)
		if l.Seen != nil {
			f.Set("seen", "yes")
		}
		p.post("/join", f)
	case "hold":
		var who string
		_ = json.Unmarshal(l.Who, &who) // the test fails below when it is no name
		p.post("/hold", form("person", p.person(who), "what", l.What, "count", fmt.Sprint(l.Count), "species", l.Species))
	case "plan":
		calls := ""
		for _, c := range l.Calls {
			calls += c.Who + ", " + c.Number + "\n"
		}
		p.post("/plan", form("day", "2026-01-15", "watcher", l.Watcher, "calls", calls, "vehicles", strings.Join(l.Vehicles, "\n"), "parked", l.Parked, "areas", strings.Join(l.Areas, "\n"), "equipment", l.Equipment,
			"out", l.Out, "check_in", fmt.Sprint(l.CheckIn), "sealed", l.Sealed, "after-call_party", "15", "after-look_for", "30", "after-call_rescue", "60"))
	case "roster":
		p.post("/roster", form("person", p.person(l.Name), "seen", "yes", "licence", l.Licence, "until", l.Until, "notes", "cold hands"))
	case "claim":
		p.post("/claim", form("all", "yes", "state", l.State))
	case "ice":
		p.post("/ice", p.at(form("total", cm(l.Cm), "white", cm(l.WhiteCm), "snow", cm(8)), l))
	case "look":
		marks := "none"
		if l.Marks > 0 {
			marks = "few"
		}
		if l.Marks > 3 {
			marks = "many"
		}
		p.post("/look", p.at(form("marks", marks), l))
		if holes := view(p.t, p.d).Lake.HolesOn("2026-01-15"); l.DepthM > 0 && len(holes) > 24 && len(holes) < 30 { // told where it matters: each depth draws the bottom anew
			hole := holes[len(holes)-1].ID.String()
			if l.Hole > 0 {
				hole = p.hole(l.Hole)
			}
			p.post("/depth", form("hole", hole, "depth", fmt.Sprint(l.DepthM)))
		}
	case "hazard":
		l.At = &l.Points[0]
		p.post("/hazard", p.at(form("what", l.What), l))
	case "weather":
		p.post("/weather", form("air", fmt.Sprint(l.AirC), "wind", fmt.Sprint(l.WindKmh), "height", "face"))
	case "head_count":
		p.post("/head-count", form("all", "yes"))
	case "sit":
		p.post("/sit", form("hole", p.hole(l.Hole), "rod", fmt.Sprint(l.Rod)))
	case "up":
		p.post("/up", form("sit", p.sit(l.Rod)))
	case "fish":
		to := p.post("/fish", form("hole", p.hole(l.Hole), "guest", p.person(l.Guest), "kept", map[bool]string{true: "yes", false: "no"}[l.Kept], "size", l.Size))
		if l.Cm >= 30 {
			p.post("/fish/correct", form("fish", strings.TrimPrefix(to, "/?done="), "to", "length", "length", fmt.Sprint(l.Cm)))
		}
	case "watch":
		f := form("what", l.What)
		if l.Person != "" {
			f.Set("person", p.person(l.Person))
		}
		p.post("/watch", f)
	case "present":
		p.post("/present", form("sit", p.sit(l.Rod), "lure", l.Lure, "manner", l.Manner, "screen", l.Screen))
	case "tell":
		p.post("/plan/tell", form("what", l.What, "note", l.Note))
	case "correct":
		all := view(p.t, p.d).Ledger().Fish
		who := p.person(l.LastOf)
		i := len(all) - 1
		for all[i].Person.String() != who {
			i--
		}
		p.post("/fish/correct", form("fish", all[i].ID.String(), "to", p.person(l.To), "why", l.Why))
	case "bags":
		for _, b := range l.Bags {
			p.fields["bag "+p.person(b.Who)+" perch"] = fmt.Sprint(b.Fish)
		}
	case "close":
		f := form("day", "2026-01-15", "best", "1", "moved", "light", "ice", "ridge", "ice_words", "C2 open 4 cm, was tight in the morning", "guests", "Okafor's knee holds to 400 m", "tomorrow", "best", "tick", "litter")
		for k, v := range p.fields {
			f.Set(k, v)
		}
		closeScript(p.t, p.page("/close"), f)
		p.post("/close", f)
	}
}

// A tap takes 2 s and a letter 0.3 s ashore, bare-handed on a phone: pointing 1.1 s, deciding 1.35 s of which half is saved by a fixed order, and typing on
// glass at about 3 letters a second. The first two are of the keystroke-level model of Card, Moran and Newell (1980); all from memory, rounded up.
const (
	tapS    = 2.0
	letterS = 0.3
	// mostClose is what the close of day may take: four minutes.
	mostClose = 240.0
)

// closeScript sums up what it takes to fill the page of the close of day: every field that the form has must be reachable by its name, a text field costs a
// tap and its letters, a choice or tick one tap. The keys on the way, the save, and thinking before each of the five answers are counted too.
func closeScript(t *testing.T, page string, f url.Values) {
	t.Helper()
	const way, think = 2, 5.0 // People, Close the day; s to think of an answer
	seconds, taps, letters := way*tapS+5*think+tapS, way+1, 0
	for name, values := range f {
		if name == "id" || name == "day" {
			continue
		}
		at := strings.Index(page, `name="`+name+`"`)
		if at < 0 {
			t.Errorf("the page has no field %q", name)
			continue
		}
		taps++
		seconds += tapS
		tag := page[strings.LastIndex(page[:at], "<"):]
		if tag = tag[:strings.Index(tag, ">")]; !strings.Contains(tag, `type="radio"`) && !strings.Contains(tag, `type="checkbox"`) {
			letters += len(values[0])
			seconds += letterS * float64(len(values[0]))
		}
	}
	seconds += 6 * tapS // everybody ashore; two logs handed in, with the way to their pages
	taps += 6
	t.Logf("close of day: %d taps, %d letters, %.0f s", taps, letters, seconds)
	if seconds > mostClose {
		t.Errorf("close of day: %d taps and %d letters take %.0f s, more than %.0f", taps, letters, seconds, mostClose)
	}
	if taps < 12 || letters < 20 {
		t.Errorf("close of day: %d taps, %d letters: the script leaves something out", taps, letters)
	}
}

// TestWorkedDayByPages lives through the invented world's worked day, 15 January, by the forms of the pages, from roster to report. Its totals are the
// world's own: 58 kept (20, 11, 9, 8, 10), 51 holes, the override of 10:10, the correction of 14:52. The lines are those of the example for ask.
func TestWorkedDayByPages(t *testing.T) {
	raw, err := os.ReadFile("../../../examples/tamaringen/day-2026-01-15.ndjson")
	if err != nil {
		t.Fatal(err)
	}
	p := &dayPages{t: t, fields: map[string]string{}}
	p.now = time.Date(2026, 1, 15, 8, 30, 0, 0, time.UTC)
	if p.d, err = desk.Open(t.Context(), newStore(p.now), desk.Options{Clock: func() time.Time { return p.now }, Seed: 1}); err != nil {
		t.Fatal(err)
	}
	p.h = web.New(web.Options{Desk: p.d, Static: "/static/x/", Extras: slices.Concat(importing.New(p.d).Extras(), guestreport.New(p.d).Extras(), paper.New(p.d).Extras())})
	example := func(name string) []byte {
		b, err := os.ReadFile("../../../examples/tamaringen/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	files := map[string][]byte{"outline.geojson": example("outline.geojson"), "soundings.csv": example("soundings.csv"), "forecast.json": sim.ForecastJSON(p.now)}
	for _, name := range []string{"outline.geojson", "soundings.csv", "forecast.json"} {
		w := upload(t, p.h, name, files[name], map[string]string{"tz": "Etc/GMT+3"})
		token := regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(w.Body.String())
		if token == nil {
			t.Fatalf("%s: %s", name, w.Body)
		}
		p.post("/import", url.Values{"token": {token[1]}})
	}
	p.post("/rules", form("by", "Ruth Vossler", "text", string(example("rules.txt"))))
	p.post("/rules/sign", form("by", "Ingrid Vossler"))
	for _, name := range []string{"lake-log", "landing-sheet"} {
		p.post("/paper/form", form("day", "2026-01-15", "map", string(example("forms/"+name+".json"))))
	}
	for _, text := range strings.Split(strings.TrimSpace(string(raw)), "\n") {
		var l dayLine
		if err := json.Unmarshal([]byte(text), &l); err != nil {
			t.Fatalf("%v: %s", err, text)
		}
		if p.now = l.Time; l.Do == "sit" {
			p.now = l.From
		}
		p.line(l)
		p.moments(l)
	}
	p.evening()
}

// moments looks at the pages at the hours of the day that the story tells.
func (p *dayPages) moments(l dayLine) {
	has := func(path string, want ...string) {
		p.t.Helper()
		body := p.page(path)
		for _, w := range want {
			if !strings.Contains(body, w) {
				p.t.Errorf("%s %s lacks %q", p.now.Format("15:04"), path, w)
			}
		}
	}
	switch p.now.Format("15:04 ") + l.Do + l.Ask {
	case "06:18 person": // Petra's licence is missing until 06:40
		has("/people", "Petra Albrecht: licence not seen.", "letters at least 5 cm high. Not ticked today")
		has("/", "icence not seen: Petra")
		p.post("/rules/ticks", form("tick", "shelter_name"))
	case "06:42 claim":
		if body := p.page("/people"); strings.Contains(body, "licence not seen") || strings.Contains(body, "Not ticked") {
			p.t.Error("06:42: something is still to be settled before a line drops")
		}
	case "10:10 next", "10:28 next":
		has("/", "Undo")

	case "14:20 fish":
		has("/tally", "2 left")
	case "14:50 fish":
		has("/tally", "kept beyond the limit")
	case "14:57 tell": // at pack-up
		p.post("/hole-state", form("all", "yes", "state", "marked"))
		has("/party", "51 holes stand open: 51 marked, 0 unmarked")
	case "14:52 correct":
		if body := p.page("/tally"); strings.Contains(body, "kept beyond the limit") || !strings.Contains(body, "it bit on Tim&#39;s rod") {
			p.t.Error("14:52: the correction")
		}
	}
}

// evening holds the pages against each other.
func (p *dayPages) evening() {
	t := p.t
	v := view(t, p.d)
	sum := 0
	for name, want := range map[string]int{"Jonas Albrecht": 20, "Petra Albrecht": 11, "Lena Albrecht": 9, "Tim Albrecht": 8, "Mr Okafor": 10} {
		id, err := v.GuestNamed(name)
		if err != nil {
			t.Fatal(err)
		}
		r, _ := v.Sheet(v.Today, v.Now).Of(id, "perch")
		if sum += r.Kept; r.Kept != want {
			t.Errorf("%s kept %d, want %d", name, r.Kept, want)
		}
	}
	if sum != 58 {
		t.Errorf("%d kept in all", sum)
	}
	for path, want := range map[string][]string{
		"/tally":                                 {"58 perch kept today"},
		"/day":                                   {"51 holes,", "58 kept, 19 put back.", "Overruled: rod 2 stayed 18 min.", "Overruled: rod 5 stayed 18 min."},
		"/close":                                 {"58 kept, 19 put back, 51 holes, 31.0 rod-hours.", "Best spell: 09:12 to 09:26 at 17, 11 fish.", "Tomorrow, first idea: where it was best."},
		"/officer":                               {"Jonas Albrecht", "it bit on Tim&#39;s rod"},
		"/plan":                                  {"Ashore: everybody is reported."},
		"/paper/cleaning":                        {"58 in bags, 58 kept by the tally."},
		"/paper":                                 {"agrees with the tally", "TB 31102"},
		"/paper/log.csv?form=landing-sheet":      {",31.0,58,19"},
		"/paper/trips.csv":                       {"2026-01-15,5,31.0,58,0.00"},
		"/paper/party":                           {"Drilled on the day: about 23.0 m."},
		"/report?day=2026-01-15":                 {"77 fish came up, 58 were kept and 19 went back."},
		"/report/preview?day=2026-01-15&words=x": {"33 cm", "Lena Albrecht"},
	} {
		body := p.page(path)
		for _, w := range want {
			if !strings.Contains(body, w) {
				t.Errorf("%s lacks %q", path, w)
			}
		}
		if path == "/paper" && strings.Contains(body, "and the tally holds") {
			t.Error("a log does not agree with the tally")
		}
	}
}
