package rehearse

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"runtime/debug"
	"sync"

	"icehand/internal/base/fault"
)

// job is a piece of a run, some days walked by some ways, that is done or kept as a whole.
type job struct {
	key  string // tells it from all others of the run
	size int    // days of a way
	walk func(ctx context.Context, passed func(days int)) ([]Outcome, error)
}

// Ledger keeps what was walked, so that a long run which was ended goes on where it stopped.
type Ledger struct {
	mu   sync.Mutex
	out  io.Writer
	kept map[string][]Outcome
}

// entry is a line of the ledger. The first line names the run, every other one holds a job.
type entry struct {
	Of   string    `json:"of,omitempty"`
	Key  string    `json:"key,omitempty"`
	Days []Outcome `json:"days,omitempty"`
}

// OpenLedger reads what an earlier run named by of wrote, and appends to out what is walked from now on. A line that the
// end of that run tore off is left aside; a ledger of another run is refused.
func OpenLedger(in io.Reader, out io.Writer, of string) (*Ledger, error) {
	l := &Ledger{out: out, kept: map[string][]Outcome{}}
	named, torn := false, false
	r := bufio.NewReader(in)
	for {
		line, err := r.ReadBytes('\n')
		var e entry
		switch {
		case len(bytes.TrimSpace(line)) == 0:
		case json.Unmarshal(line, &e) != nil:
		case e.Of != "" && e.Of != of:
			return nil, fault.New(fault.BadInput, "Choose another file, or remove this one to begin anew.", "the days kept there were walked with other settings or by another program")
		case e.Of != "":
			named = true
		case named && e.Key != "":
			l.kept[e.Key] = e.Days
		}
		if err == io.EOF {
			torn = len(line) > 0
			break
		} else if err != nil {
			return nil, fmt.Errorf("rehearse: reading kept days: %w", err)
		}
	}
	if torn {
		if _, err := l.out.Write([]byte{'\n'}); err != nil {
			return nil, fmt.Errorf("rehearse: keeping days: %w", err)
		}
	}
	if !named {
		return l, l.write(entry{Of: of})
	}
	return l, nil
}

// Kept tells how many pieces were found.
func (l *Ledger) Kept() int { return len(l.kept) }

func (l *Ledger) write(e entry) error {
	line, err := json.Marshal(e)
	if err == nil {
		_, err = l.out.Write(append(line, '\n'))
	}
	if err != nil {
		return fmt.Errorf("rehearse: keeping days: %w", err)
	}
	return nil
}

// find gives a piece that was kept.
func (l *Ledger) find(key string) ([]Outcome, bool) {
	if l == nil {
		return nil, false
	}
	days, ok := l.kept[key]
	return days, ok
}

// keep writes a piece down.
func (l *Ledger) keep(key string, days []Outcome) error {
	if l == nil {
		return nil
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.write(entry{Key: key, Days: days})
}

// work does the jobs, several at a time, and gives their outcomes in the jobs' order. The first error ends it.
func (o *Options) work(ctx context.Context, jobs []job) ([][]Outcome, error) {
	ctx, end := context.WithCancelCause(ctx)
	defer end(nil)
	out := make([][]Outcome, len(jobs))
	of, done := 0, 0
	for _, j := range jobs {
		of += j.size
	}
	var mu sync.Mutex
	passed := func(days int) {
		mu.Lock()
		defer mu.Unlock()
		done += days
		if o.Progress != nil {
			o.Progress(done, of)
		}
	}
	next := make(chan int)
	var wait sync.WaitGroup
	for range o.Workers {
		wait.Go(func() {
			for i := range next {
				days, err := o.do(ctx, jobs[i], passed)
				if err != nil {
					end(err)
				}
				out[i] = days
			}
		})
	}
	for i := range jobs {
		if ctx.Err() != nil {
			break
		}
		next <- i
	}
	close(next)
	wait.Wait()
	if ctx.Err() != nil {
		return nil, context.Cause(ctx)
	}
	return out, nil
}

// do does one job, or finds it done. A panic of a way is its error: a run may be walked by a program that has more to do.
func (o *Options) do(ctx context.Context, j job, passed func(days int)) (days []Outcome, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("rehearse: %s: panic: %v\n%s", j.key, p, debug.Stack())
		}
	}()
	if days, ok := o.Ledger.find(j.key); ok {
		passed(j.size)
		return days, nil
	}
	days, err = j.walk(ctx, passed)
	if err != nil {
		return nil, err
	}
	return days, o.Ledger.keep(j.key, days)
}
