package desk

import (
	"context"
	"strings"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
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

// PlanTrip records a trip, also of a day to come, with the hours told for its day by key; an hour that is on record already is not told again, and "" takes
// one back. All of it is written, or nothing.
func (d *Desk) PlanTrip(ctx context.Context, a Act, body *journal.Trip, hours map[string]string) error {
	return d.with(ctx, func() error {
		if err := d.needLake(); err != nil {
			return err
		}
		if a.ID == uuid.Nil {
			a.ID = journal.NewID()
		}
		day, told := journal.DayOf(a.At, d.lake.Zone), map[string]string{}
		for which, clock := range hours {
			now := ""
			if t := d.hourToday(which, day); !t.IsZero() {
				now = t.In(d.lake.Zone).Format("15:04")
			}
			if clock != now {
				told[which] = clock
			}
		}
		items, err := d.hourItems(Act{ID: journal.ContentID(d.lake.ID, journal.KindSetting, a.ID.String()), At: a.At}, told)
		if err != nil {
			return err
		}
		return d.write(ctx, append(items, item{a.ID, a.At, body})...)
	})
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

// TripBody gives a trip as it is journaled.
func TripBody(t party.Trip) journal.Trip {
	b := journal.Trip{Rods: int64(t.Rods), Target: t.Target, Aim: t.Aim, AimFor: t.AimFor, Travel: t.Travel}
	if t.Landing != nil {
		b.Landing = journal.PointOf(*t.Landing)
	}
	if !t.Agreed.IsZero() {
		b.Agreed = t.Agreed.UnixMilli()
	}
	if t.Drill > 0 {
		b.Metres = journal.MM(t.Drill)
	}
	return b
}

// SetTarget tells what the party is after: the day's trip with another target.
func (d *Desk) SetTarget(ctx context.Context, a Act, target string) error {
	return d.changeTrip(ctx, a, func(t *journal.Trip) error { t.Target = target; return nil })
}

// SetAim tells what the day is about: the day's trip with another aim. With first_fish it may name the guest.
func (d *Desk) SetAim(ctx context.Context, a Act, aim string, who uuid.UUID) error {
	return d.changeTrip(ctx, a, func(t *journal.Trip) error {
		if aim == "" {
			return fault.New(fault.BadInput, "Choose one of the aims.", "no aim was told")
		}
		if who != uuid.Nil && d.party.Guest(who) == nil {
			return fault.New(fault.NotFound, "Choose somebody of today.", "that guest is not on record")
		}
		t.Aim, t.AimFor = aim, who
		return nil
	})
}

// changeTrip journals the trip of the act's day with a change; everything else of it stays.
func (d *Desk) changeTrip(ctx context.Context, a Act, change func(*journal.Trip) error) error {
	return d.record(ctx, a, func(a Act) error {
		body := journal.Trip{Rods: int64(max(1, len(d.party.RodsAt(a.At)))), Travel: "foot"}
		if t := d.party.Trip(journal.DayOf(a.At, d.lake.Zone)); t != nil {
			body = TripBody(*t)
		}
		if err := change(&body); err != nil {
			return err
		}
		return d.write(ctx, item{a.ID, a.At, &body})
	})
}

// oneName tells whether people bear one and the same name.
func (v View) oneName(people []uuid.UUID) bool {
	names := map[string]bool{}
	for _, id := range people {
		names[folded(v.PersonName(id))] = true
	}
	return len(names) == 1
}

// GuestNamed finds somebody of a day by the name or a part of it that no other has.
func (v View) GuestNamed(name string) (uuid.UUID, error) {
	var found []uuid.UUID
	for _, g := range v.Party.Guests {
		if g.Day == v.Today && strings.Contains(strings.ToLower(v.Name(g.Name)), strings.ToLower(strings.TrimSpace(name))) {
			found = append(found, g.ID)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return uuid.Nil, fault.New(fault.NotFound, "Name somebody who is recorded for today.", "nobody of today is called %q", name)
	}
	hint := "Give more of the name."
	if v.oneName(found) {
		hint = "If it is one person who was entered twice, take the second entry off: on the page Party, or icehand people --double NAME."
	}
	return uuid.Nil, fault.New(fault.BadInput, hint, "%d people of today are called %q", len(found), name)
}
