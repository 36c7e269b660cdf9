package track

import (
	"math"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
)

var t0 = time.Date(2026, 1, 15, 9, 0, 0, 0, time.UTC)

// A single shadow against the diffusion equation with decay, solved on a grid of 2 m by explicit steps.
func TestShadowAgainstDiffusionOnAGrid(t *testing.T) {
	const (
		n, h   = 121, 2.0 // cells, m
		radius = 9.0
		detect = 0.93
		d      = 0.05 // m2/s
		memory = 3600.0
		dt     = 10.0
	)
	var c, next [n][n]float64
	mid := n / 2
	for y := range n {
		for x := range n {
			r2 := (float64(x-mid)*float64(x-mid) + float64(y-mid)*float64(y-mid)) * h * h
			c[y][x] = detect * math.Exp(-r2/radius/radius)
		}
	}
	s := Shadows{Motion: Motion{Diffusion: d, Memory: time.Duration(memory) * time.Second}}
	s.Cast(geo.Local{}, t0, radius, detect)
	for step := 1; step <= 180; step++ {
		for y := 1; y < n-1; y++ {
			for x := 1; x < n-1; x++ {
				lap := c[y-1][x] + c[y+1][x] + c[y][x-1] + c[y][x+1] - 4*c[y][x]
				next[y][x] = c[y][x] + dt*(d*lap/(h*h)-c[y][x]/memory)
			}
		}
		c = next
		if step%60 != 0 {
			continue
		}
		now := t0.Add(time.Duration(step*int(dt)) * time.Second)
		for _, x := range []int{0, 2, 5, 9} {
			got := 1 - s.Left(geo.Local{E: float64(x) * h}, now)
			if want := c[mid][mid+x]; !num.Close(got, want, 0.004) { // the grid's own error at 2 m
				t.Errorf("after %v at %g m: %.4f, grid %.4f", now.Sub(t0), float64(x)*h, got, want)
			}
		}
	}
}

// The blob look of the check set: 0.93, R2 = 9, V = 100, d2 = 10 gives 0.18780556 with R2 the square of the radius.
func TestShows(t *testing.T) {
	x := Target{At: geo.Local{}, Var: 100, Exists: 1}
	want := 0.93 * 81 / 281 * math.Exp(-100.0/281)
	if got := x.Shows(geo.Local{E: 10}, 9, 0.93); !num.Close(got, want, 1e-12) || !num.Close(got, 0.18780556, 1e-6) {
		t.Errorf("%g, want %g", got, want)
	}
	x.Exists = 0.5
	if got := x.Shows(geo.Local{E: 10}, 9, 0.93); !num.Close(got, want/2, 1e-12) {
		t.Errorf("half there: %g", got)
	}
}

// Bayes after a blank look: p = 0.3, d = 0.9 gives 0.04109589.
func TestMiss(t *testing.T) {
	x := Target{Exists: 0.3}
	x.Miss(0.3 * 0.9)
	if !num.Close(x.Exists, 0.04109589, 1e-8) {
		t.Errorf("%g", x.Exists)
	}
}

func TestHitMovesAndNarrows(t *testing.T) {
	x := Target{At: geo.Local{}, Var: 40.5, Exists: 1}
	x.Hit(geo.Local{E: 10}, 9) // equal variances: half way, half as wide
	if !num.Close(x.At.E, 5, 1e-12) || !num.Close(x.Var, 20.25, 1e-12) {
		t.Errorf("%+v", x)
	}
	x.Spread(14.0/60, time.Minute)
	if !num.Close(x.Var, 34.25, 1e-9) { // 14 m2 a minute
		t.Errorf("spread to %g", x.Var)
	}
}

func TestSteadyStays(t *testing.T) {
	r := Rates{Rest: time.Hour, Travel: 8 * time.Minute, Feed: 25 * time.Minute}
	b := Steady(r, 0.4)
	was := b
	b.Step(r, 3*time.Hour)
	for p := range b {
		for q := range b[p] {
			if !num.Close(b[p][q], was[p][q], 1e-9) {
				t.Errorf("phase %d quality %d: %g became %g", p, q, was[p][q], b[p][q])
			}
		}
	}
}

// Two states as the limit of three: active 25 min, at rest 60 min, at rest now: active after 30 min with chance 0.2403872.
func TestPhasesAgainstTwoStates(t *testing.T) {
	r := Rates{Rest: time.Hour, Travel: time.Second, Feed: 25 * time.Minute}
	var b Phases
	b[Resting] = [Qualities]float64{0.5, 0.5}
	b.Step(r, 32*time.Minute) // one step of 2 min is spent travelling
	if got := b.Of(Feeding); !num.Close(got, 0.2403872, 0.01) {
		t.Errorf("feeding %g", got)
	}
}

func TestWeighAndMoments(t *testing.T) {
	b := Phases{{0.25, 0.25}, {0, 0}, {0.25, 0.25}}
	b.Weigh(Phases{{1, 1}, {1, 1}, {3, 3}})
	if !num.Close(b.Of(Feeding), 0.75, 1e-12) {
		t.Errorf("feeding %g", b.Of(Feeding))
	}
	m, v := b.Moments(Phases{{0, 0}, {0, 0}, {1, 1}})
	if !num.Close(m, 0.75, 1e-12) || !num.Close(v, 0.1875, 1e-12) {
		t.Errorf("moments %g %g", m, v)
	}
	was := b
	b.Weigh(Phases{})
	if b != was {
		t.Error("an impossible likelihood changed the belief")
	}
}
