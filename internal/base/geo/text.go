package geo

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"icehand/internal/base/fault"
)

// DecimalText writes decimal degrees to five places, about 1 m.
func (p Position) DecimalText() string { return fmt.Sprintf("%.5f, %.5f", p.Lat, p.Lon) }

// DMMText writes degrees and decimal minutes without leading zeros, the form that search-and-rescue aircraft use
// [NSARC2007]: 46-13.041N 93-41.047W. A minute that rounds to 60 becomes the next degree.
func (p Position) DMMText() string {
	return dmm(p.Lat, "N", "S") + " " + dmm(p.Lon, "E", "W")
}

func dmm(v float64, pos, neg string) string {
	h := pos
	if v < 0 {
		h, v = neg, -v
	}
	thousandths := int64(math.Round(v * 60 * 1000))
	return fmt.Sprintf("%d-%d.%03d%s", thousandths/60000, thousandths%60000/1000, thousandths%1000, h)
}

// ParseCoordinate reads one coordinate: 46.21735, -93.68412, 46-13.041N, 46 13.041 N, N46°13.041', 46°13'02.46"N.
// Degrees, minutes and seconds may be parted by spaces, dashes or their signs.
func ParseCoordinate(s string) (float64, error) {
	v, _, err := parseCoordinate(s)
	return v, err
}

// parseCoordinate also gives the hemisphere letter it met, or 0.
func parseCoordinate(s string) (float64, byte, error) {
	bad := func(why string) (float64, byte, error) {
		return 0, 0, fault.New(fault.BadInput, "Write 46.21735 or 46-13.041N.", "%q is not a coordinate: %s", s, why)
	}
	t := strings.ToUpper(strings.TrimSpace(s))
	var hemi byte
	if t != "" && strings.ContainsRune("NSEW", rune(t[0])) {
		hemi, t = t[0], t[1:]
	}
	if t != "" && strings.ContainsRune("NSEW", rune(t[len(t)-1])) {
		if hemi != 0 {
			return bad("two hemisphere letters")
		}
		hemi, t = t[len(t)-1], t[:len(t)-1]
	}
	t = strings.TrimSpace(t)
	sign := 1.0
	if strings.HasPrefix(t, "-") || strings.HasPrefix(t, "−") {
		sign, t = -1, strings.TrimPrefix(strings.TrimPrefix(t, "-"), "−")
	} else {
		t = strings.TrimPrefix(t, "+")
	}
	if hemi != 0 && sign < 0 {
		return bad("a sign and a hemisphere letter")
	}
	parts := strings.FieldsFunc(t, func(r rune) bool { return strings.ContainsRune(" -:°º'’′\"”″\t", r) })
	if len(parts) < 1 || len(parts) > 3 {
		return bad("expected degrees, minutes and seconds at most")
	}
	v, unit := 0.0, 1.0
	for i, part := range parts {
		x, err := strconv.ParseFloat(part, 64)
		if err != nil || math.IsNaN(x) || x < 0 || math.IsInf(x, 0) || strings.ContainsAny(part, "XxPpEe_") {
			return bad(fmt.Sprintf("%q is no number", part))
		}
		if i > 0 && x >= 60 {
			return bad("minutes and seconds run to under 60")
		}
		if i < len(parts)-1 && x != math.Trunc(x) {
			return bad("only the last part may have decimals")
		}
		v += x / unit
		unit *= 60
	}
	if hemi == 'S' || hemi == 'W' {
		sign = -1
	}
	return sign * v, hemi, nil
}

// ParsePosition reads "lat, lon" in decimal degrees or degrees and decimal minutes.
// With hemisphere letters the order does not matter.
func ParsePosition(s string) (Position, error) {
	bad := fault.New(fault.BadInput, "Write latitude, longitude: 47.90000, -45.00000 or 47-54.000N 45-0.000W.", "%q is not a position", s)
	parts := strings.Split(s, ",")
	if len(parts) == 1 {
		fields := strings.Fields(s)
		if len(fields) != 2 {
			return Position{}, bad
		}
		parts = fields
	}
	if len(parts) != 2 {
		return Position{}, bad
	}
	a, ha, err := parseCoordinate(parts[0])
	if err != nil {
		return Position{}, err
	}
	b, hb, err := parseCoordinate(parts[1])
	if err != nil {
		return Position{}, err
	}
	isLon := func(h byte) bool { return h == 'E' || h == 'W' }
	isLat := func(h byte) bool { return h == 'N' || h == 'S' }
	p := Position{Lat: a, Lon: b}
	if isLon(ha) || isLat(hb) {
		if isLat(ha) || isLon(hb) {
			return Position{}, bad
		}
		p = Position{Lat: b, Lon: a}
	}
	if !p.Valid() {
		return Position{}, fault.New(fault.BadInput, "Latitude runs from -90 to 90, longitude from -180 to 180.", "%q is not on the globe", s)
	}
	return p, nil
}

// ParseUTM reads "15N 447234.857 5118424.463" or "15T 447234 5118424"; a band letter from N to X means north.
// A bare S would be band S and "south" at once; it is read as the hemisphere south, as most software writes it.
func ParseUTM(s string) (UTM, error) {
	bad := fault.New(fault.BadInput, "Write zone with N or S, easting, northing: 15N 447234 5118424.", "%q is not a UTM position", s)
	f := strings.Fields(strings.ReplaceAll(s, ",", " "))
	if len(f) != 3 || len(f[0]) < 2 {
		return UTM{}, bad
	}
	zone, err := strconv.Atoi(f[0][:len(f[0])-1])
	letter := strings.ToUpper(f[0][len(f[0])-1:])[0]
	if err != nil || zone < 1 || zone > 60 || letter < 'C' || letter > 'X' {
		return UTM{}, bad
	}
	e, err1 := strconv.ParseFloat(f[1], 64)
	n, err2 := strconv.ParseFloat(f[2], 64)
	if err1 != nil || err2 != nil {
		return UTM{}, bad
	}
	u := UTM{Zone: zone, North: letter >= 'N' && letter != 'S', Easting: e, Northing: n}
	return u, u.Check()
}

// Check refuses an easting or northing that no zone holds.
func (u UTM) Check() error {
	if u.Zone < 1 || u.Zone > 60 || !(u.Easting >= 100000 && u.Easting <= 900000) || !(u.Northing >= 0 && u.Northing <= utmFalseNS) {
		return fault.New(fault.BadInput, "Eastings run from 100000 to 900000, northings from 0 to 10000000, zones from 1 to 60.",
			"UTM zone %d easting %.0f northing %.0f is outside the grid", u.Zone, u.Easting, u.Northing)
	}
	return nil
}

// Polygon is one outer ring with holes (islands) on the lake's plane. Rings need not repeat their first point.
type Polygon struct {
	Outer []Local
	Holes [][]Local
}

// Contains tells whether p lies inside the outer ring and in no hole, by the even-odd rule.
func (g Polygon) Contains(p Local) bool {
	if !ringContains(g.Outer, p) {
		return false
	}
	for _, h := range g.Holes {
		if ringContains(h, p) {
			return false
		}
	}
	return true
}

func ringContains(ring []Local, p Local) bool {
	in := false
	for i, j := 0, len(ring)-1; i < len(ring); j, i = i, i+1 {
		a, b := ring[i], ring[j]
		if (a.N > p.N) != (b.N > p.N) && p.E < (b.E-a.E)*(p.N-a.N)/(b.N-a.N)+a.E {
			in = !in
		}
	}
	return in
}

// ShoreDistance gives the distance in metres from p to the nearest edge of any ring.
func (g Polygon) ShoreDistance(p Local) float64 {
	d := ringDistance(g.Outer, p)
	for _, h := range g.Holes {
		d = math.Min(d, ringDistance(h, p))
	}
	return d
}

func ringDistance(ring []Local, p Local) float64 {
	best := math.Inf(1)
	for i, j := 0, len(ring)-1; i < len(ring); j, i = i, i+1 {
		best = math.Min(best, SegmentDistance(p, ring[j], ring[i]))
	}
	return best
}

// SegmentDistance gives the distance in metres from p to the segment a-b.
func SegmentDistance(p, a, b Local) float64 {
	d, q := b.Sub(a), p.Sub(a)
	t := segmentFraction(p, a, b)
	return math.Hypot(q.E-t*d.E, q.N-t*d.N)
}

// SegmentsCross tells whether the segments a-b and c-d meet.
func SegmentsCross(a, b, c, d Local) bool {
	o := func(p, q, r Local) float64 { return (q.E-p.E)*(r.N-p.N) - (q.N-p.N)*(r.E-p.E) }
	d1, d2, d3, d4 := o(c, d, a), o(c, d, b), o(a, b, c), o(a, b, d)
	if ((d1 > 0) != (d2 > 0)) && ((d3 > 0) != (d4 > 0)) && d1 != 0 && d2 != 0 && d3 != 0 && d4 != 0 {
		return true
	}
	on := func(p, q, r Local, v float64) bool { return v == 0 && SegmentDistance(r, p, q) == 0 }
	return on(c, d, a, d1) || on(c, d, b, d2) || on(a, b, c, d3) || on(a, b, d, d4)
}
