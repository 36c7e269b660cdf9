package chart

import (
	"os"
	"strings"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/feed/file"
)

const examples = "../../../examples/tamaringen/"

func example(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(examples + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestTheExampleChart(t *testing.T) {
	data := example(t, "outline.geojson")
	if kind, why := file.Detect("outline.geojson", data); kind != file.Outline {
		t.Error(kind, why)
	}
	o, p, err := ReadOutline("outline.geojson", data, file.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if o.Name != "Lake Tamaringen" || len(o.Polygons) != 1 || len(o.Polygons[0].Islands) != 2 || len(o.Polygons[0].Outer) < 60 {
		t.Errorf("%+v", p)
	}
	t.Log(p.Summary)
	data = example(t, "soundings.csv")
	if kind, why := file.Detect("soundings.csv", data); kind != file.Soundings {
		t.Error(kind, why)
	}
	s, p, err := ReadSoundings("soundings.csv", data, file.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Log(p.Summary, p.Columns)
	if s.UnitStated != "ft" || p.Refused != 3 || p.Duplicates != 1 || p.Taken != p.Rows-4 || len(s.Points) < 300 {
		t.Errorf("%+v", p)
	}
	var reasons []string
	for _, x := range p.Problems {
		reasons = append(reasons, x.Value+" "+x.Reason)
	}
	for _, want := range []string{" the depth is blank", "0 a depth of 0", "3o.5 not a length", "says the same as row"} {
		if !strings.Contains(strings.Join(reasons, "|"), want) {
			t.Errorf("no problem %q in %q", want, reasons)
		}
	}
	frame := geo.NewFrame(geo.Position{Lat: 47.9, Lon: -45})
	var water geo.Polygon
	for _, q := range o.Polygons[0].Outer {
		water.Outer = append(water.Outer, frame.Local(q))
	}
	for _, island := range o.Polygons[0].Islands {
		var ring []geo.Local
		for _, q := range island {
			ring = append(ring, frame.Local(q))
		}
		water.Holes = append(water.Holes, ring)
	}
	for _, x := range s.Points {
		if !water.Contains(frame.Local(x.Pos)) {
			t.Errorf("sounding of row %d lies on land", x.Row)
		}
	}
}
