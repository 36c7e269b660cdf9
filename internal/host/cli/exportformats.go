package cli

import (
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
	"strings"

	"icehand/internal/base/geo"
	"icehand/internal/feed/gpx"
	"icehand/internal/feed/kml"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// holeSpace is the namespace of what GPX has no element for. It is ours and part of the file format: never change it.
const holeSpace = "urn:icehand:hole:1"

// value is one thing told of a hole: its name in a file, which carries the unit, and how it is said in a description.
type value struct{ name, text, said string }

// holeValues lists what is known of a hole, no names and no remarks.
func holeValues(h *lake.Hole, f *holeFacts) []value {
	if f == nil {
		f = &holeFacts{}
	}
	var out []value
	add := func(name, text, said string) { out = append(out, value{name, text, said}) }
	if h.Depth > 0 {
		add("depth_m", fmt.Sprintf("%.2f", h.Depth.Metres()), fmt.Sprintf("depth %.2f m", h.Depth.Metres()))
	}
	if f.ice > 0 {
		add("ice_m", fmt.Sprintf("%.2f", f.ice.Metres()), fmt.Sprintf("ice %.2f m when read", f.ice.Metres()))
	}
	add("looks", strconv.Itoa(f.looks), fmt.Sprintf("looks %d", f.looks))
	add("looks_with_marks", strconv.Itoa(f.withMarks), fmt.Sprintf("with marks %d", f.withMarks))
	add("kept", strconv.Itoa(f.kept), fmt.Sprintf("kept %d", f.kept))
	add("put_back", strconv.Itoa(f.putBack), fmt.Sprintf("put back %d", f.putBack))
	return out
}

func description(values []value) string {
	said := make([]string, len(values))
	for i, v := range values {
		said[i] = v.said
	}
	return strings.Join(said, "; ")
}

// eachHole calls f for the placed holes of a day, or of all days.
func eachHole(v desk.View, day journal.Day, f func(h *lake.Hole, name string, values []value)) {
	facts := gather(v)
	for _, h := range v.Lake.Holes {
		if h.Placed && (day == "" || h.Day == day) {
			f(h, fmt.Sprintf("hole %d of %s", h.Number, h.Day), holeValues(h, facts[h.ID]))
		}
	}
}

// eachHazard calls f for the hazards reported until a day, or for all.
func eachHazard(v desk.View, day journal.Day, f func(h *lake.Hazard, name, said string, at []geo.Position)) {
	for _, h := range v.Lake.Hazards {
		if day != "" && journal.DayOf(h.When, v.Lake.Zone) > day {
			continue
		}
		at := make([]geo.Position, len(h.Points))
		for i, p := range h.Points {
			at[i] = v.Lake.Frame.Position(p)
		}
		if h.Shape == "area" {
			at = append(at, at[0])
		}
		said := fmt.Sprintf("%s, reported %s", h.Report, h.When.In(v.Lake.Zone).Format("2006-01-02 15:04"))
		if !h.InForce() {
			said += ", superseded by a newer report"
		}
		f(h, "hazard: "+h.What, said, at)
	}
}

const readThen = "Ice was read at its hole and hour only. Local authority decides."

// writeGPX writes holes as waypoints, their values in the description and in extensions, and hazards as waypoints or tracks.
func writeGPX(w io.Writer, v desk.View, day journal.Day) error {
	d := gpx.Document{Name: v.Lake.Name, Description: readThen}
	eachHole(v, day, func(h *lake.Hole, name string, values []value) {
		var x strings.Builder
		for _, c := range values {
			fmt.Fprintf(&x, "<h:%s>%s</h:%s>", c.name, c.text, c.name)
		}
		d.Waypoints = append(d.Waypoints, gpx.Point{Pos: v.Lake.Frame.Position(h.At), Time: h.Drilled, Name: name, Description: description(values), Type: "hole",
			Extensions: gpx.Raw{XML: []byte(x.String()), Spaces: []xml.Attr{{Name: xml.Name{Space: "xmlns", Local: "h"}, Value: holeSpace}}}})
	})
	eachHazard(v, day, func(h *lake.Hazard, name, said string, at []geo.Position) {
		points := make([]gpx.Point, len(at))
		for i, p := range at {
			points[i] = gpx.Point{Pos: p}
		}
		if h.Shape != "point" {
			d.Tracks = append(d.Tracks, gpx.Line{Name: name, Description: said, Segments: [][]gpx.Point{points}})
			return
		}
		points[0].Name, points[0].Description, points[0].Type, points[0].Time = name, said, "hazard", h.When
		d.Waypoints = append(d.Waypoints, points[0])
	})
	return gpx.Write(w, d)
}

// writeKML writes holes as points with their values, and hazards in their own shapes.
func writeKML(w io.Writer, v desk.View, day journal.Day) error {
	d := kml.Document{Name: v.Lake.Name + ". " + readThen}
	eachHole(v, day, func(h *lake.Hole, name string, values []value) {
		p := kml.Placemark{Name: name, Description: description(values), When: h.Drilled, Points: []geo.Position{v.Lake.Frame.Position(h.At)}}
		for _, c := range values {
			p.Data = append(p.Data, kml.Field{Name: c.name, Text: c.text})
		}
		d.Placemarks = append(d.Placemarks, p)
	})
	eachHazard(v, day, func(h *lake.Hazard, name, said string, at []geo.Position) {
		p := kml.Placemark{Name: name, Description: said, When: h.When}
		switch h.Shape {
		case "point":
			p.Points = at
		case "line":
			p.Lines = [][]geo.Position{at}
		default:
			p.Polygons = []kml.Polygon{{at}}
		}
		d.Placemarks = append(d.Placemarks, p)
	})
	return kml.Write(w, d)
}
