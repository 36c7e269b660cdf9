package cli

import (
	"context"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/keep/sqlite"
)

// session is an open record with its desk.
type session struct {
	*desk.Desk
	store *sqlite.Store
	zone  *time.Location
	now   time.Time
}

// read opens the record for a command that only reads; it works beside a running server.
func (g *Globals) read(ctx context.Context) (*session, error) { return g.open(ctx, true) }

// write opens the record for writing; a second writer is refused.
func (g *Globals) write(ctx context.Context) (*session, error) { return g.open(ctx, false) }

func (g *Globals) open(ctx context.Context, readOnly bool) (*session, error) {
	st, err := sqlite.Open(ctx, g.Data, sqlite.Options{ReadOnly: readOnly, Program: "icehand " + g.env.Version})
	if err != nil {
		return nil, err
	}
	s := &session{store: st, now: g.env.Clock()}
	cache := newShelf(g.Data)
	s.Desk, err = desk.Open(ctx, st, desk.Options{Clock: func() time.Time { return s.now }, Recall: cache.recall, Keep: cache.keep})
	if err == nil {
		err = s.settle(ctx, g)
	}
	if err != nil {
		st.Close()
		return nil, err
	}
	return s, nil
}

// settle moves the session's clock to --at, read in the lake's zone.
func (s *session) settle(ctx context.Context, g *Globals) error {
	info, err := s.Info(ctx)
	if err != nil {
		return err
	}
	s.zone = info.Zone
	if g.At == "" {
		return nil
	}
	s.now, err = parseTime(g.At, s.now, s.zone)
	return err
}

func (s *session) close() { _ = s.store.Close() } // nothing is pending: every write was durable before it was answered

// parseTime reads RFC 3339, a date with time, a date, or a time of today in the zone.
func parseTime(text string, now time.Time, zone *time.Location) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	for _, layout := range []string{"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02"} {
		if t, err := time.ParseInLocation(layout, text, zone); err == nil {
			return t, nil
		}
	}
	if t, err := time.Parse("15:04", text); err == nil {
		y, m, d := now.In(zone).Date()
		return time.Date(y, m, d, t.Hour(), t.Minute(), 0, 0, zone), nil
	}
	return time.Time{}, fault.New(fault.BadInput, "Write 2026-01-15 09:50, 09:50 or 2026-01-15T09:50:00-03:00.", "%q is not a time", text)
}

// place reads a position given on the command line, or gives nil.
func (s *session) place(ctx context.Context, text string) (*advise.Place, error) {
	if text == "" {
		return nil, nil
	}
	p, err := geo.ParsePosition(text)
	if err != nil {
		return nil, err
	}
	at, err := s.Local(ctx, p)
	if err != nil {
		return nil, err
	}
	return &advise.Place{At: at, Known: true, Fixed: s.now}, nil
}

// lastPlace gives where the record last puts the phone today: the newest hole with a place. Its fix is as old as the
// hole, and it is used as a place to start from, not as "here".
func (s *session) lastPlace(ctx context.Context) *advise.Place {
	var p *advise.Place
	_ = s.Read(ctx, func(v desk.View) error { // nothing in it fails
		holes := v.Lake.HolesOn(v.Today)
		for i := len(holes) - 1; i >= 0 && p == nil; i-- {
			if h := holes[i]; h.Placed && !h.Drilled.After(s.now) {
				p = &advise.Place{At: h.At, Known: true, Accuracy: h.Accuracy, Fixed: s.now}
			}
		}
		return nil
	})
	return p
}
