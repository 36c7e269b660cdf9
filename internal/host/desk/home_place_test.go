package desk

import (
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// Where nothing of today tells a place the farthest one of an earlier day stands in, so that the turn-back time is no later
// for it; it is forgotten after a month.
func TestFarthestOfAnEarlierDay(t *testing.T) {
	b := newBench(t)
	b.at(0, 300)
	b.look(lake.Few)
	b.now = b.now.Add(time.Minute)
	b.at(0, 900)
	b.look(lake.Few)
	day := journal.DayOf(b.now, b.view().Lake.Zone)
	for _, c := range []struct {
		days    int
		north   float64
		earlier bool
	}{{0, 900, false}, {1, 900, true}, {29, 900, true}, {30, 0, true}} {
		later := journal.DayOf(day.Midnight(b.view().Lake.Zone).AddDate(0, 0, c.days).Add(12*time.Hour), b.view().Lake.Zone)
		at, earlier := b.farthest(later, geo.Local{})
		if at.Distance(geo.Local{N: c.north}) > 1 || earlier != c.earlier {
			t.Errorf("%d days later: %v, earlier %v", c.days, at, earlier)
		}
	}
}
