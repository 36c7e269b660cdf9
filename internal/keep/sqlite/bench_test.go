package sqlite

import (
	"os"
	"path/filepath"
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

// BenchmarkSeasons1000000 takes twenty seasons through everything once: about two minutes. Only with ICEHAND_LARGE=1.
func BenchmarkSeasons1000000(b *testing.B) {
	if os.Getenv("ICEHAND_LARGE") == "" {
		b.Skip("takes minutes; set ICEHAND_LARGE=1")
	}
	const entries = 1_000_000
	for b.Loop() {
		lap := func(what string, work func()) {
			start := time.Now()
			work()
			b.ReportMetric(time.Since(start).Seconds(), what+"-s")
		}
		var s *Store
		lap("insert", func() { s = filled(b, entries) })
		lap("read", func() {
			n := 0
			if err := s.Read(b.Context(), 0, func(store.Position, *journal.Entry) error { n++; return nil }); err != nil || n != entries {
				b.Fatal(n, err)
			}
		})
		lap("verify", func() { storetest.Sound(b, s, entries) })
		dst := filepath.Join(b.TempDir(), "backup")
		lap("backup", func() {
			if _, err := s.Backup(b.Context(), dst); err != nil {
				b.Fatal(err)
			}
		})
		lap("restore", func() {
			if _, err := Restore(b.Context(), dst, filepath.Join(b.TempDir(), "new"), RestoreOptions{}); err != nil {
				b.Fatal(err)
			}
		})
		info, err := os.Stat(dst)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(info.Size())/1e6, "MB")
	}
}
