package kml

import (
	"archive/zip"
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"icehand/internal/base/geo"
	"icehand/internal/feed/file"
)

// waypoints.kml was written by GDAL 3.6.2, `ogr2ogr -f KML waypoints.kml sample.gpx waypoints`, from a made-up GPX file of two holes.
func sample(t testing.TB) []byte {
	t.Helper()
	data, err := os.ReadFile("testdata/waypoints.kml")
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestWhatGDALWroteIsRead(t *testing.T) {
	d, err := Read(sample(t), file.Options{})
	if err != nil || len(d.Placemarks) != 2 {
		t.Fatalf("%+v %v", d, err)
	}
	h := d.Placemarks[0]
	if h.Name != "H001" || h.Bad != "" || len(h.Points) != 1 || (h.Points[0] != geo.Position{Lat: 46.21735, Lon: -93.68412}) || len(h.Data) != 6 || h.Data[2] != (Field{"desc", "depth 6.20 m & ice 0.41 m"}) {
		t.Errorf("%+v", h)
	}
}

func zipped(t testing.TB, files map[string]string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for name, text := range files {
		f, err := w.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write([]byte(text)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

var made = Document{Name: "Lake & more", Placemarks: []Placemark{
	{Row: 1, Name: "hole 1", Description: "depth 6.20 m <b>", Data: []Field{{"depth_m", "6.20"}}, Points: []geo.Position{{Lat: 47.9123456, Lon: -45.0123456}}},
	{Row: 2, Name: "water", Polygons: []Polygon{{{{Lat: 47, Lon: -45}, {Lat: 47, Lon: -44}, {Lat: 48, Lon: -44}, {Lat: 47, Lon: -45}}, {{Lat: 47.1, Lon: -44.2}, {Lat: 47.2, Lon: -44.2}, {Lat: 47.1, Lon: -44.3}, {Lat: 47.1, Lon: -44.2}}}}},
	{Row: 3, Name: "both", Points: []geo.Position{{Lat: 1, Lon: 2}}, Lines: [][]geo.Position{{{Lat: 1, Lon: 2}, {Lat: 1, Lon: 3}}}},
}}

func TestRoundTripPlainAndZipped(t *testing.T) {
	var b bytes.Buffer
	if err := Write(&b, made); err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{"KML": b.Bytes(), "KMZ": zipped(t, map[string]string{"doc.kml": b.String(), "files/more.kml": "<kml/>", "images/x.png": "x"})} {
		d, err := Read(data, file.Options{})
		if err != nil {
			t.Fatal(name, err)
		}
		if diff := cmp.Diff(made, d); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

func TestWhatIsRefused(t *testing.T) {
	for name, c := range map[string]struct{ data, want string }{
		"entity bomb":          {`<!DOCTYPE kml [<!ENTITY a "aaaaaaaaaa">]><kml><name>&a;</name></kml>`, "document type"},
		"external entity":      {`<!DOCTYPE kml SYSTEM "http://example.org/x.dtd"><kml/>`, "document type"},
		"a million tags deep":  {`<kml>` + strings.Repeat("<Folder>", 1_000_000), "more than 64 deep"},
		"too many positions":   {`<kml><Placemark><LineString><coordinates>` + strings.Repeat("1,1 ", maxPlaces+1) + `</coordinates></LineString></Placemark></kml>`, "more than 1000000 positions"},
		"cut off":              {`<kml><Placemark><Point><coordinates>1,`, "cut off"},
		"another root":         {`<svg/>`, "not KML"},
		"a zip without KML":    {string(zipped(t, map[string]string{"a.txt": "x"})), "no KML"},
		"a zip that leads out": {string(zipped(t, map[string]string{"../doc.kml": "<kml/>"})), "not a plain name"},
		"two in a zip":         {string(zipped(t, map[string]string{"a.kml": "<kml/>", "b.kml": "<kml/>"})), "2 KML files"},
	} {
		if _, err := Read([]byte(c.data), file.Options{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	d, err := Read([]byte(`<kml><Placemark><Point><coordinates>200,1</coordinates></Point></Placemark><Placemark><Point/></Placemark></kml>`), file.Options{})
	if err != nil || !strings.Contains(d.Placemarks[0].Bad, "200,1") || !strings.Contains(d.Placemarks[1].Bad, "0 positions") {
		t.Errorf("%+v %v", d, err)
	}
}

// What we write is read back by GDAL without a warning when it is installed.
func TestGDALReadsWhatWeWrite(t *testing.T) {
	program, err := exec.LookPath("ogrinfo")
	if err != nil {
		t.Skip("ogrinfo of GDAL is not installed: what we write was not read back by it")
	}
	d := made
	d.Placemarks = append([]Placemark(nil), made.Placemarks...)
	d.Placemarks[0].When = time.Date(2026, 1, 14, 15, 26, 30, 0, time.UTC)
	path := filepath.Join(t.TempDir(), "out.kml")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := Write(f, d); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(program, "-ro", "-al", path).CombinedOutput()
	if low := strings.ToLower(string(out)); err != nil || strings.Contains(low, "warning") || strings.Contains(low, "error") {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, want := range []string{"(-45.0123456 47.9123456", "hole 1", "depth 6.20 m <b>", "POLYGON"} {
		if !strings.Contains(string(out), want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
}

// Whatever the bytes, reading does not panic, every position lies on the globe, and what was read is written and read again the same.
func FuzzKML(f *testing.F) {
	f.Add(sample(f))
	var b bytes.Buffer
	if err := Write(&b, made); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add(zipped(f, map[string]string{"doc.kml": b.String()}))
	f.Add([]byte("<kml><Placemark><Polygon><outerBoundaryIs><LinearRing><coordinates>1,2,3\n1e9,2 x</coordinates>"))
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := Read(data, file.Options{MaxBytes: 1 << 18})
		if err != nil {
			return
		}
		n := 0
		for _, p := range d.Placemarks {
			for _, q := range p.Points {
				n++
				if !q.Valid() {
					t.Fatalf("%+v", p)
				}
			}
		}
		var b bytes.Buffer
		if err := Write(&b, d); err != nil {
			t.Fatal(err)
		}
		again, err := Read(b.Bytes(), file.Options{MaxBytes: 1 << 22})
		if err != nil || len(again.Placemarks) != len(d.Placemarks) {
			t.Fatalf("%d and %d placemarks, %v\n%s", len(d.Placemarks), len(again.Placemarks), err, b.String())
		}
	})
}
