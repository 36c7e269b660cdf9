package plan

import (
	"fmt"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/trade/lake"
)

// learned gives a filter with past days of a hundred looks in a square about the middle, and one that still draws looks.
func learned(b testing.TB, days int, halfSide float64) (*Filter, func(when time.Time) Look) {
	f := fresh(b)
	rng := num.NewStream(5, "size")
	f.Judge(false)
	draw := func(when time.Time) Look {
		l := Look{At: geo.Local{E: (2*rng.Float64() - 1) * halfSide, N: (2*rng.Float64() - 1) * halfSide}, When: when, Length: look}
		if rng.Float64() < 0.12 {
			l.Marks = lake.Few
		}
		return l
	}
	for d := range days {
		for i := range 100 {
			f.Look(draw(t0.AddDate(0, 0, d).Add(time.Duration(i) * 4 * time.Minute)))
		}
		f.Night()
	}
	f.Judge(true)
	return f, draw
}

// BenchmarkSizeLook is one look taken in, 200 looks into a day, with past days on record.
func BenchmarkSizeLook(b *testing.B) {
	for _, c := range []struct {
		days, looks int
		half        float64
	}{{60, 100, 1000}, {60, 200, 1000}, {60, 400, 1000}, {60, 200, 2000}} {
		b.Run(fmt.Sprintf("%ddays-%dlooks-%.0fkm2", c.days, c.looks, 4*c.half*c.half/1e6), func(b *testing.B) {
			f, draw := learned(b, c.days, c.half)
			start := t0.AddDate(0, 0, c.days)
			for i := range c.looks {
				f.Look(draw(start.Add(time.Duration(i) * time.Minute)))
			}
			b.ReportAllocs()
			for b.Loop() {
				b.StopTimer()
				g := f.Clone()
				l := draw(start.Add(time.Duration(c.looks) * time.Minute))
				b.StartTimer()
				g.Look(l)
			}
		})
	}
}
