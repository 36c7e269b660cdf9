package desk

import (
	"context"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/engine/safety"
	"icehand/internal/trade/journal"
)

// A clock that is set back gives hours away that have passed: the turn-back time would come later than it should. So the
// desk holds the wall clock against the time that really passes, notes when it went back, and keeps the earlier of the two
// turn-back times until the guide says that the clock is right. A clock that jumps forward makes every hour come sooner,
// which needs no guard; and it looks the same as a phone that slept.

// wentBack is from where on a clock counts as set back; less is the drift and correction of a usual clock. Ours.
const wentBack = 2 * time.Minute

// Running tells, from now on, how much time has passed by a clock that nobody sets.
func Running() func() time.Duration {
	began := time.Now() // with the reading of the monotonic clock
	return func() time.Duration { return time.Since(began) }
}

// clockWatch holds the wall clock against the time that passes.
type clockWatch struct {
	wall    time.Time // at the last look; zero: none yet
	passed  time.Duration
	written time.Time     // by the wall clock, of the newest own entry; zero: none
	unnoted time.Duration // by how much the clock went back, while that could not be written down
}

// back gives the wall clock at the last look, by how much it has gone back since, and what really passed.
func (w *clockWatch) back(wall time.Time, passed time.Duration) (before time.Time, by, since time.Duration) {
	wall = wall.Round(0)
	before, since = w.wall, passed-w.passed
	if !before.IsZero() {
		by = since - wall.Sub(before)
	}
	w.wall, w.passed = wall, passed
	return before, by, since
}

// setBacks folds the times that this phone's clock was set back, and with which of them each new turn-back time was set.
type setBacks struct {
	cursor journal.Cursor
	list   []*journal.Fact
	hours  []*journal.Fact // turn-back times
}

func (s *setBacks) sync(log *journal.Log, own uuid.UUID) {
	facts, again := log.Since(&s.cursor)
	if again {
		s.list, s.hours = nil, nil
	}
	for _, f := range facts {
		if !f.Counts() {
			continue
		}
		switch f.Body.(type) {
		case *journal.ClockJump:
			if f.Entry.Journal == own {
				s.list = append(s.list, f)
			}
		case *journal.TurnBack:
			s.hours = append(s.hours, f)
		}
	}
}

// told gives the turn-back time of a lake's day that somebody set last, by cause and not by the clock, and by how much the clock
// went back after it; nil without one.
func (s *setBacks) told(lake uuid.UUID, day journal.Day) (last *journal.Fact, back time.Duration) {
	for _, f := range s.hours {
		if f.Entry.Lake == lake && f.Entry.Day == day && (last == nil || journal.Compare(f.Entry, last.Entry) > 0) {
			last = f
		}
	}
	for _, f := range s.list {
		if f.Entry.Day == day && last != nil && journal.Compare(f.Entry, last.Entry) > 0 {
			back += lost(f)
		}
	}
	return last, back
}

func lost(f *journal.Fact) time.Duration {
	b := f.Body.(*journal.ClockJump)
	return max(0, time.Duration(b.Mono-(b.After-b.Before))*time.Millisecond)
}

// lookAtClock notes a wall clock that went back since the last look. After a start, when what passed is not known, the newest
// of the own entries stands for the last look. What could not be written down counts all the same, and is tried again at the
// next look. The caller holds mu.
func (d *Desk) lookAtClock(ctx context.Context) {
	if d.opt.Passed == nil || d.lake.ID == uuid.Nil {
		return
	}
	w := d.watched
	now, passed := d.Clock(), d.opt.Passed()
	if w.wall.IsZero() {
		w.wall, w.passed = w.written, passed
	}
	before, by, since := w.back(now, passed)
	if by > wentBack {
		err := d.write(ctx, item{journal.NewID(), now, &journal.ClockJump{Before: before.UnixMilli(), After: now.UnixMilli(), Mono: since.Milliseconds()}})
		if err != nil {
			d.watched.unnoted = by
			return
		}
		w.written = now
	}
	w.unnoted = 0
	d.watched = w
}

// SetBack tells that a clock was set back today.
type SetBack struct {
	By    time.Duration // in all
	Since time.Time     // by the clock as it is now
	Ids   []uuid.UUID   // of the entries
}

// setBack gives today's; By is 0 without one. The caller holds mu.
func (d *Desk) setBack(now time.Time) (s SetBack) {
	today := journal.DayOf(now, d.lake.Zone)
	for _, f := range d.backs.list {
		if f.Entry.Day == today {
			s.By, s.Since, s.Ids = s.By+lost(f), f.At, append(s.Ids, f.Entry.ID)
		}
	}
	s.By += d.watched.unnoted
	return s
}

// SetBack answers: was this phone's clock set back today, and nobody has said since that it is right?
func (d *Desk) SetBack(ctx context.Context) (s SetBack, err error) {
	err = d.with(ctx, func() error {
		s = d.setBack(d.Clock())
		return nil
	})
	return s, err
}

// ClockIsRight takes back what was noted of the clock today: the guide has looked at another one.
func (d *Desk) ClockIsRight(ctx context.Context, a Act) error {
	return d.record(ctx, a, func(a Act) error {
		s := d.setBack(d.Clock())
		if d.log.Find(a.ID) != nil { // sent again
			return nil
		}
		if len(s.Ids) == 0 {
			return fault.New(fault.NotFound, "Nothing is to be done.", "no clock that was set back today is on record")
		}
		var items []item
		for i, id := range s.Ids {
			act := a.ID
			if i > 0 {
				act = journal.ContentID(d.lake.ID, journal.KindRetract, a.ID.String()+id.String())
			}
			items = append(items, item{act, a.At, &journal.Retract{Target: id, Why: "the guide says that the clock is right"}})
		}
		return d.write(ctx, items...)
	})
}

// override gives the turn-back time that the guide has set for a day, as the clock now tells it: what the clock went back
// since is taken off. nil without one. The caller holds mu.
func (d *Desk) override(day journal.Day) *safety.Override {
	f, back := d.backs.told(d.lake.ID, day)
	if f == nil {
		return nil
	}
	b := f.Body.(*journal.TurnBack)
	back += d.watched.unnoted
	o := &safety.Override{Set: f.At, Until: time.UnixMilli(b.Until).Add(-back), Reason: b.Reason}
	if b.Computed != 0 {
		o.Computed = time.UnixMilli(b.Computed).Add(-back)
	}
	return o
}
