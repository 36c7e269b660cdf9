package sim

import (
	"context"
	"fmt"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
)

// Demo is a journal of two weeks and a morning, ready to be filled into a store.
type Demo struct {
	Seed   uint64
	Lake   *Lake
	Now    time.Time    // 09:50 on the demo's day, lake time
	Scout  geo.Position // where the guide stands
	People []Person     // the guide first, then the guests
	Past   []Tally      // of the guided days before
	Diary  *Diary
}

// batch is how many entries are kept at once: one wait for the disk each.
const batch = 500

// NewDemo makes the demo. The same seed gives the same acts, texts and files.
func NewDemo(seed uint64) (*Demo, error) {
	l := NewLake(seed)
	b := NewDiary(l, seed, "demo")
	foundLake(b)
	w := NewWorld(l, seed, clock("2026-01-01", 12, 0))
	past := fortnight(b, w)
	soil(b)
	scout, people := writeMorning(b)
	b.hours(clock("2026-01-01", 0, 0), now)
	stationDays(b)
	if b.err != nil {
		return nil, b.err
	}
	b.sort()
	return &Demo{Seed: seed, Lake: l, Now: now, Scout: l.Position(scout), People: people, Past: past, Diary: b}, nil
}

// foundLake notes the lake, its layers, and the hazards that are known every winter.
func foundLake(b *Diary) {
	l := b.lake
	founded := clock("2025-11-24", 17, 0)
	b.write(founded, &journal.Lake{Name: l.Name, Origin: *journal.PointOf(l.Frame.Origin()), Zone: Zone, FreezeUp: l.FreezeUp})
	b.write(founded.Add(10*time.Minute), &journal.Layer{What: "outline", Blob: b.blob(l.OutlineGeoJSON()), Media: "application/geo+json",
		Name: "tamaringen-outline.geojson", Rows: 1, Source: "made up"})
	soundings, rows := l.SoundingsCSV(b.seed)
	b.write(founded.Add(15*time.Minute), &journal.Layer{What: "soundings", Blob: b.blob(soundings), Media: "text/csv",
		Name: "tamaringen old chart.csv", Unit: "ft", Options: SoundingsOptions, Rows: int64(rows), Source: "made up"})
	issued := clock(today, 4, 12)
	b.write(clock(today, 5, 5), &journal.Layer{What: "forecast", Blob: b.blob(ForecastJSON(issued)), Media: "application/geo+json",
		Name: "forecast.json", Rows: forecastHours, Source: "made up", Issued: issued.UnixMilli(),
		From: issued.Truncate(time.Hour).UnixMilli(), To: issued.Truncate(time.Hour).Add(forecastHours * time.Hour).UnixMilli()})

	b.write(clock("2025-12-14", 15, 0), &journal.Hazard{What: "narrows", Shape: "line", Points: l.points(l.Throat), Radius: 600_000, Report: "present", By: "outfit"})
	for _, o := range l.Springs {
		b.write(clock("2025-12-26", 14, 0), &journal.Hazard{What: "spring", Shape: "area", Points: l.points(o.ring()), Radius: 100_000, Report: "present", By: "outfit"})
	}
	opened := b.write(clock("2026-01-04", 11, 30), &journal.Hazard{What: "ridge", Shape: "line", Points: l.points(l.Ridge), Radius: 40_000,
		Report: "present", Gap: journal.MM(50 * quantity.Centimetre), By: "outfit"})
	b.write(clock("2026-01-10", 16, 5), &journal.Hazard{What: "ridge", Shape: "line", Points: l.points(l.Ridge), Radius: 40_000,
		Report: "present", Gap: journal.MM(12 * quantity.Centimetre), Supersedes: opened, By: "outfit"})
}

// stationDays notes the past days of the weather station near the lake, read in this morning.
func stationDays(b *Diary) {
	last := clock("2026-01-14", 12, 0)
	days := int(last.Sub(clock(StationFirst, 12, 0)).Hours()/24) + 1
	b.write(clock(today, 5, 10), &journal.Layer{What: "station", Blob: b.blob(StationDaily(b.seed, last)), Media: "text/plain",
		Name: "tamaringen.dly", Rows: int64(3 * days), Source: "made up", From: clock(StationFirst, 0, 0).UnixMilli(), To: clock(today, 0, 0).UnixMilli()})
}

// points gives places as the journal holds them.
func (l *Lake) points(places []geo.Local) []journal.Point {
	out := make([]journal.Point, len(places))
	for i, p := range places {
		out[i] = *journal.PointOf(l.Position(p))
	}
	return out
}

// Fill writes the demo into a store, in the name of the store's own outfit and account. Filling twice adds nothing.
func (d *Demo) Fill(ctx context.Context, s store.Store) error {
	who, err := s.Identity(ctx)
	if err != nil {
		return fmt.Errorf("sim: filling the demo: %w", err)
	}
	for _, blob := range d.Diary.Blobs {
		if _, err := s.PutBlob(ctx, blob); err != nil {
			return fmt.Errorf("sim: filling the demo: %w", err)
		}
	}
	for _, t := range d.Diary.Texts {
		if _, err := s.PutSalted(ctx, t); err != nil {
			return fmt.Errorf("sim: filling the demo: %w", err)
		}
	}
	drafts := make([]journal.Draft, 0, batch)
	for i, draft := range d.Diary.Drafts {
		draft.Outfit, draft.Account = who.Outfit, who.Account
		drafts = append(drafts, draft)
		if len(drafts) == batch || i == len(d.Diary.Drafts)-1 {
			if _, err := s.Append(ctx, drafts); err != nil {
				return fmt.Errorf("sim: filling the demo: %w", err)
			}
			drafts = drafts[:0]
		}
	}
	return nil
}
