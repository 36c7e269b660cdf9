package desk

import (
	"context"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// timed is a bench whose clock can be set while time passes.
type timed struct {
	*bench
	passed time.Duration
}

func newTimed(t *testing.T) *timed {
	b := &timed{bench: newBench(t)}
	b.restart()
	b.look(lake.Few)
	return b
}

// restart opens the record anew, as after the program was ended: what had passed is forgotten.
func (b *timed) restart() {
	b.passed = 0
	d, err := Open(b.ctx, b.store, Options{Clock: func() time.Time { return b.now }, Passed: func() time.Duration { return b.passed }, Seed: 1,
		Recall: surfaces.Recall, Keep: surfaces.Keep, Position: b.opt.Position})
	b.must(err)
	b.Desk = d
}

// after lets time pass and the clock move by as much and a step.
func (b *timed) after(passes, step time.Duration) {
	b.passed += passes
	b.now = b.now.Add(passes + step)
}

func (b *timed) turnBack() time.Time {
	t, err := b.TurnBack(b.ctx)
	b.must(err)
	return t.At
}

// jumps counts the notes of a clock that was set back.
func (b *timed) jumps() (n int) {
	for _, f := range b.log.Facts() {
		if f.Entry.Kind == journal.KindClockJump {
			n++
		}
	}
	return n
}

// A clock that goes back by an hour does not move the turn-back time later by what passes, while the program runs and when it
// was ended in between; it is noted once and said first. Drift, a forward step and a phone that slept change nothing. When the
// guide says that the clock is right, the time is as without it.
func TestAClockThatGoesBack(t *testing.T) {
	for _, c := range []struct {
		name    string
		passes  time.Duration
		step    time.Duration
		restart bool
		lost    time.Duration
	}{
		{"an hour back", 10 * time.Minute, -time.Hour, false, time.Hour},
		{"three minutes back", 10 * time.Minute, -3 * time.Minute, false, 3 * time.Minute},
		{"drift", 10 * time.Minute, -2 * time.Minute, false, 0},
		{"an hour forward", 10 * time.Minute, time.Hour, false, 0},
		{"an hour back while it did not run", 0, -time.Hour, true, time.Hour},
		{"an hour later after a restart", 0, time.Hour, true, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newTimed(t)
			before := b.turnBack()
			b.after(c.passes, c.step)
			if c.restart {
				b.restart()
			}
			at := b.turnBack()
			if at = b.turnBack(); !at.Equal(before.Add(-c.lost)) {
				t.Errorf("turn back %s, before %s", at.Format("15:04"), before.Format("15:04"))
			}
			want := 0
			if c.lost > 0 {
				want = 1
			}
			if got := b.jumps(); got != want {
				t.Errorf("noted %d times", got)
			}
			s, err := b.SetBack(b.ctx)
			b.must(err)
			if s.By != c.lost {
				t.Errorf("set back by %s", s.By)
			}
			err = b.ClockIsRight(b.ctx, Act{})
			if c.lost == 0 {
				if fault.CodeOf(err) != fault.NotFound {
					t.Errorf("nothing to take back: %v", err)
				}
				return
			}
			b.must(err)
			if tb, err := b.TurnBack(b.ctx); err != nil || !tb.At.Equal(before) || len(tb.Unknown) > 0 && strings.Contains(tb.Unknown[0], "clock") {
				t.Errorf("the clock is right: %s %q (%v), want %s", tb.At.Format("15:04"), tb.Unknown, err, before.Format("15:04"))
			}
		})
	}
}

// The guide's own time that was set before comes earlier with the clock; one that he sets after it stands as he set it.
func TestAClockThatGoesBackMovesTheGuidesTime(t *testing.T) {
	b := newTimed(t)
	until := b.now.Add(2 * time.Hour)
	b.must(b.SetTurnBack(b.ctx, Act{}, until, "way_shorter"))
	if at := b.turnBack(); !at.Equal(until) {
		t.Fatalf("set %s, counts %s", until, at)
	}
	b.after(20*time.Minute, -time.Hour)
	if at := b.turnBack(); !at.Equal(until.Add(-time.Hour)) {
		t.Errorf("after an hour back: %s", at)
	}
	b.must(b.SetTurnBack(b.ctx, Act{}, until, "way_shorter"))
	if at := b.turnBack(); !at.Equal(until) {
		t.Errorf("set anew: %s", at)
	}
}

// While the store cannot be written the clock is watched all the same, and noted once when it can.
func TestAClockThatGoesBackOnAFullStore(t *testing.T) {
	b := newTimed(t)
	before := b.turnBack()
	full := &failing{Store: b.store, full: true}
	b.Desk.store = full
	b.after(5*time.Minute, -30*time.Minute)
	for range 3 {
		if at := b.turnBack(); !at.Equal(before.Add(-30 * time.Minute)) {
			t.Errorf("turn back %s, before %s", at.Format("15:04"), before.Format("15:04"))
		}
	}
	full.full = false
	if at := b.turnBack(); !at.Equal(before.Add(-30*time.Minute)) || b.jumps() != 1 {
		t.Errorf("turn back %s, noted %d times", at.Format("15:04"), b.jumps())
	}
}

// Another phone's clock moves nothing here.
func TestAnotherPhonesClock(t *testing.T) {
	b := newTimed(t)
	before := b.turnBack()
	id, err := b.store.Identity(b.ctx)
	b.must(err)
	id.Journal[0]++
	other := journal.Author{Outfit: id.Outfit, Lake: b.lake.ID, Account: id.Account, Zone: b.lake.Zone}
	d := other.Draft(journal.NewID(), b.now, b.now, &journal.ClockJump{Before: b.now.UnixMilli(), After: b.now.Add(-time.Hour).UnixMilli()})
	e, err := journal.Seal(journal.Head{Journal: id.Journal}, d)
	b.must(err)
	b.must(b.log.Add(&e))
	b.must(b.refresh(b.ctx))
	if at := b.turnBack(); !at.Equal(before) {
		t.Errorf("turn back %s, before %s", at, before)
	}
}

// failing is a store that takes no entry while it is full.
type failing struct {
	store.Store
	full bool
}

func (s *failing) Append(ctx context.Context, drafts []journal.Draft) ([]journal.Entry, error) {
	if s.full {
		return nil, fault.New(fault.NotSaved, "Make room.", "the store is full")
	}
	return s.Store.Append(ctx, drafts)
}
