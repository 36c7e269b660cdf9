package chart

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/feed/file"
)

func square(lon, lat, size float64) string {
	return fmt.Sprintf("[[%[1]g,%[2]g],[%[3]g,%[2]g],[%[3]g,%[4]g],[%[1]g,%[4]g],[%[1]g,%[2]g]]", lon, lat, lon+size, lat+size)
}

// The area of 46.2..46.3 N by 93.7..93.6 W is 85716620.5 m2 [Planimeter].
func TestOutlineArea(t *testing.T) {
	_, p, err := ReadOutline("a", []byte(`{"type":"Polygon","coordinates":[`+square(-93.7, 46.2, 0.1)+`]}`), file.Options{})
	if err != nil || len(p.Summary) != 2 || !strings.Contains(p.Summary[0], "85.7 km2") {
		t.Errorf("%q, %v", p.Summary, err)
	}
	ring := []geo.Local{}
	f := geo.NewFrame(geo.Position{Lat: 46.25, Lon: -93.65})
	for _, q := range [][2]float64{{46.2, -93.7}, {46.2, -93.6}, {46.3, -93.6}, {46.3, -93.7}} {
		ring = append(ring, f.Local(geo.Position{Lat: q[0], Lon: q[1]}))
	}
	if got := ringArea(ring); math.Abs(got-85716620.5) > 85716620.5*0.001 { // 0.1 %: straight sides on the plane for parallels
		t.Errorf("area %.1f m2", got)
	}
}

func TestOutlineReadsEveryAreaOfGeoJSON(t *testing.T) {
	poly := `{"type":"Polygon","coordinates":[` + square(-45, 47.9, 0.1) + `,` + square(-44.95, 47.95, 0.01) + `]}`
	feature := `{"type":"Feature","properties":{"name":" Lake Tamaringen "},"geometry":` + poly + `}`
	for name, data := range map[string]string{
		"polygon": poly, "feature": feature,
		"collection": `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:OGC:1.3:CRS84"}},"features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[-45,47.9]}},` + feature + `]}`,
		"multi":      `{"type":"MultiPolygon","coordinates":[[` + square(-45, 47.9, 0.1) + `,` + square(-44.95, 47.95, 0.01) + `]]}`,
		"geometries": `{"type":"GeometryCollection","geometries":[` + poly + `]}`,
	} {
		o, p, err := ReadOutline(name, []byte(data), file.Options{})
		if err != nil || len(o.Polygons) != 1 || len(o.Polygons[0].Outer) != 4 || len(o.Polygons[0].Islands) != 1 || p.Taken != 1 {
			t.Errorf("%s: %+v, %+v, %v", name, o, p, err)
			continue
		}
		if strings.Contains(data, "Tamaringen") && o.Name != "Lake Tamaringen" {
			t.Errorf("%s: name %q", name, o.Name)
		}
		f := geo.NewFrame(o.Polygons[0].Outer[0])
		turn := func(ring []geo.Position) float64 {
			var l []geo.Local
			for _, q := range ring {
				l = append(l, f.Local(q))
			}
			return ringArea(l)
		}
		if turn(o.Polygons[0].Outer) <= 0 || turn(o.Polygons[0].Islands[0]) >= 0 {
			t.Errorf("%s: rings do not wind as RFC 7946 section 3.1.6 asks", name)
		}
	}
}

func TestOutlineRefusals(t *testing.T) {
	sq := square(-45, 47.9, 0.1)
	for name, c := range map[string]struct{ data, want string }{
		"bow tie":             {`{"type":"Polygon","coordinates":[[[-45,47.9],[-44.9,48],[-44.9,47.9],[-45,48],[-45,47.9]]]}`, "crosses itself"},
		"not closed":          {`{"type":"Polygon","coordinates":[[[-45,47.9],[-44.9,47.9],[-44.9,48],[-45,48]]]}`, "not closed"},
		"two points":          {`{"type":"Polygon","coordinates":[[[-45,47.9],[-44.9,47.9],[-45,47.9]]]}`, "fewer than three"},
		"other system":        {`{"type":"Polygon","crs":{"type":"name","properties":{"name":"EPSG:26915"}},"coordinates":[` + sq + `]}`, "EPSG:26915"},
		"metres":              {`{"type":"Polygon","coordinates":[[[445993,5116507],[446993,5116507],[446993,5117507],[445993,5116507]]]}`, "not on the globe"},
		"latitude 91":         {`{"type":"Polygon","coordinates":[[[-45,91],[-44.9,47.9],[-44.9,48],[-45,91]]]}`, "not on the globe"},
		"longitude 540":       {`{"type":"Polygon","coordinates":[[[540,47],[541,47.9],[540,48],[540,47]]]}`, "not on the globe"},
		"1e999":               {`{"type":"Polygon","coordinates":[[[1e999,47],[-44.9,47.9],[-44.9,48],[1e999,47]]]}`, "not a pair of numbers"},
		"strings":             {`{"type":"Polygon","coordinates":[[["-45","47"],[-44.9,47.9],[-44.9,48],[-45,47]]]}`, "not a pair of numbers"},
		"a continent":         {`{"type":"Polygon","coordinates":[` + square(-45, 47.9, 20) + `]}`, "no lake"},
		"a puddle":            {`{"type":"Polygon","coordinates":[` + square(-45, 47.9, 0.00001) + `]}`, "no lake"},
		"across 180":          {`{"type":"Polygon","coordinates":[[[179.9,47],[-179.9,47],[-179.9,48],[179.9,47]]]}`, "no lake"},
		"island outside":      {`{"type":"Polygon","coordinates":[` + sq + `,` + square(-44.8, 47.9, 0.01) + `]}`, "lies outside"},
		"island across shore": {`{"type":"Polygon","coordinates":[` + sq + `,` + square(-44.95, 47.895, 0.01) + `]}`, "crosses island 1"},
		"piece in a piece":    {`{"type":"MultiPolygon","coordinates":[[` + sq + `],[` + square(-44.95, 47.95, 0.01) + `]]}`, "lies inside polygon 1"},
		"lines":               {`{"type":"LineString","coordinates":[[-45,47.9],[-44.9,48]]}`, "no polygon"},
		"nothing":             {`{"type":"FeatureCollection","features":[]}`, "no polygon"},
		"not GeoJSON":         {`{"a":1}`, "not GeoJSON"},
		"features no list":    {`{"type":"FeatureCollection","features":{}}`, "not those of GeoJSON"},
		"an empty polygon":    {`{"type":"Polygon","coordinates":[]}`, "is empty"},
	} {
		o, _, err := ReadOutline(name, []byte(c.data), file.Options{})
		if fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), c.want) || len(o.Polygons) != 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A comb of long teeth is the worst case of the crossing search: it must end quickly, taken or refused.
func TestOutlineTangleIsBounded(t *testing.T) {
	var b strings.Builder
	b.WriteString(`{"type":"Polygon","coordinates":[[`)
	n := 50_000
	for i := range n {
		fmt.Fprintf(&b, "[%g,%.8f],", -45+0.1*float64(i%2), 47.9+0.1*float64(i)/float64(n))
	}
	b.WriteString(`[-45.1,48],[-45.1,47.9],[-45,47.9]]]}`)
	if _, p, err := ReadOutline("comb", []byte(b.String()), file.Options{}); err == nil && p.Taken != 1 {
		t.Error(p, err)
	}
}

func read(t *testing.T, data string, opt file.Options) (Soundings, file.Preview) {
	t.Helper()
	s, p, err := ReadSoundings("s.csv", []byte(data), opt)
	if err != nil {
		t.Fatalf("%q: %v", data, err)
	}
	if p.Taken != len(s.Points) || p.Taken+p.Refused+p.Duplicates+p.Blank != p.Rows {
		t.Errorf("%q: rows do not add up: %+v", data, p)
	}
	return s, p
}

// 46.21735 N 93.68412 W is 15N 447234.857 5118424.463 [GeoConvert]; 20 ft is 6.096 m exactly.
func TestSoundingsInEveryNotation(t *testing.T) {
	for name, c := range map[string]struct {
		data string
		opt  file.Options
	}{
		"decimal":            {"Lat,Longitude,Depth (ft)\n46.21735,-93.68412,20\n", file.Options{}},
		"decimal commas":     {"lat;lon;depth_cm\n46,21735;-93,68412;609,6\n", file.Options{}},
		"west by header":     {"Lat (N),Lon (W),Depth ft\n46.21735,93.68412,20\n", file.Options{}},
		"unit option":        {"lat\tlon\tdepth\n46.21735\t-93.68412\t20\n", file.Options{Unit: "ft"}},
		"unit in cells":      {"lat,lon,depth\n46.21735,-93.68412,20'\n", file.Options{}},
		"unit above":         {"Survey 1998\nDepths are in feet\nlat,lon,depth\n46.21735,-93.68412,20\n", file.Options{}},
		"minutes":            {"LAT_DMM,LON_DMM,Depth ft\n46 13.041,-93 41.0472,20\n", file.Options{}},
		"minutes, packed":    {"LAT_DMM,LON_DMM,Depth ft\n4613.041N,9341.0472W,20\n", file.Options{}},
		"one column":         {"Position,Depth ft\n\"46-13.041N, 93-41.0472W\",20\n", file.Options{}},
		"UTM by header":      {"Easting (UTM 15N),Northing,Depth ft\n447234.857,5118424.463,20\n", file.Options{}},
		"UTM by option":      {"Easting,Northing,Depth ft\n447234.857,5118424.463,20\n", file.Options{UTMZone: "15N"}},
		"UTM by column":      {"Zone,Easting,Northing,Depth ft\n15T,447234.857,5118424.463,20\n", file.Options{}},
		"UTM above":          {"WGS 84 / UTM zone 15N\nX,Y,Depth ft\n447234.857,5118424.463,20\n", file.Options{}},
		"UTM mapped":         {"x,y,Z\n447234.857,5118424.463,20\n", file.Options{UTMZone: "15N", Map: map[string]string{"x": "easting", "y": "northing", "Z": "depth:ft"}}},
		"degrees mapped":     {"x,y,Z\n-93.68412,46.21735,20\n", file.Options{Map: map[string]string{"X": "lon", "Y": "lat", "z": "depth"}, Unit: "ft"}},
		"negative, mapped":   {"lat,lon,z\n46.21735,-93.68412,-6.096\n", file.Options{Map: map[string]string{"z": "depth-up:m"}}},
		"GeoJSON":            {`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"depth_ft":20},"geometry":{"type":"Point","coordinates":[-93.68412,46.21735]}}]}`, file.Options{}},
		"GeoJSON, text":      {`{"type":"Feature","properties":{"Depth":"20 ft","n":null},"geometry":{"type":"Point","coordinates":[-93.68412,46.21735,0]}}`, file.Options{}},
		"GeoJSON, mapped":    {`{"type":"Feature","properties":{"val":20},"geometry":{"type":"Point","coordinates":[-93.68412,46.21735]}}`, file.Options{Map: map[string]string{"val": "depth"}, Unit: "ft"}},
		"spreadsheet's line": {"sep=;\nlat;lon;depth_ft\n46.21735;-93.68412;20\n", file.Options{}},
	} {
		s, p := read(t, c.data, c.opt)
		if len(s.Points) != 1 {
			t.Errorf("%s: %+v", name, p.Problems)
			continue
		}
		got := s.Points[0]
		if math.Abs(got.Pos.Lat-46.21735) > 2e-6 || math.Abs(got.Pos.Lon+93.68412) > 2e-6 || math.Abs(got.Depth.Metres()-6.096) > 1e-9 {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

func TestSoundingsThatLeaveSomethingOpenAreRefusedWithWhatToSay(t *testing.T) {
	for name, c := range map[string]struct {
		data string
		opt  file.Options
		want string
	}{
		"no unit":           {"lat,lon,depth\n46.2,-93.7,20\n", file.Options{}, "--unit ft"},
		"z":                 {"lat,lon,z\n46.2,-93.7,20\n", file.Options{Unit: "ft"}, "--map z=depth"},
		"x and y":           {"x,y,depth_m\n445993,5116507,20\n", file.Options{}, "--map x=easting --map y=northing --utm 15N"},
		"no zone":           {"easting,northing,depth_m\n445993,5116507,20\n", file.Options{}, "--utm 15N"},
		"no hemisphere":     {"easting,northing,depth_m\n445993,5116507,20\n", file.Options{UTMZone: "15"}, "N or S"},
		"feet grid":         {"easting_ft,northing_ft,depth_m\n445993,5116507,20\n", file.Options{UTMZone: "15N"}, "state plane"},
		"elevation":         {"lat,lon,bottom elevation (ft)\n46.2,-93.7,1230\n", file.Options{}, "water level"},
		"elevation, mapped": {"lat,lon,z\n46.2,-93.7,1230\n", file.Options{Map: map[string]string{"z": "elevation:ft"}}, "water level"},
		"negative":          {"lat,lon,depth_m\n46.2,-93.7,-6\n46.2,-93.71,-7\n", file.Options{}, "depth-up"},
		"old datum":         {"Datum: NAD 27\nlat,lon,depth_m\n46.2,-93.7,6\n", file.Options{}, "NAD27"},
		"no position":       {"depth_m,ice\n6,3\n5,3\nlat", file.Options{Map: map[string]string{"ice": "ignore"}}, "--map HEADER=lat"},
		"no depth":          {"lat,lon,bottom\n46.2,-93.7,mud\n", file.Options{}, "HEADER=depth"},
		"nothing left":      {"lat,lon,depth_m\n91,-93.7,6\n", file.Options{}, "none of its 1 rows"},
		"strange unit":      {"lat,lon,depth\n46.2,-93.7,6\n", file.Options{Unit: "parsec"}, "parsec"},
		"GeoJSON, no unit":  {`{"type":"Feature","properties":{"depth":20},"geometry":{"type":"Point","coordinates":[-93.7,46.2]}}`, file.Options{}, "--unit ft"},
		"GeoJSON, system":   {`{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"EPSG:3857"}},"features":[]}`, file.Options{}, "EPSG:3857"},
		"GeoJSON, map":      {`{"type":"Feature","properties":{"depth_m":20},"geometry":{"type":"Point","coordinates":[-93.7,46.2]}}`, file.Options{Map: map[string]string{"q": "depth"}}, `no column "q"`},
	} {
		s, _, err := ReadSoundings(name, []byte(c.data), c.opt)
		if fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), c.want) || len(s.Points) != 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestSoundingRowsAreTakenOrListed(t *testing.T) {
	s, p := read(t, `lat,lon,depth_m,remark
47.90,-45.00,10.4,
47.91,-45.00,10.6,
47.92,-45.00,,
47.93,-45.00,0,
47.94,-45.00,-3,
47.95,-45.00,-9999,
47.96,-45.00,9999,
,,10.0,
47.97,,10.0,

47.90,-45.00,10.4,again
47.98,45.00,10.5,lost sign
91,-45.00,10.5,
NaN,-45.00,10.5,
1e999,-45,1e999,
47.99,-45.00,abc,
47.90,-45.01,10.9,a,b
47.90,-45.02,10.8,last
`, file.Options{})
	want := map[int]string{4: "blank", 5: "depth of 0", 6: "negative", 7: "negative", 8: "deeper", 9: "position is blank", 10: "half of the position",
		12: "same as row 2", 13: "far from all", 14: "90 degrees", 15: "not a coordinate", 16: "not a coordinate", 17: "not a length", 18: "more cells"}
	got := map[int]string{}
	for _, x := range p.Problems {
		got[x.Row] = x.Reason
	}
	for row, reason := range want {
		if !strings.Contains(got[row], reason) {
			t.Errorf("row %d: %q, want %q", row, got[row], reason)
		}
	}
	if len(s.Points) != 3 || p.Blank != 1 || p.Duplicates != 1 || p.Rows != 18 || s.UnitStated != "m" {
		t.Errorf("%+v", p)
	}
}

// The international foot and the hostile values of the plan come in every encoding.
func TestSoundingsEncodings(t *testing.T) {
	plain := "Breite,lat,lon,depth (ft)\nSüd,47.9,-45,36\n"
	utf16 := "\xff\xfe"
	latin := ""
	for _, r := range plain {
		utf16 += string([]byte{byte(r), byte(r >> 8)})
		latin += string([]byte{byte(r)})
	}
	for name, data := range map[string]string{"UTF-16": utf16, "Latin-1": latin, "CRLF": strings.ReplaceAll(plain, "\n", "\r\n"), "BOM": "\xef\xbb\xbf" + plain} {
		if s, _ := read(t, data, file.Options{}); len(s.Points) != 1 || math.Abs(s.Points[0].Depth.Metres()-10.9728) > 1e-9 {
			t.Errorf("%s: %+v", name, s)
		}
	}
}
