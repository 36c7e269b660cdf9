// Package geo answers where something is: on the globe, on the lake's own plane, on the grids, in the formats that people
// write and read aloud; and where a place stands beside a line.
//
// Start with [NewFrame] and [Frame.Local]: inside the program a place is a [Local], east and north metres from the
// lake's origin. [Position] (WGS 84 degrees) is for input, journals and maps. [ParsePosition] and [ParseGridSquare] read
// what people type. [FootOn] says how far off a line a place is, and to which side.
// It assumes lakes of at most some tens of kilometres, away from the poles and the 180th meridian. Geodesics over
// continents, heights and other datums are left out: a lake has no use for them.
// Model note: docs/models/geo.md.
package geo

import (
	"fmt"
	"math"

	"icehand/internal/base/quantity"
)

// Position is a point on the WGS 84 ellipsoid in degrees, north and east positive.
type Position struct {
	Lat, Lon float64
}

// Valid tells whether the position lies on the globe.
func (p Position) Valid() bool {
	return p.Lat >= -90 && p.Lat <= 90 && p.Lon >= -180 && p.Lon <= 180 // false for NaN
}

// E7 gives the position in the journal's unit, 1e-7 degree.
func (p Position) E7() (lat, lon int64) {
	return int64(math.Round(p.Lat * 1e7)), int64(math.Round(p.Lon * 1e7))
}

// FromE7 reads the journal's unit.
func FromE7(lat, lon int64) Position {
	return Position{Lat: float64(lat) / 1e7, Lon: float64(lon) / 1e7}
}

// Local is a place on the lake's plane: metres east and north of the lake's origin (grid north).
type Local struct {
	E, N float64
}

// Sub gives the vector from o to p.
func (p Local) Sub(o Local) Local { return Local{p.E - o.E, p.N - o.N} }

// Add gives p moved by v.
func (p Local) Add(v Local) Local { return Local{p.E + v.E, p.N + v.N} }

// Distance gives the straight distance to o.
func (p Local) Distance(o Local) quantity.Length {
	return quantity.Length(math.Hypot(p.E-o.E, p.N-o.N))
}

// BearingTo gives the direction from p to o. On a lake-sized frame grid north is true north to within
// 0.3 degrees at 25 km from the origin's meridian, so it may be shown as a whole true degree.
// The bearing of a point to itself is 0.
func (p Local) BearingTo(o Local) quantity.Bearing {
	if p == o {
		return 0
	}
	return quantity.NewBearing(math.Atan2(o.E-p.E, o.N-p.N) * 180 / math.Pi)
}

// Toward gives the place at a distance and bearing from p.
func (p Local) Toward(b quantity.Bearing, d quantity.Length) Local {
	s, c := math.Sincos(float64(b) * math.Pi / 180)
	return Local{p.E + float64(d)*s, p.N + float64(d)*c}
}

// WGS 84 [EPSG7030]: semi-major axis in metres, flattening.
const (
	semiMajor  = 6378137.0
	flattening = 1 / 298.257223563
)

// transverse Mercator by the Krueger series to n^6 [Karney2011, eqs 35 and 36].
var (
	tmN        = flattening / (2 - flattening)
	tmA        = semiMajor / (1 + tmN) * (1 + tmN*tmN/4 + math.Pow(tmN, 4)/64 + math.Pow(tmN, 6)/256)
	tmAlpha    = kruegerForward(tmN)
	tmBeta     = kruegerInverse(tmN)
	tmEccent   = math.Sqrt(flattening * (2 - flattening))
	utmScale   = 0.9996
	utmFalseE  = 500000.0
	utmFalseNS = 10000000.0
)

func kruegerForward(n float64) [6]float64 {
	n2, n3, n4, n5, n6 := n*n, n*n*n, n*n*n*n, n*n*n*n*n, n*n*n*n*n*n
	return [6]float64{
		n/2 - 2*n2/3 + 5*n3/16 + 41*n4/180 - 127*n5/288 + 7891*n6/37800,
		13*n2/48 - 3*n3/5 + 557*n4/1440 + 281*n5/630 - 1983433*n6/1935360,
		61*n3/240 - 103*n4/140 + 15061*n5/26880 + 167603*n6/181440,
		49561*n4/161280 - 179*n5/168 + 6601661*n6/7257600,
		34729*n5/80640 - 3418889*n6/1995840,
		212378941 * n6 / 319334400,
	}
}

func kruegerInverse(n float64) [6]float64 {
	n2, n3, n4, n5, n6 := n*n, n*n*n, n*n*n*n, n*n*n*n*n, n*n*n*n*n*n
	return [6]float64{
		n/2 - 2*n2/3 + 37*n3/96 - n4/360 - 81*n5/512 + 96199*n6/604800,
		n2/48 + n3/15 - 437*n4/1440 + 46*n5/105 - 1118711*n6/3870720,
		17*n3/480 - 37*n4/840 - 209*n5/4480 + 5569*n6/90720,
		4397*n4/161280 - 11*n5/504 - 830251*n6/7257600,
		4583*n5/161280 - 108847*n6/3991680,
		20648693 * n6 / 638668800,
	}
}

// tmForward projects a point at lon degrees from the central meridian; x east, y north of the equator, scale 1.
func tmForward(lat, dlon float64) (x, y float64) {
	φ, λ := lat*math.Pi/180, dlon*math.Pi/180
	// (GEO-1) conformal latitude
	τ := math.Tan(φ)
	σ := math.Sinh(tmEccent * math.Atanh(tmEccent*τ/math.Sqrt(1+τ*τ)))
	τ1 := τ*math.Sqrt(1+σ*σ) - σ*math.Sqrt(1+τ*τ)
	ξ1 := math.Atan2(τ1, math.Cos(λ))
	η1 := math.Asinh(math.Sin(λ) / math.Sqrt(τ1*τ1+math.Cos(λ)*math.Cos(λ)))
	// (GEO-2) Krueger series
	ξ, η := ξ1, η1
	for j, a := range tmAlpha {
		k := 2 * float64(j+1)
		ξ += a * math.Sin(k*ξ1) * math.Cosh(k*η1)
		η += a * math.Cos(k*ξ1) * math.Sinh(k*η1)
	}
	return tmA * η, tmA * ξ
}

// tmInverse is the inverse of tmForward.
func tmInverse(x, y float64) (lat, dlon float64) {
	ξ, η := y/tmA, x/tmA
	ξ1, η1 := ξ, η
	// (GEO-3) inverse series
	for j, b := range tmBeta {
		k := 2 * float64(j+1)
		ξ1 -= b * math.Sin(k*ξ) * math.Cosh(k*η)
		η1 -= b * math.Cos(k*ξ) * math.Sinh(k*η)
	}
	τ1 := math.Sin(ξ1) / math.Hypot(math.Sinh(η1), math.Cos(ξ1))
	λ := math.Atan2(math.Sinh(η1), math.Cos(ξ1))
	// (GEO-4) latitude from conformal latitude by Newton's method
	τ := τ1
	for range 6 {
		r := math.Sqrt(1 + τ*τ)
		σ := math.Sinh(tmEccent * math.Atanh(tmEccent*τ/r))
		f := τ*math.Sqrt(1+σ*σ) - σ*r - τ1
		e2 := tmEccent * tmEccent
		d := (math.Sqrt((1+σ*σ)*(1+τ*τ)) - σ*τ) * (1 - e2) * r / (1 + (1-e2)*τ*τ)
		step := f / d
		τ -= step
		if math.Abs(step) < 1e-15*(1+math.Abs(τ)) {
			break
		}
	}
	return math.Atan(τ) * 180 / math.Pi, λ * 180 / math.Pi
}

// Frame is the lake's plane: transverse Mercator through the lake's origin, scale 1 on the origin's meridian.
// Distances are true to 8 parts in a million at 25 km from that meridian.
type Frame struct {
	origin Position
	y0     float64
}

// NewFrame makes the plane through an origin. It panics when the origin is not a position.
func NewFrame(origin Position) Frame {
	if !origin.Valid() {
		panic("geo: frame origin is not a position")
	}
	_, y := tmForward(origin.Lat, 0)
	return Frame{origin: origin, y0: y}
}

// Origin gives the position of (0, 0).
func (f Frame) Origin() Position { return f.origin }

// Local projects a position onto the plane.
func (f Frame) Local(p Position) Local {
	x, y := tmForward(p.Lat, p.Lon-f.origin.Lon)
	return Local{E: x, N: y - f.y0}
}

// Position is the inverse of Local.
func (f Frame) Position(l Local) Position {
	lat, dlon := tmInverse(l.E, l.N+f.y0)
	return Position{Lat: lat, Lon: f.origin.Lon + dlon}
}

// UTM is a position on the Universal Transverse Mercator grid.
type UTM struct {
	Zone              int  // 1..60
	North             bool // northern hemisphere
	Easting, Northing float64
}

// ToUTM gives the grid position in the point's own zone, the widened zones of south-west Norway and Svalbard included.
func (p Position) ToUTM() UTM { return p.ToUTMZone(p.utmZone()) }

// ToUTMZone gives the grid position in a stated zone.
func (p Position) ToUTMZone(zone int) UTM {
	x, y := tmForward(p.Lat, p.Lon-centralMeridian(zone))
	u := UTM{Zone: zone, North: p.Lat >= 0, Easting: utmFalseE + utmScale*x, Northing: utmScale * y}
	if !u.North {
		u.Northing += utmFalseNS
	}
	return u
}

func centralMeridian(zone int) float64 { return float64(6*zone - 183) }

func (p Position) utmZone() int {
	lon := p.Lon
	if lon >= 180 {
		lon -= 360
	}
	zone := int(math.Floor((lon+180)/6)) + 1
	switch {
	case p.Lat >= 56 && p.Lat < 64 && lon >= 3 && lon < 12:
		return 32
	case p.Lat >= 72 && p.Lat < 84 && lon >= 0 && lon < 42:
		return 31 + 2*int((lon+3)/12)
	}
	return zone
}

// Position gives latitude and longitude of the grid position.
func (u UTM) Position() Position {
	y := u.Northing
	if !u.North {
		y -= utmFalseNS
	}
	lat, dlon := tmInverse((u.Easting-utmFalseE)/utmScale, y/utmScale)
	return Position{Lat: lat, Lon: centralMeridian(u.Zone) + dlon}
}

// String writes zone, hemisphere, easting and northing to the metre.
func (u UTM) String() string {
	h := "S"
	if u.North {
		h = "N"
	}
	return fmt.Sprintf("%d%s %.0f %.0f", u.Zone, h, math.Floor(u.Easting), math.Floor(u.Northing))
}
