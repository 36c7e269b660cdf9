package roam

import (
	"math"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
)

var speedPrior = LogNormal{0.04, 0.7}

// pond draws the looks of a season over groups that are hard discs on straight runs of uniform length, rebounding from a
// square of 600 m: nothing of it is the estimator's model, which knows Gaussian clouds.
func pond(seed uint64, days, looks int) (truth float64, out [][]Look) {
	rng := num.NewStream(seed, "roam")
	truth = speedPrior.Median * math.Exp(speedPrior.SD*num.Clamp(rng.NormFloat64(), -1.6, 1.6))
	const side, radius = 600.0, 11.0
	type group struct {
		at     geo.Local
		course float64
		until  float64
	}
	for range days {
		var groups []group
		for range 12 {
			groups = append(groups, group{at: geo.Local{E: side * rng.Float64(), N: side * rng.Float64()}})
		}
		now := 0.0
		advance := func(to float64) {
			for i := range groups {
				g := &groups[i]
				for t := now; t < to; t += 10 {
					if t >= g.until {
						g.course, g.until = 2*math.Pi*rng.Float64(), t+120+360*rng.Float64()
					}
					g.at = g.at.Add(geo.Local{E: 10 * truth * math.Sin(g.course), N: 10 * truth * math.Cos(g.course)})
					if g.at.E < 0 || g.at.E > side || g.at.N < 0 || g.at.N > side {
						g.at.E, g.at.N = num.Clamp(g.at.E, 0, side), num.Clamp(g.at.N, 0, side)
						g.until = t
					}
				}
			}
			now = to
		}
		var day []Look
		at := geo.Local{E: side / 2, N: side / 2}
		chase := 0
		var met geo.Local
		for k := range looks {
			advance(float64(k) * 200)
			if chase > 0 {
				chase--
				at = met.Add(geo.Local{E: 25 * rng.NormFloat64(), N: 25 * rng.NormFloat64()})
				if rng.IntN(3) == 0 {
					at = met
				}
			} else {
				at = geo.Local{E: side * rng.Float64(), N: side * rng.Float64()}
			}
			seen := rng.Float64() < 0.005
			for _, g := range groups {
				if float64(g.at.Distance(at)) < radius && rng.Float64() < 0.93 {
					seen = true
				}
			}
			if seen {
				met, chase = at, 6
			}
			day = append(day, Look{at, now, seen})
		}
		out = append(out, day)
	}
	return truth, out
}

// Recovery: the speed of groups that move otherwise than the estimator thinks comes back within its stated 80 % range, and
// closer than the prior knew it.
func TestRecoversSpeed(t *testing.T) {
	held, n, before, after := 0.0, 0.0, 0.0, 0.0
	for seed := range uint64(40) {
		truth, days := pond(seed, 20, 100)
		var looks []Look
		for d, day := range days {
			for _, l := range day {
				l.Time += 86400 * float64(d)
				looks = append(looks, l)
			}
		}
		got, told := Speed(looks, 11, speedPrior)
		if told < 50 {
			t.Errorf("seed %d: %d looks told", seed, told)
		}
		low, high := got.Range()
		n++
		if low <= truth && truth <= high {
			held++
		}
		before += math.Pow(math.Log(truth/speedPrior.Median), 2)
		after += math.Pow(math.Log(truth/got.Median), 2)
	}
	t.Logf("80 %% ranges held %.0f of %.0f; root mean square of the logarithm %.2f, of the prior %.2f", held, n, math.Sqrt(after/n), math.Sqrt(before/n))
	if held/n < 0.7 || held/n > 0.95 || after > 0.4*before {
		t.Errorf("held %.2f, squares %.2f of the prior's", held/n, after/before)
	}
}

// Looks that tell nothing leave the prior.
func TestNoPairsNoSpeed(t *testing.T) {
	far := []Look{{geo.Local{}, 0, true}, {geo.Local{E: 500}, 600, true}, {geo.Local{}, 5000, false}, {geo.Local{}, 20, false}}
	if got, n := Speed(far[:3], 11, speedPrior); n != 0 || got != speedPrior {
		t.Errorf("%+v from %d", got, n)
	}
}

// A group found again at once where it was met is slow, one lost at once is fast.
func TestSpeedFollowsWhatWasSeen(t *testing.T) {
	tell := func(seen bool) float64 {
		var looks []Look
		for i := range 30 {
			t := 10000 * float64(i)
			looks = append(looks, Look{geo.Local{}, t, true}, Look{geo.Local{}, t + 400, seen})
		}
		s, _ := Speed(looks, 11, speedPrior)
		return s.Median
	}
	if slow, fast := tell(true), tell(false); !(slow < speedPrior.Median && fast > speedPrior.Median) {
		t.Errorf("found again %.4f, lost %.4f m/s", slow, fast)
	}
}

var sizePrior = LogNormal{70, 0.7}

// fished draws stands over groups whose members differ in how readily they take (gamma, shape 2), which leave after a
// uniform time, while two to four lines stay on for up to a quarter of an hour without a take: not the estimator's model.
func fished(seed uint64, stands int) (truth float64, out []Stand) {
	rng := num.NewStream(seed, "size")
	truth = sizePrior.Median * math.Exp(sizePrior.SD*num.Clamp(rng.NormFloat64(), -1.6, 1.6))
	for range stands {
		n := max(2, int(truth*math.Exp(0.5*rng.NormFloat64())))
		ready := make([]float64, n)
		for i := range ready {
			ready[i] = 0.35 / float64(n) * (rng.ExpFloat64() + rng.ExpFloat64()) / 2
		}
		rods, leaves := float64(2+rng.IntN(3)), 15+75*rng.Float64()
		var s Stand
		last, now := 0.0, 0.0
		const dt = 0.25
		for {
			now += dt
			if now < leaves {
				for i, r := range ready {
					if r > 0 && rng.Float64() < r*rods*dt {
						ready[i] = 0
						s.Takes = append(s.Takes, Take{(now - last) * rods, now - last})
						last = now
					}
				}
			}
			if now-last > 12 {
				break
			}
		}
		s.TailTime, s.TailEffort = now-last, (now-last)*rods
		if len(s.Takes) > 0 {
			out = append(out, s)
		}
	}
	return truth, out
}

// Recovery: what can be taken of groups that are no closed and even population comes back within its stated range.
func TestRecoversSize(t *testing.T) {
	held, n, before, after := 0.0, 0.0, 0.0, 0.0
	bias := 0.0
	for seed := range uint64(40) {
		truth, stands := fished(seed, 25)
		got, _ := Size(stands, sizePrior)
		low, high := got.Range()
		n++
		if low <= truth && truth <= high {
			held++
		}
		bias += math.Log(got.Median/truth) / 40
		before += math.Pow(math.Log(truth/sizePrior.Median), 2)
		after += math.Pow(math.Log(truth/got.Median), 2)
	}
	t.Logf("80 %% ranges held %.0f of %.0f; root mean square of the logarithm %.2f, of the prior %.2f, mean error %.2f", held, n, math.Sqrt(after/n), math.Sqrt(before/n), bias)
	if held/n < 0.7 || after > 0.5*before {
		t.Errorf("held %.2f, squares %.2f of the prior's", held/n, after/before)
	}
}

// [Omand1951] as printed in [Ricker1975], example 6.1: ten days of seven traps, catches 131 to 47; Leslie's method, with
// half of each day's catch, gives 1078, without 1060 with a 95 % range of 670 to 1451. Another method may differ, not by more.
func TestSizeOnOmand(t *testing.T) {
	var s Stand
	for _, n := range []int{131, 69, 99, 78, 56, 76, 49, 42, 63, 47} {
		for range n {
			s.Takes = append(s.Takes, Take{Effort: 7 / float64(n), Time: 1e-3})
		}
	}
	best, most := 0.0, math.Inf(-1)
	for N := 711.0; N < 3000; N += 5 {
		left, effort := s.left(N)
		for k := 0.5; k < 2; k += 0.005 {
			if l := s.given(N, 0.0148*k, 1e-3, left, effort); l > most {
				best, most = N, l
			}
		}
	}
	t.Logf("likeliest %.0f", best)
	if best < 670 || best > 1451 {
		t.Errorf("likeliest number %.0f", best)
	}
}

// What was taken bounds the size from below.
func TestSizeIsAtLeastWhatWasTaken(t *testing.T) {
	var many []Take
	for range 150 {
		many = append(many, Take{2, 1})
	}
	got, n := Size([]Stand{{Takes: many}, {Takes: many}}, LogNormal{30, 0.7})
	if low, _ := got.Range(); n != 300 || low < 60 {
		t.Errorf("%+v from %d takes", got, n)
	}
	if got, n := Size(nil, sizePrior); n != 0 || got != sizePrior {
		t.Errorf("nothing: %+v", got)
	}
}
