package desk

import (
	"context"
	"io"
	"time"

	"icehand/internal/feed/calendar"
)

// warnBefore is how long before an hour the telephone rings, and once more at the hour itself. Common practice, no source.
const warnBefore = 30 * time.Minute

// Alarms writes the turn-back time of today, and the hour agreed to be ashore, as a calendar with alarms. It holds no position, so
// that it may go to people ashore. Written again it replaces what a telephone took in before.
func (d *Desk) Alarms(ctx context.Context, w io.Writer) error {
	t, err := d.TurnBack(ctx)
	if err != nil {
		return err
	}
	return d.Read(ctx, func(v View) error {
		event := func(what, summary, said string, at time.Time) calendar.Event {
			return calendar.Event{UID: string(v.Today) + "-" + what + "-" + v.Lake.ID.String() + "@icehand", Stamp: v.Now, Start: at, Summary: summary, Description: said,
				Alarms: []time.Duration{warnBefore, 0}}
		}
		why := t.Binding.Text + ". "
		if t.Override != nil {
			why = "Set by the guide. "
		}
		events := []calendar.Event{event("turn-back", "Turn back", why+"As reckoned "+v.Now.In(v.Lake.Zone).Format("15:04")+"; it moves with the day. Advice only.", t.At)}
		if trip := v.Party.Trip(v.Today); trip != nil && !trip.Agreed.IsZero() {
			events = append(events, event("ashore", "Ashore by now, as agreed", "Not ashore? Follow the overdue steps. Suspect trouble? Call rescue now; do not wait for the steps.", trip.Agreed))
		}
		return calendar.Write(w, events)
	})
}
