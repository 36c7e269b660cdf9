package chart

import (
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/feed/file"
	"icehand/internal/feed/nmea"
)

// tool runs a general-purpose program, or skips the test when it is not installed.
func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	program, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s is not installed: no file written by it was read", name)
	}
	out, err := exec.Command(program, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %v: %v\n%s", name, args, err, out)
	}
	return string(out)
}

const madeUp = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"name":"1","depth_m":6.25},"geometry":{"type":"Point","coordinates":[-45.05,47.91]}},
{"type":"Feature","properties":{"name":"2","depth_m":9.5},"geometry":{"type":"Point","coordinates":[-45.02,47.94]}}]}`

// What GDAL writes from one GeoJSON file is read the same in every format.
func TestFilesOfGDAL(t *testing.T) {
	dir := t.TempDir()
	source := filepath.Join(dir, "made.geojson")
	if err := os.WriteFile(source, []byte(madeUp), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, args := range map[string][]string{
		"depths.gpx":     {"-f", "GPX", "-dsco", "GPX_USE_EXTENSIONS=YES"},
		"depths.kml":     {"-f", "KML"},
		"depths.csv":     {"-f", "CSV", "-lco", "GEOMETRY=AS_XY", "-lco", "SEPARATOR=SEMICOLON"},
		"depths.geojson": {"-f", "GeoJSON", "-lco", "RFC7946=YES"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(dir, name)
			tool(t, "ogr2ogr", append(args, path, source)...)
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			opt := file.Options{}
			if name == "depths.csv" {
				opt.Map = map[string]string{"X": "lon", "Y": "lat"}
			}
			s, p, err := ReadSoundings(name, data, opt)
			if err != nil || len(s.Points) != 2 || s.Points[0].Depth != 6.25 || !near(s.Points[1].Pos, geo.Position{Lat: 47.94, Lon: -45.02}) {
				t.Errorf("%+v %+v %v\n%s", s, p, err, data)
			}
		})
	}
}

// A grid that GDAL translates keeps its cells, and its .prj settles where they are when both come in a zip file.
func TestAGridOfGDALWithItsProjection(t *testing.T) {
	dir := t.TempDir()
	from, to := filepath.Join(dir, "from.asc"), filepath.Join(dir, "depth_m.asc")
	if err := os.WriteFile(from, []byte(asc), 0o600); err != nil {
		t.Fatal(err)
	}
	tool(t, "gdal_translate", "-q", "-of", "AAIGrid", "-a_srs", "EPSG:32623", from, to)
	parts := map[string]string{}
	for _, name := range []string{"depth_m.asc", "depth_m.prj"} {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		parts[name] = string(b)
	}
	s, p, err := ReadSoundings("depth_m.zip", []byte(zipOf(t, parts)), file.Options{})
	want := geo.UTM{Zone: 23, North: true, Easting: 445075, Northing: 5306125}.Position()
	if err != nil || len(s.Points) != 9 || s.Points[0].Depth != 1.5 || !near(s.Points[0].Pos, want) {
		t.Errorf("%+v %+v %v", s, p, err)
	}
}

// What gpsbabel writes is read: GPX and KML with depths in the description, and positions as sentences.
func TestFilesOfGpsbabel(t *testing.T) {
	dir := t.TempDir()
	source := filepath.Join(dir, "made.csv")
	if err := os.WriteFile(source, []byte("lat,lon,name,desc\n47.91,-45.05,one,depth 6.25 m\n47.94,-45.02,two,depth 9.5 m\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, format := range []string{"gpx", "kml"} {
		t.Run(format, func(t *testing.T) {
			path := filepath.Join(dir, "out."+format)
			tool(t, "gpsbabel", "-w", "-i", "unicsv", "-f", source, "-o", format, "-F", path)
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			s, p, err := ReadSoundings("out."+format, data, file.Options{})
			if err != nil || len(s.Points) != 2 || s.Points[0].Depth != 6.25 || !near(s.Points[1].Pos, geo.Position{Lat: 47.94, Lon: -45.02}) {
				t.Errorf("%+v %+v %v\n%s", s, p, err, data)
			}
		})
	}
	t.Run("nmea", func(t *testing.T) {
		track := filepath.Join(dir, "track.gpx")
		if err := os.WriteFile(track, []byte(`<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg><trkpt lat="47.91" lon="-45.05"><ele>300</ele><time>2026-01-14T12:00:00Z</time><fix>3d</fix><sat>9</sat></trkpt></trkseg></trk></gpx>`), 0o600); err != nil {
			t.Fatal(err)
		}
		out := tool(t, "gpsbabel", "-t", "-i", "gpx", "-f", track, "-o", "nmea", "-F", "-")
		fixes := 0
		for line := range strings.Lines(out) {
			address, fields, err := nmea.Parse(line)
			if err != nil {
				t.Fatalf("%q: %v", line, err)
			}
			read := map[string]func([]string) (nmea.Fix, error){"GPRMC": nmea.ParseRMC, "GPGGA": nmea.ParseGGA}[address]
			if read == nil {
				continue
			}
			f, err := read(fields)
			// gpsbabel prints a thousandth of a minute or finer: half of it is 1e-5 degree
			if err != nil || f.Known && (math.Abs(f.Pos.Lat-47.91) > 1e-5 || math.Abs(f.Pos.Lon+45.05) > 1e-5) {
				t.Errorf("%q: %+v %v", line, f, err)
			}
			if f.Known {
				fixes++
			}
		}
		if fixes == 0 {
			t.Errorf("no position in\n%s", out)
		}
	})
}
