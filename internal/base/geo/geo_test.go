package geo

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"icehand/internal/base/num"
)

// readCSV reads a reference table and fails when it is empty.
func readCSV(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, h := range rows[0] {
			if i < len(row) {
				m[h] = row[i]
			}
		}
		out = append(out, m)
	}
	return out
}

func TestUTMAgainstGeoConvert(t *testing.T) { // GeographicLib GeoConvert 2.1.2, testdata/geoconvert.csv
	for _, row := range readCSV(t, "geoconvert.csv") {
		get := func(k string) float64 {
			v, err := strconv.ParseFloat(row[k], 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		t.Run(row["lat"]+","+row["lon"], func(t *testing.T) {
			p := Position{get("lat"), get("lon")}
			u := p.ToUTM()
			// the table prints millimetres: half of one, and a little for the double rounding of its decimals
			if math.Abs(u.Easting-get("easting_m")) > 0.0006 || math.Abs(u.Northing-get("northing_m")) > 0.0006 {
				t.Errorf("got %v, GeoConvert says %s %s", u, row["easting_m"], row["northing_m"])
			}
			if got, want := strconv.Itoa(u.Zone)+map[bool]string{true: "n", false: "s"}[u.North], row["utm_zone"]; got != want {
				t.Errorf("zone %s, want %s", got, want)
			}
			back := u.Position()
			if math.Abs(back.Lat-p.Lat) > 1e-10 || math.Abs(back.Lon-p.Lon) > 1e-10 {
				t.Errorf("back to %v", back)
			}
		})
	}
}

func TestFrameDistancesAgainstGeodSolve(t *testing.T) { // GeographicLib GeodSolve 2.1.2, testdata/geodesic_inverse.csv
	for _, row := range readCSV(t, "geodesic_inverse.csv") {
		get := func(k string) float64 {
			v, err := strconv.ParseFloat(row[k], 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		a, b := Position{get("lat1"), get("lon1")}, Position{get("lat2"), get("lon2")}
		want := get("s12_m")
		if want > 50000 {
			continue // the frame is for lakes; longer lines are GeodSolve's own checks
		}
		f := NewFrame(a)
		d := f.Local(a).Distance(f.Local(b)).Metres()
		x := f.Local(b).E
		// transverse Mercator at scale 1 stretches by x^2/2R^2 at most; GeodSolve prints micrometres
		tol := want*x*x/(2*6.37e6*6.37e6) + 1e-5
		if math.Abs(d-want) > tol {
			t.Errorf("%v-%v: %.6f m, want %.6f, tolerance %.6f", a, b, d, want, tol)
		}
	}
}

func TestFrameRoundTrip(t *testing.T) {
	rng := num.NewStream(1, "frame")
	for range 1000 {
		f := NewFrame(Position{rng.Float64()*140 - 70, rng.Float64()*340 - 170})
		l := Local{rng.Float64()*60000 - 30000, rng.Float64()*60000 - 30000}
		if d := f.Local(f.Position(l)).Distance(l); d > 1e-6 {
			t.Fatalf("%v %v: off by %g m", f.origin, l, d)
		}
	}
}

// Worked position of the US National SAR Committee's format rules, with the carry of 59.9996 minutes.
func TestDMMText(t *testing.T) {
	for _, c := range []struct {
		p    Position
		want string
	}{
		{Position{46.21735, -93.68412}, "46-13.041N 93-41.047W"},
		{Position{9.005, -4.0408333}, "9-0.300N 4-2.450W"},
		{Position{45 + 59.9996/60, 10}, "46-0.000N 10-0.000E"},
	} {
		if got := c.p.DMMText(); got != c.want {
			t.Errorf("%v: %s, want %s", c.p, got, c.want)
		}
		back, err := ParsePosition(c.want)
		if err != nil || math.Abs(back.Lat-c.p.Lat) > 1e-5 || math.Abs(back.Lon-c.p.Lon) > 1e-5 {
			t.Errorf("%s read back as %v, %v", c.want, back, err)
		}
	}
}

func TestParsePosition(t *testing.T) {
	want := Position{46.21735, -93.68412}
	for _, s := range []string{"46.21735, -93.68412", "46.21735 -93.68412", "46°13.041'N, 93°41.0472'W",
		"N46 13.041, W93 41.0472", "93-41.0472W, 46-13.041N", "46°13'02.46\"N, 93°41'02.832\"W"} {
		p, err := ParsePosition(s)
		if err != nil || math.Abs(p.Lat-want.Lat) > 1e-6 || math.Abs(p.Lon-want.Lon) > 1e-6 {
			t.Errorf("%q: %v, %v", s, p, err)
		}
	}
	for _, s := range []string{"", "46", "91, 0", "46, 181", "46 61.0 N, 93 0 W", "NaN, 1", "1e2, 3", "46.5 30.0 N, 9 W", "46N, 47N", "46, 93, 12"} {
		if p, err := ParsePosition(s); err == nil {
			t.Errorf("%q accepted as %v", s, p)
		}
	}
}

func TestParseUTM(t *testing.T) {
	u, err := ParseUTM("15N 447234.857 5118424.463")
	if err != nil || u.Position().DecimalText() != "46.21735, -93.68412" {
		t.Errorf("%v %v", u.Position(), err)
	}
	for _, s := range []string{"", "61N 447234 5118424", "15 447234 5118424", "15N 4 5118424", "15N NaN 5118424"} {
		if u, err := ParseUTM(s); err == nil {
			t.Errorf("%q accepted as %v", s, u)
		}
	}
}

func TestPolygon(t *testing.T) {
	g := Polygon{Outer: []Local{{0, 0}, {10, 0}, {10, 10}, {0, 10}}, Holes: [][]Local{{{4, 4}, {6, 4}, {6, 6}, {4, 6}}}}
	for _, c := range []struct {
		p  Local
		in bool
		d  float64
	}{{Local{1, 1}, true, 1}, {Local{5, 5}, false, 1}, {Local{5, 3}, true, 1}, {Local{-1, 5}, false, 1}, {Local{13, 14}, false, 5}} {
		if g.Contains(c.p) != c.in || math.Abs(g.ShoreDistance(c.p)-c.d) > 1e-12 {
			t.Errorf("%v: %v %g", c.p, g.Contains(c.p), g.ShoreDistance(c.p))
		}
	}
	if !SegmentsCross(Local{0, 0}, Local{2, 2}, Local{0, 2}, Local{2, 0}) || SegmentsCross(Local{0, 0}, Local{1, 0}, Local{0, 1}, Local{1, 1}) ||
		!SegmentsCross(Local{0, 0}, Local{2, 0}, Local{1, 0}, Local{1, 5}) {
		t.Error("crossing")
	}
}

// FuzzParsePosition: whatever is accepted lies on the globe.
func FuzzParsePosition(f *testing.F) {
	for _, s := range []string{"46.2, -93.7", "46-13.041N 93-41.047W", "N46°13'02\", W93 41", "1e999, 2"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if p, err := ParsePosition(s); err == nil && !p.Valid() {
			t.Errorf("%q gave %v", s, p)
		}
	})
}
