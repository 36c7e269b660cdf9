package manner

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/trade/journal"
	"icehand/internal/trade/party"
)

var dawn = time.Date(2026, 1, 15, 11, 0, 0, 0, time.UTC)

func id(n int) uuid.UUID { return uuid.UUID{14: byte(n >> 8), 15: byte(n)} }

func at(min int) time.Time { return dawn.Add(time.Duration(min) * time.Minute) }

// book is a record being written.
type book struct {
	party.View
	n int
}

func (b *book) sit(rod, hole, from, to int) uuid.UUID {
	b.n++
	b.Sits = append(b.Sits, &party.Sit{ID: id(b.n), Rod: rod, Hole: id(10_000 + hole), From: at(from), To: at(to), Day: "2026-01-15"})
	return id(b.n)
}

func (b *book) show(sit uuid.UUID, min int, lure, manner, screen string) {
	b.Present = append(b.Present, party.Presentation{When: at(min), Presentation: journal.Presentation{Sit: sit, Lure: lure, Manner: manner, Screen: screen}})
}

func (b *book) fish(rod, hole, min int) {
	b.Fish = append(b.Fish, &party.Fish{Rod: rod, Hole: id(10_000 + hole), When: at(min), Day: "2026-01-15", Count: 1})
}

// An hour with a spoon, of which the last twenty minutes held still, and a rod of which nobody told.
func TestSpells(t *testing.T) {
	var b book
	s := b.sit(1, 1, 0, 60)
	b.sit(2, 2, 0, 30)
	b.show(s, 2, "spoon", "lift_drop", "searching") // within three minutes: from the start
	b.show(s, 40, "spoon", "still", "lookers")
	b.fish(1, 1, 10)
	b.fish(1, 1, 50)
	b.fish(0, 1, 55) // the rod was not told; only one fishes there
	b.fish(2, 2, 10) // nobody told how
	b.Bites = append(b.Bites, party.Bite{Rod: 1, Hole: id(10_001), When: at(20)})
	r := Read(&b.View, at(90))
	if r.Untold != 30*time.Minute {
		t.Errorf("untold %v", r.Untold)
	}
	lures := r.Rows(Lure, "")
	if len(lures) != 1 || lures[0].Events != 4 || lures[0].Time != time.Hour || lures[0].Sits != 1 || lures[0].Days != 1 {
		t.Fatalf("%+v", lures)
	}
	manners := r.Rows(MannerOf, "")
	if len(manners) != 2 || manners[0].Name != "lift_drop" || manners[0].Events != 2 || manners[0].Time != 40*time.Minute || manners[1].Events != 2 || manners[1].Time != 20*time.Minute {
		t.Fatalf("%+v", manners)
	}
	if only := r.Rows(MannerOf, "lookers"); len(only) != 1 || only[0].Name != "still" {
		t.Fatalf("%+v", only)
	}
}

// Two rods in one hole: a fish of no rod is given to neither.
func TestSharedHole(t *testing.T) {
	var b book
	for rod := 1; rod <= 2; rod++ {
		b.show(b.sit(rod, 1, 0, 60), 0, []string{"", "spoon", "jig"}[rod], "", "")
	}
	b.fish(0, 1, 10)
	b.fish(2, 1, 20)
	for _, row := range Read(&b.View, at(60)).Rows(Lure, "") {
		if want := map[string]int{"spoon": 0, "jig": 1}[row.Name]; row.Events != want {
			t.Errorf("%s took %d, want %d", row.Name, row.Events, want)
		}
	}
}

// season fishes two lures in turns while schools come and go: in a school a rod takes 12 an hour times its factor, else none.
func season(r *rand.Rand, sits int, factor float64) *book {
	b := &book{}
	for i := range sits {
		from := i * 70
		s := b.sit(1, i, from, from+60)
		lure, rate := "spoon", factor
		if i%2 == 1 {
			lure, rate = "jig", 1.0
		}
		b.show(s, from, lure, "", "")
		if r.Float64() < 0.4 { // a school is there for a quarter of an hour
			arrive := r.IntN(45)
			for min := arrive; min < arrive+15; min++ {
				if r.Float64() < 12.0/60*rate {
					b.fish(1, i, from+min)
				}
			}
		}
	}
	for _, f := range b.Fish {
		f.Day = "2026-01-15"
	}
	return b
}

// One rate for both: a difference is called in few of many made-up records, although schools bunch the counts. A true
// fourfold difference is found in most long ones.
func TestSchoolsDoNotMakeALureBetter(t *testing.T) {
	const runs = 400
	for _, c := range []struct {
		sits   int
		factor float64
		least  float64
		most   float64
	}{{24, 1, 0, 0.05}, {80, 1, 0, 0.05}, {200, 4, 0.6, 1}} {
		called := 0
		for seed := range uint64(runs) {
			b := season(rand.New(rand.NewPCG(seed, 15)), c.sits, c.factor)
			x, ok := Compare(Read(&b.View, at(c.sits*70)).Rows(Lure, ""))
			if ok && x.Verdict == Better {
				called++
			}
		}
		share := float64(called) / runs
		t.Logf("%d sits, factor %g: a difference called in %.3f of %d records", c.sits, c.factor, share, runs)
		if share < c.least || share > c.most {
			t.Errorf("%d sits, factor %g: a difference called in %.3f, want %g to %g", c.sits, c.factor, share, c.least, c.most)
		}
	}
}

// Both sides of each line under which nothing is compared.
func TestTooFew(t *testing.T) {
	row := func(events, sits int, hours float64) Row {
		r := Row{Name: "x", Events: events, Sits: sits, Time: time.Duration(hours * float64(time.Hour))}
		for range sits {
			r.sits, r.events = append(r.sits, hours/float64(sits)), append(r.events, float64(events)/float64(sits))
		}
		r.bound(1)
		return r
	}
	for _, c := range []struct {
		a, b Row
		few  bool
	}{
		{row(8, 3, 3), row(2, 3, 3), false}, {row(8, 3, 3), row(1, 3, 3), true}, {row(8, 3, 2.9), row(8, 3, 3), true}, {row(8, 3, 3), row(8, 2, 3), true},
	} {
		x, ok := Compare([]Row{c.a, c.b})
		if !ok || (x.Verdict == TooFew) != c.few {
			t.Errorf("%+v", x)
		}
	}
	if _, ok := Compare([]Row{row(9, 9, 9)}); ok {
		t.Error("one lure was compared with itself")
	}
	none := row(0, 4, 5)
	if none.Low != 0 || math.IsNaN(none.High) || none.High < 0.3 {
		t.Errorf("nothing in 5 h bounds the rate by %g to %g", none.Low, none.High)
	}
}

// The outfit's own words stand in for the common practice, and taken back they are gone.
func TestOwnWords(t *testing.T) {
	own := map[string]json.RawMessage{Setting("lookers"): json.RawMessage(`["Wait a minute."]`), Setting("arriving"): json.RawMessage(`[]`)}
	for _, s := range Told(func(key string) json.RawMessage { return own[key] }) {
		if s.Own != (s.Key == "lookers") || len(s.Do) == 0 {
			t.Errorf("%+v", s)
		}
	}
}
