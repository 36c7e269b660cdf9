// Package grid answers which value each cell of an ESRI ASCII grid holds.
//
// Start with [Read]. The first row of numbers is the northern one [ESRIGrid]; the corner that a header states may be that of
// the lower left cell or its centre, and both are turned into the centre.
// It assumes nothing of what the values mean or in which coordinate system the cells lie: package chart asks. A value
// equal to the stated no-data value, -9999 when none is stated, is not a number.
// It leaves out binary grids; GDAL turns them into this format with gdal_translate -of AAIGrid.
package grid

import (
	"math"
	"strconv"
	"strings"

	"icehand/internal/base/fault"
	"icehand/internal/feed/archive"
	"icehand/internal/feed/file"
)

// Grid is a matrix of cells, the northern row first.
type Grid struct {
	Columns, Rows int
	West, South   float64   // centre of the lower left cell, in the units of the file
	Dx, Dy        float64   // size of a cell
	Values        []float64 // NaN = no data
	Lines         []int     // line of the file on which each row begins
	Projection    string    // text of the .prj file beside it; "" = none
}

// At gives the value and the centre of the cell in a column, from the west, and a row, from the north.
func (g Grid) At(column, row int) (value, x, y float64) {
	return g.Values[row*g.Columns+column], g.West + float64(column)*g.Dx, g.South + float64(g.Rows-1-row)*g.Dy
}

// Read reads a grid, plain or in a zip file with its .prj.
func Read(data []byte) (Grid, error) {
	var g Grid
	if strings.HasPrefix(string(data[:min(len(data), len(archive.Magic))]), archive.Magic) {
		a, err := archive.Open(data, file.MaxBytes)
		if err != nil {
			return g, err
		}
		found := a.Find(".asc")
		if len(found) != 1 {
			return g, fault.New(fault.BadInput, "Zip one grid alone.", "the zip file holds %d grids", len(found))
		}
		if prj := a.Beside(found[0], ".prj"); prj != "" {
			text, err := a.Read(prj)
			if err != nil {
				return g, err
			}
			g.Projection = string(text)
		}
		if data, err = a.Read(found[0]); err != nil {
			return g, err
		}
	}
	w := words{text: string(data), line: 1}
	noData, err := g.header(&w)
	if err != nil {
		return g, err
	}
	return g, g.cells(&w, noData)
}

// header reads the pairs of name and number at the top.
func (g *Grid) header(w *words) (noData float64, err error) {
	head := map[string]float64{}
	for {
		at := *w
		name, line, ok := w.next()
		if !ok || name[0] >= '0' && name[0] <= '9' || name[0] == '-' || name[0] == '+' || name[0] == '.' {
			*w = at
			break
		}
		text, _, ok := w.next()
		v, err := strconv.ParseFloat(text, 64)
		if !ok || err != nil || len(head) > 20 {
			return 0, fault.New(fault.BadInput, "", "line %d of the grid gives no number for %q", line, file.Short(name))
		}
		head[strings.ToLower(name)] = v
	}
	bad := func(what string) (float64, error) {
		return 0, fault.New(fault.BadInput, "The first lines must be ncols, nrows, xllcorner (or xllcenter), yllcorner (or yllcenter) and cellsize.", "the grid's header states no usable %s", what)
	}
	columns, rows := head["ncols"], head["nrows"]
	if !(columns >= 1 && rows >= 1) || columns != math.Trunc(columns) || rows != math.Trunc(rows) {
		return bad("size")
	}
	if !(columns*rows <= file.MaxRows) {
		return 0, fault.New(fault.BadInput, "Cut out the one lake, or make the cells larger.", "the grid has %.0f cells, more than the %d that are read", columns*rows, file.MaxRows)
	}
	g.Columns, g.Rows = int(columns), int(rows)
	g.Dx, g.Dy = head["cellsize"], head["cellsize"]
	if g.Dx == 0 {
		g.Dx, g.Dy = head["dx"], head["dy"]
	}
	if !(g.Dx > 0 && g.Dy > 0) || math.IsInf(g.Dx, 0) || math.IsInf(g.Dy, 0) {
		return bad("cellsize")
	}
	x, okX := head["xllcorner"]
	g.West = x + g.Dx/2
	if !okX {
		g.West, okX = head["xllcenter"]
	}
	y, okY := head["yllcorner"]
	g.South = y + g.Dy/2
	if !okY {
		g.South, okY = head["yllcenter"]
	}
	if !okX || !okY || math.IsNaN(g.West+g.South) || math.IsInf(g.West+g.South, 0) {
		return bad("corner")
	}
	noData, ok := head["nodata_value"]
	if !ok {
		noData = -9999
	}
	return noData, nil
}

// cells reads the values; their number must be that of the header.
func (g *Grid) cells(w *words, noData float64) error {
	n := g.Columns * g.Rows
	for {
		text, line, ok := w.next()
		if !ok {
			break
		}
		if len(g.Values) == n {
			return fault.New(fault.BadInput, "Export it again.", "line %d of the grid goes on after its %d cells", line, n)
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || math.IsInf(v, 0) {
			return fault.New(fault.BadInput, "", "line %d of the grid holds %q, which is no number", line, file.Short(text))
		}
		if v == noData {
			v = math.NaN()
		}
		if len(g.Values)%g.Columns == 0 {
			g.Lines = append(g.Lines, line)
		}
		g.Values = append(g.Values, v)
	}
	if len(g.Values) < n {
		return fault.New(fault.BadInput, "Fetch or copy the file again.", "the grid is cut off: it has %d of %d cells", len(g.Values), n)
	}
	return nil
}

// words parts a text at blanks and counts its lines.
type words struct {
	text string
	pos  int
	line int
}

func (w *words) next() (word string, line int, ok bool) {
	for w.pos < len(w.text) && w.text[w.pos] <= ' ' {
		if w.text[w.pos] == '\n' {
			w.line++
		}
		w.pos++
	}
	from := w.pos
	for w.pos < len(w.text) && w.text[w.pos] > ' ' {
		w.pos++
	}
	return w.text[from:w.pos], w.line, w.pos > from
}
