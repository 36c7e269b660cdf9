package rehearse

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"icehand/internal/sim/way"
	"icehand/internal/sim/world"
)

func stageOf(t *testing.T, name string) Stage {
	t.Helper()
	for _, s := range Stages() {
		if s.Name == name {
			return s
		}
	}
	t.Fatalf("no stage %s", name)
	return Stage{}
}

// Every way on every kind of lake: rod time adds up to the day, catches add up to guests, nobody errs.
func TestTimeAndFishAddUp(t *testing.T) {
	depths := newSurfaces()
	for _, f := range world.Families() {
		d := world.NewLake(f, 31, 0).Day(world.Mid, 0)
		for _, n := range ways() {
			if n.make == nil {
				continue
			}
			t.Run(f.Name+"/"+n.name, func(t *testing.T) {
				run := d.Run()
				b := Brief(d, 3, way.Numbers, 1, 0)
				b.Length = 80 * time.Minute // part of a day keeps the test short; Walk obeys the briefing
				if n.name == "rule" {
					b.Length = world.Length
				}
				o, err := Walk(d, run, n.make(setting{d, run, depths, firstLook}), b)
				if err != nil {
					t.Fatal(err)
				}
				if got := o.Spent.Total(); got != 3*b.Length {
					t.Errorf("%v of rod time is told, want %v", got, 3*b.Length)
				}
				sum := 0
				for g, n := range o.PerGuest {
					sum += n
					if (n == 0) != (o.FirstFish[g] == b.Length) {
						t.Errorf("guest %d took %d fish, the first after %v", g, n, o.FirstFish[g])
					}
				}
				if sum != o.Fish || o.Good > o.Fish {
					t.Errorf("guests took %d fish, the party %d of which %d good", sum, o.Fish, o.Good)
				}
				if o.Holes == 0 {
					t.Error("nobody drilled a hole")
				}
			})
		}
	}
}

// The same options give the same report, however many days are walked at a time.
func TestSameSeedSameReport(t *testing.T) {
	o := Options{Days: 4, Seed: 2000, Ways: []string{"spiral-rule", "notes-planner", "random"}, Stages: []Stage{stageOf(t, "late")}}
	a, err := Run(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	o.Workers = 3
	b, err := Run(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	x, _ := json.Marshal(a)
	y, _ := json.Marshal(b)
	if !bytes.Equal(x, y) {
		t.Error("three workers made another report than one")
	}
	o.Seed++
	c, err := Run(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	if z, _ := json.Marshal(c); bytes.Equal(x, z) {
		t.Error("another seed made the same report")
	}
}

// The trade's rule must give days that a guide would go on living with: the lakes are made for that and for nothing else.
func TestRuleFishesPlausibly(t *testing.T) {
	r, err := Run(context.Background(), Options{Days: 60, Seed: 5000, Ways: []string{"rule", "spiral-rule"}, Stages: []Stage{stageOf(t, "mid")}, Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	p := r.Stages[0].Policies[0]
	// blanks on 15 % of days at most were wished for; 60 days tell that to 4.6 %
	if p.FishPerHour < 0.4 || p.FishPerHour > 1.6 || p.Blank > 0.245 {
		t.Errorf("rule: %.2f fish by rod-hour, blank on %.0f %% of days", p.FishPerHour, 100*p.Blank)
	}
	if p.Holes < 60 || p.Holes > 130 {
		t.Errorf("rule: %.0f holes a day; guides drill 40 to 150", p.Holes)
	}
}

// Who knows more takes more, on every kind of lake together; the run says so when it is not so.
func TestKnowingMoreCatchesMore(t *testing.T) {
	r, err := Run(context.Background(), Options{Days: 12, Seed: 6000, Ways: []string{"random", "true-map", "clairvoyant", "bound"}, Stages: []Stage{stageOf(t, "mid")}, Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Faults) > 0 {
		t.Errorf("the run found fault: %v", r.Faults)
	}
}

func TestRunFindsFault(t *testing.T) {
	s := StageReport{Stage: "mid", Policies: []Policy{
		{Name: "random", FishPerHour: 1}, {Name: "true-map", FishPerHour: 3}, {Name: "clairvoyant", FishPerHour: 2, Rod: RodTime{Idle: 0.2}},
	}}
	got := strings.Join(s.faults(), "\n")
	if len(s.faults()) != 2 || !strings.Contains(got, "clairvoyant leaves 20 %") || !strings.Contains(got, "clairvoyant (2.00) does not beat true-map (3.00)") {
		t.Errorf("found %q", got)
	}
}

// breaker gives orders that cannot be carried out.
type breaker struct{ way.Way }

func (breaker) Guest(*way.View, int) way.Order { return way.Order{Do: way.Move, Hole: 99} }

func TestImpossibleOrdersFail(t *testing.T) {
	d := world.NewLake(world.Families()[0], 3, 0).Day(world.Early, 0)
	if _, err := Walk(d, d.Run(), breaker{way.Rule()}, Brief(d, 2, way.Numbers, 1, 0)); err == nil {
		t.Error("a guest walked to a hole that is not there")
	}
}

func TestRatio(t *testing.T) {
	a, b := []float64{2, 4, 6, 8}, []float64{1, 2, 3, 4}
	r := ratio(a, b)
	if math.Abs(r.Value-2) > 1e-12 || math.Abs(r.Low-2) > 1e-12 || math.Abs(r.High-2) > 1e-12 {
		t.Errorf("always twice as much: %v", r)
	}
	// pairing: the ratio of noisy days that move together is known well, that of independent ones is not
	var x, y, z []float64
	for i := range 200 {
		day := 1 + float64(i*37%100)/10
		x, y, z = append(x, 1.5*day), append(y, day), append(z, 1+float64(i*53%100)/10)
	}
	paired, loose := ratio(x, y), ratio(x, z)
	if paired.High-paired.Low > 1e-9 || loose.High-loose.Low < 0.1 {
		t.Errorf("paired %v, loose %v", paired, loose)
	}
	if ratio(a, []float64{0, 0, 0, 0}) != nil {
		t.Error("nothing divided")
	}
}

func TestReportsPrint(t *testing.T) {
	r, err := Run(context.Background(), Options{Days: 4, Seed: 2500, Ways: []string{"rule", "spiral-rule"}, Stages: []Stage{stageOf(t, "early")}})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := r.Table(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"spiral-rule", "pods", "bottom", "No figure is a catch forecast"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the table lacks %q", want)
		}
	}
	dec := xml.NewDecoder(bytes.NewReader(r.Picture()))
	words := 0
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("the picture is no XML: %v", err)
		}
		if _, ok := tok.(xml.CharData); ok {
			words++
		}
	}
	if words < 5 {
		t.Error("the picture says nothing")
	}
	raw, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var shape struct {
		Stages []struct {
			Stage    string
			Policies []struct {
				Name string
				Fish *float64 `json:"fish_per_rod_hour"`
				Good *float64 `json:"good_fish_per_rod_hour"`
			}
		}
	}
	if err := json.Unmarshal(raw, &shape); err != nil || len(shape.Stages) != 1 || len(shape.Stages[0].Policies) != 2 || shape.Stages[0].Policies[1].Fish == nil || shape.Stages[0].Policies[1].Good == nil {
		t.Errorf("the JSON has another shape: %s, %v", raw, err)
	}
}

func TestSeasonRemembers(t *testing.T) {
	r, err := RunSeason(context.Background(), SeasonOptions{Lakes: 2, Winters: 2, Days: 6, Options: Options{Seed: 2100, Workers: 2, Ways: []string{"spiral-rule", "remembering-rule", "notes-memory"}}})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Ways) != 3 || len(r.Ways[0].Winters) != 2 || len(r.Ways[0].Winters[1].Parts) != 2 {
		t.Fatalf("report %+v", r)
	}
	if x := r.Ways[1].Winters[0].All.OverRemembering; x == nil || x.Value != 1 {
		t.Errorf("the remembering rule over itself: %v", x)
	}
	var b bytes.Buffer
	if err := r.Table(&b); err != nil || !strings.Contains(b.String(), "Winter 2") {
		t.Errorf("table %q, %v", b.String(), err)
	}
}

func TestBadOptions(t *testing.T) {
	for name, o := range map[string]Options{
		"days": {}, "rods": {Days: 1, Rods: 40}, "family": {Days: 1, Families: []string{"sharks"}}, "way": {Days: 1, Ways: []string{"luck"}},
	} {
		if _, err := Run(context.Background(), o); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func benchmarkDay(b *testing.B, name string) {
	f, ok := world.FamilyByName(name)
	if !ok {
		b.Fatal("no such family")
	}
	for i := 0; b.Loop(); i++ {
		d := world.NewLake(f, uint64(i), 0).Day(world.Early, 0)
		if _, err := Walk(d, d.Run(), way.SpiralRule(), Brief(d, 4, way.Numbers, 1, 0)); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDayPods(b *testing.B)    { benchmarkDay(b, "pods") }
func BenchmarkDayContour(b *testing.B) { benchmarkDay(b, "contour") }
func BenchmarkDayRoamers(b *testing.B) { benchmarkDay(b, "roamers") }
func BenchmarkDayBottom(b *testing.B)  { benchmarkDay(b, "bottom") }

func BenchmarkDayEngine(b *testing.B) {
	f, _ := world.FamilyByName("pods")
	depths := newSurfaces()
	d := world.NewLake(f, 1, 0).Day(world.Mid, 0)
	for b.Loop() {
		run := d.Run()
		if _, err := Walk(d, run, find("engine").make(setting{d, run, depths, firstLook}), Brief(d, 4, way.Numbers, 1, 0)); err != nil {
			b.Fatal(err)
		}
	}
}
