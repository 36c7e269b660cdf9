package geo

import (
	"math"

	"icehand/internal/base/quantity"
)

// planeReach is how far the mid-latitude plane is used: within it, its error stays under a quarter of a metre.
const planeReach = 40 * quantity.Kilometre

// gauss is Gauss and Legendre's rule of eight points on -1 to 1: half of its nodes, and their weights [AbramowitzStegun1964].
var gauss = [4][2]float64{
	{0.1834346424956498, 0.3626837833783620}, {0.5255324099163290, 0.3137066458778873},
	{0.7966664774136267, 0.2223810344533745}, {0.9602898564975363, 0.1012285362903763},
}

// integral gives the integral of f from a to b. Pieces of an eighth of a radian leave nothing that a float64 can show of
// the smooth functions of a geodesic.
func integral(f func(float64) float64, a, b float64) float64 {
	pieces := 1 + int(math.Abs(b-a)*8)
	h := (b - a) / float64(2*pieces)
	sum := 0.0
	for i := range pieces {
		mid := a + float64(2*i+1)*h
		for _, g := range gauss {
			sum += g[1] * (f(mid-g[0]*h) + f(mid+g[0]*h))
		}
	}
	return sum * h
}

// geodesic is a shortest line by what stays the same along it.
type geodesic struct {
	s0, c0 float64 // sine and cosine of its bearing where it crosses the equator
	k2     float64
}

func (g geodesic) root(σ float64) float64 { return math.Sqrt(1 + g.k2*math.Sin(σ)*math.Sin(σ)) }

// newGeodesic gives the line of a bearing α at the reduced latitude β, and the arc σ from its crossing of the equator.
func newGeodesic(β, α float64) (g geodesic, σ float64) {
	sα, cα := math.Sincos(α)
	sβ, cβ := math.Sincos(β)
	// (GEO-10) the line on the auxiliary sphere
	g.s0, g.c0 = sα*cβ, math.Hypot(cα, sα*sβ)
	e2 := tmEccent * tmEccent
	g.k2 = e2 / (1 - e2) * g.c0 * g.c0
	return g, math.Atan2(sβ, cα*cβ)
}

// length gives the distance along the line between two arcs.
func (g geodesic) length(σ1, σ2 float64) float64 {
	// (GEO-11) distance
	return semiMajor * (1 - flattening) * integral(g.root, σ1, σ2)
}

// lag gives by how much the difference of longitude on the ellipsoid falls behind that on the sphere.
func (g geodesic) lag(σ1, σ2 float64) float64 {
	// (GEO-12) longitude
	return flattening * g.s0 * integral(func(σ float64) float64 {
		return (2 - flattening) / (1 + (1-flattening)*g.root(σ))
	}, σ1, σ2)
}

func reduced(lat float64) float64 {
	s, c := math.Sincos(lat * math.Pi / 180)
	return math.Atan2((1-flattening)*s, c)
}

// longLine gives distance and starting bearing, in radians, of the shortest line on the ellipsoid, to a tenth of a
// millimetre. For points all but opposite on the globe it does not settle, and the line is somewhat wrong.
func longLine(a, b Position) (s, α float64) {
	β1, β2 := reduced(a.Lat), reduced(b.Lat)
	λ := math.Remainder(b.Lon-a.Lon, 360) * math.Pi / 180
	s1, c1 := math.Sincos(β1)
	s2, c2 := math.Sincos(β2)
	ω := λ
	var g geodesic
	var σ1, arc float64
	for range 30 {
		sω, cω := math.Sincos(ω)
		x, y := c1*s2-s1*c2*cω, c2*sω
		α = math.Atan2(y, x)
		g, σ1 = newGeodesic(β1, α)
		arc = math.Atan2(math.Hypot(x, y), s1*s2+c1*c2*cω)
		next := λ + g.lag(σ1, σ1+arc)
		if math.Abs(next-ω) < 1e-15 {
			break
		}
		ω = next
	}
	return g.length(σ1, σ1+arc), α
}

// along gives the end of the shortest line of a distance and a starting bearing in radians.
func along(p Position, α, s float64) Position {
	g, σ1 := newGeodesic(reduced(p.Lat), α)
	σ2 := σ1 + s/semiMajor
	for range 20 {
		step := (s - g.length(σ1, σ2)) / (semiMajor * (1 - flattening) * g.root(σ2))
		if σ2 += step; math.Abs(step) < 1e-16 {
			break
		}
	}
	ω := func(σ float64) float64 { return math.Atan2(g.s0*math.Sin(σ), math.Cos(σ)) }
	turns := math.Round((σ2 - σ1 - (ω(σ2) - ω(σ1))) / (2 * math.Pi)) // whole rounds that the arc tangent hides
	λ := ω(σ2) - ω(σ1) + 2*math.Pi*math.Copysign(turns, g.s0) - g.lag(σ1, σ2)
	β := math.Atan2(g.c0*math.Sin(σ2), math.Hypot(math.Cos(σ2), g.s0*math.Sin(σ2)))
	sβ, cβ := math.Sincos(β)
	return Position{Lat: math.Atan2(sβ, (1-flattening)*cβ) * 180 / math.Pi, Lon: math.Remainder(p.Lon+λ*180/math.Pi, 360)}
}

// bearingOf brings radians into a bearing.
func bearingOf(α float64) quantity.Bearing { return quantity.NewBearing(α * 180 / math.Pi) }

// Ellipsoid gives the position at a distance and starting bearing along the shortest line on the ellipsoid, at any
// distance; [Position.Toward] is quicker within a lake and as good.
func (p Position) Ellipsoid(b quantity.Bearing, d quantity.Length) Position {
	return along(p, float64(b)*math.Pi/180, d.Metres())
}
