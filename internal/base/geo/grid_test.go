package geo

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"icehand/internal/base/fault"
	"icehand/internal/base/num"
)

// number reads a column of a reference table.
func number(t *testing.T, row map[string]string, key string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[key], 64)
	if err != nil {
		t.Fatalf("column %s: %v", key, err)
	}
	return v
}

// GeographicLib GeoConvert 2.1.2, testdata/geoconvert.csv: squares of 1 and 10 m, convergence, degrees with minutes and seconds.
func TestGridAgainstGeoConvert(t *testing.T) {
	for _, row := range readCSV(t, "geoconvert.csv") {
		p := Position{number(t, row, "lat"), number(t, row, "lon")}
		for figures, want := range map[int]string{10: row["mgrs_1m"], 8: row["mgrs_10m"]} {
			if g, err := p.GridSquare(figures); err != nil || g.Compact() != want {
				t.Errorf("%v with %d figures: %s %v, want %s", p, figures, g.Compact(), err, want)
			}
		}
		// eight decimals are printed
		if got, want := p.ToUTM().Convergence().Degrees(), number(t, row, "convergence_deg"); math.Abs(got-want) > 0.6e-8 {
			t.Errorf("%v: convergence %.9f, want %.8f", p, got, want)
		}
		// hundredths of a second are printed: half of one is 1.4e-6 degree
		back, err := ParsePosition(strings.NewReplacer("d", "°", ";", ",").Replace(row["dms"]))
		if err != nil || math.Abs(back.Lat-p.Lat) > 1.4e-6 || math.Abs(back.Lon-p.Lon) > 1.4e-6 {
			t.Errorf("%s read as %v, %v", row["dms"], back, err)
		}
	}
}

// GeographicLib GeoConvert 2.1.2, testdata/mgrs.csv: all figures, band edges at 48 N among others, the zones of Norway
// and Svalbard, both sides of the equator and of the 180th meridian.
func TestGridSquareFigures(t *testing.T) {
	for _, row := range readCSV(t, "mgrs.csv") {
		p := Position{number(t, row, "lat"), number(t, row, "lon")}
		for figures, want := range map[int]string{4: row["mgrs4"], 6: row["mgrs6"], 8: row["mgrs8"], 10: row["mgrs10"]} {
			g, err := p.GridSquare(figures)
			if err != nil || g.Compact() != want {
				t.Errorf("%v with %d figures: %s %v, want %s", p, figures, g.Compact(), err, want)
				continue
			}
			back, err := ParseGridSquare(want)
			if err != nil || back != g {
				t.Errorf("%s read back as %+v, %v", want, back, err)
			}
			u, c := p.ToUTMZone(g.Zone), g.Corner()
			if de, dn, side := u.Easting-c.Easting, u.Northing-c.Northing, float64(g.Side()); de < -gridGrain || dn < -gridGrain || de >= side || dn >= side || u.North != c.North {
				t.Errorf("%s: the place is %.3f, %.3f from its corner", want, de, dn)
			}
		}
	}
}

// The worked position of the rescue notes; the demo lake reaches from band T into band U at 48 N (GeoConvert 2.1.2).
func TestGridSquareText(t *testing.T) {
	g, err := Position{46.21735, -93.68412}.GridSquare(8)
	if err != nil || g.String() != "15T VM 4723 1842" || g.Compact() != "15TVM47231842" {
		t.Errorf("%s %s %v", g, g.Compact(), err)
	}
	for lat, want := range map[float64]string{47.99999: "23T NP 00000 16299", 48.00001: "23U NP 00000 16301"} {
		g, err := Position{lat, -45}.GridSquare(10)
		if err != nil || g.String() != want {
			t.Errorf("%g N: %s %v, want %s", lat, g, err, want)
		}
	}
	if g, err := (Position{12.3, -179.99999}).GridSquare(4); err != nil || !strings.HasPrefix(g.String(), "1P ") || !strings.HasPrefix(g.Compact(), "01P") {
		t.Errorf("%s %s %v", g, g.Compact(), err)
	}
}

// Figures are cut off and never rounded: 445993.057 is 45993, 4599, 459 and 45, not 460 and 46 (GeoConvert 2.1.2).
func TestGridSquareTruncates(t *testing.T) {
	for figures, want := range map[int]string{10: "15T VM 45993 16507", 8: "15T VM 4599 1650", 6: "15T VM 459 165", 4: "15T VM 45 16"} {
		if g, err := (Position{46.2, -93.7}).GridSquare(figures); err != nil || g.String() != want {
			t.Errorf("%s, want %s", g, want)
		}
	}
}

// A square's corner and centre print as the square, and a coarser square holds a finer one.
func TestGridSquareRoundTrip(t *testing.T) {
	rng := num.NewStream(3, "grid")
	for range 2000 {
		p := Position{rng.Float64()*163.9 - 79.9, rng.Float64()*360 - 180}
		fine, err := p.GridSquare(10)
		if err != nil {
			t.Fatal(err)
		}
		for _, figures := range []int{8, 6, 4} {
			g, err := p.GridSquare(figures)
			if err != nil || fine.Easting/g.Side() != g.Easting || fine.Northing/g.Side() != g.Northing || fine.Square != g.Square {
				t.Fatalf("%s does not hold %s: %v", g, fine, err)
			}
		}
		for _, spaced := range []string{fine.String(), fine.Compact(), strings.ToLower(fine.String())} {
			if back, err := ParseGridSquare(spaced); err != nil || back != fine {
				t.Fatalf("%q read as %+v, %v", spaced, back, err)
			}
		}
		// the middle of the square is a place of the same square, unless the edge of a zone or band runs through it
		c := fine.Centre()
		if again, err := c.GridSquare(10); err != nil || again != fine && again.Zone == fine.Zone && again.Band == fine.Band {
			t.Fatalf("%s: centre %v is in %s, %v", fine, c, again, err)
		}
		if d, _ := Between(p, c); d > 0.75 { // half the diagonal of a metre, and the grid's scale
			t.Fatalf("%s: centre %v is %.2f m from %v", fine, c, d.Metres(), p)
		}
	}
}

func TestGridSquareRefuses(t *testing.T) {
	for _, s := range []string{"", "15T", "15TVM", "15TVM472", "15TVM4723184", "15TVM472318421842", "15T VM 47a3 1842", "61TVM47231842", "0TVM47231842",
		"15IVM47231842", "15OVM47231842", "15YVM47231842", "15TIM47231842", "15TVO47231842", "15TVW47231842", "15TJM47231842" /* column of another zone */, "15SVM47231842", /* row not in the band */
		"32XNG12341234", "34XNG12341234", "36XNG12341234", "TVM47231842", "15TVM−7231842", "1 5 T V M 4 7 2 3", "15TVM4.231842"} {
		if g, err := ParseGridSquare(s); err == nil || fault.CodeOf(err) != fault.BadInput {
			if s == "1 5 T V M 4 7 2 3" && err == nil { // spacing is free
				continue
			}
			t.Errorf("%q accepted as %v (%v)", s, g, err)
		}
	}
	for _, p := range []Position{{84, 0}, {-80.001, 0}, {math.NaN(), 0}, {0, 181}} {
		if g, err := p.GridSquare(8); err == nil {
			t.Errorf("%v accepted as %v", p, g)
		}
	}
}

// Spelling alphabet of the ITU Radio Regulations, appendix 14; eight figures in groups of two (common practice, no source).
func TestAloud(t *testing.T) {
	g, err := Position{46.21735, -93.68412}.GridSquare(8)
	if err != nil {
		t.Fatal(err)
	}
	want := []Said{{"15T", "one five Tango"}, {"VM", "Victor Mike"}, {"4723", "four seven, two three"}, {"1842", "one eight, four two"}}
	got := g.Aloud()
	for i := range want {
		if len(got) != len(want) || got[i] != want[i] {
			t.Fatalf("%v, want %v", got, want)
		}
	}
	if g, _ = (Position{48.0, -45}).GridSquare(10); g.Aloud()[2].Words != "zero zero, zero zero zero" || g.Aloud()[3].Text != "16300" {
		t.Error(g.Aloud())
	}
	if g, _ = (Position{48.0, -45}).GridSquare(6); g.Aloud()[3] != (Said{"163", "one six three"}) {
		t.Error(g.Aloud())
	}
	said := Position{46.21735, -93.68412}.DMMAloud()
	if len(said) != 2 || said[0] != (Said{"46-13.041N", "four six degrees, one three decimal zero four one minutes north"}) || !strings.HasSuffix(said[1].Words, "minutes west") {
		t.Error(said)
	}
}

// 59.9996 minutes become the next degree, written and read aloud; 59.9994 do not.
func TestMinutesCarry(t *testing.T) {
	for minutes, want := range map[float64]string{59.9996: "48-0.000N", 59.9994: "47-59.999N"} {
		p := Position{47 + minutes/60, -45}
		if got := p.DMMAloud()[0].Text; got != want || !strings.HasPrefix(p.DMMText(), want) {
			t.Errorf("%g: %s, want %s", minutes, got, want)
		}
	}
	if got := (Position{-47 - 59.9996/60, 179 + 59.9996/60}).DMMText(); got != "48-0.000S 180-0.000E" {
		t.Error(got)
	}
}

// FuzzParseGridSquare: whatever is accepted lies on the globe, and prints as what reads back the same.
func FuzzParseGridSquare(f *testing.F) {
	for _, s := range []string{"15T VM 4723 1842", "15TVM47231842", "23unp0016", "32VKN9619101684", "1p ap 7361"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		g, err := ParseGridSquare(s)
		if err != nil {
			return
		}
		if c := g.Centre(); !(c.Lat >= -90 && c.Lat <= 90) {
			t.Errorf("%q lies at %v", s, c)
		}
		for _, text := range []string{g.String(), g.Compact()} {
			if back, err := ParseGridSquare(text); err != nil || back != g {
				t.Errorf("%q gave %q, which gave %+v, %v", s, text, back, err)
			}
		}
	})
}
