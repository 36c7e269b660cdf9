package kml

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/geo"
)

// Write writes a document as KML 2.2, the children of a placemark in the order that the schema fixes. A placemark with
// several geometries gets them as one.
func Write(w io.Writer, d Document) error {
	o := bufio.NewWriter(w)
	put := func(s string) { _, _ = o.WriteString(s + "\n") } // the first error is kept for Flush
	put(`<?xml version="1.0" encoding="UTF-8"?>`)
	put(`<kml xmlns="http://www.opengis.net/kml/2.2"><Document>` + tag("name", d.Name))
	for _, p := range d.Placemarks {
		var b strings.Builder
		b.WriteString("<Placemark>" + tag("name", p.Name) + tag("description", p.Description))
		if !p.When.IsZero() {
			b.WriteString("<TimeStamp>" + tag("when", p.When.UTC().Format(time.RFC3339)) + "</TimeStamp>")
		}
		if len(p.Data) > 0 {
			b.WriteString("<ExtendedData>")
			for _, f := range p.Data {
				b.WriteString(`<Data name="` + escaped(f.Name) + `">` + "<value>" + escaped(f.Text) + "</value></Data>")
			}
			b.WriteString("</ExtendedData>")
		}
		b.WriteString(geometry(p) + "</Placemark>")
		put(b.String())
	}
	put("</Document></kml>")
	if err := o.Flush(); err != nil {
		return fmt.Errorf("kml: writing: %w", err)
	}
	return nil
}

func geometry(p Placemark) string {
	var b strings.Builder
	for _, q := range p.Points {
		b.WriteString("<Point>" + coordinates([]geo.Position{q}) + "</Point>")
	}
	for _, l := range p.Lines {
		b.WriteString("<LineString>" + coordinates(l) + "</LineString>")
	}
	for _, g := range p.Polygons {
		b.WriteString("<Polygon>")
		for i, ring := range g {
			side := "inner"
			if i == 0 {
				side = "outer"
			}
			b.WriteString("<" + side + "BoundaryIs><LinearRing>" + coordinates(ring) + "</LinearRing></" + side + "BoundaryIs>")
		}
		b.WriteString("</Polygon>")
	}
	if len(p.Points)+len(p.Lines)+len(p.Polygons) > 1 {
		return "<MultiGeometry>" + b.String() + "</MultiGeometry>"
	}
	return b.String()
}

// coordinates writes positions to 1e-7 degree, a centimetre.
func coordinates(list []geo.Position) string {
	var b strings.Builder
	for i, p := range list {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(strconv.FormatFloat(p.Lon, 'f', 7, 64) + "," + strconv.FormatFloat(p.Lat, 'f', 7, 64))
	}
	return tag("coordinates", b.String())
}

func tag(name, text string) string {
	if text == "" {
		return ""
	}
	return "<" + name + ">" + escaped(text) + "</" + name + ">"
}

func escaped(text string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(text)) // a Builder does not fail
	return b.String()
}
