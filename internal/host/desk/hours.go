package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
)

// Hours that somebody tells and that end the day, and minutes that are taken off each of them.
const (
	LegalClose = "legal_close" // from when fishing is not lawful: it holds on every later day
	FuelUntil  = "fuel_until"  // battery and fuel last: on its day only, as those below
	CrossingBy = "crossing_by" // the last ridge or crack must lie behind
	ColdUntil  = "cold_until"  // whoever is coldest can be out
	PackUp     = "pack_up_min" // minutes that packing takes, on every later day too, as the next
	Margin     = "margin_min"  // minutes kept in hand
)

// spare are the minutes that may be told, with the least and the most that count, and what counts when none are told.
var spare = map[string]struct{ least, most, usual int }{
	PackUp: {10, 120, int(safety.UsualPackUp / time.Minute)}, Margin: {int(safety.LeastMargin / time.Minute), 180, int(safety.LeastMargin / time.Minute)},
}

// HourKeys lists the hours in the order in which they are asked for.
func HourKeys() []string { return []string{LegalClose, FuelUntil, CrossingBy, ColdUntil} }

// UsualSpare gives the minutes that count when none are told.
func UsualSpare(which string) string { return strconv.Itoa(spare[which].usual) }

// SpareKeys lists the minutes.
func SpareKeys() []string { return []string{PackUp, Margin} }

// SetHour tells such an hour of the act's day, as 17:30 by the lake's clock, or minutes, as 45; "" takes it back.
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

// spareMinutes reads minutes that are taken off the hours.
func spareMinutes(which, text string) (int, error) {
	b := spare[which]
	n, err := strconv.Atoi(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), "min")))
	if err != nil || n < b.least || n > b.most {
		return 0, fault.New(fault.BadInput, fmt.Sprintf("Write whole minutes from %d to %d, such as 45; %d count when none are told.", b.least, b.most, b.usual), "%q cannot be the %s", text, spareWords[which])
	}
	return n, nil
}

var spareWords = map[string]string{PackUp: "minutes of packing up", Margin: "minutes kept in hand"}

// hourItems checks hours and makes their entries. The caller holds mu.
func (d *Desk) hourItems(a Act, told map[string]string) (items []item, err error) {
	for which := range told {
		if !slices.Contains(HourKeys(), which) && !slices.Contains(SpareKeys(), which) {
			return nil, fault.New(fault.BadInput, "Tell "+strings.Join(append(HourKeys(), SpareKeys()...), ", ")+".", "%q is no hour that ends the day", which)
		}
	}
	for _, which := range append(HourKeys(), SpareKeys()...) {
		clock, ok := told[which]
		if !ok {
			continue
		}
		if _, minutes := spare[which]; minutes && clock != "" {
			n, err := spareMinutes(which, clock)
			if err != nil {
				return nil, err
			}
			clock = strconv.Itoa(n)
		} else if clock != "" {
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

// spareOn gives minutes told up to a day; zero when none count.
func (d *Desk) spareOn(which string, day journal.Day) time.Duration {
	n := 0
	for _, s := range d.lake.Settings(which) { // by time
		if journal.DayOf(s.When, d.lake.Zone) > day {
			break
		}
		var text string
		n = 0
		if json.Unmarshal(s.Value, &text) == nil && text != "" {
			if told, err := spareMinutes(which, text); err == nil {
				n = told
			}
		}
	}
	return time.Duration(n) * time.Minute
}

// ends gives the hours that end a day, and what is taken off them.
func (d *Desk) ends(day journal.Day) safety.Ends {
	closes := d.hourToday(LegalClose, day)
	if to := d.lawCloses(day); !to.IsZero() && (closes.IsZero() || to.Before(closes)) {
		closes = to // the rule book's hours; the earlier counts
	}
	return safety.Ends{LegalClose: closes, Fuel: d.hourToday(FuelUntil, day), Crossing: d.hourToday(CrossingBy, day), Cold: d.hourToday(ColdUntil, day),
		PackUp: d.spareOn(PackUp, day), Margin: d.spareOn(Margin, day)}
}

// Hours gives the hours and minutes told for a day as they were written, by key; what nobody told is absent.
func (d *Desk) Hours(ctx context.Context, day journal.Day) (told map[string]string, err error) {
	told = map[string]string{}
	err = d.with(ctx, func() error {
		for _, which := range HourKeys() {
			if t := d.hourToday(which, day); !t.IsZero() {
				told[which] = t.In(d.lake.Zone).Format("15:04")
			}
		}
		for _, which := range SpareKeys() {
			if m := d.spareOn(which, day); m > 0 {
				told[which] = strconv.Itoa(int(m / time.Minute))
			}
		}
		return nil
	})
	return told, err
}
