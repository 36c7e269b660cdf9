package rules

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// subject says what may stand between a rule's word and the colon.
type subject int

const (
	nothing    subject = iota
	oneSpecies         // perch
	species            // perch, or perch+walleye counted together
	anySpecies         // perch, perch+walleye, or nothing
	placeName          // a name
)

// form is how one kind of rule is written.
type form struct {
	kind    Kind
	subject subject
	choices []string // from the strictest
	read    func(value string, r *Rule) error
	how     string // the value, for people
}

// forms lists every kind of rule with its form; docs/rule-books.md explains them in this order.
var forms = []form{
	{kind: Season, subject: anySpecies, read: readSeason, how: "1 Dec to 31 Mar, all year, or closed"},
	{kind: Hours, subject: anySpecies, read: readHours, how: "07:00 to 17:30, 30 min before sunrise to sunset, or any hour"},
	{kind: Zone, subject: placeName, choices: []string{"closed", "no vehicles", "refuge until the ice is reported"}},
	{kind: Daily, subject: species, read: readCount, how: "20"},
	{kind: Possession, subject: species, read: readCount, how: "40"},
	{kind: Yearly, subject: species, read: readCount, how: "100"},
	{kind: Least, subject: oneSpecies, read: readLength, how: "38 cm"},
	{kind: Most, subject: oneSpecies, read: readLength, how: "60 cm"},
	{kind: PutBack, subject: oneSpecies, read: readRange, how: "43 cm to 55 cm: such fish go back"},
	{kind: KeepOnly, subject: oneSpecies, read: readRange, how: "43 cm to 55 cm: only such fish may be kept"},
	{kind: Over, subject: oneSpecies, read: readOver, how: "1 over 50 cm"},
	{kind: Release, subject: oneSpecies, choices: []string{"always"}},
	{kind: Tag, subject: oneSpecies, choices: []string{"each fish kept"}},
	{kind: Counted, choices: []string{"calendar day", "any 24 hours"}},
	{kind: Replacing, choices: []string{"never", "not at the limit", "lawful"}},
	{kind: Pooling, choices: []string{"no", "in sight and voice", "party"}},
	{kind: GuideFish, choices: []string{"none", "own limit"}},
	{kind: Eaten, choices: []string{"still held", "no longer held"}},
	{kind: Gifts, choices: []string{"none", "with a signed and dated note", "lawful"}},
	{kind: Trips, choices: []string{"one a day", "any"}},
	{kind: AfterLimit, choices: []string{"stop fishing for it", "may fish and put back"}},
	{kind: Lines, read: readCount, how: "2"},
	{kind: Attended, choices: []string{"always", "every hour", "no"}},
	{kind: Hooks, read: readCount, how: "3"},
	{kind: HoleMost, read: readLength, how: "30 cm across"},
	{kind: HoleMarked, choices: []string{"always", "when left", "no"}},
	{kind: ShelterName, read: readLength, how: "5 cm: height of the letters"},
	{kind: ShelterOff, read: readDay, how: "15 Mar"},
	{kind: ShelterEnd, read: readDay, how: "31 Mar"},
	{kind: Carried, choices: []string{"own fish only", "party's fish"}},
	{kind: Cleaning, subject: oneSpecies, choices: []string{"whole on the ice", "gutted only", "fillets with skin patch", "lawful"}},
	{kind: Packs, choices: []string{"one fish a pack", "countable and named"}},
	{kind: Bait, choices: []string{"no live bait", "only with its papers", "lawful"}},
	{kind: Litter, choices: []string{"carried out daily"}},
	{kind: Licence, choices: []string{"carried", "within reach"}},
	{kind: LicenceFrom, read: readCount, how: "16"},
	{kind: Report, read: readReport, how: "before leaving, within 30 min of returning, or by day 10 of the next month"},
	{kind: ReportHolds, choices: []string{"licence numbers", "no licence numbers"}},
	{kind: ReportNil, choices: []string{"yes", "no"}},
}

// formOf finds the form that a line's head begins with; the longest word counts.
func formOf(head string) (f form, rest string, ok bool) {
	for _, x := range forms {
		k := string(x.kind)
		if (head == k || strings.HasPrefix(head, k+" ")) && len(k) > len(f.kind) {
			f, rest, ok = x, strings.TrimSpace(strings.TrimPrefix(head, k)), true
		}
	}
	return f, rest, ok
}

// values says how a form's value is written.
func (f form) values() string {
	if len(f.choices) > 0 {
		return strings.Join(f.choices, ", ")
	}
	return f.how
}

// value reads what stands after the colon.
func (f form) value(text string, r *Rule) error {
	if f.read != nil {
		return f.read(text, r)
	}
	r.Choice = slices.Index(f.choices, text)
	if r.Choice < 0 {
		return fmt.Errorf("%q is none of %s", text, f.values())
	}
	return nil
}

// mostCount bounds a limit: a larger one is a slip of the hand.
const mostCount = 10_000

func readCount(text string, r *Rule) error {
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 || n > mostCount {
		return fmt.Errorf("%q is no count from 0 to %d", text, mostCount)
	}
	r.Count = n
	return nil
}

func readLength(text string, r *Rule) (err error) {
	text = strings.TrimSuffix(strings.TrimPrefix(text, "at most "), " across")
	r.Low, _, err = quantity.ParseLength(text, 0)
	if err == nil && r.Low <= 0 {
		err = fmt.Errorf("%q is no length", text)
	}
	return err
}

func readRange(text string, r *Rule) (err error) {
	low, high, ok := strings.Cut(text, " to ")
	if !ok {
		return fmt.Errorf("%q tells no range such as 43 cm to 55 cm", text)
	}
	if r.High, _, err = quantity.ParseLength(high, 0); err != nil {
		return err
	}
	_, unit, _ := quantity.ParseLength(high, 0)
	fallback, _ := quantity.LengthUnit(unit)
	if r.Low, _, err = quantity.ParseLength(low, fallback); err != nil {
		return err
	}
	if r.Low <= 0 || r.Low >= r.High {
		return fmt.Errorf("%q: the range ends before it begins", text)
	}
	return nil
}

func readOver(text string, r *Rule) error {
	count, size, ok := strings.Cut(text, " over ")
	if !ok {
		return fmt.Errorf("%q tells no number over a size, such as 1 over 50 cm", text)
	}
	if err := readCount(count, r); err != nil {
		return err
	}
	return readLength(size, r)
}

// readMonthDay reads 15 Mar.
func readMonthDay(text string) (MonthDay, error) {
	for _, layout := range []string{"2 Jan 2006", "2 January 2006"} {
		if t, err := time.Parse(layout, text+" 2024"); err == nil { // a leap year: 29 Feb is a day
			return MonthDay{t.Month(), t.Day()}, nil
		}
	}
	return MonthDay{}, fmt.Errorf("%q is no day such as 15 Mar", text)
}

func readDay(text string, r *Rule) (err error) {
	r.From, err = readMonthDay(text)
	return err
}

func readSeason(text string, r *Rule) (err error) {
	switch text {
	case "closed":
		r.Closed = true
		return nil
	case "all year":
		r.From, r.To = MonthDay{time.January, 1}, MonthDay{time.December, 31}
		return nil
	}
	from, to, ok := strings.Cut(text, " to ")
	if !ok {
		return fmt.Errorf("%q tells no season such as 1 Dec to 31 Mar", text)
	}
	if r.From, err = readMonthDay(from); err != nil {
		return err
	}
	r.To, err = readMonthDay(to)
	return err
}

var beside = regexp.MustCompile(`^(?:([0-9]+) min (before|after) )?(sunrise|sunset)$`)

// readClock reads 17:30, sunset, or 30 min after sunset.
func readClock(text string) (Clock, error) {
	if m := beside.FindStringSubmatch(text); m != nil {
		n, err := strconv.Atoi("0" + m[1])
		if err != nil || n > 12*60 {
			return Clock{}, fmt.Errorf("%q is too long before or after", text)
		}
		if m[2] == "before" {
			n = -n
		}
		return Clock{m[3], n}, nil
	}
	if text == "24:00" {
		return Clock{Minutes: 24 * 60}, nil
	}
	t, err := time.Parse("15:04", text)
	if err != nil {
		return Clock{}, fmt.Errorf("%q is no hour such as 17:30 or 30 min after sunset", text)
	}
	return Clock{Minutes: t.Hour()*60 + t.Minute()}, nil
}

func readHours(text string, r *Rule) (err error) {
	if text == "any hour" {
		r.Closes.Minutes = 24 * 60
		return nil
	}
	from, to, ok := strings.Cut(text, " to ")
	if !ok {
		return fmt.Errorf("%q tells no hours such as 07:00 to 17:30", text)
	}
	if r.Opens, err = readClock(from); err != nil {
		return err
	}
	if r.Closes, err = readClock(to); err != nil {
		return err
	}
	if r.Opens.Sun == r.Closes.Sun && r.Opens.Minutes >= r.Closes.Minutes {
		return fmt.Errorf("%q: the hours end before they begin", text)
	}
	return nil
}

var reports = regexp.MustCompile(`^(before leaving|within ([0-9]+) min of returning|by day ([0-9]+) of the next month)$`)

func readReport(text string, r *Rule) error {
	m := reports.FindStringSubmatch(text)
	if m == nil {
		return fmt.Errorf("%q is none of before leaving, within 30 min of returning, by day 10 of the next month", text)
	}
	for i, most := range map[int]int{2: 24 * 60, 3: 28} {
		if m[i] == "" {
			continue
		}
		n, err := strconv.Atoi(m[i])
		if err != nil || n < 1 || n > most {
			return fmt.Errorf("%q: %s is not from 1 to %d", text, m[i], most)
		}
		r.Count, r.Choice = n, i-1
	}
	return nil
}

// Due gives the last day on which a report of a day is owed, by a rule of the kind [Report].
func (r Rule) Due(day journal.Day) journal.Day {
	if r.Kind != Report || r.Choice != 2 {
		return day
	}
	t := day.Midnight(time.UTC)
	return journal.DayOf(time.Date(t.Year(), t.Month()+1, r.Count, 0, 0, 0, 0, time.UTC), time.UTC)
}
