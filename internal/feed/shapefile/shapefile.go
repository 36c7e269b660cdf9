// Package shapefile answers which points and polygons a zipped shapefile holds, with their values [ESRI1998].
//
// Start with [Read], which takes the .shp, .dbf and .prj of one name out of a zip file, as agencies publish them.
// It assumes nothing of what the values mean: package chart looks for depths. A ring that runs clockwise is the outer side of
// a polygon, the others are the islands of the outer ring around them, as the format has it.
// It leaves out lines, multipatches, and the index, which is not needed to read a file from front to back. Heights and
// measures beside x and y are passed over.
package shapefile

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/feed/archive"
	"icehand/internal/feed/file"
)

// File is what a shapefile holds.
type File struct {
	Fields     []string // names of the values
	Shapes     []Shape
	Projection string // text of the .prj file; "" = none
}

// Shape is one record. Its x and y stand in a [geo.Local] as east and north, in the units of the file's own system.
type Shape struct {
	Row      int // number of the record, from 1
	Points   []geo.Local
	Polygons [][][]geo.Local // rings closed by a repeated first point, the outer one first
	Lines    bool            // the record is a line
	Values   []string        // one a field; nil = the table has no such row
	Bad      string          // what is wrong with the record; "" = nothing
}

// maxPlaces bounds the positions of a file.
const maxPlaces = 1_000_000

// Read reads the one shapefile in a zip file.
func Read(data []byte, opt file.Options) (File, error) {
	limit := opt.MaxBytes
	if limit <= 0 {
		limit = file.MaxBytes
	}
	a, err := archive.Open(data, limit)
	if err != nil {
		return File{}, err
	}
	found := a.Find(".shp")
	if len(found) != 1 {
		return File{}, fault.New(fault.BadInput, "Zip the one with the depths, or with the shore, alone.", "the zip file holds %d shapefiles", len(found))
	}
	read := func(ext string) []byte {
		if name := a.Beside(found[0], ext); name != "" && err == nil {
			var b []byte
			b, err = a.Read(name)
			return b
		}
		return nil
	}
	shp, dbf, prj := read(".shp"), read(".dbf"), read(".prj")
	if err != nil {
		return File{}, err
	}
	f := File{Projection: string(prj)}
	if f.Shapes, err = shapes(shp); err != nil {
		return File{}, err
	}
	if dbf != nil {
		err = f.table(dbf)
	}
	return f, err
}

// header of the main file and of its records, in bytes [ESRI1998, tables 1 and 2].
const (
	mainHeader   = 100
	recordHeader = 8
	fileCode     = 9994
)

// shapes reads the main file.
func shapes(b []byte) ([]Shape, error) {
	if len(b) < mainHeader || binary.BigEndian.Uint32(b) != fileCode {
		return nil, fault.New(fault.BadInput, "", "the .shp file is not a shapefile")
	}
	if words := int64(binary.BigEndian.Uint32(b[24:])); 2*words > int64(len(b)) {
		return nil, fault.New(fault.BadInput, "Fetch or copy it again.", "the .shp file is cut off: it has %d of %d bytes", len(b), 2*words)
	}
	var out []Shape
	places := 0
	for i := mainHeader; i+recordHeader <= len(b); {
		if len(out) >= file.MaxRows {
			return nil, fault.New(fault.BadInput, "Thin it, or cut it into parts.", "the shapefile has more than %d records", file.MaxRows)
		}
		n := 2 * int64(binary.BigEndian.Uint32(b[i+4:]))
		from := i + recordHeader
		if n > int64(len(b)-from) {
			return nil, fault.New(fault.BadInput, "Fetch or copy it again.", "the .shp file is cut off in record %d", len(out)+1)
		}
		s := record(b[from : from+int(n)])
		s.Row = len(out) + 1
		for _, g := range s.Polygons {
			for _, ring := range g {
				places += len(ring)
			}
		}
		if places += len(s.Points); places > maxPlaces {
			return nil, fault.New(fault.BadInput, "Simplify it.", "the shapefile has more than %d positions", maxPlaces)
		}
		out = append(out, s)
		i = from + int(n)
	}
	return out, nil
}

// record reads the content of one record [ESRI1998, tables 3 to 15].
func record(b []byte) (s Shape) {
	s.Bad = "the record is too short for its shape"
	if len(b) < 4 {
		return s
	}
	kind := binary.LittleEndian.Uint32(b)
	switch kind {
	case 0: // null
		s.Bad = ""
	case 1, 11, 21:
		if len(b) >= 20 {
			s.Points, s.Bad = []geo.Local{at(b[4:])}, ""
		}
	case 8, 18, 28: // box, number, points
		if len(b) < 40 {
			return s
		}
		if n := int64(binary.LittleEndian.Uint32(b[36:])); n*16 <= int64(len(b)-40) {
			s.Points, s.Bad = list(b[40:], int(n)), ""
		}
	case 3, 13, 23:
		s.Lines, s.Bad = true, ""
	case 5, 15, 25:
		return polygon(b)
	default:
		s.Bad = fmt.Sprintf("its type of shape, %d, is not read", kind)
	}
	return s
}

// polygon reads box, number of parts, number of points, starts of the parts, points.
func polygon(b []byte) (s Shape) {
	s.Bad = "the record is too short for its shape"
	if len(b) < 44 {
		return s
	}
	parts, points := int64(binary.LittleEndian.Uint32(b[36:])), int64(binary.LittleEndian.Uint32(b[40:]))
	if points > int64(len(b))/16 || parts > points || 44+4*parts+16*points > int64(len(b)) {
		return s
	}
	all := list(b[44+4*parts:], int(points))
	var outer, inner [][]geo.Local
	for i := range int(parts) {
		from, to := int64(binary.LittleEndian.Uint32(b[44+4*i:])), points
		if i+1 < int(parts) {
			to = int64(binary.LittleEndian.Uint32(b[48+4*i:]))
		}
		if from >= to || to > points {
			s.Bad = "the parts of its polygon overlap"
			return s
		}
		ring := all[from:to:to]
		if clockwise(ring) {
			outer = append(outer, ring)
		} else {
			inner = append(inner, ring)
		}
	}
	s.Polygons, s.Bad = nest(outer, inner)
	return s
}

// maxNest bounds the search for the outer ring of each island.
const maxNest = 20_000_000

// nest puts each inner ring into the smallest outer ring around it.
func nest(outer, inner [][]geo.Local) (polygons [][][]geo.Local, bad string) {
	around := make([]geo.Polygon, len(outer))
	points := 0
	for i, ring := range outer {
		polygons = append(polygons, [][]geo.Local{ring})
		around[i] = geo.Polygon{Outer: ring[:len(ring)-1]}
		points += len(ring)
	}
	if points*len(inner) > maxNest {
		return nil, "its polygon has too many islands to be sorted"
	}
	for _, ring := range inner {
		best := -1
		for i := range outer {
			if around[i].Contains(ring[0]) && (best < 0 || math.Abs(area(outer[i])) < math.Abs(area(outer[best]))) {
				best = i
			}
		}
		if best < 0 {
			return nil, "a ring that runs counter-clockwise, an island, lies in no outer ring"
		}
		polygons[best] = append(polygons[best], ring)
	}
	return polygons, ""
}

func clockwise(ring []geo.Local) bool { return area(ring) < 0 }

// area gives twice the signed area of a closed ring, positive counter-clockwise.
func area(ring []geo.Local) (sum float64) {
	for i := 1; i < len(ring); i++ {
		a, b := ring[i-1].Sub(ring[0]), ring[i].Sub(ring[0])
		sum += a.E*b.N - b.E*a.N
	}
	return sum
}

func at(b []byte) geo.Local {
	return geo.Local{E: math.Float64frombits(binary.LittleEndian.Uint64(b)), N: math.Float64frombits(binary.LittleEndian.Uint64(b[8:]))}
}

func list(b []byte, n int) []geo.Local {
	out := make([]geo.Local, n)
	for i := range out {
		out[i] = at(b[16*i:])
	}
	return out
}

// table reads the values of a dBASE table: a header of 32 bytes, one of 32 a field, and rows of fixed length, each with a
// mark of deletion in front. A deleted row keeps its place beside its shape and is given no values.
func (f *File) table(b []byte) error {
	bad := fault.New(fault.BadInput, "Fetch or copy it again.", "the .dbf file is damaged or cut off")
	if len(b) < 32 {
		return bad
	}
	rows, head, length := int64(binary.LittleEndian.Uint32(b[4:])), int(binary.LittleEndian.Uint16(b[8:])), int(binary.LittleEndian.Uint16(b[10:]))
	if head > len(b) || length < 1 || rows*int64(length) > int64(len(b)-head) {
		return bad
	}
	type field struct{ from, to int }
	var fields []field
	at := 1
	for i := 32; i+32 <= head && b[i] != '\r'; i += 32 {
		name, _, _ := bytes.Cut(b[i:i+11], []byte{0})
		width := int(b[i+16])
		if at+width > length || len(fields) >= file.MaxColumns {
			return bad
		}
		f.Fields = append(f.Fields, text(name))
		fields = append(fields, field{at, at + width})
		at += width
	}
	for i := range f.Shapes {
		if int64(i) >= rows {
			break
		}
		row := b[head+i*length : head+(i+1)*length]
		if row[0] == '*' {
			continue
		}
		f.Shapes[i].Values = make([]string, len(fields))
		for k, c := range fields {
			f.Shapes[i].Values[k] = text(row[c.from:c.to])
		}
	}
	return nil
}

// text reads UTF-8, or else Latin-1, which is what a table without a statement most often holds. Nothing but asterisks is
// how a table writes a number that is not known or does not fit.
func text(b []byte) string {
	b = bytes.Trim(b, " \x00")
	if len(bytes.Trim(b, "*")) == 0 {
		return ""
	}
	if utf8.Valid(b) {
		return string(b)
	}
	var s strings.Builder
	for _, c := range b {
		s.WriteRune(rune(c))
	}
	return s.String()
}
