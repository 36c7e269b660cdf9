// Package gpx answers what a GPX file says of points, routes and tracks, and writes such files [GPX2004].
//
// Start with [Read]; [Write] is its inverse. What other programs add to a point, in extensions of their own namespace or
// in elements that mean nothing here, is kept as it came and written back.
// It assumes GPX 1.1, and reads the same elements of 1.0. Positions are WGS 84 degrees and times UTC, as the format demands.
// It leaves out any meaning of extensions: package chart looks for depths in them. The metadata of authors and
// copyrights is not kept.
package gpx

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// The namespaces of the two versions [GPX2004].
const (
	space11 = "http://www.topografix.com/GPX/1/1"
	space10 = "http://www.topografix.com/GPX/1/0"
)

// Bounds on the parts of a file, beside those of package file.
const (
	maxText  = 64 << 10 // bytes in a name or a description
	maxLines = 10_000   // routes, tracks and segments
)

// Document is what a file holds.
type Document struct {
	Name, Description string
	Time              time.Time // zero = not said
	Waypoints         []Point
	Routes, Tracks    []Line
}

// Line is a route, with one segment, or a track, with one a stretch between losses of the signal.
type Line struct {
	Name, Description string
	Segments          [][]Point
	Extensions        Raw
}

// Point is one place.
type Point struct {
	Pos                                      geo.Position
	Elevation                                *quantity.Length // above the sea; nil = not said
	Time                                     time.Time        // zero = not said
	Name, Comment, Description, Symbol, Type string
	Rest                                     []Element // other elements of the format, as they came
	Extensions                               Raw
	Row                                      int // number of the point in the file, from 1
}

// Element is one element of the format that is kept as it came.
type Element struct {
	Name string
	XML  []byte
}

// Raw is the inside of an extensions element with the namespaces it needs.
type Raw struct {
	XML    []byte
	Spaces []xml.Attr // xmlns attributes for the element around it
}

// Fields calls f for each innermost element of an extension: its name without a prefix, and its text.
func (x Raw) Fields(f func(name, text string)) {
	if len(x.XML) == 0 {
		return
	}
	m, err := file.OpenMarkup(append(append([]byte("<x>"), x.XML...), "</x>"...), file.Options{})
	if err != nil {
		return // it was read once before; nothing to say of it then
	}
	if _, err := m.Root(); err == nil {
		_ = m.Leaves(f) // what is cut off gives no more fields
	}
}

// Read reads a file. Rows of the preview are points in the order of the file; a point whose position cannot be read is refused.
func Read(name string, data []byte, opt file.Options) (Document, file.Preview, error) {
	p := file.Preview{Kind: opt.As, Name: name}
	m, err := file.OpenMarkup(data, opt)
	if err != nil {
		return Document{}, p, err
	}
	r := reader{m: m, p: &p}
	root, err := m.Root()
	if err == nil && (root.Name.Local != "gpx" || !ours(root.Name.Space)) {
		err = fault.New(fault.BadInput, "", "the file is XML with the root %q, not GPX", file.Short(root.Name.Local))
	}
	if err == nil {
		r.open(root)
		err = m.Children(r.part)
	}
	if errors.Is(err, io.ErrUnexpectedEOF) {
		err = fault.Wrap(err, fault.BadInput, "Fetch or copy the file again.", "the file is cut off")
	}
	p.Taken = p.Rows - p.Refused
	return r.doc, p, err
}

func ours(space string) bool { return space == space11 || space == space10 || space == "" }

type reader struct {
	m     *file.Markup
	p     *file.Preview
	doc   Document
	lines int
	scope []xml.Attr // xmlns attributes of the elements that are open, innermost last
}

// open enters an element's namespaces; the answer closes them.
func (r *reader) open(e xml.StartElement) func() {
	n := len(r.scope)
	for _, a := range e.Attr {
		if a.Name.Space == "xmlns" || a.Name.Space == "" && a.Name.Local == "xmlns" {
			r.scope = append(r.scope, a)
		}
	}
	return func() { r.scope = r.scope[:n] }
}

// part reads one child of the root.
func (r *reader) part(e xml.StartElement) error {
	if !ours(e.Name.Space) {
		return nil
	}
	defer r.open(e)()
	switch e.Name.Local {
	case "metadata":
		return r.m.Children(func(c xml.StartElement) error { return r.about(c) })
	case "name", "desc", "time": // where 1.0 has them
		return r.about(e)
	case "wpt":
		pt, ok, err := r.point(e)
		if ok {
			r.doc.Waypoints = append(r.doc.Waypoints, pt)
		}
		return err
	case "rte":
		l, err := r.line("rtept")
		r.doc.Routes = append(r.doc.Routes, l)
		return err
	case "trk":
		l, err := r.line("trkpt")
		r.doc.Tracks = append(r.doc.Tracks, l)
		return err
	}
	return nil
}

func (r *reader) about(e xml.StartElement) (err error) {
	switch e.Name.Local {
	case "name":
		r.doc.Name, err = r.m.Text(maxText)
	case "desc":
		r.doc.Description, err = r.m.Text(maxText)
	case "time":
		r.doc.Time, err = r.time(0)
	}
	return err
}

// line reads a route, whose points stand in it, or a track, whose points stand in segments.
func (r *reader) line(point string) (l Line, err error) {
	if point == "rtept" {
		l.Segments = make([][]Point, 1)
	}
	add := func(e xml.StartElement) error {
		pt, ok, err := r.point(e)
		if last := len(l.Segments) - 1; ok {
			l.Segments[last] = append(l.Segments[last], pt)
		}
		return err
	}
	err = r.m.Children(func(e xml.StartElement) (err error) {
		if !ours(e.Name.Space) {
			return nil
		}
		defer r.open(e)()
		switch e.Name.Local {
		case "name":
			l.Name, err = r.m.Text(maxText)
		case "desc":
			l.Description, err = r.m.Text(maxText)
		case "extensions":
			l.Extensions, err = r.extensions()
		case "trkseg":
			if r.lines++; r.lines > maxLines {
				return fault.New(fault.BadInput, "Export fewer tracks.", "the file has more than %d stretches of track", maxLines)
			}
			l.Segments = append(l.Segments, nil)
			err = r.m.Children(func(e xml.StartElement) error {
				if e.Name.Local != point || !ours(e.Name.Space) {
					return nil
				}
				defer r.open(e)()
				return add(e)
			})
		case point:
			if len(l.Segments) == 0 { // a track's point outside any segment: the schema forbids it, files have it
				l.Segments = append(l.Segments, nil)
			}
			err = add(e)
		}
		return err
	})
	if r.lines++; r.lines > maxLines && err == nil {
		err = fault.New(fault.BadInput, "Export fewer tracks.", "the file has more than %d routes and tracks", maxLines)
	}
	return l, err
}

// point reads one point; ok is false when it was refused.
func (r *reader) point(e xml.StartElement) (pt Point, ok bool, err error) {
	if r.p.Rows++; r.p.Rows > file.MaxRows {
		return pt, false, fault.New(fault.BadInput, "Thin it, or cut it into parts.", "the file has more than %d points", file.MaxRows)
	}
	pt.Row = r.p.Rows
	pt.Pos, ok = position(e)
	if !ok {
		r.p.Refuse(pt.Row, "", attribute(e, "lat")+" "+attribute(e, "lon"), "its lat and lon are not a place on the globe in degrees", "")
		return pt, false, nil
	}
	err = r.m.Children(func(c xml.StartElement) error { return r.detail(&pt, c) })
	return pt, true, err
}

// detail reads one child of a point.
func (r *reader) detail(pt *Point, e xml.StartElement) (err error) {
	if !ours(e.Name.Space) {
		return nil
	}
	var text *string
	switch e.Name.Local {
	case "name":
		text = &pt.Name
	case "cmt":
		text = &pt.Comment
	case "desc":
		text = &pt.Description
	case "sym":
		text = &pt.Symbol
	case "type":
		text = &pt.Type
	case "time":
		pt.Time, err = r.time(pt.Row)
		return err
	case "ele":
		s, err := r.m.Text(maxText)
		if v, bad := strconv.ParseFloat(s, 64); bad == nil && !math.IsNaN(v) && !math.IsInf(v, 0) {
			l := quantity.Length(v)
			pt.Elevation = &l
		}
		return err
	case "extensions":
		defer r.open(e)()
		pt.Extensions, err = r.extensions()
		return err
	default:
		if !known[e.Name.Local] {
			return nil
		}
		inside, err := r.inside()
		if err != nil {
			return err
		}
		pt.Rest = append(pt.Rest, Element{e.Name.Local, element(e, inside)})
		return nil
	}
	*text, err = r.m.Text(maxText)
	return err
}

// element writes an element of the format again: its attributes without namespaces, its inside as it came.
func element(e xml.StartElement, inside []byte) []byte {
	var b bytes.Buffer
	b.WriteString("<" + e.Name.Local)
	for _, a := range e.Attr {
		if a.Name.Space == "" && a.Name.Local != "xmlns" {
			b.WriteString(" " + a.Name.Local + `="` + escaped(a.Value) + `"`)
		}
	}
	fmt.Fprintf(&b, ">%s</%s>", inside, e.Name.Local)
	return b.Bytes()
}

// inside gives the bytes between the tags of the element just opened.
func (r *reader) inside() ([]byte, error) {
	from := r.m.Offset()
	if err := r.m.Children(func(xml.StartElement) error { return nil }); err != nil {
		return nil, err
	}
	raw := r.m.Raw(from, r.m.Offset())
	end := bytes.LastIndex(raw, []byte("</"))
	if end < 0 { // <extensions/>
		return nil, nil
	}
	return bytes.TrimSpace(bytes.Clone(raw[:end])), nil
}

// extensions keeps the inside of an extensions element and the namespaces that are declared around it.
func (r *reader) extensions() (x Raw, err error) {
	if x.XML, err = r.inside(); err != nil || x.XML == nil {
		return x, err
	}
	seen := map[string]bool{}
	for i := len(r.scope) - 1; i >= 0; i-- {
		a := r.scope[i]
		prefix := a.Name.Local
		if a.Name.Space == "" {
			prefix = ""
		}
		used := prefix != "" && bytes.Contains(x.XML, []byte(prefix+":")) || prefix == "" && a.Value != space11
		if used && !seen[prefix] {
			x.Spaces = append(x.Spaces, a)
		}
		seen[prefix] = true
	}
	return x, nil
}

// time reads an instant; one that cannot be read is remarked upon and left out.
func (r *reader) time(row int) (time.Time, error) {
	s, err := r.m.Text(maxText)
	if err != nil || s == "" {
		return time.Time{}, err
	}
	t, bad := time.Parse(time.RFC3339, s)
	if bad != nil || t.Year() < 1950 || t.Year() > 2100 {
		r.p.Remark(row, "time", s, "is not a time in UTC; left out", "")
		return time.Time{}, nil
	}
	return t.UTC(), nil
}

func attribute(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name && a.Name.Space == "" {
			return strings.TrimSpace(a.Value)
		}
	}
	return ""
}

func position(e xml.StartElement) (geo.Position, bool) {
	lat, err := strconv.ParseFloat(attribute(e, "lat"), 64)
	lon, err2 := strconv.ParseFloat(attribute(e, "lon"), 64)
	p := geo.Position{Lat: lat, Lon: lon}
	return p, err == nil && err2 == nil && p.Valid()
}
