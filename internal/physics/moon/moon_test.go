package moon

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"
)

// ephem 4.1.4, testdata/moon.csv: new moons within 5 minutes, the lit part within 0.01.
func TestAgainstEphem(t *testing.T) {
	f, err := os.Open("testdata/moon.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) != 21 {
		t.Fatal(len(rows), err)
	}
	for _, row := range rows[1:] {
		at, err := time.Parse(time.RFC3339, row[1])
		if err != nil {
			t.Fatal(err)
		}
		if row[0] == "new" {
			if off := NextNew(at.AddDate(0, 0, -15)).Sub(at).Abs(); off > 5*time.Minute {
				t.Errorf("new moon of %v is %v off", at, off)
			}
			if l := Lit(at); l > 0.01 {
				t.Errorf("%v: %.4f of the new moon is lit", at, l)
			}
			continue
		}
		want, err := strconv.ParseFloat(row[2], 64)
		if err != nil || math.Abs(Lit(at)-want) > 0.01 {
			t.Errorf("%v: %.4f lit, want %s, %v", at, Lit(at), row[2], err)
		}
	}
}

// New moons follow one another at 29.2 to 29.9 days, each after the time asked about.
func TestMonths(t *testing.T) {
	at := time.Date(2025, 10, 1, 0, 0, 0, 0, time.UTC)
	before := NextNew(at)
	for range 40 {
		next := NextNew(before)
		if d := next.Sub(before).Hours() / 24; d < 29.2 || d > 29.9 {
			t.Fatalf("%v to %v: %.2f days", before, next, d)
		}
		before = next
	}
}
