package holelog

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// reader carries what the rows of one log share.
type reader struct {
	table    *file.Table
	preview  *file.Preview
	opt      file.Options
	today    file.Day // zero when it is not known
	date     int      // column; -1 = in the column of times
	order    file.Order
	places   file.Places
	column   map[file.Meaning]int
	unit     map[file.Meaning]string // of cells that carry none
	above    []string                // the cells of the last row that was not blank, for ditto marks
	rows     []Row
	byKey    map[string]int
	byNumber map[string]int
	assumed  map[assumption]*seen
}

// assumption is something read in one of several possible ways; it is listed once, with how often it was met.
type assumption struct{ column, what string }

type seen struct{ count, first int }

func newReader(t *file.Table, opt file.Options, p *file.Preview) *reader {
	r := &reader{table: t, preview: p, opt: opt, column: map[file.Meaning]int{}, unit: map[file.Meaning]string{},
		byKey: map[string]int{}, byNumber: map[string]int{}, assumed: map[assumption]*seen{}}
	t.Settle(p)
	r.places = t.FindPlaces(p, opt)
	if r.places.Read == nil && p.Err() == nil {
		p.Remark(0, "", "", "it has no column of positions: every hole is taken without a place", "Name them, if there are any: --map HEADER=lat --map HEADER=lon.")
	}
	for i, c := range t.Columns {
		if c.Meaning != "" {
			r.column[file.Meaning(c.Meaning)] = i
			r.unit[file.Meaning(c.Meaning)] = c.Unit
		}
	}
	r.date, r.order = t.DateColumn()
	_, timed := r.column[file.Time]
	switch {
	case r.date < 0 && !timed:
		p.Reject("", "", "it has no column for the date", "Name it: --map HEADER=date.")
	case opt.Zone == nil:
		p.Reject("", "", "the zone of its times is not stated", "Say --tz with the lake's zone, such as --tz America/Chicago.")
	case r.order == file.OrderMixed:
		p.Remark(0, "", "", "dates are written day first in some rows and month first in others; a date that may be either is refused", "")
	case r.order != file.OrderUnknown:
		p.Remark(0, "", "", "dates in numbers are read "+string(r.order)+", as other dates of the file prove or as mapped", "")
	}
	if opt.Zone != nil && !opt.Today.IsZero() {
		y, m, d := opt.Today.In(opt.Zone).Date()
		r.today = file.Day{Year: y, Month: m, Day: d}
	}
	r.depthUnit()
	return r
}

// depthUnit settles the unit of depths that carry none: the header, a line above it, the user.
func (r *reader) depthUnit() {
	for _, m := range []file.Meaning{file.Depth, file.DepthUp} {
		i, ok := r.column[m]
		if !ok || r.unit[m] != "" {
			continue
		}
		c := &r.table.Columns[i]
		if c.Unit = r.table.UnitAbove(); c.Unit != "" {
			c.Why += "; unit by a line above the header"
		} else if _, ok := quantity.LengthUnit(r.opt.Unit); ok {
			c.Unit = r.opt.Unit
			c.Why += "; unit as stated with --unit"
		} else if r.opt.Unit != "" {
			r.preview.Reject("", r.opt.Unit, fmt.Sprintf("%q is not a unit of length", file.Short(r.opt.Unit)), "Say --unit ft or --unit m.")
		}
		r.unit[m] = c.Unit
	}
	r.preview.Columns = r.table.Columns
}

// assume counts an assumption.
func (r *reader) assume(line int, column, what string) {
	a := assumption{column, what}
	if s, ok := r.assumed[a]; ok {
		s.count++
		return
	}
	r.assumed[a] = &seen{1, line}
}

// line takes, refuses or passes over one line of the table.
func (r *reader) line(line int, cells []string) error {
	p := r.preview
	p.Rows++
	if file.Blank(cells) {
		p.Blank++
		return nil
	}
	if slices.Equal(cells[:min(len(cells), len(r.table.Header))], r.table.Header[:min(len(cells), len(r.table.Header))]) {
		p.Refuse(line, "", "", "the header again", "")
		return nil
	}
	if word, ok := totals(cells); ok {
		p.Refuse(line, "", word, "a row of totals, not a hole", "")
		return nil
	}
	if extra, ok := r.table.Extra(cells); ok {
		p.Refuse(line, "", extra, "the row has more cells than the header", "Put a cell that holds a comma in quotes.")
		return nil
	}
	c := rowReader{reader: r, line: line, cells: slices.Clone(cells)}
	c.row.Row = line
	c.dittos()
	r.above = c.cells
	c.read()
	if c.bad != nil {
		p.Refuse(line, c.bad.column, c.bad.value, c.bad.reason, c.bad.mend)
		return nil
	}
	key := c.row.key()
	if first, ok := r.byKey[key]; ok {
		p.Repeat(line, first)
		return nil
	}
	r.byKey[key] = line
	c.row.Key = key
	r.checkNumber(c.row)
	for _, n := range c.notes {
		p.Remark(line, n.column, n.value, n.reason, n.mend)
	}
	for _, a := range c.assumed {
		r.assume(line, a.column, a.what)
	}
	r.rows = append(r.rows, c.row)
	p.Taken++
	return nil
}

// checkNumber remarks on a hole number that stands twice in one day with different content.
func (r *reader) checkNumber(row Row) {
	if row.Number == "" {
		return
	}
	day := row.Time.In(r.opt.Zone).Format("2006-01-02")
	k := day + " " + strings.ToLower(row.Number)
	if first, ok := r.byNumber[k]; ok {
		r.preview.Remark(row.Row, r.header(file.Number), row.Number, fmt.Sprintf("row %d gives the same number on %s with other content; both are taken", first, day), "")
		return
	}
	r.byNumber[k] = row.Row
}

func (r *reader) header(m file.Meaning) string {
	if i, ok := r.column[m]; ok {
		return r.table.Header[i]
	}
	return ""
}

// totals recognises a row that adds up the others by its first word.
func totals(cells []string) (string, bool) {
	for _, c := range cells {
		if c == "" {
			continue
		}
		word, _, _ := strings.Cut(strings.ToLower(strings.Trim(c, " :.=")), " ")
		switch word {
		case "total", "totals", "sum", "average", "avg", "mean", "season":
			return c, true
		}
		return "", false
	}
	return "", false
}

// finish refuses rows that lie far from the others and writes the summary.
func (r *reader) finish() {
	p := r.preview
	defer p.Sort()
	r.dropStrays()
	if len(r.rows) == 0 {
		p.Reject("", "", fmt.Sprintf("none of its %d rows could be taken", p.Rows), "See the list of rows.")
		return
	}
	list := make([]assumption, 0, len(r.assumed))
	for a := range r.assumed {
		list = append(list, a)
	}
	slices.SortFunc(list, func(a, b assumption) int {
		if d := r.assumed[a].first - r.assumed[b].first; d != 0 {
			return d
		}
		return strings.Compare(a.column+a.what, b.column+b.what)
	})
	for _, a := range list {
		s := r.assumed[a]
		p.Remark(0, a.column, "", fmt.Sprintf("%s (%s, first in row %d)", a.what, plural(s.count, "row"), s.first), "")
	}
	first, last := r.rows[0].Time, r.rows[0].Time
	placed, looked, kept, back := 0, 0, 0, 0
	for _, row := range r.rows {
		if row.Time.Before(first) {
			first = row.Time
		}
		if row.Time.After(last) {
			last = row.Time
		}
		if row.Pos != nil {
			placed++
		}
		if row.Marks.Known {
			looked++
		}
		if row.Kept != nil {
			kept += *row.Kept
		}
		if row.PutBack != nil {
			back += *row.PutBack
		}
	}
	day := func(t time.Time) string { return t.In(r.opt.Zone).Format("2006-01-02") }
	p.Summary = append(p.Summary,
		fmt.Sprintf("Hole log: %s from %s to %s; %d with a position, %d with a look.", plural(len(r.rows), "hole"), day(first), day(last), placed, looked),
		fmt.Sprintf("Fish: %d kept, %d put back.", kept, back))
	if r.places.Read != nil {
		p.Summary = append(p.Summary, "Positions: "+r.places.Describe+".")
	}
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// dropStrays refuses rows whose position is far from all the others: a lost sign, swapped columns, another lake.
func (r *reader) dropStrays() {
	var all []geo.Position
	for _, row := range r.rows {
		if row.Pos != nil {
			all = append(all, *row.Pos)
		}
	}
	if len(all) < 3 {
		return
	}
	middle := file.Middle(all)
	kept := r.rows[:0]
	for _, row := range r.rows {
		if row.Pos != nil && file.Strays(*row.Pos, middle) {
			r.preview.Taken--
			r.preview.Refuse(row.Row, "", row.Pos.DecimalText(), "its position is far from all the others in the file", "Look for a lost minus sign or swapped columns.")
			continue
		}
		kept = append(kept, row)
	}
	r.rows = kept
}
