package hours

import (
	"math"
	"testing"

	"icehand/internal/base/num"
)

// [McCullagh1989]: bites 2, 9, 5, 1, 0, 3 in 3.5, 4, 4, 3, 2.5, 4 h, deviance and chance computed in R 4.2.2.
func TestDevianceAgainstR(t *testing.T) {
	d, df, p := Deviance(Counts{[]float64{2, 9, 5, 1, 0, 3}, []float64{3.5, 4, 4, 3, 2.5, 4}})
	if df != 5 || !num.Close(d, 12.61801, 1e-4) || !num.Close(p, 0.0272339, 1e-6) {
		t.Errorf("deviance %.5f on %d df, p %.7f", d, df, p)
	}
}

// [Gaver1987]: ten pumps, failures in thousands of hours; marginal maximum computed in R 4.2.2.
func TestFitGammaOnPumps(t *testing.T) {
	c := Counts{[]float64{5, 1, 5, 14, 3, 19, 1, 1, 4, 22}, []float64{94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5}}
	g, err := FitGamma(c)
	if err != nil || !num.Close(g.Shape, 0.8230, 5e-5) || !num.Close(g.Rate, 1.2617, 5e-5) {
		t.Errorf("%+v, %v", g, err)
	}
	raw, shrunk := c.Events[8]/c.Exposure[8], g.Update(c.Events[8], c.Exposure[8]).Mean()
	if !num.Close(raw, 1.905, 5e-4) || !num.Close(shrunk, 1.435, 5e-4) {
		t.Errorf("pump 9: %.4f shrunk to %.4f", raw, shrunk)
	}
}

func TestFitGammaOfLikeRates(t *testing.T) {
	if _, err := FitGamma(Counts{[]float64{10, 10, 10, 10}, []float64{5, 5, 5, 5}}); err != ErrAlike {
		t.Error(err)
	}
	if _, err := FitGamma(Counts{[]float64{0, 0}, []float64{5, 5}}); err != ErrAlike {
		t.Error(err)
	}
}

const bins = 14

// twoHumps is a prior with a high morning and a lower afternoon.
func twoHumps() []float64 {
	out := make([]float64, bins)
	for b := range out {
		x := (float64(b)+0.5)/12 - 1.0/12
		out[b] = 0.45 + math.Exp(-(x-0.28)*(x-0.28)/0.0288) + 0.55*math.Exp(-(x-0.75)*(x-0.75)/0.0288)
	}
	return out
}

// world draws days: a hidden curve unlike the prior, days that differ, and events in bunches of a school's making. None of
// it is the estimator's own model: bunches are geometric, days log-normal, exposure starts and ends when it likes.
func world(seed uint64, days int) (truth []float64, out []Day) {
	rng := num.NewStream(seed, "hours")
	truth = make([]float64, bins)
	peak, wide, mean := 2+9*rng.Float64(), 1.5+2*rng.Float64(), 0.0
	for b := range truth {
		x := (float64(b) - peak) / wide
		truth[b] = 0.4 + 1.6*math.Exp(-x*x/2)
		mean += truth[b] / bins
	}
	for b := range truth {
		truth[b] /= mean
	}
	for d := range days {
		day := Day{Counts{make([]float64, bins), make([]float64, bins)}, float64(days - d)}
		luck := math.Exp(0.4*rng.NormFloat64() - 0.08)
		from, to := rng.IntN(4), bins-rng.IntN(4)
		for b := from; b < to; b++ {
			day.Exposure[b] = 4 * (0.4 + 0.6*rng.Float64()) * 0.6 // rod-hours
			bunches := poisson(rng.Float64, 0.8*luck*truth[b]*day.Exposure[b])
			for range bunches {
				size := 1.0
				for rng.Float64() < 0.5 {
					size++
				}
				day.Events[b] += size
			}
		}
		out = append(out, day)
	}
	return truth, out
}

func poisson(uniform func() float64, μ float64) int {
	n, p, least := 0, uniform(), math.Exp(-μ)
	for p > least {
		p *= uniform()
		n++
	}
	return n
}

// Recovery: the curve of forty simulated days comes back within its stated 80 % range, and closer than the prior was.
func TestRecoversTheCurve(t *testing.T) {
	held, n := 0.0, 0.0
	before, after := 0.0, 0.0
	prior := twoHumps()
	start := Learn(prior, nil)
	for seed := range uint64(60) {
		truth, days := world(seed, 40)
		c := Learn(prior, days)
		for b, f := range c.Bins {
			n++
			if f.Low <= truth[b] && truth[b] <= f.High {
				held++
			}
			before += math.Pow(math.Log(start.Bins[b].Mean/truth[b]), 2)
			after += math.Pow(math.Log(f.Mean/truth[b]), 2)
		}
	}
	t.Logf("80 %% ranges held %.1f %% of %.0f bins; root mean square of the logarithm %.3f, of the prior %.3f", 100*held/n, n, math.Sqrt(after/n), math.Sqrt(before/n))
	if held/n < 0.72 || held/n > 0.92 || after > 0.35*before {
		t.Errorf("held %.3f, squares %.3f of the prior's", held/n, after/before)
	}
}

// With nothing on record the curve is the prior, its mean is 1, and nothing is claimed.
func TestNothingOnRecord(t *testing.T) {
	c := Learn(twoHumps(), nil)
	mean := 0.0
	for b := range c.Bins {
		mean += c.Bins[b].Mean / bins
	}
	if _, _, ok := c.Best(); ok || !num.Close(mean, 1, 1e-12) || c.Flat != 1 || c.Days != 0 {
		t.Errorf("mean %.6f, %+v", mean, c)
	}
	if x := c.At(4.5); !num.Close(x.Mean, c.Bins[4].Mean, 1e-12) {
		t.Errorf("at the middle of bin 4: %.4f, the bin %.4f", x.Mean, c.Bins[4].Mean)
	}
}

// More of the same days never widens a bin's range against its mean, and old days count less.
func TestEvidenceNarrowsAndFades(t *testing.T) {
	truth, days := world(3, 60)
	_ = truth
	wide := func(c Curve) float64 {
		sum := 0.0
		for _, f := range c.Bins {
			sum += math.Log(f.High / f.Low)
		}
		return sum
	}
	none, some, all := wide(Learn(twoHumps(), nil)), wide(Learn(twoHumps(), days[50:])), wide(Learn(twoHumps(), days))
	old := append([]Day(nil), days...)
	for i := range old {
		old[i].Age += 200
	}
	faded := wide(Learn(twoHumps(), old))
	if !(none > some && some > all && faded > all && faded < none) {
		t.Errorf("widths: nothing %.2f, ten days %.2f, sixty %.2f, sixty old ones %.2f", none, some, all, faded)
	}
}

// A flat lake is called uneven in one of ten at the most, a hump is found.
func TestBestHours(t *testing.T) {
	claimed, hump := 0, 0
	const lakes = 60
	for seed := range uint64(lakes) {
		rng := num.NewStream(seed, "flat")
		truth, days := world(seed, 40)
		top := 0
		for b := range truth {
			if truth[b] > truth[top] {
				top = b
			}
		}
		if from, to, ok := Learn(twoHumps(), days).Best(); ok && from <= top && top < to {
			hump++
		}
		for i := range days {
			for b := range days[i].Events {
				days[i].Events[b] = 0
				for range poisson(rng.Float64, 0.8*days[i].Exposure[b]) {
					days[i].Events[b] += float64(1 + poisson(rng.Float64, 1))
				}
			}
		}
		if _, _, ok := Learn(twoHumps(), days).Best(); ok {
			claimed++
		}
	}
	t.Logf("best hours told of %d of %d flat lakes; right on %d of %d with a hump", claimed, lakes, hump, lakes)
	if claimed > lakes*15/100 || hump < lakes*70/100 {
		t.Errorf("%d of %d flat lakes, %d with a hump", claimed, lakes, hump)
	}
}

// spelled draws a day by minutes with busy stretches of uniform 10 to 20 minutes and lulls of uniform 80 to 160.
func spelled(seed uint64, busy bool) (Counts, []Span) {
	rng := num.NewStream(seed, "spells")
	const n = 420
	c := Counts{make([]float64, n), make([]float64, n)}
	var truth []Span
	for t := 20 + rng.IntN(60); t < n; {
		end := min(n, t+10+rng.IntN(11))
		truth = append(truth, Span{t, end})
		t = end + 80 + rng.IntN(81)
	}
	for t := range n {
		if t%37 > 2 { // lines are out of the water now and then
			c.Exposure[t] = 4
		}
		rate := 0.03
		if busy {
			rate = 0.008
			for _, s := range truth {
				if t >= s.From && t < s.To {
					rate = 0.25
				}
			}
		}
		c.Events[t] = float64(poisson(rng.Float64, rate*c.Exposure[t]))
	}
	return c, truth
}

func TestFindsSpells(t *testing.T) {
	met, all, wrong, even := 0, 0, 0, 0
	for seed := range uint64(30) {
		c, truth := spelled(seed, true)
		f := UsualSpells.Find(c, 1)
		if !f.Told {
			t.Errorf("seed %d: not told, lead %.1f", seed, f.Lead)
		}
		for _, s := range truth {
			all++
			for _, g := range f.Spans {
				if g.From < s.To && s.From < g.To {
					met++
					break
				}
			}
		}
		for _, g := range f.Spans {
			hit := false
			for _, s := range truth {
				hit = hit || g.From < s.To && s.From < g.To
			}
			if !hit {
				wrong++
			}
		}
		c, _ = spelled(seed, false)
		if UsualSpells.Find(c, 1).Told {
			even++
		}
	}
	t.Logf("%d of %d spells found, %d that were none, told of %d of 30 even days", met, all, wrong, even)
	if met < all*9/10 || wrong > all/10 || even > 2 {
		t.Errorf("%d of %d found, %d wrong, %d even days", met, all, wrong, even)
	}
	if (UsualSpells.Find(Counts{make([]float64, 60), make([]float64, 60)}, 1)).Told {
		t.Error("a day without events told something")
	}
}

// The next spell's range: with no lull on record its middle lies about the usual one, a lull that has lasted long leaves
// less of it, and lulls seen pull and narrow it.
func TestNextSpell(t *testing.T) {
	low, mid, high := UsualSpells.Next(nil, 0)
	if !(low > 20 && mid > 80 && mid < 130 && high < 400) {
		t.Errorf("%.0f %.0f %.0f min", low, mid, high)
	}
	if _, later, _ := UsualSpells.Next(nil, 100); later >= mid {
		t.Errorf("after 100 min still %.0f, at first %.0f", later, mid)
	}
	l, m, h := UsualSpells.Next([]float64{60, 62, 58, 61, 60, 59}, 0)
	if !(m < mid && h-l < high-low) {
		t.Errorf("after six lulls of an hour: %.0f %.0f %.0f", l, m, h)
	}
	// lulls drawn from a gamma of the usual mean: the 80 % range holds what it says
	rng := num.NewStream(4, "lulls")
	held := 0
	const n = 2000
	for range n {
		g := 0.0
		for range 4 {
			g += rng.ExpFloat64() * 120 / 4
		}
		if g >= low && g <= high {
			held++
		}
	}
	if held < n*75/100 {
		t.Errorf("held %d of %d", held, n)
	}
}
