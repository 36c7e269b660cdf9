package desk

import (
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

// TripText is a day's trip as a person writes it, in a command or a form.
type TripText struct {
	Day     journal.Day
	Landing string // latitude, longitude; "": not told
	Rods    int64
	Travel  string // foot, machine, vehicle
	Aim     string
	Target  string
	Ashore  string          // hour agreed, such as 16:30; "": none
	Drill   string          // ice that the batteries can drill; "": not told
	Unit    quantity.Length // of a Drill without a unit; 0: it must carry one
}

// Trip turns what was written into the journal's entry and its instant: the entry belongs to its day, whenever it is
// written.
func (x TripText) Trip(now time.Time, zone *time.Location) (*journal.Trip, time.Time, error) {
	at := now
	if journal.DayOf(now, zone) != x.Day {
		at = x.Day.Midnight(zone)
	}
	t := &journal.Trip{Rods: x.Rods, Travel: x.Travel, Aim: x.Aim, Target: x.Target}
	if x.Landing != "" {
		p, err := geo.ParsePosition(x.Landing)
		if err != nil {
			return nil, at, err
		}
		t.Landing = journal.PointOf(p)
	}
	if x.Ashore != "" {
		h, err := ClockOn(x.Day, x.Ashore, zone)
		if err != nil {
			return nil, at, err
		}
		t.Agreed = h.UnixMilli()
	}
	if x.Drill != "" {
		l, _, err := quantity.ParseLength(x.Drill, x.Unit)
		if err != nil || !(l > 0) {
			return nil, at, fault.New(fault.BadInput, "Write a length with its unit, such as 30 m or 100 ft.", "%q is not a length of ice to drill", x.Drill)
		}
		t.Metres = journal.MM(l)
	}
	return t, at, nil
}

// ClockOn reads an hour such as 16:30 on a day, by the clock of the lake.
func ClockOn(day journal.Day, text string, zone *time.Location) (time.Time, error) {
	h, err := time.Parse("15:04", text)
	if err != nil {
		return time.Time{}, fault.New(fault.BadInput, "Write an hour such as 16:30.", "%q is not an hour", text)
	}
	m := day.Midnight(zone)
	return time.Date(m.Year(), m.Month(), m.Day(), h.Hour(), h.Minute(), 0, 0, zone), nil
}
