// Package kml answers which points and polygons a KML or KMZ file holds, and writes such files [KML2008].
//
// Start with [Read]; [Write] is its inverse for what it keeps. Positions are WGS 84, longitude first, as the format demands.
// It assumes that a placemark with something wrong in its geometry should be shown, not dropped: [Placemark.Bad] says what
// is wrong, and the caller decides. It leaves out styles, pictures, views, and links to other files, which are never followed;
// lines are read only to be counted and written only as ways.
package kml

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/feed/archive"
	"icehand/internal/feed/file"
)

// Bounds on the parts of a file, beside those of package file.
const (
	maxText   = 64 << 10  // bytes in a name or a description
	maxPlaces = 1_000_000 // positions in all
)

// Document is what a file holds.
type Document struct {
	Name       string
	Placemarks []Placemark
}

// Placemark is one named thing.
type Placemark struct {
	Name, Description string
	When              time.Time // zero = not said; written, not read
	Data              []Field
	Points            []geo.Position
	Polygons          []Polygon
	Lines             [][]geo.Position
	Bad               string // what is wrong with the geometry; "" = nothing
	Row               int    // number of the placemark in the file, from 1
}

// Field is one value of a placemark's extended data.
type Field struct{ Name, Text string }

// Polygon is rings as they stand in the file, closed by a repeated first point: the outer one, then the inner ones.
type Polygon [][]geo.Position

// Read reads KML, or the KML inside a KMZ file.
func Read(data []byte, opt file.Options) (Document, error) {
	if strings.HasPrefix(string(data[:min(len(data), len(archive.Magic))]), archive.Magic) {
		var err error
		if data, err = unzip(data); err != nil {
			return Document{}, err
		}
	}
	m, err := file.OpenMarkup(data, opt)
	if err != nil {
		return Document{}, err
	}
	r := reader{m: m}
	root, err := m.Root()
	if err == nil && root.Name.Local != "kml" {
		err = fault.New(fault.BadInput, "", "the file is XML with the root %q, not KML", file.Short(root.Name.Local))
	}
	if err == nil {
		err = m.Children(r.feature)
	}
	if errors.Is(err, io.ErrUnexpectedEOF) {
		err = fault.Wrap(err, fault.BadInput, "Fetch or copy the file again.", "the file is cut off")
	}
	return r.doc, err
}

// unzip gives the KML of a KMZ file: the only one, or the one called doc.kml at its top.
func unzip(data []byte) ([]byte, error) {
	a, err := archive.Open(data, file.MaxBytes)
	if err != nil {
		return nil, err
	}
	found := a.Find(".kml")
	for _, name := range found {
		if strings.EqualFold(name, "doc.kml") {
			found = []string{name}
			break
		}
	}
	switch len(found) {
	case 1:
		return a.Read(found[0])
	case 0:
		return nil, fault.New(fault.BadInput, "", "the zip file holds no KML")
	}
	return nil, fault.New(fault.BadInput, "Import one of them.", "the zip file holds %d KML files, %s and %s among them", len(found), path.Base(found[0]), path.Base(found[1]))
}

type reader struct {
	m      *file.Markup
	doc    Document
	places int
}

// feature reads a document, a folder or a placemark, and what lies in them.
func (r *reader) feature(e xml.StartElement) (err error) {
	switch e.Name.Local {
	case "Document", "Folder":
		return r.m.Children(func(c xml.StartElement) (err error) {
			if c.Name.Local == "name" && r.doc.Name == "" {
				r.doc.Name, err = r.m.Text(maxText)
				return err
			}
			return r.feature(c)
		})
	case "Placemark":
		if len(r.doc.Placemarks) >= file.MaxRows {
			return fault.New(fault.BadInput, "Thin it, or cut it into parts.", "the file has more than %d placemarks", file.MaxRows)
		}
		p := Placemark{Row: len(r.doc.Placemarks) + 1}
		if err := r.m.Children(func(c xml.StartElement) error { return r.part(&p, c) }); err != nil {
			return err
		}
		r.doc.Placemarks = append(r.doc.Placemarks, p)
	}
	return nil
}

// part reads one child of a placemark.
func (r *reader) part(p *Placemark, e xml.StartElement) (err error) {
	switch e.Name.Local {
	case "name":
		p.Name, err = r.m.Text(maxText)
	case "description":
		p.Description, err = r.m.Text(maxText)
	case "ExtendedData":
		return r.m.Children(func(c xml.StartElement) error { return r.data(p, c) })
	case "Point", "LineString", "LinearRing", "Polygon", "MultiGeometry":
		return r.geometry(p, e)
	}
	return err
}

// data reads <Data name=""><value>, or <SchemaData><SimpleData name="">.
func (r *reader) data(p *Placemark, e xml.StartElement) error {
	if len(p.Data) >= file.MaxColumns {
		return fault.New(fault.BadInput, "", "placemark %d has more than %d values", p.Row, file.MaxColumns)
	}
	f := Field{}
	for _, a := range e.Attr {
		if a.Name.Local == "name" {
			f.Name = a.Value
		}
	}
	var err error
	switch e.Name.Local {
	case "SchemaData":
		return r.m.Children(func(c xml.StartElement) error { return r.data(p, c) })
	case "SimpleData":
		f.Text, err = r.m.Text(maxText)
	case "Data":
		err = r.m.Children(func(c xml.StartElement) (err error) {
			if c.Name.Local == "value" {
				f.Text, err = r.m.Text(maxText)
			}
			return err
		})
	default:
		return nil
	}
	p.Data = append(p.Data, f)
	return err
}

// geometry reads one geometry, or several in one.
func (r *reader) geometry(p *Placemark, e xml.StartElement) error {
	switch e.Name.Local {
	case "MultiGeometry":
		return r.m.Children(func(c xml.StartElement) error { return r.geometry(p, c) })
	case "Point":
		at, err := r.coordinates(p)
		if len(at) != 1 && p.Bad == "" {
			p.Bad = fmt.Sprintf("a point has %d positions", len(at))
		}
		p.Points = append(p.Points, at...)
		return err
	case "LineString", "LinearRing":
		at, err := r.coordinates(p)
		p.Lines = append(p.Lines, at)
		return err
	case "Polygon":
		var g Polygon
		err := r.m.Children(func(c xml.StartElement) error {
			if c.Name.Local != "outerBoundaryIs" && c.Name.Local != "innerBoundaryIs" {
				return nil
			}
			return r.m.Children(func(ring xml.StartElement) error {
				if ring.Name.Local != "LinearRing" {
					return nil
				}
				at, err := r.coordinates(p)
				if c.Name.Local == "outerBoundaryIs" {
					g = append(Polygon{at}, g...)
				} else {
					g = append(g, at)
				}
				return err
			})
		})
		p.Polygons = append(p.Polygons, g)
		return err
	}
	return nil
}

// coordinates reads the coordinates of the geometry just opened: lon,lat or lon,lat,height, parted by blanks.
func (r *reader) coordinates(p *Placemark) (at []geo.Position, err error) {
	err = r.m.Children(func(c xml.StartElement) error {
		if c.Name.Local != "coordinates" {
			return nil
		}
		text, err := r.m.Text(file.MaxBytes)
		for tuple := range strings.FieldsSeq(text) {
			if r.places++; r.places > maxPlaces {
				return fault.New(fault.BadInput, "Simplify it.", "the file has more than %d positions", maxPlaces)
			}
			q, ok := position(tuple)
			if !ok {
				if p.Bad == "" {
					p.Bad = fmt.Sprintf("%q is not longitude,latitude on the globe", file.Short(tuple))
				}
				continue
			}
			at = append(at, q)
		}
		return err
	})
	return at, err
}

func position(tuple string) (geo.Position, bool) {
	lon, rest, ok := strings.Cut(tuple, ",")
	lat, _, _ := strings.Cut(rest, ",")
	x, err := strconv.ParseFloat(lon, 64)
	y, err2 := strconv.ParseFloat(lat, 64)
	p := geo.Position{Lat: y, Lon: x}
	return p, ok && err == nil && err2 == nil && p.Valid()
}
