package rehearse

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"icehand/internal/base/geo"
	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

func TestJudge(t *testing.T) {
	at := func(value, low float64) *Ratio { return &Ratio{value, low, value + 1} }
	for _, c := range []struct {
		name             string
		got              *Ratio
		least, low, most *float64
		want             Verdict
	}{
		{"value and lower bound hold", at(4.1, 3.4), new(4.0), new(3.3), nil, Reached},
		{"on the line", at(4, 3.3), new(4.0), new(3.3), nil, Reached},
		{"lower bound fails", at(4.1, 3.2), new(4.0), new(3.3), nil, Missed},
		{"value fails", at(3.9, 3.4), new(4.0), new(3.3), nil, Missed},
		{"under a limit", at(0.003, 0), nil, nil, new(0.003), Reached},
		{"over a limit", at(0.004, 0), nil, nil, new(0.003), Missed},
		{"nothing walked", nil, new(1.0), nil, nil, NotTold},
	} {
		if got := judge(c.got, c.least, c.low, c.most); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// The earlier design reached 1.5 there and 1.2 here: the factor is 0.8, so 2.2 with a bound of 1.8 becomes 1.76 and 1.44.
func TestTargetsScale(t *testing.T) {
	var x Targets
	x.add(Target{Got: &Ratio{1.8, 1.5, 2.1}, Least: new(2.2), LowLeast: new(1.8), Prototype: &Prototype{There: 1.5, Here: &Ratio{Value: 1.2}}})
	r := x.Rows[0]
	if math.Abs(r.Prototype.Factor-0.8) > 1e-12 || math.Abs(*r.Prototype.Least-1.76) > 1e-12 || math.Abs(*r.Prototype.LowLeast-1.44) > 1e-12 {
		t.Errorf("%+v", r.Prototype)
	}
	if r.Verdict != Missed || r.Scaled != Reached {
		t.Errorf("verdicts %s and %s", r.Verdict, r.Scaled)
	}
	x.add(Target{Got: &Ratio{1, 1, 1}, Least: new(1.0), Prototype: &Prototype{There: 1.5}})
	if x.Rows[1].Verdict != Reached || x.Rows[1].Scaled != NotTold {
		t.Errorf("without the earlier design: %+v", x.Rows[1])
	}
}

// Two lakes on which knowing the map gains 4 and 6 fish, of which the record gains 3 and 4: 7 of 10.
func TestShareOfMap(t *testing.T) {
	r := shareOf([]float64{5, 8}, []float64{2, 4}, []float64{6, 10})
	if r == nil || math.Abs(r.Value-0.7) > 1e-12 || math.Abs(r.Low-4.0/6) > 1e-12 || math.Abs(r.High-0.75) > 1e-12 {
		t.Errorf("share %v, want 0.70 [0.67 0.75]", r)
	}
	if shareOf([]float64{5}, []float64{6}, []float64{5}) != nil {
		t.Error("a map that gains nothing has shares")
	}
}

// Whole lakes, the poorest start: it lies where the engine may begin, and no better than the usual one.
func TestPoorStartIsPoor(t *testing.T) {
	for _, f := range world.Families() {
		d := world.NewLake(f, 21, 0).Day(world.Early, 0)
		b, truth := Brief(d, 4, way.Numbers, 1, 0), d.TrueMap()
		p := poorStart(b, truth)
		if !b.Inside(p) || truth.At(p) > truth.At(b.Start) {
			t.Errorf("%s: %v with %.2g, usual start %.2g", f.Name, p, truth.At(p), truth.At(b.Start))
		}
	}
}

// Four holes on a map of two cells, one three times as rich: the ground is worth 1.25 of the mean.
func TestWorthByHand(t *testing.T) {
	m := &world.Map{CellM: 100, Cols: 2, PerM2: []float64{1, 3}}
	var holes []way.Hole
	for _, e := range []float64{10, 50, 150, 190} {
		holes = append(holes, way.Hole{At: geo.Local{E: e, N: 5}})
	}
	if got := worth(holes, m); got != 1 {
		t.Errorf("half here, half there: %v", got)
	}
	if got := worth(append(holes[1:], holes[3:]...), m); got != 1.25 {
		t.Errorf("three of four on the rich cell: %v", got)
	}
	if worth(nil, m) != 0 {
		t.Error("no holes, some worth")
	}
}

// The whole machinery on a few short pieces: every row of the table is there, sums hold, and what must hold by its
// making holds. What takes hundreds of days to tell is not asked.
func TestTargetTable(t *testing.T) {
	o := TargetOptions{Lakes: 1, Winters: 1, SeasonDays: 11, Word: word,
		Options: Options{Days: 4, Seed: 2600, Rods: 2, Workers: 2, Stages: []Stage{stageOf(t, "mid")}, Budget: 60}}
	if testing.Short() {
		o.Parts = []string{"days", "size", "flat"}
	}
	r, err := RunTargets(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	count := func(part, name string) (n int) {
		for _, row := range r.Rows {
			if row.Part == part && strings.HasPrefix(row.Name, name) {
				n++
			}
		}
		return n
	}
	for _, want := range []struct {
		part, name string
		rows       int
	}{
		{"days", "fish over rule", 1}, {"days", "fish over spiral-rule", 5}, {"days", "share of the clairvoyant", 1}, {"days", "days without", 1},
		{"days", "guests with", 1}, {"days", "engine-wrong", 1}, {"size", "good fish", 1}, {"flat", "fish over", 1}, {"odds", "odds by word, engine, first day", 3},
		{"season", "engine-memory", 1}, {"season", "share", 2}, {"odds", "odds by word, engine-memory", 3}, {"lock-in", "lakes", 1},
	} {
		if !slices.Contains(r.Parts, want.part) && want.part != "odds" || strings.HasSuffix(want.name, "engine-memory") && testing.Short() {
			continue
		}
		if got := count(want.part, want.name); got != want.rows {
			t.Errorf("%s, %s: %d rows, want %d", want.part, want.name, got, want.rows)
		}
	}
	for _, p := range r.Compared.Stages[0].Policies {
		if p.Name == "spiral-rule" && p.OverSpiral.Value != 1 {
			t.Errorf("the spiral over itself: %v", p.OverSpiral)
		}
	}
	looks := 0
	for _, s := range r.Calibrations[len(r.Calibrations)-2].Tenths {
		looks += s.Looks
	}
	if c := r.Calibrations[len(r.Calibrations)-2]; looks != c.Looks || looks == 0 {
		t.Errorf("%d looks in tenths, %d in all", looks, c.Looks)
	}
	for _, l := range r.LockIn {
		if l.First <= 0 || l.After <= 0 {
			t.Errorf("lock-in %+v", l)
		}
	}
	var b bytes.Buffer
	if err := r.Table(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"fish over spiral-rule, flat ground", "scaled", "not told", "== Aim size", "Odds told and seen: engine, first day"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the table lacks %q", want)
		}
	}
	if _, err := json.Marshal(r); err != nil {
		t.Error(err)
	}
}

func TestTargetsRefuse(t *testing.T) {
	for name, o := range map[string]TargetOptions{
		"part": {Parts: []string{"luck"}}, "ways": {Options: Options{Days: 1, Ways: []string{"rule"}}}, "aim": {Options: Options{Aim: way.Size}}, "days": {Options: Options{Days: -1}},
	} {
		if _, err := RunTargets(context.Background(), o); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
