package chart

import (
	"fmt"
	"math"
	"strconv"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/feed/file"
	"icehand/internal/feed/grid"
	"icehand/internal/feed/projection"
	"icehand/internal/feed/shapefile"
)

// system settles in which coordinate system a file's x and y are: as its .prj says, or else as the user does. The options
// come back without what the user said of x and y. ok is false when the file was rejected for leaving it open.
func system(prj string, opt file.Options, p *file.Preview) (s projection.System, rest file.Options, ok bool) {
	s, rest, stated, err := projection.Stated(opt)
	if prj != "" {
		if stated {
			p.Remark(0, "", "", "its .prj file states the coordinate system, so what you say of it is not used", "")
		}
		s, err = projection.Parse(prj)
	}
	switch {
	case err != nil:
		f := fault.Public(err)
		p.Reject("", "", f.Message, f.Hint)
	case prj == "" && !stated:
		p.Reject("", "", "it does not state in which coordinate system it is", projection.Hint)
	}
	if s.NAD83 {
		p.Remark(0, "", "", "its datum NAD83 is taken as WGS 84; they differ by one or two metres", "")
	}
	return s, rest, p.Err() == nil
}

// grid reads the cells of an ESRI ASCII grid that hold a depth.
func (r *soundingReader) grid(data []byte) error {
	g, err := grid.Read(data)
	if err != nil {
		return err
	}
	p := r.preview
	s, opt, ok := system(g.Projection, r.opt, p)
	if !ok {
		return nil
	}
	r.places = s.Name
	props := file.NewProperties(file.Soundings, opt)
	name := p.Name
	c := props.KindOfName(name)
	p.Columns = props.Columns()
	if err := props.CheckMap(); err != nil {
		return err
	}
	sign := 1.0
	switch file.Meaning(c.Meaning) {
	case file.Depth:
	case file.DepthUp:
		sign = -1
	default:
		p.Reject("", "", "neither the file nor its name says that its numbers are depths", fmt.Sprintf("Say --map \"%s=depth:m\" (or depth:ft), or depth-up:m when the numbers are negative below the surface; take heights above the sea from the water level first.", c.Header))
		return nil
	}
	unit := c.Unit
	if unit == "" {
		unit = opt.Unit
	}
	for row := range g.Rows {
		for column := range g.Columns {
			p.Rows++
			v, x, y := g.At(column, row)
			header := "column " + strconv.Itoa(column+1)
			if math.IsNaN(v) {
				p.Blank++
				continue
			}
			pos, err := s.Position(x, y)
			if err != nil {
				p.Refuse(g.Lines[row], header, fmt.Sprintf("%.9g, %.9g", x, y), err.Error(), "")
				continue
			}
			r.take(g.Lines[row], pos, header, strconv.FormatFloat(v, 'f', -1, 64), unit, sign)
		}
	}
	return nil
}

// shapes reads the points of a shapefile that carry a depth.
func (r *soundingReader) shapes(data []byte) error {
	f, err := shapefile.Read(data, r.opt)
	if err != nil {
		return err
	}
	p := r.preview
	s, opt, ok := system(f.Projection, r.opt, p)
	if !ok {
		return nil
	}
	r.places = s.Name
	props := file.NewProperties(file.Soundings, opt)
	for _, x := range f.Shapes {
		p.Rows++
		switch {
		case x.Bad != "":
			p.Refuse(x.Row, "", "", x.Bad, "")
			continue
		case x.Lines || len(x.Polygons) > 0:
			p.Refuse(x.Row, "", "", "not a point", "Soundings are points; contour lines and depth areas are not read.")
			continue
		case len(x.Points) != 1: // a null shape, or points that share one row of values
			p.Blank++
			continue
		}
		pos, err := s.Position(x.Points[0].E, x.Points[0].N)
		if err != nil {
			p.Refuse(x.Row, "", fmt.Sprintf("%.9g, %.9g", x.Points[0].E, x.Points[0].N), err.Error(), "")
			continue
		}
		props.Start()
		for i, v := range x.Values {
			props.Put(f.Fields[i], v)
		}
		r.property(x.Row, pos, props)
	}
	p.Columns = props.Columns()
	if r.depthless() {
		p.Reject("", "", "none of its fields is known as a depth", props.Unclear())
		return nil
	}
	return props.CheckMap()
}

// shapes reads the polygons of a shapefile as one outline.
func (r *outlineReader) shapes(data []byte, opt file.Options) error {
	f, err := shapefile.Read(data, opt)
	if err != nil {
		return err
	}
	s, _, ok := system(f.Projection, opt, r.preview)
	if !ok {
		return nil
	}
	for _, x := range f.Shapes {
		if x.Bad != "" {
			return mendError{fmt.Sprintf("record %d: %s", x.Row, x.Bad), "Export the lake again."}
		}
		if x.Lines {
			r.lines++
		}
		if len(x.Polygons) == 0 {
			r.skipped++
			continue
		}
		for i, v := range x.Values {
			if r.out.Name == "" && (f.Fields[i] == "name" || f.Fields[i] == "NAME" || f.Fields[i] == "Name" || f.Fields[i] == "LAKE" || f.Fields[i] == "lake") {
				r.out.Name = file.Short(v)
			}
		}
		for _, g := range x.Polygons {
			rings := make([][]geo.Position, len(g))
			for i, ring := range g {
				rings[i] = make([]geo.Position, len(ring))
				for k, q := range ring {
					if rings[i][k], err = s.Position(q.E, q.N); err != nil {
						return mendError{fmt.Sprintf("record %d: %.9g, %.9g is %v", x.Row, q.E, q.N, err), ""}
					}
				}
			}
			if err := r.count(rings); err != nil {
				return err
			}
			if err := r.add(rings); err != nil {
				return err
			}
		}
	}
	return nil
}
