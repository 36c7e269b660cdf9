package weather

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the zones of the tests on every machine

	"icehand/internal/base/fault"
	"icehand/internal/feed/file"
)

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func num[T ~float64](v *T) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(float64(*v), 'f', -1, 64)
}

// The made-up payload against the hours that interval arithmetic gives [NWSAPI].
func TestGridpointHours(t *testing.T) {
	data, err := os.ReadFile("standin/payload/nws_gridpoint.json")
	if err != nil {
		t.Fatal(err)
	}
	f, p, err := Read("nws_gridpoint.json", data, file.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if want := "2026-01-14T10:41:07Z"; f.Issued.Format(time.RFC3339) != want {
		t.Errorf("issued %v, want %s", f.Issued, want)
	}
	if p.Blank != 1 || p.Refused != 0 || p.Taken+p.Blank != p.Rows {
		t.Errorf("%+v", p)
	}
	in, err := os.Open("testdata/nws_expected_hourly.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	r := csv.NewReader(in)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatal("no cases:", err)
	}
	for i, row := range rows[1:] {
		if i >= len(f.Hours) {
			t.Fatalf("only %d hours", len(f.Hours))
		}
		h := f.Hours[i]
		if h.Start.Format(time.RFC3339) != row[0] {
			t.Errorf("hour %d starts %v, want %s", i, h.Start, row[0])
		}
		sky := h.Sky
		if sky != nil {
			pct := *sky * 100
			sky = &pct
		}
		got := []string{num(h.Temperature), num(h.Wind), num(h.Gust), num(h.WindFrom), num(sky), num(h.Snow), num(h.Precip), num(h.Visibility)}
		for k, scale := range []float64{1, 1, 1, 1, 1, 1000, 1000, 1} {
			want := row[k+1]
			if want == "" || got[k] == "" {
				if want != got[k] {
					t.Errorf("%s %s: %q, want %q", row[0], rows[0][k+1], got[k], want)
				}
				continue
			}
			g, _ := strconv.ParseFloat(got[k], 64)
			w, _ := strconv.ParseFloat(want, 64)
			if math.Abs(g*scale-w) > 0.00005 {
				t.Errorf("%s %s: %v, want %v", row[0], rows[0][k+1], g*scale, w)
			}
		}
	}
	if last := f.Hours[len(f.Hours)-1].Start.Add(time.Hour).Format(time.RFC3339); last != "2026-01-16T00:00:00Z" {
		t.Errorf("P1DT6H from 2026-01-14T18:00Z ends %s", last)
	}
	if f.Hours[len(f.Hours)-1].Wind != nil {
		t.Error("wind beyond its layer must be unknown")
	}
}

// A CSV of the same hours says the same.
func TestTableSaysTheSameAsTheGridpoint(t *testing.T) {
	table, err := os.ReadFile("testdata/nws_expected_hourly.csv")
	if err != nil {
		t.Fatal(err)
	}
	f, p, err := Read("hours.csv", table, file.Options{})
	if err != nil || len(f.Hours) != 18 || p.Taken != 18 {
		t.Fatal(len(f.Hours), p, err)
	}
	data, err := os.ReadFile("standin/payload/nws_gridpoint.json")
	if err != nil {
		t.Fatal(err)
	}
	g, _, err := Read("g.json", data, file.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, h := range f.Hours {
		w := g.Hours[i]
		if !h.Start.Equal(w.Start) || math.Abs(float64(*h.Wind-*w.Wind)) > 1e-4 || (h.Gust == nil) != (w.Gust == nil) || math.Abs(float64(*h.Snow-*w.Snow)) > 1e-7 || math.Abs(*h.Sky-*w.Sky) > 1e-9 {
			t.Errorf("%v: %+v and %+v", h.Start, h, w)
		}
	}
}

func grid(layers string) []byte {
	return []byte(`{"properties":{"updateTime":"2026-01-14T10:00:00+00:00",` + layers + `}}`)
}

func TestGridpointRefusals(t *testing.T) {
	ok := `{"validTime":"2026-01-14T12:00:00+00:00/PT2H","value":1}`
	for name, c := range map[string]struct{ data, want string }{
		"unknown unit":  {`"temperature":{"uom":"wmoUnit:K","values":[` + ok + `]}`, "wmoUnit:K"},
		"no unit":       {`"temperature":{"values":[` + ok + `]}`, "not known"},
		"no layers":     {`"a":1`, "no hour"},
		"values absent": {`"temperature":{"uom":"wmoUnit:degC"}`, "no list of values"},
		"all null":      {`"temperature":{"uom":"wmoUnit:degC","values":[{"validTime":"2026-01-14T12:00:00+00:00/PT2H","value":null}]}`, "no hour"},
		"all wild":      {`"temperature":{"uom":"wmoUnit:degC","values":[{"validTime":"2026-01-14T12:00:00+00:00/PT2H","value":1e999}]}`, "no hour"},
	} {
		f, _, err := Read(name, grid(c.data), file.Options{})
		if fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), c.want) || f.Hours != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, _, err := Read("503", []byte(`{"title":"Forecast Grid Expired","status":503}`), file.Options{})
	if err == nil || !strings.Contains(err.Error(), "Forecast Grid Expired") {
		t.Error(err)
	}
}

func TestGridpointIntervalsAreTakenOrListed(t *testing.T) {
	f, p, err := Read("g", grid(`"unknownLayer":{"uom":"wmoUnit:furlong"},"temperature":{"uom":"unit:degF","values":[
		{"validTime":"2026-01-14T12:00:00+00:00/PT2H","value":14},
		{"validTime":"2026-01-14T13:00:00+00:00/PT2H","value":14},
		{"validTime":"2026-01-14T14:30:00+00:00/PT1H","value":14},
		{"validTime":"2026-01-14T15:00:00+00:00/P1Y","value":14},
		{"validTime":"2026-01-14T15:00:00+00:00/PT9999H","value":14},
		{"validTime":"0000-01-14T15:00:00+00:00/PT1H","value":14},
		{"validTime":"9999-01-14T15:00:00+00:00/PT1H","value":14},
		{"validTime":"2027-01-14T15:00:00+00:00/PT1H","value":14},
		{"validTime":"2026-01-14T15:00:00+00:00/PT1H","value":"14"},
		{"validTime":"2026-01-14T15:00:00+00:00/PT1H","value":999},
		{"validTime":"2026-01-14T15:00:00+00:00/2026-01-14T16:00:00+00:00","value":32},
		{"validTime":"PT1H/2026-01-14T17:00:00+00:00","value":-40}]}`), file.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Hours) != 4 || p.Taken != 3 || p.Refused != 9 || p.Rows != 12 {
		t.Fatalf("%+v %+v", f, p)
	}
	for i, want := range []float64{-10, -10, 0, -40} { // 14 F, 32 F and -40 F by definition
		if got := f.Hours[i].Temperature.Degrees(); math.Abs(got-want) > 1e-9 {
			t.Errorf("hour %d: %v C, want %v", i, got, want)
		}
	}
}

func TestAge(t *testing.T) {
	issued := time.Date(2026, 1, 14, 10, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		issued time.Time
		after  time.Duration
		stale  bool
	}{{issued, 12 * time.Hour, false}, {issued, 12*time.Hour + time.Second, true}, {issued, 89 * time.Hour, true}, {issued, -2 * time.Hour, true}, {time.Time{}, 0, true}} {
		f := Forecast{Issued: c.issued}
		if got := f.Stale(issued.Add(c.after)); got != c.stale {
			t.Errorf("issued %v, %v later: stale %v", c.issued, c.after, got)
		}
	}
	if _, known := (Forecast{}).Age(issued); known {
		t.Error("an unknown issue time has an age")
	}
}

// The day of 2026-03-08 has 23 hours in Chicago, that of 2026-11-01 has 25 [TZDB].
func TestTheNightsOfTheClockChange(t *testing.T) {
	z := zone(t, "America/Chicago")
	for _, c := range []struct {
		day   string
		hours int
		bad   int // rows refused because the hour does not exist
	}{{"2026-03-07", 24, 0}, {"2026-03-08", 23, 1}, {"2026-11-01", 25, 0}} {
		var b strings.Builder
		b.WriteString("Local time,Temp C\n")
		for h := range 24 {
			fmt.Fprintf(&b, "%s %02d:00,%d\n", c.day, h, -h)
			if c.hours == 25 && h == 1 {
				fmt.Fprintf(&b, "%s 01:00,-1\n", c.day)
			}
		}
		f, p, err := Read("h.csv", []byte(b.String()), file.Options{Zone: z})
		if err != nil || len(f.Hours) != c.hours || p.Refused != c.bad || p.Duplicates != 0 {
			t.Errorf("%s: %d hours, %+v, %v", c.day, len(f.Hours), p, err)
			continue
		}
		for i := 1; i < len(f.Hours); i++ {
			if f.Hours[i].Start.Sub(f.Hours[i-1].Start) != time.Hour {
				t.Errorf("%s: gap before %v", c.day, f.Hours[i].Start)
			}
		}
		g, _, err := Read("g", grid(fmt.Sprintf(`"temperature":{"uom":"wmoUnit:degC","values":[{"validTime":"%s/PT%dH","value":-5}]}`, f.Hours[0].Start.Format(time.RFC3339), c.hours)), file.Options{Zone: z})
		if err != nil || len(g.Hours) != c.hours {
			t.Fatalf("%s: %v", c.day, err)
		}
		for i, h := range g.Hours {
			if !h.Start.Equal(f.Hours[i].Start) || h.Start.In(z).Format("2006-01-02") != c.day {
				t.Errorf("%s: hour %d starts %v", c.day, i, h.Start.In(z))
			}
		}
	}
}

func TestTables(t *testing.T) {
	z := zone(t, "America/Chicago")
	data := `Forecast typed off the radio

Date;Time;Air temp (°F);Wind;Gust mph;From;Cloud (oktas);New snow (in);Vis (mi)
1/14/26;6 am;1,4;12 km/h;10;SW;4;0;10
1/14/26;7 am;"-17 C";5 m/s;-;225;8;1/2;
`
	f, p, err := Read("radio.csv", []byte(data), file.Options{Zone: z, Today: time.Date(2026, 1, 13, 0, 0, 0, 0, z)})
	if err != nil || len(f.Hours) != 2 {
		t.Fatal(err, p)
	}
	a, b := f.Hours[0], f.Hours[1]
	if a.Start.Format(time.RFC3339) != "2026-01-14T12:00:00Z" || math.Abs(a.Temperature.Degrees()+17) > 1e-9 || math.Abs(a.Wind.KilometresPerHour()-12) > 1e-9 ||
		math.Abs(a.Gust.MilesPerHour()-10) > 1e-9 || a.WindFrom.Degrees() != 225 || *a.Sky != 0.5 || *a.Snow != 0 || math.Abs(a.Visibility.Metres()-16093.44) > 1e-6 {
		t.Errorf("%+v", a)
	}
	if b.Temperature.Degrees() != -17 || b.Gust != nil || b.Visibility != nil || *b.Sky != 1 || math.Abs(b.Snow.Metres()-0.0127) > 1e-12 {
		t.Errorf("%+v", b)
	}
	for name, c := range map[string]struct {
		data string
		opt  file.Options
		want string
	}{
		"no unit":      {"time,temp\n2026-01-14T06:00Z,3\n", file.Options{}, `--map "temp=temperature:C"`},
		"no zone":      {"time,temp_c\n2026-01-14 06:00,3\n", file.Options{}, "--tz"},
		"sky no unit":  {"time,cloud\n2026-01-14T06:00Z,3\n", file.Options{}, ":%"},
		"no time":      {"temp_c,wind_mph\n3,4\n", file.Options{}, "HEADER=time"},
		"no weather":   {"date,time,x\n2026-01-14,6:00,3\n", file.Options{}, "HEADER=temperature:C"},
		"bare degrees": {"time,temp\n2026-01-14T06:00Z,3°\n", file.Options{}, "temperature:C"},
	} {
		_, _, err := Read(name, []byte(c.data), c.opt)
		if fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, p, err = Read("rows", []byte("time,temp_c,wind_mph\n2026-01-14T06:00Z,3,4\n2026-01-14T06:00Z,3,4\n2026-01-14T06:00Z,5,4\n2026-01-14T06:30Z,3,4\n2026-01-14T07:00Z,999,4\n2026-01-14T08:00Z,,\n\n2026-01-14T09:00Z,NaN,4\n2026-06-14T09:00Z,1,4\n01/02/26 09:00Z,1,4\n"), file.Options{})
	if err != nil || p.Rows != 10 || p.Taken != 1 || p.Duplicates != 1 || p.Blank != 1 || p.Refused != 7 {
		t.Errorf("%+v, %v", p, err)
	}
}

// ISO 8601 [ISO8601]: P1DT6H is 30 h, P1W is 7 days; a month or year has no fixed length.
func TestDurations(t *testing.T) {
	for s, want := range map[string]time.Duration{"PT1H": time.Hour, "P1DT6H": 30 * time.Hour, "P7DT21H": 189 * time.Hour, "P1D": 24 * time.Hour, "P1W": 168 * time.Hour, "PT90M": 90 * time.Minute,
		"P": 0, "PT": 0, "P1M": 0, "P1Y": 0, "1H": 0, "PT1.5H": 0, "P-1D": 0, "PT999999H": 0} {
		got, err := parseDuration(s)
		if (err != nil) != (want == 0) || got != want {
			t.Errorf("%s: %v, %v; want %v", s, got, err, want)
		}
	}
}

// Whatever the bytes, reading a forecast does not panic; hours taken are in order, each once, and every value is
// possible; and rows taken, refused, repeated and blank add up to the rows read.
func FuzzWeather(f *testing.F) {
	payload, err := os.ReadFile("standin/payload/nws_gridpoint.json")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(payload)
	f.Add(payload[:len(payload)/2])
	for _, s := range []string{
		"time,temp_c,wind_mph\n2026-11-01 01:00,3,4\n2026-11-01 01:00,3,4\n", "date;time;sky %\n1/14/26;9.00;50\n", "utc,temp f,gust kt\n0000-01-01T00:00Z,1e999,NaN\n",
		`{"properties":{"temperature":{"uom":"wmoUnit:degC","values":[{"validTime":"9999-12-31T23:00:00Z/P9999D","value":1e999},{"validTime":"/","value":null}]}}}`,
		`{"title":"x"}`, `{"properties":{"windSpeed":[]}}`, "a\x00b", "\xff\xfet\x00",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(checkForecast)
}

// checkForecast is what every reading of a forecast must hold.
func checkForecast(t *testing.T, data []byte) {
	z := zone(t, "America/Chicago")
	got, p, err := Read("f", data, file.Options{MaxBytes: 1 << 20, Zone: z, Today: time.Date(2026, 1, 15, 0, 0, 0, 0, z)})
	if err != nil {
		return
	}
	if p.Taken+p.Refused+p.Duplicates+p.Blank != p.Rows || len(got.Hours) == 0 {
		t.Fatalf("%+v", p)
	}
	for i, h := range got.Hours {
		if i > 0 && !h.Start.After(got.Hours[i-1].Start) {
			t.Fatal("hours out of order")
		}
		for k, v := range []string{num(h.Temperature), num(h.Wind), num(h.Gust), num(h.WindFrom), num(h.Sky), num(h.Snow), num(h.Precip), num(h.Visibility)} {
			if v == "" {
				continue
			}
			if x, err := strconv.ParseFloat(v, 64); err != nil || !layers[k].within(x) {
				t.Fatalf("%s is %s", layers[k].meaning, v)
			}
		}
	}
}

func TestTheExampleForecast(t *testing.T) {
	data, err := os.ReadFile("../../../examples/tamaringen/forecast.json")
	if err != nil {
		t.Fatal(err)
	}
	if kind, why := file.Detect("forecast.json", data); kind != file.Weather {
		t.Error(kind, why)
	}
	z := zone(t, "Etc/GMT+3")
	f, p, err := Read("forecast.json", data, file.Options{Zone: z})
	if err != nil || p.Refused != 0 || len(f.Hours) != 36 {
		t.Fatal(p, err)
	}
	at := func(hour int) Hour {
		for _, h := range f.Hours {
			if h.Start.Equal(time.Date(2026, 1, 15, hour, 0, 0, 0, z)) {
				return h
			}
		}
		t.Fatalf("no hour %d", hour)
		return Hour{}
	}
	// The invented day: -17 C rising to -11 C, south-west turning north-west and freshening about 17:00.
	if a, b := at(7).Temperature.Degrees(), at(15).Temperature.Degrees(); math.Abs(a+17) > 0.5 || math.Abs(b+11) > 0.5 {
		t.Errorf("%v C at 7, %v C at 15", a, b)
	}
	if at(9).WindFrom.Compass() != "SW" || at(17).WindFrom.Compass() != "NW" || at(17).Wind.KilometresPerHour() < 20 {
		t.Errorf("%v, %v", at(9), at(17))
	}
	if f.Stale(f.Issued.Add(8 * time.Hour)) {
		t.Error("stale in the morning")
	}
}
