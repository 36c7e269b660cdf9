package desk

import (
	"context"
	"io"
	"strings"
	"time"

	"icehand/internal/engine/safety"
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
		over, err := d.overdue(ctx, v.Now)
		if err != nil {
			return err
		}
		return calendar.Write(w, append(events, watchEvents(over, event)...))
	})
}

// stepWords says each step of a party that is overdue.
var stepWords = map[string]string{safety.CallParty: "Overdue: call the party, by telephone and radio", safety.LookFor: "Overdue: somebody looks for the vehicle and for them",
	safety.CallRescue: "Overdue: call rescue, with the sheet"}

// StepWords says a step of a party that is overdue.
func StepWords(do string) string { return strings.TrimPrefix(stepWords[do], "Overdue: ") }

// watchEvents gives the alarms of those who watch: the next check-in, and every step while the party is not ashore. They hold no position.
func watchEvents(o Overdue, event func(what, summary, said string, at time.Time) calendar.Event) (out []calendar.Event) {
	if o.Answer.State == safety.TripAshore {
		return nil
	}
	if !o.Answer.CheckIn.IsZero() {
		out = append(out, event("check-in", "Check-in is due", "Heard of them? Write it down. Nothing heard: call them.", o.Answer.CheckIn))
	}
	for _, s := range o.Answer.Steps {
		if s.Taken.IsZero() {
			e := event("step-"+s.Do, stepWords[s.Do], "Unless they are ashore. Suspect trouble? Call rescue now; do not wait for the steps.", s.At)
			e.Alarms = []time.Duration{0}
			out = append(out, e)
		}
	}
	return out
}
