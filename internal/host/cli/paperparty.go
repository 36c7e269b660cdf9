package cli

import (
	"context"
	"strings"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/host/paper"
	"icehand/internal/trade/journal"
)

type paperParty struct {
	paperDay `embed:""`
}

type loadedJSON struct {
	Name  string   `json:"name"`
	Load  string   `json:"load"`
	Gear  []string `json:"gear"`
	State string   `json:"state"`
	Says  string   `json:"says"`
	Asks  string   `json:"asks"`
}

func (c paperParty) Run(ctx context.Context, g *Globals) error {
	return c.on(ctx, g, func(p *paper.Pages, _ *session, _ shaper, day journal.Day) error {
		view, err := p.Party(ctx, day, g.system())
		if err != nil {
			return err
		}
		if g.JSON {
			people, bookings, loads := []map[string]string{}, []map[string]string{}, []loadedJSON{}
			for _, x := range view.People {
				people = append(people, map[string]string{"name": x.Name, "role": x.Role, "age": x.Age, "licence": x.Licence, "notes": x.Notes})
			}
			for _, x := range view.Bookings {
				bookings = append(bookings, map[string]string{"id": x.ID, "name": x.Name, "says": x.Says, "note": x.Note})
			}
			for _, x := range view.Vehicles {
				loads = append(loads, loadedJSON{x.Name, x.Total, append([]string{}, x.Gear...), x.State, x.Says, x.Asks})
			}
			return g.printJSON(map[string]any{"day": day, "bookings": bookings, "people": people, "lacks": append([]string{}, view.Lacks...), "vehicles": loads, "holes": view.Budget})
		}
		for _, x := range view.Bookings {
			g.say("booking %s  %s: %s  %s", x.ID[len(x.ID)-6:], x.Name, x.Says, x.Note)
		}
		for _, x := range view.People {
			g.say("  %-20s %-7s %-6s licence %s  %s", x.Name, x.Role, x.Age, x.Licence, x.Notes)
		}
		for _, x := range view.Lacks {
			g.say("! %s", x)
		}
		g.lines("", view.From)
		for _, x := range view.Vehicles {
			g.say("%s: %s (%s)", x.Name, x.Total, strings.Join(x.Gear, "; "))
			g.lines("  ", x.Says, x.Nearest, x.Asks)
		}
		g.lines("", view.Budget...)
		return nil
	})
}

type paperLoad struct {
	File  string `arg:"" help:"Vehicles, one a line; - for standard input." placeholder:"FILE" json:"-"`
	Date  string `help:"Day: a date, today or tomorrow." default:"today" placeholder:"DATE" json:"-"`
	Day   string `kong:"-"`
	Loads string `kong:"-"`
}

func (c paperLoad) record(ctx context.Context, d *desk.Desk) error {
	l, err := desk.ParseLoadOut(journal.Day(c.Day), c.Loads)
	if err != nil {
		return err
	}
	return d.TellLoadOut(ctx, desk.Act{}, l)
}

func (c paperLoad) Run(ctx context.Context, g *Globals) (err error) {
	if c.Loads, err = g.readText(c.File, "a load-out"); err != nil {
		return err
	}
	if c.Day, err = g.dayText(ctx, c.Date); err != nil {
		return err
	}
	return g.put(ctx, "/local/paper/load", c)
}

// dayText reads a date in the lake's zone.
func (g *Globals) dayText(ctx context.Context, date string) (day string, err error) {
	err = g.question(ctx, func(s *session, _ shaper) error {
		d, err := pastDay(date, s.now, s.zone)
		day = string(d)
		return err
	})
	return day, err
}

type paperBook struct {
	Name     string `arg:"" help:"Name of the party." placeholder:"NAME"`
	Date     string `required:"" help:"Day: a date, today or tomorrow." placeholder:"DATE"`
	People   string `required:"" help:"How many, children among them." placeholder:"N"`
	Children string `help:"How many of them are children." placeholder:"N"`
	Meet     string `help:"Hour to meet: 06:15." placeholder:"TIME"`
	Note     string `help:"A note; it can be erased like the name." placeholder:"WORDS"`
	Asked    bool   `help:"Asked for, not yet sure."`
	Day      string `kong:"-"`
}

func (c paperBook) record(ctx context.Context, d *desk.Desk) error {
	return d.Book(ctx, desk.Act{}, desk.BookingText{Day: c.Day, Name: c.Name, People: c.People, Children: c.Children, Meet: c.Meet, Note: c.Note, Asked: c.Asked})
}

func (c paperBook) Run(ctx context.Context, g *Globals) (err error) {
	if c.Day, err = g.dayText(ctx, c.Date); err != nil {
		return err
	}
	return g.put(ctx, "/local/paper/book", c)
}

type paperCancel struct {
	Booking string `arg:"" help:"Which booking, by the six digits that party prints." placeholder:"ID"`
	Why     string `required:"" help:"Why: weather, ice, guests or machine." placeholder:"WHY"`
}

func (c paperCancel) record(ctx context.Context, d *desk.Desk) error {
	id, err := bookingNamed(ctx, d, c.Booking)
	if err != nil {
		return err
	}
	return d.CancelBooking(ctx, desk.Act{}, id, c.Why)
}

func (c paperCancel) Run(ctx context.Context, g *Globals) error {
	return g.put(ctx, "/local/paper/cancel", c)
}

// bookingNamed finds a booking by its last digits; zero for "".
func bookingNamed(ctx context.Context, d *desk.Desk, digits string) (uuid.UUID, error) {
	if digits == "" {
		return uuid.Nil, nil
	}
	v, err := d.Books(ctx)
	if err != nil {
		return uuid.Nil, err
	}
	for _, b := range v.Bookings {
		if strings.HasSuffix(b.ID.String(), strings.ToLower(digits)) {
			return b.ID, nil
		}
	}
	return uuid.Nil, fault.New(fault.NotFound, "icehand paper party lists them.", "no booking ends in %.40q", digits)
}

type paperLine struct {
	What    string `arg:"" help:"cost, income, deposit, refund, distance or gear." placeholder:"WHAT"`
	Amount  string `arg:"" help:"Money as 12.50, hours that gear ran, or a distance as 84 km." placeholder:"AMOUNT"`
	Item    string `help:"What for, or which gear." placeholder:"WORDS"`
	Date    string `help:"Day: a date, today or yesterday." default:"today" placeholder:"DATE"`
	Booking string `help:"For which booking, by its six digits." placeholder:"ID"`
	Day     string `kong:"-"`
}

func (c paperLine) record(ctx context.Context, d *desk.Desk) error {
	t := desk.LineText{What: c.What, Day: c.Day, Amount: c.Amount, Item: c.Item, Hours: c.Amount, Distance: c.Amount}
	id, err := bookingNamed(ctx, d, c.Booking)
	if err != nil {
		return err
	}
	t.Booking = id
	return d.BookLine(ctx, desk.Act{}, t)
}

func (c paperLine) Run(ctx context.Context, g *Globals) (err error) {
	if c.Day, err = g.dayText(ctx, c.Date); err != nil {
		return err
	}
	return g.put(ctx, "/local/paper/line", c)
}

type paperBooks struct {
	From  string `help:"First day; a year back when not told." placeholder:"DATE"`
	To    string `help:"Last day; today when not told." placeholder:"DATE"`
	CSV   bool   `name:"csv" help:"Every line as CSV."`
	Trips bool   `help:"The days out as CSV."`
	Out   string `help:"Write the CSV into this file." placeholder:"FILE"`
}

func (c paperBooks) Run(ctx context.Context, g *Globals) error {
	return g.question(ctx, func(s *session, _ shaper) error {
		day := journal.DayOf(s.now, s.zone)
		from, to, err := paper.Span(c.From, c.To, day)
		if err != nil {
			return err
		}
		p := paper.New(s.Desk)
		switch {
		case c.CSV || c.Trips:
			read := p.BooksTable
			if c.Trips {
				read = p.TripsTable
			}
			data, err := read(ctx, from, to)
			if err != nil {
				return err
			}
			return g.file(c.Out, data)
		}
		view, err := p.Books(ctx, day, from, to, g.system())
		if err != nil {
			return err
		}
		if g.JSON {
			return g.printJSON(map[string]any{"from": from, "to": to, "totals": pairs(view.Totals), "items": pairs(view.Items), "gear": pairs(view.Gear)})
		}
		g.say("%s to %s", from, to)
		for _, all := range [][][2]string{view.Totals, view.Items, view.Gear} {
			for _, x := range all {
				g.say("  %-30s %12s", x[0], x[1])
			}
			g.say("")
		}
		return nil
	})
}

// pairs turns rows of two into an object.
func pairs(rows [][2]string) map[string]string {
	out := map[string]string{}
	for _, r := range rows {
		out[r[0]] = r[1]
	}
	return out
}
