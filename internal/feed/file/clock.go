package file

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// Order is how a file writes a date in numbers alone.
type Order string

// The orders.
const (
	OrderUnknown Order = ""                  // nothing in the file decides
	DayFirst     Order = "day first"         // 14/1/2026
	MonthFirst   Order = "month first"       // 1/14/2026
	OrderMixed   Order = "both orders occur" // only dates that decide themselves are read
)

// Day is a calendar day.
type Day struct {
	Year  int
	Month time.Month
	Day   int
}

func (d Day) String() string { return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day) }

// Add gives the day a number of days later.
func (d Day) Add(days int) Day {
	t := time.Date(d.Year, d.Month, d.Day+days, 0, 0, 0, 0, time.UTC)
	return Day{t.Year(), t.Month(), t.Day()}
}

// exists tells whether the calendar has the day, in years that a log of ours can have.
func (d Day) exists() bool {
	t := time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC)
	return t.Year() == d.Year && t.Month() == d.Month && t.Day() == d.Day
}

// The years that are believed. A file older than the first has no place in a journal of ours; common practice, no source.
const firstYear, lastYear = 1950, 2100

// ErrDateOrder tells that a date may be read in two ways.
var ErrDateOrder = errors.New("may be day first or month first, and no date in the file decides")

var (
	isoDate     = regexp.MustCompile(`^(\d{4})([-/.])(\d{1,2})[-/.](\d{1,2})(?:[T\s]+(.*))?$`)
	compactDate = regexp.MustCompile(`^(\d{4})(\d{2})(\d{2})(?:[T\s]+(.*))?$`)
	dayMonth    = regexp.MustCompile(`^(?:[A-Za-z]{3,9}\.?,?\s+)?(\d{1,2})(?:st|nd|rd|th)?\.?[\s-]*([A-Za-z]{3,9})\.?,?[\s-]*'?(\d{4}|\d{2})(?:,?\s+(.*))?$`)
	monthDay    = regexp.MustCompile(`^(?:[A-Za-z]{3,9}\.?,?\s+)??([A-Za-z]{3,9})\.?[\s-]*(\d{1,2})(?:st|nd|rd|th)?(?:,\s*|[\s-]+)'?(\d{4}|\d{2})(?:,?\s+(.*))?$`)
	numericDate = regexp.MustCompile(`^(\d{1,2})[-/.](\d{1,2})[-/.](\d{4}|\d{2})(?:,?\s+(.*))?$`)
)

// OrderIn looks at all dates of a column for one that only one order can read.
func (t *Table) OrderIn(column int) Order {
	day, month := false, false
	_ = t.Each(func(_ int, cells []string) error { // a bound that is passed shows again when the rows are read
		if m := numericDate.FindStringSubmatch(dateCell(at(cells, column))); m != nil {
			a, _ := strconv.Atoi(m[1])
			b, _ := strconv.Atoi(m[2])
			day = day || a > 12 && b <= 12
			month = month || b > 12 && a <= 12
		}
		return nil
	})
	switch {
	case day && month:
		return OrderMixed
	case day:
		return DayFirst
	case month:
		return MonthFirst
	}
	return OrderUnknown
}

func dateCell(s string) string {
	if len(s) > 60 {
		return ""
	}
	return strings.TrimSpace(s)
}

// ParseDay reads a date and gives what stands behind it, a time perhaps. Two-digit years are read as 2000 and
// later, and refused when that lies ahead of next year or today is not known.
func ParseDay(s string, order Order, today time.Time) (d Day, rest string, err error) {
	s = dateCell(s)
	var year string
	switch {
	case isoDate.MatchString(s):
		m := isoDate.FindStringSubmatch(s)
		d, year, rest = Day{Month: month(m[3]), Day: number(m[4])}, m[1], m[5]
	case compactDate.MatchString(s):
		m := compactDate.FindStringSubmatch(s)
		d, year, rest = Day{Month: month(m[2]), Day: number(m[3])}, m[1], m[4]
	case numericDate.MatchString(s):
		m := numericDate.FindStringSubmatch(s)
		a, b := number(m[1]), number(m[2])
		year, rest = m[3], m[4]
		switch {
		case a > 12 && b > 12:
			return d, "", errors.New("no month has this number")
		case a > 12 || a == b:
			d = Day{Month: time.Month(b), Day: a}
		case b > 12:
			d = Day{Month: time.Month(a), Day: b}
		case order == DayFirst:
			d = Day{Month: time.Month(b), Day: a}
		case order == MonthFirst:
			d = Day{Month: time.Month(a), Day: b}
		default:
			return d, "", ErrDateOrder
		}
		// A stated or proven order is kept to: a date that fits only the other one is a slip somewhere.
		if order == DayFirst && b > 12 || order == MonthFirst && a > 12 {
			return d, "", errors.New("is not written " + string(order) + " as the others are")
		}
	default:
		m := dayMonth.FindStringSubmatch(s)
		if m != nil && monthName(m[2]) != 0 {
			d, year, rest = Day{Month: monthName(m[2]), Day: number(m[1])}, m[3], m[4]
			break
		}
		if m = monthDay.FindStringSubmatch(s); m != nil && monthName(m[1]) != 0 {
			d, year, rest = Day{Month: monthName(m[1]), Day: number(m[2])}, m[3], m[4]
			break
		}
		if v, err := strconv.ParseFloat(s, 64); err == nil && v > 20000 && v < 80000 {
			return d, "", errors.New("is a spreadsheet's day number; format the column as dates and export it again")
		}
		return d, "", errors.New("is not a date with a year")
	}
	d.Year = number(year)
	if len(year) == 2 {
		if d.Year += 2000; today.IsZero() || d.Year > today.Year()+1 {
			return d, "", errors.New("has a year of two digits that may be of another century; write all four")
		}
	}
	if d.Year < firstYear || d.Year > lastYear {
		return d, "", fmt.Errorf("is not in the years %d to %d", firstYear, lastYear)
	}
	if !d.exists() {
		return d, "", errors.New("is not in the calendar")
	}
	return d, strings.TrimSpace(rest), nil
}

func number(s string) int {
	n, err := strconv.Atoi(s) // digits only, by the expressions above
	if err != nil {
		return -1
	}
	return n
}

func month(s string) time.Month { return time.Month(number(s)) }

// monthName reads an English month by its first three letters or more.
func monthName(s string) time.Month {
	s = strings.ToLower(s)
	for m := time.January; m <= time.December; m++ {
		full := strings.ToLower(m.String())
		if len(s) >= 3 && strings.HasPrefix(full, s) || s == "sept" && m == time.September {
			return m
		}
	}
	return 0
}

// Clock is a time of day as written.
type Clock struct {
	Hour, Minute, Second int
	Bare                 bool           // written without am or pm, and read on the 24-hour clock
	Offset               *time.Location // as stated behind the time; nil when none is
}

var (
	clockTime = regexp.MustCompile(`(?i)^(\d{1,2})[:.h](\d{2})(?:[:.](\d{2})(?:\.\d+)?)?\s*(a\.?m\.?|p\.?m\.?|h|hrs)?\s*(Z|UTC|[+-]\d{2}:?\d{2})?$`)
	clockRun  = regexp.MustCompile(`(?i)^(\d{1,2})(\d{2})\s*(a\.?m\.?|p\.?m\.?|h|hrs)?$`)
	clockHour = regexp.MustCompile(`(?i)^(\d{1,2})\s*(a\.?m\.?|p\.?m\.?)$`)
)

// ParseClock reads 9:05, 9.05, 0905, 9:05 am, 2 pm, 14h05, 09:05:30Z, 14:05-06:00 and noon.
func ParseClock(s string) (c Clock, err error) {
	bad := errors.New("is not a time of day")
	if len(s) > 40 {
		return c, bad
	}
	s = strings.TrimSpace(s)
	half, offset := "", ""
	if m := clockTime.FindStringSubmatch(s); m != nil {
		c.Hour, c.Minute, half, offset = number(m[1]), number(m[2]), m[4], m[5]
		if m[3] != "" {
			c.Second = number(m[3])
		}
	} else if m := clockRun.FindStringSubmatch(s); m != nil {
		c.Hour, c.Minute, half = number(m[1]), number(m[2]), m[3]
	} else if m := clockHour.FindStringSubmatch(s); m != nil {
		c.Hour, half = number(m[1]), m[2]
	} else if strings.EqualFold(s, "noon") {
		return Clock{Hour: 12}, nil
	} else {
		return c, bad
	}
	switch half = strings.ToLower(half); {
	case half == "" || half[0] == 'h':
		c.Bare = offset == ""
	case c.Hour < 1 || c.Hour > 12:
		return c, errors.New("has am or pm with an hour beyond 12")
	default:
		c.Hour %= 12
		if half[0] == 'p' {
			c.Hour += 12
		}
	}
	if c.Hour > 23 || c.Minute > 59 || c.Second > 59 {
		return c, bad
	}
	if offset != "" {
		c.Offset, err = parseOffset(offset)
	}
	return c, err
}

func parseOffset(s string) (*time.Location, error) {
	if s == "Z" || s == "z" || strings.EqualFold(s, "utc") {
		return time.UTC, nil
	}
	digits := strings.ReplaceAll(s[1:], ":", "")
	h, m := number(digits[:2]), number(digits[2:])
	if h > 14 || m > 59 {
		return nil, errors.New("has an offset from UTC that no place has")
	}
	seconds := 3600*h + 60*m
	if s[0] == '-' {
		seconds = -seconds
	}
	return time.FixedZone(s, seconds), nil
}

// Instants gives the instants at which the clocks of a zone show a day and time: one as a rule, two in the hour that is
// repeated when clocks go back, none in the hour that is left out when they go forward.
func Instants(d Day, c Clock, zone *time.Location) []time.Time {
	if c.Offset != nil {
		zone = c.Offset
	}
	wall := time.Date(d.Year, d.Month, d.Day, c.Hour, c.Minute, c.Second, 0, time.UTC)
	var found []time.Time
	for _, probe := range []time.Duration{-24 * time.Hour, 24 * time.Hour} { // the offset before and after any change nearby
		_, offset := wall.Add(probe).In(zone).Zone()
		u := wall.Add(-time.Duration(offset) * time.Second)
		_, real := u.In(zone).Zone()
		if real == offset && (len(found) == 0 || !found[0].Equal(u)) {
			found = append(found, u)
		}
	}
	if len(found) == 2 && found[1].Before(found[0]) {
		found[0], found[1] = found[1], found[0]
	}
	return found
}

// DateColumn finds the column of dates and the order in which it writes them: as mapped, else by the evidence of all its
// rows. It is -1 when there is none; then the column of times, whose cells may hold both, gives the order.
func (t *Table) DateColumn() (int, Order) {
	if i := t.Column(DateDMY); i >= 0 {
		return i, DayFirst
	}
	if i := t.Column(DateMDY); i >= 0 {
		return i, MonthFirst
	}
	if i := t.Column(Date); i >= 0 {
		return i, t.OrderIn(i)
	}
	if i := t.Column(Time); i >= 0 {
		return -1, t.OrderIn(i)
	}
	return -1, OrderUnknown
}

// StartOfDay gives the first instant of a day in a zone.
func StartOfDay(d Day, zone *time.Location) time.Time {
	return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, zone).UTC()
}
