// Package books answers what the outfit earned and spent, how long its gear ran, and who means to come on a day.
//
// Start with [New] and [View.Sync]; then [View.Totals] sums the lines up and [View.Roster] lists a day's bookings. Amounts
// are whole hundredths of the outfit's money, so that sums are exact; what the money is called is not known here.
// It leaves out tax, interest, prices and everything else that an accountant knows better: the lines go out as a table.
package books

import (
	"cmp"
	"slices"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// Line is one line of the books.
type Line struct {
	ID   uuid.UUID
	When time.Time // when it was written down
	journal.Ledger
}

// Booking is a party that means to come.
type Booking struct {
	ID   uuid.UUID
	When time.Time
	journal.Booking
}

// MeetAt gives the hour to meet; zero when none was agreed.
func (b Booking) MeetAt() time.Time {
	if b.Meet == 0 {
		return time.Time{}
	}
	return time.UnixMilli(b.Meet)
}

// View is the books of one lake's outfit.
type View struct {
	Lake     uuid.UUID
	Lines    []Line    // by day, then by when they were written
	Bookings []Booking // by day, then by hour to meet

	cursor journal.Cursor
}

// New makes empty books.
func New(lake uuid.UUID) *View { return &View{Lake: lake} }

// Sync folds what is new in the log.
func (v *View) Sync(log *journal.Log) {
	facts, again := log.Since(&v.cursor)
	if again {
		v.Lines, v.Bookings = nil, nil
	}
	for _, f := range facts {
		if f.Entry.Lake != v.Lake || !f.Counts() {
			continue
		}
		switch b := f.Body.(type) {
		case *journal.Ledger:
			v.Lines = append(v.Lines, Line{f.Entry.ID, f.At, *b})
		case *journal.Booking:
			v.Bookings = append(v.Bookings, Booking{f.Entry.ID, f.At, *b})
		}
	}
	slices.SortFunc(v.Lines, func(a, b Line) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), a.When.Compare(b.When), slices.Compare(a.ID[:], b.ID[:]))
	})
	slices.SortFunc(v.Bookings, func(a, b Booking) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Meet, b.Meet), a.When.Compare(b.When), slices.Compare(a.ID[:], b.ID[:]))
	})
}

// Totals are sums over some days.
type Totals struct {
	Income, Deposits, Refunds, Costs int64 // hundredths
	Driven                           quantity.Length
	Gear                             []GearTime // by name
	Items                            []Item     // costs by what they were for, the largest first
}

// Balance gives what is left: income and deposits less refunds and costs.
func (t Totals) Balance() int64 { return t.Income + t.Deposits - t.Refunds - t.Costs }

// GearTime is how long one piece of gear ran.
type GearTime struct {
	Gear string
	Ran  time.Duration
}

// Item is what was spent on one thing.
type Item struct {
	Name   string
	Amount int64
}

// Totals sums the lines of the days from one to another, both included; "" leaves an end open.
func (v *View) Totals(from, to journal.Day) Totals {
	var t Totals
	gear, items := map[string]time.Duration{}, map[string]int64{}
	for _, l := range v.Lines {
		if from != "" && l.Day < from || to != "" && l.Day > to {
			continue
		}
		switch l.What {
		case "income":
			t.Income += l.Amount
		case "deposit":
			t.Deposits += l.Amount
		case "refund":
			t.Refunds += l.Amount
		case "cost":
			t.Costs += l.Amount
			items[l.Item] += l.Amount
		case "distance":
			if l.Distance != nil {
				t.Driven += quantity.FromMillimetres(*l.Distance)
			}
		case "gear":
			if l.Minutes != nil {
				gear[l.Item] += time.Duration(*l.Minutes) * time.Minute
			}
		}
	}
	for name, ran := range gear {
		t.Gear = append(t.Gear, GearTime{name, ran})
	}
	slices.SortFunc(t.Gear, func(a, b GearTime) int { return cmp.Compare(a.Gear, b.Gear) })
	for name, amount := range items {
		t.Items = append(t.Items, Item{name, amount})
	}
	slices.SortFunc(t.Items, func(a, b Item) int { return cmp.Or(cmp.Compare(b.Amount, a.Amount), cmp.Compare(a.Name, b.Name)) })
	return t
}

// Held gives the deposits less refunds of bookings whose day is still to come: money that is not the outfit's yet.
func (v *View) Held(today journal.Day) int64 {
	ahead := map[uuid.UUID]bool{}
	for _, b := range v.Bookings {
		ahead[b.ID] = b.Day >= today
	}
	sum := int64(0)
	for _, l := range v.Lines {
		if !ahead[l.Booking] {
			continue
		}
		switch l.What {
		case "deposit":
			sum += l.Amount
		case "refund":
			sum -= l.Amount
		}
	}
	return sum
}

// Paid gives deposits and income less refunds of one booking.
func (v *View) Paid(booking uuid.UUID) int64 {
	sum := int64(0)
	for _, l := range v.Lines {
		if l.Booking != booking || booking == uuid.Nil {
			continue
		}
		switch l.What {
		case "deposit", "income":
			sum += l.Amount
		case "refund":
			sum -= l.Amount
		}
	}
	return sum
}

// Roster lists the bookings of a day that were not cancelled, by the hour to meet.
func (v *View) Roster(day journal.Day) (out []Booking) {
	for _, b := range v.Bookings {
		if b.Day == day && b.State != "cancelled" {
			out = append(out, b)
		}
	}
	return out
}

// Find gives a booking; false when it is not on record.
func (v *View) Find(id uuid.UUID) (Booking, bool) {
	for _, b := range v.Bookings {
		if b.ID == id {
			return b, true
		}
	}
	return Booking{}, false
}
