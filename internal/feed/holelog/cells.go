package holelog

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// dashUnknown is the option of a column in which a dash says nothing, rather than none.
const dashUnknown = file.DashUnknown

// markWords are the words in which guides note what a look showed.
var markWords = map[string]Class{
	"none": None, "no": None, "nothing": None, "empty": None, "nothing seen": None, "0": None, "blank": None,
	"few": Few, "a few": Few, "some": Few, "one": Few, "two": Few, "three": Few, "couple": Few, "a couple": Few, "single": Few,
	"many": Many, "lots": Many, "plenty": Many, "loads": Many, "full": Many, "school": Many, "stacked": Many,
}

var (
	markRange = regexp.MustCompile(`^(\d{1,3})\s*(?:-|–|to)\s*(\d{1,3})$`)
	markPlus  = regexp.MustCompile(`^(\d{1,3})\s*\+$`)
)

// marks reads what a look showed: a word, a count, a cross for something, a dash for nothing.
func (c *rowReader) marks() Marks {
	typed := c.cell(file.Marks)
	s := strings.ToLower(strings.Trim(typed, " .!"))
	if dash(s) && c.unit[file.Marks] != dashUnknown {
		c.assumeThat(file.Marks, "a dash is read as none; where it means that nobody looked, say --map HEADER=marks:"+dashUnknown)
		return Marks{Known: true, Class: None}
	}
	if blank(s) {
		return Marks{}
	}
	if n, err := strconv.Atoi(s); err == nil && n >= 0 && n <= maxCount {
		return Marks{Known: true, Class: ClassOf(n), Count: &n}
	}
	if class, ok := markWords[s]; ok {
		return Marks{Known: true, Class: class}
	}
	if strings.Trim(s, "x✓✗×") == "" || s == "yes" || s == "y" {
		c.assumeThat(file.Marks, "a cross or tick is read as few")
		return Marks{Known: true, Class: Few}
	}
	if m := markPlus.FindStringSubmatch(s); m != nil {
		n, _ := strconv.Atoi(m[1]) // digits, by the expression
		if n > fewAtMost {
			return Marks{Known: true, Class: Many}
		}
	}
	if m := markRange.FindStringSubmatch(s); m != nil {
		a, _ := strconv.Atoi(m[1])
		b, _ := strconv.Atoi(m[2])
		if ClassOf(a) == ClassOf(b) && a <= b {
			return Marks{Known: true, Class: ClassOf(a)}
		}
	}
	c.refuse(file.Marks, typed, "neither none, few, many nor a count", "Write one of these, or leave the cell blank if nobody looked.")
	return Marks{}
}

var (
	tightComma = regexp.MustCompile(`(\d),(\d)(?:\D|$)`)
	listParts  = regexp.MustCompile(`\s*(?:[;,+&\n]|\band\b)\s*`)
)

// lengths reads a list of fish: 22, 24.5; 19.
func (c *rowReader) lengths() []quantity.Length {
	s := c.cell(file.Lengths)
	if blank(s) {
		return nil
	}
	if len(s) > maxText {
		c.refuse(file.Lengths, s, "too long for a list of lengths", "")
		return nil
	}
	list, bare, err := parseLengths(s, c.unit[file.Lengths])
	switch {
	case errors.Is(err, file.ErrNoUnit):
		c.refuse(file.Lengths, s, err.Error(), fmt.Sprintf("Write it behind the numbers or in the header, or say --map \"%s=lengths:cm\" or another unit.", c.header(file.Lengths)))
	case err != nil:
		c.refuse(file.Lengths, s, err.Error(), "")
	}
	if err == nil && bare {
		c.assumeThat(file.Lengths, "lengths without a unit are read in "+c.unit[file.Lengths]+", by the column")
	}
	return list
}

// parseLengths reads the list; a unit behind the last number holds for all when the column states none. bare tells that
// the column's unit was used.
func parseLengths(s, unit string) (list []quantity.Length, bare bool, err error) {
	if tightComma.MatchString(s) { // 22,5 is one fish with a decimal comma, or two
		if !strings.Contains(s, ";") || strings.Contains(s, ", ") || strings.Contains(s, ".") {
			return nil, false, errors.New("a comma between digits may part two fish or mark decimals; write 22.5 or 22, 5")
		}
		s = tightComma.ReplaceAllStringFunc(s, func(m string) string { return strings.Replace(m, ",", ".", 1) })
	}
	var parts []string
	for _, part := range listParts.Split(s, -1) {
		if part = strings.TrimSpace(part); part == "" {
			continue
		}
		parts = append(parts, splitBlanks(part)...)
	}
	if len(parts) > 0 && unit == "" {
		_, typed, err := file.Length(parts[len(parts)-1], "")
		if err == nil {
			unit = typed
		}
	}
	for _, part := range parts {
		l, _, err := file.Length(part, unit)
		if err != nil {
			return nil, false, err
		}
		if l < minFish || l > maxFish {
			return nil, false, fmt.Errorf("a fish of %.4g cm", l.Centimetres())
		}
		if _, err := file.Plain(part); err == nil {
			bare = true
		}
		list = append(list, l)
	}
	return list, bare, nil
}

// splitBlanks parts 22 24 19 and 22 24 19 cm, and leaves anything else whole.
func splitBlanks(part string) []string {
	fields := strings.Fields(part)
	unit := ""
	if n := len(fields) - 1; n > 1 {
		if _, ok := quantity.LengthUnit(fields[n]); ok {
			fields, unit = fields[:n], fields[n]
		}
	}
	if len(fields) < 2 || !plainAll(fields) {
		return []string{part}
	}
	for i := range fields {
		fields[i] += unit
	}
	return fields
}

func plainAll(fields []string) bool {
	for _, f := range fields {
		if _, err := file.Plain(f); err != nil {
			return false
		}
	}
	return true
}

var (
	minutesText = regexp.MustCompile(`(?i)^(\d{1,4})(?:\.0+)?\s*(?:m|min|mins|minutes|')?$`)
	hoursText   = regexp.MustCompile(`(?i)^(\d{1,2}(?:[.,]\d{1,2})?)\s*(?:h|hr|hrs|hour|hours)$`)
	hoursAndMin = regexp.MustCompile(`(?i)^(\d{1,2})\s*(?::|h|hr|hrs|hour|hours)\s*(\d{1,2})\s*(?:m|min|mins|minutes)?$`)
)

// minutes reads how long a hole was fished: 45, 45 min, 1:15, 1 h 15, 1.5 h.
func (c *rowReader) minutes() *int {
	s := c.cell(file.Minutes)
	if blank(s) {
		return nil
	}
	n := -1
	plain, err := file.Plain(s)
	switch {
	case err == nil && c.unit[file.Minutes] == "h" && plain >= 0 && plain <= 24:
		n = int(plain*60 + 0.5)
	case hoursText.MatchString(s):
		h, _ := file.Plain(hoursText.FindStringSubmatch(s)[1]) // a number, by the expression
		n = int(h*60 + 0.5)
	case minutesText.MatchString(s):
		n, _ = strconv.Atoi(minutesText.FindStringSubmatch(s)[1])
	case hoursAndMin.MatchString(s):
		m := hoursAndMin.FindStringSubmatch(s)
		h, _ := strconv.Atoi(m[1])
		k, _ := strconv.Atoi(m[2])
		if k < 60 {
			n = 60*h + k
		}
	}
	if n < 0 || n > maxMinutes {
		c.refuse(file.Minutes, s, "not a number of minutes in one day", "")
		return nil
	}
	return &n
}
