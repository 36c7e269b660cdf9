package guard

import (
	"bytes"
	"context"
	"fmt"
	"html"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/cli"
	"icehand/internal/host/desk"
	"icehand/internal/host/importing"
	"icehand/internal/host/web"
	"icehand/internal/keep/mem"
	"icehand/internal/keep/sqlite"
	"icehand/internal/keep/store"
	"icehand/internal/sim"
	"icehand/internal/trade/journal"
)

// Nothing that people read says or implies that ice is safe. What is forbidden is a list of words and turns; what is let
// pass is a list of sentences that deny it.

// forbidden are words and turns that sound like a permission.
var forbidden = regexp.MustCompile(`(?i)\b(?:un)?safe(?:ly|r|st)?\b|\bproven?\b|\bproved\b|\bcleared\b|\ballowed\b|\bok\b|\bokay\b|\bfine\b` +
	`|\ball[- ]clear\b|\b(?:good|sound|solid enough|strong|trusted) ice\b|\bice (?:is|looks|seems) (?:good|sound|solid|strong|thick enough|all right)\b` +
	`|\b(?:strong|thick|solid) enough\b|\bwill (?:hold|carry|bear)\b|\bholds? you\b|\bcan (?:carry|hold|bear)\b|\bgood to go\b|\bgo ahead\b|\byou (?:may|can) (?:go|drive|ride|walk|park)\b` +
	`|\bno danger\b|\brisk[- ]free\b|\bdanger[- ]free\b|\btrust the ice\b|\bpermitted\b|\bapproved\b|\bcertified\b|\bgreen light\b` +
	`|[✓✔✅☑👍🟢]`)

// aGo is the one place of the word: "Not a go."
var aGo = regexp.MustCompile(`(?i)\b(?:it is|a) go\b`)

// denials hold a forbidden word and deny it. They are taken out before the rest is looked through.
var denials = []string{
	"Nothing here says that ice is safe.", "never says that ice is safe", "Never says that ice is good.", "It never says that ice will hold", "Not a go.",
}

// notGo must stand in whatever names the fourth state.
const notGo = "Not a go. Test as you go; local authority decides."

// faults lists what a text says that it must not.
func faults(text string) []string {
	bare := strings.Join(strings.Fields(text), " ")
	text = bare
	for _, d := range denials {
		bare = strings.ReplaceAll(bare, d, " ")
	}
	var out []string
	for _, at := range slices.Concat(forbidden.FindAllStringIndex(bare, -1), aGo.FindAllStringIndex(bare, -1)) {
		out = append(out, strings.TrimSpace(bare[max(0, at[0]-60):min(len(bare), at[1]+40)]))
	}
	if strings.Contains(strings.ToLower(text), "not below either") && !strings.Contains(text, notGo) {
		out = append(out, "names the fourth state without: "+notGo)
	}
	return out
}

var (
	inTags     = regexp.MustCompile(`(?s)<(script|style)\b.*?</(script|style)>`)
	spoken     = regexp.MustCompile(`\b(?:aria-label|title|alt|placeholder)="([^"]*)"`)
	tags       = regexp.MustCompile(`<[^>]*>`)
	links      = regexp.MustCompile(`href="(/[^"#]*)`)
	codeInText = regexp.MustCompile("(?s)```.*?```|`[^`\n]*`")
)

// readable gives what a page says: its text and what is read aloud of its attributes.
func readable(page string) string {
	page = inTags.ReplaceAllString(page, " ")
	said := ""
	for _, m := range spoken.FindAllStringSubmatch(page, -1) {
		said += m[1] + "\n"
	}
	return html.UnescapeString(said + tags.ReplaceAllString(page, "\n"))
}

// The lint finds what it is for, and lets pass what denies it.
func TestWordsLintFinds(t *testing.T) {
	for _, bad := range []string{"The ice is safe.", "Safe to cross", "ice looks good", "40 cm: OK", "You may drive here", "good to go", "Ridge cleared", "allowed load 900 kg", "that is fine",
		"thick enough for a car", "✔ 41 cm", "It is a go.", "a go", "Not below either figure at the holes drilled today.", "this will hold a truck", "Proved at noon"} {
		if len(faults(bad)) == 0 {
			t.Errorf("%q passes", bad)
		}
	}
	for _, good := range []string{"Not below either figure at the holes drilled today 09:10 (3 holes). Not a go. Test as you go; local authority decides.", "a calculated load of 900 kg",
		"Nothing here says that ice is safe.", "Stay off with this load.", "the ridge was reported gone", "Looking finer than before", "Define the zone"} {
		if f := faults(good); len(f) != 0 {
			t.Errorf("%q is refused: %q", good, f)
		}
	}
	if got := readable(`<p title="all clear">A<b>b</b></p><script>safe</script>`); len(faults(got)) != 1 {
		t.Errorf("%q", got)
	}
}

var madeUp = sync.OnceValues(func() (*sim.Demo, error) { return sim.NewDemo(15) })

// madeUpLake is the demo with its clock and scout.
func madeUpLake(t *testing.T) *sim.Demo {
	t.Helper()
	demo, err := madeUp()
	if err != nil {
		t.Fatal(err)
	}
	return demo
}

// TestNoPageApproves walks the pages of the made-up lake, at several hours and in both units, every link of them, the
// answers to forms, and the pages of a record without a lake.
func TestNoPageApproves(t *testing.T) {
	demo := madeUpLake(t)
	seen := 0
	check := func(where, page string) {
		seen++
		for _, f := range faults(readable(page)) {
			t.Errorf("%s says: %q", where, f)
		}
	}
	for _, hour := range []time.Duration{0, 5*time.Hour + 30*time.Minute, 26 * time.Hour} {
		now := demo.Now.Add(hour)
		h, scout := pagesAt(t, demo, now, true)
		for _, units := range []string{"us", "si"} {
			if testing.Short() && units == "si" {
				break
			}
			walk(h, units, func(path, page string) { check(fmt.Sprintf("%s (%s, %s)", path, now.Format("15:04"), units), page) })
		}
		for _, x := range acts(scout) {
			w := answer(h, http.MethodPost, x.path, x.form.Encode(), "")
			check("POST "+x.path+" "+x.form.Encode(), w)
			check("/ice after "+x.path, answer(h, http.MethodGet, "/ice", "", ""))
			check("/ after "+x.path, answer(h, http.MethodGet, "/", "", ""))
		}
		for _, load := range []string{"on_foot", "group", "snow_machine", "side_by_side", "car", "truck"} {
			check("/ice?load="+load+" read", answer(h, http.MethodGet, "/ice?load="+load, "", ""))
		}
		if testing.Short() {
			break
		}
	}
	h, _ := pagesAt(t, demo, demo.Now, false)
	walk(h, "si", func(path, page string) { check(path+" without a lake", page) })
	if seen < 50 {
		t.Errorf("only %d pages were looked through", seen)
	}
}

// surfaces keeps the lake's depth surfaces for all hours: they are worked out once.
var surfaces mem.Shelf

// pagesAt gives the pages of the demo at an hour; without filled, of an empty record.
func pagesAt(t *testing.T, demo *sim.Demo, now time.Time, filled bool) (http.Handler, geo.Position) {
	t.Helper()
	st := mem.New(store.Identity{Outfit: journal.NewID(), Account: journal.NewID(), Journal: journal.NewID(), Epoch: journal.NewID(), Made: demo.Now})
	if filled {
		if err := demo.Fill(t.Context(), st); err != nil {
			t.Fatal(err)
		}
	}
	at := demo.Lake.Frame.Local(demo.Scout)
	d, err := desk.Open(t.Context(), st, desk.Options{Seed: 15, Clock: func() time.Time { return now }, Recall: surfaces.Recall, Keep: surfaces.Keep, Position: func(now time.Time) advise.Place {
		return advise.Place{At: at, Known: true, Accuracy: 4 * quantity.Metre, Fixed: now}
	}})
	if err != nil {
		t.Fatal(err)
	}
	return web.New(web.Options{Desk: d, Static: "/static/x/", Extras: importing.New(d).Extras()}), demo.Scout
}

func answer(h http.Handler, method, path, form, cookie string) string {
	r := httptest.NewRequest(method, path, strings.NewReader(form))
	if form != "" {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if cookie != "" {
		r.Header.Set("Cookie", cookie)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w.Body.String()
}

// mostPages bounds a walk: the rest are the same pages of other days and holes.
const mostPages = 24

// walk follows the links of the pages from Now on.
func walk(h http.Handler, units string, f func(path, page string)) {
	todo, done := []string{"/", "/ice", "/map", "/people", "/help", "/day", "/evening", "/keys", "/holes", "/rods", "/trip", "/turn-back", "/import", "/nowhere"}, map[string]bool{}
	for len(todo) > 0 && len(done) < mostPages {
		path := todo[0]
		todo = todo[1:]
		if done[path] {
			continue
		}
		done[path] = true
		page := answer(h, http.MethodGet, path, "", "units="+units)
		f(path, page)
		for _, m := range links.FindAllStringSubmatch(page, -1) {
			if p := html.UnescapeString(m[1]); !strings.HasPrefix(p, "/static/") {
				todo = append(todo, p)
			}
		}
	}
}

type act struct {
	path string
	form url.Values
}

// acts are forms whose answers speak of ice: thick, thin and bad readings, what nobody can mean, a table, a parked load.
func acts(at geo.Position) []act {
	form := func(pairs ...string) url.Values {
		v := url.Values{"id": {journal.NewID().String()}, "lat": {fmt.Sprint(at.Lat)}, "lon": {fmt.Sprint(at.Lon)}, "accuracy": {"4"}, "age": {"0"}}
		for i := 0; i < len(pairs); i += 2 {
			v.Set(pairs[i], pairs[i+1])
		}
		return v
	}
	return []act{
		{"/ice", form("total", "62", "white", "2", "snow", "5", "water", "3")}, {"/ice", form("total", "9", "white", "4")}, {"/ice", form("total", "60", "layered", "yes", "solid", "30")},
		{"/ice", form("total", "-3")}, {"/ice", form("total", "20", "white", "30")}, {"/ice", form("total", "55", "rotten", "yes")}, {"/ice", form("total", "55", "crack", "crossing", "grey", "yes")},
		{"/parked", form("what", "car", "mass", "2100")}, {"/parked", form("what", "car", "mass", "0")}, {"/hazard", form("what", "crack")},
		{"/ice-table", form("agency", "Water Security Agency")}, {"/ice-table", form("agency", "Water Security Agency", "by", "Ada")}, {"/freeze-up", form("day", "tomorrow")}, {"/look", form("marks", "none")},
	}
}

// TestNoCommandApproves runs every command that answers, in words and as JSON, on the made-up lake and without one.
func TestNoCommandApproves(t *testing.T) {
	demo := madeUpLake(t)
	full, empty := filepath.Join(t.TempDir(), "full"), filepath.Join(t.TempDir(), "empty")
	st, err := sqlite.Open(t.Context(), full, sqlite.Options{Program: "guard"})
	if err != nil {
		t.Fatal(err)
	}
	if err := demo.Fill(t.Context(), st); err != nil {
		t.Fatal(err)
	}
	if err := st.Close(); err != nil {
		t.Fatal(err)
	}
	at := fmt.Sprintf("%.6f, %.6f", demo.Scout.Lat, demo.Scout.Lon)
	commands := [][]string{{"next", "--why"}, {"next", "--from", at, "--why"}, {"evening", "--date", "2026-01-16"}, {"home", "--card"}, {"home", "--whiteout"}, {"report"}, {"aim"}, {"depths"}, {"cold"}, {"cold", "--air", "-41 C", "--wind", "30 km/h"}, {"light"},
		{"ice", "--load", "tank"}, {"ice", "--mass", "0 kg"}, {"ice", "--at-place", "0, 0"}, {"ice", "--table", "Nobody"}, {"audit"}, {"selfcheck"}, {"version"}, {"rehearse", "--ice", "--days", "6"},
		{"--help"}, {"nonsense"}}
	for _, load := range []string{"on_foot", "group", "snow_machine", "side_by_side", "car", "truck"} {
		commands = append(commands, []string{"ice", "--load", load}, []string{"ice", "--load", load, "--at-place", at, "--stay", "3h"})
	}
	for _, c := range []string{"demo", "serve", "next", "evening", "home", "ice", "cold", "light", "trip", "report", "aim", "depths", "import", "weather", "export", "backup", "restore", "audit", "selfcheck", "rehearse", "ask"} {
		commands = append(commands, []string{c, "--help"})
	}
	asked := fmt.Sprintf(`{"ask":"ice","load":"car"}`+"\n"+`{"ask":"next"}`+"\n"+`{"do":"ice","time":%q,"at":{"lat":%f,"lon":%f},"cm":55,"white_cm":60}`+"\n", demo.Now.Format(time.RFC3339), demo.Scout.Lat, demo.Scout.Lon)
	commands = append(commands, []string{"ask"})
	plain := []string{"audit", "selfcheck", "version", "rehearse", "nonsense", "--help"} // say the same in any form
	ran := 0
	for _, data := range []string{full, empty} {
		for i, c := range commands {
			for _, form := range [][]string{nil, {"--json"}, {"--units", "us"}} {
				help := c[len(c)-1] == "--help"
				if help && (data == empty || form != nil) || form != nil && slices.Contains(plain, c[0]) || testing.Short() && (i%4 != 0 || form != nil && c[0] != "ice") {
					continue
				}
				out := command(append(append([]string{"--data", data}, c...), form...), asked, demo.Now)
				ran++
				for _, f := range faults(out) {
					t.Errorf("icehand %s says: %q", strings.Join(append(c, form...), " "), f)
				}
			}
		}
	}
	if ran < 20 {
		t.Errorf("only %d commands ran", ran)
	}
}

// command runs one command and gives all that it printed. In JSON the colon and quotes about a word are no speech: they
// are taken out of true and ok.
func command(args []string, in string, now time.Time) string {
	var out bytes.Buffer
	env := cli.Env{In: strings.NewReader(in), Out: &out, Err: &out, Clock: func() time.Time { return now }, Getenv: func(string) string { return "" }, Home: os.TempDir(), Version: "guard"}
	cli.Run(context.Background(), args, env)
	return strings.NewReplacer(`"ok":true`, "", `"ok": true`, "").Replace(out.String())
}

// TestNoDocumentApproves reads the documents that people read; what stands in code marks is a name.
func TestNoDocumentApproves(t *testing.T) {
	var files []string
	for _, g := range []string{"*.md", "docs/*.md", "docs/models/*.md", "changes/*.md"} {
		m, err := filepath.Glob(filepath.Join(root, g))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, m...)
	}
	if len(files) < 20 {
		t.Fatalf("%d documents", len(files))
	}
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range faults(codeInText.ReplaceAllString(string(text), " ")) {
			t.Errorf("%s says: %q", filepath.Base(name), x)
		}
	}
}
