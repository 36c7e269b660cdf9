package geo

import (
	"math"
	"testing"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// planeTolerance bounds the mid-latitude plane's error in metres: its measured 0.5 mm at 5 km, 4 mm at 10 km and 24 cm at
// 40 km (against GeodSolve 2.1.2) grow with the cube of the distance; GeodSolve prints micrometres.
func planeTolerance(m float64) float64 { return 1e-6 + 0.24*math.Pow(m/40000, 3)*1.1 }

// turned gives the smaller angle between two bearings.
func turned(a, b float64) float64 { return math.Abs(math.Remainder(a-b, 360)) }

func TestBetweenAgainstGeodSolve(t *testing.T) { // GeographicLib GeodSolve 2.1.2 -i, testdata/geodesic_inverse.csv
	for _, row := range readCSV(t, "geodesic_inverse.csv") {
		a, b := Position{number(t, row, "lat1"), number(t, row, "lon1")}, Position{number(t, row, "lat2"), number(t, row, "lon2")}
		d, az := Between(a, b)
		want := number(t, row, "s12_m")
		if math.Abs(d.Metres()-want) > planeTolerance(want) {
			t.Errorf("%v-%v: %.6f m, want %.6f", a, b, d.Metres(), want)
		}
		if off := turned(az.Degrees(), number(t, row, "azi1_deg")); off > 0.0005 { // 35 cm at 40 km
			t.Errorf("%v-%v: bearing %.6f, want %s", a, b, az.Degrees(), row["azi1_deg"])
		}
		if _, back := Between(b, a); turned(back.Degrees()+180, number(t, row, "azi2_deg")) > 0.0005 {
			t.Errorf("%v-%v: bearing back %.6f, want %s + 180", a, b, back.Degrees(), row["azi2_deg"])
		}
	}
}

func TestTowardAgainstGeodSolve(t *testing.T) { // GeographicLib GeodSolve 2.1.2, testdata/geodesic_direct.csv
	for _, row := range readCSV(t, "geodesic_direct.csv") {
		a, want := Position{number(t, row, "lat1"), number(t, row, "lon1")}, Position{number(t, row, "lat2"), number(t, row, "lon2")}
		d, az := number(t, row, "s12_m"), number(t, row, "azi1_deg")
		got := a.Toward(quantity.NewBearing(az), quantity.Length(d))
		off, _ := Between(got, want)
		// the bearing's own error of some 1e-4 degree at 40 km adds to the plane's
		if tol := planeTolerance(d) + d*0.0003*math.Pi/180*math.Pow(d/40000, 2); off.Metres() > tol {
			t.Errorf("%v %g %g m: %.9f, %.9f is %.4f m off, tolerance %.4f", a, az, d, got.Lat, got.Lon, off.Metres(), tol)
		}
		if d < 10000 && (math.Abs(got.Lat-want.Lat) > 1e-7 || math.Abs(got.Lon-want.Lon) > 1e-7) {
			t.Errorf("%v %g %g m: %.9f, %.9f, want %.9f, %.9f", a, az, d, got.Lat, got.Lon, want.Lat, want.Lon)
		}
	}
}

// Away and back, across the 180th meridian too; and the frame's bearing plus its convergence is the true one.
func TestBetweenRoundTrip(t *testing.T) {
	rng := num.NewStream(5, "between")
	for range 2000 {
		p := Position{rng.Float64()*140 - 70, rng.Float64()*360 - 180}
		d, az := quantity.Length(rng.Float64()*20000+1), quantity.NewBearing(rng.Float64()*360)
		q := p.Toward(az, d)
		d2, az2 := Between(p, q)
		if math.Abs(float64(d2-d)) > 1e-6 || turned(float64(az2), float64(az))*float64(d) > 1e-4 {
			t.Fatalf("%v %g %g: came back as %g %g", p, float64(az), float64(d), float64(az2), float64(d2))
		}
		f := NewFrame(Position{p.Lat + 0.1, p.Lon - 0.1}) // the place lies some 10 km off the frame's meridian
		l := f.Local(p)
		true1 := l.BearingTo(f.Local(q)).Degrees() + f.Convergence(l).Degrees()
		if d > 100 && turned(true1, float64(az)) > 0.003 { // the plane's straight line and the geodesic differ so much at 20 km
			t.Fatalf("%v %v: frame says %g, want %g", p, q, true1, float64(az))
		}
	}
	if d, b := Between(Position{48, -45}, Position{48, -45}); d != 0 || b != 0 {
		t.Error(d, b)
	}
}

func TestFootOn(t *testing.T) {
	line := []Local{{0, 0}, {100, 0}, {100, 50}}
	for _, c := range []struct {
		p, at             Local
		leg               int
		along, ahead, off float64
	}{
		{Local{40, -3}, Local{40, 0}, 0, 40, 110, 3}, // south of an eastward leg: right
		{Local{40, 3}, Local{40, 0}, 0, 40, 110, -3},
		{Local{90, 20}, Local{100, 20}, 1, 120, 30, -10},
		{Local{107, 20}, Local{100, 20}, 1, 120, 30, 7},
		{Local{-3, 4}, Local{0, 0}, 0, 0, 150, -5},
		{Local{100, 80}, Local{100, 50}, 1, 150, 0, 30},
		{Local{50, 0}, Local{50, 0}, 0, 50, 100, 0},
	} {
		f := FootOn(line, c.p)
		if f.At != c.at || f.Leg != c.leg || f.Along.Metres() != c.along || f.Ahead.Metres() != c.ahead || f.Off.Metres() != c.off {
			t.Errorf("%v: %+v, want %+v", c.p, f, c)
		}
		if PointAlong(line, f.Along) != c.at {
			t.Errorf("%v: point along %v", c.p, PointAlong(line, f.Along))
		}
	}
	if f := FootOn(line[:1], Local{3, 4}); f.Off != 5 || f.At != line[0] {
		t.Errorf("a point: %+v", f)
	}
	if PointAlong(line, -1) != line[0] || PointAlong(line, 999) != line[2] || PointAlong(line[:1], 3) != line[0] {
		t.Error("beyond the ends")
	}
	// a line that comes back: the later leg counts
	if f := FootOn([]Local{{0, 0}, {100, 0}, {0, 0}}, Local{30, 0}); f.Leg != 1 || f.Along != 170 {
		t.Errorf("%+v", f)
	}
}

// The foot is the nearest of all points of the line, by trying them.
func TestFootOnNearest(t *testing.T) {
	rng := num.NewStream(9, "foot")
	for range 200 {
		line := make([]Local, 2+rng.IntN(6))
		for i := range line {
			line[i] = Local{rng.Float64() * 100, rng.Float64() * 100}
		}
		p := Local{rng.Float64() * 100, rng.Float64() * 100}
		f := FootOn(line, p)
		length := f.Along + f.Ahead
		for k := range 1001 {
			if d := PointAlong(line, length*quantity.Length(k)/1000).Distance(p); d < quantity.Length(math.Abs(float64(f.Off)))-1e-9 {
				t.Fatalf("%v %v: %g at %d is nearer than %+v", line, p, d, k, f)
			}
		}
	}
}

func TestSegmentGap(t *testing.T) {
	for _, c := range []struct {
		a, b, c, d Local
		want       float64
	}{
		{Local{0, 0}, Local{10, 0}, Local{5, -5}, Local{5, 5}, 0},
		{Local{0, 0}, Local{10, 0}, Local{5, 3}, Local{5, 5}, 3},
		{Local{0, 0}, Local{10, 0}, Local{13, 4}, Local{20, 4}, 5},
		{Local{0, 0}, Local{10, 0}, Local{0, 2}, Local{10, 2}, 2},
	} {
		if got := SegmentGap(c.a, c.b, c.c, c.d); got != c.want || SegmentGap(c.c, c.d, c.a, c.b) != c.want {
			t.Errorf("%+v: %g", c, got)
		}
	}
}
