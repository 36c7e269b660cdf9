// Package paper is the paper ashore: agency logs by field map, the cleaning sheet, the party sheet with its load-out, the
// roster and the books.
//
// Start with [New]; a host hands its [Pages.Extras] to package web.
// It assumes a large screen ashore: it is no part of package web, so that the phone does not carry it. Forms are filled in
// trade/paper, sums made in trade/books, loads checked in engine/safety; nothing is decided here.
package paper

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/feed/calendar"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/host/web"
	"icehand/internal/trade/journal"
	trade "icehand/internal/trade/paper"
)

// Path is the address of the logs; the others lie below it.
const Path = "/paper"

// Pages are the pages of one record.
type Pages struct{ desk *desk.Desk }

// New makes the pages.
func New(d *desk.Desk) *Pages { return &Pages{d} }

// Extras lists the addresses for package web.
func (p *Pages) Extras() []web.Extra {
	return []web.Extra{
		{Pattern: "GET " + Path, Word: "Paper", Answer: p.logs},
		{Pattern: "GET " + Path + "/cleaning", Answer: p.cleaning},
		{Pattern: "GET " + Path + "/party", Answer: p.party},
		{Pattern: "GET " + Path + "/books", Answer: p.books},
		{Pattern: "GET " + Path + "/log.csv", Answer: p.logTable},
		{Pattern: "GET " + Path + "/books.csv", Answer: p.spanTable(p.BooksTable)},
		{Pattern: "GET " + Path + "/trips.csv", Answer: p.spanTable(p.TripsTable)},
		{Pattern: "GET " + Path + "/roster.ics", Answer: p.roster},
		{Pattern: "POST " + Path + "/form", Answer: p.postForm},
		{Pattern: "POST " + Path + "/made", Answer: p.postMade},
		{Pattern: "POST " + Path + "/bags", Answer: p.postBags},
		{Pattern: "POST " + Path + "/load", Answer: p.postLoad},
		{Pattern: "POST " + Path + "/line", Answer: p.postLine},
		{Pattern: "POST " + Path + "/booking", Answer: p.postBooking},
		{Pattern: "POST " + Path + "/cancel", Answer: p.postCancel},
	}
}

// tab is a way to one of the pages.
type tab struct {
	Word, Href string
	Here       bool
}

func tabs(here string, day journal.Day) []tab {
	out := []tab{{"Logs", Path, false}, {"Cleaning", Path + "/cleaning", false}, {"Party and load", Path + "/party", false}, {"Books", Path + "/books", false}}
	for i := range out {
		out[i].Here = out[i].Href == here
		out[i].Href += "?day=" + string(day)
	}
	return out
}

// head is what every page begins with.
type head struct {
	Tabs    []tab
	Path    string
	Day     string // as the form has it
	DayText string
	Printed string
}

// day reads the day asked for, today when none is.
func (p *Pages) day(r *http.Request) (day journal.Day, err error) {
	if day = journal.Day(r.FormValue("day")); day == "" {
		err = p.desk.Read(r.Context(), func(v desk.View) error {
			day = v.Today
			return nil
		})
	}
	if err == nil && !day.Valid() {
		err = fault.New(fault.BadInput, "Choose a day.", "%q is not a date", string(day))
	}
	return day, err
}

func heading(path string, day journal.Day, v desk.View) head {
	return head{Tabs: tabs(path, day), Path: path, Day: string(day), DayText: say.Date(day),
		Printed: "Printed " + v.Now.In(v.Lake.Zone).Format("2006-01-02 15:04") + ". " + say.CheckRules}
}

// to sends the browser back to a page of a day.
func to(path, day string) web.Answer {
	return web.Answer{To: path + "?" + url.Values{"day": {day}}.Encode()}
}

// LogsView is the agency logs of a day.
type LogsView struct {
	head
	Forms  []FormView
	Months []MonthView
	None   bool
}

// FormView is a form filled for a day.
type FormView struct {
	Key, Title, Source, Due string
	Late, Made              bool
	MadeText                string
	Head                    []string
	Rows                    [][]string
	Missing, Sums           []string
	Table                   string
}

// MonthView says what a month owes.
type MonthView struct {
	Form, Key, Month, Of, Says string
	Nil, Made, Late            bool
}

func (p *Pages) logs(r *http.Request, _ web.Visitor) (web.Answer, error) {
	day, err := p.day(r)
	if err != nil {
		return web.Answer{}, err
	}
	view, err := p.Logs(r.Context(), day)
	return web.Answer{Title: "Paper", Body: logsPage(view)}, err
}

// Logs fills every form for a day, and says what each month owes.
func (p *Pages) Logs(ctx context.Context, day journal.Day) (view LogsView, err error) {
	err = p.desk.Read(ctx, func(v desk.View) error {
		view.head = heading(Path, day, v)
		made := v.MadeForms()
		days := v.TripDays()
		was := func(form, of string) (string, bool) {
			for _, m := range made {
				if m.Form == form && m.Of == of {
					return "Handed in " + m.When.In(v.Lake.Zone).Format("2006-01-02 15:04") + ".", true
				}
			}
			return "", false
		}
		trip := v.PaperTrip(day)
		for _, f := range v.Forms() {
			view.Forms = append(view.Forms, fillForm(f, trip, v, day, was))
			view.Months = append(view.Months, months(f, v, days, was)...)
		}
		view.None = len(view.Forms) == 0
		return nil
	})
	return view, err
}

func fillForm(f trade.Form, t trade.Trip, v desk.View, day journal.Day, was func(form, of string) (string, bool)) FormView {
	filled := f.Fill(t)
	due := f.Due(t.Date, t.Returned)
	x := FormView{Key: f.Key, Title: f.Title, Source: fmt.Sprintf("Edition of %s; %s.", f.Revised, f.Source), Head: filled.Head, Rows: filled.Rows, Missing: filled.Missing,
		Table: Path + "/log.csv?" + url.Values{"form": {f.Key}, "day": {string(day)}}.Encode()}
	x.MadeText, x.Made = was(f.Key, string(day))
	x.Due = "Due by " + dueText(due) + "."
	if t.Returned.IsZero() && f.Rule.AfterReturn > 0 {
		x.Due += " Not everybody is reported ashore: " + fmt.Sprintf("it may be due sooner, %d min after return.", f.Rule.AfterReturn)
	}
	x.Late = !x.Made && len(t.Clients) > 0 && v.Now.After(due)
	for _, s := range filled.Sums {
		word := "agrees with the tally"
		if !s.Agrees() {
			word = fmt.Sprintf("and the tally holds %d", s.Tally)
		}
		x.Sums = append(x.Sums, fmt.Sprintf("%s: %d, %s", s.Label, s.Rows, word))
	}
	return x
}

// dueText writes a deadline; the end of a day is told as its midnight.
func dueText(t time.Time) string {
	if t.Hour() == 0 && t.Minute() == 0 {
		return t.AddDate(0, 0, -1).Format("2006-01-02") + " midnight"
	}
	return t.Format("2006-01-02 15:04")
}

// months says what each month owes, from the first trip on record.
func months(f trade.Form, v desk.View, days []journal.Day, was func(form, of string) (string, bool)) (out []MonthView) {
	if f.Rule.NextMonth == 0 && !f.NilToo || len(days) == 0 {
		return nil
	}
	var trips []time.Time
	for _, d := range days {
		trips = append(trips, d.Midnight(v.Lake.Zone))
	}
	for _, m := range f.Months(trips[0], v.Now.In(v.Lake.Zone), trips) {
		of := m.First.Format("2006-01")
		x := MonthView{Form: f.Title, Key: f.Key, Month: m.First.Format("January 2006"), Of: of, Nil: m.Nil}
		said, made := was(f.Key, of)
		x.Made = made
		x.Says = fmt.Sprintf("%d trips", m.Trips)
		if m.Nil {
			x.Says = "no trip: hand in a nil return"
		}
		x.Says += ", due by " + dueText(m.Due) + "."
		if x.Late = !made && v.Now.After(m.Due); x.Late {
			x.Says += " Past due."
		}
		if made {
			x.Says = said
		}
		out = append(out, x)
	}
	return out
}

func (p *Pages) postForm(r *http.Request, _ web.Visitor) (web.Answer, error) {
	a, err := web.ActIn(r)
	if err != nil {
		return web.Answer{}, err
	}
	if key := r.PostForm.Get("drop"); key != "" {
		err = p.desk.DropForm(r.Context(), a, key)
	} else {
		err = p.desk.TellForm(r.Context(), a, []byte(r.PostForm.Get("map")))
	}
	return to(Path, r.PostForm.Get("day")), err
}

func (p *Pages) postMade(r *http.Request, _ web.Visitor) (web.Answer, error) {
	a, err := web.ActIn(r)
	if err != nil {
		return web.Answer{}, err
	}
	return to(Path, r.PostForm.Get("day")), p.desk.TellMade(r.Context(), a, r.PostForm.Get("form"), r.PostForm.Get("of"))
}

// table writes rows as CSV. Words that a spreadsheet would take for a formula are marked as words.
func table(rows [][]string) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	for _, row := range rows {
		plain := make([]string, len(row))
		for i, s := range row {
			if plain[i] = s; s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) && !number(s) {
				plain[i] = "'" + s
			}
		}
		if err := w.Write(plain); err != nil {
			return nil, fmt.Errorf("paper: writing a table: %w", err)
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// number tells whether a cell is a plain number, whose sign is no formula.
func number(s string) bool {
	return !strings.ContainsFunc(strings.TrimPrefix(s, "-"), func(r rune) bool { return r != '.' && (r < '0' || r > '9') })
}

const csvMedia = "text/csv; charset=utf-8"

// logTable gives a filled form as CSV.
func (p *Pages) logTable(r *http.Request, _ web.Visitor) (web.Answer, error) {
	day, err := p.day(r)
	if err != nil {
		return web.Answer{}, err
	}
	data, err := p.LogTable(r.Context(), r.FormValue("form"), day)
	return web.Answer{File: &web.File{Data: data, Media: csvMedia}}, err
}

// LogTable gives a form filled for a day as CSV.
func (p *Pages) LogTable(ctx context.Context, form string, day journal.Day) (data []byte, err error) {
	err = p.desk.Read(ctx, func(v desk.View) error {
		f, err := v.Form(form)
		if err != nil {
			return err
		}
		filled := f.Fill(v.PaperTrip(day))
		data, err = table(append([][]string{filled.Head}, filled.Rows...))
		return err
	})
	return data, err
}

// roster gives the bookings of a day, or of all days from it on, as a calendar without places.
func (p *Pages) roster(r *http.Request, _ web.Visitor) (web.Answer, error) {
	day, err := p.day(r)
	if err != nil {
		return web.Answer{}, err
	}
	data, err := p.Roster(r.Context(), day, r.FormValue("all") != "")
	return web.Answer{File: &web.File{Data: data, Media: "text/calendar; charset=utf-8"}}, err
}

// Roster gives the bookings of a day, or of all days from it on, as an iCalendar without places.
func (p *Pages) Roster(ctx context.Context, day journal.Day, all bool) ([]byte, error) {
	b, err := p.desk.Books(ctx)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = p.desk.Read(ctx, func(v desk.View) error {
		var events []calendar.Event
		for _, x := range b.Bookings {
			if x.State == "cancelled" || x.Day < day || !all && x.Day != day {
				continue
			}
			e := calendar.Event{UID: "booking-" + x.ID.String() + "@icehand", Stamp: v.Now, Start: x.MeetAt(), Summary: fmt.Sprintf("%s, %s", v.Name(x.Name), peopleText(x.People, x.Children)), Description: "State: " + x.State + "."}
			if e.Start.IsZero() {
				e.Start = x.Day.Midnight(v.Lake.Zone).Add(6 * time.Hour)
				e.Description += " The hour to meet is not agreed."
			} else {
				e.Alarms = []time.Duration{12 * time.Hour}
			}
			events = append(events, e)
		}
		return calendar.Write(&out, events)
	})
	return out.Bytes(), err
}

func peopleText(people, children int64) string {
	s := fmt.Sprintf("%d people", people)
	if people == 1 {
		s = "1 person"
	}
	if children > 0 {
		s += fmt.Sprintf(", %d of them children", children)
	}
	return s
}
