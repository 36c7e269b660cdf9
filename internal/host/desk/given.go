package desk

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/feed/photo"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
)

// Bounds of how long a link to a report opens it; ours.
const (
	leastLink = time.Hour
	mostLink  = 90 * 24 * time.Hour
)

// AddPicture takes a picture in, drawn anew; what came with it is not kept. The same picture counts once.
func (d *Desk) AddPicture(ctx context.Context, a Act, data []byte) error {
	clean, err := photo.Clean(data)
	if err != nil {
		return err
	}
	return d.record(ctx, a, func(a Act) error {
		hash, err := d.store.PutBlob(ctx, clean.Data)
		if err != nil {
			return fault.Wrap(err, fault.NotSaved, "Try again.", "the picture was not saved")
		}
		id := journal.ContentID(d.lake.ID, journal.KindPhoto, string(journal.DayOf(a.At, d.lake.Zone))+hash.String())
		return d.write(ctx, item{id, a.At, &journal.Photo{Blob: hash, Media: "image/jpeg"}})
	})
}

// Pictured is a picture on record.
type Pictured struct {
	ID   uuid.UUID
	When time.Time
}

// Pictures lists the pictures of a day.
func (d *Desk) Pictures(ctx context.Context, day journal.Day) (out []Pictured, err error) {
	err = d.with(ctx, func() error {
		for _, f := range d.log.Facts() {
			if _, ok := f.Body.(*journal.Photo); ok && f.Counts() && f.Entry.Day == day {
				out = append(out, Pictured{f.Entry.ID, f.At})
			}
		}
		return nil
	})
	return out, err
}

// Picture gives a picture on record, drawn anew.
func (d *Desk) Picture(ctx context.Context, id uuid.UUID) (p photo.Picture, err error) {
	err = d.with(ctx, func() error {
		f := d.log.Find(id)
		if f == nil || !f.Counts() {
			return fault.New(fault.NotFound, "", "there is no such picture")
		}
		b, ok := f.Body.(*journal.Photo)
		if !ok {
			return fault.New(fault.NotFound, "", "there is no such picture")
		}
		data, err := d.store.Blob(ctx, b.Blob)
		if err != nil {
			return fmt.Errorf("desk: a picture: %w", err)
		}
		p, err = photo.Clean(data)
		return err
	})
	return p, err
}

// NewKey makes the key of a link: 128 random bits.
func NewKey() (string, error) {
	var secret [16]byte
	if _, err := rand.Read(secret[:]); err != nil {
		return "", fmt.Errorf("desk: making a key: %w", err)
	}
	return hex.EncodeToString(secret[:]), nil
}

// Give is a report on its way to guests.
type Give struct {
	Of   journal.Day
	Page []byte
	Key  string        // of [NewKey]; "": it has no link
	Life time.Duration // how long the link opens it
}

// GiveReport keeps a report as it was made and journals that it was. The journal holds a hash of the key alone, so that no copy of the record
// opens anything.
func (d *Desk) GiveReport(ctx context.Context, a Act, g Give) error {
	if g.Key != "" && (g.Life < leastLink || g.Life > mostLink) {
		return fault.New(fault.BadInput, "Choose from 1 hour to 90 days.", "a link of %s is too short or too long", g.Life)
	}
	return d.record(ctx, a, func(a Act) error {
		hash, err := d.store.PutBlob(ctx, g.Page)
		if err != nil {
			return fault.Wrap(err, fault.NotSaved, "Try again.", "the report was not saved")
		}
		b := &journal.Share{What: "report", Of: g.Of, Blob: hash}
		if g.Key != "" {
			b.Key, b.Until = journal.Sum([]byte(g.Key)), a.At.Add(g.Life).UnixMilli()
		}
		return d.write(ctx, item{a.ID, a.At, b})
	})
}

// noLink is the one answer to a link that opens nothing: it does not tell whether it ever did.
func noLink() error {
	return fault.New(fault.NotFound, "Ask your guide for a new one.", "this link opens nothing, or no longer")
}

// OpenLink gives the report under a key, while it opens.
func (d *Desk) OpenLink(ctx context.Context, key string) (page []byte, err error) {
	err = d.with(ctx, func() error {
		hash, now := journal.Sum([]byte(key)), d.Clock()
		for _, g := range d.party.Given {
			if g.Key == hash && g.Opens(now) {
				page, err = d.given(ctx, g)
				return err
			}
		}
		return noLink()
	})
	return page, err
}

// Given gives a report that was made, by its act.
func (d *Desk) Given(ctx context.Context, id uuid.UUID) (page []byte, err error) {
	err = d.with(ctx, func() error {
		for _, g := range d.party.Given {
			if g.ID == id {
				page, err = d.given(ctx, g)
				return err
			}
		}
		return fault.New(fault.NotFound, "Make it anew.", "there is no such report")
	})
	return page, err
}

func (d *Desk) given(ctx context.Context, g party.Given) ([]byte, error) {
	page, err := d.store.Blob(ctx, g.Blob)
	if errors.Is(err, store.ErrNotFound) {
		return nil, fault.New(fault.NotFound, "Make it anew.", "the page of that report is not kept here")
	}
	if err != nil {
		return nil, fmt.Errorf("desk: a report: %w", err)
	}
	return page, nil
}

// TakeBack ends a report's link. What was sent or saved stays where it is.
func (d *Desk) TakeBack(ctx context.Context, a Act, id uuid.UUID) error {
	return d.record(ctx, a, func(a Act) error {
		for _, g := range d.party.Given {
			if g.ID == id {
				return d.write(ctx, item{a.ID, a.At, &journal.Retract{Target: id, Why: "the guide took the link back"}})
			}
		}
		return fault.New(fault.NotFound, "", "there is no such report")
	})
}
