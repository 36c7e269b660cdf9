package serve

import (
	"fmt"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"icehand/internal/trade/journal"
)

// gloved is the time of one tap with a glove, and thought what a guide thinks before the first: the high ends of a
// keystroke-style budget; common practice, no source.
const (
	gloved  = 1200 * time.Millisecond
	thought = 1200 * time.Millisecond
)

// TestFullIceReadingInTenSeconds: from Now, white part, snow, water level, slush and thickness are saved with six taps, none of
// which needs scrolling or typing; with gloves and the program's own time that is at most ten seconds.
func TestFullIceReadingInTenSeconds(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/keys"})
	taps, machine := 0, time.Duration(0)
	press := func(find, then string) {
		t.Helper()
		begun := time.Now()
		js := fmt.Sprintf(`(() => { const b = %s; if (!b) return [0, 0, 0]; const r = b.getBoundingClientRect(), x = r.x + r.width / 2, y = r.y + r.height / 2, top = document.elementFromPoint(x, y); return [x, y, top && (b === top || b.contains(top)) && Math.min(r.width, r.height) >= 44 ? 1 : 0]; })()`, find)
		at := eval[[]float64](t, ctx, js)
		if at[2] != 1 {
			t.Fatalf("%s cannot be tapped without scrolling, or is under 44 px: %v", find, at)
		}
		do(t, ctx, chromedp.MouseClickXY(at[0], at[1]))
		until(t, ctx, then)
		taps, machine = taps+1, machine+time.Since(begun)
	}
	chip := func(name string, k int) string {
		return fmt.Sprintf(`document.querySelectorAll("#read label.chip:has([name=%s])")[%d]`, name, k)
	}
	checked := func(name string) string {
		return fmt.Sprintf(`document.querySelector("#read [name=%s]:checked") !== null`, name)
	}
	press(`[...document.querySelectorAll("a.key")].find((k) => k.textContent.includes("Read ice"))`, `document.querySelector("#read") !== null && document.body.dataset.ready === "yes"`)
	for _, name := range []string{"white", "snow", "water"} {
		press(chip(name, 3), checked(name))
	}
	press(chip("slush", 0), checked("slush"))
	had := len(read(t, d).Lake.Ice)
	press(`document.querySelectorAll("#read button.key")[4]`, `document.querySelector("#done strong") !== null`)
	v := read(t, d)
	if len(v.Lake.Ice) != had+1 {
		t.Fatalf("%d readings, want %d", len(v.Lake.Ice), had+1)
	}
	var b *journal.Ice
	for _, f := range v.Log.Facts() {
		if x, ok := f.Body.(*journal.Ice); ok {
			b = x
		}
	}
	if b == nil || b.White == nil || b.Snow == nil || b.Water == nil || !b.Slush || b.Layered || b.Total < 200 {
		t.Errorf("the reading holds %+v", b)
	}
	all := machine + thought + time.Duration(taps)*gloved
	t.Logf("%d taps, %v of the program and the test's own looking; %v with gloves", taps, machine.Round(10*time.Millisecond), all.Round(100*time.Millisecond))
	if taps > 6 || all > 10*time.Second {
		t.Errorf("%d taps and %v", taps, all)
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains: %v", c)
	}
}

// TestIceReadingIsNotRefreshedAway: what was tapped stays while the reading is being made.
func TestIceReadingIsNotRefreshedAway(t *testing.T) {
	path := browser(t)
	_, base := serveDemo(t)
	ctx, _ := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/ice"})
	tap(t, ctx, "#read label.chip", "slush")
	until(t, ctx, `document.querySelector("#read [name=slush]:checked") !== null`)
	eval[bool](t, ctx, `(window.refreshed = false, new MutationObserver(() => { window.refreshed = true; }).observe(document.getElementById("main"), { childList: true, subtree: true }), document.dispatchEvent(new Event("visibilitychange")), true)`)
	time.Sleep(time.Second)
	if eval[bool](t, ctx, `window.refreshed || document.querySelector("#read [name=slush]:checked") === null`) {
		t.Error("the page was made anew under the reader's finger")
	}
}

// TestFigureIsTakenBack: a figure pressed by mistake is pressed again and is not read after all.
func TestFigureIsTakenBack(t *testing.T) {
	path := browser(t)
	_, base := serveDemo(t)
	ctx, _ := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/ice"})
	for _, want := range []bool{true, false, true} {
		tap(t, ctx, "#read fieldset.chips:first-of-type label.chip", "5")
		until(t, ctx, fmt.Sprintf(`(document.querySelector("#read [name=white]:checked") !== null) === %v`, want))
	}
}

// TestIceLayer: the third press of Layers shows the ice as it was read, with the caution, and no line between holes.
func TestIceLayer(t *testing.T) {
	path := browser(t)
	_, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/map"})
	for _, words := range []string{"Depth only.", "Odds only.", "Outside the rings untested. Hazards override. Not a go."} {
		eval[bool](t, ctx, `document.querySelector("[data-map=layers]").click() ?? true`)
		until(t, ctx, fmt.Sprintf(`document.getElementById("map-note").textContent.includes(%q)`, words))
	}
	time.Sleep(500 * time.Millisecond) // until the map is painted
	compare(t, "map-ice-390x844.png", shoot(t, ctx))
	overflow(t, ctx, "map-ice")
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains: %v", c)
	}
}
