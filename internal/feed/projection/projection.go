// Package projection answers where a pair of numbers lies whose coordinate system a .prj file states in words.
//
// Start with [Parse], or [Stated] for what the user says; then [System.Position]. The text is well-known text of the first
// kind [OGC2001, section 7], in the spellings of desktop programs.
// It assumes that WGS 84 and NAD83 are one: they differ by one or two metres, which the caller should say. It reads
// degrees on either, and UTM in metres; it refuses every other system by name, because a lake moved by 20 m is worse than none.
package projection

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/feed/file"
)

// System is a coordinate system that is read.
type System struct {
	Name    string
	NAD83   bool // on the datum NAD83, taken as WGS 84
	degrees bool
	zone    geo.UTM
}

// Hint says how to state a system that a file leaves open.
const Hint = "Put the .prj file of the same name into the zip file, or say --utm 15N (with your zone) or, for degrees on WGS 84, --map x=lon --map y=lat."

// Stated gives the system that the user states, and the options without that statement. known is false when none is stated.
func Stated(opt file.Options) (s System, rest file.Options, known bool, err error) {
	rest = opt
	rest.Map = map[string]string{}
	x, y := "", ""
	for header, meaning := range opt.Map {
		switch strings.ToLower(strings.TrimSpace(header)) {
		case "x":
			x = meaning
		case "y":
			y = meaning
		default:
			rest.Map[header] = meaning
		}
	}
	switch {
	case opt.UTMZone != "":
		zone, err := file.ParseZone(opt.UTMZone)
		return System{Name: "UTM " + opt.UTMZone + ", as stated", zone: zone}, rest, true, err
	case x == string(file.Lon) && y == string(file.Lat):
		return System{Name: "WGS 84 degrees, as stated", degrees: true}, rest, true, nil
	}
	return System{}, rest, false, nil
}

// Position gives the place of a pair of numbers.
func (s System) Position(x, y float64) (geo.Position, error) {
	if s.degrees {
		p := geo.Position{Lat: y, Lon: x}
		if !p.Valid() {
			return p, errors.New("not a place on the globe in degrees")
		}
		return p, nil
	}
	u := s.zone
	u.Easting, u.Northing = x, y
	if err := u.Check(); err != nil {
		return geo.Position{}, errors.New("not in the grid of its UTM zone")
	}
	p := u.Position()
	if !p.Valid() { // a place in the grid's square can lie beyond a pole
		return p, errors.New("not in the grid of its UTM zone")
	}
	return p, nil
}

// Parse reads the text of a .prj file.
func Parse(text string) (System, error) {
	r := reader{s: text}
	root, ok := r.node(0)
	if !ok || len(text) > maxText {
		return System{}, fault.New(fault.BadInput, Hint, "the .prj file does not state a coordinate system in well-known text")
	}
	if root.word == "COMPD_CS" && len(root.inside) > 0 { // heights beside; the plane comes first
		root = root.inside[0]
	}
	s := System{Name: file.Short(root.label)}
	refuse := func(why string) (System, error) {
		return System{}, fault.New(fault.BadInput, "Convert it to WGS 84 degrees (EPSG:4326) or to UTM on WGS 84 or NAD83 first.", "its coordinate system %q is not read: %s", s.Name, why)
	}
	globe := root
	if root.word == "PROJCS" {
		globe = root.find("GEOGCS")
	}
	if globe == nil || globe.word != "GEOGCS" {
		return refuse("it has no geographic system")
	}
	datum := globe.find("DATUM")
	switch name := plain(datum.name()); {
	case strings.Contains(name, "wgs1984") || strings.Contains(name, "wgs84") || strings.Contains(name, "worldgeodeticsystem1984"):
	case strings.Contains(name, "northamerican1983") || strings.Contains(name, "northamericandatum1983") || strings.Contains(name, "nad83") || strings.Contains(name, "nad1983"):
		s.NAD83 = true
	default:
		return refuse("its datum is " + strconv.Quote(file.Short(datum.name())))
	}
	if m := globe.find("PRIMEM"); m != nil && !m.is(0, 0, 1e-9) {
		return refuse("its prime meridian is not Greenwich")
	}
	if u := globe.find("UNIT"); u == nil || !u.is(0, math.Pi/180, 1e-8) {
		return refuse("its angles are not in degrees")
	}
	if root.word == "GEOGCS" {
		s.degrees = true
		return s, nil
	}
	why := ""
	s.zone, why = zone(root)
	if why != "" {
		return refuse(why)
	}
	return s, nil
}

// zone finds the zone of UTM by its parameters, not by its name [NGA2014: scale 0.9996, false easting 500 km, false
// northing 0 or 10,000 km].
func zone(p *node) (u geo.UTM, why string) {
	if plain(p.find("PROJECTION").name()) != "transversemercator" {
		return u, "it is not UTM"
	}
	if m := p.find("UNIT"); m == nil || !m.is(0, 1, 1e-9) {
		return u, "it is not in metres; it may be a state plane grid"
	}
	par := map[string]float64{}
	for _, n := range p.inside {
		if n.word == "PARAMETER" && len(n.numbers) > 0 {
			par[plain(n.label)] = n.numbers[0]
		}
	}
	n := math.Round((par["centralmeridian"] + 183) / 6)
	north := par["falsenorthing"] == 0
	if !(math.Abs(par["centralmeridian"]-(6*n-183)) < 1e-6 && n >= 1 && n <= 60) || math.Abs(par["scalefactor"]-0.9996) > 1e-9 || par["falseeasting"] != 500_000 ||
		!north && par["falsenorthing"] != 10_000_000 || par["latitudeoforigin"] != 0 {
		return u, "its parameters are not those of a UTM zone"
	}
	return geo.UTM{Zone: int(n), North: north}, ""
}

// node is WORD["label", number, NODE[...], ...].
type node struct {
	word, label string
	numbers     []float64
	inside      []*node
}

func (n *node) find(word string) *node {
	if n == nil {
		return nil
	}
	for _, c := range n.inside {
		if c.word == word {
			return c
		}
	}
	return nil
}

func (n *node) name() string {
	if n == nil {
		return ""
	}
	return n.label
}

func (n *node) is(i int, want, within float64) bool {
	return i < len(n.numbers) && math.Abs(n.numbers[i]-want) <= within
}

// plain drops case and what is neither a letter nor a digit.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' || r >= 'a' && r <= 'z' {
			return r
		}
		return -1
	}, strings.ToLower(s))
}

// Bounds on a .prj file.
const (
	maxText  = 64 << 10
	maxDepth = 20
)

type reader struct {
	s string
	i int
}

func (r *reader) space() {
	for r.i < len(r.s) && (r.s[r.i] <= ' ' || strings.HasPrefix(r.s[r.i:], "\ufeff")) {
		r.i++
	}
}

// node reads one node.
func (r *reader) node(depth int) (*node, bool) {
	if r.space(); depth > maxDepth {
		return nil, false
	}
	from := r.i
	for r.i < len(r.s) && (r.s[r.i] >= 'A' && r.s[r.i] <= 'Z' || r.s[r.i] >= 'a' && r.s[r.i] <= 'z' || r.s[r.i] == '_' || r.s[r.i] >= '0' && r.s[r.i] <= '9') {
		r.i++
	}
	n := &node{word: strings.ToUpper(r.s[from:r.i])}
	if r.space(); n.word == "" || r.i >= len(r.s) || r.s[r.i] != '[' && r.s[r.i] != '(' {
		return n, n.word != "" && depth > 0 // an axis direction such as EAST
	}
	for r.i++; ; r.i++ {
		if r.space(); r.i >= len(r.s) {
			return nil, false
		}
		switch c := r.s[r.i]; {
		case c == '"':
			end := strings.IndexByte(r.s[r.i+1:], '"')
			if end < 0 {
				return nil, false
			}
			if n.label == "" {
				n.label = r.s[r.i+1 : r.i+1+end]
			}
			r.i += end + 2
		case c >= '0' && c <= '9' || c == '-' || c == '+' || c == '.':
			from := r.i
			for r.i < len(r.s) && strings.IndexByte("0123456789+-.eE", r.s[r.i]) >= 0 {
				r.i++
			}
			v, err := strconv.ParseFloat(r.s[from:r.i], 64)
			if err != nil {
				return nil, false
			}
			n.numbers = append(n.numbers, v)
		default:
			c, ok := r.node(depth + 1)
			if !ok {
				return nil, false
			}
			n.inside = append(n.inside, c)
		}
		if r.space(); r.i >= len(r.s) {
			return nil, false
		}
		switch r.s[r.i] {
		case ']', ')':
			r.i++
			return n, true
		case ',':
		default:
			return nil, false
		}
	}
}
