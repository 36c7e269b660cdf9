package cli

import (
	"bytes"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"icehand/internal/feed/weather/standin"
)

const weatherContact = "guide@outfit.example"

// withWeather gives a machine with the example lake and services on loopback that stand in for the real ones.
func withWeather(t *testing.T, now string) (*machine, *standin.Server, map[string]string) {
	t.Helper()
	m := newMachine(t, now)
	m.must("import", examples+"outline.geojson", "--tz", "Etc/GMT+3", "--yes")
	clock := m.env.Clock
	srv := standin.New(clock)
	t.Cleanup(srv.Close)
	env := map[string]string{"ICEHAND_WEATHER_CONTACT": weatherContact, "ICEHAND_WEATHER_NWS_URL": srv.URL, "ICEHAND_WEATHER_METNO_URL": srv.URL, "ICEHAND_WEATHER_OPENMETEO_URL": srv.URL}
	m.env.Getenv = func(k string) string { return env[k] }
	return m, srv, env
}

func (m *machine) later(d time.Duration) {
	now := m.env.Clock().Add(d)
	m.env.Clock = func() time.Time { return now }
}

// The lake lies outside the first service's country: the second answers, is credited as its licence asks [METNorway], and
// the record holds its issue time.
func TestWeatherIsFetchedSavedAndCredited(t *testing.T) {
	m, srv, _ := withWeather(t, "2026-01-14T18:00:00Z")
	out := m.must("weather")
	for _, want := range []string{"MET Norway Locationforecast, issued 2026-01-14 07:52, 7 h ago.", "note: US National Weather Service: it answered with status 404",
		"  14 Jan 15:00  -13 C, wind NNE 23 km/h, snow or rain", "CC BY 4.0"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is missing in\n%s", want, out)
		}
	}
	if strings.Contains(m.must("export", "ndjson"), "forecast") {
		t.Error("written without --save")
	}
	out = m.must("weather", "--save", "--provider", "metno")
	if !strings.Contains(out, "metno-20260114T1052Z.json: wrote 2 entries") {
		t.Error(out)
	}
	record := m.must("export", "ndjson")
	// 1768387931000 ms is 2026-01-14T10:52:11Z (date -u -d 2026-01-14T10:52:11Z +%s)
	for _, want := range []string{`"issued":1768387931000`, `"source":"MET Norway Locationforecast"`, `"licence":"CC BY 4.0"`} {
		if !strings.Contains(record, want) {
			t.Errorf("%s is not in the record", want)
		}
	}
	for _, secret := range []string{weatherContact, srv.URL} {
		if strings.Contains(record, secret) {
			t.Errorf("%q went into the record", secret)
		}
	}
	if out = m.must("weather", "--save"); !strings.Contains(out, "on record already") {
		t.Error(out)
	}
	var answer weatherJSON
	m.object(&answer, "weather", "--provider", "metno")
	if answer.Provider != "metno" || answer.Issued != "2026-01-14T07:52:11-03:00" || answer.AgeS != 25669 || answer.Stale || answer.Copy || len(answer.Hours) != 12 || answer.Hours[0].Gust != nil || *answer.Hours[0].Air != -18.3 {
		t.Errorf("%+v", answer)
	}
}

// An older answer must not hide a newer one on record, since the entry written last counts.
func TestAnOlderForecastIsNotWrittenOverANewerOne(t *testing.T) {
	m, srv, _ := withWeather(t, "2026-01-14T18:00:00Z")
	m.must("weather", "--save")
	m.later(time.Hour)
	srv.Set(standin.Trouble{Old: 20 * time.Hour})
	out := m.must("weather", "--save")
	for _, want := range []string{"Too old to plan on", "28 h old", "the record holds a forecast issued later, 8 h ago"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is missing in\n%s", want, out)
		}
	}
	if n := strings.Count(m.must("export", "ndjson"), `"what":"forecast"`); n != 1 {
		t.Errorf("%d forecasts on record", n)
	}
}

func TestWithoutSignalTheLastGoodCopyIsShown(t *testing.T) {
	m, srv, _ := withWeather(t, "2026-01-14T18:00:00Z")
	m.must("weather", "--provider", "metno")
	m.later(3 * time.Hour)
	srv.Set(standin.Trouble{Refuse: []int{403, 403, 403, 403, 403, 403}}) // at once, where a busy one is waited for
	out := m.must("weather", "--provider", "metno")
	if !strings.Contains(out, "last good copy, fetched 3 h ago") || !strings.Contains(out, "issued 2026-01-14 07:52, 10 h ago") {
		t.Error(out)
	}
	m.later(48 * time.Hour)
	if status := m.run("weather", "--provider", "metno"); status != exitUnavailable {
		t.Errorf("exit status %d: %s%s", status, m.out.String(), m.err.String())
	}
}

func TestWeatherFaults(t *testing.T) {
	m, srv, env := withWeather(t, "2026-01-14T18:00:00Z")
	env["ICEHAND_WEATHER_CONTACT"] = ""
	if status := m.run("weather"); status != exitMissing || !strings.Contains(m.err.String(), "ICEHAND_WEATHER_CONTACT") || len(srv.Seen()) != 0 {
		t.Errorf("no contact: %d, %s", status, m.err.String())
	}
	env["ICEHAND_WEATHER_CONTACT"] = weatherContact
	if status := m.run("weather", "--provider", "openmeteo"); status != exitMissing || !strings.Contains(m.err.String(), "key") {
		t.Errorf("no key: %d, %s", status, m.err.String())
	}
	if status := m.run("weather", "--provider", "other"); status != exitUsage {
		t.Errorf("no such service: %d, %s", status, m.err.String())
	}
	env["ICEHAND_WEATHER_METNO_URL"] = "http://weather.example"
	if status := m.run("weather", "--provider", "metno"); status != exitUsage || !strings.Contains(m.err.String(), "https") {
		t.Errorf("not encrypted: %d, %s", status, m.err.String())
	}
	if err := os.WriteFile(filepath.Join(m.env.Home, "icehand.json"), []byte(`{"weather":{"openmeteo_key":SECRET}}`), 0o600); err != nil {
		t.Fatal(err)
	}
	if status := m.run("weather"); status != exitUsage || strings.Contains(m.err.String(), "SECRET") {
		t.Errorf("broken settings: %d, %s", status, m.err.String())
	}
	empty := newMachine(t, "2026-01-14T18:00:00Z")
	empty.env.Getenv = func(k string) string { return env[k] }
	env["ICEHAND_WEATHER_METNO_URL"] = srv.URL
	if status := empty.run("weather"); status != exitMissing {
		t.Errorf("no lake: %d, %s", status, empty.err.String())
	}
}

// Settings of the machine come out of icehand.json; the key stays there.
func TestTheKeyStaysInTheSettings(t *testing.T) {
	m, srv, env := withWeather(t, "2026-01-14T18:00:00Z")
	env["ICEHAND_WEATHER_CONTACT"] = ""
	settings := filepath.Join(m.env.Home, "icehand.json")
	raw := `{"units":"si","weather":{"contact":"` + weatherContact + `","providers":["openmeteo"],"openmeteo_key":"` + standin.Key + `"}}`
	if err := os.WriteFile(settings, []byte(raw), 0o600); err != nil {
		t.Fatal(err)
	}
	out := m.must("weather", "--save")
	for _, want := range []string{"Open-Meteo, fetched just now; its issue time is not told", "snow 0.2 cm", "Weather data from Open-Meteo, CC BY 4.0"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is missing in\n%s", want, out)
		}
	}
	if seen := srv.Seen(); len(seen) != 1 || !strings.Contains(seen[0].Query, "apikey="+standin.Key) {
		t.Errorf("%+v", seen)
	}
	if strings.Contains(out+m.err.String()+m.must("export", "ndjson"), standin.Key) {
		t.Error("the key was printed or written")
	}
	files := 0
	err := filepath.WalkDir(m.env.Home, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || path == settings {
			return err
		}
		files++
		raw, err := os.ReadFile(path)
		if err == nil && bytes.Contains(raw, []byte(standin.Key)) {
			t.Errorf("the key is in %s", path)
		}
		return err
	})
	if err != nil || files < 2 {
		t.Error(files, err)
	}
	// an older record without a forecast of the wind counts dusk early: the unknown issue time makes it so
	if out := m.must("home"); !strings.Contains(out, "time of issue is not known") {
		t.Error(out)
	}
}
