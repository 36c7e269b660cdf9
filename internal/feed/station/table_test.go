package station

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// asAccess writes the made-up station as GHCN-Daily's access files have it: quoted, padded, flags of measurement, quality and
// source in one cell (layout from memory).
func asAccess(t testing.TB) []byte {
	t.Helper()
	days := map[string]map[string][2]string{}
	var order []string
	for line := range strings.Lines(string(sample(t, "ghcn_sample_long.csv"))) {
		c := strings.Split(strings.TrimSpace(line), ",")
		date := c[1][:4] + "-" + c[1][4:6] + "-" + c[1][6:]
		if days[date] == nil {
			days[date] = map[string][2]string{}
			order = append(order, date)
		}
		days[date][c[2]] = [2]string{c[3], c[4] + "," + c[5] + "," + c[6]}
	}
	var b bytes.Buffer
	b.WriteString(`"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","PRCP","PRCP_ATTRIBUTES","SNWD","SNWD_ATTRIBUTES","TMAX","TMAX_ATTRIBUTES","TMIN","TMIN_ATTRIBUTES"` + "\n")
	for _, date := range order {
		d := days[date]
		fmt.Fprintf(&b, `"USW00099999","%s","47.9","-45.0","380.0","MADE UP, XX","    0",",,W"`, date)
		for _, e := range []string{"SNWD", "TMAX", "TMIN"} {
			fmt.Fprintf(&b, `,"%5s","%s"`, d[e][0], d[e][1])
		}
		b.WriteString("\n")
	}
	return b.Bytes()
}

func TestAccessFilesSayTheSame(t *testing.T) {
	data := asAccess(t)
	if kind, why := file.Detect("station.csv", data); kind != file.Station {
		t.Fatal(kind, why)
	}
	got, p, err := Read("station.csv", data, file.Options{})
	if err != nil || p.Taken != p.Rows || p.Taken < 90 {
		t.Fatalf("%+v %v", p, err)
	}
	if diff := cmp.Diff(read(t, "ghcn_sample_long.csv"), got); diff != "" {
		t.Error(diff)
	}
}

// geoMetDays writes days as Canada's service does: degrees, centimetres, a flag beside each value (names seen in clients).
func geoMetDays(t testing.TB, r Record) (asCSV, asJSON []byte) {
	t.Helper()
	var b bytes.Buffer
	b.WriteString("x,y,STATION_NAME,CLIMATE_IDENTIFIER,LOCAL_DATE,MEAN_TEMPERATURE,MEAN_TEMPERATURE_FLAG,MIN_TEMPERATURE,MIN_TEMPERATURE_FLAG,MAX_TEMPERATURE,MAX_TEMPERATURE_FLAG,SNOW_ON_GROUND,SNOW_ON_GROUND_FLAG\n")
	var features []any
	for _, d := range r.Days {
		props := map[string]any{"CLIMATE_IDENTIFIER": "6019999", "LOCAL_DATE": d.Date.String() + " 00:00:00", "MIN_TEMPERATURE": nil, "MIN_TEMPERATURE_FLAG": "M", "MAX_TEMPERATURE": nil,
			"MAX_TEMPERATURE_FLAG": "M", "SNOW_ON_GROUND": nil, "SNOW_ON_GROUND_FLAG": nil}
		cell := func(name string, known bool, v float64) string {
			if !known {
				return ",M"
			}
			props[name], props[name+"_FLAG"] = v, nil
			return fmt.Sprintf("%g,", v)
		}
		value := func(c *quantity.Celsius) (bool, float64) {
			if c == nil {
				return false, 0
			}
			return true, c.Degrees()
		}
		known, v := value(d.Min)
		low := cell("MIN_TEMPERATURE", known, v)
		known, v = value(d.Max)
		high := cell("MAX_TEMPERATURE", known, v)
		snow := ","
		if d.Snow != nil {
			snow = cell("SNOW_ON_GROUND", true, d.Snow.Centimetres())
		}
		fmt.Fprintf(&b, "-45.0,47.9,\"MADE UP \"\"A\"\", ON\",6019999,%s 00:00:00,,,%s,%s,%s\n", d.Date, low, high, snow)
		features = append(features, map[string]any{"type": "Feature", "properties": props, "geometry": map[string]any{"type": "Point", "coordinates": []float64{-45, 47.9}}})
	}
	raw, err := json.Marshal(map[string]any{"type": "FeatureCollection", "features": features, "links": []any{map[string]any{"rel": "self"}}})
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), raw
}

// [GeoMet]: the days come back as they were, from CSV and from JSON; M is missing, E is estimated and taken.
func TestGeoMet(t *testing.T) {
	want := read(t, "ghcn_sample.dly")
	want.Station = "6019999"
	asCSV, asJSON := geoMetDays(t, want)
	var days []Day
	for _, d := range want.Days { // a day on which nothing was read is not kept
		if d.Max != nil || d.Min != nil || d.Snow != nil {
			days = append(days, d)
		}
	}
	want.Days = days
	for name, data := range map[string][]byte{"climate.csv": asCSV, "climate.json": asJSON} {
		if kind, why := file.Detect(name, data); kind != file.Station {
			t.Fatal(name, kind, why)
		}
		got, p, err := Read(name, data, file.Options{})
		if err != nil || p.Taken != p.Rows {
			t.Fatalf("%s: %+v %v", name, p, err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
		_, estimated, err := Read(name, bytes.ReplaceAll(bytes.ReplaceAll(data, []byte(",M,"), []byte(",E,")), []byte(`"M"`), []byte(`"E"`)), file.Options{})
		if err != nil || estimated.Taken != p.Taken {
			t.Error(name, err)
		}
	}
	asJSON = bytes.Replace(asJSON, []byte(`"self"`), []byte(`"next"`), 1)
	if _, p, err := Read("a", asJSON, file.Options{}); err != nil || !strings.Contains(fmt.Sprint(p.Problems), "more days") {
		t.Errorf("a page of several is taken for the whole: %+v %v", p.Problems, err)
	}
}

func TestTablesThatAreRefused(t *testing.T) {
	header := "STATION,DATE,TMAX,TMAX_ATTRIBUTES,TMIN,TMIN_ATTRIBUTES\n"
	for name, c := range map[string]struct{ data, want string }{
		"no lowest":           {"STATION,DATE,TMAX\nA,2026-01-01,5\n", "no column TMIN"},
		"changed units":       {header + "A,2026-01-01,21.4,\",,W\",10.9,\",,W\"\n", "their unit is not known"},
		"two stations":        {header + "A,2026-01-01,5,,1,\nB,2026-01-02,5,,1,\n", "several stations"},
		"nothing":             {header, "no day with"},
		"flagged":             {header + "A,2026-01-01,5,\",X,W\",1,\",,W\"\n", "no day with"},
		"no list":             {`{"features":[{"properties":{"CLIMATE_IDENTIFIER":"1","LOCAL_DATE":"x"}}`, "cut off"},
		"other JSON":          {`{"a":1}`, "list of days"},
		"impossible":          {"CLIMATE_IDENTIFIER,LOCAL_DATE,MAX_TEMPERATURE,MIN_TEMPERATURE\n1,2026-01-01,214,1e999\n", "no day with"},
		"an open quote":       {header + "A,2026-01-01,\"5,,1,\n", "no day with"},
		"more cells than are": {header + strings.Repeat(",", 2000) + "\n", "no day with"},
	} {
		if _, p, err := Read("a", []byte(c.data), file.Options{}); fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v %+v", name, err, p)
		}
	}
	_, p, err := Read("a", []byte(header+"A,2026-01-01,5,,1,\nA,2026-13-01,5,,1,\nA,2026-01-01,6,,2,\n,2026-01-04,5,,1,\nA,2026-01-05,999,,1,\n"), file.Options{})
	if err != nil || p.Rows != 5 || p.Taken != 2 || p.Refused != 3 || p.Problems[0].Row != 3 || p.Problems[1].Row != 4 || p.Problems[2].Row != 5 || p.Problems[3].Value != "999" {
		t.Errorf("%+v %v", p, err)
	}
}
