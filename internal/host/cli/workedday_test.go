package cli

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"icehand/internal/sim"
)

// workedLines gives the lines of the worked day of the invented world, 15 January.
func workedLines(t *testing.T) []string {
	t.Helper()
	raw, err := os.ReadFile(examples + "day-2026-01-15.ndjson")
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSpace(string(raw)), "\n")
}

// workedTotals are what each of the party kept on the worked day, of perch.
var workedTotals = map[string]int{"Jonas Albrecht": 20, "Petra Albrecht": 11, "Lena Albrecht": 9, "Tim Albrecht": 8, "Mr Okafor": 10}

// workedKept is their sum; no walleye.
const workedKept = 58

// TestWorkedDay lives through the invented world's worked day by commands, from roster to report: the lines of the example through ask on a record that
// is kept, everything else as a guide types it. Totals are held against each other wherever they are shown. Source: the invented world's own figures.
func TestWorkedDay(t *testing.T) {
	m := newMachine(t, "2026-01-15T19:05:00-03:00")
	dir := m.env.Home
	m.env.Getenv = func(key string) string { return map[string]string{"ICEHAND_DATA": dir}[key] }
	m.env.Home = filepath.Join(dir, "elsewhere") // so that ask keeps the record
	at := func(clock string) {
		now, err := time.Parse(time.RFC3339, "2026-01-15T"+clock+":00-03:00")
		if err != nil {
			t.Fatal(err)
		}
		m.env.Clock = func() time.Time { return now }
	}
	at("05:30")
	m.must("import", examples+"outline.geojson", "--tz", "Etc/GMT+3", "-y")
	dawn := filepath.Join(t.TempDir(), "forecast.json")
	if err := os.WriteFile(dawn, sim.ForecastJSON(time.Date(2026, 1, 15, 7, 12, 0, 0, time.UTC)), 0o600); err != nil {
		t.Fatal(err)
	}
	m.must("import", examples+"soundings.csv", dawn, "-y")
	m.must("rules", "import", examples+"rules.txt", "--by", "Ruth Vossler")
	m.must("rules", "sign", "--by", "Ingrid Vossler")
	for _, form := range []string{"lake-log", "landing-sheet"} {
		m.must("paper", "form", examples+"forms/"+form+".json")
	}
	m.must("paper", "book", "Albrecht and Okafor", "--date", "2026-01-15", "--people", "5", "--children", "2", "--meet", "06:15")
	load := filepath.Join(t.TempDir(), "load.txt")
	if err := os.WriteFile(load, []byte("snow machine with sled; snow machine; 320 kg; 1; 1 x sled 180 kg, 2 x auger 12 kg\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	m.must("paper", "load", load)
	if out := m.must("paper", "roster"); !strings.Contains(out, "SUMMARY:Albrecht and Okafor\\, 5 people\\, 2 of them children") {
		t.Errorf("the roster: %s", out)
	}
	at("19:05")
	lines := workedLines(t)
	answers := m.talk(lines...)
	asked := map[string]map[string]any{}
	for i, a := range answers {
		if code := fail(a); code != "" {
			t.Fatalf("line %d: %v\n%s", i+1, a, lines[i])
		}
		var l struct {
			Ask  string
			Time string
		}
		if err := json.Unmarshal([]byte(lines[i]), &l); err != nil {
			t.Fatal(err)
		}
		if l.Ask != "" {
			asked[l.Ask+" "+l.Time[11:16]] = a
		}
	}
	workedAsked(t, asked)
	m.workedLedger(t)
	m.workedPaper(t)
	m.workedReport(t)
	if out := m.must("plan"); !strings.Contains(out, "Ashore: everybody is reported.") || !strings.Contains(out, "radio, by Dale Harkin") {
		t.Errorf("the trip plan: %s", out)
	}
	m.must("audit")
}

// rowsOf decodes the rows of a tally.
func rowsOf(t *testing.T, answer any) (rows []rowJSON, fish []fishJSON) {
	t.Helper()
	raw, err := json.Marshal(answer)
	if err != nil {
		t.Fatal(err)
	}
	var x struct {
		Rows []rowJSON
		Fish []fishJSON
	}
	if err := json.Unmarshal(raw, &x); err != nil {
		t.Fatal(err)
	}
	return x.Rows, x.Fish
}

func perchOf(rows []rowJSON, name string) rowJSON {
	for _, r := range rows {
		if r.Person == name && r.Species == "perch" {
			return r
		}
	}
	return rowJSON{}
}

// workedAsked looks at what was answered while the day went on.
func workedAsked(t *testing.T, asked map[string]map[string]any) {
	t.Helper()
	rows, _ := rowsOf(t, asked["tally 14:21"])
	if j := perchOf(rows, "Jonas Albrecht"); j.Kept != 18 || j.State != "near" || j.Left == nil || *j.Left != 2 {
		t.Errorf("14:20: Jonas at limit minus two: %+v", j)
	}
	rows, fish := rowsOf(t, asked["tally 14:51"])
	if j := perchOf(rows, "Jonas Albrecht"); j.Kept != 21 || j.State != "beyond" {
		t.Errorf("14:50: Tim's fish entered on Jonas: %+v", j)
	}
	flagged := 0
	for _, f := range fish {
		if strings.HasPrefix(f.Flag, "kept beyond the limit") {
			flagged++
		}
	}
	if flagged != 1 {
		t.Errorf("14:50: %d fish flagged, recorded all the same, want 1", flagged)
	}
	raw, err := json.Marshal(asked["next 10:10"])
	if err != nil {
		t.Fatal(err)
	}
	if s := string(raw); !strings.Contains(s, `"do":"leave"`) || !strings.Contains(s, "fish kept; from 10.5 m few live once put back") {
		t.Errorf("10:10: nobody is told to leave the small fish: %.600s", s)
	}
	if b, ok := asked["turn_back 09:50"]["at"].(string); !ok || b != "2026-01-15T14:55:00-03:00" {
		t.Errorf("09:50: turn-back %v, want 14:55", asked["turn_back 09:50"]["at"])
	}
}

// workedLedger holds tally, close of day and bags against each other.
func (m *machine) workedLedger(t *testing.T) {
	t.Helper()
	var tally struct {
		Rows    []rowJSON
		Fish    []fishJSON
		Kept    map[string]int
		Unnamed map[string]int
		Notes   []any
	}
	m.object(&tally, "tally", "--fish")
	sum := 0
	for name, want := range workedTotals {
		r := perchOf(tally.Rows, name)
		if r.Kept != want {
			t.Errorf("%s kept %d, want %d", name, r.Kept, want)
		}
		sum += r.Kept
	}
	if sum != workedKept || tally.Kept["perch"] != workedKept || tally.Kept["walleye"] != 0 || len(tally.Unnamed) != 0 || len(tally.Notes) != 0 {
		t.Errorf("%d by rows, %v in all, unnamed %v, notes %v", sum, tally.Kept, tally.Unnamed, tally.Notes)
	}
	if o := perchOf(tally.Rows, "Mr Okafor"); o.Held != 16 {
		t.Errorf("Okafor brought 6 and kept 10: holds %d", o.Held)
	}
	single, traced := 0, 0
	for _, f := range tally.Fish {
		if f.Kept {
			single += f.Count
		}
		if f.Flag != "" {
			t.Errorf("still flagged: %+v", f)
		}
		if len(f.Trace) > 0 {
			traced++
			if f.Person != "Tim Albrecht" || !strings.Contains(f.Trace[0], "14:52 given to Tim Albrecht: it bit on Tim's rod") {
				t.Errorf("the correction's trace: %+v", f)
			}
		}
	}
	if single != workedKept || traced != 1 {
		t.Errorf("%d kept by single fish, %d corrected", single, traced)
	}
	var closed closedDayJSON
	m.object(&closed, "close")
	if closed.Kept != workedKept || closed.Holes != 51 || closed.RodHours != 31 || math.Abs(closed.DrilledM-23) > 0.05 || len(closed.Closed) != 5 {
		t.Errorf("the close of day: %+v", closed)
	}
	if rate := float64(closed.Kept) / closed.RodHours; math.Abs(rate-1.87) > 0.005 {
		t.Errorf("%.3f kept a rod-hour, want 1.87", rate)
	}
	if len(closed.Overrule) == 0 || closed.Overrule[0] != "10:10 Overruled: rod 2 stayed 18 min." {
		t.Errorf("the override of 10:10: %v", closed.Overrule)
	}
	if !strings.HasPrefix(closed.Spells[0], "09:12 to 09:26 at 17, 11 fish") {
		t.Errorf("the flurry at 17: %v", closed.Spells)
	}
}

// workedPaper holds the paper against the ledger.
func (m *machine) workedPaper(t *testing.T) {
	t.Helper()
	var bags struct {
		Counted, Differs bool
		Rows             []bagJSON
	}
	m.object(&bags, "paper", "cleaning")
	n := 0
	for _, r := range bags.Rows {
		n += *r.Bagged
	}
	if !bags.Counted || bags.Differs || n != workedKept {
		t.Errorf("%d in bags: %+v", n, bags)
	}
	var logs struct{ Forms []logJSON }
	m.object(&logs, "paper")
	if len(logs.Forms) != 2 {
		t.Fatalf("%d forms", len(logs.Forms))
	}
	for _, f := range logs.Forms {
		if len(f.Missing) != 0 {
			t.Errorf("%s lacks %v", f.Form, f.Missing)
		}
		for _, s := range f.Sums {
			if !strings.Contains(s, "agrees with the tally") {
				t.Errorf("%s: %s", f.Form, s)
			}
		}
	}
	if rows := logs.Forms[0].Rows; len(rows) != 5 || !strings.Contains(strings.Join(rows[0], "|"), "TB 20714") {
		t.Errorf("the lake log: %v", rows)
	}
	sheet := strings.Join(logs.Forms[1].Rows[0], "|")
	for _, want := range []string{"Ingrid Vossler", "|31.0|", "|58|", "16:15"} {
		if !strings.Contains(sheet, want) {
			t.Errorf("the landing sheet lacks %q: %s", want, sheet)
		}
	}
	var party struct {
		Lacks, Holes []string
		Vehicles     []loadedJSON
		People       []map[string]string
	}
	m.object(&party, "paper", "party")
	if len(party.Lacks) != 0 || len(party.People) != 6 || len(party.Vehicles) != 1 || !strings.Contains(strings.Join(party.Holes, " "), "Drilled on the day: about 23.0 m.") {
		t.Errorf("the party sheet: %+v", party)
	}
	m.must("paper", "made", "landing-sheet", "2026-01-15")
	m.must("paper", "line", "income", "900", "--item", "Albrecht and Okafor")
	if out := m.must("paper", "books", "--trips"); !strings.Contains(out, "2026-01-15,5,31.0,58,900.00") {
		t.Errorf("the days out: %s", out)
	}
}

// workedReport makes the guest report and looks for places in it.
func (m *machine) workedReport(t *testing.T) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "report.html")
	out := m.must("report", "--out", file)
	if !strings.Contains(out, "77 fish came up, 58 were kept and 19 went back.") {
		t.Errorf("the report says: %s", out)
	}
	page, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	words := regexp.MustCompile(`base64,[A-Za-z0-9+/=]+`).ReplaceAllString(string(page), "")
	for _, want := range []string{"33 cm", "Lena Albrecht", "Mr Okafor", ">58<"} {
		if !strings.Contains(words, want) {
			t.Errorf("the report lacks %q", want)
		}
	}
	for _, leak := range []string{"47.8", "45.0", "45.1", "hole", "10.8 m", "10.9 m", "14:5", "Harrow", "Long Flat"} {
		if strings.Contains(words, leak) {
			t.Errorf("%q stands in the report", leak)
		}
	}
}
