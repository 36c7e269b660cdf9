// Package chart answers what a chart file says about a lake: its outline and its soundings.
//
// Start with [ReadOutline] and [ReadSoundings]; both are pure and give a preview of what an import would take.
// Outlines come from GeoJSON, KML and shapefiles; soundings from those as points, and from CSV, GPX, ESRI ASCII grids and
// NMEA 0183. It assumes WGS 84 where the format demands it [RFC7946, section 4], and elsewhere whatever the file or the
// user states. It refuses a file that leaves its unit or its coordinate system open rather than guess: a depth of 20 may
// be 6 m. It leaves out contour lines: each carries one value, so a bottom drawn from them alone is made of terraces.
package chart

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// Polygon is one piece of water and the islands in it. Rings do not repeat their first point; the outer ring runs
// counter-clockwise, islands clockwise.
type Polygon struct {
	Outer   []geo.Position
	Islands [][]geo.Position
}

// Outline is the shore of a lake.
type Outline struct {
	Name     string // as the file calls it; may be empty
	Polygons []Polygon
}

// Bounds on an outline.
const (
	maxVertices = 500_000
	maxPolygons = 200
	maxExtent   = 200 * quantity.Kilometre // beyond it this is no single lake, and the lake's plane no longer holds
	minExtent   = 10 * quantity.Metre
)

// ReadOutline reads a lake's outline from the polygons of GeoJSON, KML or a zipped shapefile. Rows of the preview are polygons; one bad polygon refuses the file,
// since an outline with a piece missing would put people on land or under water.
func ReadOutline(name string, data []byte, opt file.Options) (Outline, file.Preview, error) {
	p := file.Preview{Kind: file.Outline, Name: name}
	r := outlineReader{preview: &p}
	if err := r.read(data, opt); err != nil {
		return Outline{}, p, err
	}
	if p.Err() == nil && len(r.out.Polygons) == 0 {
		mend := "Export the lake as a polygon."
		if r.lines > 0 {
			mend = "It holds lines: close them into a polygon and export that."
		}
		p.Reject("", "", "it holds no polygon", mend)
	}
	p.Rows, p.Taken = len(r.out.Polygons), len(r.out.Polygons)
	if err := p.Err(); err != nil {
		return Outline{}, p, err
	}
	check(r.out.Polygons, &p)
	if err := p.Err(); err != nil {
		return Outline{}, p, err
	}
	if r.skipped > 0 {
		p.Remark(0, "", "", fmt.Sprintf("%d points, lines or empty features beside the polygons were left out", r.skipped), "")
	}
	return r.out, p, nil
}

// read fills in the polygons by the format of the file. What makes the file no outline goes to the preview.
func (r *outlineReader) read(data []byte, opt file.Options) error {
	format, err := file.FormatOf(data, opt)
	if err != nil {
		return err
	}
	switch format {
	case file.FormatKML:
		err = r.kml(data, opt)
	case file.FormatShape:
		err = r.shapes(data, opt)
	case file.FormatJSON, file.FormatTable: // a table is told that it is no GeoJSON
		var b []byte
		if b, err = file.JSON(data, opt); err != nil {
			return err
		}
		err = r.object(b, 0)
	default:
		err = mendError{fmt.Sprintf("it is %s, which holds no outline", format), "Export the lake as a polygon in GeoJSON, KML or a shapefile."}
	}
	var m mendError
	if errors.As(err, &m) {
		r.preview.Reject("", "", m.reason, m.mend)
		return nil
	}
	return err
}

// mendError is an error that knows what the user can do about it.
type mendError struct{ reason, mend string }

func (e mendError) Error() string { return e.reason }

func mendFor(err error) string {
	var m mendError
	if errors.As(err, &m) {
		return m.mend
	}
	return ""
}

type outlineReader struct {
	out      Outline
	preview  *file.Preview
	vertices int
	lines    int
	skipped  int
}

// object reads any GeoJSON object.
func (r *outlineReader) object(b []byte, level int) error {
	if file.IsNull(b) {
		r.skipped++
		return nil
	}
	if err := checkCRS(file.Member(b, "crs")); err != nil {
		return err
	}
	kind, _ := file.JSONString(file.Member(b, "type"))
	each := func(_ int, v []byte) error { return r.object(v, level+1) }
	switch kind {
	case "FeatureCollection":
		r.name(b)
		return notGeoJSON(file.Elements(file.Member(b, "features"), each))
	case "Feature":
		r.name(file.Member(b, "properties"))
		return r.object(file.Member(b, "geometry"), level+1)
	case "GeometryCollection":
		return notGeoJSON(file.Elements(file.Member(b, "geometries"), each))
	case "Polygon":
		return r.polygon(file.Member(b, "coordinates"))
	case "MultiPolygon":
		return notGeoJSON(file.Elements(file.Member(b, "coordinates"), func(_ int, v []byte) error { return r.polygon(v) }))
	case "LineString", "MultiLineString":
		r.lines++
		r.skipped++
		return nil
	case "Point", "MultiPoint":
		r.skipped++
		return nil
	}
	return mendError{"it is JSON, but not GeoJSON", "Export the lake as GeoJSON."}
}

func notGeoJSON(err error) error {
	if errors.Is(err, file.ErrNotArray) || errors.Is(err, file.ErrNotObject) {
		return mendError{"its lists are not those of GeoJSON", "Export the lake as GeoJSON."}
	}
	return err
}

func (r *outlineReader) name(props []byte) {
	for _, key := range []string{"name", "Name", "NAME", "lake", "Lake", "LAKE"} {
		if s, ok := file.JSONString(file.Member(props, key)); ok && r.out.Name == "" {
			r.out.Name = file.Short(strings.TrimSpace(s))
		}
	}
}

// wgs84Names are the ways in which older files name the one system of GeoJSON [RFC7946, section 4; GJ2008, section 3].
var wgs84Names = []string{"urn:ogc:def:crs:ogc:1.3:crs84", "urn:ogc:def:crs:ogc::crs84", "ogc:crs84", "epsg:4326", "urn:ogc:def:crs:epsg::4326", "crs84"}

// checkCRS refuses a coordinate system other than WGS 84 degrees.
func checkCRS(b []byte) error {
	if file.IsNull(b) {
		return nil
	}
	name, ok := file.JSONString(file.Member(file.Member(b, "properties"), "name"))
	if ok {
		for _, w := range wgs84Names {
			if strings.EqualFold(name, w) {
				return nil
			}
		}
	}
	return mendError{fmt.Sprintf("it states the coordinate system %q, and only WGS 84 is read from GeoJSON", file.Short(name)),
		"Export it again in WGS 84 longitude and latitude (EPSG:4326)."}
}

// polygon reads the rings of one polygon.
func (r *outlineReader) polygon(b []byte) error {
	n := len(r.out.Polygons) + 1
	var rings [][]geo.Position
	err := file.Elements(b, func(i int, v []byte) error {
		var ring []geo.Position
		err := file.Elements(v, func(k int, v []byte) error {
			if r.vertices++; r.vertices > maxVertices {
				return tooManyPoints
			}
			p, err := position(v)
			if err != nil {
				return mendError{fmt.Sprintf("point %d of %s: %v", k+1, ringName(i, n), err), "GeoJSON writes longitude first, then latitude, in degrees."}
			}
			ring = append(ring, p)
			return nil
		})
		rings = append(rings, ring)
		return err
	})
	if err != nil {
		return notGeoJSON(err)
	}
	return r.add(rings)
}

var tooManyPoints = mendError{fmt.Sprintf("its outline has more than %d points", maxVertices), "Simplify it."}

func ringName(i, polygon int) string { return fmt.Sprintf("ring %d of polygon %d", i+1, polygon) }

// add takes one polygon whose rings are closed by a repeated first point, the outer one first.
func (r *outlineReader) add(rings [][]geo.Position) error {
	n := len(r.out.Polygons) + 1
	if n > maxPolygons {
		return mendError{fmt.Sprintf("it has more than %d polygons", maxPolygons), "Export the one lake alone."}
	}
	if len(rings) == 0 {
		return mendError{fmt.Sprintf("polygon %d is empty", n), ""}
	}
	for i, ring := range rings {
		ring, err := open(ring, ringName(i, n))
		if err != nil {
			return err
		}
		wind(ring, i == 0)
		rings[i] = ring
	}
	r.out.Polygons = append(r.out.Polygons, Polygon{Outer: rings[0], Islands: rings[1:]})
	return nil
}

// open drops the repeated last point of a closed ring, and points that repeat their neighbour.
func open(ring []geo.Position, what string) ([]geo.Position, error) {
	if len(ring) > 1 && ring[0] != ring[len(ring)-1] {
		return nil, mendError{what + " is not closed: its last point must repeat its first", "Close it where it was drawn; closing it blindly could cut the lake in two."}
	}
	ring = slices.Compact(ring)
	if len(ring) > 1 {
		ring = ring[:len(ring)-1]
	}
	if len(ring) < 3 {
		return nil, mendError{what + " has fewer than three different points", ""}
	}
	return ring, nil
}

// position reads [lon, lat] or [lon, lat, height].
func position(b []byte) (geo.Position, error) {
	var v [2]float64
	n, good := 0, true
	err := file.Elements(b, func(i int, x []byte) error {
		if i < 2 {
			f, ok := file.JSONNumber(x)
			v[i], good = f, good && ok
		}
		n = i + 1
		return nil
	})
	p := geo.Position{Lat: v[1], Lon: v[0]}
	switch {
	case err != nil || n < 2 || !good:
		return p, errors.New("it is not a pair of numbers")
	case !p.Valid():
		return p, fmt.Errorf("%g, %g is not on the globe in degrees", v[0], v[1])
	}
	return p, nil
}

// wind turns a ring counter-clockwise or clockwise.
func wind(ring []geo.Position, counterClockwise bool) {
	sum := 0.0
	for i, j := 0, len(ring)-1; i < len(ring); j, i = i, i+1 {
		a, b := ring[j], ring[i]
		sum += (a.Lon - ring[0].Lon) * (b.Lat - ring[0].Lat)
		sum -= (b.Lon - ring[0].Lon) * (a.Lat - ring[0].Lat)
	}
	if (sum > 0) != counterClockwise {
		for i, j := 1, len(ring)-1; i < j; i, j = i+1, j-1 { // the first point stays first
			ring[i], ring[j] = ring[j], ring[i]
		}
	}
}

// bounds gives the south-west and north-east corners.
func bounds(polygons []Polygon) (lo, hi geo.Position) {
	lo, hi = geo.Position{Lat: 91, Lon: 181}, geo.Position{Lat: -91, Lon: -181}
	for _, g := range polygons {
		for _, p := range g.Outer {
			lo = geo.Position{Lat: math.Min(lo.Lat, p.Lat), Lon: math.Min(lo.Lon, p.Lon)}
			hi = geo.Position{Lat: math.Max(hi.Lat, p.Lat), Lon: math.Max(hi.Lon, p.Lon)}
		}
	}
	return lo, hi
}
