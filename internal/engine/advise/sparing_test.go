package advise

import (
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/trade/journal"
)

// small puts fish back at a hole, and keeps some.
func (d *diary) small(clock string, hole [16]byte, kept bool) {
	d.write(d.at(1, clock), &journal.Fish{Hole: hole, Rod: 1, Species: "perch", Kept: kept, Count: 1})
}

// Where small fish come up from deep water nobody is told to stay and no hole is advised beside them; with half of them kept, or without the rule, the
// rod stays.
func TestSmallFishOverDeepWater(t *testing.T) {
	for _, x := range []struct {
		name  string
		kept  int // of six
		spare *Spare
		leave bool
	}{
		{"none kept", 0, &Spare{}, true}, {"half kept", 3, &Spare{}, false}, {"no rule", 0, nil, false},
	} {
		d := newDiary(t)
		at := geo.Local{}
		h := d.look(d.at(1, "10:00"), at, "many")
		d.write(d.at(1, "10:01"), &journal.SitStart{Hole: h, Rod: 1, Target: "perch"})
		for i, clock := range []string{"10:02", "10:03", "10:04", "10:05", "10:06", "10:07"} {
			d.small(clock, h, i < x.kept)
		}
		in := d.input(d.at(1, "10:09"), at)
		in.Spare = x.spare
		s := mustNext(t, in)
		if got := s.Rods[0].Do == Leave; got != x.leave {
			t.Errorf("%s: the rod is told %q, %v", x.name, s.Rods[0].Do, s.Rods[0].Why)
		}
		if x.leave {
			if r := s.Rods[0].Why[0]; r.Code != "small_deep" || r.Count != 0 || r.Of != 6 || r.Depth < 9 {
				t.Errorf("%s: the reason: %+v", x.name, r)
			}
			if s.Do == Drill && float64(s.To.Distance(at)) <= sortReach {
				t.Errorf("%s: a hole is advised %.0f m beside them", x.name, float64(s.To.Distance(at)))
			}
		}
	}
}

// On a day for size no place from which few live is advised: shallow ones are, and where there is none the step says why.
func TestNoSortingForSize(t *testing.T) {
	d := newDiary(t)
	deep := geo.Local{}
	d.look(d.at(1, "10:00"), deep, "many")
	in := d.input(d.at(1, "10:02"), deep)
	in.Aim = "size"
	in.Spare = &Spare{Selective: true}
	s := mustNext(t, in)
	if s.Do == Drill || s.Do == Look || s.Do == Stay {
		t.Errorf("over 12 m: %s at %v", s.Do, s.To)
	}
	if s.Why[0].Code != "no_sorting" {
		t.Errorf("over 12 m: %+v", s.Why[0])
	}
	shoal := geo.Local{E: 2500} // 500 m from the bank, where the lake is 7 m deep
	in = d.input(d.at(1, "10:05"), shoal)
	in.Aim, in.Spare = "size", &Spare{Selective: true}
	s = mustNext(t, in)
	if s.Do != Drill && s.Do != Look || float64(in.Surface.At(s.To).Mean) >= 9.144 {
		t.Errorf("over the shoal: %s at %v, %v", s.Do, s.To, s.Why)
	}
	in.Aim, in.Spare = "numbers", &Spare{}
	in.Scout.At = deep
	if s = mustNext(t, in); s.Why[0].Code == "no_sorting" {
		t.Error("barred though nothing is sorted")
	}
}

// The evening plan of a day for size says of every start over deep water that fish would be sorted there, and of no other;
// on a day for numbers it says so of none.
func TestEveningSaysWhereSizeWouldBeSorted(t *testing.T) {
	for _, selective := range []bool{true, false} {
		d := newDiary(t)
		in := d.input(d.at(15, "19:00"), geo.Local{})
		in.Spare = &Spare{Selective: selective}
		p := mustEvening(t, in, "2026-01-16")
		if len(p.Starts) == 0 {
			t.Fatal("no start")
		}
		for _, s := range p.Starts {
			said := false
			for _, r := range s.Barred {
				said = said || r.Code == "no_sorting"
			}
			if deep := float64(in.Surface.At(s.At).Mean) >= 9.144; said != (selective && deep) { // 30 ft [NDGF2019]
				t.Errorf("for size %v, start %s at %.1f m: said %v", selective, s.Letter, float64(in.Surface.At(s.At).Mean), said)
			}
		}
	}
}
