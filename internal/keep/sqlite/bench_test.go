package sqlite

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/keep/store"
	"icehand/internal/keep/storetest"
	"icehand/internal/trade/journal"
)

// season makes drafts like a real day's: looks with a count, a minute apart.
func season(n, from int) []journal.Draft {
	out := make([]journal.Draft, n)
	for i := range out {
		at := storetest.T0.Add(time.Duration(from+i) * time.Minute)
		count, height := int64(i%5+1), int64(200*(i%7))
		out[i] = storetest.Author.Draft(uuid.Nil, at, at.Add(7*time.Second), &journal.Look{
			Hole: uuid.UUID{0xb1, byte(i), byte(i >> 8)}, Seconds: 45, Marks: "few", Count: &count, Height: &height, Moving: "slow", Strong: "medium"})
	}
	return out
}

func filled(b testing.TB, entries int) *Store {
	s := openTest(b, b.TempDir(), Options{})
	for i := 0; i < entries; i += 10_000 {
		storetest.Append(b, s, season(min(10_000, entries-i), i))
	}
	return s
}

func benchmarkAppend(b *testing.B, n int) {
	s := openTest(b, b.TempDir(), Options{})
	for i := 0; b.Loop(); i++ {
		b.StopTimer()
		drafts := season(n, i*n)
		b.StartTimer()
		storetest.Append(b, s, drafts)
	}
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "entries/s")
}

func BenchmarkAppend1(b *testing.B)   { benchmarkAppend(b, 1) }
func BenchmarkAppend500(b *testing.B) { benchmarkAppend(b, 500) }

func BenchmarkRead100000(b *testing.B) {
	s := filled(b, 100_000)
	b.ReportAllocs()
	for b.Loop() {
		n := 0
		err := s.Read(b.Context(), 0, func(store.Position, *journal.Entry) error { n++; return nil })
		if err != nil || n != 100_000 {
			b.Fatal(n, err)
		}
	}
}

func BenchmarkVerify100000(b *testing.B) {
	s := filled(b, 100_000)
	for b.Loop() {
		storetest.Sound(b, s, 100_000)
	}
}
