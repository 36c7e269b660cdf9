package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// machine is a made-up machine with its own data folder and clock.
type machine struct {
	t   testing.TB
	env Env
	out bytes.Buffer
	err bytes.Buffer
}

func newMachine(t testing.TB, now string) *machine {
	t.Helper()
	at, err := time.Parse(time.RFC3339, now)
	if err != nil {
		t.Fatal(err)
	}
	m := &machine{t: t}
	m.env = Env{In: strings.NewReader(""), Out: &m.out, Err: &m.err, Clock: func() time.Time { return at }, Getenv: func(string) string { return "" },
		Home: filepath.Join(t.TempDir(), "icehand"), Version: "test"}
	return m
}

// run runs a command and gives its exit status; what it printed is in out and err.
func (m *machine) run(args ...string) int {
	m.t.Helper()
	m.out.Reset()
	m.err.Reset()
	ctx, stop := context.WithTimeout(context.Background(), 5*time.Minute) // a machine may be busy with other tests
	defer stop()
	return Run(ctx, args, m.env)
}

// must runs a command that has to succeed and gives its output.
func (m *machine) must(args ...string) string {
	m.t.Helper()
	if status := m.run(args...); status != exitAnswered {
		m.t.Fatalf("icehand %s: exit status %d\n%s%s", strings.Join(args, " "), status, m.out.String(), m.err.String())
	}
	return m.out.String()
}

// object runs a command with --json and decodes its answer.
func (m *machine) object(into any, args ...string) {
	m.t.Helper()
	out := m.must(append(args, "--json")...)
	if err := json.Unmarshal([]byte(out), into); err != nil {
		m.t.Fatalf("icehand %s: %v\n%s", strings.Join(args, " "), err, out)
	}
}

const examples = "../../../examples/tamaringen/"

// record is a data folder that several tests begin with: made once, then copied.
type record struct {
	once sync.Once
	dir  string
}

var lakeRecord, demoRecord record

func TestMain(m *testing.M) {
	status := m.Run()
	os.RemoveAll(lakeRecord.dir)
	os.RemoveAll(demoRecord.dir)
	os.Exit(status)
}

// take copies a record to where the machine keeps its own; the first to ask makes it, at the time given.
func (m *machine) take(r *record, at string, make func(first *machine)) {
	m.t.Helper()
	r.once.Do(func() {
		dir, err := os.MkdirTemp("", "icehand-test")
		if err != nil {
			m.t.Fatal(err)
		}
		first := newMachine(m.t, at)
		first.env.Home = filepath.Join(dir, "icehand")
		make(first)
		r.dir = dir
	})
	if r.dir == "" {
		m.t.Fatal("the record to begin with could not be made")
	}
	if err := os.CopyFS(m.env.Home, os.DirFS(filepath.Join(r.dir, "icehand"))); err != nil {
		m.t.Fatal(err)
	}
}

// withLake begins with the four example files imported.
func (m *machine) withLake() {
	m.t.Helper()
	m.take(&lakeRecord, "2026-01-14T22:00:00Z", func(first *machine) {
		first.importLake()
		first.must("evening", "--date", "2026-01-15") // its surfaces are kept
	})
}

// importLake imports the four example files.
func (m *machine) importLake() {
	m.t.Helper()
	m.must("import", examples+"outline.geojson", "--tz", "Etc/GMT+3", "--yes")
	m.must("import", examples+"soundings.csv", "--yes")
	m.must("import", examples+"hole-log.csv", "--yes")
	m.must("import", examples+"forecast.json", "--yes")
}

// Four import commands and an evening plan whose numbers can be traced.
func TestFromFilesToPlan(t *testing.T) {
	m := newMachine(t, "2026-01-14T22:00:00Z")
	m.importLake()
	var plan struct {
		Day    string
		Stage  string
		Starts []struct {
			Letter string
			At     *posJSON
			DepthM [2]float64 `json:"depth_m"`
			Odds   oddsJSON
			Why    []whyJSON
			GiveUp float64 `json:"give_up_min"`
		}
		Pattern  struct{ Holes []posJSON }
		Holes    int `json:"hole_budget"`
		Times    map[string]string
		TurnBack turnBackJSON `json:"turn_back"`
		Evidence struct{ Holes, Looks, Fish, Soundings int }
		Footer   string
	}
	m.object(&plan, "evening", "--date", "2026-01-15")
	if plan.Day != "2026-01-15" || plan.Stage != "mid" || len(plan.Starts) != 3 {
		t.Fatalf("day %s, stage %s, %d starts", plan.Day, plan.Stage, len(plan.Starts))
	}
	for i, s := range plan.Starts {
		if s.Letter != string(rune('A'+i)) || len(s.Why) == 0 || s.GiveUp <= 0 || !(s.Odds.P > 0 && s.Odds.P < 1) || s.Odds.Low > s.Odds.P || s.Odds.High < s.Odds.P || s.Odds.WaitS <= 0 {
			t.Errorf("start %+v", s)
		}
		if s.DepthM[0] < 3 || s.DepthM[1] > 16 || s.DepthM[0] > s.DepthM[1] {
			t.Errorf("start %s: depth band %v", s.Letter, s.DepthM)
		}
	}
	if len(plan.Pattern.Holes) < 3 || plan.Evidence.Looks == 0 || plan.Evidence.Soundings < 100 || plan.Footer == "" {
		t.Errorf("%d holes in the first pattern, evidence %+v", len(plan.Pattern.Holes), plan.Evidence)
	}
	for _, code := range []string{"civil_dawn", "first_hole", "turn_back", "sunset", "civil_dusk"} {
		if plan.Times[code] == "" {
			t.Errorf("no time for %s in %v", code, plan.Times)
		}
	}
	// civil dawn 07:09 and dusk 17:08 at 47.9 N on 15 January in solar time: the invented world's own table, checked
	// against the sun model's outside checks
	if got := plan.Times["civil_dusk"]; !strings.HasPrefix(got, "2026-01-15T17:0") && !strings.HasPrefix(got, "2026-01-15T17:1") {
		t.Errorf("civil dusk %s", got)
	}
	if plan.TurnBack.At == "" || plan.TurnBack.Binding.Code == "" || plan.TurnBack.At > plan.Times["civil_dusk"] {
		t.Errorf("turn back %+v", plan.TurnBack)
	}
	text := m.must("evening", "--date", "2026-01-15")
	for _, want := range []string{"A ", "B ", "C ", "turn back", "Check local rules"} {
		if !strings.Contains(text, want) {
			t.Errorf("the plan does not say %q:\n%s", want, text)
		}
	}
}

// An outline on which no hole of the record lies is that of another water, and is refused; one that leaves some out, or takes
// another's place, says so before anything is written.
func TestOutlineOfAnotherWater(t *testing.T) {
	m := newMachine(t, "2026-01-14T22:00:00Z")
	m.withLake()
	ring := func(lat, lon, high, wide float64) string {
		f := filepath.Join(t.TempDir(), "ring.geojson")
		text := fmt.Sprintf(`{"type":"Polygon","coordinates":[[[%[2]f,%[1]f],[%[4]f,%[1]f],[%[4]f,%[3]f],[%[2]f,%[3]f],[%[2]f,%[1]f]]]}`, lat, lon, lat+high, lon+wide)
		if err := os.WriteFile(f, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return f
	}
	if status := m.run("import", ring(46, -45.2, 0.1, 0.1), "--as", "outline", "--yes"); status != exitUsage || !strings.Contains(m.err.String(), "holes on record lies on it") {
		t.Errorf("another water: status %d, %s", status, m.err.String())
	}
	if out := m.must("import", ring(47.6, -45.4, 0.6, 0.8), "--as", "outline", "--yes"); !strings.Contains(out, "this takes the place of the outline of") || strings.Contains(out, "lie off this outline") {
		t.Errorf("a wider outline: %s", out)
	}
	if out := m.must("import", ring(47.9065, -45.2, 0.2, 0.4), "--as", "outline", "--yes"); !strings.Contains(out, "lie off this outline") {
		t.Errorf("a part of the lake: %s", out)
	}
}

func TestImportTwiceAddsNothing(t *testing.T) {
	m := newMachine(t, "2026-01-14T22:00:00Z")
	m.withLake()
	var second struct {
		Files []struct {
			Rows, Taken, Refused, Duplicates, Blank int
			New                                     int `json:"new_entries"`
			Held                                    int `json:"held_entries"`
			Problems                                []problemReport
		}
	}
	m.object(&second, "import", examples+"hole-log.csv", "--yes")
	f := second.Files[0]
	if f.New != 0 || f.Held == 0 {
		t.Errorf("%d new, %d held", f.New, f.Held)
	}
	if f.Taken+f.Refused+f.Duplicates+f.Blank != f.Rows || f.Refused == 0 {
		t.Errorf("rows do not add up: %+v", f)
	}
	for _, p := range f.Problems {
		if p.Severity == "refused" && (p.Row == 0 || p.Reason == "") {
			t.Errorf("a refused row says too little: %+v", p)
		}
	}
	if out := m.must("audit"); !strings.Contains(out, "verifies") {
		t.Error(out)
	}
}

// Nothing is written before the preview is accepted.
func TestPreviewWritesNothing(t *testing.T) {
	m := newMachine(t, "2026-01-14T22:00:00Z")
	if status := m.run("import", examples+"outline.geojson", "--tz", "Etc/GMT+3"); status != exitUsage {
		t.Fatalf("exit status %d: %s", status, m.err.String())
	}
	if !strings.Contains(m.err.String(), "--yes") {
		t.Error(m.err.String())
	}
	if status := m.run("evening"); status != exitMissing {
		t.Errorf("a lake was written: exit status %d, %s", status, m.out.String())
	}
	m.env.Terminal, m.env.In = true, strings.NewReader("n\n")
	m.must("import", examples+"outline.geojson", "--tz", "Etc/GMT+3")
	if status := m.run("evening"); status != exitMissing {
		t.Errorf("no was taken for yes: exit status %d", status)
	}
	m.env.In = strings.NewReader("y\n")
	m.must("import", examples+"outline.geojson", "--tz", "Etc/GMT+3")
	m.must("light", "--date", "2026-01-15")
}

func TestMistakesAreNamedWithAHint(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	if status := m.run("audit"); status != exitMissing || !strings.Contains(m.err.String(), "hint:") {
		t.Errorf("no record: exit status %d: %s", status, m.err.String())
	}
	bad := filepath.Join(t.TempDir(), "bad.csv")
	if err := os.WriteFile(bad, []byte("Lat,Lon,Z\n47.9,-45.0,11\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		args   []string
		status int
	}{
		"unknown command":        {[]string{"fly"}, exitUsage},
		"no lake":                {[]string{"next"}, exitMissing},
		"soundings without lake": {[]string{"import", examples + "soundings.csv", "--yes"}, exitMissing},
		"outline without zone":   {[]string{"import", examples + "outline.geojson", "--yes"}, exitUsage},
		"unknown zone":           {[]string{"import", examples + "outline.geojson", "--tz", "Moon/Base", "--yes"}, exitUsage},
		"missing file":           {[]string{"import", "nowhere.csv"}, exitMissing},
		"bad units":              {[]string{"cold", "--units", "cubits", "--air", "-17 C", "--wind", "12 km/h"}, exitUsage},
		"wind without unit":      {[]string{"cold", "--air", "-17 C", "--wind", "12"}, exitUsage},
		"only air":               {[]string{"cold", "--air", "-17 C"}, exitUsage},
		"light without zone":     {[]string{"light", "--at-place", "47.9, -45"}, exitUsage},
	} {
		if status := m.run(c.args...); status != c.status {
			t.Errorf("%s: exit status %d, want %d: %s", name, status, c.status, m.err.String())
		}
		if !strings.Contains(m.err.String(), "hint:") {
			t.Errorf("%s: no hint in %q", name, m.err.String())
		}
		if m.out.Len() > 0 && c.status != exitUsage {
			t.Errorf("%s: an answer was printed: %s", name, m.out.String())
		}
	}
	m.importLake()
	for name, c := range map[string]struct {
		args   []string
		status int
	}{
		"unit not stated": {[]string{"import", bad, "--map", "Z=depth", "--yes"}, exitUsage},
		"bad date":        {[]string{"evening", "--date", "15/1"}, exitUsage},
		"bad time":        {[]string{"next", "--at", "soon"}, exitUsage},
		"bad class":       {[]string{"ice", "--load", "tank"}, exitUsage},
		"load of zero":    {[]string{"ice", "--mass", "0 kg"}, exitUsage},
		"bad position":    {[]string{"next", "--from", "91, 0"}, exitUsage},
	} {
		if status := m.run(c.args...); status != c.status || !strings.Contains(m.err.String(), "hint:") {
			t.Errorf("%s: exit status %d, want %d: %s", name, status, c.status, m.err.String())
		}
	}
	if status := m.run("import", bad, "--map", "Z=depth", "--unit", "m", "--yes"); status != exitAnswered {
		t.Errorf("the hint was followed: %d %s", status, m.err.String())
	}
}

func TestTripChangesThePlan(t *testing.T) {
	m := newMachine(t, "2026-01-14T22:00:00Z")
	m.withLake()
	if out := m.must("evening", "--date", "2026-01-15"); !strings.Contains(out, "landing not told") {
		t.Errorf("a guessed landing is not named:\n%s", out)
	}
	var before, after eveningJSON
	m.object(&before, "evening", "--date", "2026-01-15")
	m.must("trip", "--date", "2026-01-15", "--landing", "47.878, -45.042", "--ashore", "14:00", "--drill", "20 m", "--rods", "3")
	m.object(&after, "evening", "--date", "2026-01-15")
	if after.TurnBack.Binding.Code != "agreed" || !(after.TurnBack.At < before.TurnBack.At) {
		t.Errorf("agreed to be ashore at 14:00: %+v", after.TurnBack.Binding)
	}
	if after.Starts[0].DistanceM <= 0 || after.Holes == 0 || after.DrillM > 20 {
		t.Errorf("%+v, %d holes, %g m", after.Starts[0], after.Holes, after.DrillM)
	}
	for _, args := range [][]string{{"--ashore", "late"}, {"--drill", "20"}, {"--date", "someday"}, {"--travel", "sledge"}, {"--aim", "fame"}} {
		if status := m.run(append([]string{"trip"}, args...)...); status != exitUsage || !strings.Contains(m.err.String(), "hint:") {
			t.Errorf("%v: %d %s", args, status, m.err.String())
		}
	}
}

// Two published wind chill values [OsczevskiBluestein2005] and the polar case of a day without sunrise.
func TestColdAndLight(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	var c struct {
		Chill float64 `json:"wind_chill_c"`
		Min   float64 `json:"bare_skin_can_freeze_in_min"`
	}
	m.object(&c, "cold", "--air", "-25 C", "--wind", "40 km/h", "--height", "mast")
	if math.Abs(c.Chill-(-40.8)) > 0.1 || c.Min <= 0 || c.Min > 10 {
		t.Errorf("%+v", c)
	}
	if out := m.must("cold", "--air", "-25 C", "--wind", "40 km/h", "--height", "mast"); !strings.Contains(out, "Not a time allowance.") {
		t.Error(out)
	}
	var l map[string]any
	m.object(&l, "light", "--at-place", "69.6, 18.9", "--tz", "Europe/Oslo", "--date", "2026-01-01")
	if l["sunrise"] != "stays below" || l["day_length_min"] != 0.0 {
		t.Errorf("%v", l["sunrise"])
	}
	// By the clock of Greenwich the dusk of a May day at 95 W falls after midnight, and is told to.
	if out := m.must("light", "--at-place", "48, -95", "--tz", "UTC", "--date", "2026-05-10"); !strings.Contains(out, "civil dusk, the day after") || !strings.Contains(out, "civil dawn\n") {
		t.Error(out)
	}
}

// The light at the fish is answered of a place without a record too; what cannot be of it is refused, and a day without a sunrise
// or a sunset has no length.
func TestLightElsewhere(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	at := []string{"light", "--at-place", "47.9, -45", "--tz", "Etc/GMT+3", "--date", "2026-01-15"}
	ask := func(more ...string) string { return m.must(append(at[:len(at):len(at)], more...)...) }
	bare, snow := ask("--depth", "9 m", "--snow", "0 cm", "--clarity", "4 m", "--cloud", "0"), ask("--depth", "9 m", "--snow", "30 cm", "--clarity", "4 m", "--cloud", "100")
	for _, want := range []string{"Light at 9.0 m under no snow and 20 cm to 70 cm of ice; walleye band 6 to 68 lux:", "Ice not read these 7 days", "Computed, not the official table"} {
		if !strings.Contains(bare, want) {
			t.Errorf("no %q in\n%s", want, bare)
		}
	}
	if !strings.Contains(snow, "under 30 cm of snow") || !strings.Contains(snow, "not known to come into the walleye band") {
		t.Error(snow)
	}
	for _, bad := range [][]string{{"--depth", "9 km"}, {"--cloud", "120"}, {"--cloud", "-5"}, {"--snow", "-5 cm"}, {"--snow", "9 kg"}, {"--clarity", "0 m"}, {"--clarity", "4 m", "--save"}, {"--date", "3026-02-01"}} {
		if status := m.run(append(at[:len(at):len(at)], bad...)...); status != exitUsage || !strings.Contains(m.err.String(), "hint: ") {
			t.Errorf("%q: exit status %d, %s", bad, status, m.err.String())
		}
	}
	for date, want := range map[string]string{"2026-01-01": "the sun does not rise; sun highest", "2026-06-21": "the sun does not set; sun highest", "2026-11-27": "day 39 min; sun highest"} {
		if out := m.must("light", "--at-place", "69.6, 18.9", "--tz", "Europe/Oslo", "--date", date); !strings.Contains(out, want) {
			t.Errorf("%s: no %q in\n%s", date, want, out)
		}
	}
}

// A compass bearing is told only for the years of the magnetic model; outside them the true one stands with the reason.
func TestCompassOutsideTheMagneticModel(t *testing.T) {
	for year, known := range map[int]bool{2026: true, 2031: false} {
		m := newMachine(t, fmt.Sprintf("%d-01-15T12:50:00Z", year))
		m.withLake()
		folder := map[string]string{"ICEHAND_DATA": m.env.Home}
		home := m.env.Home
		m.env.Getenv, m.env.Home = func(key string) string { return folder[key] }, home+"-none"
		m.talk(fmt.Sprintf(`{"do":"look","time":"%d-01-15T09:00:00-03:00","at":%s,"marks":2}`, year, at(0, 900)))
		m.must("trip", "--landing", "47.9,-45.0")
		card, way := m.must("home", "--card"), m.must("home", "--hole", "1")
		const why = "(no compass bearing: the magnetic model covers 2025 to 2029)"
		if strings.Contains(card, "by compass") != known || strings.Contains(card, why) == known || !strings.Contains(card, "true") {
			t.Errorf("%d: %s", year, card)
		}
		if strings.Contains(way, "by compass") && !known || !strings.Contains(way, "true") && strings.Contains(way, "compass") {
			t.Errorf("%d: %s", year, way)
		}
		var shape map[string]any
		m.object(&shape, "home", "--card")
		if _, told := shape["home_magnetic_deg"]; told != known || shape["home_true_deg"] == nil {
			t.Errorf("%d: %v", year, shape)
		}
	}
}

// iceOf asks for the ice answer and checks that nothing in it sounds like a permission.
func TestIceAnswersNeverApprove(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:50:00Z")
	m.withLake()
	for _, load := range []string{"on_foot", "group", "snow_machine", "side_by_side", "car", "truck"} {
		out := strings.ToLower(m.must("ice", "--load", load))
		for _, word := range []string{"safe", "proved", "cleared", "allowed", "good ice", " fine", " ok"} {
			if strings.Contains(out, word) {
				t.Errorf("%s: says %q:\n%s", load, word, out)
			}
		}
		if strings.TrimSpace(out) == "" {
			t.Errorf("%s: says nothing", load)
		}
	}
	var a iceJSON
	m.object(&a, "ice", "--load", "on_foot")
	if a.State != "no_data" || a.Caution == "" {
		t.Errorf("no reading of that day: %+v", a)
	}
}

func TestExportBackupRestore(t *testing.T) {
	m := newMachine(t, "2026-01-14T22:00:00Z")
	m.withLake()
	var g struct {
		Features []struct{ Properties map[string]any }
	}
	if err := json.Unmarshal([]byte(m.must("export", "geojson")), &g); err != nil || len(g.Features) < 20 {
		t.Errorf("%d features, %v", len(g.Features), err)
	}
	if csv := m.must("export", "csv"); strings.Count(csv, "\n") < 20 || !strings.HasPrefix(csv, "what,time,day,hole") {
		t.Error(csv)
	}
	nd := m.must("export", "ndjson")
	lines := 0
	for _, l := range strings.Split(strings.TrimSpace(nd), "\n") {
		if lines++; !json.Valid([]byte(l)) {
			t.Fatalf("line %d is not JSON", lines)
		}
	}
	if lines < 50 {
		t.Errorf("%d lines", lines)
	}
	file := filepath.Join(t.TempDir(), "evening.backup")
	m.must("backup", file)
	plan := m.must("evening", "--date", "2026-01-15")
	other := newMachine(t, "2026-01-14T22:00:00Z")
	other.must("restore", file)
	if again := other.must("evening", "--date", "2026-01-15"); again != plan {
		t.Errorf("the restored record answers differently:\n%s\n%s", plan, again)
	}
	if status := other.run("restore", file); status == exitAnswered {
		t.Error("restored over a record")
	}
	damaged, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	i := bytes.LastIndex(damaged, []byte(`"marks"`))
	if i < 0 {
		t.Fatal("no entry found in the backup")
	}
	damaged[i+1] ^= 1
	if err := os.WriteFile(file, damaged, 0o600); err != nil {
		t.Fatal(err)
	}
	third := newMachine(t, "2026-01-14T22:00:00Z")
	if status := third.run("restore", file); status != exitDamaged {
		t.Errorf("a damaged backup: exit status %d, %s", status, third.err.String())
	}
	if status := third.run("evening"); status != exitMissing {
		t.Errorf("something was left behind: %d", status)
	}
}

// A damaged record is named, and what is whole in it can still be taken out.
func TestDamageIsNamed(t *testing.T) {
	m := newMachine(t, "2026-01-14T22:00:00Z")
	m.withLake()
	whole := strings.Count(m.must("export", "ndjson", "--what-is-whole"), "\n")
	db := filepath.Join(m.env.Home, "icehand.db")
	data, err := os.ReadFile(db)
	if err != nil {
		t.Fatal(err)
	}
	i := bytes.LastIndex(data, []byte(`"marks"`))
	if i < 0 {
		t.Fatal("no look found in the file")
	}
	data[i+2] ^= 4
	if err := os.WriteFile(db, data, 0o600); err != nil {
		t.Fatal(err)
	}
	if status := m.run("audit"); status != exitDamaged || !strings.Contains(m.out.String(), "damaged:") || !strings.Contains(m.err.String(), "hint:") {
		t.Errorf("exit status %d: %s%s", status, m.out.String(), m.err.String())
	}
	if status := m.run("evening"); status != exitDamaged {
		t.Errorf("a damaged record was answered from: %d", status)
	}
	if left := strings.Count(m.must("export", "ndjson", "--what-is-whole"), "\n"); left == 0 || left >= whole {
		t.Errorf("%d entries taken out of %d", left, whole)
	}
	if !strings.Contains(m.err.String(), "left behind:") {
		t.Error("what was left behind is not named")
	}
}

func TestSecondWriterIsRefused(t *testing.T) {
	m := newMachine(t, "2026-01-14T22:00:00Z")
	m.withLake()
	g := Globals{Data: m.env.Home, Units: "si", env: m.env}
	s, err := g.write(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	if status := m.run("import", examples+"hole-log.csv", "--yes"); status != exitConflict || !strings.Contains(m.err.String(), fmt.Sprint(os.Getpid())) {
		t.Errorf("exit status %d: %s", status, m.err.String())
	}
	m.must("evening", "--date", "2026-01-15") // readers work beside a writer
}

// The rescue card's formats, worked by GeographicLib 2.1.2 for other points in base/geo; here that they belong together.
func TestRescueCard(t *testing.T) {
	m := newMachine(t, "2026-01-14T22:00:00Z")
	m.withLake()
	m.must("trip", "--landing", "47.878, -45.042", "--date", "2026-01-14")
	var c rescueJSON
	m.object(&c, "home", "--card", "--from", "47.9, -45.0")
	if !c.Fix || c.Grid != "23T NP 0000 0518" || c.Minutes != "47-54.000N 45-0.000W" || c.LandingGuess || len(c.Aloud) == 0 {
		t.Errorf("%+v", c)
	}
	// 3.98 km by the plane of the lake; about 15 degrees west of true in 2026 by the magnetic model, so the compass shows more
	if c.DistanceM < 3900 || c.DistanceM > 4050 || c.BearingMag == nil || math.Abs(*c.BearingMag-c.BearingTrue-15) > 1.5 {
		t.Errorf("%+v", c)
	}
	if out := m.must("home", "--card"); !strings.Contains(out, "no fix: the place of hole") || !strings.Contains(out, "Call the emergency number") {
		t.Errorf("without a fix:\n%s", out)
	}
}

func TestSelfcheck(t *testing.T) {
	m := newMachine(t, "2026-01-14T22:00:00Z")
	var r struct{ Rows, Hold int }
	m.object(&r, "selfcheck")
	if r.Rows < 200 || r.Hold != r.Rows {
		t.Errorf("%d of %d hold", r.Hold, r.Rows)
	}
	wrong := filepath.Join(t.TempDir(), "wrong.csv")
	if err := os.WriteFile(wrong, []byte("id,quantity,inputs,expected,unit,tolerance,source,recalled\nX1,wind_chill_si,air_c=-25;wind_kmh=40,-10,degC,0.1,Nobody: made up for this test,no\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if status := m.run("selfcheck", "--file", wrong); status == exitAnswered || !strings.Contains(m.out.String()+m.err.String(), "0 of 1") {
		t.Errorf("a wrong row passed: %d\n%s%s", status, m.out.String(), m.err.String())
	}
}
