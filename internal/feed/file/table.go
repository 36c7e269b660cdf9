package file

import (
	"strings"

	"icehand/internal/base/fault"
)

// Table is a CSV file whose header has been found. Rows are read with [Table.Each], as often as wanted.
type Table struct {
	Preamble   []string // the lines above the header
	HeaderLine int
	Header     []string
	Columns    []ColumnMeaning // one for each header cell
	Encoding   string
	Delimiter  byte // comma, semicolon or tab

	text     string
	body     int // offset of the first row
	bodyLine int
}

// headerLines is how far down a header may stand.
const headerLines = 25

// OpenTable decodes a CSV file and finds its header: among the first lines the one most of whose cells the vocabulary of
// the kind, or the user's map, knows.
func OpenTable(data []byte, kind Kind, opt Options) (*Table, error) {
	if err := checkSize(data, opt); err != nil {
		return nil, err
	}
	if err := checkForeign(data); err != nil {
		return nil, err
	}
	text, encoding, err := toText(data)
	if err != nil {
		return nil, err
	}
	t := &Table{text: text, Encoding: encoding}
	start, line := 0, 1
	if len(text) >= 6 && strings.EqualFold(text[:4], "sep=") { // a spreadsheet's own first line
		t.Delimiter = text[4]
		start, line = skipLine(text, 0), 2
	}
	if !strings.Contains(",;\t", string(rune(t.Delimiter))) || t.Delimiter == 0 {
		t.Delimiter = delimiter(text[start:])
	}
	best := 1 // two known columns at least: a single word may stand in a title
	s := scanner{text: text, pos: start, line: line, delim: t.Delimiter}
	for range headerLines {
		from := s.pos
		n, cells, ok := s.next()
		if !ok {
			break
		}
		if len(cells) > MaxColumns {
			return nil, fault.New(fault.BadInput, "", "line %d has %d columns, more than the %d that are read", n, len(cells), MaxColumns)
		}
		if known := knownCells(kind, cells, opt.Map); known > best {
			best = known
			t.HeaderLine, t.Header = n, append([]string(nil), cells...)
			t.body, t.bodyLine = s.pos, s.line
			t.Preamble = lines(text[start:min(from, start+MaxCell)])
		}
	}
	if t.Header == nil {
		return nil, fault.New(fault.BadInput, "The first lines need one with the names of the columns; name a column that is not recognised with --map HEADER=MEANING. Meanings: "+strings.Join(mappable(kind), ", ")+".",
			"no header of a file of %s was found in the first %d lines", kind, headerLines)
	}
	if err := checkMap(kind, t.Header, opt.Map); err != nil {
		return nil, err
	}
	for _, h := range t.Header {
		t.Columns = append(t.Columns, resolve(kind, h, opt.Map))
	}
	return t, nil
}

// knownCells counts the different meanings that a line's cells name.
func knownCells(kind Kind, cells []string, mapped map[string]string) int {
	seen := map[string]bool{}
	for _, c := range cells {
		if m := resolve(kind, c, mapped).Meaning; m != "" {
			seen[m] = true
		}
	}
	return len(seen)
}

// Column gives the index of the first column with a meaning, -1 when there is none.
func (t *Table) Column(m Meaning) int {
	for i, c := range t.Columns {
		if c.Meaning == string(m) {
			return i
		}
	}
	return -1
}

// Settle remarks on columns that share a meaning: the first is read, the others are not.
func (t *Table) Settle(p *Preview) {
	first := map[string]string{}
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.Meaning == "" || c.Meaning == string(Ignore) {
			continue
		}
		if h, ok := first[c.Meaning]; ok {
			p.Remark(0, c.Header, "", "means the same as column \""+h+"\"; only that one is read", "Choose with --map \""+h+"=ignore\".")
			c.Meaning, c.Why = "", "second column of its meaning; ignored"
			continue
		}
		first[c.Meaning] = c.Header
	}
	p.Columns = t.Columns
}

// Each calls f for every line under the header, blank ones included, until f fails. The cells are trimmed; the slice is
// reused, the strings are not. A line with too many cells or rows beyond [MaxRows] end it with a fault.
func (t *Table) Each(f func(line int, cells []string) error) error {
	s := scanner{text: t.text, pos: t.body, line: t.bodyLine, delim: t.Delimiter}
	for n := 0; ; n++ {
		line, cells, ok := s.next()
		if !ok {
			return nil
		}
		if n >= MaxRows {
			return fault.New(fault.BadInput, "Cut it into parts, or thin it.", "the file has more than %d rows", MaxRows)
		}
		if len(cells) > MaxColumns {
			return fault.New(fault.BadInput, "", "line %d has %d cells, more than the %d that are read", line, len(cells), MaxColumns)
		}
		if err := f(line, cells); err != nil {
			return err
		}
	}
}

// Blank tells whether all cells of a line are empty.
func Blank(cells []string) bool {
	for _, c := range cells {
		if c != "" {
			return false
		}
	}
	return true
}

// Extra gives the first non-empty cell beyond the header's width: a sign of an unquoted comma.
func (t *Table) Extra(cells []string) (string, bool) {
	for _, c := range cells[min(len(cells), len(t.Header)):] {
		if c != "" {
			return c, true
		}
	}
	return "", false
}

// delimiter chooses what parts the cells: the first of tab, semicolon and comma that stands outside quotes in most of the
// first lines. The order matters, since commas also stand in numbers and remarks.
func delimiter(text string) byte {
	var count [3]int
	n := 0
	for _, l := range lines(text[:min(len(text), 64<<10)]) {
		if strings.TrimSpace(l) == "" {
			continue
		}
		if n++; n > 40 {
			break
		}
		quoted := false
		var seen [3]bool
		for i := range len(l) {
			switch l[i] {
			case '"':
				quoted = !quoted
			case '\t', ';', ',':
				seen[strings.IndexByte("\t;,", l[i])] = seen[strings.IndexByte("\t;,", l[i])] || !quoted
			}
		}
		for i, s := range seen {
			if s {
				count[i]++
			}
		}
	}
	for i, c := range count {
		if c*10 >= n*6 && c > 0 {
			return "\t;,"[i]
		}
	}
	return ','
}

func lines(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == '\n' || r == '\r' })
}

func skipLine(text string, i int) int {
	for i < len(text) && text[i] != '\n' && text[i] != '\r' {
		i++
	}
	if i+1 < len(text) && text[i] == '\r' && text[i+1] == '\n' {
		i++
	}
	return min(i+1, len(text))
}

// scanner parts a text into lines of cells. It follows RFC 4180 [RFC4180] where the file does, and is lenient in the two
// ways that a guide's file needs: an inch mark may stand in an unquoted cell (14"), and a cell that is nothing but a
// quote mark is a ditto mark, not the start of a quoted cell.
type scanner struct {
	text  string
	pos   int
	line  int
	delim byte
	cells []string
}

// next gives the next line, its number and its cells.
func (s *scanner) next() (line int, cells []string, ok bool) {
	if s.pos >= len(s.text) {
		return 0, nil, false
	}
	line, s.cells = s.line, s.cells[:0]
	for {
		if c := s.cell(); len(s.cells) <= MaxColumns { // one too many is enough to tell
			s.cells = append(s.cells, c)
		}
		if s.pos >= len(s.text) {
			return line, s.cells, true
		}
		c := s.text[s.pos]
		s.pos++
		if c == s.delim {
			if s.pos >= len(s.text) && len(s.cells) <= MaxColumns { // the last cell of the last line is empty
				s.cells = append(s.cells, "")
				return line, s.cells, true
			}
			continue
		}
		if c == '\r' && s.pos < len(s.text) && s.text[s.pos] == '\n' {
			s.pos++
		}
		s.line++
		return line, s.cells, true
	}
}

func (s *scanner) ends(i int) bool {
	return i >= len(s.text) || s.text[i] == s.delim || s.text[i] == '\n' || s.text[i] == '\r'
}

// ditto tells whether the quote mark at i is all that its cell holds.
func (s *scanner) ditto(i int) bool {
	for i++; i < len(s.text) && s.text[i] == ' '; i++ {
	}
	return s.ends(i)
}

// cell reads one cell and stops at what ends it.
func (s *scanner) cell() string {
	for s.pos < len(s.text) && s.text[s.pos] == ' ' && s.delim != ' ' {
		s.pos++
	}
	start := s.pos
	if start < len(s.text) && s.text[start] == '"' && !s.ditto(start) {
		if end, ok := s.closingQuote(start); ok {
			inside := s.text[start+1 : end]
			s.line += strings.Count(inside, "\n") + strings.Count(inside, "\r") - strings.Count(inside, "\r\n")
			s.pos = end + 1
			rest := s.pos
			for !s.ends(s.pos) {
				s.pos++
			}
			if strings.Contains(inside, `""`) {
				inside = strings.ReplaceAll(inside, `""`, `"`)
			}
			if rest < s.pos {
				inside += s.text[rest:s.pos]
			}
			return strings.TrimSpace(inside)
		}
	}
	for !s.ends(s.pos) {
		s.pos++
	}
	return strings.TrimSpace(s.text[start:s.pos])
}

// closingQuote finds the quote that closes the one at start. A quote that is never closed, or only far away, is an
// ordinary character: a truncated file must not swallow its own rows.
func (s *scanner) closingQuote(start int) (int, bool) {
	limit := min(len(s.text), start+MaxCell)
	for i := start + 1; i < limit; i++ {
		if s.text[i] != '"' {
			continue
		}
		if i+1 < len(s.text) && s.text[i+1] == '"' {
			i++
			continue
		}
		return i, true
	}
	return 0, false
}
