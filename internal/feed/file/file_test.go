package file

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"icehand/internal/base/fault"
)

func TestCellsFollowRFC4180AndAreLenientWhereAGuideNeedsIt(t *testing.T) {
	for _, c := range []struct {
		source, text string
		delim        byte
		want         string
	}{
		{"RFC4180 section 2.1 to 2.3", "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", ',', "1[aaa|bbb|ccc] 2[zzz|yyy|xxx] "},
		{"RFC4180 section 2.2", "aaa,bbb,ccc\r\nzzz,yyy,xxx", ',', "1[aaa|bbb|ccc] 2[zzz|yyy|xxx] "},
		{"RFC4180 section 2.6", "\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", ',', "1[aaa|b\r\nbb|ccc] 3[zzz|yyy|xxx] "},
		{"RFC4180 section 2.7", "\"aaa\",\"b\"\"bb\",\"ccc\"", ',', "1[aaa|b\"bb|ccc] "},
		{"common practice, no source: inch mark", "14\",38',x", ',', "1[14\"|38'|x] "},
		{"common practice, no source: ditto mark", "17,\",\"\n\" , \"\"\"\",\"\"\n", ',', "1[17|\"|\"] 2[\"|\"|] "},
		{"common practice, no source: unclosed quote", "a,\"b\nc,d", ',', "1[a|\"b] 2[c|d] "},
		{"common practice, no source: mixed line ends", "a;b\rc;d\n\ne;", ';', "1[a|b] 2[c|d] 3[] 4[e|] "},
	} {
		t.Run(c.source, func(t *testing.T) {
			got := ""
			s := scanner{text: c.text, line: 1, delim: c.delim}
			for {
				line, cells, ok := s.next()
				if !ok {
					break
				}
				got += fmt.Sprintf("%d[%s] ", line, strings.Join(cells, "|"))
			}
			if got != c.want {
				t.Errorf("%q: got %q, want %q", c.text, got, c.want)
			}
		})
	}
}

func TestDelimiter(t *testing.T) {
	for text, want := range map[string]byte{
		"a,b\n1,2\n": ',', "a;b\n1,5;2,5\n3,5;4,5": ';', "a\tb\n1,5\t2;3": '\t', "title\na,b,c\n1,\"2;3\",4\n5,6,7\n": ',', "one": ',',
	} {
		if got := delimiter(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

func TestHeaderWords(t *testing.T) {
	for _, c := range []struct {
		kind          Kind
		header        string
		meaning, unit string
	}{
		{Soundings, "Depth (ft)", "depth", "ft"}, {Soundings, "depth_m", "depth", "m"}, {Soundings, "DepthFt", "depth", "ft"},
		{Soundings, "Water depth, feet", "depth", "feet"}, {Soundings, "Depth in metres", "depth", "metres"}, {Soundings, "Depth '", "depth", "'"},
		{Soundings, "Z", "z?", ""}, {Soundings, "z_m", "z?", "m"}, {Soundings, "Lat", "lat", ""}, {Soundings, "Longitude (WGS84)", "lon", ""},
		{Soundings, "LAT_DMM", "lat-dmm", ""}, {Soundings, "Lon (DMM)", "lon-dmm", ""}, {Soundings, "Easting (UTM 15N)", "easting", ""},
		{Soundings, "Easting_ft", "easting", "ft"}, {Soundings, "Depth (furlongs)", "depth", ""}, {Soundings, "Depth to weeds", "", ""},
		{Holes, "Ice\"", "ice", "\""}, {Holes, "Hole #", "number", ""}, {Holes, "#", "number", ""}, {Holes, "white ice (in)", "white", "in"},
		{Holes, "put'n'back", "", ""}, {Holes, "Put back", "put-back", ""}, {Holes, "Sat (min)", "minutes", "min"}, {Holes, "Lengths cm", "lengths", "cm"},
		{Weather, "temperature_c", "temperature", "C"}, {Weather, "Temp (°F)", "temperature", "F"}, {Weather, "wind_m_s", "wind", "m/s"},
		{Weather, "Gust km/h", "gust", "km/h"}, {Weather, "utc", "time", "utc"}, {Weather, "Time (UTC)", "time", "utc"}, {Weather, "sky_pct", "sky", "%"},
		{Weather, "snow_mm_this_hour", "snow", "mm"}, {Weather, "winddir_deg", "wind-from", ""}, {Weather, "cloud %", "sky", "%"},
	} {
		got := resolve(c.kind, c.header, nil)
		if got.Meaning != c.meaning || got.Unit != c.unit {
			t.Errorf("%s %q: %q in %q, want %q in %q", c.kind, c.header, got.Meaning, got.Unit, c.meaning, c.unit)
		}
	}
}

func TestHeaderIsFoundBelowTitles(t *testing.T) {
	table, err := OpenTable([]byte("\xef\xbb\xbfLake soundings, 2019\n\nStn;LAT_DMM;LON_DMM;Depth (ft)\n1;47 54.0;-45 0.1;36\n"), Soundings, Options{})
	if err != nil || table.HeaderLine != 3 || table.Delimiter != ';' || len(table.Preamble) != 1 {
		t.Fatalf("%+v, %v", table, err)
	}
	_, err = OpenTable([]byte("1,2,3\n4,5,6\n"), Soundings, Options{})
	if fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), "--map") {
		t.Errorf("a file without header: %v", err)
	}
	_, err = OpenTable([]byte("lat,lon,d\n1,2,3\n"), Soundings, Options{Map: map[string]string{"q": "depth"}})
	if err == nil || !strings.Contains(err.Error(), `no column "q"`) {
		t.Errorf("a map of a column that is not there: %v", err)
	}
	_, err = OpenTable([]byte("lat,lon,d\n1,2,3\n"), Soundings, Options{Map: map[string]string{"d": "deepness"}})
	if err == nil || !strings.Contains(err.Error(), "deepness") {
		t.Errorf("a map to a meaning that is not there: %v", err)
	}
}

func TestEncodings(t *testing.T) {
	want := "Bänk,½\n"
	for name, data := range map[string]string{
		"UTF-8": want, "UTF-8 with mark": "\xef\xbb\xbf" + want, "Latin-1": "B\xe4nk,\xbd\n",
		"UTF-16 little": "\xff\xfeB\x00\xe4\x00n\x00k\x00,\x00\xbd\x00\n\x00", "UTF-16 big": "\xfe\xff\x00B\x00\xe4\x00n\x00k\x00,\x00\xbd\x00\n",
		"UTF-16 without mark": "B\x00\xe4\x00n\x00k\x00,\x00\xbd\x00\n\x00", "UTF-16 big without mark": "\x00B\x00\xe4\x00n\x00k\x00,\x00\xbd\x00\n",
	} {
		if got, _, err := toText([]byte(data)); err != nil || got != want {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
	if _, _, err := toText([]byte("a,b\n1,\x00\n2,3,4,5,6,7\n")); err == nil {
		t.Error("a zero byte in plain text is accepted")
	}
}

func TestBoundsOfJSON(t *testing.T) {
	deep := strings.Repeat("[", 1_000_000) + strings.Repeat("]", 1_000_000)
	for name, c := range map[string]struct {
		data string
		opt  Options
		want string
	}{
		"nested a million deep": {deep, Options{}, "nests brackets"},
		"too large":             {`{"a":"` + strings.Repeat("x", 100) + `"}`, Options{MaxBytes: 50}, "bytes"},
		"cut off":               {`{"type":"Feature","geometry":{"ty`, Options{}, "cut off"},
		"not JSON":              {`{"type":Feature}`, Options{}, "not JSON"},
		"empty":                 {"  \n", Options{}, "empty"},
		"XML":                   {"<?xml version='1.0'?><gpx/>", Options{}, "XML"},
		"zip":                   {"PK\x03\x04......", Options{}, "spreadsheet"},
	} {
		_, err := JSON([]byte(c.data), c.opt)
		if fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestWalkFindsWhatDecodingFinds(t *testing.T) {
	b := []byte(` { "a\u0062" : [1, -2.5e3 ,"x\"],{" , {"c":null}] , "d":{"e":[ ]}, "f":1e999 } `)
	var got []string
	if err := Members(b, func(k string, v []byte) error { got = append(got, k+"="+string(v)); return nil }); err != nil {
		t.Fatal(err)
	}
	want := `ab=[1, -2.5e3 ,"x\"],{" , {"c":null}] d={"e":[ ]} f=1e999`
	if strings.Join(got, " ") != want {
		t.Errorf("%q", got)
	}
	var elements []string
	if err := Elements(Member(b, "ab"), func(_ int, v []byte) error { elements = append(elements, string(v)); return nil }); err != nil {
		t.Fatal(err)
	}
	if len(elements) != 4 || elements[2] != `"x\"],{"` || elements[3] != `{"c":null}` {
		t.Errorf("%q", elements)
	}
	if _, ok := JSONNumber([]byte("1e999")); ok {
		t.Error("1e999 is a number")
	}
	if v, ok := JSONNumber([]byte("-2.5e3")); !ok || v != -2500 {
		t.Error(v, ok)
	}
	if err := Members([]byte("[]"), nil); !errors.Is(err, ErrNotObject) {
		t.Error(err)
	}
}

func TestCoordinates(t *testing.T) {
	for _, c := range []struct {
		s      string
		lat    bool
		packed bool
		want   float64 // NaN = refused
	}{
		// 46.21735 N 93.68412 W = 46-13.041N 93-41.047W: GeoConvert 2.1.2 prints 46d13'02.46"N.
		{"46-13.041N", true, false, 46.21735}, {"46 13.041", true, false, 46.21735}, {"4613.041", true, true, 46.21735},
		{"-9341.047", false, true, -93.684117}, {"93 41.047 W", false, true, -93.684117}, {"46,21735", true, false, 46.21735},
		{"46.21735", true, true, math.NaN()}, {"4675.1", true, true, math.NaN()}, {"91", true, false, math.NaN()}, {"540", false, false, math.NaN()},
		{"46.2 W", true, false, math.NaN()}, {"N 46.2", false, false, math.NaN()}, {"", true, false, math.NaN()}, {"NaN", true, false, math.NaN()},
		{"1e999", true, false, math.NaN()}, {"Inf", true, false, math.NaN()}, {"47 60.0", true, false, math.NaN()},
	} {
		p, n, limit := byte('N'), byte('S'), 90.0
		if !c.lat {
			p, n, limit = 'E', 'W', 180
		}
		got, err := Coordinate(c.s, p, n, limit, c.packed)
		if math.IsNaN(c.want) != (err != nil) || err == nil && math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%q packed %v: %v, %v; want %v", c.s, c.packed, got, err, c.want)
		}
	}
}

func TestLengthCells(t *testing.T) {
	for _, c := range []struct {
		s, fallback string
		want        float64 // metres; NaN = refused
	}{
		{"38'", "", 38 * 0.3048}, {"11.6 m", "ft", 11.6}, {`14"`, "cm", 14 * 0.0254}, {`9 1/2"`, "", 9.5 * 0.0254}, {"9½", "in", 9.5 * 0.0254}, {"1/2 in", "", 0.5 * 0.0254},
		{"14-3/4 in", "", 14.75 * 0.0254}, {"38", "ft", 38 * 0.3048}, {"38", "", math.NaN()}, {"38-40'", "ft", math.NaN()}, {"11/2", "in", math.NaN()}, {"deep", "m", math.NaN()}, {"NaN", "m", math.NaN()},
	} {
		got, _, err := Length(c.s, c.fallback)
		if math.IsNaN(c.want) != (err != nil) || err == nil && math.Abs(got.Metres()-c.want) > 1e-9 {
			t.Errorf("%q in %q: %v, %v; want %v", c.s, c.fallback, got, err, c.want)
		}
	}
}

func TestDetect(t *testing.T) {
	for _, c := range []struct {
		name, data string
		want       Kind
		reason     string
	}{
		{"a.geojson", `{"type":"Polygon","coordinates":[]}`, Outline, "polygons"},
		{"a.json", `{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point"}},{"type":"Feature","geometry":{"type":"MultiPolygon"}}]}`, Outline, "polygons"},
		{"a.json", `{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point"}}]}`, Soundings, "points"},
		{"a.json", `{"type":"Feature","properties":{"updateTime":"2026-01-14T10:41:07+00:00"}}`, Weather, "issue time"},
		{"a.json", `{"type":"LineString"}`, "", "lines only"}, {"a.json", `[1,2]`, "", "neither"},
		{"a.csv", "Lat,Lon,Depth (ft)\n", Soundings, "Depth (ft)"}, {"a.csv", "x,y,z\n", Soundings, "\"x\""},
		{"a.csv", "log\n\nDate,Time,Hole,Depth,Ice,Marks\n", Holes, "Marks"}, {"a.csv", "utc,temperature_c,wind_m_s\n", Weather, "temperature_c"},
		{"a.csv", "Point no,Date,Time,Lat,Lon,Depth (m)\n", Soundings, "Lat"}, {"a.csv", "a,b,c\n", "", "--as"},
		{"a.xlsx", "PK\x03\x04", "", "CSV"}, {"a.csv", "", "", "empty"},
	} {
		got, reason := Detect(c.name, []byte(c.data))
		if got != c.want || !strings.Contains(reason, c.reason) {
			t.Errorf("%q: %q because %q", c.data, got, reason)
		}
	}
}
