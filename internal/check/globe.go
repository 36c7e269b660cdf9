package check

import (
	"fmt"
	"math"

	"icehand/internal/base/geo"
	"icehand/internal/base/geo/tile"
	"icehand/internal/base/quantity"
)

var globeSlugs = []Slug{
	{"line_distance", "m", "length of the shortest line over the ellipsoid", fromTo, func(in Inputs) (float64, error) {
		d, _ := geo.Between(endPositions(in))
		return d.Metres(), nil
	}},
	{"line_end", "degree", "latitude or longitude of the end of the shortest line, or its bearing there",
		keys("lat", "degree", "lon", "degree", "bearing_deg", "degree", "distance_m", "m", "which", "lat|lon|bearing"), func(in Inputs) (float64, error) {
			start := position(in)
			p := start.Toward(quantity.NewBearing(in.n("bearing_deg")), length(in, "distance_m"))
			switch in.s("which") {
			case "lat":
				return p.Lat, nil
			case "lon":
				return p.Lon, nil
			}
			_, back := geo.Between(p, start)
			return quantity.NewBearing(back.Degrees() + 180).Degrees(), nil
		}},
	{"box_area", "m2", "area between two parallels and two meridians, as the lake's plane has it", keys("south", "degree", "north", "degree", "west", "degree", "east", "degree"),
		func(in Inputs) (float64, error) { return boxArea(in), nil }},
	{"distance_error", "m", "greatest error of a way to reckon distance on bearings of 0, 45, 90 and 135 degrees: the plane here, a plane scaled at the start, a sphere",
		keys("lat", "degree", "distance_m", "m", "way", "mid_latitude|plane_of_start|sphere"), distanceError},
	{"nad27_moved", "degree", "latitude or longitude on WGS 84 of a place told on NAD27, by the mean shift of the United States; such files are refused",
		keys("lat", "degree", "lon", "degree", "which", "lat|lon"), nad27},
	{"tile_column", "1", "column of the web map tile of a place", tileInputs, func(in Inputs) (float64, error) { t, err := tileOf(in); return float64(t.X), err }},
	{"tile_row", "1", "row of the web map tile of a place, from the north", tileInputs, func(in Inputs) (float64, error) { t, err := tileOf(in); return float64(t.Y), err }},
	{"tile_pixel", "m/px", "width on the ground of a pixel of a web map tile", keys("lat", "degree", "z", "1", "pixels", "1"),
		func(in Inputs) (float64, error) {
			if z, n := in.n("z"), in.n("pixels"); !(z >= 0 && z <= tile.MaxLevel && n >= 1) {
				return 0, fmt.Errorf("check: no level %g of %g pixels", z, n)
			}
			return tile.Pixel(in.n("lat"), int(in.n("z")), int(in.n("pixels"))).Metres(), nil
		}},
	{"tile_id", "1", "number of a tile in an archive", keys("z", "1", "x", "1", "y", "1"), func(in Inputs) (float64, error) {
		z, x, y := in.n("z"), in.n("x"), in.n("y")
		if side := math.Exp2(z); !(z >= 0 && z <= tile.MaxLevel && x >= 0 && y >= 0 && x < side && y < side) {
			return 0, fmt.Errorf("check: no tile %g, %g at level %g", x, y, z)
		}
		return float64(tile.Tile{Z: int(z), X: int(x), Y: int(y)}.ID()), nil
	}},
}

var tileInputs = keys("lat", "degree", "lon", "degree", "z", "1")

func tileOf(in Inputs) (tile.Tile, error) {
	z := in.n("z")
	if !(z >= 0 && z <= tile.MaxLevel) || !position(in).Valid() {
		return tile.Tile{}, fmt.Errorf("check: no tile of this place at level %g", z)
	}
	return tile.At(position(in), int(z)), nil
}

// boxArea follows the four sides in short steps on the plane through the middle.
func boxArea(in Inputs) float64 {
	s, n, w, e := in.n("south"), in.n("north"), in.n("west"), in.n("east")
	f := geo.NewFrame(geo.Position{Lat: (s + n) / 2, Lon: (w + e) / 2})
	const steps = 100
	var ring []geo.Local
	for k := range 4 {
		for i := range steps {
			t := float64(i) / steps
			p := [4]geo.Position{{Lat: s, Lon: w + t*(e-w)}, {Lat: s + t*(n-s), Lon: e}, {Lat: n, Lon: e - t*(e-w)}, {Lat: n - t*(n-s), Lon: w}}[k]
			ring = append(ring, f.Local(p))
		}
	}
	sum := 0.0
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		sum += p.E*q.N - q.E*p.N
	}
	return math.Abs(sum) / 2
}

// distanceError compares ways to reckon with the line on the ellipsoid.
func distanceError(in Inputs) (float64, error) {
	a := geo.Position{Lat: in.n("lat"), Lon: -93.7}
	worst := 0.0
	for _, bearing := range []float64{0, 45, 90, 135} {
		b := a.Ellipsoid(quantity.NewBearing(bearing), length(in, "distance_m"))
		got := 0.0
		switch in.s("way") {
		case "mid_latitude":
			d, _ := geo.Between(a, b)
			got = d.Metres()
		case "plane_of_start":
			north, _ := geo.Between(a, geo.Position{Lat: a.Lat + 1e-4, Lon: a.Lon})
			east, _ := geo.Between(a, geo.Position{Lat: a.Lat, Lon: a.Lon + 1e-4})
			got = math.Hypot((b.Lat-a.Lat)*1e4*north.Metres(), (b.Lon-a.Lon)*1e4*east.Metres())
		case "sphere": // of the mean radius, haversine
			const R, rad = 6371008.8, math.Pi / 180
			h := math.Pow(math.Sin((b.Lat-a.Lat)*rad/2), 2) + math.Cos(a.Lat*rad)*math.Cos(b.Lat*rad)*math.Pow(math.Sin((b.Lon-a.Lon)*rad/2), 2)
			got = 2 * R * math.Asin(math.Sqrt(h))
		}
		worst = math.Max(worst, math.Abs(got-in.n("distance_m")))
	}
	return worst, nil
}

// nad27 moves a place from the ellipsoid of 1866 to WGS 84 by shifting its centre [NIMA8350].
func nad27(in Inputs) (float64, error) {
	const a1, f1, a2, f2 = 6378206.4, 1 / 294.9786982, 6378137.0, 1 / 298.257223563
	φ, λ := in.n("lat")*math.Pi/180, in.n("lon")*math.Pi/180
	e2 := f1 * (2 - f1)
	N := a1 / math.Sqrt(1-e2*math.Sin(φ)*math.Sin(φ))
	x, y, z := N*math.Cos(φ)*math.Cos(λ)-8, N*math.Cos(φ)*math.Sin(λ)+160, N*(1-e2)*math.Sin(φ)+176
	if in.s("which") == "lon" {
		return math.Atan2(y, x) * 180 / math.Pi, nil
	}
	e2 = f2 * (2 - f2)
	p := math.Hypot(x, y)
	φ = math.Atan2(z, p*(1-e2))
	for range 10 {
		N = a2 / math.Sqrt(1-e2*math.Sin(φ)*math.Sin(φ))
		φ = math.Atan2(z+e2*N*math.Sin(φ), p)
	}
	return φ * 180 / math.Pi, nil
}
