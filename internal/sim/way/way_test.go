package way

import (
	"go/parser"
	"go/token"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
)

// Ways must not be able to look under the ice: nothing here may import what holds the truth.
func TestWaysCannotSeeTheTruth(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) < 5 {
		t.Fatalf("reading the folder: %d files, %v", len(files), err)
	}
	for _, f := range files {
		parsed, err := parser.ParseFile(token.NewFileSet(), f, nil, parser.ImportsOnly)
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range parsed.Imports {
			if strings.Contains(i.Path.Value, "internal/sim") {
				t.Errorf("%s imports %s", f, i.Path.Value)
			}
		}
	}
}

func testField() *field {
	return newField(kernel{level: 0.5, ground: 1.3, lengths: [2]float64{200, 200}, depth: 0.5}, 2000, 1500)
}

func TestFieldLearns(t *testing.T) {
	f := testField()
	here, far := f.row(geo.Local{E: 830, N: 610}, 10.4), f.row(geo.Local{E: 1900, N: 100}, 5)
	m0, v0 := f.read(&here)
	// the prior variance is that of its parts, to what four nodes and two depths lose between them
	if want := 0.25 + 1.69 + 0.25; math.Abs(v0-want) > 0.1*want {
		t.Errorf("prior variance %.3f, want about %.3f", v0, want)
	}
	_, vFar := f.read(&far)
	f.learn(here, 0.4, 0, 0)
	m1, v1 := f.read(&here)
	if m1 >= m0 || v1 >= v0 {
		t.Errorf("a blank look moved %.3f, %.3f to %.3f, %.3f", m0, v0, m1, v1)
	}
	f.learn(here, 0.4, 1, 0)
	m2, v2 := f.read(&here)
	if m2 <= m1 || v2 >= v1 {
		t.Errorf("a hit moved %.3f, %.3f to %.3f, %.3f", m1, v1, m2, v2)
	}
	if _, v := f.read(&far); v > vFar {
		t.Errorf("evidence widened what is far away: %.4f to %.4f", vFar, v)
	}
	f.reset()
	if m, v := f.read(&here); m != m0 || v != v0 {
		t.Error("reset did not bring the prior back")
	}
}

// Many looks of a known rate bring the level back within its spread.
func TestFieldRecoversALevel(t *testing.T) {
	f := testField()
	const factor = 2.2
	total, hits := 0.0, 0.0
	for i := range 300 {
		p := geo.Local{E: 60 + 97*math.Mod(float64(i)*7.3, 19), N: 60 + 93*math.Mod(float64(i)*3.7, 15)}
		total += 0.05 * factor
		y := 0.0
		if total >= hits+1 {
			hits, y = hits+1, 1
		}
		f.learn(f.row(p, 10), 0.05, y, 0)
	}
	sum, sd := 0.0, 0.0
	for i := range 50 {
		r := f.row(geo.Local{E: 200 + 30*float64(i), N: 750}, 10)
		m, v := f.read(&r)
		sum, sd = sum+(m+v/2)/50, sd+math.Sqrt(v)/50
	}
	if math.Abs(sum-math.Log(factor)) > sd {
		t.Errorf("mean density came back as e^%.2f of the season's, want e^%.2f within %.2f", sum, math.Log(factor), sd)
	}
}

func TestMaskFades(t *testing.T) {
	m := newMask(2000, 1500)
	p := geo.Local{E: 503, N: 707}
	m.cast(p, 12, 0.93)
	if got := m.at(p); got > 0.15 {
		t.Errorf("just after a look %.2f of the chance is left", got)
	}
	last := m.at(p)
	for minute := 2; minute <= 240; minute += 2 {
		m.advance(minute)
		now := m.at(p)
		if now < last-1e-6 || now > 1+1e-6 {
			t.Fatalf("minute %d: %.4f after %.4f", minute, now, last)
		}
		last = now
	}
	if last < 0.97 {
		t.Errorf("four hours later only %.2f is left", last)
	}
}

func TestTrackBelieves(t *testing.T) {
	a, b := newTrack(geo.Local{}, 0), newTrack(geo.Local{}, 0)
	a.bites(2, 2)
	b.bites(6, 0)
	if !(a.feeding() > usualBelief[feeds][poor]+usualBelief[feeds][rich]) || !(b.feeding() < a.feeding()) {
		t.Errorf("feeding %.2f after bites, %.2f after none", a.feeding(), b.feeding())
	}
	sum := 0.0
	for ph := range phases {
		sum += changed(a.b, 0.3, 1)[ph][poor] + changed(a.b, 0.3, 1)[ph][rich]
	}
	if math.Abs(sum-1) > 1e-12 {
		t.Errorf("phases sum to %v", sum)
	}
	big := a.big
	a.caught(true, time.Minute)
	if a.big <= big {
		t.Error("a good fish made a school of good fish no likelier")
	}
}

func briefing() Briefing {
	return Briefing{Rods: 2, Length: 8 * time.Hour, Width: 2000, Height: 1500, Start: geo.Local{E: 1000, N: 700},
		Chart: func(geo.Local) quantity.Length { return 10 }, Low: 8, High: 12, Ice: 0.4, Walk: 1, Seed: 5}
}

// The rule drills its line at its spacing, and the spiral rule goes round a hit at growing distances.
func TestRulesDrillTheirPatterns(t *testing.T) {
	w := Rule()
	b := briefing()
	w.Begin(b)
	v := &View{Scout: b.Start, Guests: make([]Guest, 2)}
	var holes []geo.Local
	for range 3 {
		o := w.Scout(v)
		if o.Do != Drill {
			t.Fatalf("order %d, want to drill", o.Do)
		}
		v.Holes = append(v.Holes, Hole{At: o.At, Rod: Scout})
		holes = append(holes, o.At)
	}
	for i := range holes[1:] {
		if d := float64(holes[i].Distance(holes[i+1])); math.Abs(d-15.24) > 0.01 { // 50 ft, 0.3048 m each by definition
			t.Errorf("holes %d and %d lie %.2f m apart", i, i+1, d)
		}
	}
	if o := w.Scout(v); o.Do != Wait {
		t.Errorf("with three holes waiting the scout does %d, want to wait", o.Do)
	}

	w = SpiralRule()
	w.Begin(b)
	v = &View{Scout: b.Start, Guests: make([]Guest, 2)}
	o := w.Scout(v)
	v.Holes = append(v.Holes, Hole{At: o.At, Rod: Scout})
	w.Looked(Look{By: 0, Hole: 0, At: o.At, Length: Step, Count: 2})
	for k := 1; k <= 2; k++ {
		next := w.Scout(v)
		if d := float64(next.At.Distance(o.At)); math.Abs(d-25*math.Sqrt(float64(k))) > 0.01 {
			t.Errorf("hole %d of the spiral lies %.1f m from the hit", k, d)
		}
		v.Holes = append(v.Holes, Hole{At: next.At, Rod: Scout})
	}
}

// A guide with a memory goes back to the area that paid.
func TestRememberingGoesBack(t *testing.T) {
	w := Remembering().(*remembering)
	b := briefing()
	rich := geo.Local{E: 300, N: 300}
	for day := range 12 {
		b.Seed = uint64(day)
		w.Begin(b)
		for i := range 40 {
			at := geo.Local{E: 1000, N: 700}
			if i%2 == 0 {
				at = rich
			}
			w.Looked(Look{By: 0, Hole: i, At: at, Length: 3 * time.Minute})
			if i%2 == 0 {
				w.Caught(Catch{Hole: i, At: at, Landed: true})
			}
		}
		w.End()
	}
	back := 0
	for day := range 20 {
		b.Seed = uint64(100 + day)
		if w.Begin(b).Distance(rich) < 200 {
			back++
		}
		w.End()
	}
	if back < 12 {
		t.Errorf("went back on %d of 20 days", back)
	}
}
