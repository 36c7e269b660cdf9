package sim

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"icehand/internal/keep/mem"
	"icehand/internal/keep/store"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
	"icehand/internal/trade/party"
)

// filled gives the demo of a seed and the facts of the store that it was filled into.
func filled(t testing.TB, seed uint64) (*Demo, store.Store, *journal.Log) {
	t.Helper()
	d, err := NewDemo(seed)
	if err != nil {
		t.Fatal(err)
	}
	s := mem.New(store.NewIdentity(d.Now))
	if err := d.Fill(context.Background(), s); err != nil {
		t.Fatal(err)
	}
	var log journal.Log
	err = s.Read(context.Background(), 0, func(_ store.Position, e *journal.Entry) error { return log.Add(e) })
	if err != nil {
		t.Fatal(err)
	}
	return d, s, &log
}

// views folds the facts.
func views(d *Demo, log *journal.Log) (*lake.View, *party.View) {
	l, p := lake.New(d.Lake.ID), party.New(d.Lake.ID)
	l.Sync(log)
	p.Sync(log)
	return l, p
}

func TestDemoIsTheSameForASeed(t *testing.T) {
	a, err := NewDemo(7)
	if err != nil {
		t.Fatal(err)
	}
	b, _ := NewDemo(7)
	c, _ := NewDemo(8)
	if len(a.Diary.Drafts) == 0 || len(a.Diary.Drafts) != len(b.Diary.Drafts) {
		t.Fatalf("%d and %d drafts", len(a.Diary.Drafts), len(b.Diary.Drafts))
	}
	ids := map[string]bool{}
	differ := 0
	for i, x := range a.Diary.Drafts {
		y := b.Diary.Drafts[i]
		if x.ID != y.ID || x.At != y.At || !bytes.Equal(x.Body, y.Body) {
			t.Fatalf("draft %d differs between two runs: %s %s", i, x.Body, y.Body)
		}
		if ids[x.ID.String()] {
			t.Fatalf("two drafts with the id %s", x.ID)
		}
		ids[x.ID.String()] = true
		if i < len(c.Diary.Drafts) && !bytes.Equal(x.Body, c.Diary.Drafts[i].Body) {
			differ++
		}
		if i > 0 && x.Wall < a.Diary.Drafts[i-1].Wall {
			t.Fatalf("draft %d was written before the one before it", i)
		}
		if x.Wall > a.Now.UnixMilli() {
			t.Fatalf("draft %d lies in the demo's future", i)
		}
	}
	if differ < 100 {
		t.Errorf("another seed changed only %d drafts", differ)
	}
}

func TestFillTwiceAddsNothing(t *testing.T) {
	d, s, log := filled(t, 1)
	if err := d.Fill(context.Background(), s); err != nil {
		t.Fatal(err)
	}
	audit, err := s.Verify(context.Background())
	if err != nil || !audit.Sound() || audit.Entries != len(log.Facts()) {
		t.Fatalf("audit %+v, %v; %d facts", audit, err, len(log.Facts()))
	}
	who, _ := s.Identity(context.Background())
	for _, f := range log.Facts() {
		if f.Entry.Account != who.Account || f.Entry.Outfit != who.Outfit {
			t.Fatal("an entry is not in the store's own name")
		}
	}
}

// The worked day of the invented outfit: ice 44, 43 and 41 cm; base at 10.8 m; marks in 2 of the first 8 holes; 11 perch in
// 14 minutes at hole 17, 7 kept; four at 21; two at 24 by 09:49.
func TestMorningIsTheWorkedDay(t *testing.T) {
	for _, seed := range []uint64{1, 2, 3} {
		d, _, log := filled(t, seed)
		l, p := views(d, log)
		var holes []*lake.Hole
		for _, h := range l.HolesOn(today) {
			holes = append(holes, h)
		}
		if len(holes) != 24 {
			t.Fatalf("seed %d: %d holes, want 24", seed, len(holes))
		}
		var ice []float64
		for _, r := range l.Ice {
			if r.Day == today {
				ice = append(ice, r.Total.Centimetres())
			}
		}
		if len(ice) < 8 || ice[0] != 44 || ice[1] != 43 || ice[2] != 41 {
			t.Errorf("seed %d: ice %v", seed, ice)
		}
		marked := 0
		for _, k := range l.Looks {
			if h := l.Hole(k.Hole); h.Day == today && h.Number >= 4 && h.Number <= 11 && k.Marks != lake.None {
				marked++
			}
		}
		if marked != 2 {
			t.Errorf("seed %d: marks in %d of the first set, want 2", seed, marked)
		}
		for _, want := range []struct {
			hole         int64
			from, to     time.Time
			landed, kept int
		}{{17, hm(9, 12, 0), hm(9, 26, 0), 11, 7}, {21, hm(9, 31, 0), hm(9, 40, 0), 4, 3}, {24, hm(9, 45, 0), now, 2, 2}} {
			landed, kept := 0, 0
			for _, f := range p.Fish {
				if l.Hole(f.Hole) == holes[want.hole-1] && !f.When.Before(want.from) && !f.When.After(want.to) {
					landed++
					if f.Kept {
						kept++
					}
				}
			}
			if landed != want.landed || kept != want.kept {
				t.Errorf("seed %d: hole %d gave %d, kept %d; want %d, %d", seed, want.hole, landed, kept, want.landed, want.kept)
			}
		}
		if rods := p.RodsAt(d.Now); len(rods) != 5 {
			t.Errorf("seed %d: %d rods fish at 09:50, want 5", seed, len(rods))
		}
		if on := p.OnIce(d.Now); len(on) < 6 || !on[5].OnIce {
			t.Errorf("seed %d: %d people with a claim, six must be on the ice", seed, len(on))
		}
		if first := p.Fish[len(p.Fish)-21]; first.Length.Millimetres() != 190 || !first.When.Equal(hm(7, 52, 0)) {
			t.Errorf("seed %d: the first perch is %d mm long, at %s", seed, first.Length.Millimetres(), first.When.In(zone))
		}
	}
}

func TestFactsStand(t *testing.T) {
	d, _, log := filled(t, 1)
	l, _ := views(d, log)
	if !l.Known || l.Name != "Lake Tamaringen" || l.Zone.String() != Zone || l.FreezeUp != "2025-11-24" {
		t.Fatalf("lake %+v", l)
	}
	flagged, retracted, doubted := 0, 0, 0
	for _, f := range log.Facts() {
		x, fish := f.Body.(*journal.Fish)
		switch {
		case f.Left != "" && f.Entry.Kind == journal.KindHole && f.Entry.Day == "2026-01-11":
			retracted++
		case f.Flag != "" && fish && f.Entry.Day == "2026-01-14":
			flagged++
		case f.Flag != "" || f.Left != "":
			t.Errorf("%s of %s: flag %q, left %q", f.Entry.Kind, f.At.In(zone), f.Flag, f.Left)
		case fish && x.Flag != "":
			doubted++
		}
	}
	if flagged != 1 || retracted != 1 || doubted != 1 { // the deliberate dirt, and no more
		t.Errorf("%d flagged, %d retracted, %d doubted; want one of each", flagged, retracted, doubted)
	}
	for _, what := range []string{"outline", "soundings", "forecast"} {
		if l.Layer(what) == nil {
			t.Errorf("no layer %s", what)
		}
	}
	placeless, deepless, offM2, n := 0, 0, 0.0, 0.0
	for _, h := range l.Holes {
		switch {
		case h.Label == "retracted":
		case !h.Placed:
			placeless++
		case !d.Lake.Water(h.At):
			t.Errorf("hole %d of %s lies on land", h.Number, h.Day)
		case h.Depth == 0:
			deepless++
		default:
			off := (h.Depth - d.Lake.Depth(h.At)).Metres()
			if offM2, n = offM2+off*off, n+1; math.Abs(off) > 0.5 { // misread by 0.08 m, slope over a fix of 8 m, the tenth
				t.Errorf("hole %d of %s: depth off by %.2f m", h.Number, h.Day, off)
			}
		}
	}
	if sd := math.Sqrt(offM2 / n); sd > 0.15 {
		t.Errorf("depths are off by %.2f m", sd)
	}
	if placeless == 0 || deepless < 5 || placeless+deepless > len(l.Holes)/8 {
		t.Errorf("of %d holes %d have no place and %d no depth", len(l.Holes), placeless, deepless)
	}
}

// BenchmarkDemoFill makes the demo, fills it into a store in memory and folds the facts.
func BenchmarkDemoFill(b *testing.B) {
	d, err := NewDemo(1)
	if err != nil {
		b.Fatal(err)
	}
	b.Run(fmt.Sprintf("entries=%d", len(d.Diary.Drafts)), func(b *testing.B) {
		for b.Loop() {
			filled(b, 1)
		}
	})
}
