package weather

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/feed/file"
)

func payload(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("standin/payload/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// expected gives the rows of the table of hours.
func expected(t *testing.T) [][]string {
	t.Helper()
	data, err := os.ReadFile("testdata/other_expected_hourly.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(bytes.NewReader(data))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) != 13 {
		t.Fatal("no cases:", len(rows), err)
	}
	return rows[1:]
}

// Both services tell the hours of one table, computed apart from this program: Open-Meteo stamps amounts at the end of
// their hour [OpenMeteo], MET Norway at its start [METNorway].
func TestTwoServicesTellTheSameHours(t *testing.T) {
	for _, c := range []struct {
		source, file string
		wind         float64 // half a unit of the service's last digit, in m/s
	}{{"METNorway", "metno_complete.json", 0.05}, {"OpenMeteo", "openmeteo.json", 0.05 / 3.6}} {
		t.Run(c.source, func(t *testing.T) {
			f, p, err := Read(c.file, payload(t, c.file), file.Options{})
			rows := expected(t)
			if err != nil || len(f.Hours) != len(rows) || p.Rows != len(rows) || p.Taken != p.Rows {
				t.Fatalf("%d hours, %+v, %v", len(f.Hours), p, err)
			}
			for i, row := range rows {
				h := f.Hours[i]
				if got := h.Start.Format(time.RFC3339); got != row[0] {
					t.Errorf("hour %d starts %s, want %s", i, got, row[0])
				}
				near(t, row[0]+" air", num(h.Temperature), row[1], 1, 1e-9)
				near(t, row[0]+" wind", num(h.Wind), row[2], 1, c.wind+1e-9)
				near(t, row[0]+" from", num(h.WindFrom), row[3], 1, 1e-9)
				near(t, row[0]+" sky", num(h.Sky), row[4], 100, 1e-9)
				near(t, row[0]+" precipitation", num(h.Precip), row[5], 1000, 1e-9)
				if c.source == "OpenMeteo" {
					near(t, row[0]+" snow", num(h.Snow), row[6], 1000, 1e-9)
				} else if h.Snow != nil {
					t.Error("MET Norway tells no snow")
				}
			}
			if kind, why := file.Detect(c.file, payload(t, c.file)); kind != file.Weather {
				t.Error(kind, why)
			}
			if f.Licence != "CC BY 4.0" || !strings.Contains(strings.Join(p.Summary, "\n"), "CC BY 4.0") {
				t.Error("the credit that the licence asks for is not shown", p.Summary)
			}
		})
	}
}

func near(t *testing.T, what, got, want string, scale, tolerance float64) {
	t.Helper()
	if got == "" || want == "" {
		if got != want {
			t.Errorf("%s: %q, want %q", what, got, want)
		}
		return
	}
	g, _ := strconv.ParseFloat(got, 64)
	w, err := strconv.ParseFloat(want, 64)
	if err != nil || math.Abs(g*scale-w) > tolerance {
		t.Errorf("%s: %v, want %v", what, g*scale, w)
	}
}

func TestIssueTimesOfTheServices(t *testing.T) {
	f, _, err := Read("m", payload(t, "metno_complete.json"), file.Options{})
	if err != nil || f.Issued.Format(time.RFC3339) != "2026-01-14T10:52:11Z" {
		t.Error(f.Issued, err)
	}
	f, p, err := Read("o", payload(t, "openmeteo.json"), file.Options{})
	if err != nil || !f.Issued.IsZero() || !f.Stale(f.Hours[0].Start) {
		t.Error("Open-Meteo does not say when its models ran: the age is unknown", f.Issued, err)
	}
	found := false
	for _, x := range p.Problems {
		found = found || strings.Contains(x.Reason, "age is unknown")
	}
	if !found {
		t.Error("the preview does not say so")
	}
	// the greatest gust of 06:00 to 07:00 is stamped 07:00; that of the last hour is not told [OpenMeteo]
	if g := f.Hours[0].Gust; g == nil || math.Abs(g.KilometresPerHour()-30.5) > 1e-9 || f.Hours[11].Gust != nil {
		t.Error(g)
	}
}

func met(units, series string) string {
	return `{"properties":{"meta":{"updated_at":"2026-01-14T10:00:00Z","units":{` + units + `}},"timeseries":[` + series + `]}}`
}

func metEntry(stamp, details string) string {
	return `{"time":"` + stamp + `","data":{"instant":{"details":{` + details + `}}}}`
}

func om(units, hourly string) string {
	return `{"utc_offset_seconds":0,"hourly_units":{"time":"iso8601",` + units + `},"hourly":{"time":["2026-01-14T06:00","2026-01-14T07:00"],` + hourly + `}}`
}

func TestServicesAreRefusedRatherThanGuessed(t *testing.T) {
	entry := metEntry("2026-01-14T12:00:00Z", `"air_temperature":260.1`)
	for name, c := range map[string]struct{ data, want string }{
		"met: unknown unit":         {met(`"air_temperature":"kelvin"`, entry), "kelvin"},
		"met: unit is a number":     {met(`"air_temperature":1`, entry), "not known"},
		"met: no unit":              {met(`"wind_speed":"m/s"`, entry), "air_temperature is in the unit"},
		"met: no times":             {met(`"air_temperature":"celsius"`, ""), "no hour"},
		"met: times not a list":     {`{"properties":{"timeseries":7}}`, "no list of times"},
		"met: bad issue time":       {`{"properties":{"meta":{"updated_at":"soon"},"timeseries":[]}}`, "issue time"},
		"met: all null":             {met(`"air_temperature":"celsius"`, metEntry("2026-01-14T12:00:00Z", `"air_temperature":null`)), "no hour"},
		"met: impossible":           {met(`"air_temperature":"celsius"`, metEntry("2026-01-14T12:00:00Z", `"air_temperature":-120`)), "no hour"},
		"om: unknown unit":          {om(`"snowfall":"m"`, `"snowfall":[0,0]`), `snowfall is in the unit`},
		"om: no unit":               {om(`"x":"y"`, `"temperature_2m":[1,2]`), "temperature_2m is in the unit"},
		"om: too few":               {om(`"temperature_2m":"°C"`, `"temperature_2m":[1]`), "1 values for 2 times"},
		"om: too many":              {om(`"temperature_2m":"°C"`, `"temperature_2m":[1,2,3]`), "3 values for 2 times"},
		"om: not a list":            {om(`"temperature_2m":"°C"`, `"temperature_2m":{"a":1}`), "0 values for 2 times"},
		"om: local, no offset":      {`{"hourly_units":{"time":"iso8601"},"hourly":{"time":["2026-01-14T06:00"]}}`, "no offset"},
		"om: offset of a day":       {`{"utc_offset_seconds":86400,"hourly_units":{"time":"iso8601"},"hourly":{"time":["2026-01-14T06:00"]}}`, "no offset"},
		"om: times of another form": {`{"hourly_units":{"time":"julian"},"hourly":{"time":[2461055]}}`, "not known here"},
		"om: no form of time":       {`{"hourly":{"time":[2461055]}}`, "not known here"},
		"om: all null":              {om(`"temperature_2m":"°C"`, `"temperature_2m":[null,null]`), "no hour"},
		"om: an error":              {string(payload(t, "openmeteo_error_400.json")), "Latitude must be in range"},
		"nws: a problem":            {string(payload(t, "nws_problem_503.json")), "Forecast Grid Expired"},
	} {
		f, _, err := Read(name, []byte(c.data), file.Options{})
		if fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), c.want) || f.Hours != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestRowsOfServicesAreTakenOrListed(t *testing.T) {
	f, p, err := Read("m", []byte(met(`"air_temperature":"celsius","new_thing":"furlong"`, strings.Join([]string{
		metEntry("2026-01-14T12:00:00Z", `"air_temperature":-5,"new_thing":3`),
		metEntry("2026-01-14T12:00:00Z", `"air_temperature":-6`), // twice
		metEntry("2026-01-14T11:00:00Z", `"air_temperature":-6`), // backwards
		metEntry("2026-01-14T13:30:00Z", `"air_temperature":-6`), // half an hour
		metEntry("2026-01-14T14:00:00Z", `"air_temperature":"-6"`),
		metEntry("2026-01-14T15:00:00+00:00", `"air_temperature":null`),
		metEntry("2026-06-14T15:00:00Z", `"air_temperature":12`),  // months away
		metEntry("2026-01-14T18:00:00Z", `"air_temperature":-60`), // six hours on: the later part of the forecast
		metEntry("soon", `"air_temperature":12`),
	}, ","))), file.Options{})
	if err != nil || len(f.Hours) != 2 || p.Taken != 2 || p.Refused != 6 || p.Blank != 1 || p.Rows != 9 {
		t.Errorf("%d hours, %+v, %v", len(f.Hours), p, err)
	}
	f, p, err = Read("o", []byte(`{"hourly_units":{"time":"unixtime","temperature_2m":"°C","precipitation":"mm"},"hourly":{
		"time":[1768392000,1768395600,1768399200,1768402800,"x",1768410000,1768410001],"unknown":[1],
		"temperature_2m":[-1,-2,null,-400,0,-6,0],"precipitation":[9,1,null,2,3,4,5]}}`), file.Options{})
	if err != nil || len(f.Hours) != 3 || p.Taken != 3 || p.Refused != 3 || p.Blank != 1 || p.Rows != 7 {
		t.Fatalf("%d hours, %+v, %v", len(f.Hours), p, err)
	}
	// 1768392000 is 2026-01-14T12:00:00Z (date -u -d @1768392000)
	if got := f.Hours[0].Start.Format(time.RFC3339); got != "2026-01-14T12:00:00Z" || num(f.Hours[0].Precip) != "0.001" {
		t.Error(got, num(f.Hours[0].Precip))
	}
	if f.Hours[1].Precip != nil || f.Hours[2].Precip != nil {
		t.Error("an amount moved to an hour that is not its own")
	}
}

// The day of 2026-03-08 has 23 hours in Chicago, that of 2026-11-01 has 25 [TZDB]: unix times run on through both.
func TestServicesThroughTheNightsOfTheClockChange(t *testing.T) {
	z := zone(t, "America/Chicago")
	for _, c := range []struct {
		start time.Time
		hours int
	}{{time.Date(2026, 3, 8, 0, 0, 0, 0, z), 23}, {time.Date(2026, 11, 1, 0, 0, 0, 0, z), 25}} {
		var entries, times, air []string
		for k := range c.hours {
			at := c.start.Add(time.Duration(k) * time.Hour)
			entries = append(entries, metEntry(at.UTC().Format(time.RFC3339), fmt.Sprintf(`"air_temperature":%d`, -k)))
			times = append(times, fmt.Sprint(at.Unix()))
			air = append(air, fmt.Sprint(-k))
		}
		for name, data := range map[string]string{
			"met": met(`"air_temperature":"celsius"`, strings.Join(entries, ",")),
			"om":  `{"hourly_units":{"time":"unixtime","temperature_2m":"°C"},"hourly":{"time":[` + strings.Join(times, ",") + `],"temperature_2m":[` + strings.Join(air, ",") + `]}}`,
		} {
			f, p, err := Read(name, []byte(data), file.Options{Zone: z})
			if err != nil || len(f.Hours) != c.hours || p.Refused != 0 {
				t.Fatalf("%s: %d hours, %v", name, len(f.Hours), err)
			}
			for i, h := range f.Hours {
				if !h.Start.Equal(c.start.Add(time.Duration(i)*time.Hour)) || h.Start.In(z).Day() != c.start.Day() || h.Temperature.Degrees() != -float64(i) {
					t.Errorf("%s: hour %d starts %v at %v", name, i, h.Start.In(z), *h.Temperature)
				}
			}
		}
	}
}

// Whatever the bytes, reading an answer of MET Norway does not panic; hours taken are in order, each once and possible;
// and rows taken, refused and blank add up to the rows read.
func FuzzMETNorway(f *testing.F) {
	data := payload(f, "metno_complete.json")
	f.Add(data)
	f.Add(data[:len(data)/2])
	f.Add([]byte(met(`"air_temperature":"celsius","precipitation_amount":"mm"`, `{"time":"2026-01-14T12:00:00Z","data":{"instant":[],"next_1_hours":{"details":{"precipitation_amount":1e999}}}}`)))
	f.Add([]byte(met(`"wind_speed":null,"wind_from_direction":"degrees"`, metEntry("0000-01-01T00:00:00Z", `"wind_from_direction":360`))))
	f.Fuzz(checkForecast)
}

// Whatever the bytes, reading an answer of Open-Meteo does not panic; hours taken are in order, each once and possible;
// and rows taken, refused and blank add up to the rows read.
func FuzzOpenMeteo(f *testing.F) {
	data := payload(f, "openmeteo.json")
	f.Add(data)
	f.Add(data[:len(data)/2])
	f.Add(payload(f, "openmeteo_error_400.json"))
	f.Add([]byte(om(`"snowfall":"cm","wind_gusts_10m":"m/s"`, `"snowfall":[1,null],"wind_gusts_10m":[1e9,-1]`)))
	f.Add([]byte(`{"utc_offset_seconds":1e300,"hourly_units":{"time":"iso8601"},"hourly":{"time":[]}}`))
	f.Add([]byte(`{"hourly_units":{"time":"unixtime","visibility":"m"},"hourly":{"time":[9e18,-1],"visibility":[1,2]}}`))
	f.Fuzz(checkForecast)
}
