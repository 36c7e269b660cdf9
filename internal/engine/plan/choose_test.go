package plan

import (
	"context"
	"math"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/lake"
)

func question(from geo.Local) Question {
	return Question{Crew: Crew{Walk: 3.5 * quantity.KilometrePerHour}, From: from, Ice: 0.4, Look: look, DayGone: 0.3, Drillable: true}
}

func chosen(t testing.TB, f *Filter, q Question) []Candidate {
	t.Helper()
	c, _, err := f.Choose(context.Background(), q)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestChooseStaysOnWaterAndOutOfBarredCells(t *testing.T) {
	for seed := range uint64(20) {
		f, _ := busy(t, seed)
		rng := num.NewStream(seed, "barred")
		// near a corner of the lake, so that most of the ring is land
		q := question(geo.Local{E: 1900 + rng.Float64()*90, N: -1900 - rng.Float64()*90})
		barred := geo.Local{E: q.From.E - 100, N: q.From.N + 100}
		q.Allowed = func(c Candidate) bool { return float64(c.At.Distance(barred)) > 120 }
		got := chosen(t, f, q)
		if len(got) == 0 {
			t.Fatalf("seed %d: nothing", seed)
		}
		for _, c := range got {
			if !f.ground.OnWater(c.At) || float64(c.At.Distance(barred)) <= 120 {
				t.Errorf("seed %d: %v is on land or barred", seed, c.At)
			}
		}
		q.Allowed = func(Candidate) bool { return false }
		if got := chosen(t, f, q); len(got) != 0 {
			t.Errorf("seed %d: %d candidates where all is barred", seed, len(got))
		}
	}
}

func TestChooseIsDeterministic(t *testing.T) {
	for seed := range uint64(5) {
		a, _ := busy(t, seed)
		b, _ := busy(t, seed)
		c := a.Clone()
		q := question(geo.Local{E: 20, N: 30})
		one, two, three := chosen(t, a, q), chosen(t, b, q), chosen(t, c, q)
		for i := range one {
			if one[i] != two[i] || one[i] != three[i] {
				t.Fatalf("seed %d: candidate %d differs: %+v %+v %+v", seed, i, one[i], two[i], three[i])
			}
		}
	}
}

// Marks draw the next look into the same hole, to confirm them.
func TestChooseFollowsMarks(t *testing.T) {
	f := fresh(t)
	p := geo.Local{E: 55, N: 5}
	f.Look(Look{At: p, When: t0, Length: look, Marks: lake.Few})
	q := question(p)
	q.Open = []Spot{{At: p, Key: -1}}
	f.At(t0.Add(time.Minute))
	if best := chosen(t, f, q)[0]; !best.Open {
		t.Errorf("after marks: %+v", best)
	}
}

// The hopeful odds steer the choice only: what is shown is the plain mean.
func TestShownOddsAreThePlainMean(t *testing.T) {
	f, _ := busy(t, 3)
	q := question(geo.Local{})
	for _, c := range chosen(t, f, q) {
		if o := f.Odds(c.At, look); o != c.Odds {
			t.Errorf("%v: shown %+v, plain %+v", c.At, c.Odds, o)
		}
		plain, _, _ := f.promise(&q, c.At, 1)
		if plain > c.Odds.P+1e-9 { // equal, save where a school is known, which the choice counts otherwise
			t.Errorf("%v: at eta 1 %.4f, mean %.4f", c.At, plain, c.Odds.P)
		}
		if bold, _, _ := f.promise(&q, c.At, 3); bold < plain {
			t.Errorf("%v: more hope gives %.4f, less %.4f", c.At, bold, plain)
		}
	}
}

// More thought weighs the same places and others between them: its best is at least as good, and somewhere better.
func TestMoreThoughtIsNoWorse(t *testing.T) {
	better := 0
	for seed := range uint64(12) {
		f, _ := busy(t, seed)
		q := question(geo.Local{E: 40 * float64(seed)})
		first := chosen(t, f, q)[0].Score
		q.Budget = 4 * usualBudget
		more := chosen(t, f, q)[0].Score
		if more < first-scoreStep {
			t.Errorf("seed %d: %g, after more thought %g", seed, first, more)
		}
		if more > first+scoreStep {
			better++
		}
	}
	if better == 0 {
		t.Error("more thought never finds better")
	}
	t.Logf("better on %d of 12", better)
}

func TestBudgetBoundsTheWork(t *testing.T) {
	f := fresh(t)
	q := question(geo.Local{})
	q.Budget = 40
	asked := 0
	q.Allowed = func(Candidate) bool { asked++; return false }
	chosen(t, f, q)
	if asked == 0 || asked > 21 {
		t.Errorf("asked %d times", asked)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, _, err := f.Choose(ctx, question(geo.Local{})); err == nil {
		t.Error("a cancelled question was answered")
	}
}

// Drilling: 20 s and 55 s by metre.
func TestDrillTime(t *testing.T) {
	if got := DrillTime(40 * quantity.Centimetre); got != 42*time.Second {
		t.Errorf("%v, want 42 s", got)
	}
}

func anywhere(geo.Local) bool { return true }

// Golden-angle spiral by hand: hole 1 at 25 m and 2.4 rad, hole 4 at 50 m and 9.6 rad.
func TestSpiralByHand(t *testing.T) {
	s := LineAndSpiral{Ring: 25}
	for k, want := range map[int]geo.Local{
		1: {E: 25 * math.Sin(2.4), N: 25 * math.Cos(2.4)},
		4: {E: 50 * math.Sin(9.6), N: 50 * math.Cos(9.6)},
	} {
		if got := s.Hole(geo.Local{}, k); float64(got.Distance(want)) > 1e-9 {
			t.Errorf("hole %d at %v, want %v", k, got, want)
		}
	}
}

func TestLineThenSpiralThenLine(t *testing.T) {
	s := LineAndSpiral{Bearing: 90}
	var looks []Looked
	step := func(hit bool) (geo.Local, bool) {
		p, spiral, known := s.Next(geo.Local{}, looks, anywhere)
		if !known {
			t.Fatal("no place")
		}
		looks = append(looks, Looked{At: p, When: t0.Add(time.Duration(len(looks)) * 4 * time.Minute), Hit: hit})
		return p, spiral
	}
	for i := range 4 {
		p, spiral := step(i == 3)
		if spiral || float64(p.Distance(geo.Local{E: 60 * float64(i)})) > 1e-9 {
			t.Fatalf("hole %d at %v, spiral %v", i, p, spiral)
		}
	}
	hit := looks[3].At
	for i := range 16 {
		p, spiral := step(false)
		if !spiral || p.Distance(hit) > 101 { // 25 x sqrt(16) = 100 m
			t.Fatalf("spiral hole %d at %v, spiral %v", i+1, p, spiral)
		}
	}
	if p, spiral := step(false); spiral || math.Abs(p.N) > 1e-6 || p.E < hit.E+60 {
		t.Errorf("after the spiral at %v, spiral %v", p, spiral)
	}
}

func TestLineBendsOffLandAndGivesUp(t *testing.T) {
	s := LineAndSpiral{Bearing: 90}
	looks := []Looked{{At: geo.Local{}, When: t0}}
	p, _, known := s.Next(geo.Local{}, looks, func(p geo.Local) bool { return p.E < 30 })
	if !known || p.E >= 30 {
		t.Errorf("at %v, known %v", p, known)
	}
	if _, _, known := s.Next(geo.Local{}, looks, func(geo.Local) bool { return false }); known {
		t.Error("a place where none may be used")
	}
}

func BenchmarkOneLookAfter200(b *testing.B) {
	f := fresh(b)
	rng := num.NewStream(1, "bench")
	for i := range 200 {
		f.Look(Look{At: geo.Local{E: rng.Float64()*1000 - 500, N: rng.Float64()*1000 - 500}, When: t0.Add(time.Duration(i) * 2 * time.Minute), Length: look})
	}
	p := geo.Local{E: 33, N: 44}
	for b.Loop() {
		b.StopTimer()
		g := f.Clone()
		b.StartTimer()
		g.Look(Look{At: p, When: g.Now().Add(time.Minute), Length: look})
		g.Odds(p, look)
	}
}
