package desk

import (
	"context"
	"fmt"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/trade/journal"
)

// Bring moves rods to one hole in a single act: their sits end, new ones begin there, each for the same guest. A rod that
// sits there already goes on sitting.
func (d *Desk) Bring(ctx context.Context, a Act, ref HoleRef, rods []int, target string) error {
	return d.record(ctx, a, func(a Act) error { return d.bring(ctx, a, ref, rods, uuid.Nil, target) })
}

// bring writes the sits of one act. The first new sit is the act itself; everything else that the act makes has an id
// drawn from it. The caller holds mu.
func (d *Desk) bring(ctx context.Context, a Act, ref HoleRef, rods []int, guest uuid.UUID, target string) error {
	if d.log.Find(a.ID) != nil { // a repeat of this act
		return nil
	}
	hole, items, err := d.hole(d.besideOpen(ref, a), a, 0)
	if err != nil {
		return err
	}
	moved := false
	for _, rod := range rods {
		who, there := guest, false
		for _, s := range d.party.RodsAt(a.At) {
			if s.Rod != rod {
				continue
			}
			if there = s.Hole == hole && len(rods) > 1; there {
				break
			}
			items = append(items, item{d.madeEnd(a.ID, rod), a.At, &journal.SitEnd{Sit: s.ID, Why: "moved"}})
			if who == uuid.Nil {
				who = s.Guest
			}
		}
		if there {
			continue
		}
		id := a.ID
		if moved {
			id = d.madeStart(a.ID, rod)
		}
		moved = true
		items = append(items, item{id, a.At, &journal.SitStart{Hole: hole, Rod: int64(rod), Guest: who, Target: target}})
	}
	if !moved {
		return fault.New(fault.Conflict, "Nothing was written.", "those rods sit there already")
	}
	return d.write(ctx, items...)
}

// madeEnd and madeStart give the ids of what an act makes of one rod besides the act itself.
func (d *Desk) madeEnd(act uuid.UUID, rod int) uuid.UUID {
	return journal.ContentID(d.lake.ID, journal.KindSitEnd, fmt.Sprintf("%s %d", act, rod))
}

func (d *Desk) madeStart(act uuid.UUID, rod int) uuid.UUID {
	return journal.ContentID(d.lake.ID, journal.KindSitStart, fmt.Sprintf("%s %d", act, rod))
}

// mostRods bounds the rods of a party, as the journal does.
const mostRods = 99

// madeBy lists what is on record that an act made besides itself: the hole, and the other sits that it began or ended.
func (d *Desk) madeBy(act uuid.UUID) []uuid.UUID {
	out := []uuid.UUID{MadeHole(d.lake.ID, act)}
	for rod := 0; rod <= mostRods; rod++ {
		out = append(out, d.madeStart(act, rod), d.madeEnd(act, rod))
	}
	held := out[:0]
	for _, id := range out {
		if d.log.Find(id) != nil {
			held = append(held, id)
		}
	}
	return held
}
