// Package rules answers what the rule book of an outfit says: it reads the local rules as somebody entered them, refuses a
// book that contradicts itself, and tells which version holds on a day and how far it may be trusted.
//
// Start with [Read] for the lines of a book and [Shelf.On] for the law of a day; then [Law.Caps], [Law.Size] and their fellows
// answer for one question each.
// It assumes nothing: laws are data that the outfit enters, dates and signs, and no rule is built in. What a book leaves
// out, and every book that is unsigned or out of date, is read the strictest way. docs/rule-books.md has the form.
// It leaves out counting fish (package tally), sunrise and sunset, and where zones lie: a book holds names and no positions.
package rules

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// Kind says what a rule is about.
type Kind string

// The kinds of rules, as a book writes them.
const (
	Season      Kind = "season"
	Hours       Kind = "hours"
	Zone        Kind = "zone"
	Daily       Kind = "daily"
	Possession  Kind = "possession"
	Yearly      Kind = "season total"
	Least       Kind = "least"
	Most        Kind = "most"
	PutBack     Kind = "put back"
	KeepOnly    Kind = "keep only"
	Over        Kind = "over"
	Release     Kind = "release"
	Tag         Kind = "tag"
	Counted     Kind = "counted"
	Replacing   Kind = "replacing"
	Pooling     Kind = "pooling"
	GuideFish   Kind = "guide fish"
	Eaten       Kind = "eaten"
	Gifts       Kind = "gifts"
	Trips       Kind = "trips"
	AfterLimit  Kind = "after the limit"
	Lines       Kind = "lines"
	Attended    Kind = "attended"
	Hooks       Kind = "hooks"
	HoleMost    Kind = "hole"
	HoleMarked  Kind = "holes marked"
	ShelterName Kind = "shelter name"
	ShelterOff  Kind = "shelter off daily from"
	ShelterEnd  Kind = "shelter gone by"
	Carried     Kind = "carried"
	Cleaning    Kind = "cleaning"
	Packs       Kind = "packs"
	Bait        Kind = "bait"
	Litter      Kind = "litter"
	Licence     Kind = "licence"
	LicenceFrom Kind = "licence from age"
	Report      Kind = "report"
	ReportHolds Kind = "report holds"
	ReportNil   Kind = "report when nothing"
)

// Rule is one line of a book.
type Rule struct {
	Kind     Kind
	Of       []string        // species in order; empty: everything
	Place    string          // of a zone: its name
	Count    int             // of limits
	Low      quantity.Length // of sizes
	High     quantity.Length // of ranges
	From, To MonthDay        // of seasons and dates
	Opens    Clock           // of hours
	Closes   Clock
	Closed   bool   // of seasons: there is none
	Choice   int    // of choices: its place in the list, from the strictest
	Text     string // the value as it was entered
	Source   string // where the source text says it; "" when not told
	Line     int    // in the book, from 1
}

// Head gives what stands before the colon: daily perch+walleye.
func (r Rule) Head() string {
	head := string(r.Kind)
	if len(r.Of) > 0 {
		head += " " + strings.Join(r.Of, "+")
	}
	if r.Place != "" {
		head += " " + r.Place
	}
	return head
}

// String gives the rule as a book writes it.
func (r Rule) String() string { return r.Head() + ": " + r.Text }

// Concerns tells whether a rule speaks of a species.
func (r Rule) Concerns(species string) bool {
	return len(r.Of) == 0 || slices.Contains(r.Of, species)
}

// MonthDay is a day of any year. The zero MonthDay is none.
type MonthDay struct {
	Month time.Month
	Day   int
}

func (d MonthDay) String() string { return fmt.Sprintf("%d %s", d.Day, d.Month.String()[:3]) }

func (d MonthDay) before(o MonthDay) bool {
	return d.Month < o.Month || d.Month == o.Month && d.Day < o.Day
}

// Clock is an hour of the day: by the clock, or so many minutes after sunrise or sunset.
type Clock struct {
	Sun     string // "", sunrise or sunset
	Minutes int    // since midnight, or after the sun's event; negative: before it
}

// At gives the instant of the hour on a day, given the day's sunrise and sunset; ok is false when the sun is asked for and
// does not rise or set that day.
func (c Clock) At(day journal.Day, zone *time.Location, sunrise, sunset time.Time) (at time.Time, ok bool) {
	switch c.Sun {
	case "sunrise":
		return sunrise.Add(time.Duration(c.Minutes) * time.Minute), !sunrise.IsZero()
	case "sunset":
		return sunset.Add(time.Duration(c.Minutes) * time.Minute), !sunset.IsZero()
	}
	midnight := day.Midnight(zone)
	y, m, d := midnight.Date()
	return time.Date(y, m, d, c.Minutes/60, c.Minutes%60, 0, 0, zone), true
}

// Book is a rule book as it was read.
type Book struct {
	Name      string
	Water     string // the lake, or the waters; "" when not told
	Source    string // the text of the law that it was taken from
	Retrieved journal.Day
	From, To  journal.Day // first and last day on which it holds
	Rules     []Rule      // by line
}

// Holds tells whether a book is meant for a day.
func (b Book) Holds(day journal.Day) bool { return b.From <= day && day <= b.To }

// Species lists what the book speaks of by name.
func (b Book) Species() []string {
	var out []string
	for _, r := range b.Rules {
		for _, s := range r.Of {
			if !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	slices.Sort(out)
	return out
}
