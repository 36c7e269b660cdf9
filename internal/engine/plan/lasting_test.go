package plan

import (
	"math"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/priors"
	"icehand/internal/trade/lake"
)

// Beside a confirmed school that was seen lately neither marks nor a blank teach the lasting belief; farther off, later, or
// beside one that is not confirmed they do. Each case from both sides.
func TestNothingLastingBesideAKnownSchool(t *testing.T) {
	known := geo.Local{E: 100}
	lasting := func(confirmed bool, then *Look) (mean, variance float64) {
		f := fresh(t)
		f.Look(Look{At: known, When: t0, Length: look, Marks: lake.Many})
		if confirmed {
			f.Look(Look{At: known, When: t0.Add(40 * time.Second), Length: look, Marks: lake.Many})
		}
		if then != nil {
			f.Look(*then)
		}
		f.settle(true)
		return f.lasting.field.At(known)
	}
	for _, c := range []struct {
		name      string
		confirmed bool
		off       float64 // m from the school
		after     time.Duration
		marks     lake.Marks
		teaches   bool
	}{
		{"marks beside it", true, 15, 2 * time.Minute, lake.Many, false},
		{"a blank beside it", true, 15, 2 * time.Minute, lake.None, false},
		{"marks farther off", true, 41, 2 * time.Minute, lake.Many, true},
		{"a blank farther off", true, 41, 2 * time.Minute, lake.None, true},
		{"marks when it was seen long ago", true, 15, 21 * time.Minute, lake.Many, true},
		{"a blank when it was seen long ago", true, 15, 21 * time.Minute, lake.None, true},
		{"a blank beside doubtful marks", false, 15, 2 * time.Minute, lake.None, true},
	} {
		m0, v0 := lasting(c.confirmed, nil)
		m, v := lasting(c.confirmed, &Look{At: known.Add(geo.Local{N: c.off}), When: t0.Add(40*time.Second + c.after), Length: look, Marks: c.marks})
		if teaches := m != m0 || v != v0; teaches != c.teaches {
			t.Errorf("%s: log-intensity %.4f (%.4f), without the look %.4f (%.4f)", c.name, m, v, m0, v0)
		}
	}
}

// Another season sets what is expected; bands fade by exp(-move/2 m) towards their prior, and not at all when the preferred
// depth stays.
func TestTurn(t *testing.T) {
	g := pond(t, geo.Local{}, 0, true)
	mid := priors.Of(priors.Mid)
	taught := func() *Filter {
		f := NewFilter(g, mid, Default(mid), nil)
		for i := range 12 {
			when, p := t0.Add(time.Duration(i)*25*time.Minute), geo.Local{E: float64(i)*150 - 900}
			f.Look(Look{At: p, When: when, Length: look, Marks: lake.Many})
			f.Look(Look{At: p, When: when.Add(40 * time.Second), Length: look, Marks: lake.Many})
		}
		f.Night()
		return f
	}
	i, _, _ := bandsOf(12, Default(mid).BandWidth)
	was := *taught().lasting.bands[i]
	prior := -was.Prior / 2
	if was.Mean < prior+0.1 {
		t.Fatalf("the band learned nothing: %.3f", was.Mean)
	}
	for _, move := range []quantity.Length{0, 1, -2} {
		to := mid
		to.Depth += move
		to.Density *= 3
		f := taught()
		before := f.expected(geo.Local{E: 1500}, depth{m: float64(mid.Depth), known: true})
		f.Turn(to, nil)
		want := prior + math.Exp(-math.Abs(float64(move))/2)*(was.Mean-prior)
		if got := f.lasting.bands[i].Mean; !num.Close(got, want, 1e-12) || f.bands[i].Mean != got {
			t.Errorf("moved %v m: band %.6f, today %.6f, want %.6f", float64(move), got, f.bands[i].Mean, want)
		}
		if after := f.expected(geo.Local{E: 1500}, depth{m: float64(to.Depth), known: true}); !num.Close(after, 3*before, 1e-12) {
			t.Errorf("three times the schools: %g after %g", after, before)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("a copy for today was turned")
		}
	}()
	taught().Today().Turn(mid, nil)
}
