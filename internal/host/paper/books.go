package paper

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
	"icehand/internal/host/web"
	"icehand/internal/trade/books"
	"icehand/internal/trade/journal"
)

// BooksView is the ledger.
type BooksView struct {
	head
	From, To string
	Totals   [][2]string
	Items    [][2]string
	Gear     [][2]string
	Lines    []LineView
	Shown    string // how many of the lines stand here, where it is not all of them
	All      string // address of the page with all
	Table    string
	Trips    []TripView
	TripsCSV string
	Bookings []BookingView
}

// TripView is one day out with guests, and the money of that day.
type TripView struct{ Day, Guests, RodHours, Kept, Money string }

// trips lists the days out with guests, the newest first.
func trips(v desk.View, b *books.View, from, to journal.Day) (out []TripView) {
	for _, day := range slices.Backward(v.TripDays()) {
		if day < from || day > to {
			continue
		}
		t := v.PaperTrip(day)
		n := 0
		for _, p := range append(t.Clients, t.Nobody) {
			for _, k := range p.Kept {
				n += k
			}
		}
		out = append(out, TripView{string(day), strconv.Itoa(len(t.Clients)), strconv.FormatFloat(t.RodTime.Hours(), 'f', 1, 64), strconv.Itoa(n), desk.MoneyText(b.Totals(day, day).Balance())})
	}
	return out
}

// spanTable answers with a table of the days that are asked for, as CSV.
func (p *Pages) spanTable(table func(ctx context.Context, from, to journal.Day) ([]byte, error)) func(*http.Request, web.Visitor) (web.Answer, error) {
	return func(r *http.Request, _ web.Visitor) (web.Answer, error) {
		day, err := p.day(r)
		if err != nil {
			return web.Answer{}, err
		}
		from, to, err := span(r, day)
		if err != nil {
			return web.Answer{}, err
		}
		data, err := table(r.Context(), from, to)
		return web.Answer{File: &web.File{Data: data, Media: csvMedia}}, err
	}
}

// TripsTable gives the days out as CSV.
func (p *Pages) TripsTable(ctx context.Context, from, to journal.Day) ([]byte, error) {
	b, err := p.desk.Books(ctx)
	if err != nil {
		return nil, err
	}
	rows := [][]string{{"day", "guests", "rod_hours", "kept", "money"}}
	err = p.desk.Read(ctx, func(v desk.View) error {
		for _, t := range trips(v, b, from, to) {
			rows = append(rows, []string{t.Day, t.Guests, t.RodHours, t.Kept, t.Money})
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return table(rows)
}

// linesFirst is how many lines the page shows before it is asked for all; our own choice.
const linesFirst = 200

// LineView is a line of the books.
type LineView struct{ Day, What, Item, Amount string }

// span reads the days that the books are asked for.
func span(r *http.Request, day journal.Day) (from, to journal.Day, err error) {
	return Span(r.FormValue("from"), r.FormValue("to"), day)
}

// Span reads two days: a year back and today when nothing is said.
func Span(first, last string, today journal.Day) (from, to journal.Day, err error) {
	from, to = journal.Day(first), journal.Day(last)
	if to == "" {
		to = today
	}
	if from == "" {
		if t, bad := time.Parse(time.DateOnly, string(to)); bad == nil {
			from = journal.Day(t.AddDate(-1, 0, 1).Format(time.DateOnly))
		}
	}
	if !from.Valid() || !to.Valid() || from > to {
		return from, to, fault.New(fault.BadInput, "Choose two days, the earlier first.", "from %q to %q is no stretch of days", string(from), string(to))
	}
	return from, to, nil
}

func (p *Pages) books(r *http.Request, x web.Visitor) (web.Answer, error) {
	day, err := p.day(r)
	if err != nil {
		return web.Answer{}, err
	}
	from, to, err := span(r, day)
	if err != nil {
		return web.Answer{}, err
	}
	view, err := p.Books(r.Context(), day, from, to, x.Units)
	if n := len(view.Lines); n > linesFirst && r.FormValue("all") == "" {
		view.Lines = view.Lines[:linesFirst]
		view.Shown = fmt.Sprintf("The newest %d of %d lines.", linesFirst, n)
		view.All = Path + "/books?all=yes&from=" + string(from) + "&to=" + string(to)
	}
	return web.Answer{Title: "Books", Body: booksPage(view)}, err
}

// Books sums the books up over a stretch of days.
func (p *Pages) Books(ctx context.Context, day, from, to journal.Day, units quantity.System) (view BooksView, err error) {
	b, err := p.desk.Books(ctx)
	if err != nil {
		return view, err
	}
	err = p.desk.Read(ctx, func(v desk.View) error {
		view.head = heading(Path+"/books", day, v)
		view.From, view.To = string(from), string(to)
		t := b.Totals(from, to)
		view.Totals = [][2]string{{"Income", desk.MoneyText(t.Income)}, {"Deposits", desk.MoneyText(t.Deposits)}, {"Refunds", desk.MoneyText(-t.Refunds)}, {"Costs", desk.MoneyText(-t.Costs)},
			{"Left", desk.MoneyText(t.Balance())}, {"of it held for days to come", desk.MoneyText(b.Held(v.Today))}, {"Driven", units.DistanceText(t.Driven)}}
		for _, i := range t.Items {
			name := i.Name
			if name == "" {
				name = "not told what for"
			}
			view.Items = append(view.Items, [2]string{name, desk.MoneyText(i.Amount)})
		}
		for _, g := range t.Gear {
			view.Gear = append(view.Gear, [2]string{g.Gear, fmt.Sprintf("%.1f h", g.Ran.Hours())})
		}
		for _, l := range slices.Backward(b.Lines) {
			if l.Day >= from && l.Day <= to {
				y := LineView{Day: string(l.Day), What: l.What, Item: l.Item, Amount: desk.MoneyText(l.Amount)}
				switch {
				case l.Minutes != nil:
					y.Amount = fmt.Sprintf("%.1f h", float64(*l.Minutes)/60)
				case l.Distance != nil:
					y.Amount = fmt.Sprintf("%.0f km", float64(*l.Distance)/1e6)
				}
				view.Lines = append(view.Lines, y)
			}
		}
		for _, k := range b.Bookings {
			if k.State != "cancelled" {
				view.Bookings = append(view.Bookings, BookingView{ID: k.ID.String(), Name: string(k.Day) + " " + v.Name(k.Name), Says: "paid " + desk.MoneyText(b.Paid(k.ID))})
			}
		}
		view.Trips = trips(v, b, from, to)
		view.TripsCSV = Path + "/trips.csv?from=" + string(from) + "&to=" + string(to)
		view.Table = Path + "/books.csv?from=" + string(from) + "&to=" + string(to)
		return nil
	})
	return view, err
}

// BooksTable gives the lines of the books as CSV, one row a line, amounts with a sign.
func (p *Pages) BooksTable(ctx context.Context, from, to journal.Day) ([]byte, error) {
	b, err := p.desk.Books(ctx)
	if err != nil {
		return nil, err
	}
	rows := [][]string{{"day", "what", "item", "amount", "hours", "km", "booking"}}
	for _, l := range b.Lines {
		if l.Day < from || l.Day > to {
			continue
		}
		row := []string{string(l.Day), l.What, l.Item, "", "", "", ""}
		if l.Amount != 0 {
			amount := l.Amount
			if l.What == "refund" || l.What == "cost" {
				amount = -amount
			}
			row[3] = desk.MoneyText(amount)
		}
		if l.Minutes != nil {
			row[4] = strconv.FormatFloat(float64(*l.Minutes)/60, 'f', 2, 64)
		}
		if l.Distance != nil {
			row[5] = strconv.FormatFloat(float64(*l.Distance)/1e6, 'f', 1, 64)
		}
		if l.Booking != uuid.Nil {
			row[6] = l.Booking.String()
		}
		rows = append(rows, row)
	}
	return table(rows)
}

func (p *Pages) postLine(r *http.Request, _ web.Visitor) (web.Answer, error) {
	a, err := web.ActIn(r)
	if err != nil {
		return web.Answer{}, err
	}
	f := r.PostForm
	t := desk.LineText{What: f.Get("what"), Day: f.Get("day"), Amount: f.Get("amount"), Item: f.Get("item"), Hours: f.Get("amount"), Distance: f.Get("amount")}
	if s := f.Get("booking"); s != "" {
		if t.Booking, err = uuid.Parse(s); err != nil {
			return web.Answer{}, fault.New(fault.BadInput, "Choose one of the bookings.", "the form names no booking")
		}
	}
	return to(Path+"/books", t.Day), p.desk.BookLine(r.Context(), a, t)
}
