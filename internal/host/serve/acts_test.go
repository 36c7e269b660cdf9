package serve

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
	"icehand/internal/trade/party"
)

// centre gives the middle of the first element with a selector whose text holds words.
func centre(t *testing.T, ctx context.Context, selector, words string) (x, y float64) {
	t.Helper()
	find := fmt.Sprintf(`[...document.querySelectorAll(%q)].find((b) => b.textContent.includes(%q) && b.getClientRects().length)`, selector, words)
	until(t, ctx, find+` !== undefined`)
	at := eval[[]float64](t, ctx, fmt.Sprintf(`(() => { const b = %s; b.scrollIntoView({ block: "nearest" }); const r = b.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; })()`, find))
	return at[0], at[1]
}

func tap(t *testing.T, ctx context.Context, selector, words string) {
	t.Helper()
	x, y := centre(t, ctx, selector, words)
	do(t, ctx, chromedp.MouseClickXY(x, y))
}

// read gives the folded journal.
func read(t *testing.T, d *demoDesk) (v desk.View) {
	t.Helper()
	if err := d.Read(t.Context(), func(x desk.View) error { v = x; return nil }); err != nil {
		t.Fatal(err)
	}
	return v
}

// clear fails when what stands above the keys covers them or the turn-back time.
func clear(t *testing.T, ctx context.Context) {
	t.Helper()
	box := `(() => { const a = document.querySelector(".above").getBoundingClientRect(), s = document.getElementById("strip").getBoundingClientRect(), k = document.querySelector(".keys").getBoundingClientRect(); return [a.top - s.bottom, k.top - a.bottom]; })()`
	for i, gap := range eval[[]float64](t, ctx, box) {
		if gap < 0 {
			t.Errorf("what was asked covers the %s by %.0f px", [...]string{"turn-back time", "keys"}[i], -gap)
		}
	}
}

// TestNoFix: without a fix a look is saved first and asked for afterwards; the answer places its hole.
func TestNoFix(t *testing.T) {
	path := browser(t)
	d, base := serveDesk(t, newDeskOn(t, false))
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	newest := func() lake.Hole {
		holes := read(t, d).Lake.HolesOn("2026-01-15")
		return *holes[len(holes)-1]
	}
	d.Stand(advise.Place{At: d.at.Toward(225, 40), Known: true, Accuracy: 8 * quantity.Metre, Fixed: d.Clock()})
	open(t, ctx, base, screen{path: "/"})
	d.clock(9, 52) // the phone is in the pocket, and its fix too old for a place
	tap(t, ctx, ".keys button", "Few")
	until(t, ctx, `document.querySelector(".ask p")?.textContent === "Few. No fix (last 8 m, 2 min). Saved as hole 25 without place."`)
	if h := newest(); h.Number != 25 || h.Placed {
		t.Fatalf("saved %+v", h)
	}
	compare(t, "now-nofix-390x844.png", shoot(t, ctx))
	clear(t, ctx)
	overflow(t, ctx, "no fix")
	do(t, ctx, chromedp.EmulateViewport(360, 640))
	compare(t, "now-nofix-360x640.png", shoot(t, ctx))
	clear(t, ctx)
	overflow(t, ctx, "no fix, small")
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	before := eval[string](t, ctx, `[...document.querySelectorAll(".ask-keys .button")].map((b) => b.textContent.trim()).join(", ")`)
	if before != "Where we were sent, 20 paces from 24, Later" {
		t.Errorf("asked %q", before)
	}
	tap(t, ctx, ".ask .button", "20 paces from 24")
	until(t, ctx, `document.querySelector(".rose") !== null`)
	compare(t, "place-390x844.png", shoot(t, ctx))
	tap(t, ctx, ".rose .key", "NW")
	until(t, ctx, `document.querySelector("#done strong")?.textContent === "Hole 25 placed"`)
	if h := newest(); !h.Placed {
		t.Errorf("not placed: %+v", h)
	}
	d.Stand(advise.Place{At: d.at.Toward(225, 40), Known: true, Accuracy: 8 * quantity.Metre, Fixed: d.Clock()})
	open(t, ctx, base, screen{path: "/"})
	d.clock(9, 55)
	tap(t, ctx, ".keys button", "Nothing")
	until(t, ctx, `document.querySelector(".ask p")?.textContent.includes("hole 26")`)
	tap(t, ctx, ".ask .button", "Where we were sent")
	until(t, ctx, `document.querySelector("#done strong")?.textContent === "Hole 26 placed"`)
	tap(t, ctx, ".keys button", "Undo")
	until(t, ctx, `document.querySelector(".open-line")?.textContent.includes("Hole 26 has no place")`)
	if h := newest(); h.Number != 26 || h.Placed {
		t.Errorf("after undo: %+v", h)
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}

// TestMoving: a rod that is brought over opens the head count, which is journaled by name with the sweep, and never covers
// the turn-back time.
func TestMoving(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/"})
	tap(t, ctx, ".keys button", "Few")
	until(t, ctx, `document.querySelector("#done strong")?.textContent === "Few"`)
	counts := func() []party.HeadCount { return read(t, d).Party.Counts }
	had := len(counts())
	d.clock(10, 5)
	tap(t, ctx, ".keys button", "Sit")
	until(t, ctx, `document.querySelector(".ask p")?.textContent.endsWith("Moving. Count 6.")`)
	compare(t, "now-moving-390x844.png", shoot(t, ctx))
	clear(t, ctx)
	overflow(t, ctx, "moving")
	d.clock(10, 6)
	tap(t, ctx, ".ask .button", "All 6")
	until(t, ctx, `document.querySelector("#done strong")?.textContent === "6 of 6 here"`)
	if c := counts(); len(c) != had+1 || len(c[had].Present) != 6 || len(c[had].Missing) != 0 {
		t.Fatalf("head counts %+v", c[had:])
	}
	d.clock(10, 20)
	tap(t, ctx, ".spot a", "rods")
	tap(t, ctx, ".line-row .button", "Up")
	until(t, ctx, `document.querySelector(".ask") !== null`)
	tap(t, ctx, ".ask .button", "Someone missing")
	until(t, ctx, `document.getElementById("missing")?.open`)
	tap(t, ctx, "#missing label", "Lena")
	eval[string](t, ctx, `(() => { const s = document.getElementById("f-sweep"); s.value = [...s.options].find((o) => o.textContent.includes("Jonas")).value; return s.value; })()`)
	d.clock(10, 21)
	tap(t, ctx, "#missing button", "Save")
	until(t, ctx, `[...document.querySelectorAll(".loud")].some((p) => p.textContent === "Missing: Lena Albrecht")`)
	v := read(t, d)
	if c := v.Party.Counts[had+1]; len(c.Present) != 5 || v.Party.Guest(c.Sweep) == nil || !strings.HasPrefix(v.Name(v.Party.Guest(c.Sweep).Name), "Jonas") {
		t.Errorf("%+v", c)
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}

// TestStripParts: hole, depth, target and rods can each be touched and changed.
func TestStripParts(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/"})
	tap(t, ctx, ".spot a", "Hole")
	tap(t, ctx, ".line-row a", "17")
	until(t, ctx, `document.querySelector(".spot a")?.textContent === "Hole 17"`)
	compare(t, "now-chosen-390x844.png", shoot(t, ctx))
	overflow(t, ctx, "chosen")
	tap(t, ctx, ".keys button", "Put back")
	until(t, ctx, `document.querySelector("#done strong")?.textContent === "Put back 1"`)
	v := read(t, d)
	fish := len(v.Party.Fish)
	if o := v.Lake.Hole(v.Party.Fish[len(v.Party.Fish)-1].Hole); o == nil || o.Number != 17 {
		t.Errorf("the fish went to %+v", o)
	}
	tap(t, ctx, ".spot a", "m")
	until(t, ctx, `document.querySelector("h1")?.textContent.startsWith("Depth at hole")`)
	compare(t, "depth-390x844.png", shoot(t, ctx))
	tap(t, ctx, ".keys button", "10.9 m")
	until(t, ctx, `document.querySelector("#done strong")?.textContent.includes("10.9 m")`)
	tap(t, ctx, ".spot a", "perch")
	until(t, ctx, `document.getElementById("f-target") !== null`)
	eval[string](t, ctx, `document.getElementById("f-target").value = "Walleye"`)
	tap(t, ctx, "button", "Save the target")
	until(t, ctx, `document.querySelector(".spot a:nth-child(3)")?.textContent === "walleye"`)
	wet := len(v.Party.RodsAt(v.Now))
	tap(t, ctx, ".spot a", "rods")
	tap(t, ctx, ".line-row .button", "Up")
	until(t, ctx, `document.querySelector("#done strong")?.textContent.startsWith("Up")`)
	if v = read(t, d); len(v.Party.RodsAt(v.Now)) != wet-1 {
		t.Errorf("%d rods in the water, want %d", len(v.Party.RodsAt(v.Now)), wet-1)
	}
	for range 4 { // undo takes the sit's end, the target, the depth and the fish back, newest first
		tap(t, ctx, ".keys button", "Undo")
		until(t, ctx, `document.querySelector("#done strong")?.textContent === "Undone"`)
		do(t, ctx, chromedp.Navigate(base+"/"))
		until(t, ctx, `document.body.dataset.ready === "yes"`)
	}
	after := read(t, d)
	if len(after.Party.RodsAt(after.Now)) != wet || after.Party.Trip(after.Today).Target == "walleye" || len(after.Party.Fish) != fish-1 {
		t.Errorf("undo left %d rods, target %s, %d fish", len(after.Party.RodsAt(after.Now)), after.Party.Trip(after.Today).Target, len(after.Party.Fish))
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}

// TestSetTurnBack: another turn-back time takes a time, one of the five reasons and a second step; a later deadline that it
// passes is named, and it can be taken back. The trip is a form.
func TestSetTurnBack(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/day"})
	strip := func() string { return eval[string](t, ctx, `document.querySelector(".strip-clock").textContent`) }
	computed := strip()
	tap(t, ctx, "a.button", "Set another time")
	until(t, ctx, `document.getElementById("f-until") !== null`)
	eval[string](t, ctx, `document.getElementById("f-until").value = "15:30"`)
	tap(t, ctx, "label.choice", "crossing was read")
	tap(t, ctx, "button", "Look at it first")
	until(t, ctx, `document.body.dataset.ready === "yes" && document.querySelector(".call")?.textContent.startsWith("Turn back 15:30")`)
	if strip() != computed {
		t.Fatal("the first step set the time already")
	}
	if !eval[bool](t, ctx, `[...document.querySelectorAll(".stale")].some((p) => p.textContent.startsWith("Later than "))`) {
		t.Error("the deadlines that it passes are not named")
	}
	tap(t, ctx, "button", "Set 15:30")
	until(t, ctx, `document.querySelector(".strip-clock")?.textContent === "15:30"`)
	if o := read(t, d).Party.TurnBack; len(o) == 0 || o[len(o)-1].Reason != "crossing_read" || o[len(o)-1].Until.Format("15:04") != "15:30" && o[len(o)-1].Until.In(time.FixedZone("", -3*3600)).Format("15:04") != "15:30" {
		t.Errorf("%+v", o)
	}
	compare(t, "day-set-390x844.png", shoot(t, ctx))
	tap(t, ctx, "a.button", "Set another time")
	tap(t, ctx, "button", "Back to "+computed)
	until(t, ctx, fmt.Sprintf(`document.querySelector(".strip-clock")?.textContent === %q`, computed))
	tap(t, ctx, "a.button", "Change the trip")
	until(t, ctx, `document.getElementById("f-ashore") !== null`)
	eval[string](t, ctx, `document.getElementById("f-ashore").value = "14:00"`)
	tap(t, ctx, "button", "Save the trip")
	until(t, ctx, fmt.Sprintf(`document.querySelector(".strip-clock")?.textContent < %q && location.pathname === "/day"`, computed))
	if trip := read(t, d).Party.Trip("2026-01-15"); trip.Agreed.IsZero() || trip.Landing == nil {
		t.Errorf("%+v", trip)
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}

// TestHoldForFive: a fish key held down counts five, its release counts no sixth, and undo takes all five.
func TestHoldForFive(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, _ := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/"})
	put := func() (n int) {
		for _, f := range read(t, d).Party.Fish {
			if f.Day == "2026-01-15" && !f.Kept {
				n += f.Count
			}
		}
		return n
	}
	had := put()
	x, y := centre(t, ctx, ".keys button", "Put back")
	do(t, ctx, chromedp.MouseEvent(chromedp.MousePressed, x, y, chromedp.ButtonLeft))
	until(t, ctx, `document.querySelector("#done strong")?.textContent === "Put back 5"`)
	do(t, ctx, chromedp.MouseEvent(chromedp.MouseReleased, x, y, chromedp.ButtonLeft))
	time.Sleep(300 * time.Millisecond) // a second post would have come by now
	if got := put(); got != had+5 {
		t.Fatalf("%d fish put back, want 5", got-had)
	}
	tap(t, ctx, ".keys button", "Put back")
	until(t, ctx, `document.querySelector("#done strong")?.textContent === "Put back 1"`)
	for range 2 {
		tap(t, ctx, ".keys button", "Undo")
		until(t, ctx, `document.querySelector("#done strong")?.textContent === "Undone"`)
		do(t, ctx, chromedp.Navigate(base+"/"))
		until(t, ctx, `document.body.dataset.ready === "yes"`)
	}
	if got := put(); got != had {
		t.Errorf("%d fish left after undo", got-had)
	}
}

// TestMapKeys: the key of a new hole asks once before it saves, a hazard is put where the map was touched, and north can
// be turned.
func TestMapKeys(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/map"})
	if n := eval[int](t, ctx, `document.querySelectorAll(".map-keys .key").length`); n != 4 {
		t.Errorf("%d keys, want 4", n)
	}
	tap(t, ctx, ".map-keys .key", "Walk to")
	until(t, ctx, `document.querySelector("#map-place .call")?.textContent.includes("for marks")`)
	if !eval[bool](t, ctx, `document.querySelector("#map-place .ice-there").textContent.startsWith("Ice ")`) {
		t.Error("the place says nothing of its ice")
	}
	tap(t, ctx, ".map-north", "N")
	until(t, ctx, `document.getElementById("map-note").textContent === "Heading up." && document.querySelector("#map-north path").getAttribute("transform") !== "rotate(0 20 20)"`)
	do(t, ctx, chromedp.Sleep(400*time.Millisecond)) // the map draws itself in its next frames
	compare(t, "map-heading-390x844.png", shoot(t, ctx))
	holes := func() []*lake.Hole { return read(t, d).Lake.HolesOn(journal.Day("2026-01-15")) }
	had := len(holes())
	tap(t, ctx, ".map-keys .key", "New hole")
	until(t, ctx, `document.querySelector("[data-map=hole]").classList.contains("armed")`)
	if len(holes()) != had {
		t.Fatal("the first press saved a hole")
	}
	tap(t, ctx, ".map-keys .key", "Save it")
	until(t, ctx, `document.getElementById("map-note").textContent.startsWith("Hole 25 saved")`)
	if h := holes(); len(h) != had+1 || !h[had].Placed {
		t.Errorf("%d holes", len(h)-had)
	}
	tap(t, ctx, ".map-keys .key", "Hazard")
	tap(t, ctx, ".map-hazards .button", "slush")
	until(t, ctx, `document.getElementById("map-note").textContent.startsWith("Slush saved")`)
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}
