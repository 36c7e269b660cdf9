package desk

import (
	"context"

	"github.com/google/uuid"

	"icehand/internal/engine/advise"
	"icehand/internal/trade/journal"
)

// Told tells whether the desk is told where the phone stands (a simulated position); pages then need not ask the phone.
func (d *Desk) Told() bool { return d.opt.Position != nil }

// Follows tells whether a look lets a simulated scout walk to the next step first, as in the demo.
func (d *Desk) Follows() bool { return d.opt.Follow != nil }

// Standing answers: at which hole of today does the phone stand, and where? The hole is zero when none lies within the
// fix's error, or without a fix: a stale fix is never used.
func (d *Desk) Standing(ctx context.Context) (here advise.Place, hole uuid.UUID, err error) {
	err = d.with(ctx, func() error {
		now := d.Clock()
		here = d.here(now)
		if here.Known {
			if h := d.findHole(here, journal.DayOf(now, d.lake.Zone)); h != nil {
				hole = h.ID
			}
		}
		return nil
	})
	return here, hole, err
}
