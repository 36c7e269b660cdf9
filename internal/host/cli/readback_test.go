package cli

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// What we write as GeoJSON is read back by GDAL (ogr2ogr -f CSV -lco GEOMETRY=AS_WKT) without a warning: as many features, and
// each hole at its place with its depth, to the digits written.
func TestGDALReadsOurGeoJSONBack(t *testing.T) {
	program, err := exec.LookPath("ogr2ogr")
	if err != nil {
		t.Skip("ogr2ogr of GDAL is not installed: the GeoJSON that we write was not read back by it")
	}
	m := newMachine(t, "2026-01-15T12:00:00Z")
	m.withLake()
	dir := t.TempDir()
	from, to := filepath.Join(dir, "record.geojson"), filepath.Join(dir, "record.csv")
	m.must("export", "geojson", "--out", from)
	var g struct {
		Features []struct {
			Geometry struct {
				Type        string
				Coordinates json.RawMessage
			}
			Properties struct {
				What  string
				Depth *float64 `json:"depth_m"`
			}
		}
	}
	if err := json.Unmarshal([]byte(m.must("export", "geojson")), &g); err != nil {
		t.Fatal(err)
	}
	if said, err := exec.Command(program, "-f", "CSV", "-lco", "GEOMETRY=AS_WKT", to, from).CombinedOutput(); err != nil || len(strings.TrimSpace(string(said))) != 0 {
		t.Fatalf("GDAL says %v %s", err, said)
	}
	raw, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(string(raw))).ReadAll()
	if err != nil || len(rows) != len(g.Features)+1 {
		t.Fatalf("%d rows of %d features, %v", len(rows), len(g.Features), err)
	}
	column := func(name string) int {
		i := slices.Index(rows[0], name)
		if i < 0 {
			t.Fatalf("GDAL knows no %s: %q", name, rows[0])
		}
		return i
	}
	wkt, what, depth := column("WKT"), column("what"), column("depth_m")
	number := func(text string) float64 {
		x, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Errorf("%q is no number", text)
		}
		return x
	}
	holes, deep := 0, 0
	for i, f := range g.Features {
		row := rows[i+1]
		if f.Properties.What != row[what] {
			t.Errorf("feature %d is a %q, GDAL has %q", i, f.Properties.What, row[what])
		}
		if f.Geometry.Type != "Point" {
			continue
		}
		holes++
		var at [2]float64
		if err := json.Unmarshal(f.Geometry.Coordinates, &at); err != nil {
			t.Fatal(err)
		}
		x, y, ok := strings.Cut(strings.TrimSuffix(strings.TrimPrefix(row[wkt], "POINT ("), ")"), " ")
		// 7 decimals are written: half of the last is 5e-8 degree
		if !ok || math.Abs(number(x)-at[0]) > 5e-8 || math.Abs(number(y)-at[1]) > 5e-8 {
			t.Errorf("%v came back as %s", at, row[wkt])
		}
		if (f.Properties.Depth != nil) != (row[depth] != "") {
			t.Errorf("the depth of feature %d came back as %q", i, row[depth])
		} else if f.Properties.Depth != nil {
			if deep++; number(row[depth]) != *f.Properties.Depth {
				t.Errorf("%v m came back as %s", *f.Properties.Depth, row[depth])
			}
		}
	}
	if holes < 20 || deep < 10 {
		t.Errorf("%d points and %d depths were looked at", holes, deep)
	}
}

// readCalendar prints what the icalendar library of Python understands: a line an event, its alarms after it.
const readCalendar = `
import sys, json, icalendar
cal = icalendar.Calendar.from_ical(sys.stdin.buffer.read())
assert cal.get('version') == '2.0' and cal.get('prodid'), 'no version or maker'
out = []
for e in cal.walk('VEVENT'):
    assert not e.errors, e.errors
    out.append({'uid': str(e['uid']), 'summary': str(e['summary']), 'description': str(e.get('description', '')),
                'start': e['dtstart'].dt.isoformat(), 'alarms': [int(a['trigger'].dt.total_seconds()) for a in e.walk('VALARM')]})
json.dump(out, sys.stdout)
`

// What we write as a calendar is understood by a reader that is not ours (python3-icalendar of Debian, made after [RFC5545]).
func TestAnotherProgramReadsOurCalendar(t *testing.T) {
	python := ""
	for _, name := range []string{"python3", "/usr/bin/python3"} { // Debian's own has its packages, another may come first
		if exec.Command(name, "-c", "import icalendar").Run() == nil {
			python = name
			break
		}
	}
	if python == "" {
		t.Skip("python3 with icalendar is not installed: the calendar that we write was not read by another program")
	}
	m := newMachine(t, "2026-01-15T12:00:00Z")
	m.withLake()
	m.must("trip", "--landing", "47.9,-45.0", "--ashore", "16:30")
	cmd := exec.Command(python, "-c", readCalendar)
	cmd.Stdin = strings.NewReader(m.must("export", "calendar"))
	raw, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v", err)
	}
	var events []struct {
		UID, Summary, Description, Start string
		Alarms                           []int
	}
	if err := json.Unmarshal(raw, &events); err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, e := range events {
		if e.UID == "" || seen[e.UID] {
			t.Errorf("the identity %q is empty or taken", e.UID)
		}
		seen[e.UID] = true
		if e.Summary == "Ashore by now, as agreed" {
			seen["ashore"] = true
			// 16:30 three hours west of Greenwich, with the alarm half an hour before
			if e.Start != "2026-01-15T19:30:00+00:00" || !slices.Contains(e.Alarms, -1800) {
				t.Errorf("%+v", e)
			}
		}
		seen["turn back"] = seen["turn back"] || e.Summary == "Turn back"
	}
	if !seen["ashore"] || !seen["turn back"] {
		t.Errorf("%s", raw)
	}
}
