// Package paper answers what an agency's form wants to hear of a day: it fills rows by a field map, says what is missing,
// and when the form is due.
//
// Start with [Parse], which reads a form as the outfit entered it; then [Form.Fill] for a trip, [Form.Due] for its deadline
// and [Form.Nil] for a month without a trip. A field is taken from a fixed list of facts or is a constant: never free text.
// Forms are the outfit's data, dated and checked by it; none ships as truth. It assumes that fish were counted elsewhere,
// and holds its own sums against theirs.
package paper

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
)

// Form is an agency's form as a field map.
type Form struct {
	Key     string  `json:"form"`    // short name, letters and hyphens
	Title   string  `json:"title"`   // as printed
	Source  string  `json:"source"`  // where the outfit has it from
	Revised string  `json:"revised"` // date of the agency's edition
	Rows    string  `json:"rows"`    // trip: one row a trip; client: one a client
	Fields  []Field `json:"fields"`
	Rule    Rule    `json:"due"`
	NilToo  bool    `json:"nil_months"` // months without a trip are reported too
}

// Field is one column of a form.
type Field struct {
	Label   string `json:"label"`
	From    string `json:"from"` // one of [Facts]
	Species string `json:"species,omitempty"`
	Text    string `json:"text,omitempty"` // with from = constant
	Need    bool   `json:"need,omitempty"` // the form is not complete without it
	// Exempt names ages (child, adult, elder) of clients who need not have it, as the outfit's rules say.
	Exempt []string `json:"exempt,omitempty"`
}

// Rule says when a form is due. Of several, the earliest counts.
type Rule struct {
	AfterReturn    int  `json:"minutes_after_return,omitempty"`
	BeforeMidnight bool `json:"before_midnight,omitempty"`
	NextMonth      int  `json:"day_of_next_month,omitempty"`
}

// Facts lists what a field may be taken from.
func Facts() []string {
	return []string{"guide_name", "guide_licence", "date", "water", "client_name", "client_licence", "client_age", "anglers", "lines", "rod_hours", "hours_out", "out", "returned",
		"kept", "released", "constant"}
}

// Person is somebody on a trip.
type Person struct {
	Name, Licence, Age string
	Kept, Released     map[string]int // by species
}

// Trip is what a day's record tells.
type Trip struct {
	Date          time.Time // midnight of the day, in the lake's zone
	Water         string
	Guides        []Person
	Clients       []Person
	Lines         int
	RodTime       time.Duration
	Out, Returned time.Time // zero when nobody reported
	Nobody        Person    // fish that nobody was named for
}

// Parse reads a form. What is wrong in it is named with the field.
func Parse(data []byte) (Form, error) {
	var f Form
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&f); err != nil {
		return f, fault.Wrap(err, fault.BadInput, "docs/paper.md shows one; copy it and change it.", "the form cannot be read: %s", strings.TrimPrefix(err.Error(), "json: "))
	}
	if dec.More() {
		return f, bad("there is more than one form in it")
	}
	if f.Key == "" || len(f.Key) > 40 || strings.ContainsFunc(f.Key, func(r rune) bool { return r != '-' && (r < 'a' || r > 'z') && (r < '0' || r > '9') }) {
		return f, bad("its short name %q is not made of small letters, figures and hyphens", f.Key)
	}
	if f.Title == "" || f.Source == "" {
		return f, bad("it lacks its title or where it is from")
	}
	if _, err := time.Parse(time.DateOnly, f.Revised); err != nil {
		return f, bad("revised %q is not a date", f.Revised)
	}
	if f.Rows != "trip" && f.Rows != "client" {
		return f, bad("rows %q is neither trip nor client", f.Rows)
	}
	if len(f.Fields) == 0 || len(f.Fields) > 60 {
		return f, bad("it has %d fields", len(f.Fields))
	}
	for i, x := range f.Fields {
		if err := f.check(x); err != nil {
			return f, bad("field %d (%s) %s", i+1, x.Label, err)
		}
	}
	d := f.Rule
	if d.AfterReturn < 0 || d.AfterReturn > 7*24*60 || d.NextMonth < 0 || d.NextMonth > 28 || d.AfterReturn == 0 && !d.BeforeMidnight && d.NextMonth == 0 {
		return f, bad("due is not told: minutes after return, before midnight, or a day from 1 to 28 of the next month")
	}
	return f, nil
}

func bad(format string, args ...any) error {
	return fault.New(fault.BadInput, "Correct it and enter it again; docs/paper.md explains every part.", "the form: "+format, args...)
}

func (f Form) check(x Field) error {
	client := strings.HasPrefix(x.From, "client_")
	switch {
	case x.Label == "":
		return fmt.Errorf("has no label")
	case !slices.Contains(Facts(), x.From):
		return fmt.Errorf("is taken from %q, which is none of %s", x.From, strings.Join(Facts(), ", "))
	case client && f.Rows != "client":
		return fmt.Errorf("is about one client, and the form has one row a trip")
	case len(x.Exempt) > 0 && !client:
		return fmt.Errorf("exempts ages and is about no client")
	case slices.ContainsFunc(x.Exempt, func(a string) bool { return a != "child" && a != "adult" && a != "elder" }):
		return fmt.Errorf("exempts an age that is none of child, adult, elder")
	case x.Text != "" && x.From != "constant":
		return fmt.Errorf("has a text and is no constant")
	case x.Species != "" && x.From != "kept" && x.From != "released":
		return fmt.Errorf("has a species and counts no fish")
	}
	return nil
}

// Filled is a form for one trip.
type Filled struct {
	Form    Form
	Head    []string
	Rows    [][]string
	Missing []string // what the form needs and the record lacks
	Sums    []Sum    // of each count of fish, for the cross-check
}

// Sum holds a column's sum against the day's own count.
type Sum struct {
	Label       string
	Rows, Tally int
}

// Agrees tells whether they are the same.
func (s Sum) Agrees() bool { return s.Rows == s.Tally }

// Fill fills the form for a trip.
func (f Form) Fill(t Trip) Filled {
	out := Filled{Form: f}
	for _, x := range f.Fields {
		out.Head = append(out.Head, x.Label)
	}
	clients := t.Clients
	if f.Rows == "trip" {
		clients = []Person{total(t.Clients)}
	}
	miss := func(what string) {
		if !slices.Contains(out.Missing, what) {
			out.Missing = append(out.Missing, what)
		}
	}
	for _, c := range clients {
		var row []string
		for _, x := range f.Fields {
			v := x.value(t, c)
			if v == "" && slices.Contains(x.Exempt, c.Age) {
				v = "exempt"
			}
			if v == "" && x.Need {
				if strings.HasPrefix(x.From, "client_") && c.Name != "" {
					miss(x.Label + " of " + c.Name)
				} else {
					miss(x.Label)
				}
			}
			row = append(row, v)
		}
		out.Rows = append(out.Rows, row)
	}
	if len(clients) == 0 {
		miss("clients: nobody is recorded for the day")
	}
	all := total(append(slices.Clone(t.Clients), t.Nobody))
	for i, x := range f.Fields {
		if x.From != "kept" && x.From != "released" {
			continue
		}
		s := Sum{Label: x.Label, Tally: all.count(x)}
		for _, row := range out.Rows {
			n, _ := strconv.Atoi(row[i]) // made by count
			s.Rows += n
		}
		out.Sums = append(out.Sums, s)
		if !s.Agrees() {
			miss(fmt.Sprintf("%s: the rows hold %d, the day %d; give every fish a name", x.Label, s.Rows, s.Tally))
		}
	}
	return out
}

// count gives fish kept or released, of one species or of all.
func (p Person) count(x Field) int {
	m := p.Kept
	if x.From == "released" {
		m = p.Released
	}
	if x.Species != "" {
		return m[x.Species]
	}
	n := 0
	for _, k := range m {
		n += k
	}
	return n
}

// total adds people up.
func total(people []Person) Person {
	t := Person{Kept: map[string]int{}, Released: map[string]int{}}
	for _, p := range people {
		for s, n := range p.Kept {
			t.Kept[s] += n
		}
		for s, n := range p.Released {
			t.Released[s] += n
		}
	}
	return t
}

func (x Field) value(t Trip, c Person) string {
	join := func(of func(Person) string) string {
		var all []string
		for _, g := range t.Guides {
			if s := of(g); s != "" {
				all = append(all, s)
			}
		}
		return strings.Join(all, "; ")
	}
	clock := func(at time.Time) string {
		if at.IsZero() {
			return ""
		}
		return at.In(t.Date.Location()).Format("15:04")
	}
	hours := func(d time.Duration) string {
		if d <= 0 {
			return ""
		}
		return strconv.FormatFloat(d.Hours(), 'f', 1, 64)
	}
	switch x.From {
	case "guide_name":
		return join(func(p Person) string { return p.Name })
	case "guide_licence":
		return join(func(p Person) string { return p.Licence })
	case "date":
		return t.Date.Format(time.DateOnly)
	case "water":
		return t.Water
	case "client_name":
		return c.Name
	case "client_licence":
		return c.Licence
	case "client_age":
		return c.Age
	case "anglers":
		return strconv.Itoa(len(t.Clients))
	case "lines":
		if t.Lines == 0 {
			return ""
		}
		return strconv.Itoa(t.Lines)
	case "rod_hours":
		return hours(t.RodTime)
	case "hours_out":
		if t.Out.IsZero() || t.Returned.IsZero() {
			return ""
		}
		return hours(t.Returned.Sub(t.Out))
	case "out":
		return clock(t.Out)
	case "returned":
		return clock(t.Returned)
	case "kept", "released":
		return strconv.Itoa(c.count(x))
	}
	return x.Text
}

// Due gives the instant by which the form of a trip must be made; a party that did not report ashore is taken as ashore at
// the end of the day, so that a deadline by the minute is never told too late.
func (f Form) Due(date, returned time.Time) time.Time {
	midnight := time.Date(date.Year(), date.Month(), date.Day()+1, 0, 0, 0, 0, date.Location())
	var due time.Time
	sooner := func(t time.Time) {
		if due.IsZero() || t.Before(due) {
			due = t
		}
	}
	if f.Rule.AfterReturn > 0 && !returned.IsZero() {
		sooner(returned.Add(time.Duration(f.Rule.AfterReturn) * time.Minute))
	}
	if f.Rule.BeforeMidnight || f.Rule.AfterReturn > 0 && returned.IsZero() {
		sooner(midnight)
	}
	if f.Rule.NextMonth > 0 {
		sooner(f.monthDue(date))
	}
	return due
}

// monthDue is the end of the day of the next month by which a month is reported.
func (f Form) monthDue(date time.Time) time.Time {
	return time.Date(date.Year(), date.Month()+1, f.Rule.NextMonth+1, 0, 0, 0, 0, date.Location())
}

// Month is what a form wants for one month.
type Month struct {
	First time.Time // of the month
	Trips int
	Nil   bool // no trip, and the form wants that reported
	Due   time.Time
}

// Months lists the months from the first to the last day given for which something is due: those with trips, and those
// without where the form wants them.
func (f Form) Months(from, to time.Time, trips []time.Time) (out []Month) {
	first := time.Date(from.Year(), from.Month(), 1, 0, 0, 0, 0, from.Location())
	for m := first; !m.After(to); m = m.AddDate(0, 1, 0) {
		x := Month{First: m}
		for _, t := range trips {
			if t.Year() == m.Year() && t.Month() == m.Month() {
				x.Trips++
			}
		}
		if x.Nil = x.Trips == 0; x.Nil && !f.NilToo {
			continue
		}
		if f.Rule.NextMonth > 0 {
			x.Due = f.monthDue(m)
		} else if x.Nil {
			x.Due = m.AddDate(0, 1, 0)
		}
		out = append(out, x)
	}
	return out
}
