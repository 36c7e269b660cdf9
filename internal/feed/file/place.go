package file

import (
	"errors"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Places reads the position of a row from whichever columns the file has for it.
type Places struct {
	Read     func(cells []string) (p geo.Position, column, cell string, err error) // err is [ErrNoPlace] when the cells are blank
	Describe string                                                                // for the summary
}

// ErrNoPlace tells that a row leaves its position blank.
var ErrNoPlace = errors.New("file: no position given")

// FindPlaces settles how the table states positions. It rejects the file in p when the coordinate system is not stated,
// and gives a nil Read when the table has no column of position at all.
func (t *Table) FindPlaces(p *Preview, opt Options) Places {
	t.checkDatum(p)
	lat, lon := t.Column(Lat), t.Column(Lon)
	latDMM, lonDMM := t.Column(LatDMM), t.Column(LonDMM)
	east, north := t.Column(Easting), t.Column(Northing)
	switch pos := t.Column(Position); {
	case lat >= 0 && lon >= 0:
		return Places{t.degrees(p, lat, lon, false), "decimal degrees or degrees and minutes"}
	case latDMM >= 0 && lonDMM >= 0:
		return Places{t.degrees(p, latDMM, lonDMM, true), "degrees and decimal minutes"}
	case latDMM >= 0 && lon >= 0 || lat >= 0 && lonDMM >= 0:
		return Places{t.degrees(p, max(lat, latDMM), max(lon, lonDMM), true), "degrees and decimal minutes"}
	case pos >= 0:
		return Places{t.onePosition(pos), "latitude and longitude in one column"}
	case east >= 0 && north >= 0:
		return t.utmPlaces(p, east, north, opt.UTMZone)
	}
	x, y := t.Column(askX), t.Column(askY)
	if x < 0 || y < 0 {
		return Places{}
	}
	zone, _ := t.statedZone()
	if opt.UTMZone != "" || zone != "" {
		t.reread(x, Easting, "by its header and the stated UTM zone")
		t.reread(y, Northing, "by its header and the stated UTM zone")
		p.Columns = t.Columns
		return t.utmPlaces(p, x, y, opt.UTMZone)
	}
	hx, hy := t.Header[x], t.Header[y]
	p.Reject(hx, "", "columns "+quote(hx)+" and "+quote(hy)+" do not say in which coordinate system they are",
		"Say --map "+hx+"=easting --map "+hy+"=northing --utm 15N (with your zone), or --map "+hx+"=lon --map "+hy+"=lat.")
	return Places{}
}

func quote(s string) string { return strconv.Quote(Short(s)) }

func (t *Table) reread(i int, m Meaning, why string) {
	t.Columns[i].Meaning, t.Columns[i].Why = string(m), why
}

// checkDatum rejects a file that names a datum other than WGS 84 and remarks on one that is within two metres of it.
func (t *Table) checkDatum(p *Preview) {
	said := strings.ToLower(strings.Join(append(append([]string(nil), t.Preamble...), t.Header...), "\n"))
	said = strings.NewReplacer(" ", "", "-", "", "_", "").Replace(said)
	switch {
	case strings.Contains(said, "nad27"):
		p.Reject("", "", "its positions are on the datum NAD27, some 20 m or more off WGS 84", "Convert them to WGS 84 first.")
	case strings.Contains(said, "nad83"):
		p.Remark(0, "", "", "its datum NAD83 is taken as WGS 84; they differ by one or two metres", "")
	}
}

// degrees reads a pair of columns; packed allows degrees and minutes run together, as 4754.123.
func (t *Table) degrees(p *Preview, lat, lon int, packed bool) func([]string) (geo.Position, string, string, error) {
	south, west := otherHemisphere(t.Header[lat]), otherHemisphere(t.Header[lon])
	if south {
		p.Remark(0, t.Header[lat], "", "numbers without a sign or letter are read as south, as the header says", "")
	}
	if west {
		p.Remark(0, t.Header[lon], "", "numbers without a sign or letter are read as west, as the header says", "")
	}
	turn := func(v float64, cell string, other bool) float64 {
		if other && v > 0 && !strings.ContainsAny(cell, "NSEWnsew+") {
			return -v
		}
		return v
	}
	return func(cells []string) (geo.Position, string, string, error) {
		a, b := at(cells, lat), at(cells, lon)
		if a == "" && b == "" {
			return geo.Position{}, t.Header[lat], "", ErrNoPlace
		}
		φ, err := Coordinate(a, 'N', 'S', 90, packed)
		if err != nil {
			return geo.Position{}, t.Header[lat], a, err
		}
		λ, err := Coordinate(b, 'E', 'W', 180, packed)
		return geo.Position{Lat: turn(φ, a, south), Lon: turn(λ, b, west)}, t.Header[lon], b, err
	}
}

func (t *Table) onePosition(i int) func([]string) (geo.Position, string, string, error) {
	return func(cells []string) (geo.Position, string, string, error) {
		c := at(cells, i)
		if c == "" {
			return geo.Position{}, t.Header[i], "", ErrNoPlace
		}
		if first := c[0]; len(c) > 3 && first >= '0' && first <= '9' && strings.Count(c, " ") == 2 {
			if u, err := geo.ParseUTM(c); err == nil {
				return u.Position(), t.Header[i], c, nil
			}
		}
		p, err := geo.ParsePosition(strings.NewReplacer(";", ",", "/", ",").Replace(c))
		return p, t.Header[i], c, reason(err)
	}
}

// utmPlaces reads eastings and northings in the zone that the option, a column, a header or the preamble states.
func (t *Table) utmPlaces(p *Preview, east, north int, option string) Places {
	for _, i := range []int{east, north} {
		if u := t.Columns[i].Unit; u != "" {
			if l, _ := quantity.LengthUnit(u); l != quantity.Metre {
				p.Reject(t.Header[i], "", "column "+quote(t.Header[i])+" is in "+u+", but UTM is in metres; it may be a state plane grid", "Convert the positions to WGS 84 degrees first.")
				return Places{}
			}
		}
	}
	zone, where := option, "--utm"
	if zone == "" {
		zone, where = t.statedZone()
	}
	column := t.Column(UTMZone)
	if zone == "" && column < 0 {
		p.Reject(t.Header[east], "", "its eastings and northings do not say in which UTM zone they are", "Say --utm 15N, with your zone and N or S.")
		return Places{}
	}
	var fixed geo.UTM
	if zone != "" {
		var err error
		if fixed, err = ParseZone(zone); err != nil {
			p.Reject("", zone, reason(err).Error(), "Say --utm 15N, with your zone and N or S.")
			return Places{}
		}
		column = -1
	} else {
		where = "column " + quote(t.Header[column])
	}
	return Places{func(cells []string) (geo.Position, string, string, error) {
		e, n := at(cells, east), at(cells, north)
		if e == "" && n == "" {
			return geo.Position{}, t.Header[east], "", ErrNoPlace
		}
		u, err := fixed, error(nil)
		if column >= 0 {
			if u, err = ParseZone(at(cells, column)); err != nil {
				return geo.Position{}, t.Header[column], at(cells, column), reason(err)
			}
		}
		if u.Easting, err = Plain(e); err != nil {
			return geo.Position{}, t.Header[east], e, err
		}
		if u.Northing, err = Plain(n); err != nil {
			return geo.Position{}, t.Header[north], n, err
		}
		if err := u.Check(); err != nil {
			return geo.Position{}, t.Header[east], e, reason(err)
		}
		p := u.Position()
		if !p.Valid() { // a place in the grid's square can lie beyond a pole
			err = errors.New("not in the grid of its UTM zone")
		}
		return p, t.Header[east], e, err
	}, "UTM, zone by " + where}
}

var zoneText = regexp.MustCompile(`(?i)(?:utm|zone)[\s_:]*(?:zone)?[\s_:]*0?([1-9][0-9]?)\s*([A-Z])?(?:[^0-9A-Z]|$)`)

// statedZone finds a UTM zone in the headers or the lines above them.
func (t *Table) statedZone() (zone, where string) {
	for i, l := range append(append([]string(nil), t.Header...), t.Preamble...) {
		if len(l) > 1000 {
			continue
		}
		if m := zoneText.FindStringSubmatch(l); m != nil {
			if i < len(t.Header) {
				return m[1] + m[2], "its header"
			}
			return m[1] + m[2], "a line above the header"
		}
	}
	return "", ""
}

// ParseZone reads 15N, 15T or 33S (the hemisphere south); easting and northing stay zero.
func ParseZone(s string) (geo.UTM, error) {
	s = strings.ToUpper(strings.ReplaceAll(strings.TrimSpace(s), " ", ""))
	if n := len(s); n > 0 && s[n-1] >= '0' && s[n-1] <= '9' {
		return geo.UTM{}, fault.New(fault.BadInput, "", "UTM zone %q needs N or S for its hemisphere", Short(s))
	}
	u, err := geo.ParseUTM(s + " 500000 1000000")
	if err != nil {
		return geo.UTM{}, fault.New(fault.BadInput, "", "%q is not a UTM zone", Short(s))
	}
	return geo.UTM{Zone: u.Zone, North: u.North}, nil
}

// Coordinate reads one coordinate with an optional hemisphere letter, which must fit its column.
func Coordinate(s string, positive, negative byte, limit float64, packed bool) (float64, error) {
	if s == "" {
		return 0, errors.New("half of the position is blank")
	}
	if len(s) > 40 {
		return 0, errors.New("not a coordinate")
	}
	upper := strings.ToUpper(s)
	for _, h := range []byte("NSEW") {
		if h != positive && h != negative && (upper[0] == h || upper[len(upper)-1] == h) {
			return 0, errors.New("its hemisphere letter belongs to the other column")
		}
	}
	if strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		s = strings.Replace(s, ",", ".", 1) // a decimal comma: no coordinate has thousands
	}
	v, err := geo.ParseCoordinate(s)
	if err != nil {
		return 0, reason(err)
	}
	if packed && !strings.ContainsAny(strings.Trim(s, " NSEWnsew-+°'"), " -:°º'’′") {
		deg := math.Trunc(v / 100)
		min := v - 100*deg
		if math.Abs(v) < 100 || math.Abs(min) >= 60 {
			return 0, errors.New("the column says degrees and minutes, this is one number")
		}
		v = deg + min/60
	}
	if !(math.Abs(v) <= limit) {
		return 0, errors.New("beyond " + strconv.Itoa(int(limit)) + " degrees")
	}
	return v, nil
}

// reason strips a fault to its message.
func reason(err error) error {
	var f *fault.Error
	if errors.As(err, &f) {
		return errors.New(f.Message)
	}
	return err
}

func at(cells []string, i int) string {
	if i < len(cells) {
		return cells[i]
	}
	return ""
}

// farApart is how far a position may lie from the middle of its file: no lake of ours is larger.
// Common practice, no source.
const farApart = 150 * quantity.Kilometre

// Middle gives the median latitude and longitude, a place that strays cannot move. It panics on an empty list.
func Middle(all []geo.Position) geo.Position {
	lat, lon := make([]float64, len(all)), make([]float64, len(all))
	for i, p := range all {
		lat[i], lon[i] = p.Lat, p.Lon
	}
	slices.Sort(lat)
	slices.Sort(lon)
	return geo.Position{Lat: lat[len(lat)/2], Lon: lon[len(lon)/2]}
}

// Strays tells whether p lies too far from the middle of its file to belong to it.
func Strays(p, middle geo.Position) bool {
	const perDegree = 111.2 // km of latitude, mean of the ellipsoid; enough for so coarse a bound
	dy := (p.Lat - middle.Lat) * perDegree
	dx := (p.Lon - middle.Lon) * perDegree * math.Cos(middle.Lat*math.Pi/180)
	return !(math.Hypot(dx, dy) <= float64(farApart/quantity.Kilometre))
}
