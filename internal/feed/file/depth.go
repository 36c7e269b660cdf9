package file

import (
	"regexp"
	"strconv"
	"strings"
)

// DepthColumn finds the column of depths and the sign that makes them positive down. It is -1, and the file rejected in
// p, when none says that it holds depths.
func (t *Table) DepthColumn(p *Preview) (column int, sign float64) {
	if i := t.Column(Depth); i >= 0 {
		return i, 1
	}
	if i := t.Column(DepthUp); i >= 0 {
		return i, -1
	}
	if i := t.Column(Elevation); i >= 0 {
		p.Reject(t.Header[i], "", "column "+quote(t.Header[i])+" holds heights of the bottom above the sea, not depths",
			"Subtract them from the water level at which the chart was made and export the depths.")
		return -1, 0
	}
	if i := t.Column(askZ); i >= 0 {
		h := t.Header[i]
		p.Reject(h, "", "column "+quote(h)+" may hold depths or heights", "Say --map "+h+"=depth, or --map "+h+"=depth-up when the numbers are negative below the surface.")
		return -1, 0
	}
	p.Reject("", "", "it has no column for the depth", "Name it: --map HEADER=depth.")
	return -1, 0
}

var unitAbove = regexp.MustCompile(`(?i)\b(?:depths?|soundings?|units?)\b[^.\n]{0,40}?\b(?:in|are|is|:|=)\s*(?:whole )?(feet|foot|ft|metres|meters|metre|meter|m|fathoms|cm)\b`)

// UnitAbove finds a unit of depth stated in the lines above the header, such as "Depths in feet". Tenths are not read.
func (t *Table) UnitAbove() string {
	for _, l := range t.Preamble {
		if len(l) > 1000 || strings.Contains(strings.ToLower(l), "tenths") {
			continue
		}
		if m := unitAbove.FindStringSubmatch(l); m != nil {
			return strings.ToLower(m[1])
		}
	}
	return ""
}

// Property is one property of a feature whose meaning is known.
type Property struct {
	ColumnMeaning
	Value string
}

// Properties reads the properties of many features of GeoJSON, GPX, KML or a shapefile, resolving each name once.
type Properties struct {
	kind  Kind
	opt   Options
	known map[string]ColumnMeaning
	order []string
	found map[Meaning]Property
}

// NewProperties makes a reader for one file.
func NewProperties(kind Kind, opt Options) *Properties {
	return &Properties{kind: kind, opt: opt, known: map[string]ColumnMeaning{}, found: map[Meaning]Property{}}
}

// Read gives the properties of one GeoJSON feature that have a meaning. The map is reused by the next call.
func (r *Properties) Read(b []byte) map[Meaning]Property {
	r.Start()
	_ = Members(b, func(name string, value []byte) error { // null properties: none
		if len(value) > 200 {
			r.Put(name, "")
			return nil
		}
		text, ok := JSONString(value)
		if !ok {
			var v float64
			if v, ok = JSONNumber(value); ok {
				text = strconv.FormatFloat(v, 'f', -1, 64) // without an exponent
			}
		}
		r.Put(name, text)
		return nil
	})
	return r.found
}

// Start begins the next feature of a file that is not GeoJSON; [Properties.Put] then adds to it.
func (r *Properties) Start() { clear(r.found) }

// Put adds one property of the feature. The first of each meaning counts; one without a text counts for nothing.
func (r *Properties) Put(name, text string) {
	c, ok := r.known[name]
	if !ok {
		c = resolve(r.kind, name, r.opt.Map)
		if len(r.known) < MaxColumns {
			name = strings.Clone(name)
			r.known[name] = c
			r.order = append(r.order, name)
		}
	}
	m := Meaning(c.Meaning)
	if _, taken := r.found[m]; m == "" || m == Ignore || taken {
		return
	}
	if text = strings.TrimSpace(text); text != "" {
		r.found[m] = Property{c, text}
	}
}

// Found gives what the feature has so far. The map is reused by the next feature.
func (r *Properties) Found() map[Meaning]Property { return r.found }

// Columns gives the meanings found so far, in the order of first appearance.
func (r *Properties) Columns() []ColumnMeaning {
	list := make([]ColumnMeaning, 0, len(r.order))
	for _, name := range r.order {
		list = append(list, r.known[name])
	}
	return list
}

// CheckMap refuses a map that names a property no feature has, or a meaning that the kind has not.
func (r *Properties) CheckMap() error { return checkMap(r.kind, r.order, r.opt.Map) }

// Unclear gives the hint for a feature of whose properties none is a depth but one may be.
func (r *Properties) Unclear() string {
	for m, f := range r.found {
		if m == askZ || m == Elevation {
			return "Its " + quote(f.Header) + " may be a depth or a height: say --map " + f.Header + "=depth, or take heights from the water level first."
		}
	}
	return "Name the property: --map PROPERTY=depth."
}
