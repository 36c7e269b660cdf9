package rehearsal

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/sim/rehearse"
)

// Bounds of what a page may ask of the machine that also keeps the journal.
const (
	longest    = 15 * time.Minute // of one run
	mostDays   = 4                // days kept to be watched, about 1 MB a way at most
	mostTables = 16
)

// runs walks rehearsals in the background, one at a time, and keeps what came of the last few.
type runs struct {
	log  *slog.Logger
	ctx  context.Context
	stop context.CancelFunc
	wait sync.WaitGroup

	mu     sync.Mutex
	now    *run
	last   *ended
	days   kept[question, *rehearse.Unfolded]
	tables kept[table, *rehearse.Report]
}

// run is a rehearsal that is being walked.
type run struct {
	what     any // the question or table that it answers
	title    string
	done, of int
	cancel   context.CancelFunc
}

// ended is a run that gave nothing: it was stopped, or it failed.
type ended struct {
	what any
	err  error
}

func newRuns(log *slog.Logger) *runs {
	r := &runs{log: log, days: kept[question, *rehearse.Unfolded]{most: mostDays}, tables: kept[table, *rehearse.Report]{most: mostTables}}
	r.ctx, r.stop = context.WithCancel(context.Background())
	return r
}

// close stops what is being walked and waits for its end.
func (r *runs) close() {
	r.stop()
	r.wait.Wait()
}

// errBusy is answered while another rehearsal is being walked.
var errBusy = fault.New(fault.Conflict, "Wait for its end, or stop it.", "another rehearsal is being walked")

// watch walks one day to be shown, unless it is kept already.
func (r *runs) watch(q question) error {
	q = q.day()
	if r.day(q) != nil {
		return nil
	}
	return r.start(q, q.title(), func(ctx context.Context, progress func(done, of int)) (func(), error) {
		u, err := rehearse.Unfold(ctx, q.watch(progress))
		return func() { r.days.put(q, u) }, err
	})
}

// compare walks some days for the table, unless it is kept already.
func (r *runs) compare(q question) error {
	t := q.table()
	if r.table(q) != nil {
		return nil
	}
	return r.start(t, t.title(), func(ctx context.Context, progress func(done, of int)) (func(), error) {
		report, err := rehearse.Run(ctx, t.options(progress))
		return func() { r.tables.put(t, report) }, err
	})
}

// start lets work go on in the background. What it gives is kept under the lock.
func (r *runs) start(what any, title string, work func(context.Context, func(done, of int)) (keep func(), err error)) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	switch {
	case r.ctx.Err() != nil:
		return fault.New(fault.Unavailable, "Start it again first.", "the program is being stopped")
	case r.now != nil && r.now.what == what:
		return nil
	case r.now != nil:
		return errBusy
	}
	ctx, cancel := context.WithTimeout(r.ctx, longest)
	x := &run{what: what, title: title, of: 1, cancel: cancel}
	r.now, r.last = x, nil
	r.wait.Go(func() {
		defer cancel()
		keep, err := caught(func() (func(), error) {
			return work(ctx, func(done, of int) {
				r.mu.Lock()
				defer r.mu.Unlock()
				x.done, x.of = done, of
			})
		})
		r.mu.Lock()
		defer r.mu.Unlock()
		r.now = nil
		if err == nil {
			keep()
			return
		}
		r.last = &ended{what, wording(err)}
		if fault.CodeOf(r.last.err) == fault.Internal {
			r.log.Error("A rehearsal failed", "what", title, "cause", err)
		}
	})
	return nil
}

// caught turns a panic into an error: a mistake in a way of searching must not take the server's records down with it.
func caught(f func() (func(), error)) (keep func(), err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("rehearsal: walking a way: panic: %v\n%s", p, debug.Stack())
		}
	}()
	return f()
}

// wording says how a run ended that gave nothing.
func wording(err error) error {
	switch {
	case errors.Is(err, context.Canceled):
		return fault.Wrap(err, fault.Unavailable, "Start it again when you like.", "the rehearsal was stopped")
	case errors.Is(err, context.DeadlineExceeded):
		return fault.Wrap(err, fault.Unavailable, "Ask for fewer days or fewer guests; icehand rehearse walks as long as you like.", "the rehearsal took longer than %v and was stopped", longest)
	}
	return err
}

// cancel stops the run that is being walked, if any.
func (r *runs) cancel() {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.now != nil {
		r.now.cancel()
	}
}

// running gives a copy of the run that is being walked, nil when there is none.
func (r *runs) running() *run {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.now == nil {
		return nil
	}
	x := *r.now
	return &x
}

// why tells how the last run on a question or table ended when it gave nothing.
func (r *runs) why(whats ...any) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.last == nil || !slices.Contains(whats, r.last.what) {
		return nil
	}
	return r.last.err
}

// day gives a kept day, nil when it must be walked first.
func (r *runs) day(q question) *rehearse.Unfolded {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.days.get(q.day())
}

// table gives a kept table, nil when its days must be walked first.
func (r *runs) table(q question) *rehearse.Report {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.tables.get(q.table())
}

// kept holds the values that were asked for last.
type kept[K comparable, V any] struct {
	most   int
	keys   []K // the one asked for last is last
	values map[K]V
}

func (c *kept[K, V]) get(k K) V {
	if i := slices.Index(c.keys, k); i >= 0 {
		c.keys = append(slices.Delete(c.keys, i, i+1), k)
	}
	return c.values[k]
}

func (c *kept[K, V]) put(k K, v V) {
	if c.values == nil {
		c.values = map[K]V{}
	}
	if _, had := c.values[k]; !had {
		c.keys = append(c.keys, k)
	}
	c.values[k] = v
	for len(c.keys) > c.most {
		delete(c.values, c.keys[0])
		c.keys = c.keys[1:]
	}
}
