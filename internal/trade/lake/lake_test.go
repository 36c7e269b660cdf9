package lake

import (
	"encoding/json"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/google/uuid"

	"icehand/internal/base/geo"
	"icehand/internal/base/num"
	"icehand/internal/base/quantity"
	"icehand/internal/trade/journal"
)

var (
	lakeID = uuid.UUID{8}
	t0     = time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)
	origin = geo.Position{Lat: 47.9, Lon: -45}
)

// writer seals bodies into one journal.
type writer struct {
	t    *testing.T
	head journal.Head
	a    journal.Author
	out  []*journal.Entry
}

func newWriter(t *testing.T, seed byte) *writer {
	zone, err := time.LoadLocation("Etc/GMT+3")
	if err != nil {
		t.Fatal(err)
	}
	return &writer{t: t, head: journal.Head{Journal: uuid.UUID{seed}}, a: journal.Author{Outfit: uuid.UUID{9}, Lake: lakeID, Account: uuid.UUID{seed}, Zone: zone}}
}

func (w *writer) add(minute int, body journal.Body) uuid.UUID {
	at := t0.Add(time.Duration(minute) * time.Minute)
	id := journal.ContentID(uuid.UUID{w.head.Journal[0], byte(w.head.N)}, body.Kind(), at.String())
	e, err := journal.Seal(w.head, w.a.Draft(id, at, at, body))
	if err != nil {
		w.t.Fatal(err)
	}
	w.head = journal.HeadOf(&e)
	w.out = append(w.out, &e)
	return id
}

func at(e, n float64) *journal.Point {
	return journal.PointOf(geo.NewFrame(origin).Position(geo.Local{E: e, N: n}))
}

func fold(t *testing.T, entries ...*journal.Entry) *View {
	t.Helper()
	var log journal.Log
	if err := log.Add(entries...); err != nil {
		t.Fatal(err)
	}
	v := New(lakeID)
	v.Sync(&log)
	return v
}

func TestFold(t *testing.T) {
	w := newWriter(t, 1)
	w.add(0, &journal.Lake{Name: "Tamaringen", Origin: *journal.PointOf(origin), Zone: "Etc/GMT+3", FreezeUp: "2025-11-24"})
	h1 := w.add(1, &journal.Hole{Number: 1, At: at(100, 200), Depth: mm(10800)})
	h2 := w.add(2, &journal.Hole{Number: 2, From: &journal.FromHole{Hole: h1, Paces: 20, Bearing: 2700}})
	w.add(3, &journal.Ice{Hole: h1, Total: 410, White: mm(40)})
	w.add(4, &journal.Look{Hole: h2, Seconds: 30, Marks: "few"})
	ridge := w.add(5, &journal.Hazard{What: "ridge", Shape: "line", Points: []journal.Point{*at(0, 0), *at(0, 1000)}, Radius: 20000, Report: "present"})
	v := fold(t, w.out...)
	if v.Name != "Tamaringen" || !v.Known || v.Zone.String() != "Etc/GMT+3" || v.FreezeUp != "2025-11-24" {
		t.Errorf("lake %q %v %v", v.Name, v.Zone, v.FreezeUp)
	}
	if h := v.Hole(h1); h.Day != "2026-01-15" || h.At.Distance(geo.Local{E: 100, N: 200}) > 0.02 {
		t.Errorf("hole 1: %+v", h)
	}
	if h := v.Hole(h2); !h.Placed || h.At.Distance(geo.Local{E: 85, N: 200}) > 0.02 {
		t.Errorf("20 paces west of hole 1: %+v", h)
	}
	if r := v.Ice[0]; !r.Placed || r.Total != 41*quantity.Centimetre || !r.WhiteTold || r.SnowTold {
		t.Errorf("ice %+v", r)
	}
	hz := v.Hazards[0]
	if hz.ID != ridge || !hz.InForce() || hz.Distance(geo.Local{E: 50, N: 500}) < 29.9 || hz.Distance(geo.Local{E: 19, N: 500}) != 0 {
		t.Errorf("hazard %+v, %g m", hz, hz.Distance(geo.Local{E: 50, N: 500}))
	}
	if n := v.NextNumber(uuid.UUID{1}, "2026-01-15"); n != 3 {
		t.Errorf("next number %d", n)
	}
}

// A hazard stays until a newer report about it; an older report that arrives late changes nothing.
func TestHazardIsSuperseded(t *testing.T) {
	w := newWriter(t, 1)
	w.add(0, &journal.Lake{Name: "x", Origin: *journal.PointOf(origin), Zone: "UTC"})
	thin := w.add(10, &journal.Hazard{What: "thin", Shape: "point", Points: []journal.Point{*at(0, 0)}, Report: "present"})
	if v := fold(t, w.out...); !v.Hazards[0].InForce() {
		t.Error("in force")
	}
	late := w.add(5, &journal.Hazard{What: "thin", Shape: "point", Points: []journal.Point{*at(0, 0)}, Report: "cleared", Supersedes: thin})
	v := fold(t, w.out...)
	if !v.hazards[thin].InForce() || v.hazards[late].InForce() {
		t.Error("a report from before cannot supersede")
	}
	w.add(20, &journal.Hazard{What: "thin", Shape: "point", Points: []journal.Point{*at(0, 0)}, Report: "cleared", Supersedes: thin})
	if v := fold(t, w.out...); v.hazards[thin].InForce() {
		t.Error("superseded")
	}
}

// A number is never used again, not even after an undo.
func TestNumbersAreNeverReused(t *testing.T) {
	w := newWriter(t, 1)
	w.add(0, &journal.Lake{Name: "x", Origin: *journal.PointOf(origin), Zone: "UTC"})
	h := w.add(1, &journal.Hole{Number: 1})
	w.add(2, &journal.Retract{Target: h, Why: "undo"})
	v := fold(t, w.out...)
	if v.Hole(h) != nil {
		t.Error("a retracted hole is no hole")
	}
	if n := v.NextNumber(uuid.UUID{1}, "2026-01-15"); n != 2 {
		t.Errorf("next number %d, want 2", n)
	}
}

// Incremental folding in any order of arrival equals folding everything at once.
func TestIncrementalEqualsRebuilt(t *testing.T) {
	for seed := range uint64(100) {
		rng := num.NewStream(seed, "lake")
		all := randomRecord(t, rng)
		want := fold(t, all...)
		var log journal.Log
		got := New(lakeID)
		rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		for len(all) > 0 {
			n := 1 + rng.IntN(len(all))
			if err := log.Add(all[:n]...); err != nil {
				t.Fatal(err)
			}
			got.Sync(&log)
			all = all[n:]
		}
		opts := []cmp.Option{cmp.AllowUnexported(View{}, Hole{}), cmpopts.IgnoreFields(View{}, "cursor", "Left"), cmpopts.EquateEmpty(),
			cmpopts.IgnoreTypes(geo.Frame{}), cmp.Comparer(func(a, b *time.Location) bool { return a.String() == b.String() })}
		if d := cmp.Diff(want, got, opts...); d != "" {
			t.Fatalf("seed %d: %s", seed, d)
		}
	}
}

func randomRecord(t *testing.T, rng *rand.Rand) []*journal.Entry {
	var all []*journal.Entry
	var ids []uuid.UUID
	for j := byte(1); j <= 2; j++ {
		w := newWriter(t, j)
		w.add(0, &journal.Lake{Name: "x", Origin: *journal.PointOf(origin), Zone: "UTC"})
		for m := 1; m < 14; m++ {
			var b journal.Body
			switch k := rng.IntN(7); {
			case k == 0 && len(ids) > 0:
				b = &journal.Retract{Target: ids[rng.IntN(len(ids))], Why: "w"}
			case k == 1 && len(ids) > 0:
				b = &journal.Amend{Target: ids[rng.IntN(len(ids))], Set: map[string]json.RawMessage{"number": json.RawMessage("77")}, Why: "w"}
			case k == 2 && len(ids) > 0:
				b = &journal.Look{Hole: ids[rng.IntN(len(ids))], Seconds: 30, Marks: "none"}
			case k == 3 && len(ids) > 0:
				b = &journal.Hazard{What: "thin", Shape: "point", Points: []journal.Point{*at(1, 2)}, Report: "present", Supersedes: ids[rng.IntN(len(ids))]}
			default:
				b = &journal.Hole{Number: int64(m), At: at(float64(rng.IntN(1000)), 0)}
			}
			ids = append(ids, w.add(m, b))
		}
		all = append(all, w.out...)
	}
	return all
}

func mm(v int64) *int64 { return &v }

// BenchmarkFold1000000 folds a record of twenty seasons.
func BenchmarkFold1000000(b *testing.B) {
	const n = 1_000_000
	head := journal.Head{Journal: uuid.UUID{1}}
	a := journal.Author{Outfit: uuid.UUID{9}, Lake: lakeID, Account: uuid.UUID{1}, Zone: time.UTC}
	es := make([]*journal.Entry, 0, n)
	var hole uuid.UUID
	for i := range n {
		when := t0.Add(time.Duration(i) * 10 * time.Second)
		var body journal.Body
		switch {
		case i == 0:
			body = &journal.Lake{Name: "x", Origin: *journal.PointOf(origin), Zone: "UTC"}
		case i%3 == 1:
			body = &journal.Hole{Number: int64(i % 90000), At: at(float64(i%5000), float64(i%3000)), Depth: mm(11000)}
		case i%3 == 2:
			body = &journal.Look{Hole: hole, Seconds: 30, Marks: "none"}
		default:
			body = &journal.Fish{Hole: hole, Species: "perch", Kept: true, Count: 1}
		}
		e, err := journal.Seal(head, a.Draft(journal.ContentID(lakeID, body.Kind(), when.String()), when, when, body))
		if err != nil {
			b.Fatal(err)
		}
		if i%3 == 1 {
			hole = e.ID
		}
		head = journal.HeadOf(&e)
		es = append(es, &e)
	}
	b.ResetTimer()
	for b.Loop() {
		var log journal.Log
		if err := log.Add(es...); err != nil {
			b.Fatal(err)
		}
		New(lakeID).Sync(&log)
	}
}
