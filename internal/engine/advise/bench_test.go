package advise

import (
	"context"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
)

// season writes past days of a hundred looks each, wandering over 2 x 2 km, and looks of today.
func season(b testing.TB, days, today int) *diary {
	d := newDiary(b)
	rng := num.NewStream(3, "season")
	day := func(n int, start time.Time, looks int) {
		at := geo.Local{E: rng.Float64()*1600 - 800, N: rng.Float64()*1600 - 800}
		for i := range looks {
			at = at.Add(geo.Local{E: rng.NormFloat64() * 25, N: rng.NormFloat64() * 25})
			marks := "none"
			if rng.Float64() < 0.12 {
				marks = "few"
			}
			when := start.Add(time.Duration(i) * 400 * time.Minute / time.Duration(looks))
			h := d.look(when, at, marks)
			if marks == "few" && rng.Float64() < 0.4 {
				d.fish(when.Add(time.Minute), h, 1)
			}
		}
	}
	for n := range days {
		day(n, d.at(1, "08:00").AddDate(0, 0, n-days), 100)
	}
	day(0, d.at(15, "08:00"), today)
	return d
}

func benchNext(b *testing.B, days, looks int, remember bool) {
	benchAnswers(b, days, looks, remember, false)
}

func benchAnswers(b *testing.B, days, looks int, remember, answers bool) {
	d := season(b, days, looks)
	in := d.input(d.at(15, "14:45"), geo.Local{E: 100, N: 100})
	in.Answers = answers
	if remember {
		m, err := Remember(context.Background(), in)
		if err != nil {
			b.Fatal(err)
		}
		in.Memory = m
	}
	b.ResetTimer()
	for b.Loop() {
		if _, err := Next(context.Background(), in); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkNext200Looks(b *testing.B)                      { benchNext(b, 0, 200, false) }
func BenchmarkNext200LooksAfter14Days(b *testing.B)           { benchNext(b, 14, 200, false) }
func BenchmarkNext200LooksAfter60Days(b *testing.B)           { benchNext(b, 60, 200, false) }
func BenchmarkNext200LooksAfter60DaysRemembered(b *testing.B) { benchNext(b, 60, 200, true) }

func BenchmarkAnswers200LooksAfter60DaysRemembered(b *testing.B) {
	benchAnswers(b, 60, 200, true, true)
}

func BenchmarkOdds4km2(b *testing.B) {
	d := season(b, 14, 200)
	in := d.input(d.at(15, "14:45"), geo.Local{E: 100, N: 100})
	b.ResetTimer()
	for b.Loop() {
		if _, err := MapOdds(context.Background(), in); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEvening14Days36km2(b *testing.B) {
	d := season(b, 14, 200)
	in := d.input(d.at(15, "19:45"), geo.Local{E: 100, N: 100})
	b.ResetTimer()
	for b.Loop() {
		if _, err := Evening(context.Background(), in, "2026-01-16"); err != nil {
			b.Fatal(err)
		}
	}
}
