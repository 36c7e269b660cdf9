package geo

import (
	"fmt"
	"math"
	"os/exec"
	"strings"
	"testing"

	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// Karney (2013), worked example of the direct problem, and the documentation of GeographicLib for the inverse one: both from
// memory and reproduced by GeodSolve 2.1.2 [GeodSolve].
func TestLongLines(t *testing.T) {
	a := Position{Lat: 40}
	b := a.Toward(quantity.NewBearing(30), 10_000*quantity.Kilometre)
	if math.Abs(b.Lat-41.79331020506) > 1e-10 || math.Abs(b.Lon-137.84490004377) > 1e-10 {
		t.Errorf("%.11f %.11f", b.Lat, b.Lon)
	}
	if d, back := Between(b, a); math.Abs(d.Metres()-1e7) > 1e-3 || turned(back.Degrees()+180, 149.09016931807) > 1e-9 {
		t.Errorf("%.4f %.11f", d.Metres(), back.Degrees())
	}
	if d, _ := Between(Position{Lat: 40.6, Lon: -73.8}, Position{Lat: 51.6, Lon: -0.5}); math.Abs(d.Metres()-5551759.400) > 0.001 {
		t.Errorf("%.4f", d.Metres())
	}
}

// The plane and the ellipsoid give the same answers where both hold, and the ellipsoid finds its way back.
func TestPlaneAndEllipsoidMeet(t *testing.T) {
	rng := num.NewStream(6, "geodesic")
	for range 500 {
		p := Position{rng.Float64()*130 - 65, rng.Float64()*360 - 180}
		α := rng.Float64() * 2 * math.Pi
		s := rng.Float64()*planeReach.Metres() + 1
		end := along(p, α, s)
		if d, b := Between(p, end); math.Abs(d.Metres()-s) > planeTolerance(s)*4 || turned(b.Degrees(), α*180/math.Pi)*s > 60 {
			t.Fatalf("%v %.4f %.1f m: the plane says %.4f m, %.6f", p, α*180/math.Pi, s, d.Metres(), b.Degrees())
		}
		far := rng.Float64()*1.5e7 + planeReach.Metres()
		end = along(p, α, far)
		if s, β := longLine(p, end); math.Abs(s-far) > 1e-3 || turned(β*180/math.Pi, α*180/math.Pi) > 1e-8*(1+2e7/(2e7-far)) {
			t.Fatalf("%v %.6f %.0f m: came back as %.6f, %.4f m", p, α*180/math.Pi, far, β*180/math.Pi, s)
		}
	}
}

// geographic runs a program of GeographicLib over lines of input, or skips the test when it is not installed.
func geographic(t *testing.T, input, program string, args ...string) [][]string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		t.Skipf("%s is not installed: nothing was compared with it", program)
	}
	c := exec.Command(path, args...)
	c.Stdin = strings.NewReader(input)
	out, err := c.Output()
	if err != nil {
		t.Fatalf("%s %v: %v", program, args, err)
	}
	var rows [][]string
	for line := range strings.Lines(string(out)) {
		rows = append(rows, strings.Fields(line))
	}
	if len(rows) != strings.Count(input, "\n") {
		t.Fatalf("%s %v: %d lines for %d", program, args, len(rows), strings.Count(input, "\n"))
	}
	return rows
}

// Five hundred places drawn at random, against the installed GeographicLib: lines, grid coordinates and squares.
func TestAgainstGeographicLib(t *testing.T) {
	rng := num.NewStream(7, "geographiclib")
	var places, lines strings.Builder
	var from, to []Position
	for i := range 500 {
		p := Position{math.Round((rng.Float64()*150-70)*1e6) / 1e6, math.Round((rng.Float64()*359-179.5)*1e6) / 1e6}
		reach := []float64{0.01, 0.3, 20}[i%3]
		q := Position{math.Round((p.Lat+(rng.Float64()-0.5)*reach)*1e6) / 1e6, math.Round((p.Lon+(rng.Float64()-0.5)*reach)*1e6) / 1e6}
		fmt.Fprintf(&places, "%.6f %.6f\n", p.Lat, p.Lon)
		fmt.Fprintf(&lines, "%.6f %.6f %.6f %.6f\n", p.Lat, p.Lon, q.Lat, q.Lon)
		from, to = append(from, p), append(to, q)
	}
	number := func(s string) (v float64) {
		if _, err := fmt.Sscan(s, &v); err != nil {
			t.Fatal(s, err)
		}
		return v
	}
	for i, row := range geographic(t, lines.String(), "GeodSolve", "-i", "-p", "6") {
		d, b := Between(from[i], to[i])
		s := number(row[2])
		tolerance := planeTolerance(math.Min(s, 40_000)) * 5 // the plane is measured between 44 and 61 N; the tangent of the latitude tells how it grows
		if s > planeReach.Metres()+1 {
			tolerance = 1e-4
		}
		if tan := math.Abs(math.Tan(from[i].Lat * math.Pi / 180)); math.Abs(d.Metres()-s) > tolerance*(1+tan*tan) {
			t.Errorf("%v %v: %.6f m, GeodSolve %s", from[i], to[i], d.Metres(), row[2])
		}
		if off := turned(b.Degrees(), number(row[0])); off > 0.003 {
			t.Errorf("%v %v: bearing %.6f, GeodSolve %s", from[i], to[i], b.Degrees(), row[0])
		}
	}
	for i, row := range geographic(t, places.String(), "GeoConvert", "-u", "-p", "3") { // zone, easting, northing
		u := from[i].ToUTM()
		side := "n"
		if !u.North {
			side = "s"
		}
		if fmt.Sprintf("%d%s", u.Zone, side) != strings.TrimLeft(row[0], "0") || math.Abs(u.Easting-number(row[1])) > 0.0006 || math.Abs(u.Northing-number(row[2])) > 0.0006 {
			t.Errorf("%v: %v, GeoConvert %v", from[i], u, row)
		}
	}
	for i, row := range geographic(t, places.String(), "GeoConvert", "-m", "-p", "0") {
		g, err := from[i].GridSquare(10)
		if err != nil || strings.TrimLeft(g.Compact(), "0") != strings.TrimLeft(row[0], "0") {
			t.Errorf("%v: %s, GeoConvert %s, %v", from[i], g.Compact(), row[0], err)
		}
	}
}
