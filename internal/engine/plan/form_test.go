package plan

import (
	"context"
	"math"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
	"icehand/internal/engine/priors"
	"icehand/internal/trade/lake"
)

// humps are rises of one made-up lake, 1.5 km apart: further than the field reaches.
var humps = [2]geo.Local{{E: -750}, {E: 750}}

// bumpy is a lake of 4 x 4 km, 12 m deep, with two humps that rise to 10 m.
func bumpy(t testing.TB) *ground.Surface {
	t.Helper()
	in := ground.Input{Cell: 25 * quantity.Metre, Window: &ground.Window{Min: geo.Local{E: -1500, N: -800}, Max: geo.Local{E: 1500, N: 800}},
		Outline: []geo.Polygon{{Outer: []geo.Local{{E: -2000, N: -2000}, {E: 2000, N: -2000}, {E: 2000, N: 2000}, {E: -2000, N: 2000}}}}}
	for e := -1475.0; e < 1500; e += 50 {
		for n := -775.0; n < 800; n += 50 {
			p, d := geo.Local{E: e, N: n}, 12.0
			for _, h := range humps {
				d -= 2 * math.Exp(-math.Pow(float64(p.Distance(h))/80, 2))
			}
			in.Soundings = append(in.Soundings, ground.Sounding{At: p, Depth: quantity.Length(d), Sigma: 5 * quantity.Centimetre})
		}
	}
	s, err := ground.Build(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// What looks over one hump say of humps is held of another that lies beyond the field's reach: marks raise its odds more than
// those of flat ground as far off, blanks lower them more; before any look humps and flats of one depth are held alike; a
// night keeps it.
func TestAFormOfTheBottomIsLearned(t *testing.T) {
	g := bumpy(t)
	s := priors.Of(priors.Mid)
	flatAt := geo.Local{E: 750, N: 600}
	for _, h := range humps {
		if k, ok := g.FormAt(h); !ok || k != ground.Hump {
			t.Fatalf("at %v: %v, %v", h, k, ok)
		}
	}
	if k, ok := g.FormAt(flatAt); ok {
		t.Fatalf("the flat is a %s", k)
	}
	f := NewFilter(g, s, Default(s), nil)
	if k, x, ok := f.FormWorth(humps[0]); k != ground.Hump || x != 1 || !ok {
		t.Errorf("before any look: %v, %v, %v", k, x, ok)
	}
	if _, x, ok := f.FormWorth(flatAt); x != 1 || ok {
		t.Errorf("a flat has a form worth %v", x)
	}
	for _, c := range []struct {
		marks lake.Marks
		more  bool
	}{{lake.Many, true}, {lake.None, false}} {
		f := NewFilter(g, s, Default(s), nil)
		for i := range 8 {
			sin, cos := math.Sincos(float64(i))
			p := humps[0].Add(geo.Local{E: 25 * sin, N: 25 * cos})
			f.Look(Look{At: p, When: t0.Add(time.Duration(i) * 40 * time.Minute), Length: look, Marks: c.marks})
		}
		f.settle(true)
		f.Night()
		f.At(t0.Add(24 * time.Hour))
		_, hump, _ := f.FormWorth(humps[1])
		if c.more && hump < 1.05 || !c.more && hump > 0.998 {
			t.Errorf("after %s over the other hump: worth %.3f", c.marks, hump)
		}
		// the flat differs from the hump in depth too: take out what bands have learned
		depthOf := func(p geo.Local) float64 { x, _ := f.DepthWorth(p); return x }
		ratio := f.Odds(humps[1], look).Fresh / f.Odds(flatAt, look).Fresh * depthOf(flatAt) / depthOf(humps[1]) *
			f.season.DepthPreference(12, 0.05, true) / f.season.DepthPreference(10, 0.05, true)
		if !num.Close(ratio, hump, 0.1) {
			t.Errorf("after %s: odds over the hump are %.3f of the flat's, its form is worth %.3f", c.marks, ratio, hump)
		}
	}
}
