// Package wmm answers which way a compass points: the World Magnetic Model 2025 of the US Government and the British
// Geological Survey [Chulliat2025].
//
// Start with [At]; [Field.Magnetic] turns a true bearing into a compass bearing.
// It assumes the earth's main field alone, from 2025.0 to 2030.0, and refuses other dates: a model past its end is wrong
// without looking it. It leaves out rocks, magnetic storms, and what the compass itself stands beside: an auger, a sled
// or a snowmobile turns a needle by far more than the model's spread.
// Model note: docs/models/wmm.md.
package wmm

import (
	_ "embed" // the coefficients
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Field is the earth's magnetic field at a place and time.
type Field struct {
	Declination quantity.Angle       // magnetic north east of true north; west is negative
	Spread      quantity.Angle       // one standard deviation of the declination, by the model's own error model
	PerYear     quantity.Angle       // change of the declination in a year
	Inclination quantity.Angle       // below the horizon
	North, East quantity.FluxDensity // parts of the field along true north and east
	Down        quantity.FluxDensity
	Horizontal  quantity.FluxDensity // what moves a compass; below 6000 nT take care, below 2000 nT do not use one
	Total       quantity.FluxDensity
}

// Magnetic gives the compass bearing of a true bearing.
func (f Field) Magnetic(b quantity.Bearing) quantity.Bearing {
	return quantity.NewBearing(b.Degrees() - f.Declination.Degrees())
}

// True gives the true bearing of a compass bearing.
func (f Field) True(b quantity.Bearing) quantity.Bearing {
	return quantity.NewBearing(b.Degrees() + f.Declination.Degrees())
}

const (
	degree      = 12
	epoch       = 2025.0
	expiry      = 2030.0
	radiusM     = 6371200.0 // m, geomagnetic reference radius [Chulliat2025]
	semiMajorM  = 6378137.0 // m, WGS 84 [EPSG7030]
	flattening  = 1 / 298.257223563
	lowestM     = -1000.0  // m, range of heights of the model [Chulliat2025]
	highestM    = 850000.0 // m
	spreadConst = 0.26     // degree, error model of the declination [Chulliat2025]
	spreadField = 5417.0   // degree nT, divided by the horizontal field
)

//go:embed wmm2025.csv
var table string

// coefficient is g or h at the epoch in nT with its change in nT a year.
type coefficient struct{ value, rate float64 }

// coefficients by degree n and order m.
var coefficients = sync.OnceValue(func() (c struct {
	g, h [degree + 1][degree + 1]coefficient
}) {
	rows := 0
	for line := range strings.Lines(table) {
		if line[0] < '0' || line[0] > '9' {
			continue // comments and the heading
		}
		var v [6]float64
		for i, s := range strings.Split(strings.TrimSpace(line), ",") {
			x, err := strconv.ParseFloat(s, 64)
			if err != nil || i >= len(v) {
				panic("wmm: damaged coefficients")
			}
			v[i] = x
		}
		n, m := int(v[0]), int(v[1])
		c.g[n][m] = coefficient{v[2], v[4]}
		c.h[n][m] = coefficient{v[3], v[5]}
		rows++
	}
	if rows != degree*(degree+3)/2 {
		panic("wmm: coefficients are missing")
	}
	return c
})

// At gives the field at a position, a height (above sea level or the ellipsoid: a compass does not feel the difference)
// and a time. It refuses times outside 2025.0 to 2030.0, in UTC, and heights the model does not cover.
func At(p geo.Position, height quantity.Length, t time.Time) (Field, error) {
	year := decimalYear(t)
	if !(year >= epoch && year <= expiry) {
		return Field{}, fault.New(fault.BadInput, "Check the device's date. From 2030 on the program needs the next model; until then use true bearings.",
			"the magnetic model runs from 2025 to the end of 2029 and does not know %s", t.UTC().Format(time.DateOnly))
	}
	if !p.Valid() {
		return Field{}, fault.New(fault.BadInput, "Latitude runs from -90 to 90, longitude from -180 to 180.", "there is no such position on the globe")
	}
	if h := height.Metres(); !(h >= lowestM && h <= highestM) {
		return Field{}, fault.New(fault.BadInput, "Give the lake's height above sea level; 0 will do.", "a height of %.0f m is outside the magnetic model", h)
	}
	return field(p, height.Metres(), year), nil
}

// decimalYear gives a time as a year and its fraction.
func decimalYear(t time.Time) float64 {
	t = t.UTC()
	start, end := time.Date(t.Year(), 1, 1, 0, 0, 0, 0, time.UTC), time.Date(t.Year()+1, 1, 1, 0, 0, 0, 0, time.UTC)
	return float64(t.Year()) + float64(t.Sub(start))/float64(end.Sub(start))
}

// vector is a field in nT, north, east, down.
type vector struct{ x, y, z float64 }

// field works out the model.
func field(p geo.Position, heightM, year float64) Field {
	φ, λ := p.Lat*math.Pi/180, p.Lon*math.Pi/180
	// (WMM-1) geocentric latitude and radius
	e2 := flattening * (2 - flattening)
	Rc := semiMajorM / math.Sqrt(1-e2*math.Sin(φ)*math.Sin(φ))
	ρ := (Rc + heightM) * math.Cos(φ)
	z := (Rc*(1-e2) + heightM) * math.Sin(φ)
	r := math.Hypot(ρ, z)
	φ1 := math.Atan2(z, ρ)
	b, rate := geocentric(φ1, λ, r, year-epoch)
	// (WMM-5) back to the ellipsoid's north and down
	s, c := math.Sincos(φ1 - φ)
	turn := func(v vector) vector { return vector{v.x*c - v.z*s, v.y, v.x*s + v.z*c} }
	b, rate = turn(b), turn(rate)
	// (WMM-6) elements
	H := math.Hypot(b.x, b.y)
	F := math.Hypot(H, b.z)
	D := math.Atan2(b.y, b.x)
	I := math.Atan2(b.z, H)
	D1 := (b.x*rate.y - b.y*rate.x) / (H * H)
	// (WMM-7) error model
	δD := math.Min(180, math.Hypot(spreadConst, spreadField/H))
	deg, nT := quantity.Angle(180/math.Pi), quantity.Nanotesla
	return Field{
		Declination: quantity.Angle(D) * deg, Spread: quantity.Angle(δD), PerYear: quantity.Angle(D1) * deg, Inclination: quantity.Angle(I) * deg,
		North: quantity.FluxDensity(b.x) * nT, East: quantity.FluxDensity(b.y) * nT, Down: quantity.FluxDensity(b.z) * nT,
		Horizontal: quantity.FluxDensity(H) * nT, Total: quantity.FluxDensity(F) * nT,
	}
}

// geocentric sums the series at a geocentric latitude, longitude and radius, years after the epoch: the field and its
// change in a year.
func geocentric(φ1, λ, r, years float64) (b, rate vector) {
	k := coefficients()
	P, dP, Q := legendre(φ1)
	for n := 1; n <= degree; n++ {
		scale := math.Pow(radiusM/r, float64(n+2))
		for m := 0; m <= n; m++ {
			s, c := math.Sincos(float64(m) * λ)
			g, h := k.g[n][m], k.h[n][m]
			// (WMM-4) the field is the slope of the potential
			add := func(v *vector, g, h float64) {
				v.x += scale * (g*c + h*s) * dP[n][m]
				v.y += scale * float64(m) * (g*s - h*c) * Q[n][m]
				v.z -= scale * float64(n+1) * (g*c + h*s) * P[n][m]
			}
			// (WMM-3) coefficients move straight on
			add(&b, g.value+years*g.rate, h.value+years*h.rate)
			add(&rate, g.rate, h.rate)
		}
	}
	return b, rate
}

// square holds a number for each degree and order.
type square = [degree + 1][degree + 1]float64

// legendre gives Schmidt's semi-normalised functions of the sine of a geocentric latitude, their slopes by colatitude,
// and for orders from 1 the functions divided by the latitude's cosine, which stays finite at the poles.
func legendre(φ1 float64) (P, dP, Q square) {
	c, s := math.Sincos(φ1) // cosine and sine of the colatitude
	P[0][0] = 1
	for n := 1; n <= degree; n++ {
		for m := 0; m <= n; m++ {
			// (WMM-2) recursion by degree
			if m == n {
				f := 1.0
				if n > 1 {
					f = math.Sqrt(float64(2*n-1) / float64(2*n))
				}
				Q[n][n] = f * P[n-1][n-1]
				P[n][n] = s * Q[n][n]
				dP[n][n] = f * (s*dP[n-1][n-1] + c*P[n-1][n-1])
				continue
			}
			a, d := float64(2*n-1), math.Sqrt(float64(n*n-m*m))
			var p2, d2, q2 float64
			if n > m+1 {
				f := math.Sqrt(float64((n-1)*(n-1) - m*m))
				p2, d2, q2 = f*P[n-2][m], f*dP[n-2][m], f*Q[n-2][m]
			}
			P[n][m] = (a*c*P[n-1][m] - p2) / d
			dP[n][m] = (a*(c*dP[n-1][m]-s*P[n-1][m]) - d2) / d
			Q[n][m] = (a*c*Q[n-1][m] - q2) / d
		}
	}
	return P, dP, Q
}

// DeclinationText writes a declination to the degree with its side: 15 W, 3 E, 0.
func DeclinationText(d quantity.Angle) string {
	switch v := math.Round(d.Degrees()); {
	case v > 0:
		return fmt.Sprintf("%.0f E", v)
	case v < 0:
		return fmt.Sprintf("%.0f W", -v)
	}
	return "0"
}
