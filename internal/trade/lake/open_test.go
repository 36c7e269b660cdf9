package lake

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/trade/journal"
)

// Holes that stand open: today's, those of earlier days that were opened again, marked ones too; not the closed ones, whatever order entries come in.
func TestOpenOn(t *testing.T) {
	lakeID, writer := journal.NewID(), journal.NewID()
	zone := time.FixedZone("", -3*3600)
	at := func(day, hour int) time.Time { return time.Date(2026, 1, day, hour, 0, 0, 0, zone) }
	author := journal.Author{Outfit: journal.NewID(), Lake: lakeID, Account: writer, Zone: zone}
	ids := []uuid.UUID{journal.NewID(), journal.NewID(), journal.NewID(), journal.NewID()}
	draft := func(id uuid.UUID, when time.Time, b journal.Body) journal.Draft {
		return author.Draft(id, when, when, b)
	}
	drafts := []journal.Draft{
		draft(uuid.Nil, at(1, 1), &journal.Lake{Name: "Lake Tamaringen", Origin: journal.Point{Lat: 479000000, Lon: -450000000}, Zone: "Etc/GMT+3"}),
		draft(ids[0], at(14, 9), &journal.Hole{Number: 1}),
		draft(ids[1], at(14, 9), &journal.Hole{Number: 2}),
		draft(ids[2], at(15, 9), &journal.Hole{Number: 1}),
		draft(ids[3], at(15, 9), &journal.Hole{Number: 2}),
		draft(uuid.Nil, at(15, 10), &journal.HoleState{Hole: ids[0], State: "reopened"}),
		draft(uuid.Nil, at(15, 15), &journal.HoleState{Hole: ids[3], State: "closed"}),
		draft(uuid.Nil, at(15, 15), &journal.HoleState{Hole: ids[2], State: "marked"}),
	}
	for _, order := range [][]int{{0, 1, 2, 3, 4, 5, 6, 7}, {0, 7, 6, 5, 4, 3, 2, 1}} {
		var log journal.Log
		head := journal.Head{Journal: journal.NewID()}
		for _, i := range order {
			e, err := journal.Seal(head, drafts[i])
			if err != nil {
				t.Fatal(err)
			}
			head = journal.HeadOf(&e)
			if err := log.Add(&e); err != nil {
				t.Fatal(err)
			}
		}
		v := New(lakeID)
		v.Sync(&log)
		for when, want := range map[time.Time][]uuid.UUID{at(15, 9): {ids[2], ids[3]}, at(15, 12): {ids[2], ids[3], ids[0]}, at(15, 16): {ids[2], ids[0]}} {
			got := map[uuid.UUID]bool{}
			for _, h := range v.OpenOn("2026-01-15", when) {
				got[h.ID] = true
			}
			if len(got) != len(want) {
				t.Errorf("%s: %d open, want %d", when.Format("15:04"), len(got), len(want))
			}
			for _, id := range want {
				if !got[id] {
					t.Errorf("%s: a hole is missing", when.Format("15:04"))
				}
			}
		}
		if h := v.Hole(ids[2]); h.State != "marked" || !h.Big() {
			t.Errorf("%+v", h)
		}
	}
}
