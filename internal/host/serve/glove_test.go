//go:build linux

package serve

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"

	"icehand/internal/host/desk"
)

// touches lets a script touch the screen as a browser tells it: touch(selector, ms, contacts).
const touches = `(() => {
	window.touch = async (selector, ms, contacts = 1) => {
		const key = document.querySelector(selector);
		const tell = (type, n) => key.dispatchEvent(new PointerEvent(type, { bubbles: true, cancelable: true, pointerType: "touch", pointerId: n + 1, detail: type === "click" ? 1 : 0 }));
		for (let n = 0; n < contacts; n++) tell("pointerdown", n);
		await new Promise((r) => setTimeout(r, ms));
		for (let n = 0; n < contacts; n++) tell("pointerup", n);
		tell("click", 0);
	};
	return true;
})()`

// act runs a script to its end.
func act(t *testing.T, ctx context.Context, js string) {
	t.Helper()
	if _, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("(async () => { "+js+"; return true; })()", chromedp.EvalAwaitPromise)); err != nil {
		t.Fatalf("%s: %v", js, err)
	}
}

// settledLooks gives how many looks are on record once nothing more comes.
func settledLooks(t *testing.T, d *demoDesk) int {
	t.Helper()
	time.Sleep(time.Second)
	n := 0
	must(t, d.Read(t.Context(), func(v desk.View) error { n = len(v.Lake.Looks); return nil }))
	return n
}

const emptyKey = `.keys form:has([name=\"marks\"][value=\"none\"]) button`

// TestGhostTouches: touches under 40 ms, more than three contacts at once and more than six a second are no act; a
// finger's touch is. Bounds: common practice, no source.
func TestGhostTouches(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, _ := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	for _, x := range []struct {
		name, js string
		want     int
	}{
		{"a drop of water", fmt.Sprintf(`await touch("%s", 0)`, emptyKey), 0},
		{"a palm", fmt.Sprintf(`await touch("%s", 100, 4)`, emptyKey), 0},
		{"rain", `for (let i = 0; i < 6; i++) await touch("#main", 50); await touch("` + emptyKey + `", 50)`, 0},
		{"a finger", fmt.Sprintf(`await touch("%s", 100)`, emptyKey), 1},
		{"three fingers", fmt.Sprintf(`await touch("%s", 100, 3)`, emptyKey), 1},
	} {
		t.Run(x.name, func(t *testing.T) {
			open(t, ctx, base, screen{path: "/"})
			eval[bool](t, ctx, touches)
			had := settledLooks(t, d)
			act(t, ctx, x.js)
			if x.want > 0 {
				until(t, ctx, `document.getElementById("done") !== null`)
			}
			if got := settledLooks(t, d) - had; got != x.want {
				t.Errorf("%d looks, want %d", got, x.want)
			}
		})
	}
}

// TestClicker: a key of a paired clicker presses the key it is bound to, from any page, and once however long it is held.
func TestClicker(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, _ := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/people"})
	press := func(code string, again bool) {
		eval[bool](t, ctx, fmt.Sprintf(`document.body.dispatchEvent(new KeyboardEvent("keydown", { code: %q, bubbles: true, cancelable: true, repeat: %t })) || true`, code, again))
	}
	had := settledLooks(t, d)
	press("PageDown", false) // not bound yet
	if got := settledLooks(t, d); got != had {
		t.Fatalf("a key that is not bound made %d looks", got-had)
	}
	act(t, ctx, `const g = await import(document.querySelector("script[type=module]").src.replace("page.js", "glove.js")); g.bind("empty", () => {})`)
	press("PageDown", false)
	press("PageDown", false)
	press("PageDown", true)
	until(t, ctx, `document.getElementById("done")?.textContent.includes("Nothing")`)
	if got := settledLooks(t, d) - had; got != 1 {
		t.Errorf("%d looks, want 1", got)
	}
	if at := eval[string](t, ctx, `location.pathname`); at != "/" {
		t.Errorf("the act is shown on %s", at)
	}
}

// TestFeltAfterSaved: vibration and tone come after the answer that the act is saved, and fish differ from looks in both.
func TestFeltAfterSaved(t *testing.T) {
	path := browser(t)
	_, base := serveDemo(t)
	ctx, _ := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/"})
	eval[bool](t, ctx, `(() => {
		window.heard = [];
		const real = window.fetch;
		window.fetch = async (...a) => { const r = await real(...a); if (a[1]?.method === "POST") heard.push("saved"); return r; };
		navigator.vibrate = (p) => heard.push("vibrates " + p);
		const start = OscillatorNode.prototype.start;
		OscillatorNode.prototype.start = function (at) { heard.push("sounds " + this.frequency.value); start.call(this, at); };
		return true;
	})()`)
	eval[bool](t, ctx, fmt.Sprintf(`document.querySelector("%s").click() ?? true`, emptyKey))
	until(t, ctx, `document.getElementById("done") !== null && heard.length >= 3`)
	eval[bool](t, ctx, `document.querySelector('.keys form:has([name="kept"][value="no"]) button').click() ?? true`)
	until(t, ctx, `heard.length >= 6`)
	want := []string{"saved", "vibrates 60", "sounds 440", "saved", "vibrates 60,60,60", "sounds 880"}
	if got := eval[[]string](t, ctx, `heard`); !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// TestDangerousActsAreHeld: the day is closed by a key that is held for 1.5 s, not by one that is brushed; with a finger on a
// touch screen, which sends no click after a long press, and with a mouse.
func TestDangerousActsAreHeld(t *testing.T) {
	path := browser(t)
	_, base := serveDemo(t)
	ctx, _ := tab(t, path)
	finger := func(down bool, x, y float64) {
		p := input.DispatchTouchEventParams{Type: input.DispatchTouchEventTypeTouchEnd, TouchPoints: []*input.TouchPoint{}}
		if down {
			p = input.DispatchTouchEventParams{Type: input.DispatchTouchEventTypeTouchStart, TouchPoints: []*input.TouchPoint{{X: x, Y: y}}}
		}
		_, err := chromedp.Call(ctx, input.DispatchTouchEvent, p)
		must(t, err)
	}
	mouse := func(down bool, x, y float64) {
		p := input.DispatchMouseEventParams{Type: input.DispatchMouseEventTypeMouseReleased, X: x, Y: y, Button: "left", ClickCount: 1}
		if down {
			p.Type = input.DispatchMouseEventTypeMousePressed
		}
		_, err := chromedp.Call(ctx, input.DispatchMouseEvent, p)
		must(t, err)
	}
	for name, press := range map[string]func(down bool, x, y float64){"a finger": finger, "a mouse": mouse} {
		t.Run(name, func(t *testing.T) {
			do(t, ctx, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch))
			open(t, ctx, base, screen{path: "/close"})
			eval[bool](t, ctx, `(() => { window.sent = 0; document.addEventListener("submit", (e) => { sent++; e.preventDefault(); e.stopImmediatePropagation(); }, true); return true; })()`)
			at := eval[[]float64](t, ctx, `(() => { const b = document.querySelector("form[action='/close'] button"); b.scrollIntoView({ block: "center" }); const r = b.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; })()`)
			for _, x := range []struct {
				long time.Duration
				sent int
				says string
			}{{300 * time.Millisecond, 0, "Hold it for a second and a half."}, {1900 * time.Millisecond, 1, ""}} {
				eval[bool](t, ctx, `(document.getElementById("trouble").textContent = "") === ""`)
				press(true, at[0], at[1])
				time.Sleep(x.long)
				press(false, at[0], at[1])
				time.Sleep(500 * time.Millisecond)
				if n := eval[int](t, ctx, `sent`); n != x.sent {
					t.Errorf("pressed for %v: %d forms sent, want %d", x.long, n, x.sent)
				}
				if s := eval[string](t, ctx, `document.getElementById("trouble").textContent`); s != x.says {
					t.Errorf("pressed for %v: the page says %q", x.long, s)
				}
			}
		})
	}
}
