package search

import (
	"math"
	"testing"

	"icehand/internal/base/num"
)

// Grid hits by brute force: circles dropped at random on the grid, within four standard errors.
func TestGridHitsByDropping(t *testing.T) {
	rng := num.NewStream(1, "grid")
	const n = 40000
	for _, X := range []float64{0.2, 0.45, 0.55, 0.6, 0.68} {
		square, triangle := 0, 0
		for range n {
			x, y := rng.Float64(), rng.Float64()
			if math.Hypot(math.Min(x, 1-x), math.Min(y, 1-y)) <= X {
				square++
			}
			// a point of the rhombic cell spanned by (1, 0) and (1/2, sqrt(3)/2)
			px, py := x+y/2, y*math.Sqrt(3)/2
			best := math.Inf(1)
			for _, c := range [][2]float64{{0, 0}, {1, 0}, {0.5, math.Sqrt(3) / 2}, {1.5, math.Sqrt(3) / 2}} {
				best = math.Min(best, math.Hypot(px-c[0], py-c[1]))
			}
			if best <= X {
				triangle++
			}
		}
		for name, c := range map[string][2]float64{"square": {float64(square) / n, SquareGridHit(X)}, "triangle": {float64(triangle) / n, TriangularGridHit(X)}} {
			if se := math.Sqrt(c[1] * (1 - c[1]) / n); math.Abs(c[0]-c[1]) > 4*se+1e-12 {
				t.Errorf("%s, ratio %v: dropped %.4f, formula %.4f", name, X, c[0], c[1])
			}
		}
	}
	if SquareGridHit(math.Sqrt2/2) != 1 || TriangularGridHit(0.58) != 1 || SquareGridHit(0) != 0 {
		t.Error("ends")
	}
	for _, p := range []float64{0, 0.3, 0.9, 0.999} {
		if math.Abs(SquareGridHit(SquareGridRatio(p))-p) > 1e-12 {
			t.Errorf("inverse at %v", p)
		}
	}
}

// No other split of the same effort detects more.
func TestSplitIsBest(t *testing.T) {
	rng := num.NewStream(2, "split")
	for range 500 {
		p := make([]float64, 1+rng.IntN(6))
		for i := range p {
			if rng.IntN(4) > 0 {
				p[i] = rng.ExpFloat64()
			}
		}
		p[0] = rng.Float64() + 0.01
		total := 4 * rng.Float64()
		x := Split(p, total)
		sum := 0.0
		for _, v := range x {
			sum += v
			if v < 0 {
				t.Fatalf("%v: negative effort %v", p, x)
			}
		}
		if math.Abs(sum-total) > 1e-9 {
			t.Fatalf("%v: efforts sum to %v, not %v", p, sum, total)
		}
		best := Detection(p, x)
		for range 20 {
			y, s := make([]float64, len(p)), 0.0
			for i := range y {
				y[i] = rng.ExpFloat64()
				s += y[i]
			}
			for i := range y {
				y[i] *= total / s
			}
			if Detection(p, y) > best+1e-12 {
				t.Fatalf("%v: %v beats %v", p, y, x)
			}
		}
	}
}

// The best stay beats its neighbours for any ratio of travel to the gain's time [Charnov1976].
func TestBestStay(t *testing.T) {
	for _, T := range []float64{1e-6, 0.01, 0.5, 1, 3, 10, 100, 1e4, 1e8} {
		s := BestStay(1, T)
		if !(s > 0) || math.Abs((math.Expm1(s)-s)/T-1) > 1e-6 {
			t.Errorf("travel %v: stay %v leaves %v", T, s, (math.Expm1(s)-s)/T-1)
		}
		if r := LongRunRate(1, 1, T, s); LongRunRate(1, 1, T, s*1.01) > r || LongRunRate(1, 1, T, s*0.99) > r {
			t.Errorf("travel %v: a neighbour beats stay %v", T, s)
		}
	}
	if BestStay(3, 0) != 0 {
		t.Error("no travel, no stay")
	}
}

func TestGamma(t *testing.T) {
	g := Gamma{1, 10}
	for _, ρ := range []float64{0.02, 0.05, 0.2} {
		wait := g.GivingUp(ρ)
		if wait > 0 && math.Abs(g.Update(0, wait).Mean()-ρ) > 1e-12 {
			t.Errorf("at giving up the mean is %v, not %v", g.Update(0, wait).Mean(), ρ)
		}
		if wait > 0 && math.Abs(g.Update(1, 0).GivingUp(ρ)-wait-1/ρ) > 1e-9 {
			t.Error("an event buys 1/ρ")
		}
	}
	if g.GivingUp(0.2) != 0 {
		t.Error("already below the going rate")
	}
	if g.None(0) != 1 || g.None(20) >= g.None(10) {
		t.Error("chance of none")
	}
}

// What looks find and miss stays a probability, and a blank never raises the chance.
func TestUpdatesStayInBounds(t *testing.T) {
	rng := num.NewStream(3, "bounds")
	for range 2000 {
		p, d := rng.Float64(), rng.Float64()
		if b := Blank(p, d); !(b >= 0 && b <= p) {
			t.Fatalf("blank %v %v: %v", p, d, b)
		}
		C := 5 * rng.Float64()
		r, i, e := RandomDetection(C), InverseCubeDetection(C), ExhaustiveDetection(C)
		if !(r <= i+1e-12 && i <= e+1e-12 && e <= 1) {
			t.Fatalf("coverage %v: random %v, inverse cube %v, exhaustive %v", C, r, i, e)
		}
		n := LooksFor(p/2+0.01, d)
		if AtLeastOne(p/2+0.01, n) < d-1e-9 || n > 0 && AtLeastOne(p/2+0.01, n-1) > d+1e-9 {
			t.Fatalf("looks for %v at %v: %d", d, p/2+0.01, n)
		}
		if l := BlobLook(d, 1+p, 10*p, 20*C); !(l >= 0 && l <= d) {
			t.Fatalf("look %v", l)
		}
	}
}
