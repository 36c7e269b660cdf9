package wmm

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// readTable reads a table of numbers and fails when it is empty.
func readTable(t *testing.T, name string) []map[string]float64 {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	var out []map[string]float64
	for _, row := range rows[1:] {
		m := map[string]float64{}
		for i, h := range rows[0] {
			if m[h], err = strconv.ParseFloat(row[i], 64); err != nil {
				t.Fatal(err)
			}
		}
		out = append(out, m)
	}
	return out
}

// near fails unless got is within half of the last printed digit of want; a rounding of the last bits is let pass.
func near(t *testing.T, what string, got, want, digit float64) {
	t.Helper()
	if !(math.Abs(got-want) <= digit/2+1e-9) {
		t.Errorf("%s: %.6f, want %g", what, got, want)
	}
}

func TestPublishedValues(t *testing.T) { // [Chulliat2025], testdata/published.csv
	for _, row := range readTable(t, "published.csv") {
		f := field(geo.Position{Lat: row["lat"], Lon: row["lon"]}, 1000*row["height_km"], row["year"])
		near(t, "declination", f.Declination.Degrees(), row["declination_deg"], 0.01)
		near(t, "inclination", f.Inclination.Degrees(), row["inclination_deg"], 0.01)
		near(t, "total", f.Total.Nanoteslas(), row["total_nt"], 0.1)
	}
}

func TestAgainstMagneticField(t *testing.T) { // GeographicLib MagneticField 2.1.2, testdata/magneticfield.csv
	for _, row := range readTable(t, "magneticfield.csv") {
		f := field(geo.Position{Lat: row["lat"], Lon: row["lon"]}, row["height_m"], row["year"])
		near(t, "declination", math.Remainder(f.Declination.Degrees()-row["declination_deg"], 360), 0, 1e-4)
		near(t, "inclination", f.Inclination.Degrees(), row["inclination_deg"], 1e-4)
		near(t, "horizontal", f.Horizontal.Nanoteslas(), row["horizontal_nt"], 1e-3)
		near(t, "north", f.North.Nanoteslas(), row["north_nt"], 1e-3)
		near(t, "east", f.East.Nanoteslas(), row["east_nt"], 1e-3)
		near(t, "down", f.Down.Nanoteslas(), row["down_nt"], 1e-3)
		near(t, "total", f.Total.Nanoteslas(), row["total_nt"], 1e-3)
		near(t, "change of declination", f.PerYear.Degrees(), row["declination_rate"], 1e-4)
	}
}

func TestLakes(t *testing.T) { // GeographicLib MagneticField 2.1.2 and npm geomagnetism 0.2.0, testdata/lakes.csv
	for _, row := range readTable(t, "lakes.csv") {
		f := field(geo.Position{Lat: row["lat"], Lon: row["lon"]}, row["h_m"], row["year"])
		near(t, "declination", f.Declination.Degrees(), row["declination_deg"], 1e-3)
		near(t, "inclination", f.Inclination.Degrees(), row["inclination_deg"], 1e-3)
		near(t, "total", f.Total.Nanoteslas(), row["total_nT"], 1e-2)
		near(t, "change of declination", f.PerYear.Degrees(), row["ddecl_deg_per_year"], 1e-3)
	}
}

// The dates of the model, from both sides of each end.
func TestDates(t *testing.T) {
	lake := geo.Position{Lat: 47.9, Lon: -45}
	day := func(s string) time.Time {
		at, err := time.Parse(time.RFC3339, s)
		if err != nil {
			t.Fatal(err)
		}
		return at
	}
	for _, s := range []string{"2025-01-01T00:00:00Z", "2026-01-15T09:50:00-03:00", "2029-12-31T23:59:59Z", "2030-01-01T00:00:00Z"} {
		if _, err := At(lake, 180, day(s)); err != nil {
			t.Errorf("%s refused: %v", s, err)
		}
	}
	for _, s := range []string{"2024-12-31T23:59:59Z", "2030-01-01T00:00:01Z", "1970-01-01T00:00:00Z", "0001-01-01T00:00:00Z", "2031-06-01T00:00:00Z"} {
		_, err := At(lake, 180, day(s))
		if fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), day(s).Format(time.DateOnly)) {
			t.Errorf("%s: %v", s, err)
		}
	}
	for s, want := range map[string]float64{"2027-07-02T12:00:00Z": 2027.5, "2028-07-02T00:00:00Z": 2028.5, "2026-01-01T02:00:00+02:00": 2026} {
		if got := decimalYear(day(s)); math.Abs(got-want) > 1e-12 {
			t.Errorf("%s: %.9f, want %g", s, got, want)
		}
	}
	for _, c := range []struct {
		p geo.Position
		h quantity.Length
	}{{geo.Position{Lat: 91}, 0}, {geo.Position{Lat: math.NaN()}, 0}, {lake, 900 * quantity.Kilometre}, {lake, -2 * quantity.Kilometre}, {lake, quantity.Length(math.NaN())}} {
		if f, err := At(c.p, c.h, day("2026-01-01T00:00:00Z")); fault.CodeOf(err) != fault.BadInput {
			t.Errorf("%v %v gave %v, %v", c.p, c.h, f, err)
		}
	}
}

// Compass bearing = true bearing - declination, east positive: 15 degrees west on the demo lake make 270 true 285 by compass.
func TestCompass(t *testing.T) {
	f, err := At(geo.Position{Lat: 47.9, Lon: -45}, 0, time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC))
	if err != nil {
		t.Fatal(err)
	}
	if got := f.Magnetic(270).Degrees(); math.Round(got) != 285 || DeclinationText(f.Declination) != "15 W" {
		t.Errorf("270 true is %g by compass, declination %s", got, DeclinationText(f.Declination))
	}
	rng := num.NewStream(2, "compass")
	for range 100 {
		b := quantity.NewBearing(rng.Float64() * 360)
		if back := f.True(f.Magnetic(b)); math.Abs(math.Remainder(back.Degrees()-b.Degrees(), 360)) > 1e-9 {
			t.Errorf("%g came back as %g", b.Degrees(), back.Degrees())
		}
	}
	for d, want := range map[quantity.Angle]string{0.4: "0", -0.4: "0", 0.6: "1 E", -10.43: "10 W"} {
		if got := DeclinationText(d); got != want {
			t.Errorf("%g: %s, want %s", d.Degrees(), got, want)
		}
	}
	// error model [Chulliat2025]: sqrt(0.26^2 + (5417/20858)^2) = 0.3675 degrees
	if H := f.Horizontal.Nanoteslas(); math.Abs(f.Spread.Degrees()-math.Sqrt(0.0676+5417*5417/(H*H))) > 1e-12 || f.Spread < 0.3 || f.Spread > 0.4 {
		t.Errorf("spread %g at %g nT", f.Spread.Degrees(), H)
	}
}

// The field has no jumps, at the poles it is finite, and the change in a year is the difference of years.
func TestFieldIsSmooth(t *testing.T) {
	rng := num.NewStream(4, "smooth")
	for range 200 {
		p := geo.Position{Lat: rng.Float64()*178 - 89, Lon: rng.Float64()*360 - 180}
		year := 2025 + 4*rng.Float64()
		a, b, mid := field(p, 0, year), field(p, 0, year+1), field(p, 0, year+0.5)
		if a.Horizontal.Nanoteslas() > 5000 { // nearer the magnetic poles the declination is no smooth function
			if got := math.Remainder(b.Declination.Degrees()-a.Declination.Degrees(), 360); math.Abs(got-mid.PerYear.Degrees()) > 1e-3 {
				t.Errorf("%v: %g in a year, said %g", p, got, mid.PerYear.Degrees())
			}
		}
		if q := (geo.Position{Lat: p.Lat, Lon: p.Lon + 1e-7}); math.Abs(field(q, 0, year).Total.Nanoteslas()-a.Total.Nanoteslas()) > 0.01 {
			t.Errorf("%v: a jump within a centimetre", p)
		}
	}
	for _, lat := range []float64{90, -90} {
		if f := field(geo.Position{Lat: lat}, 0, 2026); !(f.Total > 50000*quantity.Nanotesla && f.Total < 60000*quantity.Nanotesla) {
			t.Errorf("pole %g: %v", lat, f)
		}
	}
}

func BenchmarkAt(b *testing.B) {
	p, t := geo.Position{Lat: 47.9, Lon: -45}, time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)
	for b.Loop() {
		if _, err := At(p, 180, t); err != nil {
			b.Fatal(err)
		}
	}
}
