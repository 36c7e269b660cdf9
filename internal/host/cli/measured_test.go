package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"icehand/internal/feed/weather/standin"
)

// inland gives a machine with a made-up lake inside the country of the service that tells what stations measure.
func inland(t *testing.T, now string) (*machine, *standin.Server) {
	t.Helper()
	m := newMachine(t, now)
	path := filepath.Join(t.TempDir(), "outline.geojson")
	const square = `{"type":"Polygon","coordinates":[[[-93.72,46.19],[-93.68,46.19],[-93.68,46.21],[-93.72,46.21],[-93.72,46.19]]]}`
	if err := os.WriteFile(path, []byte(square), 0o600); err != nil {
		t.Fatal(err)
	}
	m.must("import", path, "--tz", "America/Chicago", "--yes")
	srv := standin.New(m.env.Clock)
	t.Cleanup(srv.Close)
	env := map[string]string{"ICEHAND_WEATHER_CONTACT": weatherContact, "ICEHAND_WEATHER_NWS_URL": srv.URL, "ICEHAND_WEATHER_METNO_URL": srv.URL, "ICEHAND_WEATHER_OPENMETEO_URL": srv.URL}
	m.env.Getenv = func(k string) string { return env[k] }
	return m, srv
}

func TestWhatAStationMeasuredStandsBesideTheForecast(t *testing.T) {
	m, srv := inland(t, "2026-01-14T18:05:00Z")
	if out := m.must("weather"); strings.Contains(out, "Measured") {
		t.Errorf("asked without being told to:\n%s", out)
	}
	out := m.must("weather", "--observed", "--save")
	for _, want := range []string{"Measured 12 min ago by station KZZA (Made-up Airfield East), 16.4 km ESE of the lake, not on the ice:",
		"  14 Jan 11:53 -06:00  -14 C, wind NW 26 km/h, gusts 39 km/h", "The forecast "} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is missing in\n%s", want, out)
		}
	}
	record := m.must("export", "ndjson")
	if n := strings.Count(record, `"station":"KZZA"`); n != 4 || !strings.Contains(record, `"air_dc":-144`) {
		t.Errorf("%d readings on record", n)
	}
	m.must("weather", "--observed", "--save")
	if n := strings.Count(m.must("export", "ndjson"), `"station":"KZZA"`); n != 4 {
		t.Errorf("%d readings on record after the second time", n)
	}
	// the watch takes them for what they are
	if out := m.must("cold"); !strings.Contains(out, "-14 C") {
		t.Error(out)
	}
	var answer weatherJSON
	m.object(&answer, "weather", "--observed")
	if a := answer.Measured; a == nil || a.Station != "KZZA" || len(a.Readings) != 4 || a.Stale || *a.Readings[3].From != 320 {
		t.Errorf("%+v", answer.Measured)
	}
	// without a reading the forecast stands
	srv.Set(standin.Trouble{Silent: []string{"KZZA", "KZZB"}})
	if out := m.must("weather", "--observed", "--save"); !strings.Contains(out, "note: Nothing measured: no station near the lake told its weather.") {
		t.Error(out)
	}
	m.later(3 * time.Hour)
	srv.Set(standin.Trouble{})
	if out := m.must("weather", "--observed"); !strings.Contains(out, "Too old to stand for now") {
		t.Error(out)
	}
}
