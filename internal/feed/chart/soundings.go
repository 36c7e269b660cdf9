package chart

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// Sounding is one measured depth.
type Sounding struct {
	Pos   geo.Position
	Depth quantity.Length
	Row   int // line of a text file, number of the feature or point otherwise
}

// Soundings are the depths of a chart.
type Soundings struct {
	Points     []Sounding
	UnitStated string // unit as the file or the user states it; "mixed" when cells carry their own
}

// maxDepth is the deepest sounding that is taken. A value beyond it is a no-data code, an elevation or a unit mistaken.
// Common practice, no source; the deepest lake that freezes is deeper, but not where people fish through ice.
const maxDepth = 700 * quantity.Metre

// ReadSoundings reads soundings from CSV, from points of GeoJSON, GPX, KML or a zipped shapefile, from an ESRI ASCII grid
// or from NMEA 0183.
func ReadSoundings(name string, data []byte, opt file.Options) (Soundings, file.Preview, error) {
	r := soundingReader{
		preview: &file.Preview{Kind: file.Soundings, Name: name},
		seen:    map[key]int{}, opt: opt, units: map[string]int{},
	}
	err := r.read(data)
	if err == nil {
		r.finish()
		err = r.preview.Err()
	}
	if err != nil {
		return Soundings{}, *r.preview, err
	}
	return r.out, *r.preview, nil
}

// read takes the rows by the format of the file.
func (r *soundingReader) read(data []byte) error {
	format, err := file.FormatOf(data, r.opt)
	if err != nil {
		return err
	}
	switch format {
	case file.FormatJSON:
		return r.geoJSON(data)
	case file.FormatGPX:
		return r.gpx(data)
	case file.FormatKML:
		return r.kml(data)
	case file.FormatGrid:
		return r.grid(data)
	case file.FormatShape:
		return r.shapes(data)
	case file.FormatNMEA:
		return r.nmea(data)
	}
	return r.csv(data)
}

// key makes two equal soundings equal: 1e-7 degree and millimetres.
type key struct{ lat, lon, depth int64 }

type soundingReader struct {
	out     Soundings
	preview *file.Preview
	opt     file.Options
	seen    map[key]int
	units   map[string]int // unit -> rows
	bare    int            // rows refused because no unit is stated
	above   int            // rows refused because their depth is negative
	without int            // rows refused because they carry no depth
	places  string         // how positions are stated
}

// csv reads the rows of a table.
func (r *soundingReader) csv(data []byte) error {
	t, err := file.OpenTable(data, file.Soundings, r.opt)
	if err != nil {
		return err
	}
	p := r.preview
	t.Settle(p)
	places := t.FindPlaces(p, r.opt)
	if places.Read == nil && p.Err() == nil {
		p.Reject("", "", "it has no columns for the position", "Name them: --map HEADER=lat --map HEADER=lon, or --map HEADER=easting --map HEADER=northing --utm 15N.")
	}
	column, sign := t.DepthColumn(p)
	if column < 0 {
		return p.Err()
	}
	unit := r.fallback(t, column)
	if err := p.Err(); err != nil {
		return err
	}
	r.places = places.Describe
	header := t.Header[column]
	return t.Each(func(line int, cells []string) error {
		p.Rows++
		if file.Blank(cells) {
			p.Blank++
			return nil
		}
		if extra, ok := t.Extra(cells); ok {
			p.Refuse(line, "", extra, "the row has more cells than the header", "Put a cell that holds a comma in quotes.")
			return nil
		}
		pos, col, cell, err := places.Read(cells)
		if err != nil {
			why := err.Error()
			if errors.Is(err, file.ErrNoPlace) {
				why = "the position is blank"
			}
			p.Refuse(line, col, cell, why, "")
			return nil
		}
		depth := ""
		if column < len(cells) {
			depth = cells[column]
		}
		r.take(line, pos, header, depth, unit, sign)
		return nil
	})
}

// fallback gives the unit of cells that carry none: by the header, the lines above it, or the user.
func (r *soundingReader) fallback(t *file.Table, column int) string {
	p := r.preview
	option := r.opt.Unit
	if option != "" {
		if _, ok := quantity.LengthUnit(option); !ok {
			p.Reject("", option, fmt.Sprintf("%q is not a unit of length", file.Short(option)), "Say --unit ft or --unit m.")
			return ""
		}
	}
	stated := t.Columns[column].Unit
	if stated == "" {
		if stated = t.UnitAbove(); stated != "" {
			t.Columns[column].Unit = stated
			t.Columns[column].Why += "; unit by a line above the header"
		}
	}
	if stated == "" {
		if option != "" {
			t.Columns[column].Unit = option
			t.Columns[column].Why += "; unit as stated with --unit"
		}
		return option
	}
	a, _ := quantity.LengthUnit(stated)
	if b, ok := quantity.LengthUnit(option); ok && a != b {
		p.Remark(0, t.Header[column], "", fmt.Sprintf("the file states %s, so --unit %s is not used", stated, option), "")
	}
	return stated
}

// geoJSON reads point features; rows are features.
func (r *soundingReader) geoJSON(data []byte) error {
	b, err := file.JSON(data, r.opt)
	if err != nil {
		return err
	}
	if err := checkCRS(file.Member(b, "crs")); err != nil {
		r.preview.Reject("", "", err.Error(), mendFor(err))
		return nil
	}
	r.places = "GeoJSON, WGS 84"
	props := file.NewProperties(file.Soundings, r.opt)
	feature := func(i int, v []byte) error {
		if i >= file.MaxRows {
			return mendError{fmt.Sprintf("it has more than %d features", file.MaxRows), "Thin it."}
		}
		r.feature(i+1, v, props)
		return nil
	}
	switch kind, _ := file.JSONString(file.Member(b, "type")); kind {
	case "FeatureCollection":
		err = file.Elements(file.Member(b, "features"), feature)
	case "Feature":
		err = feature(0, b)
	default:
		err = mendError{"it is not a GeoJSON collection of features", "A sounding is a point feature with its depth as a property."}
	}
	if err = notGeoJSON(err); err != nil {
		r.preview.Reject("", "", err.Error(), mendFor(err))
	}
	r.preview.Columns = props.Columns()
	return props.CheckMap()
}

// feature reads one point with its depth.
func (r *soundingReader) feature(row int, b []byte, props *file.Properties) {
	p := r.preview
	p.Rows++
	geometry := file.Member(b, "geometry")
	kind, _ := file.JSONString(file.Member(geometry, "type"))
	if file.IsNull(geometry) {
		p.Blank++
		return
	}
	if kind != "Point" {
		p.Refuse(row, "", kind, "not a point", "A sounding is a point feature with its depth as a property.")
		return
	}
	pos, err := position(file.Member(geometry, "coordinates"))
	if err != nil {
		p.Refuse(row, "", "", err.Error(), "GeoJSON writes longitude first, then latitude, in degrees.")
		return
	}
	props.Read(file.Member(b, "properties"))
	r.property(row, pos, props)
}

// property takes a sounding whose depth is one of the properties put together in props.
func (r *soundingReader) property(row int, pos geo.Position, props *file.Properties) {
	for _, m := range []struct {
		meaning file.Meaning
		sign    float64
	}{{file.Depth, 1}, {file.DepthUp, -1}} {
		if c, ok := props.Found()[m.meaning]; ok {
			unit := c.Unit
			if unit == "" {
				unit = r.opt.Unit
			}
			r.take(row, pos, c.Header, c.Value, unit, m.sign)
			return
		}
	}
	r.without++
	r.preview.Refuse(row, "", "", "no property gives its depth", props.Unclear())
}

// take checks one depth and keeps the sounding.
func (r *soundingReader) take(row int, pos geo.Position, header, cell, unit string, sign float64) {
	p := r.preview
	if cell == "" {
		p.Refuse(row, header, "", "the depth is blank", "")
		return
	}
	depth, typed, err := file.Length(cell, unit)
	if errors.Is(err, file.ErrNoUnit) {
		r.bare++
	}
	if err != nil {
		p.Refuse(row, header, cell, err.Error(), "")
		return
	}
	depth *= quantity.Length(sign)
	switch {
	case depth < 0:
		r.above++
		p.Refuse(row, header, cell, "the depth is negative", "")
		return
	case depth < quantity.Millimetre:
		p.Refuse(row, header, cell, "a depth of 0: shore, or no bottom found", "Leave shore points to the outline.")
		return
	case depth > maxDepth:
		p.Refuse(row, header, cell, fmt.Sprintf("deeper than %.0f m", maxDepth.Metres()), "")
		return
	}
	lat, lon := pos.E7()
	k := key{lat, lon, depth.Millimetres()}
	if first, ok := r.seen[k]; ok {
		p.Repeat(row, first)
		return
	}
	r.seen[k] = row
	r.units[strings.ToLower(typed)]++
	p.Taken++
	r.out.Points = append(r.out.Points, Sounding{pos, depth, row})
}

// finish judges the file as a whole: its unit, its sign, its extent.
func (r *soundingReader) finish() {
	p := r.preview
	defer p.Sort()
	if r.bare > 0 {
		p.Reject("", "", fmt.Sprintf("%d depths have no unit, neither in the cell nor in the header", r.bare), "Say --unit ft or --unit m.")
	}
	if r.above > 0 && r.above >= p.Taken {
		p.Reject("", "", fmt.Sprintf("%d depths are negative", r.above),
			"If the numbers count down from the water surface say --map HEADER=depth-up; if they are heights above the sea, take them from the water level first.")
	}
	if p.Err() != nil {
		return
	}
	r.dropStrays()
	if len(r.out.Points) == 0 {
		p.Reject("", "", fmt.Sprintf("none of its %d rows could be taken", p.Rows), "See the list of rows.")
		return
	}
	lo, hi := geo.Position{Lat: 91, Lon: 181}, geo.Position{Lat: -91, Lon: -181}
	least, most := quantity.Length(math.Inf(1)), quantity.Length(0)
	for _, s := range r.out.Points {
		lo = geo.Position{Lat: math.Min(lo.Lat, s.Pos.Lat), Lon: math.Min(lo.Lon, s.Pos.Lon)}
		hi = geo.Position{Lat: math.Max(hi.Lat, s.Pos.Lat), Lon: math.Max(hi.Lon, s.Pos.Lon)}
		least, most = min(least, s.Depth), max(most, s.Depth)
	}
	for u := range r.units {
		r.out.UnitStated = u
	}
	if len(r.units) > 1 {
		r.out.UnitStated = "mixed"
		p.Remark(0, "", "", fmt.Sprintf("depths come in %d ways of writing the unit; each was read by its own", len(r.units)), "")
	}
	p.Summary = append(p.Summary,
		fmt.Sprintf("Soundings: %d taken, %.1f to %.1f m deep (%.0f to %.0f ft), unit %s.", len(r.out.Points), least.Metres(), most.Metres(), least.Feet(), most.Feet(), r.out.UnitStated),
		fmt.Sprintf("Positions: %s, from %s to %s.", r.places, lo.DecimalText(), hi.DecimalText()))
}

// dropStrays refuses soundings far from all the others: a lost sign, a swapped pair, a zero.
func (r *soundingReader) dropStrays() {
	if len(r.out.Points) < 3 {
		return
	}
	all := make([]geo.Position, len(r.out.Points))
	for i, s := range r.out.Points {
		all[i] = s.Pos
	}
	middle := file.Middle(all)
	kept := r.out.Points[:0]
	for _, s := range r.out.Points {
		if file.Strays(s.Pos, middle) {
			r.preview.Taken--
			r.preview.Refuse(s.Row, "", s.Pos.DecimalText(), "its position is far from all the others in the file", "Look for a lost minus sign or swapped columns.")
			continue
		}
		kept = append(kept, s)
	}
	r.out.Points = kept
}
