package advise

import (
	"context"
	"math"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/ground"
)

// humped is a lake of 4 x 4 km, 12 m deep, with two rises to 10 m, 1.5 km apart: further than a look says of its surroundings.
func humped(t testing.TB) (*ground.Surface, [2]geo.Local) {
	t.Helper()
	rises := [2]geo.Local{{E: -750}, {E: 750}}
	in := ground.Input{Cell: 25 * quantity.Metre, Window: &ground.Window{Min: geo.Local{E: -1500, N: -800}, Max: geo.Local{E: 1500, N: 800}},
		Outline: []geo.Polygon{{Outer: []geo.Local{{E: -2000, N: -2000}, {E: 2000, N: -2000}, {E: 2000, N: 2000}, {E: -2000, N: 2000}}}}}
	for e := -1475.0; e < 1500; e += 50 {
		for n := -775.0; n < 800; n += 50 {
			p, depth := geo.Local{E: e, N: n}, 12.0
			for _, h := range rises {
				depth -= 2 * math.Exp(-math.Pow(float64(p.Distance(h))/80, 2))
			}
			in.Soundings = append(in.Soundings, ground.Sounding{At: p, Depth: quantity.Length(depth), Sigma: 5 * quantity.Centimetre})
		}
	}
	s, err := ground.Build(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	return s, rises
}

// A form of the bottom is a reason once looks over such forms have met clearly more, or clearly less, than elsewhere; before
// that, and on a flat, it is none.
func TestAFormOfTheBottomIsAReason(t *testing.T) {
	surface, rises := humped(t)
	flat := geo.Local{E: 750, N: 600}
	reason := func(days, each int, over, elsewhere string, p geo.Local) (Reason, bool) {
		d := newDiary(t)
		for day := 1; day <= days; day++ {
			for i := range each {
				sin, cos := math.Sincos(float64(i))
				d.look(d.at(day, "09:00").Add(time.Duration(i*300/each)*time.Minute), rises[0].Add(geo.Local{E: 25 * sin, N: 25 * cos}), over)
				d.look(d.at(day, "09:20").Add(time.Duration(i*300/each)*time.Minute), geo.Local{E: -750 + 300*sin, N: 500 + 100*cos}, elsewhere)
			}
		}
		in := d.input(d.at(15, "10:00"), p)
		in.Surface = surface
		_, why, err := Here(context.Background(), in, p)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range why {
			if r.Code == "bottom_form" {
				return r, true
			}
		}
		return Reason{}, false
	}
	if r, ok := reason(0, 0, "", "", rises[1]); ok {
		t.Errorf("before any look: %+v", r)
	}
	if r, ok := reason(5, 6, "many", "none", rises[1]); !ok || r.Form != "hump" || r.Rate < 1.1 || r.Prior != ByRecord {
		t.Errorf("after marks over the other hump: %+v, %v", r, ok)
	}
	if r, ok := reason(14, 24, "none", "many", rises[1]); !ok || r.Form != "hump" || r.Rate > 0.91 || r.Prior != ByRecord {
		t.Errorf("after blanks over the other hump: %+v, %v", r, ok)
	}
	if r, ok := reason(5, 6, "many", "none", flat); ok {
		t.Errorf("on a flat: %+v", r)
	}
}
