package chart

import (
	"math"
	"os"
	"strings"
	"testing"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/feed/file"
)

func shapes(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("testdata/shapes/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func near(a, b geo.Position) bool {
	return math.Abs(a.Lat-b.Lat) < 2e-8 && math.Abs(a.Lon-b.Lon) < 2e-8
}

// testdata/shapes was written by GDAL 3.6.2 from made-up GeoJSON, `ogr2ogr -f "ESRI Shapefile" -t_srs EPSG:n`, for
// n = 4326, 4269, 26923 (NAD83, UTM 23N), 32623 (WGS 84, UTM 23N) and 3857, and zipped. The numbers are those of the
// GeoJSON: a lake with its south-west corner at 47.9 N 45.1 W, an island, and a pond beside it; depths of 21.5 and
// 30 ft and one that is null.
func TestShapefilesOfGDAL(t *testing.T) {
	for _, code := range []string{"4326", "4269", "26923", "32623"} {
		t.Run("EPSG:"+code, func(t *testing.T) {
			data := shapes(t, "lake-"+code+".zip")
			if kind, why := file.Detect("lake.zip", data); kind != file.Outline {
				t.Fatal(kind, why)
			}
			o, p, err := ReadOutline("lake.zip", data, file.Options{})
			if err != nil || len(o.Polygons) != 2 || len(o.Polygons[0].Islands) != 1 || o.Name != "Lake Tamaringen" {
				t.Fatalf("%+v %+v %v", o, p, err)
			}
			found := false
			for _, q := range o.Polygons[0].Outer {
				found = found || near(q, geo.Position{Lat: 47.9, Lon: -45.1})
			}
			if !found {
				t.Errorf("no corner at 47.9, -45.1 in %v", o.Polygons[0].Outer)
			}
			if said := strings.Contains(remarks(p), "NAD83"); said != (code == "4269" || code == "26923") {
				t.Errorf("NAD83 is said: %v", said)
			}
			data = shapes(t, "depths-"+code+".zip")
			if kind, why := file.Detect("depths.zip", data); kind != file.Soundings {
				t.Fatal(kind, why)
			}
			s, p, err := ReadSoundings("depths.zip", data, file.Options{})
			if err != nil || len(s.Points) != 2 || p.Refused != 1 || s.UnitStated != "ft" {
				t.Fatalf("%+v %+v %v", s, p, err)
			}
			if x := p.Problems[len(p.Problems)-1]; x.Row != 3 || !strings.Contains(x.Reason, "no property gives its depth") { // null, which GDAL writes as asterisks
				t.Errorf("%+v", x)
			}
			if x := s.Points[0]; !near(x.Pos, geo.Position{Lat: 47.91, Lon: -45.05}) || math.Abs(x.Depth.Feet()-21.5) > 1e-9 || x.Row != 1 {
				t.Errorf("%+v", x)
			}
		})
	}
	for _, read := range []func() error{
		func() error { _, _, err := ReadOutline("l", shapes(t, "lake-3857.zip"), file.Options{}); return err },
		func() error {
			_, _, err := ReadSoundings("d", shapes(t, "depths-3857.zip"), file.Options{})
			return err
		},
	} {
		if err := read(); fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), "WGS_1984_Web_Mercator") || !strings.Contains(err.Error(), "EPSG:4326") {
			t.Error(err)
		}
	}
	if _, _, err := ReadSoundings("l", shapes(t, "lake-4326.zip"), file.Options{}); err == nil {
		t.Error("polygons are taken as soundings")
	}
}

func remarks(p file.Preview) string {
	s := ""
	for _, x := range p.Problems {
		s += x.Reason + "; " + x.Mend + "|"
	}
	return s
}

const asc = "ncols 4\nnrows 3\nxllcorner 445000.0\nyllcorner 5306000.0\ncellsize 50\nNODATA_value -9999\n-9999 1.5 2.0 -9999\n3.0 4.5 5.0 2.5\n-9999 6.0 7.5 3.5\n"

func TestGridsAskForWhatTheyLeaveOpen(t *testing.T) {
	for name, c := range map[string]struct {
		file string
		opt  file.Options
		want string // "" = taken
	}{
		"no system":            {"depth_m.asc", file.Options{}, "coordinate system"},
		"no meaning":           {"lake.asc", file.Options{UTMZone: "23N"}, "depth-up:m"},
		"no unit":              {"depth.asc", file.Options{UTMZone: "23N"}, "--unit"},
		"by name and zone":     {"depth_m.asc", file.Options{UTMZone: "23N"}, ""},
		"by map":               {"lake.asc", file.Options{UTMZone: "23N", Map: map[string]string{"lake": "depth:m"}}, ""},
		"by unit":              {"depth.asc", file.Options{UTMZone: "23N", Unit: "m"}, ""},
		"metres as degrees":    {"depth_m.asc", file.Options{Map: map[string]string{"x": "lon", "y": "lat"}}, "none of its 12 rows"},
		"a map of no column":   {"depth_m.asc", file.Options{UTMZone: "23N", Map: map[string]string{"q": "depth"}}, `no column "q"`},
		"not a zone":           {"depth_m.asc", file.Options{UTMZone: "99N"}, "not a UTM zone"},
		"as heights below sea": {"lake.asc", file.Options{UTMZone: "23N", Map: map[string]string{"lake": "depth-up:m"}}, "negative"},
	} {
		s, p, err := ReadSoundings(c.file, []byte(asc), c.opt)
		if c.want == "" {
			if err != nil || p.Rows != 12 || p.Blank != 3 || len(s.Points) != 9 {
				t.Errorf("%s: %+v %v", name, p, err)
				continue
			}
			// the first cell with a value: row 1, column 2; its centre by the header
			want := geo.UTM{Zone: 23, North: true, Easting: 445075, Northing: 5306125}.Position()
			if x := s.Points[0]; !near(x.Pos, want) || x.Depth != 1.5 || x.Row != 7 {
				t.Errorf("%s: %+v", name, x)
			}
		} else if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestPointsWithDepths(t *testing.T) {
	const gpxFile = `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" xmlns:h="urn:h"><wpt lat="47.9" lon="-45"><desc>depth 9 m</desc><extensions><h:hole><h:depth_m>6.20</h:depth_m></h:hole></extensions></wpt>
	<wpt lat="47.91" lon="-45"><desc>Depth: 21.5 ft &amp; ice 0.41 m</desc></wpt><wpt lat="47.92" lon="-45"><desc>a depth of mud</desc></wpt><wpt lat="99" lon="-45"/>
	<trk><trkseg><trkpt lat="47.93" lon="-45"><extensions><h:depth_m>3</h:depth_m></extensions></trkpt></trkseg></trk></gpx>`
	s, p, err := ReadSoundings("a.gpx", []byte(gpxFile), file.Options{})
	if err != nil || len(s.Points) != 3 || p.Rows != 5 || p.Refused != 2 || s.Points[0].Depth != 6.2 || math.Abs(s.Points[1].Depth.Feet()-21.5) > 1e-9 || s.Points[2].Row != 5 || p.Problems[0].Row+p.Problems[1].Row == 0 {
		t.Errorf("%+v %+v %v", s, p, err)
	}
	_, p, err = ReadSoundings("b.gpx", []byte(`<gpx><wpt lat="47.9" lon="-45"><name>landing</name></wpt><trk><trkseg><trkpt lat="47.9" lon="-45"/></trkseg></trk></gpx>`), file.Options{})
	if err == nil || !strings.Contains(err.Error(), "1 waypoints and 1 routes and tracks, none with a depth") || len(p.Problems) != 1 {
		t.Errorf("%+v %v", p, err)
	}
	const kmlFile = `<kml><Document><Placemark><name>1</name><ExtendedData><Data name="Depth (ft)"><value>20</value></Data></ExtendedData><Point><coordinates>-45,47.9,381</coordinates></Point></Placemark>
	<Placemark><description>depth 6.2 m</description><Point><coordinates>-45,47.91</coordinates></Point></Placemark><Placemark><Point><coordinates>-45,97</coordinates></Point></Placemark>
	<Placemark><LineString><coordinates>-45,47 -45,48</coordinates></LineString></Placemark></Document></kml>`
	s, p, err = ReadSoundings("a.kml", []byte(kmlFile), file.Options{})
	if err != nil || len(s.Points) != 2 || p.Refused != 2 || s.Points[0].Depth.Metres() != 6.096 { // 20 ft by definition [YardPound1959]
		t.Errorf("%+v %+v %v", s, p, err)
	}
	if _, _, err := ReadSoundings("b.kml", []byte(`<kml><Placemark><Point><coordinates>-45,47</coordinates></Point></Placemark></kml>`), file.Options{}); err == nil || !strings.Contains(err.Error(), "none with a depth") {
		t.Error(err)
	}
}

func TestOutlinesOfKML(t *testing.T) {
	ring := "<LinearRing><coordinates>-45.1,47.9 -45,47.9,0 -45,47.95 -45.1,47.95 -45.1,47.9</coordinates></LinearRing>"
	island := "<LinearRing><coordinates>-45.06,47.92 -45.04,47.92 -45.04,47.93 -45.06,47.93 -45.06,47.92</coordinates></LinearRing>"
	whole := "<kml><Placemark><name>Lake Tamaringen</name><Polygon><innerBoundaryIs>" + island + "</innerBoundaryIs><outerBoundaryIs>" + ring + "</outerBoundaryIs></Polygon></Placemark><Placemark><Point><coordinates>1,1</coordinates></Point></Placemark></kml>"
	if kind, why := file.Detect("a.kml", []byte(whole)); kind != file.Outline {
		t.Error(kind, why)
	}
	o, p, err := ReadOutline("a.kml", []byte(whole), file.Options{})
	if err != nil || o.Name != "Lake Tamaringen" || len(o.Polygons) != 1 || len(o.Polygons[0].Islands) != 1 || len(o.Polygons[0].Outer) != 4 || !strings.Contains(remarks(p), "left out") {
		t.Errorf("%+v %+v %v", o, p, err)
	}
	for name, c := range map[string]struct{ data, want string }{
		"open ring": {strings.Replace(whole, " -45.1,47.9<", "<", 1), "not closed"},
		"off globe": {strings.Replace(whole, "-45,47.95", "-45,97.95", 1), "not longitude,latitude"},
		"no area":   {"<kml><Placemark><LineString><coordinates>1,1 2,2</coordinates></LineString></Placemark></kml>", "no polygon"},
		"GPX":       {"<gpx/>", "holds no outline"},
	} {
		if _, _, err := ReadOutline("a", []byte(c.data), file.Options{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Checksums worked out as the exclusive or between $ and * [NMEA2002]; the depth sentence is that of an archived ship log.
func TestALogOfSentences(t *testing.T) {
	log := "$GPRMC,120000,A,4754.0000,N,04500.0000,W,,,140126,,*0F\n$SDDPT,0006.29,002.40*6C\n$SDDPT,0006.29,002.40*00\n$SDDBT,17.0,f,5.1,M,2.8,F*3E\n$YXMTW,17.9,C*1D\n"
	if kind, why := file.Detect("a.txt", []byte(log)); kind != file.Soundings {
		t.Error(kind, why)
	}
	s, p, err := ReadSoundings("a.txt", []byte(log), file.Options{})
	if err != nil || len(s.Points) != 1 || math.Abs(s.Points[0].Depth.Metres()-8.69) > 1e-9 || s.Points[0].Row != 2 || !near(s.Points[0].Pos, geo.Position{Lat: 47.9, Lon: -45}) {
		t.Fatalf("%+v %+v %v", s, p, err)
	}
	for _, want := range []string{"1 of 5 sentences were dropped: 1 have a wrong checksum", "1 depths by SDDBT are not used"} {
		if !strings.Contains(remarks(p), want) {
			t.Errorf("no %q in %s", want, remarks(p))
		}
	}
	if !strings.Contains(strings.Join(p.Summary, " "), "17.9 to 17.9 °C") {
		t.Error(p.Summary)
	}
	if _, _, err := ReadSoundings("a.txt", []byte("$YXMTW,17.9,C*1D\n"), file.Options{}); err == nil || !strings.Contains(err.Error(), "no depth") {
		t.Error(err)
	}
}

// Whatever the bytes, reading them as any format does not panic, and what is taken lies on the globe at a depth within bounds.
func FuzzFormats(f *testing.F) {
	f.Add([]byte(asc))
	f.Add(shapes(f, "lake-26923.zip"))
	f.Add(shapes(f, "depths-4326.zip"))
	f.Add([]byte("<gpx><wpt lat=\"1\" lon=\"2\"><desc>depth 3 m</desc></wpt></gpx>"))
	f.Add([]byte("<kml><Placemark><Polygon><outerBoundaryIs><LinearRing><coordinates>1,1 1.1,1 1.1,1.1 1,1</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></kml>"))
	f.Add([]byte("$GPRMC,120000,A,4754.0000,N,04500.0000,W,,,140126,,*0F\n$SDDPT,0006.29,002.40*6C\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		opt := file.Options{MaxBytes: 1 << 18, UTMZone: "23N", Unit: "m"}
		file.Detect("depth", data)
		s, p, err := ReadSoundings("depth.asc", data, opt)
		if err == nil && (p.Taken+p.Refused+p.Duplicates+p.Blank != p.Rows || p.Taken != len(s.Points)) {
			t.Fatalf("%+v", p)
		}
		for _, x := range s.Points {
			if !x.Pos.Valid() || !(x.Depth > 0 && x.Depth <= maxDepth) {
				t.Fatalf("%+v", x)
			}
		}
		if o, _, err := ReadOutline("lake", data, opt); err == nil {
			for _, g := range o.Polygons {
				for _, q := range g.Outer {
					if !q.Valid() {
						t.Fatal(q)
					}
				}
			}
		}
	})
}
