package desk

import (
	"math"
	"testing"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// placeless logs a look without a fix.
func (b *bench) placeless(m lake.Marks) uuid.UUID {
	b.t.Helper()
	h, err := b.Look(b.ctx, LookAct{Hole: HoleRef{Place: &advise.Place{}}, Marks: m})
	b.must(err)
	b.now = b.now.Add(time.Minute)
	return h
}

// odds gives the chance of marks at a place.
func (b *bench) odds(at geo.Local) float64 {
	b.t.Helper()
	o, _, err := b.OddsAt(b.ctx, at)
	b.must(err)
	return o.P
}

// A look without a place never moves the odds; once its hole is placed by hand it does.
func TestPlacelessLookMovesNothing(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	first := b.look(lake.None)
	spot := geo.Local{E: 120, N: 0}
	before := b.odds(spot)
	hole := b.placeless(lake.Many)
	b.now = b.now.Add(-time.Minute) // no time goes by: only the look could move the odds
	if after := b.odds(spot); math.Abs(after-before) > 1e-12 {
		t.Fatalf("a look without a place moved the odds from %v to %v", before, after)
	}
	b.must(b.PaceHole(b.ctx, Act{}, hole, first, 160, 90)) // 160 paces of 0.75 m
	if h := b.view().Lake.Hole(hole); !h.Placed || h.At.Distance(spot) > quantity.Centimetre || h.Accuracy < 12*quantity.Metre {
		t.Fatalf("placed %+v, want at %v", h, spot)
	}
	if after := b.odds(spot); after <= before {
		t.Errorf("many marks placed here left the odds at %v, before %v", after, before)
	}
}

func TestPlaceByHand(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	first := b.look(lake.None)
	hole := b.placeless(lake.Few)
	act := Act{ID: journal.NewID()}
	for range 2 { // a resend counts once
		b.must(b.PlaceHole(b.ctx, act, hole, geo.Local{E: 200}))
	}
	h := b.view().Lake.Hole(hole)
	if !h.Placed || h.At.Distance(geo.Local{E: 200}) > quantity.Metre || h.Accuracy != 24*quantity.Metre { // 4 m of the fix and a tenth of 200 m
		t.Errorf("%+v", h)
	}
	if err := b.PaceHole(b.ctx, Act{}, hole, first, 20, 0); fault.CodeOf(err) != fault.Conflict {
		t.Errorf("a hole with a place was placed anew: %v", err)
	}
	undone, err := b.Undo(b.ctx, Act{})
	b.must(err)
	if undone == nil || undone.Entry.Kind != journal.KindAmend || b.view().Lake.Hole(hole).Placed {
		t.Errorf("undo took back %v", undone)
	}
	other := b.placeless(lake.None)
	for _, c := range []struct {
		what string
		err  error
	}{
		{"from itself", b.PaceHole(b.ctx, Act{}, hole, hole, 20, 0)},
		{"from a hole without a place", b.PaceHole(b.ctx, Act{}, other, hole, 20, 0)},
		{"from a hole drilled later", b.PaceHole(b.ctx, Act{}, first, other, 20, 0)},
		{"no paces", b.PaceHole(b.ctx, Act{}, hole, first, 0, 0)},
		{"far away", b.PlaceHole(b.ctx, Act{}, hole, geo.Local{E: 90_000})},
		{"no hole", b.PlaceHole(b.ctx, Act{}, journal.NewID(), geo.Local{})},
	} {
		if c.err == nil {
			t.Errorf("%s: taken", c.what)
		}
	}
}

// A corrected depth reaches the depth surface at once.
func TestDepthOfAHole(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	hole := b.look(lake.None)
	depth := func() float64 {
		z, err := b.DepthAt(b.ctx, geo.Local{})
		b.must(err)
		return z.Mean.Metres()
	}
	was := depth()
	b.must(b.DeepenHole(b.ctx, Act{}, hole, quantity.Length(was+3), "m"))
	b.must(b.DeepenHole(b.ctx, Act{}, hole, quantity.Length(was+2), "m"))
	if got := depth(); got < was+1 || got > was+2.5 {
		t.Errorf("depth %.2f m at a hole of %.2f m, before %.2f m", got, was+2, was)
	}
	if err := b.DeepenHole(b.ctx, Act{}, hole, 0, "m"); fault.CodeOf(err) != fault.BadInput {
		t.Errorf("a depth of nothing was taken: %v", err)
	}
	for range 2 {
		_, err := b.Undo(b.ctx, Act{})
		b.must(err)
	}
	if got := depth(); math.Abs(got-was) > 0.01 {
		t.Errorf("after undo %.2f m, before %.2f m", got, was)
	}
}

func TestDrillRecordsTheHoleOnce(t *testing.T) {
	b := newBench(t)
	p := b.at(0, 0)
	act := Act{ID: journal.NewID()}
	for range 2 {
		id, made, err := b.Drill(b.ctx, act, HoleRef{Place: p})
		b.must(err)
		if id != act.ID || !made {
			t.Fatalf("hole %v, made %v", id, made)
		}
	}
	if id, made, err := b.Drill(b.ctx, Act{}, HoleRef{Place: p}); err != nil || made || id != act.ID {
		t.Errorf("a second hole in the same place: %v %v %v", id, made, err)
	}
	b.look(lake.None)
	undone, err := b.Undo(b.ctx, Act{})
	b.must(err)
	if undone.Entry.Kind != journal.KindLook {
		t.Errorf("undo took the %s back first", undone.Entry.Kind)
	}
	if undone, err = b.Undo(b.ctx, Act{}); err != nil || undone == nil || undone.Entry.ID != act.ID {
		t.Errorf("the hole stays: %v %v", undone, err)
	}
}

// TestBring moves a party in one act, keeps each rod's guest, and one undo takes all of it back.
func TestBring(t *testing.T) {
	b := newBench(t)
	b.at(0, 0)
	old := b.look(lake.Few)
	petra := journal.NewID()
	b.must(b.Sit(b.ctx, Act{}, HoleRef{ID: old}, 1, petra, "perch"))
	b.must(b.Sit(b.ctx, Act{}, HoleRef{ID: old}, 2, uuid.Nil, "perch"))
	b.now = b.now.Add(10 * time.Minute)
	p := b.at(100, 0)
	act := Act{ID: journal.NewID()}
	for range 2 {
		b.must(b.Bring(b.ctx, act, HoleRef{Place: p}, []int{1, 2}, "perch"))
	}
	rods := b.view().Party.RodsAt(b.now)
	if len(rods) != 2 || rods[0].Hole == old || rods[1].Hole != rods[0].Hole || rods[0].Guest != petra {
		t.Fatalf("rods %+v", rods)
	}
	made := rods[0].Hole
	_, err := b.Undo(b.ctx, Act{})
	b.must(err)
	v := b.view()
	if rods = v.Party.RodsAt(b.now); len(rods) != 2 || rods[0].Hole != old || rods[1].Hole != old {
		t.Errorf("after undo %+v", rods)
	}
	if h := v.Lake.Hole(made); h != nil {
		t.Errorf("the hole stays: %+v", h)
	}
}
