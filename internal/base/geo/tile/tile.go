// Package tile answers which square of the world's tile pyramid a place lies in, how large its pixels are, and at which
// number an archive of tiles keeps it.
//
// Start with [At]. It assumes the pyramid of web maps: Mercator on a sphere of the equator's radius, one tile at level 0,
// row 0 in the north. It leaves out tiles themselves: the map is drawn from vectors, and these numbers are for an imagery
// layer and for archives of tiles. Model note: docs/models/geo.md.
package tile

import (
	"math"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// MaxLevel is the finest level that is worked out; its tiles are some millimetres wide at 256 pixels.
const MaxLevel = 26

// Tile is a square of the pyramid.
type Tile struct{ Z, X, Y int }

// maxLat is where the square of the projection ends.
const maxLat = 85.0511287798066

// At gives the tile of a place at a level; places beyond the pyramid's edge lie in its outermost row. It panics on a
// level outside 0 to [MaxLevel] and on what is no position.
func At(p geo.Position, z int) Tile {
	if z < 0 || z > MaxLevel || !p.Valid() {
		panic("tile: no such level or place")
	}
	n := float64(int(1) << z)
	φ := min(max(p.Lat, -maxLat), maxLat) * math.Pi / 180
	// (GEO-13) column and row
	x := n * (p.Lon + 180) / 360
	y := n * (1 - math.Asinh(math.Tan(φ))/math.Pi) / 2
	cell := func(v float64) int { return int(min(max(math.Floor(v), 0), n-1)) }
	return Tile{Z: z, X: cell(x), Y: cell(y)}
}

// Pixel gives the width of a pixel on the ground, for tiles of so many pixels.
func Pixel(lat float64, z, pixels int) quantity.Length {
	const equator = 2 * math.Pi * 6378137
	// (GEO-14) ground resolution
	return quantity.Length(equator * math.Cos(lat*math.Pi/180) / float64(pixels) / float64(int(1)<<z))
}

// ID gives the tile's number in an archive in the layout of PMTiles, version 3: tiles of the levels before, then along
// Hilbert's curve [PMTiles].
func (t Tile) ID() int {
	id := ((1 << (2 * t.Z)) - 1) / 3
	x, y := t.X, t.Y
	for s := (1 << t.Z) / 2; s > 0; s /= 2 {
		rx, ry := x/s&1, y/s&1
		id += s * s * (3*rx ^ ry)
		if ry == 0 {
			if rx == 1 {
				x, y = s-1-x&(s-1), s-1-y&(s-1)
			}
			x, y = y, x
		}
		x, y = x&(s-1), y&(s-1)
	}
	return id
}
