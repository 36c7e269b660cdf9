//go:build linux

package serve

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"icehand/internal/host/desk"
)

// patient lets a test hold the strip's half minute in its hand: the wait is kept as window.half, and endHalf() lets it end.
const patient = `(() => {
	const real = window.setTimeout;
	window.setTimeout = (f, ms, ...rest) => ms > 25000 && ms <= 30000 ? (window.half = ms, window.endHalf = () => { f(); return true; }, 0) : real(f, ms, ...rest);
	return true;
})()`

// stripStands holds the strip to what it says, and to its place: pressable, below the turn-back clock, above the nine keys, which stay where they were.
func stripStands(t *testing.T, ctx context.Context, words string, keysAt float64) {
	t.Helper()
	until(t, ctx, fmt.Sprintf(`document.querySelector("#undo .undo")?.textContent.includes(%q)`, words))
	at := eval[[]float64](t, ctx, `(() => {
		const u = document.querySelector("#undo .undo").getBoundingClientRect(), s = document.getElementById("strip").getBoundingClientRect();
		const k = document.querySelector(".keys")?.getBoundingClientRect(), n = document.getElementById("nav").getBoundingClientRect();
		const beside = k && (u.right <= k.left || k.right <= u.left); // on a phone laid on its side
		return [u.top - s.bottom, beside ? n.top - u.bottom : (k ?? n).top - u.bottom, Math.min(u.width / 200, u.height / 44), k ? k.top : -1];
	})()`)
	for i, what := range []string{"the turn-back clock is covered", "the keys are covered"} {
		if at[i] < 0 {
			t.Errorf("%s by %.0f px", what, -at[i])
		}
	}
	if at[2] < 1 {
		t.Errorf("the strip is too small, %.2f of 200 by 44 px", at[2])
	}
	if at[3] >= 0 && at[3] != keysAt {
		t.Errorf("the keys were pushed from %.0f to %.0f", keysAt, at[3])
	}
}

// TestUndoStrip: after an act on Now a strip says what was done and takes it back with one tap; it stands for half a minute while pages change, and then
// goes. The half minute: trade.md U8.
func TestUndoStrip(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	for _, size := range [][2]int64{{390, 844}, {360, 640}, {844, 390}} {
		t.Run(fmt.Sprintf("%dx%d", size[0], size[1]), func(t *testing.T) {
			do(t, ctx, chromedp.EmulateViewport(size[0], size[1]))
			open(t, ctx, base, screen{path: "/"})
			eval[bool](t, ctx, patient)
			keysAt := eval[float64](t, ctx, `document.querySelector(".keys").getBoundingClientRect().top`)
			had := settledLooks(t, d)
			tap(t, ctx, ".keys button", "Few")
			stripStands(t, ctx, "Few", keysAt)
			if size[0] == 390 {
				eval[bool](t, ctx, `document.querySelector(".done").remove() ?? true`) // the flash goes after 2.6 s
				compare(t, "now-undo-390x844.png", shoot(t, ctx))
				overflow(t, ctx, "undo")
			}
			tap(t, ctx, "#nav a", "People")
			until(t, ctx, `document.querySelector(".page-people") !== null`)
			stripStands(t, ctx, "Few", keysAt)
			if size[0] == 390 {
				compare(t, "people-undo-390x844.png", shoot(t, ctx))
				overflow(t, ctx, "undo on People")
			}
			tap(t, ctx, "#undo button", "Undo")
			until(t, ctx, `document.querySelector("#done strong")?.textContent === "Undone" && document.getElementById("undo") === null`)
			if got := settledLooks(t, d); got != had {
				t.Errorf("%d looks stay, want none", got-had)
			}
			tap(t, ctx, ".keys button", "Nothing")
			stripStands(t, ctx, "Nothing", keysAt)
			tap(t, ctx, ".keys button", "Many")
			stripStands(t, ctx, "Many", keysAt)
			if ms := eval[float64](t, ctx, `half`); ms < 29000 {
				t.Errorf("the strip stands for %.0f ms, want 30000", ms)
			}
			tap(t, ctx, "#nav a", "Now")
			until(t, ctx, `document.getElementById("done") === null`)
			stripStands(t, ctx, "Many", keysAt)
			eval[bool](t, ctx, `endHalf()`)
			if eval[bool](t, ctx, `document.getElementById("undo") !== null`) {
				t.Error("the strip stands after its half minute")
			}
			if got := settledLooks(t, d); got != had+2 {
				t.Errorf("%d looks stay, want 2", got-had)
			}
		})
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}

// TestUndoStripOnPhone: the strip in the app, with the server shut.
func TestUndoStripOnPhone(t *testing.T) {
	path := browser(t)
	a := newAshore(t)
	p := pickUp(t, path, t.TempDir())
	p.installs(t, a)
	a.shut()
	keysAt := eval[float64](t, p.ctx, `document.querySelector(".keys").getBoundingClientRect().top`)
	eval[bool](t, p.ctx, `run(() => press("Few"))`)
	wait(t, p)
	stripStands(t, p.ctx, "Few", keysAt)
	tap(t, p.ctx, "#nav a", "People")
	until(t, p.ctx, `document.querySelector(".page-people") !== null`)
	stripStands(t, p.ctx, "Few", keysAt)
	tap(t, p.ctx, "#undo button", "Undo")
	until(t, p.ctx, `document.querySelector("#done strong")?.textContent === "Undone" && document.getElementById("undo") === null`)
	a.open(t)
	eval[bool](t, p.ctx, `run(async () => { const m = await import(document.documentElement.dataset.files + "phone/engine.js"); for (;;) { const s = await m.ashore(true); if (s && !s.trouble && s.waiting === 0) break; await new Promise((r) => setTimeout(r, 300)); } })`)
	wait(t, p)
	must(t, a.desk.Read(t.Context(), func(v desk.View) error {
		if len(v.Lake.Looks) != 0 {
			t.Errorf("%d looks stay ashore", len(v.Lake.Looks))
		}
		return nil
	}))
}
