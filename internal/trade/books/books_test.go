package books

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"icehand/internal/trade/journal"
)

func minutes(n int64) *int64 { return &n }

// A small season by hand: what came in, what went out, what is held for a day to come.
func TestTotals(t *testing.T) {
	b := uuid.UUID{15: 1}
	old := uuid.UUID{15: 2}
	v := &View{Bookings: []Booking{{ID: b, Booking: journal.Booking{Day: "2026-02-01", State: "booked"}}, {ID: old, Booking: journal.Booking{Day: "2026-01-10", State: "booked"}}}}
	for _, l := range []journal.Ledger{
		{What: "deposit", Day: "2026-01-02", Amount: 40_000, Booking: b}, {What: "deposit", Day: "2026-01-02", Amount: 30_000, Booking: old}, {What: "income", Day: "2026-01-10", Amount: 60_050, Booking: old},
		{What: "refund", Day: "2026-01-12", Amount: 10_000, Booking: b}, {What: "cost", Day: "2026-01-10", Amount: 4_525, Item: "bait"}, {What: "cost", Day: "2026-01-11", Amount: 5_000, Item: "fuel"}, {What: "cost", Day: "2026-01-12", Amount: 1_000, Item: "bait"},
		{What: "gear", Day: "2026-01-10", Item: "auger 2", Minutes: minutes(50)}, {What: "gear", Day: "2026-01-11", Item: "auger 2", Minutes: minutes(70)}, {What: "distance", Day: "2026-01-10", Distance: minutes(84_000_000)},
	} {
		v.Lines = append(v.Lines, Line{Ledger: l})
	}
	all := v.Totals("", "")
	if all.Income != 60_050 || all.Deposits != 70_000 || all.Refunds != 10_000 || all.Costs != 10_525 || all.Balance() != 109_525 || all.Driven != 84_000 {
		t.Errorf("%+v", all)
	}
	if len(all.Gear) != 1 || all.Gear[0].Ran != 2*time.Hour || len(all.Items) != 2 || all.Items[0].Name != "bait" || all.Items[0].Amount != 5_525 {
		t.Errorf("%+v", all)
	}
	if one := v.Totals("2026-01-11", "2026-01-11"); one.Costs != 5_000 || one.Income != 0 {
		t.Errorf("%+v", one)
	}
	if held := v.Held("2026-01-15"); held != 30_000 {
		t.Errorf("held %d", held)
	}
	if v.Held("2026-02-02") != 0 || v.Paid(old) != 90_050 || v.Paid(uuid.Nil) != 0 {
		t.Error(v.Held("2026-02-02"), v.Paid(old))
	}
}

// However days are cut, the parts add up to the whole, to the hundredth.
func TestPartsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := &View{}
		for range rapid.IntRange(0, 40).Draw(t, "lines") {
			day := journal.Day(time.Date(2026, 1, rapid.IntRange(1, 28).Draw(t, "day"), 0, 0, 0, 0, time.UTC).Format(time.DateOnly))
			v.Lines = append(v.Lines, Line{Ledger: journal.Ledger{What: rapid.SampledFrom([]string{"income", "deposit", "refund", "cost"}).Draw(t, "what"), Day: day, Amount: rapid.Int64Range(1, 1_000_000).Draw(t, "c"), Item: rapid.SampledFrom([]string{"bait", "fuel"}).Draw(t, "item")}})
		}
		cut := rapid.IntRange(1, 27).Draw(t, "cut")
		day := func(n int) journal.Day {
			return journal.Day(time.Date(2026, 1, n, 0, 0, 0, 0, time.UTC).Format(time.DateOnly))
		}
		all, a, b := v.Totals("", ""), v.Totals("", day(cut)), v.Totals(day(cut+1), "")
		if a.Balance()+b.Balance() != all.Balance() || a.Costs+b.Costs != all.Costs {
			t.Fatal("the parts do not add up")
		}
		sum := int64(0)
		for _, x := range all.Items {
			sum += x.Amount
		}
		if sum != all.Costs {
			t.Fatal("costs by thing are not the costs")
		}
	})
}

// A cancelled booking is on no roster; the others are, by their day.
func TestRoster(t *testing.T) {
	v := &View{}
	for i, s := range []string{"booked", "cancelled", "asked"} {
		v.Bookings = append(v.Bookings, Booking{ID: uuid.UUID{15: byte(i + 1)}, Booking: journal.Booking{Day: "2026-01-15", State: s}})
	}
	if r := v.Roster("2026-01-15"); len(r) != 2 || r[1].State != "asked" || len(v.Roster("2026-01-16")) != 0 {
		t.Errorf("%+v", r)
	}
	if _, ok := v.Find(uuid.UUID{15: 9}); ok {
		t.Error("found what is not there")
	}
}
