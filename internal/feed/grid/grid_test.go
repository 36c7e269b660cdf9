package grid

import (
	"math"
	"os"
	"strings"
	"testing"
)

// depth.asc is hand-made; GDAL 3.6.2, `gdallocationinfo -valonly -geoloc depth.asc X Y`, gives 1.5 at 445075, 5116125 and no data
// at 445025, 5116025: the first row is the northern one.
func TestAgainstGDAL(t *testing.T) {
	data, err := os.ReadFile("testdata/depth.asc")
	if err != nil {
		t.Fatal(err)
	}
	g, err := Read(data)
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for row := range g.Rows {
		for column := range g.Columns {
			v, x, y := g.At(column, row)
			switch {
			case x == 445075 && y == 5116125:
				seen++
				if v != 1.5 {
					t.Errorf("%g at 445075, 5116125; gdallocationinfo gives 1.5", v)
				}
			case x == 445025 && y == 5116025:
				seen++
				if !math.IsNaN(v) {
					t.Errorf("%g at 445025, 5116025; gdallocationinfo gives no data", v)
				}
			}
		}
	}
	if seen != 2 {
		t.Errorf("%d of 2 cells found", seen)
	}
}

func TestHeaders(t *testing.T) {
	const cells = "1 2\n3 4"
	for name, c := range map[string]struct {
		head        string
		west, south float64
	}{
		"corner":         {"ncols 2\nnrows 2\nxllcorner 100\nyllcorner 200\ncellsize 10\n", 105, 205},
		"centre":         {"NCOLS 2\nNROWS 2\nXLLCENTER 100\nYLLCENTER 200\nCELLSIZE 10\n", 100, 200},
		"oblong cells":   {"ncols 2\nnrows 2\nxllcorner 100\nyllcorner 200\ndx 10\ndy 20\n", 105, 210},
		"order and ends": {"nrows 2\r\nncols 2\r\ncellsize 10\r\nyllcorner 200\r\nxllcorner 100\r\nnodata_value 4\r\n", 105, 205},
	} {
		g, err := Read([]byte(c.head + cells))
		if err != nil || g.West != c.west || g.South != c.south {
			t.Errorf("%s: %+v %v", name, g, err)
			continue
		}
		if v, _, y := g.At(0, 0); v != 1 || y != c.south+g.Dy {
			t.Errorf("%s: %g at %g", name, v, y)
		}
		if v, _, _ := g.At(1, 1); math.IsNaN(v) != (name == "order and ends") {
			t.Errorf("%s: no data: %g", name, v)
		}
	}
}

func TestWhatIsRefused(t *testing.T) {
	const head = "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n"
	for name, c := range map[string]struct{ data, want string }{
		"cut off":      {head + "1 2 3", "3 of 4 cells"},
		"too much":     {head + "1 2 3 4 5", "goes on"},
		"no number":    {head + "1 2\nx 4", `line 7 of the grid holds "x"`},
		"too large":    {"ncols 100000\nnrows 100000\nxllcorner 0\nyllcorner 0\ncellsize 1\n1", "more than the 1000000"},
		"overflow":     {"ncols 1e300\nnrows 1e300\nxllcorner 0\nyllcorner 0\ncellsize 1\n1", "more than the 1000000"},
		"no size":      {"xllcorner 0\nyllcorner 0\ncellsize 1\n1", "size"},
		"half a cell":  {"ncols 1.5\nnrows 1\nxllcorner 0\nyllcorner 0\ncellsize 1\n1", "size"},
		"no cell size": {"ncols 1\nnrows 1\nxllcorner 0\nyllcorner 0\n1", "cellsize"},
		"no corner":    {"ncols 1\nnrows 1\ncellsize 1\n1", "corner"},
		"odd header":   {"ncols two\n", "no number"},
	} {
		if _, err := Read([]byte(c.data)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Whatever the bytes, reading does not panic, and a grid that is read has as many cells as its header says.
func FuzzGrid(f *testing.F) {
	f.Add([]byte("ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\nNODATA_value -9999\n1 2 3 -9999"))
	f.Add([]byte("ncols 1e300 nrows nan xllcenter inf yllcenter 0 dx 1 dy 1 1"))
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, data []byte) {
		g, err := Read(data)
		if err == nil && (len(g.Values) != g.Columns*g.Rows || len(g.Lines) != g.Rows || len(g.Values) == 0) {
			t.Fatalf("%+v", g)
		}
	})
}
