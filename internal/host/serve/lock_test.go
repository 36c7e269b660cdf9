//go:build linux

package serve

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
)

// fingers puts contacts on the screen where they are, as a touch screen would; with none the last ones are lifted.
func fingers(t *testing.T, ctx context.Context, how input.DispatchTouchEventType, at ...[2]float64) {
	t.Helper()
	p := input.DispatchTouchEventParams{Type: how, TouchPoints: []*input.TouchPoint{}}
	for i, x := range at {
		id := float64(i)
		p.TouchPoints = append(p.TouchPoints, &input.TouchPoint{X: x[0], Y: x[1], ID: &id})
	}
	_, err := chromedp.Call(ctx, input.DispatchTouchEvent, p)
	must(t, err)
}

// slide draws contacts over the screen: share of the width of the lock's bar, so many fingers at once.
func slide(t *testing.T, ctx context.Context, share float64, n int) {
	t.Helper()
	r := eval[[]float64](t, ctx, `(() => { const h = document.querySelector(".slide button").getBoundingClientRect(), s = document.querySelector(".slide"); return [h.x + h.width / 2, h.y + h.height / 2, s.clientWidth, document.documentElement.className === "left" ? -1 : 1]; })()`)
	at := func(part float64) (out [][2]float64) {
		for i := range n {
			out = append(out, [2]float64{r[0] + r[3]*r[2]*part + float64(i), r[1] + 6*float64(i)})
		}
		return out
	}
	time.Sleep(250 * time.Millisecond) // as in touchAt
	fingers(t, ctx, input.DispatchTouchEventTypeTouchStart, at(0)...)
	for i := 1; i <= 5; i++ {
		time.Sleep(20 * time.Millisecond)
		fingers(t, ctx, input.DispatchTouchEventTypeTouchMove, at(share*float64(i)/5)...)
	}
	fingers(t, ctx, input.DispatchTouchEventTypeTouchEnd)
	time.Sleep(100 * time.Millisecond)
}

// touchAt presses the middle of a part of the page with one finger.
func touchAt(t *testing.T, ctx context.Context, selector string) {
	t.Helper()
	r := eval[[]float64](t, ctx, fmt.Sprintf(`(() => { const r = document.querySelector(%q).getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; })()`, selector))
	time.Sleep(250 * time.Millisecond) // more than six a second are rain
	fingers(t, ctx, input.DispatchTouchEventTypeTouchStart, [2]float64{r[0], r[1]})
	time.Sleep(80 * time.Millisecond)
	fingers(t, ctx, input.DispatchTouchEventTypeTouchEnd)
	time.Sleep(100 * time.Millisecond)
}

const isLocked = `"locked" in document.documentElement.dataset && document.getElementById("lock") !== null`

// TestPocketLock: locked from any page by a key in one place, no touch does anything but a slide over half the bar with one finger, or Help; the turn-back
// time and Help stay in sight, a clicker works, and a keyboard opens it.
func TestPocketLock(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch))
	stays := func(what string) {
		t.Helper()
		if !eval[bool](t, ctx, isLocked) {
			t.Errorf("%s opens the lock", what)
		}
		if over := eval[string](t, ctx, covered); over != "" {
			t.Errorf("%s: the turn-back clock %s", what, over)
		}
	}
	opens := func(what string) {
		t.Helper()
		if eval[bool](t, ctx, `"locked" in document.documentElement.dataset || document.getElementById("lock") !== null`) {
			t.Errorf("%s does not open the lock", what)
		}
	}
	for _, hand := range []string{"right", "left"} {
		open(t, ctx, base, screen{path: "/", hand: hand})
		had := settledLooks(t, d)
		touchAt(t, ctx, "#lock-key")
		stays("locking")
		if hand == "right" {
			time.Sleep(time.Second)
			compare(t, "now-locked-390x844.png", shoot(t, ctx))
			overflow(t, ctx, "locked")
			eval[bool](t, ctx, axe+";true")
			faults, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](fmt.Sprintf(found, "{}"), chromedp.EvalAwaitPromise))
			must(t, err)
			if len(faults) > 0 {
				t.Errorf("locked:\n\t%s", strings.Join(faults, "\n\t"))
			}
		}
		for _, selector := range []string{".keys button", ".slide button", ".slide", ".strip-clock", "#nav a", ".call", "#lock-key"} {
			touchAt(t, ctx, selector)
			stays("a touch on " + selector)
		}
		for _, share := range []float64{0.2, 0.45} {
			slide(t, ctx, share, 1)
			stays(fmt.Sprintf("a slide over %.2f of the bar", share))
		}
		slide(t, ctx, 0.8, 4)
		stays("a palm that slides")
		if at := eval[string](t, ctx, `location.pathname`); at != "/" || settledLooks(t, d) != had {
			t.Errorf("a touch on the locked page led to %s and made %d looks", at, settledLooks(t, d)-had)
		}
		touchAt(t, ctx, "#nav a[href='/help']")
		until(t, ctx, `document.querySelector(".page-help") !== null`)
		stays("Help")
		slide(t, ctx, 0.55, 1)
		opens("a slide over more than half the bar")
		touchAt(t, ctx, "#nav a")
		until(t, ctx, `document.querySelector(".keys") !== null`)
		touchAt(t, ctx, ".keys button")
		until(t, ctx, `document.getElementById("done") !== null`)
	}
	had := settledLooks(t, d)
	touchAt(t, ctx, "#lock-key")
	act(t, ctx, `const g = await import(document.querySelector("script[type=module]").src.replace("page.js", "glove.js")); g.bind("empty", () => {})`)
	for range 2 { // the first binds
		eval[bool](t, ctx, `document.body.dispatchEvent(new KeyboardEvent("keydown", { code: "PageDown", bubbles: true, cancelable: true })) || true`)
	}
	until(t, ctx, `document.querySelector("#done strong")?.textContent === "Nothing"`)
	stays("a clicker")
	if got := settledLooks(t, d) - had; got != 1 {
		t.Errorf("a clicker made %d looks while locked, want 1", got)
	}
	eval[bool](t, ctx, `document.querySelector("#lock button").focus() ?? true`)
	do(t, ctx, chromedp.SendKeys("#lock button", "\r"))
	until(t, ctx, `document.getElementById("lock") === null`)
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}

// TestLocksItself: the phone locks itself after the time without a touch that was chosen, never before, and not at all unless it was chosen.
func TestLocksItself(t *testing.T) {
	path := browser(t)
	_, base := serveDemo(t)
	ctx, _ := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch))
	open(t, ctx, base, screen{path: "/"})
	choose := func(minutes float64) {
		act(t, ctx, fmt.Sprintf(`const l = await import(document.querySelector("script[type=module]").src.replace("page.js", "lock.js")); l.choose(%g)`, minutes))
	}
	never := func(what string) {
		t.Helper()
		if eval[bool](t, ctx, isLocked) {
			t.Errorf("%s: locked", what)
		}
	}
	time.Sleep(2 * time.Second)
	never("not chosen")
	choose(2.0 / 60)
	for range 5 {
		touchAt(t, ctx, ".call")
		time.Sleep(500 * time.Millisecond)
		never("touched every second")
	}
	until(t, ctx, isLocked)
	slide(t, ctx, 0.6, 1)
	never("just opened")
	choose(0)
	time.Sleep(3 * time.Second)
	never("chosen never")
}

// TestLockIsChosenOnPhone: the app's page This phone switches it on, and the choice outlives the page.
func TestLockIsChosenOnPhone(t *testing.T) {
	path := browser(t)
	a := newAshore(t)
	p := pickUp(t, path, t.TempDir())
	do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/app"))
	pressed := func(words string) {
		t.Helper()
		until(t, p.ctx, fmt.Sprintf(`document.querySelector("#lock-after [aria-pressed=true]")?.textContent === %q`, words))
	}
	pressed("never")
	eval[bool](t, p.ctx, `[...document.querySelectorAll("#lock-after button")].find((b) => b.textContent === "after 2 min").click() ?? true`)
	pressed("after 2 min")
	do(t, p.ctx, chromedp.Reload())
	pressed("after 2 min")
	touchAt(t, p.ctx, "#lock-key")
	if !eval[bool](t, p.ctx, isLocked) {
		t.Error("the key Lock does not lock the app")
	}
	slide(t, p.ctx, 0.6, 1)
	if eval[bool](t, p.ctx, isLocked) {
		t.Error("a slide does not open the app")
	}
}
