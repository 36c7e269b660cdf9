// Package station answers how cold the past days were at a weather station: daily means, for the frost that made the ice.
//
// Start with [Read], which takes a file of GHCN-Daily, fixed-width (.dly), one reading a line (long CSV) or one day a line
// (access CSV) [GHCND], or the daily climate of Canada's GeoMet as CSV or JSON [GeoMet]; then [Record.Means] for a span of
// days without holes, and [Sums] for its freezing-degree days.
// It assumes what the formats say: tenths of a degree, millimetres of snow and -9999 for missing in GHCN-Daily, degrees and
// centimetres in GeoMet. A reading that failed a check of its publisher is missing. A daily mean is the middle of highest and lowest.
// It leaves out every other element, and the hour of observation: a station read in the morning writes yesterday's highest
// under today's date, which moves a night by a day and leaves the sum of a season alone.
package station

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
)

// Day is what a station read on one day. Nil is missing.
type Day struct {
	Date     file.Day
	Max, Min *quantity.Celsius
	Snow     *quantity.Length // on the ground
}

// Record is the days of one station in order, each at most once; days are missing where nothing was read.
type Record struct {
	Station string
	Days    []Day
}

// MaxGap is the longest run of days without a mean that is filled, in a straight line between its neighbours. Beyond it
// another station must be asked. Common practice, no source.
const MaxGap = 3

// number counts a day from the start of 1970.
func number(d file.Day) int {
	return int(time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// Mean gives the middle of highest and lowest; ok is false when either is missing.
func (d Day) Mean() (t quantity.Celsius, ok bool) {
	if d.Max == nil || d.Min == nil {
		return 0, false
	}
	return quantity.Celsius((d.Max.Degrees() + d.Min.Degrees()) / 2), true
}

// Means gives one daily mean for every day from first to last. Runs of at most [MaxGap] days without one are filled and
// counted; a longer run, or a day missing at either end, is a fault that names the days.
func (r Record) Means(first, last file.Day) (means []quantity.Celsius, filled int, err error) {
	from, to := number(first), number(last)
	if to < from || to-from > maxSpan {
		return nil, 0, fault.New(fault.BadInput, "", "%s to %s is not a season", first, last)
	}
	means = make([]quantity.Celsius, to-from+1)
	known := make([]bool, len(means))
	for _, d := range r.Days {
		if n := number(d.Date); n >= from && n <= to {
			means[n-from], known[n-from] = d.Mean()
		}
	}
	before := -1 // the day with a mean before
	for i := 0; i <= len(means); i++ {
		if i < len(means) && !known[i] {
			continue
		}
		gap := i - before - 1
		if gap > MaxGap || gap > 0 && (before < 0 || i == len(means)) {
			return nil, 0, fault.New(fault.BadInput, "Take another station, or a span that it covers.", "station %s has no mean from %s to %s", r.Station, first.Add(before+1), first.Add(i-1))
		}
		for k := before + 1; k < i; k++ {
			a, b := means[before].Degrees(), means[i].Degrees()
			means[k] = quantity.Celsius(a + (b-a)*float64(k-before)/float64(i-before))
			filled++
		}
		before = i
	}
	return means, filled, nil
}

// LastSpan gives the means from the last first of July before the record ends, or from its first day when that is later, to its
// last day: the frost season as far as it has come, in the north. Days without a mean at its ends are left off.
func (r Record) LastSpan() (means []quantity.Celsius, filled int, first file.Day, err error) {
	own := Record{Station: r.Station}
	for _, d := range r.Days {
		if _, ok := d.Mean(); ok {
			own.Days = append(own.Days, d)
		}
	}
	if len(own.Days) == 0 {
		return nil, 0, first, fault.New(fault.BadInput, "", "station %s has no day with a mean", r.Station)
	}
	last := own.Days[len(own.Days)-1].Date
	first = file.Day{Year: last.Year, Month: time.July, Day: 1}
	if last.Month < time.July {
		first.Year--
	}
	for _, d := range own.Days {
		if number(d.Date) >= number(first) {
			first = d.Date
			break
		}
	}
	means, filled, err = own.Means(first, last)
	return means, filled, first, err
}

// maxSpan is the most days of a span: a good year and a half.
const maxSpan = 600

// Sums gives the freezing-degree days of daily means, oldest first: of the frost alone, and with thaw taken off again, never below zero.
func Sums(means []quantity.Celsius) (frost, net quantity.DegreeDays) {
	for _, t := range means {
		frost += quantity.DegreeDays(math.Max(0, -t.Degrees()))
		net = quantity.DegreeDays(math.Max(0, float64(net)-t.Degrees()))
	}
	return frost, net
}

// Read reads a file. Rows of the preview are lines of the three elements that are used.
func Read(name string, data []byte, opt file.Options) (Record, file.Preview, error) {
	r := reader{p: &file.Preview{Kind: file.Station, Name: name}, days: map[int]*Day{}, seen: map[string]int{}}
	format, err := file.FormatOf(data, opt)
	switch {
	case err != nil:
		return Record{}, *r.p, err
	case format == file.FormatJSON:
		if err := r.features(data, opt); err != nil {
			return Record{}, *r.p, err
		}
		return r.finish()
	case format != file.FormatDaily:
		return Record{}, *r.p, fault.New(fault.BadInput, "Fetch the station's .dly file of GHCN-Daily, or its daily climate from GeoMet.", "%s is %s, not daily readings of a station", name, format)
	case file.DailyHeader(data):
		if err := r.table(data); err != nil {
			return Record{}, *r.p, err
		}
		return r.finish()
	}
	n := 0
	for line := range strings.Lines(string(data)) {
		if n++; n > file.MaxRows {
			return Record{}, *r.p, fault.New(fault.BadInput, "Cut out the one station and its last years.", "the file has more than %d lines", file.MaxRows)
		}
		if line = strings.TrimRight(line, "\r\n"); strings.TrimSpace(line) == "" {
			continue
		}
		if len(line) > 11 && line[11] == ',' {
			r.long(n, line)
		} else {
			r.fixed(n, line)
		}
	}
	return r.finish()
}

type reader struct {
	p       *file.Preview
	station string
	days    map[int]*Day
	seen    map[string]int // what a line is about -> line
	other   int            // lines of other elements
	missing int
	flagged int
	strange int // values that no thermometer shows
	mixed   bool
	changed bool // numbers have decimal points where the layout has none: somebody has changed the units
}

// fixed reads a month of one element: ID 1-11, year 12-15, month 16-17, element 18-21, then for each day a value of 5
// columns and three flags, the second of which tells of a failed check [GHCND, section III].
func (r *reader) fixed(n int, line string) {
	if len(line) < 21 {
		r.p.Rows++
		r.p.Refuse(n, "", line, "the line is too short", "")
		return
	}
	element := line[17:21]
	if !used(element) {
		r.other++
		return
	}
	r.p.Rows++
	year, err := strconv.Atoi(line[11:15])
	month, err2 := strconv.Atoi(line[15:17])
	if err != nil || err2 != nil || month < 1 || month > 12 || year < 1750 || year > 2100 {
		r.p.Refuse(n, "month", line[11:17], "is not a month", "")
		return
	}
	if !r.about(n, line[:11], line[:21]) {
		return
	}
	days := time.Date(year, time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC).Day()
	if len(line) < 21+8*days-3 { // flags that are blank may have been trimmed
		r.p.Refuse(n, "", "", fmt.Sprintf("the line is cut off: %d of %d columns", len(line), 21+8*days), "")
		return
	}
	r.p.Taken++
	line += "   "
	for d := 1; d <= days; d++ {
		at := 21 + 8*(d-1)
		r.reading(n, file.Day{Year: year, Month: time.Month(month), Day: d}, element, strings.TrimSpace(line[at:at+5]), line[at+6] != ' ')
	}
}

// long reads one reading: ID, date, element, value, and flags for measurement, quality and source.
func (r *reader) long(n int, line string) {
	cells := strings.Split(line, ",")
	if len(cells) > 2 && !used(cells[2]) {
		r.other++
		return
	}
	r.p.Rows++
	if len(cells) < 6 || len(cells) > 20 {
		r.p.Refuse(n, "", line, "has not the cells of a reading", "")
		return
	}
	t, err := time.Parse("20060102", cells[1])
	if err != nil {
		r.p.Refuse(n, "date", cells[1], "is not a date", "")
		return
	}
	if !r.about(n, cells[0], strings.Join(cells[:3], ",")) {
		return
	}
	r.p.Taken++
	r.reading(n, file.Day{Year: t.Year(), Month: t.Month(), Day: t.Day()}, cells[2], strings.TrimSpace(cells[3]), strings.TrimSpace(cells[5]) != "")
}

func used(element string) bool { return element == "TMAX" || element == "TMIN" || element == "SNWD" }

// about notes what a line is about, and refuses another station or a second line about the same.
func (r *reader) about(n int, station, key string) bool {
	if r.station == "" {
		r.station = strings.Clone(station)
	}
	if station != r.station {
		r.mixed = true
		r.p.Refuse(n, "station", station, "is another station than that of the first line", "")
		return false
	}
	if first, ok := r.seen[key]; ok {
		r.p.Refuse(n, "", key, fmt.Sprintf("is about the same as row %d", first), "")
		return false
	}
	r.seen[strings.Clone(key)] = n
	return true
}

// reading keeps one value.
func (r *reader) reading(n int, date file.Day, element, text string, flagged bool) {
	v, err := strconv.Atoi(text)
	switch {
	case text == "-9999":
		r.missing++
	case flagged:
		r.flagged++
	case err != nil:
		r.strangeReading(n, date, element, text)
	case element == "SNWD":
		r.keep(n, date, element, text, float64(v))
	default:
		r.keep(n, date, element, text, float64(v)/10)
	}
}

func (r *reader) strangeReading(n int, date file.Day, element, text string) {
	r.strange++
	r.p.Remark(n, element, text, "of "+date.String()+" is no possible reading; taken as missing", "")
}

// keep keeps a value in degrees Celsius, or in millimetres of snow, unless no instrument can have shown it.
func (r *reader) keep(n int, date file.Day, element, text string, v float64) {
	if !(element == "SNWD" && v >= 0 && v <= 20_000 || element != "SNWD" && v >= -90 && v <= 60) {
		r.strangeReading(n, date, element, text)
		return
	}
	d := r.days[number(date)]
	if d == nil {
		d = &Day{Date: date}
		r.days[number(date)] = d
	}
	switch t := quantity.Celsius(v); element {
	case "TMAX":
		d.Max = &t
	case "TMIN":
		d.Min = &t
	case "SNWD":
		l := quantity.FromMillimetres(int64(math.Round(v)))
		d.Snow = &l
	}
}

// finish puts the days in order and says what they cover.
func (r *reader) finish() (Record, file.Preview, error) {
	p := r.p
	out := Record{Station: r.station}
	if r.mixed {
		p.Reject("", "", "it holds several stations", "Cut out the one nearest to the lake.")
	}
	if r.changed {
		p.Reject("", "", "its numbers have decimal points, which this layout has not: their unit is not known", "Fetch it without a conversion of units.")
	}
	numbers := make([]int, 0, len(r.days))
	for n := range r.days {
		numbers = append(numbers, n)
	}
	slices.Sort(numbers)
	complete := 0
	for _, n := range numbers {
		d := *r.days[n]
		out.Days = append(out.Days, d)
		if _, ok := d.Mean(); ok {
			complete++
		}
	}
	if complete == 0 && p.Err() == nil {
		p.Reject("", "", "it holds no day with a highest and a lowest temperature", "Take a station that reads temperatures.")
	}
	if r.other > 0 {
		p.Remark(0, "", "", fmt.Sprintf("%d lines of other elements are left out", r.other), "")
	}
	if r.flagged > 0 {
		p.Remark(0, "", "", fmt.Sprintf("%d readings failed a check of their publisher; taken as missing", r.flagged), "")
	}
	p.Sort()
	if err := p.Err(); err != nil {
		return Record{}, *p, err
	}
	p.Summary = append(p.Summary, fmt.Sprintf("Station %s: %d days with a mean, from %s to %s.", out.Station, complete, out.Days[0].Date, out.Days[len(out.Days)-1].Date))
	return out, *p, nil
}
