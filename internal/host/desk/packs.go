package desk

import (
	"context"
	"errors"
	"time"

	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// Packs are what this installation holds for a day without signal, and how old it is.
type Packs struct {
	Weather   Pack
	Until     time.Time // the end of the forecast's last hour
	Outline   Pack
	Soundings Pack
	Winters   int         // past ones with looks, on this lake
	Days      int         // with looks, of them
	Last      journal.Day // the newest of those
}

// Pack is one file of the record.
type Pack struct {
	Of   time.Time // when it was issued, or recorded when that is not told; zero: there is none
	Here bool      // its bytes are held here, not only its name
}

// Packs lists them. A file that cannot be read counts as not here.
func (d *Desk) Packs(ctx context.Context) (out Packs, err error) {
	err = d.with(ctx, func() error {
		now := d.Clock()
		if l := d.lake.Layer("forecast"); l != nil {
			out.Weather.Of = l.When
			hours, issued, err := d.forecast(ctx)
			out.Weather.Here = err == nil
			if !issued.IsZero() {
				out.Weather.Of = issued
			} else if l.Issued != 0 {
				out.Weather.Of = time.UnixMilli(l.Issued)
			}
			if len(hours) > 0 {
				out.Until = hours[len(hours)-1].Start.Add(time.Hour)
			}
		}
		for what, to := range map[string]*Pack{"outline": &out.Outline, "soundings": &out.Soundings} {
			if *to, err = d.layerPack(ctx, d.lake.Layer(what)); err != nil {
				return err
			}
		}
		winters, days := map[int]bool{}, map[journal.Day]bool{}
		for _, l := range d.lake.Looks {
			if w := winterOf(l.When); w < winterOf(now) {
				day := journal.DayOf(l.When, d.lake.Zone)
				winters[w], days[day] = true, true
				out.Last = max(out.Last, day)
			}
		}
		out.Winters, out.Days = len(winters), len(days)
		return nil
	})
	return out, err
}

// layerPack tells of the file of a layer.
func (d *Desk) layerPack(ctx context.Context, l *lake.Layer) (Pack, error) {
	if l == nil {
		return Pack{}, nil
	}
	_, err := d.store.Blob(ctx, l.Blob)
	if errors.Is(err, store.ErrNotFound) {
		return Pack{Of: l.When}, nil
	}
	return Pack{l.When, err == nil}, err
}

// winterOf numbers winters: that of a time before August belongs to the year before.
func winterOf(t time.Time) int { return t.AddDate(0, -7, 0).Year() }
