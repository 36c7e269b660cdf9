package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/trade/journal"
)

// Hours that somebody tells and that end the day: from when fishing is not lawful, which holds on every later day, and until when battery and
// fuel last, which holds on its day only.
const (
	LegalClose = "legal_close"
	FuelUntil  = "fuel_until"
)

// SetHour tells such an hour, as 17:30 by the lake's clock; "" takes it back.
func (d *Desk) SetHour(ctx context.Context, a Act, which, clock string) error {
	return d.record(ctx, a, func(a Act) error {
		if which != LegalClose && which != FuelUntil {
			return fault.New(fault.BadInput, "Tell "+LegalClose+" or "+FuelUntil+".", "%q is no hour that ends the day", which)
		}
		if clock != "" {
			if _, err := ClockOn(journal.DayOf(a.At, d.lake.Zone), clock, d.lake.Zone); err != nil {
				return err
			}
		}
		raw, err := json.Marshal(clock)
		if err != nil {
			return fmt.Errorf("desk: keeping an hour: %w", err)
		}
		return d.write(ctx, item{a.ID, a.At, &journal.Setting{Key: which, Value: raw}})
	})
}

// hourToday gives such an hour on a day; zero when none was told.
func (d *Desk) hourToday(which string, day journal.Day) time.Time {
	told := d.lake.Settings(which)
	if len(told) == 0 {
		return time.Time{}
	}
	last := told[len(told)-1]
	var clock string
	if which == FuelUntil && journal.DayOf(last.When, d.lake.Zone) != day || json.Unmarshal(last.Value, &clock) != nil || clock == "" {
		return time.Time{}
	}
	at, err := ClockOn(day, clock, d.lake.Zone)
	if err != nil {
		return time.Time{}
	}
	return at
}

// Hours gives the hours told as they were written; "" for none.
func (d *Desk) Hours(ctx context.Context) (legal, fuel string, err error) {
	err = d.with(ctx, func() error {
		today := journal.DayOf(d.Clock(), d.lake.Zone)
		for which, to := range map[string]*string{LegalClose: &legal, FuelUntil: &fuel} {
			if t := d.hourToday(which, today); !t.IsZero() {
				*to = t.In(d.lake.Zone).Format("15:04")
			}
		}
		return nil
	})
	return legal, fuel, err
}
