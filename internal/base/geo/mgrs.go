package geo

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"icehand/internal/base/fault"
)

// GridSquare is a square of the Military Grid Reference System, which on WGS 84 is the US National Grid [FGDC2001]
// [NGA2014]. It names an area, not a point: its figures are cut off, never rounded, so that a square holds every place
// that is written with it. The polar grids, north of 84 N and south of 80 S, are left out.
type GridSquare struct {
	Zone              int    // 1..60
	Band              byte   // C..X without I and O, 8 degrees of latitude each from 80 S, X 12
	Square            string // two letters: column and row of the 100 km square
	Easting, Northing int    // within the 100 km square, in units of the square's side
	Figures           int    // 4: side 1 km, 6: 100 m, 8: 10 m, 10: 1 m
}

const (
	bands      = "CDEFGHJKLMNPQRSTUVWX"
	rowLetters = "ABCDEFGHJKLMNPQRSTUV"
	hundredKm  = 100000
	rowCycle   = 2000000 // m of northing after which the row letters repeat
)

// colLetters by zone modulo 3; even zones start their rows with F.
var colLetters = [3]string{"STUVWXYZ", "ABCDEFGH", "JKLMNPQR"}

// gridGrain, m, is added before figures are cut off, so that a corner that was computed from its own name keeps it. The
// projection's own rounding is some nanometres.
const gridGrain = 1e-6

// GridSquare gives the square of a position with 4, 6, 8 or 10 figures. It fails beyond 84 N and 80 S, and panics on
// another number of figures.
func (p Position) GridSquare(figures int) (GridSquare, error) {
	if !p.Valid() || p.Lat < -80 || p.Lat >= 84 {
		return GridSquare{}, fault.New(fault.BadInput, "The grid runs from 80 S to 84 N; use degrees there.", "this position has no grid square")
	}
	side := gridSide(figures)
	u := p.ToUTM()
	// (GEO-5) letters and figures from easting and northing
	e, n := int(math.Floor(u.Easting+gridGrain)), int(math.Floor(u.Northing+gridGrain))
	col := colLetters[u.Zone%3][e/hundredKm-1]
	row := rowLetters[(n/hundredKm+rowShift(u.Zone))%len(rowLetters)]
	return GridSquare{
		Zone: u.Zone, Band: bandOf(p.Lat), Square: string([]byte{col, row}),
		Easting: e % hundredKm / side, Northing: n % hundredKm / side, Figures: figures,
	}, nil
}

// bandOf gives the band letter of a latitude between 80 S and 84 N.
func bandOf(lat float64) byte {
	return bands[min(int(math.Floor((lat+80)/8)), len(bands)-1)]
}

// rowShift gives how many letters the rows of a zone are shifted.
func rowShift(zone int) int {
	if zone%2 == 0 {
		return 5
	}
	return 0
}

// gridSide gives the side of a square in metres.
func gridSide(figures int) int {
	switch figures {
	case 4:
		return 1000
	case 6:
		return 100
	case 8:
		return 10
	case 10:
		return 1
	}
	panic("geo: a grid square has 4, 6, 8 or 10 figures")
}

// String writes the square as the US National Grid does, with spaces: 15T VM 4723 1842.
func (g GridSquare) String() string {
	return fmt.Sprintf("%d%c %s %0*d %0*d", g.Zone, g.Band, g.Square, g.Figures/2, g.Easting, g.Figures/2, g.Northing)
}

// Compact writes the square without spaces, as MGRS: 15TVM47231842. A zone below 10 gets a leading zero.
func (g GridSquare) Compact() string {
	return fmt.Sprintf("%02d%c%s%0*d%0*d", g.Zone, g.Band, g.Square, g.Figures/2, g.Easting, g.Figures/2, g.Northing)
}

// Side gives the length of the square's side in metres.
func (g GridSquare) Side() int { return gridSide(g.Figures) }

// Corner gives the south-west corner.
func (g GridSquare) Corner() UTM {
	side := float64(g.Side())
	e0, n0, _ := g.hundredKm()
	return UTM{Zone: g.Zone, North: g.Band >= 'N', Easting: e0 + side*float64(g.Easting), Northing: n0 + side*float64(g.Northing)}
}

// Centre gives the middle of the square: the position that is least wrong for a place known by its square alone.
func (g GridSquare) Centre() Position {
	u := g.Corner()
	u.Easting += float64(g.Side()) / 2
	u.Northing += float64(g.Side()) / 2
	return u.Position()
}

// hundredKm gives easting and northing of the corner of the 100 km square. It reports false when the letters are not of
// the zone, or no square of that row reaches into the band.
func (g GridSquare) hundredKm() (e, n float64, ok bool) {
	if len(g.Square) != 2 || g.Zone < 1 || g.Zone > 60 {
		return 0, 0, false
	}
	col, row, band := strings.IndexByte(colLetters[g.Zone%3], g.Square[0]), strings.IndexByte(rowLetters, g.Square[1]), strings.IndexByte(bands, g.Band)
	if col < 0 || row < 0 || band < 0 {
		return 0, 0, false
	}
	e = float64((col + 1) * hundredKm)
	south := float64(8*band - 80)
	north := south + 8
	if g.Band == 'X' {
		north = 84
	}
	row = (row - rowShift(g.Zone) + len(rowLetters)) % len(rowLetters)
	for n = float64(row * hundredKm); n <= utmFalseNS; n += rowCycle {
		lo, hi := g.latitudes(e, n)
		if lo < north && hi > south {
			return e, n, true
		}
	}
	return 0, 0, false
}

// latitudes gives the range of latitude of the 100 km square with a corner.
func (g GridSquare) latitudes(e, n float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, de := range []float64{0, hundredKm} {
		for _, dn := range []float64{0, hundredKm} {
			lat := UTM{Zone: g.Zone, North: g.Band >= 'N', Easting: e + de, Northing: n + dn}.Position().Lat
			lo, hi = math.Min(lo, lat), math.Max(hi, lat)
		}
	}
	return lo, hi
}

// ParseGridSquare reads 15T VM 4723 1842, 15TVM47231842 or any spacing between, in capitals or not, with 4 to 10 figures.
// It refuses letters that the zone does not have, a row that does not reach into the band, and zones that do not exist.
// A square whose letters all fit may still be far away: the caller knows where its lake is.
func ParseGridSquare(s string) (GridSquare, error) {
	bad := func(why string) (GridSquare, error) {
		return GridSquare{}, fault.New(fault.BadInput, "Write zone and band, square, figures: 15T VM 4723 1842.", "%q is not a grid position: %s", clipText(s), why)
	}
	t := strings.ToUpper(strings.Join(strings.Fields(s), ""))
	digits := 0
	for digits < len(t) && digits < 2 && t[digits] >= '0' && t[digits] <= '9' {
		digits++
	}
	if digits == 0 || len(t) < digits+3 {
		return bad("it starts with a zone and three letters")
	}
	zone, _ := strconv.Atoi(t[:digits])
	g := GridSquare{Zone: zone, Band: t[digits], Square: t[digits+1 : digits+3]}
	figures := t[digits+3:]
	switch len(figures) {
	case 4, 6, 8, 10:
		g.Figures = len(figures)
	default:
		return bad("it ends with 4, 6, 8 or 10 figures")
	}
	for i := range figures {
		if figures[i] < '0' || figures[i] > '9' {
			return bad("it ends with 4, 6, 8 or 10 figures")
		}
	}
	g.Easting, _ = strconv.Atoi(figures[:g.Figures/2])
	g.Northing, _ = strconv.Atoi(figures[g.Figures/2:])
	if g.Band == 'X' && (zone == 32 || zone == 34 || zone == 36) {
		return bad(fmt.Sprintf("there is no zone %dX", zone))
	}
	if _, _, ok := g.hundredKm(); !ok {
		return bad(fmt.Sprintf("zone %d, band %c and square %s do not belong together", zone, g.Band, g.Square))
	}
	return g, nil
}

// clipText shortens what was typed for an error.
func clipText(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "..."
	}
	return s
}
