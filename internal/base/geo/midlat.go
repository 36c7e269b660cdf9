package geo

import (
	"math"

	"icehand/internal/base/quantity"
)

// Between gives distance and starting bearing of the shortest line from a to b, without a frame: up to 40 km by the
// mid-latitude plane, right to a millimetre at 5 km and a third of a metre at 40 km, beyond on the ellipsoid. It refuses
// nothing; between points all but opposite on the globe it is wrong. The bearing of a point to itself is 0.
func Between(a, b Position) (quantity.Length, quantity.Bearing) {
	x, y, turn := midLatitude(a, b)
	if x == 0 && y == 0 {
		return 0, 0
	}
	if math.Hypot(x, y) > planeReach.Metres() {
		s, α := longLine(a, b)
		return quantity.Length(s), bearingOf(α)
	}
	return quantity.Length(math.Hypot(x, y)), quantity.NewBearing((math.Atan2(x, y) - turn/2) * 180 / math.Pi)
}

// midLatitude gives the vector from a to b in metres east and north at the mid-latitude, and by how much the shortest
// line turns between them, in radians.
func midLatitude(a, b Position) (x, y, turn float64) {
	φm, Δφ := (a.Lat+b.Lat)/2*math.Pi/180, (b.Lat-a.Lat)*math.Pi/180
	Δλ := math.Remainder(b.Lon-a.Lon, 360) * math.Pi / 180
	// (GEO-6) radii of curvature in the meridian and across it
	s, c := math.Sincos(φm)
	e2 := tmEccent * tmEccent
	N := semiMajor / math.Sqrt(1-e2*s*s)
	M := N * (1 - e2) / (1 - e2*s*s)
	// (GEO-7) plane vector
	x = N * c * Δλ
	y = M * Δφ
	// (GEO-8) turn of the line: the meridians' convergence
	turn = Δλ * s
	return x, y, turn
}

// Toward gives the position at a distance and starting bearing, the inverse of [Between] to a micrometre.
func (p Position) Toward(b quantity.Bearing, d quantity.Length) Position {
	if d > planeReach {
		return along(p, float64(b)*math.Pi/180, d.Metres())
	}
	to := p
	for range 8 { // each round gains four figures or so at lake size
		x, y, turn := midLatitude(p, to)
		s, c := math.Sincos(float64(b)*math.Pi/180 + turn/2)
		dE, dN := float64(d)*s-x, float64(d)*c-y
		if math.Hypot(dE, dN) < 1e-7 {
			break
		}
		// a step on the sphere of the semi-major axis corrects all but a part in a hundred of what is left
		to.Lat += dN / semiMajor * 180 / math.Pi
		to.Lon += dE / (semiMajor * math.Cos(to.Lat*math.Pi/180)) * 180 / math.Pi
	}
	return to
}

// Convergence gives by how much grid north of the frame lies east of true north at a place: a true bearing is the
// plane's bearing plus this.
func (f Frame) Convergence(l Local) quantity.Angle {
	p := f.Position(l)
	return tmConvergence(p.Lat, p.Lon-f.origin.Lon)
}

// Convergence gives by how much grid north of the zone lies east of true north at a place.
func (u UTM) Convergence() quantity.Angle {
	p := u.Position()
	return tmConvergence(p.Lat, p.Lon-centralMeridian(u.Zone))
}

// tmConvergence gives the meridian convergence of the transverse Mercator plane, positive where grid north lies east of true north.
func tmConvergence(lat, dlon float64) quantity.Angle {
	φ, λ := lat*math.Pi/180, dlon*math.Pi/180
	τ := math.Tan(φ)
	σ := math.Sinh(tmEccent * math.Atanh(tmEccent*τ/math.Sqrt(1+τ*τ)))
	τ1 := τ*math.Sqrt(1+σ*σ) - σ*math.Sqrt(1+τ*τ)
	ξ1 := math.Atan2(τ1, math.Cos(λ))
	η1 := math.Asinh(math.Sin(λ) / math.Sqrt(τ1*τ1+math.Cos(λ)*math.Cos(λ)))
	// (GEO-9) convergence on the sphere and by the series
	p, q := 1.0, 0.0
	for j, a := range tmAlpha {
		k := 2 * float64(j+1)
		p += k * a * math.Cos(k*ξ1) * math.Cosh(k*η1)
		q += k * a * math.Sin(k*ξ1) * math.Sinh(k*η1)
	}
	γ := math.Atan(τ1/math.Sqrt(1+τ1*τ1)*math.Tan(λ)) + math.Atan2(q, p)
	return quantity.Angle(γ * 180 / math.Pi)
}
