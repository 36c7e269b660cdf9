//go:build unix

package chart

import (
	"fmt"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"icehand/internal/feed/file"
)

func manySoundings(n int) []byte {
	var b strings.Builder
	b.WriteString("Point,Lat,Long,Depth (ft)\n")
	for i := range n {
		fmt.Fprintf(&b, "%d,%.6f,%.6f,%.1f\n", i+1, 47.8+float64(i%400)*0.0005, -45.1+float64(i/400)*0.0005, 20+float64(i%190)/10)
	}
	return []byte(b.String())
}

func BenchmarkSoundingsCSV100000(b *testing.B) {
	data := manySoundings(100_000)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if s, _, err := ReadSoundings("s.csv", data, file.Options{}); err != nil || len(s.Points) != 100_000 {
			b.Fatal(len(s.Points), err)
		}
	}
}

// processorTime gives the time that this process has kept processors busy: what else runs on the machine does not count.
func processorTime(t *testing.T) time.Duration {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// within runs f and fails when it keeps processors busy for longer than 2 s or allocates more than the given memory in all, garbage included.
func within(t *testing.T, name string, limitMiB uint64, f func()) {
	t.Helper()
	withinPart(t, name, 1, limitMiB, f)
}

// part divides the size of the dearest files in short mode, and their bounds with it: what is linear stays as far within
// them, and what grows with the square of the size is as sure to break them. All else, and long mode, are whole.
func part() int {
	if testing.Short() {
		return 4
	}
	return 1
}

// withinPart is within for a file of 1/n of the size that the memory belongs to.
func withinPart(t *testing.T, name string, n int, limitMiB uint64, f func()) {
	t.Helper()
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	start := processorTime(t)
	f()
	took := processorTime(t) - start
	runtime.ReadMemStats(&after)
	used := (after.TotalAlloc - before.TotalAlloc) >> 20
	if took > 2*time.Second/time.Duration(n) || used > limitMiB/uint64(n) {
		t.Errorf("%s: %v and %d MiB", name, took, used)
	}
}

func TestLargeAndHostileFilesAreBounded(t *testing.T) {
	attribute := []byte(`{"type":"Feature","properties":{"name":"` + strings.Repeat("x", 50<<20) + `"},"geometry":{"type":"Polygon","coordinates":[` + square(-45, 47.9, 0.1) + `]}}`)
	within(t, "50 MiB attribute", 64+50, func() { // the name itself is copied once before it is cut
		if o, _, err := ReadOutline("a", attribute, file.Options{}); err != nil || len(o.Name) > 100 {
			t.Error(err)
		}
	})
	within(t, "50 MiB attribute of a point", 64, func() {
		_, _, err := ReadSoundings("a", []byte(`{"type":"Feature","properties":{"depth_m":"`+strings.Repeat("9", 10<<20)+`"},"geometry":{"type":"Point","coordinates":[-45,47.9]}}`), file.Options{})
		if err == nil {
			t.Error("a depth of ten million digits is taken")
		}
	})
	within(t, "20 million empty features", 64, func() {
		_, _, err := ReadSoundings("a", append(append([]byte(`{"type":"FeatureCollection","features":[{}`), []byte(strings.Repeat(",{}", 5<<20))...), "]}"...), file.Options{})
		if err == nil {
			t.Error("accepted")
		}
	})
	within(t, "100,000 soundings", 150, func() {
		if s, _, err := ReadSoundings("s.csv", manySoundings(100_000), file.Options{}); err != nil || len(s.Points) != 100_000 {
			t.Error(err)
		}
	})
	n := part()
	header := "lat,lon,depth_m\n"
	for name, junk := range map[string]string{
		"commas": strings.Repeat(",", 16<<20/n), "lines": strings.Repeat("\n", 16<<20/n), "quotes": strings.Repeat("\"", 16<<20/n), "quoted commas": strings.Repeat(",\"", 8<<20/n), "pairs": strings.Repeat(",\"\"\"\"\"", 5<<20/n),
		"one cell": strings.Repeat("9", 16<<20/n), "bad rows": strings.Repeat("1,2,x\n", 900_000/n), "good rows": strings.Repeat("47.1,-45,3\n", 900_000/n), "Latin-1": strings.Repeat("\xe4", 16<<20/n),
	} {
		for _, data := range []string{header + junk, junk + "\n" + header, junk} {
			withinPart(t, name, n, 400, func() {
				if _, p, err := ReadSoundings("s.csv", []byte(data), file.Options{}); err == nil && p.Taken == 0 {
					t.Error(name, "accepted with nothing taken")
				}
				file.Detect("s.csv", []byte(data))
			})
		}
	}
}
