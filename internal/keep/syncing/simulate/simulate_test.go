package simulate

import (
	"os"
	"runtime"
	"runtime/debug"
	"sync"
	"sync/atomic"
	"testing"
)

// many runs seeds on all processors and hands each report to f, one at a time.
func many(seeds uint64, o Options, f func(seed uint64, r Report)) {
	var next atomic.Uint64
	var one sync.Mutex
	var all sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		all.Go(func() {
			for seed := next.Add(1) - 1; seed < seeds; seed = next.Add(1) - 1 {
				r := Run(seed, o)
				one.Lock()
				f(seed, r)
				one.Unlock()
			}
		})
	}
	all.Wait()
}

// TestSeeds: two thousand made-up worlds, none of which breaks a promise; and they are rough enough to mean something.
func TestSeeds(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(400))
	seeds := uint64(2000)
	switch {
	case testing.Short():
		seeds = 60
	case os.Getenv("ICEHAND_SOAK") != "":
		seeds = 100_000
	}
	var sum Report
	many(seeds, Options{}, func(seed uint64, r Report) {
		if len(r.Violations) > 0 {
			t.Errorf("seed %d: %s", seed, r.Violations[0])
		}
		sum.Acts += r.Acts
		sum.Steps += r.Steps
		sum.Turned += r.Turned
		sum.Moved += r.Moved
		sum.Restored += r.Restored
		sum.Asked += r.Asked
	})
	t.Logf("%d seeds: %d acts, %d Steps to their end, %d questions, %d servers set back, %d phones that noticed it of themselves, %d entries moved",
		seeds, sum.Acts, sum.Steps, sum.Asked, sum.Restored, sum.Turned, sum.Moved)
	if n := int(seeds); sum.Acts < 20*n || sum.Steps < 5*n || sum.Asked < 20*n || sum.Restored < n/3 || sum.Turned < n/6 || sum.Moved < n/3 {
		t.Errorf("too little happened to say anything: %+v", sum)
	}
}

// TestSameSeedSameRun: a seed that failed fails again.
func TestSameSeedSameRun(t *testing.T) {
	seen := map[uint64]bool{}
	for seed := range uint64(12) {
		a, b := Run(seed, Options{}), Run(seed, Options{})
		if a.Trace != b.Trace || a.Asked != b.Asked {
			t.Errorf("seed %d ran two ways: %+v, %+v", seed, a, b)
		}
		if seen[a.Trace] {
			t.Errorf("seed %d is the run of another", seed)
		}
		seen[a.Trace] = true
	}
}

// caught gives the first seed that notices defects, and what it says.
func caught(d Defect, most uint64) (seed uint64, what string, ok bool) {
	for seed := range most {
		if r := Run(seed, Options{Defects: d}); len(r.Violations) > 0 {
			return seed, r.Violations[0], true
		}
	}
	return most, "", false
}

// within is how many seeds a planted mistake may pass unnoticed.
const within = 300

// TestEveryDefectAlone: the simulator is not blind. Each known mistake, planted alone, is noticed.
func TestEveryDefectAlone(t *testing.T) {
	if testing.Short() {
		t.Skip("the long run plants mistakes")
	}
	for _, d := range All() {
		t.Run(d.String(), func(t *testing.T) {
			t.Parallel()
			seed, what, ok := caught(d, within)
			if !ok {
				t.Fatalf("not noticed in %d seeds", within)
			}
			t.Logf("seed %d: %s", seed, what)
		})
	}
}

// TestEveryDefectInPairs: no mistake hides another.
func TestEveryDefectInPairs(t *testing.T) {
	if testing.Short() {
		t.Skip("the long run plants mistakes")
	}
	t.Parallel()
	all := All()
	pairs, latest := 0, uint64(0)
	for i, a := range all {
		for _, b := range all[i+1:] {
			seed, _, ok := caught(a|b, within)
			if !ok {
				t.Errorf("%s: not noticed in %d seeds", a|b, within)
			}
			pairs++
			latest = max(latest, seed)
		}
	}
	t.Logf("%d pairs, the latest noticed at seed %d", pairs, latest)
	if pairs != len(all)*(len(all)-1)/2 || len(all) < 15 {
		t.Errorf("%d pairs of %d mistakes", pairs, len(all))
	}
}
