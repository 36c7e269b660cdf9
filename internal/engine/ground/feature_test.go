package ground

import (
	"math"
	"testing"

	"icehand/internal/base/geo"
)

// A flat bottom with one round hump, one round hollow and a bank along one side: each is found where it is, with its height,
// and nothing else; the foot of the bank is told apart from the bank.
func TestFeaturesOfAMadeUpBottom(t *testing.T) {
	hump, hollow := geo.Local{E: 600, N: 600}, geo.Local{E: 1300, N: 900}
	bump := func(p, at geo.Local, wide float64) float64 { return math.Exp(-square(float64(p.Distance(at)) / wide)) }
	bank := func(p geo.Local) float64 { return math.Max(0, 1-p.N/300) } // 0 off the bank, 1 at its top
	s := plane(t, 200, 150, func(p geo.Local) float64 {
		return 10 - 3*bump(p, hump, 120) + 2*bump(p, hollow, 150) - 8*bank(p)
	})
	count := map[FeatureKind]int{}
	for _, f := range s.Features() {
		count[f.Kind]++
		want, height := map[FeatureKind]geo.Local{Hump: hump, Basin: hollow}[f.Kind], map[FeatureKind]float64{Hump: 3, Basin: 2}[f.Kind]
		if height > 0 && (f.At.Distance(want) > 15 || math.Abs(float64(f.Rise)-height) > levelStepM+0.05 || !f.Certain) {
			t.Errorf("%s at %v, rise %.2f m, certain %v; want %v, %.1f m", f.Kind, f.At, float64(f.Rise), f.Certain, want, height)
		}
	}
	if count[Hump] != 1 || count[Basin] != 1 || count[Edge] == 0 || count[Transition] == 0 {
		t.Errorf("%v", count)
	}
	form := s.forms()
	at := func(p geo.Local) FeatureKind {
		i, ok := s.grid.Index(p)
		if !ok {
			t.Fatalf("%v is outside", p)
		}
		return FeatureKind(form[i])
	}
	for _, c := range []struct {
		p    geo.Local
		want FeatureKind
	}{{geo.Local{E: 1000, N: 150}, Edge}, {geo.Local{E: 1000, N: 330}, Transition}, {geo.Local{E: 1000, N: 700}, -1}, {hump, Hump}, {hollow, Basin},
		{hump.Add(geo.Local{E: 100}), Hump}, {hump.Add(geo.Local{N: 160}), -1}, {hollow.Add(geo.Local{N: -130}), Basin}, {hollow.Add(geo.Local{N: -190}), -1}} {
		if got := at(c.p); got != c.want {
			t.Errorf("%v: form %d, want %d", c.p, got, c.want)
		}
	}
}

// A flat bottom and one that slopes evenly have neither basin nor hump, a flat one no edge either; a rise within the doubt is
// not certain.
func TestFeaturesOfNothing(t *testing.T) {
	if f := plane(t, 60, 60, func(geo.Local) float64 { return 8 }).Features(); len(f) != 0 {
		t.Errorf("%d features of a flat", len(f))
	}
	for _, f := range plane(t, 60, 60, func(p geo.Local) float64 { return 2 + 0.02*p.E }).Features() {
		if f.Kind == Basin || f.Kind == Hump {
			t.Errorf("a %s on an even slope", f.Kind)
		}
	}
	s := plane(t, 80, 80, func(p geo.Local) float64 {
		return 9 - math.Exp(-square(float64(p.Distance(geo.Local{E: 400, N: 400}))/100))
	})
	for i := range s.sdM {
		s.sdM[i] = 2
	}
	for _, f := range s.Features() {
		if f.Certain {
			t.Errorf("a %s of %.2f m is certain with a spread of 2 m", f.Kind, float64(f.Rise))
		}
	}
	if f := (&Surface{grid: Grid{Cell: 10, NX: 3, NY: 3}, meanM: nans(9), sdM: nans(9), water: make([]bool, 9)}).Features(); len(f) != 0 {
		t.Errorf("%d features of nothing known", len(f))
	}
}

// Every cell of a feature is known water and belongs to one feature of its kind only.
func TestFeaturesHoldKnownCellsOnce(t *testing.T) {
	s := build(t, Input{Outline: outline(), Soundings: lakeHoles(t, 140), Cell: 40, Window: &Window{geo.Local{}, geo.Local{E: 6000, N: 4000}}})
	seen := map[[2]int]bool{}
	humps := 0
	for _, f := range s.Features() {
		for _, i := range f.Cells {
			key := [2]int{int(f.Kind), i}
			if seen[key] || !s.Cell(i).Known {
				t.Fatalf("%s: cell %d, known %v", f.Kind, i, s.Cell(i).Known)
			}
			seen[key] = true
		}
		if f.Kind == Hump && f.At.Distance(geo.Local{E: 3900, N: 2300}) < 250 {
			humps++
		}
	}
	if humps != 1 { // the table's lake has one hump of 3.5 m there
		t.Errorf("the hump of the made-up lake was found %d times", humps)
	}
}
