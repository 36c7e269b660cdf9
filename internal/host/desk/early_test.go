package desk

import (
	"strings"
	"testing"
	"time"

	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// Two records of the wind, the second turned: the turn-back time knows it, though there is no forecast.
func TestAWindShiftOnRecordBringsTheTurnBackForward(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	b.look(lake.None) // they came out at nine
	wind := func(from int64) {
		t.Helper()
		mms := int64(7000)
		b.must(b.Record(b.ctx, Act{}, &journal.Weather{Wind: &mms, WindHeight: "mast", From: &from}))
	}
	bound := func() (safety.TurnBack, bool) {
		t.Helper()
		tb, err := b.TurnBack(b.ctx)
		b.must(err)
		return tb, tb.Binding.Code == "wind_came"
	}
	wind(225)
	before, came := bound()
	if came {
		t.Errorf("a steady wind is no shift: %+v", before.Binding)
	}
	b.now = b.now.Add(2 * time.Hour)
	wind(315)
	after, came := bound()
	if !came || !after.At.Before(before.At) || !strings.HasPrefix(after.Binding.Text, "wind turned NW at 11:00, not forecast; ") {
		t.Errorf("%v for %s %q, before it was %v", after.At, after.Binding.Code, after.Binding.Text, before.At)
	}
}
