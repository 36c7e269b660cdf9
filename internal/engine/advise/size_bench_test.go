package advise

import (
	"context"
	"fmt"
	"runtime"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/trade/journal"
)

// winter writes days of six rods over a square: looks that wander, sits of forty minutes where marks were, fish in them. The
// last day is today, and its six rods still sit.
func winter(b testing.TB, days, looks, today int, halfSide float64) *diary {
	const rods = 6
	d := newDiary(b)
	rng := num.NewStream(3, "party")
	day := func(start time.Time, looks int, last bool) {
		free := make([]time.Time, rods)
		sits := make([]*journal.SitEnd, rods)
		at := geo.Local{E: (2*rng.Float64() - 1) * halfSide, N: (2*rng.Float64() - 1) * halfSide}
		for i := range looks {
			step := geo.Local{E: rng.NormFloat64() * 30, N: rng.NormFloat64() * 30}
			if i%25 == 24 {
				at, step = geo.Local{E: (2*rng.Float64() - 1) * halfSide, N: (2*rng.Float64() - 1) * halfSide}, geo.Local{}
			}
			at = at.Add(step)
			at.E, at.N = num.Clamp(at.E, -halfSide, halfSide), num.Clamp(at.N, -halfSide, halfSide)
			when, marks := start.Add(time.Duration(i)*400*time.Minute/time.Duration(looks)), "none"
			if rng.Float64() < 0.12 {
				marks = "few"
			}
			h := d.look(when, at, marks)
			if marks == "none" {
				continue
			}
			for r := range rods {
				if free[r].After(when) {
					continue
				}
				if sits[r] != nil {
					d.write(when.Add(time.Second), sits[r])
				}
				sits[r] = &journal.SitEnd{Sit: d.write(when.Add(time.Minute), &journal.SitStart{Hole: h, Rod: int64(r + 1)})}
				free[r] = when.Add(40 * time.Minute)
				for range rng.IntN(4) {
					d.fish(when.Add(time.Duration(2+rng.IntN(35))*time.Minute), h, 1)
				}
			}
		}
		for r := range rods {
			if sits[r] != nil && !last {
				d.write(start.Add(401*time.Minute), sits[r])
			}
		}
	}
	for n := range days {
		day(d.at(1, "08:00").AddDate(0, 0, n-days), looks, false)
	}
	day(d.at(15, "08:00"), today, true)
	return d
}

// BenchmarkSizeNext is the fold of today's looks and one next step for six rods, with the past days in hand. Names give
// looks today, days of a hundred looks, and the square fished in km2; B/op is all that one step allocates.
func BenchmarkSizeNext(b *testing.B) {
	for _, c := range []struct {
		looks, days int
		half        float64
	}{{100, 60, 1000}, {200, 60, 1000}, {400, 60, 1000}, {200, 60, 500}, {200, 60, 2000}, {200, 30, 1000}} {
		b.Run(fmt.Sprintf("%dlooks-%ddays-%.0fkm2", c.looks, c.days, 4*c.half*c.half/1e6), func(b *testing.B) {
			d := winter(b, c.days, 100, c.looks, c.half)
			in := d.input(d.at(15, "14:45"), geo.Local{E: 100, N: 100})
			m, err := Remember(context.Background(), in)
			if err != nil {
				b.Fatal(err)
			}
			in.Memory = m
			if len(in.Rods) != 6 {
				b.Fatalf("%d rods", len(in.Rods))
			}
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Next(context.Background(), in); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkSizeSeason learns past days of a hundred looks with their sits and fish.
func BenchmarkSizeSeason(b *testing.B) {
	for _, c := range []struct {
		days, looks int
		half        float64
	}{{30, 100, 1000}, {60, 100, 1000}, {120, 100, 1000}, {60, 200, 1000}, {60, 100, 2000}} {
		b.Run(fmt.Sprintf("%ddays-%dlooks-%.0fkm2", c.days, c.looks, 4*c.half*c.half/1e6), func(b *testing.B) {
			d := winter(b, c.days, c.looks, 1, c.half)
			in := d.input(d.at(15, "09:00"), geo.Local{})
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Remember(context.Background(), in); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkSizeHeld reports how much memory stays held by a season, its engine and its journal included.
func BenchmarkSizeHeld(b *testing.B) {
	d := winter(b, 60, 100, 200, 1000)
	in := d.input(d.at(15, "14:45"), geo.Local{E: 100, N: 100})
	held := func() float64 {
		var s runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&s)
		return float64(s.HeapAlloc) / (1 << 20)
	}
	before := held()
	for b.Loop() {
		m, err := Remember(context.Background(), in)
		if err != nil {
			b.Fatal(err)
		}
		in.Memory = m
		if _, err := Next(context.Background(), in); err != nil {
			b.Fatal(err)
		}
	}
	after := held()
	b.ReportMetric(before, "MB-journal-and-lake")
	b.ReportMetric(after-before, "MB-memory")
	runtime.KeepAlive(in.Memory)
	runtime.KeepAlive(d)
}
