package station

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/feed/file"
	"icehand/internal/physics/ice"
)

func sample(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func read(t *testing.T, name string) Record {
	t.Helper()
	data := sample(t, name)
	if kind, why := file.Detect(name, data); kind != file.Station {
		t.Fatal(kind, why)
	}
	r, p, err := Read(name, data, file.Options{})
	if err != nil || p.Taken != p.Rows {
		t.Fatalf("%+v %v", p, err)
	}
	return r
}

var first, last = file.Day{Year: 2025, Month: 11, Day: 1}, file.Day{Year: 2026, Month: 1, Day: 31}

// The same made-up station in both layouts, with flagged and missing days, against a table worked out independently in Python.
func TestAgainstTheTable(t *testing.T) {
	f := csv.NewReader(strings.NewReader(string(sample(t, "expected.csv"))))
	f.Comment = '#'
	rows, err := f.ReadAll()
	if err != nil || len(rows) != 93 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	r := read(t, "ghcn_sample.dly")
	means, filled, err := r.Means(first, last)
	if err != nil || filled != 4 || len(means) != 92 {
		t.Fatal(len(means), filled, err)
	}
	near := func(what, date, want string, got, tolerance float64) {
		t.Helper()
		w, err := strconv.ParseFloat(want, 64)
		if err != nil || math.Abs(w-got) > tolerance+1e-9 {
			t.Errorf("%s of %s: %g, want %s", what, date, got, want)
		}
	}
	for i, row := range rows[1:] {
		d := r.Days[i]
		if d.Date.String() != row[0] {
			t.Fatalf("day %d is %s, want %s", i, d.Date, row[0])
		}
		if m, ok := d.Mean(); ok != (row[1] != "") {
			t.Errorf("%s: mean known %v", row[0], ok)
		} else if ok {
			near("mean", row[0], row[1], m.Degrees(), 0.005)
		}
		near("filled mean", row[0], row[2], means[i].Degrees(), 0.0005)
		frost, net := Sums(means[:i+1])
		near("frost", row[0], row[3], float64(frost), 0.0005)
		near("net frost", row[0], row[4], float64(net), 0.0005)
		if physics, _ := ice.FreezingDegreeDays(means[:i+1]); math.Abs(float64(physics-net)) > 1e-9 {
			t.Errorf("%s: package ice sums %g, here %g", row[0], physics, net)
		}
		if (d.Snow == nil) != (row[5] == "") {
			t.Errorf("%s: snow known %v", row[0], d.Snow != nil)
		} else if d.Snow != nil {
			near("snow", row[0], row[5], d.Snow.Centimetres()*10, 0)
		}
	}
	// the frost of the days that have a mean of their own, 861.900; with the four gaps filled 900.275; with thaw 898.575
	var own []quantity.Celsius
	for _, d := range r.Days {
		if m, ok := d.Mean(); ok {
			own = append(own, m)
		}
	}
	skipped, _ := Sums(own)
	frost, net := Sums(means)
	near("frost", "the season without gaps", "861.900", float64(skipped), 0.0005)
	near("frost", "the season", "900.275", float64(frost), 0.0005)
	near("net frost", "the season", "898.575", float64(net), 0.0005)
}

// The record of the sample begins in November and ends in January: all of it is the season so far.
func TestTheLastSpan(t *testing.T) {
	r := read(t, "ghcn_sample.dly")
	means, filled, from, err := r.LastSpan()
	if err != nil || len(means) != 92 || filled != 4 || from != first {
		t.Error(len(means), filled, from, err)
	}
	tenYears := r
	tenYears.Days = nil
	for _, d := range r.Days { // the same winter ten years before, and a gap of years between
		d.Date.Year -= 10
		tenYears.Days = append(tenYears.Days, d)
	}
	tenYears.Days = append(tenYears.Days, r.Days...)
	if means, _, from, err := tenYears.LastSpan(); err != nil || len(means) != 92 || from != first {
		t.Error(len(means), from, err)
	}
	if _, _, _, err := (Record{}).LastSpan(); err == nil {
		t.Error("an empty record has a season")
	}
}

func TestBothLayoutsSayTheSame(t *testing.T) {
	long := read(t, "ghcn_sample_long.csv")
	fixed := read(t, "ghcn_sample.dly")
	for i := range long.Days { // the long file may leave an element out
		if long.Days[i].Snow == nil {
			fixed.Days[i].Snow = nil
		}
	}
	if diff := cmp.Diff(fixed, long); diff != "" {
		t.Error(diff)
	}
}

// A gap of three days is filled, one of four is not, nor any at an end.
func TestGaps(t *testing.T) {
	c := func(v float64) *quantity.Celsius { t := quantity.Celsius(v); return &t }
	day := func(n int, v float64) Day {
		return Day{Date: file.Day{Year: 2026, Month: 1, Day: n}, Max: c(v), Min: c(v)}
	}
	at := func(n int) file.Day { return file.Day{Year: 2026, Month: 1, Day: n} }
	r := Record{Station: "X", Days: []Day{day(1, 0), day(5, -8), day(10, -8), {Date: at(11), Max: c(1)}}}
	means, filled, err := r.Means(at(1), at(5))
	if err != nil || filled != 3 || means[1] != -2 || means[3] != -6 {
		t.Error(means, filled, err)
	}
	for name, c := range map[string]struct {
		from, to int
		want     string
	}{"four days": {1, 10, "2026-01-06 to 2026-01-09"}, "at the start": {4, 5, "2026-01-04 to 2026-01-04"}, "at the end": {10, 11, "2026-01-11 to 2026-01-11"}, "backwards": {5, 1, "not a season"}, "nothing": {20, 21, "2026-01-20 to 2026-01-21"}} {
		if _, _, err := r.Means(at(c.from), at(c.to)); fault.CodeOf(err) != fault.BadInput || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestWhatIsRefused(t *testing.T) {
	whole := string(sample(t, "ghcn_sample.dly"))
	line := whole[:strings.IndexByte(whole, '\n')+1]
	for name, c := range map[string]struct{ data, want string }{
		"cut off":         {whole[:400], "no day with a highest and a lowest"},
		"two stations":    {whole + strings.ReplaceAll(whole, "USW00099999", "USW00099998"), "several stations"},
		"the same twice":  {line + line, "no day with"},
		"not such a file": {"a,b\n1,2\n", "not daily readings"},
		"month 13":        {strings.ReplaceAll(whole, "202511", "202513"), ""},
		"only snow":       {strings.ReplaceAll(strings.ReplaceAll(whole, "TMAX", "AWND"), "TMIN", "WSFG"), "no day with"},
	} {
		_, p, err := Read("a", []byte(c.data), file.Options{})
		if c.want == "" {
			if err != nil || p.Refused != 3 {
				t.Errorf("%s: %+v %v", name, p, err)
			}
		} else if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, p, err := Read("a", []byte("USW00099999,20251101,TMAX,67,,,W\nUSW00099999,20251101,TMIN,9999,,,W\nUSW00099999,20251102,TMAX,7,,,W\nUSW00099999,20251102,TMIN,-7,,,W\nUSW00099999,20251399,TMIN,-7,,,W\n"), file.Options{})
	if err != nil || p.Taken != 4 || p.Refused != 1 || p.Problems[0].Row != 2 || p.Problems[0].Value != "9999" {
		t.Errorf("%+v %v", p, err)
	}
}

// Whatever the bytes, reading does not panic; days come in order, each once, with possible temperatures; rows add up.
func FuzzStation(f *testing.F) {
	f.Add(sample(f, "ghcn_sample.dly"))
	f.Add([]byte("USW00099999,20251101,TMAX,67,,,W,0700\nUSW00099999,20251101,TMIN,-67,,,W,0700\n"))
	f.Add([]byte("USW00099999202511TMAX   67  W"))
	f.Add(asAccess(f))
	asCSV, asJSON := geoMetDays(f, Record{Station: "6019999", Days: []Day{{Date: file.Day{Year: 2026, Month: 1, Day: 2}}}})
	f.Add(asCSV)
	f.Add(asJSON)
	f.Fuzz(func(t *testing.T, data []byte) {
		r, p, err := Read("f", data, file.Options{MaxBytes: 1 << 18})
		if p.Taken+p.Refused != p.Rows {
			t.Fatalf("%+v", p)
		}
		if err != nil {
			return
		}
		for i, d := range r.Days {
			if i > 0 && number(r.Days[i-1].Date) >= number(d.Date) || d.Max != nil && !(*d.Max >= -90 && *d.Max <= 60) {
				t.Fatalf("%+v", d)
			}
		}
		_, _, _ = r.Means(r.Days[0].Date, r.Days[len(r.Days)-1].Date) // a fault is an answer
	})
}
