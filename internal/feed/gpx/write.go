package gpx

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
)

// order is the fixed order of a point's children [GPX2004, type wptType].
var order = []string{"ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type", "fix", "sat", "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions"}

// known holds the names in order.
var known = func() map[string]bool {
	m := map[string]bool{}
	for _, n := range order {
		m[n] = true
	}
	return m
}()

// Write writes a document as GPX 1.1, children in the order that the schema fixes, times in UTC.
func Write(w io.Writer, d Document) error {
	o := &writer{w: bufio.NewWriter(w)}
	o.line(0, `<?xml version="1.0" encoding="UTF-8"?>`)
	o.line(0, `<gpx version="1.1" creator="icehand" xmlns="`+space11+`" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="`+space11+" "+space11+`/gpx.xsd">`)
	if d.Name != "" || d.Description != "" || !d.Time.IsZero() {
		o.line(1, "<metadata>"+tag("name", d.Name)+tag("desc", d.Description)+instant(d.Time)+"</metadata>")
	}
	for _, p := range d.Waypoints {
		o.point(1, "wpt", p)
	}
	for _, l := range d.Routes {
		o.line(1, "<rte>"+tag("name", l.Name)+tag("desc", l.Description)+l.Extensions.element())
		for _, s := range l.Segments {
			for _, p := range s {
				o.point(2, "rtept", p)
			}
		}
		o.line(1, "</rte>")
	}
	for _, l := range d.Tracks {
		o.line(1, "<trk>"+tag("name", l.Name)+tag("desc", l.Description)+l.Extensions.element())
		for _, s := range l.Segments {
			o.line(2, "<trkseg>")
			for _, p := range s {
				o.point(3, "trkpt", p)
			}
			o.line(2, "</trkseg>")
		}
		o.line(1, "</trk>")
	}
	o.line(0, "</gpx>")
	if err := o.w.Flush(); err != nil {
		return fmt.Errorf("gpx: writing: %w", err)
	}
	return nil
}

// writer keeps the first error inside its buffer, which [bufio.Writer.Flush] gives.
type writer struct{ w *bufio.Writer }

func (o *writer) line(indent int, s string) {
	_, _ = o.w.WriteString(strings.Repeat("  ", indent) + s + "\n")
}

func (o *writer) point(indent int, name string, p Point) {
	var b strings.Builder
	fmt.Fprintf(&b, `<%s lat="%s" lon="%s">`, name, degrees(p.Pos.Lat), degrees(p.Pos.Lon))
	for _, child := range order {
		switch child {
		case "ele":
			if p.Elevation != nil {
				b.WriteString(tag("ele", strconv.FormatFloat(p.Elevation.Metres(), 'f', -1, 64)))
			}
		case "time":
			b.WriteString(instant(p.Time))
		case "name":
			b.WriteString(tag("name", p.Name))
		case "cmt":
			b.WriteString(tag("cmt", p.Comment))
		case "desc":
			b.WriteString(tag("desc", p.Description))
		case "sym":
			b.WriteString(tag("sym", p.Symbol))
		case "type":
			b.WriteString(tag("type", p.Type))
		case "extensions":
			b.WriteString(p.Extensions.element())
		default:
			for _, e := range p.Rest {
				if e.Name == child {
					b.Write(e.XML)
				}
			}
		}
	}
	fmt.Fprintf(&b, "</%s>", name)
	o.line(indent, b.String())
}

// element writes an extensions element, nothing when there is none.
func (x Raw) element() string {
	if len(x.XML) == 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString("<extensions")
	for _, a := range x.Spaces {
		name := "xmlns"
		if a.Name.Space != "" {
			name = "xmlns:" + a.Name.Local
		}
		b.WriteString(" " + name + `="` + escaped(a.Value) + `"`)
	}
	b.WriteString(">" + string(x.XML) + "</extensions>")
	return b.String()
}

// degrees writes a coordinate to 1e-7 degree, a centimetre.
func degrees(x float64) string { return strconv.FormatFloat(x, 'f', 7, 64) }

func tag(name, text string) string {
	if text == "" {
		return ""
	}
	return "<" + name + ">" + escaped(text) + "</" + name + ">"
}

func instant(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return tag("time", t.UTC().Format("2006-01-02T15:04:05.999Z"))
}

func escaped(text string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(text)) // a Builder does not fail
	return b.String()
}
