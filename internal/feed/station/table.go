package station

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/feed/file"
)

// column is where a day's reading of an element stands in a layout of one day a line.
type column struct {
	element, name, flag string
	per                 float64 // so many to a degree Celsius or a millimetre
}

// layout is a way to write one day a line.
type layout struct {
	station, date string
	columns       []column
	whole         bool // numbers are whole: a decimal point tells of units that somebody has changed
}

// The layouts. In the access CSV the flags of measurement, quality and source stand in one cell, parted by commas [GHCND];
// GeoMet has a flag of its own beside each value, M where it is missing [GeoMet].
var (
	access = layout{"STATION", "DATE", []column{{"TMAX", "TMAX", "TMAX_ATTRIBUTES", 10}, {"TMIN", "TMIN", "TMIN_ATTRIBUTES", 10}, {"SNWD", "SNWD", "SNWD_ATTRIBUTES", 1}}, true}
	geoMet = layout{"CLIMATE_IDENTIFIER", "LOCAL_DATE", []column{{"TMAX", "MAX_TEMPERATURE", "MAX_TEMPERATURE_FLAG", 1}, {"TMIN", "MIN_TEMPERATURE", "MIN_TEMPERATURE_FLAG", 1},
		{"SNWD", "SNOW_ON_GROUND", "SNOW_ON_GROUND_FLAG", 0.1}}, false}
)

// maxCells is more than any such file has in a line.
const maxCells = 1000

// cells parts a line of CSV. No cell of these files goes over a line's end, so that a quote left open spoils one line only.
func cells(line string, out []string) ([]string, bool) {
	out = out[:0]
	for rest := line; ; {
		cell, more := "", false
		if strings.HasPrefix(rest, `"`) {
			end := 1
			for end < len(rest) && (rest[end] != '"' || strings.HasPrefix(rest[end:], `""`)) {
				if end++; rest[end-1] == '"' { // two stand for one, and no cell that is used has any
					end++
				}
			}
			if end >= len(rest) || end+1 < len(rest) && rest[end+1] != ',' {
				return out, false
			}
			cell, more = rest[1:end], end+1 < len(rest)
			rest = rest[min(end+2, len(rest)):]
		} else {
			cell, rest, more = strings.Cut(rest, ",")
		}
		if out = append(out, cell); len(out) > maxCells {
			return out, false
		}
		if !more {
			return out, true
		}
	}
}

// table reads a file of one day a line under a header.
func (r *reader) table(data []byte) error {
	var record []string
	at, l, n := map[string]int{}, access, 0
	for line := range strings.Lines(strings.TrimPrefix(string(data), "\ufeff")) {
		if n++; n > file.MaxRows {
			return fault.New(fault.BadInput, "Cut out the one station and its last years.", "the file has more than %d lines", file.MaxRows)
		}
		if line = strings.TrimRight(line, "\r\n"); strings.TrimSpace(line) == "" {
			continue
		}
		var ok bool
		record, ok = cells(line, record)
		if len(at) == 0 {
			for i, h := range record {
				at[strings.ToUpper(strings.TrimSpace(h))] = i
			}
			if _, theirs := at[geoMet.date]; theirs {
				l = geoMet
			}
			if err := r.wants(at, l); err != nil || !ok {
				return err
			}
			continue
		}
		if !ok {
			r.p.Rows++
			r.p.Refuse(n, "", line, "is no line of CSV", "")
			continue
		}
		r.day(n, l, func(name string) (string, bool) {
			i, ok := at[name]
			if !ok || i >= len(record) {
				return "", false
			}
			return strings.TrimSpace(record[i]), true
		})
	}
	return nil
}

// wants refuses a header without temperatures.
func (r *reader) wants(at map[string]int, l layout) error {
	for _, c := range l.columns[:2] {
		if _, ok := at[c.name]; !ok {
			return fault.New(fault.BadInput, "Fetch the station with its highest and lowest temperatures.", "%s has no column %s", r.p.Name, c.name)
		}
	}
	return nil
}

// features reads GeoMet's days as GeoJSON.
func (r *reader) features(data []byte, opt file.Options) error {
	b, err := file.JSON(data, opt)
	if err != nil {
		return err
	}
	err = file.Elements(file.Member(b, "features"), func(i int, feature []byte) error {
		if i >= file.MaxRows {
			return fmt.Errorf("it has more than %d days", file.MaxRows)
		}
		props := file.Member(feature, "properties")
		r.day(i+1, geoMet, func(name string) (string, bool) {
			v := file.Member(props, name)
			if file.IsNull(v) {
				return "", v != nil
			}
			if s, ok := file.JSONString(v); ok {
				return strings.TrimSpace(s), true
			}
			return string(v), true
		})
		return nil
	})
	if err != nil {
		return fault.New(fault.BadInput, "Fetch it again with f=json.", "%s has no list of days: %v", r.p.Name, err)
	}
	if next := file.Member(b, "links"); hasNext(next) {
		r.p.Remark(0, "", "", "the service has more days than this page of them", "Fetch it again with limit=10000, or for a shorter span.")
	}
	return nil
}

// hasNext tells whether a list of links leads to a next page.
func hasNext(links []byte) (found bool) {
	_ = file.Elements(links, func(_ int, l []byte) error { // no list: no next page
		if rel, _ := file.JSONString(file.Member(l, "rel")); rel == "next" {
			found = true
		}
		return nil
	})
	return found
}

// day reads one day of a layout through a getter of its cells.
func (r *reader) day(n int, l layout, cell func(name string) (string, bool)) {
	r.p.Rows++
	text, _ := cell(l.date)
	t, err := time.Parse(time.DateOnly, text[:min(len(text), len(time.DateOnly))])
	if err != nil || t.Year() < 1750 || t.Year() > 2100 {
		r.p.Refuse(n, l.date, text, "is not a date", "")
		return
	}
	station, _ := cell(l.station)
	if station == "" {
		r.p.Refuse(n, l.station, "", "names no station", "")
		return
	}
	date := file.Day{Year: t.Year(), Month: t.Month(), Day: t.Day()}
	if !r.about(n, station, station+" "+date.String()) {
		return
	}
	r.p.Taken++
	for _, c := range l.columns {
		r.cell(n, date, l, c, cell)
	}
}

// cell reads one reading of a day.
func (r *reader) cell(n int, date file.Day, l layout, c column, cell func(name string) (string, bool)) {
	text, there := cell(c.name)
	flag, _ := cell(c.flag)
	if l.whole { // measurement, quality and source
		parts := strings.Split(flag, ",")
		flag = ""
		if len(parts) > 1 {
			flag = strings.TrimSpace(parts[1])
		}
	} else if flag != "M" { // the others say estimated or traced, not wrong
		flag = ""
	}
	v, err := strconv.ParseFloat(text, 64)
	switch {
	case !there:
	case text == "" || text == "-9999" || flag == "M" && !l.whole:
		r.missing++
	case flag != "":
		r.flagged++
	case l.whole && strings.Contains(text, "."):
		r.changed = true
	case err != nil || strings.ContainsAny(text, "xXpP_"):
		r.strangeReading(n, date, c.name, text)
	default:
		r.keep(n, date, c.element, text, v/c.per)
	}
}
