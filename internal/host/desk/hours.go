package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
)

// Hours that somebody tells and that end the day.
const (
	LegalClose = "legal_close" // from when fishing is not lawful: it holds on every later day
	FuelUntil  = "fuel_until"  // battery and fuel last: on its day only, as those below
	CrossingBy = "crossing_by" // the last ridge or crack must lie behind
	ColdUntil  = "cold_until"  // whoever is coldest can be out
)

// HourKeys lists them in the order in which they are asked for.
func HourKeys() []string { return []string{LegalClose, FuelUntil, CrossingBy, ColdUntil} }

// SetHour tells such an hour of the act's day, as 17:30 by the lake's clock; "" takes it back.
func (d *Desk) SetHour(ctx context.Context, a Act, which, clock string) error {
	return d.SetHours(ctx, a, map[string]string{which: clock})
}

// SetHours tells several of them, all or none.
func (d *Desk) SetHours(ctx context.Context, a Act, told map[string]string) error {
	return d.record(ctx, a, func(a Act) error {
		items, err := d.hourItems(a, told)
		if err != nil || len(items) == 0 {
			return err
		}
		return d.write(ctx, items...)
	})
}

// hourItems checks hours and makes their entries. The caller holds mu.
func (d *Desk) hourItems(a Act, told map[string]string) (items []item, err error) {
	for which := range told {
		if !slices.Contains(HourKeys(), which) {
			return nil, fault.New(fault.BadInput, "Tell "+strings.Join(HourKeys(), ", ")+".", "%q is no hour that ends the day", which)
		}
	}
	for _, which := range HourKeys() {
		clock, ok := told[which]
		if !ok {
			continue
		}
		if clock != "" {
			if _, err := ClockOn(journal.DayOf(a.At, d.lake.Zone), clock, d.lake.Zone); err != nil {
				return nil, err
			}
		}
		raw, err := json.Marshal(clock)
		if err != nil {
			return nil, fmt.Errorf("desk: keeping an hour: %w", err)
		}
		id := a.ID
		if len(items) > 0 {
			id = journal.ContentID(d.lake.ID, journal.KindSetting, a.ID.String()+which)
		}
		items = append(items, item{id, a.At, &journal.Setting{Key: which, Value: raw}})
	}
	return items, nil
}

// hourToday gives such an hour on a day; zero when none was told.
func (d *Desk) hourToday(which string, day journal.Day) time.Time {
	var clock string
	for _, s := range d.lake.Settings(which) { // by time
		told := journal.DayOf(s.When, d.lake.Zone)
		if told > day || which != LegalClose && told != day {
			continue
		}
		clock = ""
		if json.Unmarshal(s.Value, &clock) != nil {
			clock = ""
		}
	}
	if clock == "" {
		return time.Time{}
	}
	at, err := ClockOn(day, clock, d.lake.Zone)
	if err != nil {
		return time.Time{}
	}
	return at
}

// ends gives the hours that end a day.
func (d *Desk) ends(day journal.Day) safety.Ends {
	closes := d.hourToday(LegalClose, day)
	if to := d.lawCloses(day); !to.IsZero() && (closes.IsZero() || to.Before(closes)) {
		closes = to // the rule book's hours; the earlier counts
	}
	return safety.Ends{LegalClose: closes, Fuel: d.hourToday(FuelUntil, day), Crossing: d.hourToday(CrossingBy, day), Cold: d.hourToday(ColdUntil, day)}
}

// Hours gives the hours told for a day as they were written, by key; an hour that nobody told is absent.
func (d *Desk) Hours(ctx context.Context, day journal.Day) (told map[string]string, err error) {
	told = map[string]string{}
	err = d.with(ctx, func() error {
		for _, which := range HourKeys() {
			if t := d.hourToday(which, day); !t.IsZero() {
				told[which] = t.In(d.lake.Zone).Format("15:04")
			}
		}
		return nil
	})
	return told, err
}
