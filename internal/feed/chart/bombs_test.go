package chart

import (
	"archive/zip"
	"bytes"
	"fmt"
	"strings"
	"testing"

	"icehand/internal/feed/file"
)

func zipOf(t *testing.T, parts map[string]string) string {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for name, text := range parts {
		method := zip.Deflate
		if text == "" { // nothing to squeeze, and a squeezer for each of many costs seconds
			method = zip.Store
		}
		f, err := w.CreateHeader(&zip.FileHeader{Name: name, Method: method})
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
	return b.String()
}

// Files made to harm are refused by every reader within bounds of time and memory.
func TestBombsAreBounded(t *testing.T) {
	many := map[string]string{}
	for i := range 70_000 {
		many[fmt.Sprint(i, ".kml")] = ""
	}
	laughs := "<!DOCTYPE gpx [<!ENTITY a \"ha\">"
	for c := 'b'; c <= 'k'; c++ {
		laughs += fmt.Sprintf("<!ENTITY %c \"%s\">", c, strings.Repeat(fmt.Sprintf("&%c;", c-1), 10))
	}
	// the samples first, so that only the reading is measured
	for name, data := range map[string]string{
		"entities that grow":     laughs + "]><gpx><name>&k;</name></gpx>",
		"an external entity":     `<!DOCTYPE kml [<!ENTITY x SYSTEM "file:///etc/passwd">]><kml><Document><name>&x;</name></Document></kml>`,
		"a million tags deep":    "<gpx>" + strings.Repeat("<a>", 1_000_000),
		"a million attributes":   "<kml " + strings.Repeat(`a="" `, 1_000_000) + "/>",
		"a zip of 70,000 files":  zipOf(t, many),
		"a zip that unfolds":     zipOf(t, map[string]string{"doc.kml": strings.Repeat(" ", 65<<20)}),
		"a zip that leads out":   zipOf(t, map[string]string{"../../doc.kml": "<kml/>"}),
		"a grid without end":     "ncols 1000000\nnrows 1000000\nxllcorner 0\nyllcorner 0\ncellsize 1\n1",
		"16 MiB of tag":          "<gpx " + strings.Repeat("x", 16<<20),
		"16 MiB of open quote":   `<gpx a="` + strings.Repeat("<", 16<<20),
		"16 MiB of less-than":    strings.Repeat("<", 16<<20),
		"16 MiB of empty points": "<gpx>" + strings.Repeat("<wpt/>", 2_500_000) + "</gpx>",
		"16 MiB of dollar signs": "$GPRMC,\n" + strings.Repeat("$SDDPT,1*00\n", 1_400_000),
	} {
		within(t, name, 700, func() {
			file.Detect("depth_m.asc", []byte(data))
			if _, _, err := ReadSoundings("depth_m.asc", []byte(data), file.Options{UTMZone: "23N"}); err == nil {
				t.Errorf("%s is taken as soundings", name)
			}
			if _, _, err := ReadOutline("lake", []byte(data), file.Options{}); err == nil {
				t.Errorf("%s is taken as an outline", name)
			}
		})
	}
}

// A survey of 100,000 points with depths, in GPX, within the bounds of a CSV of that size twice over.
func TestALargeGPXIsRead(t *testing.T) {
	n := part()
	var b strings.Builder
	b.WriteString(`<gpx xmlns="http://www.topografix.com/GPX/1/1" xmlns:h="urn:h">`)
	for i := range 100_000 / n {
		fmt.Fprintf(&b, `<wpt lat="%.6f" lon="%.6f"><extensions><h:depth_m>%.1f</h:depth_m></extensions></wpt>`, 47.8+float64(i%400)*0.0005, -45.1+float64(i/400)*0.0005, 5+float64(i%190)/20)
	}
	b.WriteString("</gpx>")
	data := []byte(b.String())
	withinPart(t, "100,000 waypoints", n, 1500, func() {
		if s, _, err := ReadSoundings("a.gpx", data, file.Options{}); err != nil || len(s.Points) != 100_000/n {
			t.Error(len(s.Points), err)
		}
	})
}
