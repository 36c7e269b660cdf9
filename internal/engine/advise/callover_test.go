package advise

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/quantity"
)

func caller(k byte, waited int, walkM float64) Caller {
	return Caller{Person: uuid.UUID{k}, Waited: time.Duration(waited) * time.Minute, Walk: quantity.Length(walkM), Pace: 1, Reach: 300, FromAdult: -1}
}

// Whoever has waited longest comes first, unless the walk eats the fish. Checked by hand: 8 min stay, 60 m at 1 m/s leaves 7 min; 40 min of waiting weigh
// 1 + 40/30. Weights: common practice, no source.
func TestCallOver(t *testing.T) {
	got := CallOver([]Caller{caller(1, 5, 60), caller(2, 40, 60), caller(3, 40, 270)}, 8*time.Minute)
	if got[0].Person[0] != 2 || got[0].Worth != 16.33 || got[0].Fishes != 7*time.Minute {
		t.Errorf("first is %+v", got[0])
	}
	if got[1].Person[0] != 1 && got[1].Person[0] != 3 || got[2].Barred != "" {
		t.Errorf("%+v", got)
	}
	if a, b := got[1], got[2]; a.Worth < b.Worth {
		t.Errorf("not in order: %+v", got)
	}
}

// Each reason on both sides of its line.
func TestCallOverBars(t *testing.T) {
	for what, x := range map[string]struct {
		change func(*Caller)
		want   string
	}{
		"free":                {func(c *Caller) {}, ""},
		"ashore":              {func(c *Caller) { c.Away = true }, NotHere},
		"at the limit":        {func(c *Caller) { c.AtLimit = true }, AtLimit},
		"nowhere":             {func(c *Caller) { c.Walk = -1 }, NoPlace},
		"no pace":             {func(c *Caller) { c.Pace = 0 }, NoPlace},
		"sits there":          {func(c *Caller) { c.Walk = 3 }, AlreadyIn},
		"just beside":         {func(c *Caller) { c.Walk = 3.1 }, ""},
		"as far as they walk": {func(c *Caller) { c.Walk = 300 }, ""},
		"a step farther":      {func(c *Caller) { c.Walk = 300.5 }, TooFar},
		"just in time":        {func(c *Caller) { c.Walk, c.Reach = 479, 900 }, ""},
		"just too late":       {func(c *Caller) { c.Walk, c.Reach = 480, 900 }, TooLate},
		"child, nobody there": {func(c *Caller) { c.Child = true }, ChildFar},
		"child, grown-up by":  {func(c *Caller) { c.Child, c.FromAdult = true, 30 }, ""},
		"child, a step off":   {func(c *Caller) { c.Child, c.FromAdult = true, 30.5 }, ChildFar},
	} {
		c := caller(1, 10, 60)
		x.change(&c)
		if got := CallOver([]Caller{c}, 8*time.Minute)[0]; got.Barred != x.want || (got.Worth > 0) != (x.want == "") {
			t.Errorf("%s: %+v", what, got)
		}
	}
}

// The order does not hang on the order of arrival, and nobody is lost.
func TestCallOverOrder(t *testing.T) {
	in := []Caller{caller(3, 10, 50), caller(1, 10, 50), caller(2, 10, 50), caller(4, 99, 999)}
	a, b := CallOver(in, 8*time.Minute), CallOver([]Caller{in[3], in[2], in[0], in[1]}, 8*time.Minute)
	for i := range in {
		if a[i].Person != b[i].Person {
			t.Errorf("%d: %v and %v", i, a[i].Person, b[i].Person)
		}
	}
	if len(a) != 4 || a[0].Person[0] != 1 || a[3].Barred != TooFar {
		t.Errorf("%+v", a)
	}
}

// Signs within the gap are one visit; a gap longer by a second parts them.
func TestSpells(t *testing.T) {
	at := func(s int) time.Time { return time.Unix(int64(s), 0) }
	got := Spells([]time.Time{at(0), at(480), at(961), at(1000)})
	if len(got) != 2 || got[0].Last.Sub(got[0].First) != SpellGap || got[1].Last.Sub(got[1].First) != 39*time.Second {
		t.Errorf("%v", got)
	}
}

// Before anything is on record the usual holds, less what has passed; many long visits pull it up; those that ended earlier say nothing of a longer
// one. By hand: four usual of 8 min and four of 20 make 14.
func TestStayLeft(t *testing.T) {
	visits := func(minutes ...int) (out []Spell) {
		for _, m := range minutes {
			out = append(out, Spell{time.Unix(0, 0), time.Unix(int64(60*m), 0)})
		}
		return out
	}
	for what, x := range map[string]struct {
		past []Spell
		been int
		want time.Duration
		n    int
	}{
		"nothing on record": {nil, 0, 8 * time.Minute, 0}, "half over": {nil, 4, 4 * time.Minute, 0}, "long over": {nil, 60, 2 * time.Minute, 0},
		"long visits": {visits(20, 20, 20, 20), 0, 14 * time.Minute, 4}, "short ones say nothing": {visits(1, 1, 20), 10, 3 * time.Minute, 1},
		"single signs say nothing": {visits(0, 0, 0), 0, 8 * time.Minute, 0},
	} {
		if got, n := StayLeft(x.past, time.Duration(x.been)*time.Minute); x.n != n || (got-x.want).Abs() > time.Minute {
			t.Errorf("%s: %s of %d", what, got, n)
		}
	}
}
