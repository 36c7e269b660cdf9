package gpx

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// sample.gpx is a made-up file of two holes and a way out, with an extension in a namespace of its own; GDAL 3.6.2
// reads its waypoints as `ogr2ogr -f GeoJSON -lco RFC7946=YES` printed them: H001 at -93.68412, 46.21735, ele 381.2,
// time 2026-01-14T15:26:30Z, and H002 at -93.683, 46.2182.
func sample(t testing.TB) []byte {
	t.Helper()
	data, err := os.ReadFile("testdata/sample.gpx")
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestTheSampleReadsAsGDALReadsIt(t *testing.T) {
	d, p, err := Read("sample.gpx", sample(t), file.Options{})
	if err != nil || p.Rows != 5 || p.Taken != 5 || len(d.Waypoints) != 2 || len(d.Tracks) != 1 || len(d.Tracks[0].Segments[0]) != 3 {
		t.Fatalf("%+v %+v %v", d, p, err)
	}
	h := d.Waypoints[0]
	if h.Name != "H001" || (h.Pos != geo.Position{Lat: 46.21735, Lon: -93.68412}) || *h.Elevation != 381.2 || !h.Time.Equal(time.Date(2026, 1, 14, 15, 26, 30, 0, time.UTC)) ||
		h.Description != "depth 6.20 m & ice 0.41 m" || h.Symbol != "Flag" || h.Type != "hole" || d.Name != "Made-up holes" || d.Tracks[0].Name != "route out" {
		t.Errorf("%+v", h)
	}
	got := map[string]string{}
	h.Extensions.Fields(func(name, text string) { got[name] = text })
	if diff := cmp.Diff(map[string]string{"depth_m": "6.20", "ice_m": "0.41"}, got); diff != "" {
		t.Error(diff)
	}
}

// Everything that is read is written back, foreign extensions byte for byte, whose prefix the root declares or the element itself.
func TestRoundTrip(t *testing.T) {
	const foreign = `<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1" xmlns:q="urn:example:q">
	<wpt lat="46.5" lon="-93.5"><geoidheight>1.5</geoidheight><link href="https://example.org/a?b&amp;c"><text>a &lt; b</text></link><sat>9</sat><name>a&amp;b</name>
	<extensions><q:deep q:how="by hand"><q:er>1 &lt; 2</q:er></q:deep><!-- kept --><z xmlns="urn:example:z"/></extensions></wpt>
	<rte><name>r</name><rtept lat="1" lon="2"/><rtept lat="1.1" lon="2"/></rte>
	<trk><extensions><q:colour>7</q:colour></extensions><trkseg><trkpt lat="1" lon="2"/></trkseg><trkseg/></trk></gpx>`
	for _, data := range [][]byte{sample(t), []byte(foreign)} {
		first, _, err := Read("a", data, file.Options{})
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := Write(&b, first); err != nil {
			t.Fatal(err)
		}
		second, p, err := Read("b", b.Bytes(), file.Options{})
		if err != nil || len(p.Problems) > 0 {
			t.Fatalf("%v %+v\n%s", err, p, b.String())
		}
		if diff := cmp.Diff(first, second); diff != "" {
			t.Errorf("%s\n%s", diff, b.String())
		}
	}
	d, _, err := Read("a", []byte(foreign), file.Options{})
	if err != nil {
		t.Fatal(err)
	}
	x := d.Waypoints[0].Extensions
	if string(x.XML) != `<q:deep q:how="by hand"><q:er>1 &lt; 2</q:er></q:deep><!-- kept --><z xmlns="urn:example:z"/>` || len(x.Spaces) != 1 || x.Spaces[0].Value != "urn:example:q" {
		t.Errorf("%s %v", x.XML, x.Spaces)
	}
}

// The children of a point stand in the order of the schema, whatever the order they came in [GPX2004, type wptType].
func TestTheOrderOfChildren(t *testing.T) {
	ele := quantity.Length(7)
	var b bytes.Buffer
	if err := Write(&b, Document{Waypoints: []Point{{Pos: geo.Position{Lat: 1, Lon: 2}, Elevation: &ele, Time: time.Date(2026, 1, 14, 12, 0, 0, 0, time.FixedZone("", -6*3600)), Name: "n", Comment: "c", Description: "d", Symbol: "s", Type: "t",
		Rest: []Element{{"sat", []byte("<sat>9</sat>")}, {"magvar", []byte("<magvar>1</magvar>")}}, Extensions: Raw{XML: []byte("<x xmlns='urn:x'/>")}}}}); err != nil {
		t.Fatal(err)
	}
	at := -1
	for _, s := range []string{"<ele>7<", "<time>2026-01-14T18:00:00Z<", "<magvar>", "<name>", "<cmt>", "<desc>", "<sym>", "<type>", "<sat>", "<extensions>"} {
		i := strings.Index(b.String(), s)
		if i <= at {
			t.Errorf("%s stands at %d\n%s", s, i, b.String())
		}
		at = i
	}
}

func TestWhatIsRefused(t *testing.T) {
	const open = `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">`
	for name, c := range map[string]struct{ data, want string }{
		"entity bomb":         {`<!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>` + open + `<name>&b;</name></gpx>`, "document type"},
		"external entity":     {`<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]>` + open + `<name>&x;</name></gpx>`, "document type"},
		"unknown entity":      {open + `<metadata><name>&x;</name></metadata></gpx>`, "not XML from line 1"},
		"a million tags deep": {open + strings.Repeat("<a>", 1_000_000), "more than 64 deep"},
		"many attributes":     {open + `<wpt ` + strings.Repeat(`a="" `, 1_000_000) + `/></gpx>`, "a tag of more than"},
		"cut off":             {open + `<wpt lat="1" lon="2"><name>x`, "cut off"},
		"cut off in a tag":    {open + `<wpt lat="1" `, "cut off"},
		"another root":        {`<html><body/></html>`, "not GPX"},
		"a long name":         {open + `<wpt lat="1" lon="2"><name>` + strings.Repeat("x", 1<<20) + `</name></wpt></gpx>`, "a text of more than"},
		"nothing":             {"  ", "empty"},
	} {
		if _, _, err := Read("f", []byte(c.data), file.Options{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, p, err := Read("f", []byte(open+`<wpt lat="91" lon="2"/><wpt lat="NaN" lon="2"/><wpt lon="2"/><wpt lat="1" lon="2"><time>yesterday</time></wpt></gpx>`), file.Options{})
	if err != nil || p.Rows != 4 || p.Refused != 3 || p.Problems[0].Row != 1 || p.Problems[3].Row != 4 || p.Problems[3].Column != "time" {
		t.Errorf("%+v %v", p, err)
	}
}

// What we write is read back by GDAL without a warning, and by gpsbabel, when they are installed.
func TestGeneralToolsReadWhatWeWrite(t *testing.T) {
	ele := quantity.Length(381.2)
	d := Document{Name: "holes", Waypoints: []Point{{Pos: geo.Position{Lat: 47.9123456, Lon: -45.0123456}, Elevation: &ele, Name: "hole 1 & <2>", Description: "depth 6.20 m", Time: time.Date(2026, 1, 14, 15, 26, 30, 0, time.UTC),
		Extensions: Raw{XML: []byte("<h:depth_m>6.20</h:depth_m>"), Spaces: []xml.Attr{{Name: xml.Name{Space: "xmlns", Local: "h"}, Value: "urn:icehand:hole:1"}}}}},
		Tracks: []Line{{Name: "way", Segments: [][]Point{{{Pos: geo.Position{Lat: 47.9, Lon: -45}}, {Pos: geo.Position{Lat: 47.91, Lon: -45}}}}}}}
	path := filepath.Join(t.TempDir(), "out.gpx")
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
	for _, tool := range []struct {
		name string
		args []string
		want []string
	}{
		{"ogrinfo", []string{"-ro", "-al", path}, []string{"POINT (-45.0123456 47.9123456)", "hole 1 & <2>", "2026/01/14 15:26:30+00", "h_depth_m", "6.20", "MULTILINESTRING ((-45 47.9,-45 47.91))"}},
		{"gpsbabel", []string{"-w", "-i", "gpx", "-f", path, "-o", "unicsv", "-F", "-"}, []string{"47.912346", "-45.012346", "hole 1 & <2>"}},
	} {
		t.Run(tool.name, func(t *testing.T) {
			program, err := exec.LookPath(tool.name)
			if err != nil {
				t.Skipf("%s is not installed: what we write was not read back by it", tool.name)
			}
			out, err := exec.Command(program, tool.args...).CombinedOutput()
			if err != nil || strings.Contains(strings.ToLower(string(out)), "warning") || strings.Contains(strings.ToLower(string(out)), "error") {
				t.Fatalf("%v\n%s", err, out)
			}
			for _, w := range tool.want {
				if !strings.Contains(string(out), w) {
					t.Errorf("no %q in\n%s", w, out)
				}
			}
		})
	}
}

// Whatever the bytes, reading does not panic, every point lies on the globe, and what was read survives being written and read again.
func FuzzGPX(f *testing.F) {
	f.Add(sample(f))
	f.Add([]byte(`<gpx xmlns:q="u"><wpt lat="1" lon="2"><extensions><q:a>&lt;</q:a></extensions><sat>1</sat></wpt><rte><rtept lat="1" lon="1"/></rte></gpx>`))
	f.Add([]byte(`<gpx><trk><trkseg><trkpt lat="1e9" lon="2"/></trkseg></trk><metadata><time>2026-01-01T00:00:00+01:00</time></metadata>`))
	f.Add([]byte("<!DOCTYPE x><gpx/>"))
	f.Fuzz(func(t *testing.T, data []byte) {
		d, p, err := Read("f", data, file.Options{MaxBytes: 1 << 18})
		if err != nil {
			return
		}
		if p.Taken+p.Refused != p.Rows {
			t.Fatalf("%+v", p)
		}
		for _, w := range d.Waypoints {
			if !w.Pos.Valid() || w.Row < 1 {
				t.Fatalf("%+v", w)
			}
			w.Extensions.Fields(func(string, string) {})
		}
		var b bytes.Buffer
		if err := Write(&b, d); err != nil {
			t.Fatal(err)
		}
		again, p2, err := Read("g", b.Bytes(), file.Options{MaxBytes: 1 << 22})
		if err != nil || p2.Refused > 0 {
			t.Fatalf("%v %+v\n%s", err, p2, b.String())
		}
		count := func(d Document) string {
			n := fmt.Sprint(len(d.Waypoints), len(d.Routes), len(d.Tracks))
			for _, l := range d.Tracks {
				n += fmt.Sprint(" ", len(l.Segments))
			}
			return n
		}
		if count(d) != count(again) {
			t.Fatalf("%s, %s\n%s", count(d), count(again), b.String())
		}
	})
}
