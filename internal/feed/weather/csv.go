package weather

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// csvReader reads hourly rows.
type csvReader struct {
	table   *file.Table
	preview *file.Preview
	opt     file.Options
	date    int // columns; -1 = none
	time    int
	utc     bool
	order   file.Order
	layers  []column
	hours   hours
	first   map[time.Time]int       // row that gave an hour
	last    time.Time               // hour of the row before
	origin  time.Time               // hour of the first row taken: all others must lie near it
	noUnit  map[string]file.Meaning // header of a column whose numbers have no unit
	noZone  bool
}

// column is where a layer stands in the table.
type column struct {
	layer
	index int
	unit  string
}

// readCSV reads a table whose rows are hours, each beginning at the time it states.
func readCSV(data []byte, opt file.Options, p *file.Preview) (Forecast, error) {
	t, err := file.OpenTable(data, file.Weather, opt)
	if err != nil {
		return Forecast{}, err
	}
	t.Settle(p)
	r := csvReader{table: t, preview: p, opt: opt, hours: hours{}, first: map[time.Time]int{}, noUnit: map[string]file.Meaning{}}
	r.date, r.order = t.DateColumn()
	r.time = t.Column(file.Time)
	if r.time < 0 && r.date < 0 {
		p.Reject("", "", "it has no column for the time", "Name it: --map HEADER=time.")
	}
	r.utc = r.time >= 0 && t.Columns[r.time].Unit == "utc"
	for _, l := range layers {
		if i := t.Column(l.meaning); i >= 0 {
			r.layers = append(r.layers, column{l, i, t.Columns[i].Unit})
		}
	}
	if len(r.layers) == 0 {
		p.Reject("", "", "it has no column of weather", "Name one: --map HEADER=temperature:C.")
	}
	if p.Err() != nil {
		return Forecast{}, nil
	}
	if err := t.Each(r.row); err != nil {
		return Forecast{}, err
	}
	if r.noZone {
		p.Reject(t.Header[max(r.time, 0)], "", "its times state no zone", "Say --tz with the lake's zone, such as --tz America/Chicago.")
	}
	for _, c := range r.layers {
		if m, ok := r.noUnit[t.Header[c.index]]; ok {
			p.Reject(t.Header[c.index], "", fmt.Sprintf("column %q has numbers without a unit", t.Header[c.index]),
				fmt.Sprintf("Say --map \"%s=%s:%s\" or another unit.", t.Header[c.index], m, exampleUnit[m]))
		}
	}
	p.Remark(0, "", "", "each row is taken as the hour that begins at its time", "")
	return Forecast{Source: "hourly table", Hours: r.hours.sorted()}, nil
}

var exampleUnit = map[file.Meaning]string{file.Temperature: "C", file.Wind: "km/h", file.Gust: "km/h", file.Sky: "%", file.Snow: "cm", file.Precip: "mm", file.Visibility: "km", file.WindFrom: "deg"}

// row reads one line.
func (r *csvReader) row(line int, cells []string) error {
	p := r.preview
	p.Rows++
	if file.Blank(cells) {
		p.Blank++
		return nil
	}
	if extra, ok := r.table.Extra(cells); ok {
		p.Refuse(line, "", extra, "the row has more cells than the header", "Put a cell that holds a comma in quotes.")
		return nil
	}
	start, ok := r.start(line, cells)
	if !ok {
		return nil
	}
	h := Hour{Start: start}
	given := false
	for _, c := range r.layers {
		s := cell(cells, c.index)
		if s == "" || s == "-" || strings.EqualFold(s, "NA") || strings.EqualFold(s, "null") {
			continue
		}
		v, err := c.parse(s)
		if errors.Is(err, file.ErrNoUnit) {
			r.noUnit[r.table.Header[c.index]] = c.meaning
		}
		if err != nil {
			p.Refuse(line, r.table.Header[c.index], s, err.Error(), "")
			return nil
		}
		c.set(&h, v)
		given = true
	}
	if !given {
		p.Refuse(line, "", "", "it has a time but no weather", "")
		return nil
	}
	if first, ok := r.first[start]; ok {
		if same := r.hours[start]; equal(*same, h) {
			p.Repeat(line, first)
		} else {
			p.Refuse(line, "", "", fmt.Sprintf("contradicts row %d, which has the same hour", first), "")
		}
		return nil
	}
	if r.origin.IsZero() {
		r.origin = start
	}
	if start.Sub(r.origin).Abs() > maxSpan {
		p.Refuse(line, "", "", "weeks away from the rest of the forecast", "")
		return nil
	}
	r.first[start], r.last = line, start
	r.hours[start] = &h
	p.Taken++
	return nil
}

// start gives the instant at which a row's hour begins, or refuses the row.
func (r *csvReader) start(line int, cells []string) (time.Time, bool) {
	p := r.preview
	refuse := func(column int, reason, mend string) (time.Time, bool) {
		p.Refuse(line, r.table.Header[column], cell(cells, column), reason, mend)
		return time.Time{}, false
	}
	dayColumn := r.date
	if dayColumn < 0 {
		dayColumn = r.time
	}
	day, rest, err := file.ParseDay(cell(cells, dayColumn), r.order, r.opt.Today)
	if errors.Is(err, file.ErrDateOrder) {
		return refuse(dayColumn, err.Error(), "Say --map HEADER=date-dmy or HEADER=date-mdy.")
	}
	if err != nil {
		return refuse(dayColumn, err.Error(), "")
	}
	clockColumn := dayColumn
	if r.date >= 0 && r.time >= 0 {
		clockColumn, rest = r.time, cell(cells, r.time)
	}
	c, err := file.ParseClock(rest)
	if err != nil {
		return refuse(clockColumn, err.Error(), "")
	}
	if c.Minute != 0 || c.Second != 0 {
		return refuse(clockColumn, "not on the full hour", "")
	}
	if r.utc && c.Offset == nil {
		c.Offset = time.UTC
	}
	if c.Offset == nil && r.opt.Zone == nil {
		r.noZone = true
		return refuse(clockColumn, "its zone is not stated", "")
	}
	switch at := file.Instants(day, c, r.opt.Zone); {
	case len(at) == 0:
		return refuse(clockColumn, "the clocks of the zone leave this hour out that night", "")
	case len(at) == 2 && !r.last.Before(at[0]): // the hour comes a second time
		return at[1].UTC(), true
	default:
		return at[0].UTC(), true
	}
}

// parse reads a cell by its own unit or by its column's.
func (c column) parse(s string) (float64, error) {
	if len(s) > 40 {
		return 0, errors.New("not a value")
	}
	s = strings.TrimSuffix(s, "°")
	_, plainErr := file.Plain(s)
	bare := plainErr == nil
	v, err := 0.0, error(nil)
	switch c.meaning {
	case file.WindFrom:
		b, ok := quantity.ParseCompass(s)
		if !ok {
			return 0, errors.New("not a direction")
		}
		v = b.Degrees()
	case file.Sky:
		v, err = c.sky(s)
	case file.Temperature:
		if bare {
			s += c.unit
			if c.unit == "" {
				return 0, file.ErrNoUnit
			}
		}
		var t quantity.Celsius
		t, err = quantity.ParseTemperature(s, quantity.SI)
		v = t.Degrees()
	case file.Wind, file.Gust:
		unit, _ := quantity.SpeedUnit(c.unit)
		if bare && unit == 0 {
			return 0, file.ErrNoUnit
		}
		var w quantity.Speed
		w, err = quantity.ParseSpeed(s, unit)
		v = w.MetresPerSecond()
	default:
		var l quantity.Length
		l, _, err = file.Length(s, c.unit)
		v = l.Metres()
	}
	switch {
	case errors.Is(err, file.ErrNoUnit):
		return 0, err
	case err != nil:
		return 0, errors.New("not a value")
	case !c.within(v):
		return 0, errors.New("not a possible value")
	}
	return v, nil
}

// sky reads cloud as a percentage, a fraction or oktas, by the column's unit or a percent sign.
func (c column) sky(s string) (float64, error) {
	unit := c.unit
	if t, ok := strings.CutSuffix(s, "%"); ok {
		s, unit = t, "%"
	}
	v, err := file.Plain(s)
	if err != nil {
		return 0, err
	}
	switch unit {
	case "%":
		return v / 100, nil
	case "fraction":
		return v, nil
	case "oktas":
		return v / 8, nil
	}
	return 0, file.ErrNoUnit
}

func cell(cells []string, i int) string {
	if i >= 0 && i < len(cells) {
		return cells[i]
	}
	return ""
}

// equal tells whether two hours say the same.
func equal(a, b Hour) bool {
	return a.Start.Equal(b.Start) && eq(a.Temperature, b.Temperature) && eq(a.Wind, b.Wind) && eq(a.Gust, b.Gust) && eq(a.WindFrom, b.WindFrom) &&
		eq(a.Sky, b.Sky) && eq(a.Snow, b.Snow) && eq(a.Precip, b.Precip) && eq(a.Visibility, b.Visibility)
}

func eq[T comparable](a, b *T) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b
}
