package dusk

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
)

// truth is a made-up lake's walleye, drawn from what is believed beforehand.
type truth struct {
	lot   int
	level float64
	hour  [hours]float64
	edge  [2]float64
	spot  [6]float64
	shift float64 // decades by which this lake's walleye like it darker than the band
}

var spots = [6]geo.Local{{}, {E: 500}, {N: 800}, {E: -900, N: 300}, {E: 1200, N: -700}, {N: -1500}}

// erlang draws from a gamma of whole shape.
func erlang(rng *rand.Rand, shape int, mean float64) float64 {
	x := 0.0
	for range shape {
		x += rng.ExpFloat64()
	}
	return x * mean / float64(shape)
}

func draw(rng *rand.Rand) truth {
	tr := truth{level: erlang(rng, levelShape, levelMean)}
	u, run := rng.Float64(), 0.0
	for i, w := range lotPrior() {
		if run += w; u <= run {
			tr.lot = i
			break
		}
	}
	for h := range tr.hour {
		tr.hour[h] = erlang(rng, hourShape, hourPrior[h%heights])
	}
	for e := range tr.edge {
		tr.edge[e] = erlang(rng, edgeShape, 1)
	}
	for s := range tr.spot {
		tr.spot[s] = erlang(rng, spotShape, 1)
	}
	return tr
}

// rate gives the true rate of a rod after walleye at an instant, a line-hour.
func (tr truth) rate(s *Sit, spot int, t time.Time) float64 {
	light := response(atFish(sky(t, made, func(time.Time) (float64, bool) { return s.Cloud, true }), s.Cover.pane(s.Depth), tr.lot) + tr.shift*math.Ln10)
	return tr.level * tr.hour[hourOf(t, made)] * tr.edge[edged(s.Edge > 0.5)] * tr.spot[spot] * edgeWorth(s.Edge) * light
}

var aSit = Sit{Aimed: true, Depth: Range{6, 6}, Edge: 0.9, CloudTold: true, Cover: Cover{Snow: Range{0.02, 0.08}, Ice: Range{0.35, 0.45}, Clarity: Range{2, 4}}}

// live lets a guide fish for walleye on some days and gives the record. Fish come in bunches of the given size.
func (tr truth) live(rng *rand.Rand, days, bunch int) []Sit {
	var out []Sit
	for d := range days {
		for _, from := range []string{"07:20", "10:00", "14:30", "16:00"} {
			s, spot := aSit, rng.IntN(4) // two of the six spots are never fished
			s.At, s.Cloud = spots[spot], rng.Float64()
			s.Aimed = rng.IntN(3) > 0
			s.From = on(1+d%28, from)
			s.To = s.From.Add(time.Duration(40+rng.IntN(50)) * time.Minute)
			aim := 1.0
			if !s.Aimed {
				aim = beside
			}
			for at := s.From; at.Before(s.To); at = at.Add(slice) {
				end := at.Add(slice)
				if end.After(s.To) {
					end = s.To
				}
				mid := at.Add(end.Sub(at) / 2)
				for range poisson(rng, aim*tr.rate(&s, spot, mid)*end.Sub(at).Hours()/float64(bunch)) {
					for range bunch {
						s.Fish = append(s.Fish, mid)
					}
				}
			}
			out = append(out, s)
		}
	}
	return out
}

// ahead gives what is believed and what is true of a rod's catch in a stretch to come.
func (tr truth) ahead(b *Belief, spot int, from, to time.Time) (believed Rate, true_ float64) {
	s := aSit
	s.Cloud = 0.3
	x, pane := &load{}, s.Cover.pane(s.Depth)
	for t := from; t.Before(to); t = t.Add(step) {
		mid := t.Add(step / 2)
		true_ += tr.rate(&s, spot, mid) * step.Hours()
		g := sky(mid, made, func(time.Time) (float64, bool) { return s.Cloud, true })
		for i := range lots {
			x[i][hourOf(mid, made)] += step.Hours() * edgeWorth(s.Edge) * response(atFish(g, pane, i))
		}
	}
	return span(b.catch(spots[spot], s.Edge, x)), true_
}

// Recovery: on lakes drawn from the prior, what is learned holds the true catch to come as often as it says (8 times in 10),
// at a spot on record and at one that was never fished, for independent fish and for fish in bunches; and the light is
// found back. Where a lake's walleye like it ten times darker than the band, the light that is learned takes up the error and
// the catch still holds. Tolerance: 200 lakes give a standard error of 2.8 points; ten points more are allowed for the product of
// gammas, which is known to be too sure of itself when factors share few data.
func TestWhatIsLearnedHoldsTheTruth(t *testing.T) {
	for _, c := range []struct {
		name              string
		days, spot, bunch int
		shift             float64
	}{{"nothing on record", 0, 0, 1, 0}, {"a spot on record", 25, 0, 1, 0}, {"a spot never fished", 25, 5, 1, 0}, {"fish in bunches", 25, 0, 3, 0}, {"a band a decade darker", 25, 0, 1, 1}} {
		t.Run(c.name, func(t *testing.T) {
			rng := num.NewStream(7, "dusk", c.name)
			lakes := 200
			if testing.Short() {
				lakes = 60
			}
			held, off, before, ratio := 0, 0.0, 0.0, 0.0
			prior := (&Tally{}).Learn()
			for range lakes {
				tr := draw(rng)
				tr.shift = c.shift
				tally := &Tally{}
				tally.Add(made, tr.live(rng, c.days, c.bunch)...)
				b := tally.Learn()
				got, want := tr.ahead(b, c.spot, on(20, "15:30"), on(20, "16:30"))
				wide, _ := tr.ahead(prior, c.spot, on(20, "15:30"), on(20, "16:30"))
				if want >= got.Low && want <= got.High {
					held++
				}
				mean := 0.0
				for i, w := range b.weight {
					mean += w * lot(i)
				}
				off += math.Abs(mean - lot(tr.lot))
				before += math.Abs(0.5 - lot(tr.lot))
				ratio += (got.High - got.Low) / (wide.High - wide.Low) / float64(lakes)
			}
			n := float64(lakes)
			share, chance := float64(held)/n, 2*math.Sqrt(0.8*0.2/n)
			t.Logf("held %.3f, light off %.3f (unlearned %.3f), width against unlearned %.2f", share, off/n, before/n, ratio)
			if share < 0.8-0.10-chance || share > 0.8+0.10+chance {
				t.Errorf("the 80 %% range held the truth in %.1f %% of lakes", 100*share)
			}
			most := 0.85 // of the error without a record
			if testing.Short() {
				most = 1 // too few lakes to hold it to more
			}
			if c.days > 0 && c.shift == 0 && off > most*before {
				t.Errorf("light learned to within %.3f, unlearned %.3f", off/n, before/n)
			}
			if c.days > 0 && c.spot == 0 && c.shift == 0 && ratio > 0.7 {
				t.Errorf("25 days of record narrow the range to %.2f of the prior's only", ratio)
			}
		})
	}
}

func learned(sits ...Sit) *Belief {
	t := &Tally{}
	t.Add(made, sits...)
	return t.Learn()
}

func expected(b *Belief, spot int) float64 {
	r, _ := truth{}.ahead(b, spot, on(20, "15:30"), on(20, "16:30"))
	return r.Mean
}

// The order of sits does not matter; a blank sit never raises what is expected there, a fish never lowers it.
func TestRecordMovesTheRateTheRightWay(t *testing.T) {
	rng := num.NewStream(3, "dusk moves")
	for n := range 40 {
		sits := draw(rng).live(rng, 1+rng.IntN(8), 1)
		base := expected(learned(sits...), 0)
		mixed := append([]Sit(nil), sits...)
		rng.Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
		if got := expected(learned(mixed...), 0); math.Abs(got-base) > 1e-6*base {
			t.Fatalf("%d: %g in order, %g shuffled", n, base, got)
		}
		blank := aSit
		blank.At, blank.From, blank.To = spots[0], on(19, "15:30"), on(19, "16:30")
		if got := expected(learned(append(sits, blank)...), 0); got >= base {
			t.Errorf("%d: a blank hour took %g to %g", n, base, got)
		}
		caught := blank
		caught.Fish = []time.Time{on(19, "15:50"), on(19, "16:10")}
		if got := expected(learned(append(sits, caught)...), 0); got <= expected(learned(append(sits, blank)...), 0) {
			t.Errorf("%d: two fish did not raise the rate above a blank hour's", n)
		}
	}
}

// A spot's record speaks for places near it and fades with the distance.
func TestSpotFades(t *testing.T) {
	s := aSit
	s.From, s.To = on(10, "15:30"), on(10, "16:30")
	for k := range 6 {
		s.Fish = append(s.Fish, s.From.Add(time.Duration(k)*9*time.Minute))
	}
	b := learned(s)
	last := math.Inf(1)
	for _, d := range []quantity.Length{0, 60, 150, 250} {
		m := b.spotAt(geo.Local{E: d.Metres()}, 5).Mean()
		if !(m < last) {
			t.Errorf("%v from the spot: %g, nearer %g", d, m, last)
		}
		last = m
	}
	if m := b.spotAt(geo.Local{E: 400}, 5).Mean(); m != 1 {
		t.Errorf("far from the spot %g, want 1", m)
	}
}

// The bound settles: as many steps again change nothing that shows.
func TestFitSettles(t *testing.T) {
	rng := num.NewStream(11, "dusk settles")
	tally := &Tally{}
	tally.Add(made, draw(rng).live(rng, 20, 1)...)
	φ := tally.dispersion()
	f, bound := tally.fit(4, φ)
	if math.IsNaN(bound) || f.level.Mean() <= 0 {
		t.Fatalf("bound %g, level %+v", bound, f.level)
	}
	if n := tally.Fish; n == 0 {
		t.Fatal("no fish on the record")
	}
	// at the maximum the expected fish of all cells balance the level's own equation: shape - exposure * mean = prior's
	exposure := 0.0
	for k := range tally.cells {
		exposure += tally.cells[k].exposure[4] / φ * f.of(tally.cells[k].cell)
	}
	left := levelShape + float64(tally.Fish)/φ - f.level.Mean()*levelShape/levelMean - exposure
	if math.Abs(left) > 1e-3*float64(tally.Fish) {
		t.Errorf("the level's equation is off by %g of %d fish", left, tally.Fish)
	}
}

// Fish that come one by one scatter little, fish in bunches of four about four times as much.
func TestDispersion(t *testing.T) {
	rng := num.NewStream(5, "dusk scatter")
	of := func(bunch int) float64 {
		sum := 0.0
		for range 20 {
			tr := draw(rng)
			tr.level, tr.hour, tr.spot, tr.edge = 2, truth{}.ones(), [6]float64{1, 1, 1, 1, 1, 1}, [2]float64{1, 1}
			tally := &Tally{}
			tally.Add(made, tr.live(rng, 40, bunch)...)
			sum += tally.dispersion() / 20
		}
		return sum
	}
	if one, four := of(1), of(4); !(one < 2 && four > 2.5 && four < 5.5) {
		t.Errorf("one by one %.2f, by four %.2f", one, four)
	}
}

func (truth) ones() (h [hours]float64) {
	for i := range h {
		h[i] = hourPrior[i%heights]
	}
	return h
}
