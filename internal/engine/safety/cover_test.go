package safety

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/icecover"
	"icehand/internal/trade/lake"
)

// figurePlainly is what decides at the hole of a reading, worked out for it alone and with no short cut.
func figurePlainly(in IceInput, of *lake.IceReading) (quantity.Length, bool) {
	in.At = of.At
	list := judge(in.Readings, in.Zone, in.Now)
	spacing := readingSpacing
	for _, r := range list {
		if r.Current && r.At.Distance(in.At) <= flowNear {
			spacing = flowSpacing
		}
	}
	var inside []*lake.Hazard
	for _, h := range in.Hazards {
		if h.InForce() && len(h.Points) > 0 {
			if flows(h) && h.Distance(in.At) <= flowNear.Metres() {
				spacing = flowSpacing
			}
			if h.Distance(in.At) == 0 {
				inside = append(inside, h)
			}
		}
	}
	aged := func(r judged) bool { _, aged := (&iceQuestion{in: in}).ended(&r); return aged }
	least, read := quantity.Length(math.Inf(1)), false
	for _, r := range list {
		counts := !inDoubt(r.IceReading, in.Now) && age(r.When, in.Now) <= dropAfter && sameDay(r.When, in.Now, in.Zone) && r.At.Distance(in.At) <= spacing && !aged(r)
		for _, h := range inside {
			counts = counts && h.Distance(r.At) == 0
		}
		if counts && r.known {
			least, read = min(least, r.effective), true
		}
	}
	if !read {
		return 0, false
	}
	zone := in.Cover.Zone(in.At)
	column, known := in.Cover.Columns[zone]
	var holes []icecover.Hole
	for _, r := range list {
		if r.known && !(r.When.After(in.Now) && inDoubt(r.IceReading, in.Now)) && in.Cover.Zone(r.At) == zone && !aged(r) {
			holes = append(holes, icecover.Hole{At: r.At, Effective: icecover.Carry(r.effective, r.When, column.Trail).ForDecision})
		}
	}
	if len(holes) == 0 && !known {
		return 0, true
	}
	reference := least
	if known {
		reference = column.Estimate.Deciding
	}
	return min(least, icecover.NewField(reference, holes, icecover.UsualScatter()).At(in.At, readingSpacing).Low), true
}

// Working out the figures of all holes together changes none of them: not by a thousandth of a millimetre.
func TestFiguresTogetherAndOneByOne(t *testing.T) {
	rng := num.NewStream(11, "figures")
	asked, told, lower := 0, 0, 0
	for range 150 {
		in := randomIce(rng)
		figures := NewFigures(in)
		for _, r := range in.Readings {
			want, known := figurePlainly(in, r)
			got, ok := figures.At(r)
			if ok != known || math.Abs((got-want).Metres()) > 1e-6 || below(got, want) || below(want, got) {
				t.Fatalf("%d readings, %+v: %v %v together, %v %v alone", len(in.Readings), r, got, ok, want, known)
			}
			asked++
			if known {
				told++
			}
			if known && got < r.Total {
				lower++
			}
		}
	}
	if told < asked/5 || asked-told < asked/20 || lower == 0 {
		t.Errorf("of %d readings %d have a figure, %d a lower one: the cases tell little", asked, told, lower)
	}
}

// randomIce is a day of readings, most of them plain, with hazards and weather.
func randomIce(rng *rand.Rand) IceInput {
	span := math.Exp(3 + 5*rng.Float64())
	place := func() geo.Local {
		return geo.Local{E: span * (rng.Float64() - 0.5), N: span * (rng.Float64() - 0.5)}
	}
	when := func() time.Time { return at(9, 0).Add(-time.Duration(rng.IntN(4*60)) * time.Minute) }
	in := IceInput{Now: at(9, 0), Zone: zone}
	for range 1 + rng.IntN(60+100*rng.IntN(2)) {
		p := place()
		r := read(p.E, p.N, quantity.Length(9+rng.IntN(30))*cm, when())
		switch rng.IntN(40) {
		case 0:
			r.Grey = true
		case 1:
			r.Rotten = true
		case 2:
			r.Layered = true
		case 3:
			r.Current = true
		case 4:
			r.When = at(9, 0).Add(time.Duration(rng.IntN(60)) * time.Minute)
		case 5, 6, 7:
			r.When = at(9, 0).AddDate(0, 0, -rng.IntN(9))
		case 8, 9, 10:
			r.White, r.WhiteTold = r.Total/4, true
		}
		in.Readings = append(in.Readings, r)
	}
	for range rng.IntN(5) {
		p := place()
		what := []string{"ridge", "crack", "open_water", "current", "spring", "thin"}[rng.IntN(6)]
		in.Hazards = append(in.Hazards, &lake.Hazard{What: what, Shape: "line", Report: "present", When: when(), Radius: quantity.Length(rng.IntN(30)),
			Points: []geo.Local{p, {E: p.E + 40, N: p.N + 10}}})
	}
	if rng.IntN(2) == 0 {
		in.Cover.Shore = func(p geo.Local) (quantity.Length, bool) { return quantity.Length(math.Abs(p.E)), true }
	}
	if rng.IntN(2) == 0 {
		trail := []icecover.Change{{Until: at(8, 0), Melt: 1 * cm}}
		in.Cover.Columns = map[icecover.Zone]Column{icecover.Shore: {Estimate: icecover.Estimate{Deciding: 24 * cm}, Trail: trail}}
	}
	if rng.IntN(4) == 0 {
		in.Cover.Events = []icecover.Event{{Cause: icecover.LevelChanged, From: at(7, 0)}}
	}
	return in
}
