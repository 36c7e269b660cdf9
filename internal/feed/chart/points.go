package chart

import (
	"fmt"
	"regexp"

	"icehand/internal/base/geo"
	"icehand/internal/feed/file"
	"icehand/internal/feed/gpx"
	"icehand/internal/feed/kml"
)

// spokenDepth finds a depth in the text of a point: "depth 6.20 m", "Depth: 21 ft". The unit may be missing.
var spokenDepth = regexp.MustCompile(`(?i)\bdepth\b[\s:=]*(-?[0-9]+(?:[.,][0-9]+)?)\s*(metres|meters|metre|meter|feet|foot|ft|m|fathoms|cm|')?(?:[^a-z0-9]|$)`)

// speak puts the depth that a text gives, if any, among a point's properties, behind those that are stated in fields.
func speak(props *file.Properties, texts ...string) {
	for _, s := range texts {
		if len(s) > 4096 {
			continue
		}
		if m := spokenDepth.FindStringSubmatch(s); m != nil {
			props.Put("depth", m[1]+" "+m[2])
			return
		}
	}
}

// gpx reads the points of a GPX file that carry a depth, in an extension or in their description.
func (r *soundingReader) gpx(data []byte) error {
	doc, p, err := gpx.Read(r.preview.Name, data, r.opt)
	p.Kind, p.Taken = file.Soundings, 0
	*r.preview = p
	if err != nil {
		return err
	}
	r.places = "GPX, WGS 84"
	props := file.NewProperties(file.Soundings, r.opt)
	take := func(points []gpx.Point) {
		for _, q := range points {
			props.Start()
			q.Extensions.Fields(props.Put)
			speak(props, q.Description, q.Comment)
			r.property(q.Row, q.Pos, props)
		}
	}
	take(doc.Waypoints)
	lines := append(doc.Routes, doc.Tracks...)
	for _, l := range lines {
		for _, s := range l.Segments {
			take(s)
		}
	}
	r.preview.Columns = props.Columns()
	if r.depthless() {
		r.preview.Reject("", "", fmt.Sprintf("it holds %d waypoints and %d routes and tracks, none with a depth", len(doc.Waypoints), len(lines)),
			"Only points that carry a depth are read, in an extension such as depth_m or in the description as \"depth 6.2 m\". Places without one are not read in yet: record holes on the ice, or import a hole log.")
		return nil
	}
	return props.CheckMap()
}

// depthless tells whether every row was refused for want of a depth; the file then says so once, and not row by row.
func (r *soundingReader) depthless() bool {
	if r.without == 0 || r.without < r.preview.Rows-r.preview.Blank {
		return false
	}
	r.preview.Problems, r.preview.Unlisted = nil, 0
	return true
}

// kml reads the points of a KML file that carry a depth, in their extended data or in their description.
func (r *soundingReader) kml(data []byte) error {
	doc, err := kml.Read(data, r.opt)
	if err != nil {
		return err
	}
	r.places = "KML, WGS 84"
	p := r.preview
	props := file.NewProperties(file.Soundings, r.opt)
	for _, m := range doc.Placemarks {
		p.Rows++
		switch {
		case m.Bad != "":
			p.Refuse(m.Row, "", "", m.Bad, "KML writes longitude first, then latitude, in degrees.")
		case len(m.Points) != 1:
			p.Refuse(m.Row, "", m.Name, "not a single point", "A sounding is a placemark with one point and its depth as a value.")
		default:
			props.Start()
			for _, f := range m.Data {
				props.Put(f.Name, f.Text)
			}
			for _, f := range m.Data { // what other programs make of a description
				speak(props, f.Text)
			}
			speak(props, m.Description)
			r.property(m.Row, m.Points[0], props)
		}
	}
	p.Columns = props.Columns()
	if r.depthless() {
		p.Reject("", "", fmt.Sprintf("it holds %d placemarks, none with a depth", p.Rows), "A sounding is a placemark with one point and its depth as a value such as depth_m, or in the description as \"depth 6.2 m\".")
		return nil
	}
	return props.CheckMap()
}

// kml reads the polygons of a KML file as one outline.
func (r *outlineReader) kml(data []byte, opt file.Options) error {
	doc, err := kml.Read(data, opt)
	if err != nil {
		return err
	}
	for _, m := range doc.Placemarks {
		if len(m.Polygons) == 0 {
			r.skipped++
			r.lines += len(m.Lines)
			continue
		}
		if m.Bad != "" {
			return mendError{fmt.Sprintf("placemark %d: %s", m.Row, m.Bad), "KML writes longitude first, then latitude, in degrees."}
		}
		if r.out.Name == "" {
			r.out.Name = file.Short(m.Name)
		}
		for _, g := range m.Polygons {
			if err := r.count(g); err != nil {
				return err
			}
			if err := r.add(g); err != nil {
				return err
			}
		}
	}
	if r.out.Name == "" {
		r.out.Name = file.Short(doc.Name)
	}
	return nil
}

// count adds the points of a polygon to those of the outline, and refuses too many.
func (r *outlineReader) count(rings [][]geo.Position) error {
	for _, ring := range rings {
		r.vertices += len(ring)
	}
	if r.vertices > maxVertices {
		return tooManyPoints
	}
	return nil
}
