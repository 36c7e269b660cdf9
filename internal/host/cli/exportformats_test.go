package cli

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"icehand/internal/feed/file"
	"icehand/internal/feed/gpx"
	"icehand/internal/feed/kml"
)

// The holes of one record are the same in every format, and what GPX and KML say of depths is read in again as soundings.
func TestTheSameHolesInEveryFormat(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:00:00Z")
	m.withLake()
	var g struct {
		Features []struct {
			Geometry   struct{ Coordinates json.RawMessage }
			Properties struct {
				What  string
				Depth json.Number `json:"depth_m"`
			}
		}
	}
	if err := json.Unmarshal([]byte(m.must("export", "geojson")), &g); err != nil {
		t.Fatal(err)
	}
	holes, deep := 0, 0
	for _, f := range g.Features {
		if f.Properties.What == "hole" {
			holes++
			if f.Properties.Depth != "" {
				deep++
			}
		}
	}
	if holes < 20 || deep < 10 {
		t.Fatalf("%d holes, %d with a depth", holes, deep)
	}
	d, p, err := gpx.Read("a.gpx", []byte(m.must("export", "gpx")), file.Options{})
	if err != nil || len(p.Problems) > 0 {
		t.Fatalf("%+v %v", p, err)
	}
	k, err := kml.Read([]byte(m.must("export", "kml")), file.Options{})
	if err != nil {
		t.Fatal(err)
	}
	points, marks := 0, 0
	for i, w := range d.Waypoints {
		if w.Type != "hole" {
			continue
		}
		points++
		if !strings.Contains(w.Description, "looks ") || k.Placemarks[i].Name != w.Name || k.Placemarks[i].Description != w.Description || k.Placemarks[i].Points[0] != w.Pos {
			t.Errorf("%+v and %+v", w, k.Placemarks[i])
		}
		w.Extensions.Fields(func(name, text string) {
			if name == "depth_m" && strings.Contains(w.Description, "depth "+text+" m") {
				marks++
			}
		})
	}
	if points != holes || marks != deep {
		t.Errorf("%d holes in GPX, %d in GeoJSON; %d and %d depths", points, holes, marks, deep)
	}
	dir := t.TempDir()
	for _, name := range []string{"gpx", "kml"} {
		path := filepath.Join(dir, "holes."+name)
		m.must("export", name, "--out", path)
		out := m.must("import", path, "--yes", "--as", "soundings")
		if !strings.Contains(out, "soundings, ") || !strings.Contains(out, "wrote ") || !strings.Contains(out, "these take the place of the soundings of") {
			t.Errorf("%s: %s", name, out)
		}
		program, err := exec.LookPath("ogrinfo")
		if err != nil {
			t.Log("ogrinfo of GDAL is not installed: what we write was not read back by it")
			continue
		}
		told, err := exec.Command(program, "-ro", "-al", path).CombinedOutput()
		if low := strings.ToLower(string(told)); err != nil || strings.Contains(low, "warning") || strings.Contains(low, "error") || !strings.Contains(string(told), "depth_m") {
			t.Errorf("GDAL on %s: %v\n%.2000s", name, err, told)
		}
	}
}

// Soundings of another lake must not take the place of this lake's chart.
func TestSoundingsOfAnotherLakeAreRefused(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:00:00Z")
	m.withLake()
	if status := m.run("import", "../../feed/gpx/testdata/sample.gpx", "--yes"); status != exitUsage || !strings.Contains(m.err.String(), "none of its 1 soundings lies on the lake") {
		t.Error(status, m.out.String(), m.err.String())
	}
}

func TestTheCalendarHoldsTheTurnBackTimeAndNoPlace(t *testing.T) {
	m := newMachine(t, "2026-01-15T12:00:00Z")
	m.withLake()
	m.must("trip", "--landing", "47.9,-45.0", "--ashore", "16:30")
	out := m.must("export", "calendar")
	for _, want := range []string{"BEGIN:VCALENDAR\r\n", "SUMMARY:Turn back\r\n", "SUMMARY:Ashore by now\\, as agreed\r\n", "DTSTART:20260115T193000Z\r\n", "TRIGGER:-PT30M\r\n"} { // 16:30 three hours west of Greenwich
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	if strings.Contains(out, "47.9") || strings.Contains(out, "-45") {
		t.Errorf("a place:\n%s", out)
	}
}

// A shapefile is taken with the files beside it; without them the answer says what to do. The samples of GDAL 3.6.2 are those of package chart.
func TestAShapefileComesWithItsCompanions(t *testing.T) {
	dir := t.TempDir()
	unzip, err := exec.LookPath("unzip")
	if err != nil {
		t.Skip("unzip is not installed: the sample cannot be laid out as files")
	}
	if out, err := exec.Command(unzip, "-q", "../../feed/chart/testdata/shapes/lake-26923.zip", "-d", dir).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	m := newMachine(t, "2026-01-15T12:00:00Z")
	path := filepath.Join(dir, "lake-26923.shp")
	out := m.must("import", path, "--tz", "Etc/GMT+3", "--yes")
	if !strings.Contains(out, `founds the lake "Lake Tamaringen"`) || !strings.Contains(out, "NAD83") {
		t.Error(out)
	}
	if again := m.must("import", path, "--tz", "Etc/GMT+3", "--yes"); !strings.Contains(again, "nothing new") {
		t.Error(again)
	}
	alone := filepath.Join(t.TempDir(), "alone.shp")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(alone, data, 0o600); err != nil {
		t.Fatal(err)
	}
	if status := m.run("import", alone, "--yes"); status != exitUsage || !strings.Contains(m.err.String(), ".prj") {
		t.Error(status, m.err.String())
	}
}

func TestAStationIsRecordedWithItsFrost(t *testing.T) {
	m := newMachine(t, "2026-02-01T12:00:00Z")
	m.withLake()
	out := m.must("import", "../../feed/station/testdata/ghcn_sample.dly", "--yes")
	for _, want := range []string{"900 °C·d of frost alone, 899 with thaw taken off; 4 days filled", "wrote 2"} {
		if !strings.Contains(strings.ToLower(out), strings.ToLower(want)) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
}
