package holelog

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"

	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// What a row may hold. The bounds keep out slips of the pen and mistaken units. Common practice, no source.
const (
	maxDepth   = 150 * quantity.Metre
	maxIce     = 3 * quantity.Metre
	maxSnow    = 3 * quantity.Metre
	minFish    = 3 * quantity.Centimetre
	maxFish    = 150 * quantity.Centimetre
	maxCount   = 500
	maxMinutes = 24 * 60
	maxText    = 4000 // bytes of a remark
	maxWord    = 120  // bytes of a number, species or lure
)

// rowReader reads one row. The first cell that cannot be read stays in bad, and the rest is passed over.
type rowReader struct {
	*reader
	line    int
	cells   []string
	row     Row
	bad     *complaint
	notes   []complaint
	assumed []assumption
}

type complaint struct{ column, value, reason, mend string }

func (c *rowReader) refuse(m file.Meaning, value, reason, mend string) {
	if c.bad == nil {
		c.bad = &complaint{c.header(m), value, reason, mend}
	}
}

func (c *rowReader) note(m file.Meaning, value, reason, mend string) {
	c.notes = append(c.notes, complaint{c.header(m), value, reason, mend})
}

func (c *rowReader) assumeThat(m file.Meaning, what string) {
	c.assumed = append(c.assumed, assumption{c.header(m), what})
}

// cell gives the text of a column, "" when there is no such column.
func (c *rowReader) cell(m file.Meaning) string {
	i, ok := c.column[m]
	if !ok || i >= len(c.cells) {
		return ""
	}
	return c.cells[i]
}

// blank tells whether a cell says nothing.
func blank(s string) bool {
	switch strings.ToLower(s) {
	case "", "-", "--", "–", "—", "?", "n/a", "na", "nil", ".":
		return true
	}
	return false
}

func dash(s string) bool { return s == "-" || s == "--" || s == "–" || s == "—" }

// ditto tells whether a cell repeats the one above it.
func ditto(s string) bool {
	switch strings.ToLower(s) {
	case `"`, `''`, "”", "“", "″", "〃", `-"-`, "do", "do.", "ditto", ",,":
		return true
	}
	return false
}

// dittos puts the cell above in the place of every ditto mark.
func (c *rowReader) dittos() {
	for i, s := range c.cells {
		if !ditto(s) || i >= len(c.table.Columns) {
			continue
		}
		if i >= len(c.above) || c.above[i] == "" || ditto(c.above[i]) {
			if c.bad == nil {
				c.bad = &complaint{c.table.Header[i], s, "a ditto mark with nothing above it", ""}
			}
			continue
		}
		c.cells[i] = c.above[i]
		c.assumed = append(c.assumed, assumption{c.table.Header[i], "a ditto mark repeats the cell above"})
	}
}

// read fills the row.
func (c *rowReader) read() {
	c.when()
	c.where()
	c.row.Number = c.word(file.Number)
	c.row.Depth = c.depth()
	c.row.Ice = c.measure(file.Ice, maxIce)
	c.row.White = c.measure(file.White, maxIce)
	c.row.Snow = c.measure(file.Snow, maxSnow)
	c.row.Marks = c.marks()
	c.row.Kept = c.count(file.Kept)
	c.row.PutBack = c.count(file.PutBack)
	c.row.Species = c.species()
	c.row.Lengths = c.lengths()
	c.row.Lure = c.word(file.Lure)
	c.row.Minutes = c.minutes()
	c.row.Remarks = c.text(file.Remarks, maxText)
	c.consistent()
}

// consistent looks at what the cells say together.
func (c *rowReader) consistent() {
	r := &c.row
	if r.Ice != nil && r.Ice.Length <= 0 {
		c.refuse(file.Ice, c.cell(file.Ice), "ice of 0", "Leave the cell blank if the ice was not measured.")
	}
	if r.White != nil && r.Ice != nil && r.White.Length > r.Ice.Length {
		c.refuse(file.White, c.cell(file.White), "more white ice than ice", "")
	}
	fish := len(r.Lengths)
	for _, n := range []*int{r.Kept, r.PutBack} {
		if n != nil {
			fish = max(fish, *n)
		}
	}
	if r.Number == "" && r.Pos == nil && r.Place == "" && r.Depth == nil && r.Ice == nil && r.White == nil && r.Snow == nil && !r.Marks.Known && r.Kept == nil && r.PutBack == nil && len(r.Lengths) == 0 {
		c.refuse(file.Date, "", "it has a date but says nothing about a hole", "")
	}
	if r.Marks.Known && r.Marks.Class == None && fish > 0 {
		c.note(file.Marks, c.cell(file.Marks), "no marks, yet fish are logged", "")
	}
	if r.Kept != nil && r.PutBack != nil && len(r.Lengths) > *r.Kept+*r.PutBack {
		c.note(file.Lengths, c.cell(file.Lengths), "more lengths than fish", "")
	}
	if r.Pos == nil && c.places.Read != nil && r.Place == "" {
		c.note(file.Position, "", "no position: taken without a place", "")
	}
}

// when reads date and time.
func (c *rowReader) when() {
	dateAs, dateCell := file.Time, c.cell(file.Time)
	if c.date >= 0 {
		dateAs = file.Meaning(c.table.Columns[c.date].Meaning)
		dateCell = c.cell(dateAs)
	}
	if dateCell == "" {
		c.refuse(dateAs, "", "the date is blank", "Write it, or a ditto mark (\").")
		return
	}
	day, clockCell, err := file.ParseDay(dateCell, c.order, c.opt.Today)
	if errors.Is(err, file.ErrDateOrder) {
		h := c.header(dateAs)
		c.refuse(dateAs, dateCell, err.Error(), "Say --map "+h+"=date-mdy or --map "+h+"=date-dmy.")
		return
	}
	if err != nil {
		c.refuse(dateAs, dateCell, err.Error(), "")
		return
	}
	if c.today != (file.Day{}) && day.String() > c.today.String() {
		c.refuse(dateAs, dateCell, "in the future", "")
		return
	}
	if c.date >= 0 {
		if s := c.cell(file.Time); s != "" {
			clockCell = s
		}
	}
	c.clock(day, clockCell)
}

// clock sets the time of the row; a blank leaves the day.
func (c *rowReader) clock(day file.Day, s string) {
	if blank(s) {
		c.row.Time = file.StartOfDay(day, c.opt.Zone)
		c.assumeThat(file.Time, "no time: taken for its day only")
		return
	}
	k, err := file.ParseClock(s)
	if err != nil {
		c.refuse(file.Time, s, err.Error(), "")
		return
	}
	at := file.Instants(day, k, c.opt.Zone)
	if len(at) == 0 {
		c.refuse(file.Time, s, "the clocks of the zone leave this time out that night", "")
		return
	}
	if len(at) == 2 {
		c.note(file.Time, s, "the clocks showed this time twice that night; taken as the first", "")
	}
	if k.Bare && k.Hour >= 1 && k.Hour <= 5 {
		c.note(file.Time, s, "taken as the small hours, on the 24-hour clock", "Write 14:05 or 2:05 pm for the afternoon.")
	} else if k.Bare && k.Hour < 12 {
		c.assumeThat(file.Time, "a time without am or pm is read on the 24-hour clock")
	}
	c.row.Time, c.row.TimeKnown = at[0].UTC(), true
}

// where reads the position: coordinates, words, or nothing.
func (c *rowReader) where() {
	if c.places.Read == nil {
		return
	}
	cells := c.cells
	if i, ok := c.column[file.Position]; ok && i < len(cells) && blank(cells[i]) {
		return
	}
	pos, column, cell, err := c.places.Read(cells)
	switch {
	case errors.Is(err, file.ErrNoPlace):
	case err == nil:
		c.row.Pos = &pos
	case words(cell):
		c.row.Place = clean(cell)
		c.notes = append(c.notes, complaint{column, cell, "a place in words: taken without coordinates, the words are kept", ""})
	case c.bad == nil:
		c.bad = &complaint{column, cell, err.Error(), ""}
	}
}

// words tells a place in words ("40 paces W of 12") from coordinates gone wrong: a word of three letters, or "of".
func words(s string) bool {
	for _, w := range strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) }) {
		if w = strings.ToLower(w); w == "of" || len(w) >= 3 && w != "nan" && w != "inf" && w != "deg" && w != "min" && w != "utm" {
			return true
		}
	}
	return false
}

// measure reads a length by its own unit or the column's.
func (c *rowReader) measure(m file.Meaning, most quantity.Length) *Reading {
	s := c.cell(m)
	if blank(s) {
		return nil
	}
	about := strings.TrimSpace(strings.TrimPrefix(s, "~"))
	if about != s {
		c.note(m, s, "an estimate (~) is taken as it stands", "")
	}
	l, typed, err := file.Length(about, c.unit[m])
	switch {
	case errors.Is(err, file.ErrNoUnit):
		c.refuse(m, s, err.Error(), fmt.Sprintf("Write it behind the number or in the header, or say --map \"%s=%s:%s\" or another unit.", c.header(m), m, exampleUnit(m)))
	case err != nil:
		c.refuse(m, s, err.Error(), "")
	case l < 0:
		c.refuse(m, s, "negative", "")
	case l > most:
		c.refuse(m, s, fmt.Sprintf("more than %.0f m", most.Metres()), "")
	default:
		if _, err := file.Plain(about); err == nil {
			c.assumeThat(m, "a number without a unit is read in "+typed+", by the column")
		}
		return &Reading{l, typed}
	}
	return nil
}

func exampleUnit(m file.Meaning) string {
	if m == file.Depth || m == file.DepthUp {
		return "ft"
	}
	return "in"
}

// depth reads the depth of the water.
func (c *rowReader) depth() *Reading {
	m := file.Depth
	if _, ok := c.column[file.DepthUp]; ok {
		m = file.DepthUp
		if i := c.column[m]; i < len(c.cells) {
			c.cells[i] = strings.TrimPrefix(strings.TrimPrefix(c.cells[i], "-"), "−")
		}
	}
	d := c.measure(m, maxDepth)
	if d != nil && d.Length < quantity.Centimetre {
		c.refuse(m, c.cell(m), "a depth of 0", "Leave the cell blank if the depth was not read.")
		return nil
	}
	return d
}

// count reads a number of fish.
func (c *rowReader) count(m file.Meaning) *int {
	s := strings.ToLower(c.cell(m))
	if dash(s) && c.unit[m] != dashUnknown {
		c.assumeThat(m, "a dash is read as none")
		s = "0"
	}
	if blank(s) {
		return nil
	}
	if s == "none" || s == "no" {
		s = "0"
	}
	n, err := strconv.Atoi(strings.TrimSuffix(s, ".0"))
	if err != nil || n < 0 || n > maxCount {
		c.refuse(m, c.cell(m), "not a count of fish", "")
		return nil
	}
	return &n
}

// word reads a short text.
func (c *rowReader) word(m file.Meaning) string {
	s := c.text(m, maxWord)
	if blank(s) {
		return ""
	}
	return s
}

// species reads which fish. A number there means that the column holds something else.
func (c *rowReader) species() string {
	s := c.word(file.Species)
	if _, err := file.Plain(s); err == nil {
		h := c.header(file.Species)
		c.refuse(file.Species, s, "a number where the species should stand", "If the column counts fish say --map "+h+"=kept, or =put-back.")
		return ""
	}
	return s
}

// text reads a text, line breaks and control characters turned to blanks.
func (c *rowReader) text(m file.Meaning, most int) string {
	s := c.cell(m)
	if len(s) > most {
		c.refuse(m, s, fmt.Sprintf("longer than %d bytes", most), "")
		return ""
	}
	return clean(s)
}

func clean(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, strings.Clone(s)))
}
