package journal

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"icehand/internal/base/num"
)

var t0 = time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)

func author(seed byte) Author {
	id := uuid.UUID{seed, 1}
	return Author{Outfit: uuid.UUID{9}, Lake: uuid.UUID{8}, Account: id, Boot: id, Started: t0}
}

// chain seals bodies into a journal, a minute apart.
func chain(t *testing.T, seed byte, bodies ...Body) []*Entry {
	t.Helper()
	head := Head{Journal: uuid.UUID{seed}}
	var out []*Entry
	for i, b := range bodies {
		now := t0.Add(time.Duration(i) * time.Minute)
		e, err := Seal(head, author(seed).Draft(uuid.UUID{seed, byte(i + 1), 7}, now, now, b))
		if err != nil {
			t.Fatal(err)
		}
		if err := Verify(head, &e); err != nil {
			t.Fatal(err)
		}
		head = HeadOf(&e)
		out = append(out, &e)
	}
	return out
}

func TestChainFindsEveryChange(t *testing.T) {
	es := chain(t, 1, &Hole{Number: 1}, &Hole{Number: 2})
	head := HeadOf(es[0])
	for name, spoil := range map[string]func(*Entry){
		"body": func(e *Entry) { e.Body = []byte(`{"number":3}`) }, "id": func(e *Entry) { e.ID[0]++ }, "at": func(e *Entry) { e.At++ },
		"wall": func(e *Entry) { e.Wall++ }, "zone": func(e *Entry) { e.Zone = "UTC2" }, "day": func(e *Entry) { e.Day = "2026-01-16" },
		"kind": func(e *Entry) { e.Kind = "ice" }, "version": func(e *Entry) { e.Version++ }, "hlc": func(e *Entry) { e.HLC++ },
		"lake": func(e *Entry) { e.Lake[3]++ }, "outfit": func(e *Entry) { e.Outfit[3]++ }, "account": func(e *Entry) { e.Account[3]++ },
		"trip": func(e *Entry) { e.Trip[3]++ }, "mono": func(e *Entry) { e.Mono++ }, "boot": func(e *Entry) { e.Boot[3]++ },
		"n": func(e *Entry) { e.N++ }, "prev": func(e *Entry) { e.Prev[0]++ }, "journal": func(e *Entry) { e.Journal[5]++ }, "hash": func(e *Entry) { e.Hash[31]++ },
	} {
		e := *es[1]
		spoil(&e)
		if Verify(head, &e) == nil {
			t.Errorf("a changed %s passed", name)
		}
	}
}

// The order across journals follows the clock, so within one journal the clock must follow the numbers.
func TestClockMustGrow(t *testing.T) {
	es := chain(t, 1, &Hole{Number: 1}, &Hole{Number: 2})
	e := *es[1]
	e.HLC = es[0].HLC
	e.Hash = e.digest()
	if Verify(HeadOf(es[0]), &e) == nil {
		t.Error("an entry whose clock stands still passed")
	}
}

// Two fields may not trade bytes: lengths are hashed too.
func TestDigestIsLengthPrefixed(t *testing.T) {
	a := Entry{Day: "2026-01-15", Zone: "UTC", Body: []byte("{}")}
	b := Entry{Day: "2026-01-1", Zone: "5UTC", Body: []byte("{}")}
	if a.digest() == b.digest() {
		t.Error("same digest")
	}
}

func TestLineRoundTrip(t *testing.T) {
	for _, e := range chain(t, 1, &Hole{Number: 1, At: &Point{479000000, -450000000}}, &Note{Text: Text{Blob: Sum([]byte("x"))}}) {
		line, err := AppendLine(nil, e)
		if err != nil {
			t.Fatal(err)
		}
		back, err := ParseLine(line)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(*e, back); d != "" {
			t.Error(d)
		}
	}
	odd := chain(t, 1, &Hole{Number: 1})[0]
	odd.Body = []byte(`{"number": 1, "a<b":"\u003c&" }`) // spacing and escapes stay as written
	odd.Hash = odd.digest()
	line, _ := AppendLine(nil, odd)
	back, err := ParseLine(line)
	if err != nil || !bytes.Equal(back.Body, odd.Body) {
		t.Errorf("%s became %s, %v", odd.Body, back.Body, err)
	}
}

func TestHLC(t *testing.T) {
	h := HLC(0).Next(t0)
	if h.Next(t0.Add(-time.Hour)) <= h {
		t.Error("a clock that steps back must not turn the order")
	}
	if got := h.Merge(hlcAt(t0.Add(4*time.Minute)), t0); got != hlcAt(t0.Add(4*time.Minute)) {
		t.Error("a stamp four minutes ahead is merged")
	}
	if got := h.Merge(hlcAt(t0.Add(6*time.Minute)), t0); got != h {
		t.Error("a stamp six minutes ahead is not merged")
	}
}

func TestAmendRetract(t *testing.T) {
	es := chain(t, 1, &Hole{Number: 17, Depth: ptr(11200)}, &Fish{Species: "perch", Kept: true, Count: 1})
	hole, fish := es[0].ID, es[1].ID
	more := chain(t, 2,
		&Amend{Target: hole, Set: map[string]json.RawMessage{"depth_mm": json.RawMessage("10800"), "at": json.RawMessage("1768478400000")}, Why: "lead line"},
		&Retract{Target: fish, Why: "tapped twice"})
	var l Log
	if err := l.Add(append(es, more...)...); err != nil {
		t.Fatal(err)
	}
	f := l.Find(hole)
	if h := f.Body.(*Hole); *h.Depth != 10800 || h.Number != 17 || f.At.UnixMilli() != 1768478400000 || len(f.Amended) != 1 {
		t.Errorf("amended to %+v at %v", h, f.At)
	}
	if f := l.Find(fish); f.Counts() {
		t.Error("a retracted fish counts")
	}
	if !bytes.Equal(l.Find(hole).Entry.Body, es[0].Body) {
		t.Error("the entry itself changed")
	}
	// taking the retraction back
	var l2 Log
	undo := chain(t, 3, &Hole{Number: 1}, &Hole{Number: 2}, &Retract{Target: more[1].ID, Why: "it was real"}) // written later
	if err := l2.Add(append(append(es, more...), undo...)...); err != nil {
		t.Fatal(err)
	}
	if f := l2.Find(more[1].ID); f.Counts() {
		t.Error("the retraction is retracted")
	}
	if f := l2.Find(fish); !f.Counts() {
		t.Errorf("the fish should count again, left out because %s", f.Left)
	}
}

func TestContradictingAmendmentsAreFlagged(t *testing.T) {
	es := chain(t, 1, &Hole{Number: 17, Depth: ptr(11200)})
	a := chain(t, 2, &Amend{Target: es[0].ID, Set: map[string]json.RawMessage{"depth_mm": json.RawMessage("10800")}, Why: "lead line"})
	b := chain(t, 3, &Amend{Target: es[0].ID, Set: map[string]json.RawMessage{"depth_mm": json.RawMessage("10700")}, Why: "sonar"})
	var l Log
	l.Add(append(append(es, a...), b...)...)
	if l.Find(es[0].ID).Flag == "" {
		t.Error("not flagged")
	}
	var l2 Log
	c := chain(t, 3, &Amend{Target: es[0].ID, Set: map[string]json.RawMessage{"depth_mm": json.RawMessage("10700")}, Why: "sonar", After: a[0].ID})
	l2.Add(append(append(es, a...), c...)...)
	if f := l2.Find(es[0].ID); f.Flag != "" || *f.Body.(*Hole).Depth != 10700 {
		t.Errorf("a later correction that knew the earlier: %+v", f)
	}
}

func TestUnknownKindsAreKept(t *testing.T) {
	e := *chain(t, 1, &Hole{Number: 1})[0]
	e.Kind, e.Version, e.Body = "moonbeam", 4, []byte(`{"x":1}`)
	e.Hash = e.digest()
	var l Log
	l.Add(&e)
	if f := l.Facts()[0]; f.Counts() || f.Entry != &e {
		t.Errorf("%+v", f)
	}
	line, _ := AppendLine(nil, &e)
	if back, err := ParseLine(line); err != nil || back.Hash != e.Hash {
		t.Error(err)
	}
}

func TestForkIsNamed(t *testing.T) {
	es, other := chain(t, 1, &Hole{Number: 1}), chain(t, 1, &Hole{Number: 2})
	var l Log
	if l.Add(es...) != nil || l.Add(es...) != nil {
		t.Error("the same entry twice is no fork")
	}
	if l.Add(other...) == nil {
		t.Error("a fork passed")
	}
}

// Facts do not depend on the order of arrival.
func TestOrderOfArrivalDoesNotMatter(t *testing.T) {
	for seed := range uint64(200) {
		rng := num.NewStream(seed, "arrival")
		all := randomJournals(t, rng)
		var want, got Log
		want.Add(all...)
		shuffled := append([]*Entry(nil), all...)
		rng.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		for len(shuffled) > 0 {
			n := 1 + rng.IntN(len(shuffled))
			got.Add(shuffled[:n]...)
			shuffled = shuffled[n:]
		}
		if d := cmp.Diff(want.Facts(), got.Facts()); d != "" {
			t.Fatalf("seed %d: %s", seed, d)
		}
	}
}

func randomJournals(t *testing.T, rng *rand.Rand) []*Entry {
	var all []*Entry
	for j := byte(1); j <= 3; j++ {
		var bodies []Body
		for range 1 + rng.IntN(8) {
			target := uuid.UUID{byte(1 + rng.IntN(3)), byte(1 + rng.IntN(8)), 7}
			switch rng.IntN(4) {
			case 0:
				bodies = append(bodies, &Amend{Target: target, Set: map[string]json.RawMessage{"number": json.RawMessage([]string{"5", "6"}[rng.IntN(2)])}, Why: "w"})
			case 1:
				bodies = append(bodies, &Retract{Target: target, Why: "w"})
			default:
				bodies = append(bodies, &Hole{Number: int64(rng.IntN(100))})
			}
		}
		all = append(all, chain(t, j, bodies...)...)
	}
	return all
}

func TestContentIDIsStableAndDistinct(t *testing.T) {
	lake := uuid.UUID{8}
	if ContentID(lake, KindHole, "a") != ContentID(lake, KindHole, "a") {
		t.Error("not stable")
	}
	seen := map[uuid.UUID]bool{}
	for _, id := range []uuid.UUID{ContentID(lake, KindHole, "a"), ContentID(lake, KindHole, "b"), ContentID(lake, KindLook, "a"), ContentID(uuid.UUID{7}, KindHole, "a")} {
		if seen[id] || id.Version() != 8 {
			t.Error(id)
		}
		seen[id] = true
	}
}

func TestBodyChecks(t *testing.T) { // both sides of each line
	hole := uuid.UUID{1}
	for _, c := range []struct {
		b  Body
		ok bool
	}{
		{&Fish{Species: "perch", Count: 1, Length: ptr(303)}, true},
		{&Fish{Species: "perch", Count: 1, Length: ptr(3030)}, false},
		{&Fish{Species: "perch", Count: 0}, false},
		{&Hole{Number: 1, Depth: ptr(0)}, false},
		{&Hole{Number: 1, Depth: ptr(1)}, true},
		{&Hole{Number: 1, At: &Point{910000000, 0}}, false},
		{&Ice{Hole: hole, Total: 410, White: ptr(410)}, true},
		{&Ice{Hole: hole, Total: 410, White: ptr(411)}, false},
		{&Ice{Hole: hole, Total: -1}, false},
		{&Ice{Total: 410}, false},
		{&Look{Hole: hole, Marks: "few", Count: ptr(0)}, false},
		{&Look{Hole: hole, Marks: "none", Count: ptr(0)}, true},
		{&Look{Hole: hole, Marks: "some"}, false},
		{&Hazard{What: "ridge", Shape: "line", Report: "present", Points: []Point{{}, {}}}, true},
		{&Hazard{What: "ridge", Shape: "line", Report: "present", Points: []Point{{}}}, false},
		{&TurnBack{Until: 1, Computed: 1, Reason: "feel like it"}, false},
		{&Lake{Name: "Tamaringen", Zone: "Etc/GMT+3"}, true},
		{&Lake{Name: "Tamaringen", Zone: "Local"}, false},
	} {
		if err := c.b.Check(); (err == nil) != c.ok {
			t.Errorf("%s %+v: %v", c.b.Kind(), c.b, err)
		}
	}
}

func TestEveryKindHasItsBody(t *testing.T) {
	for k, info := range kinds {
		b := info.fresh()
		if b.Kind() != k {
			t.Errorf("%s makes a body of kind %s", k, b.Kind())
		}
		if len(info.upcast) != info.version-1 {
			t.Errorf("%s: version %d with %d upcasters", k, info.version, len(info.upcast))
		}
	}
}

// FuzzParseLine: a line that parses is written back to an entry with the same bytes.
func FuzzParseLine(f *testing.F) {
	e, _ := Seal(Head{Journal: uuid.UUID{1}}, author(1).Draft(uuid.UUID{3}, t0, t0, &Hole{Number: 1}))
	line, _ := AppendLine(nil, &e)
	f.Add(line)
	f.Add([]byte(`{"format":1,"body":{}}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		e, err := ParseLine(b)
		if err != nil {
			return
		}
		line, err := AppendLine(nil, &e)
		if err != nil {
			t.Fatal(err)
		}
		back, err := ParseLine(line)
		if err != nil || !bytes.Equal(back.Body, e.Body) || back.Hash != e.Hash || back.ID != e.ID {
			t.Errorf("%q became %q: %v", b, line, err)
		}
		Decode(&e)
	})
}

func ptr(v int64) *int64 { return &v }

func BenchmarkLog100000(b *testing.B) {
	head := Head{Journal: uuid.UUID{1}}
	es := make([]*Entry, 100000)
	for i := range es {
		now := t0.Add(time.Duration(i) * time.Second)
		e, err := Seal(head, author(1).Draft(NewID(), now, now, &Look{Hole: uuid.UUID{1}, Seconds: 30, Marks: "none"}))
		if err != nil {
			b.Fatal(err)
		}
		head, es[i] = HeadOf(&e), &e
	}
	for b.Loop() {
		var l Log
		if err := l.Add(es...); err != nil {
			b.Fatal(err)
		}
	}
}
