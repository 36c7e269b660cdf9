package serve

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestNumeralsAreHigh: the course on the way and the tally on People have figures 10 mm high, 63 px at 160 px/in (trade.md U4), on all widths of phones.
func TestNumeralsAreHigh(t *testing.T) {
	path := browser(t)
	_, base := serveDemo(t)
	ctx, _ := tab(t, path)
	for _, x := range []struct{ page, numerals string }{{"/way", ".walk .course"}, {"/people", ".person-count strong"}} {
		for _, w := range []int64{360, 390, 430} {
			do(t, ctx, chromedp.EmulateViewport(w, 844))
			open(t, ctx, base, screen{path: x.page})
			high := eval[[]float64](t, ctx, fmt.Sprintf(`[...document.querySelectorAll(%q)].map((e) => {
				const c = document.createElement("canvas").getContext("2d"), s = getComputedStyle(e);
				c.font = s.fontWeight + " " + s.fontSize + " " + s.fontFamily;
				const m = c.measureText("0");
				return m.actualBoundingBoxAscent + m.actualBoundingBoxDescent;
			})`, x.numerals))
			if len(high) == 0 {
				t.Fatalf("%s has no %s", x.page, x.numerals)
			}
			for _, h := range high {
				if h < 63 {
					t.Errorf("%s at %d px: figures %.1f px high, want 63", x.page, w, h)
				}
			}
			overflow(t, ctx, x.page)
		}
	}
}

// onIce lists the pages that are read with gloves on.
var onIce = []string{"/", "/keys", "/map", "/why", "/day", "/people", "/people?count=open", "/ice", "/ice?load=truck", "/help", "/holes", "/place", "/depth", "/rods", "/trip", "/plan",
	"/party", "/way", "/whiteout", "/cold", "/light", "/tackle", "/present", "/cards", "/talk", "/turn-back", "/turn-back?until=15:30&reason=crossing_read", "/close", "/tally", "/rules", "/officer"}

// small gives what can be pressed on a page and is below 44 px one way, all that can be opened being open: its words and size. A tick or a figure in a
// label is pressed with the whole label.
const small = `(() => {
	for (const d of document.querySelectorAll("details:not(#why)")) d.open = true;
	const out = new Set();
	for (const e of document.querySelectorAll("a[href], button, summary, input:not([type=hidden]), select, textarea")) {
		const label = e.tagName === "INPUT" && e.closest("label");
		const r = (label || e).getBoundingClientRect();
		if (!r.width || !r.height || r.width === 1) continue;
		if (r.width < 43.95 || r.height < 43.95) out.add(e.tagName.toLowerCase() + (e.className ? "." + e.className : "") + " in " + (e.parentElement.className || e.parentElement.tagName) + " \"" + (label || e).textContent.trim().slice(0, 40) + "\" " + Math.round(r.width) + "x" + Math.round(r.height));
	}
	return [...out];
})()`

// tight gives main keys that lie less than 12 px apart.
const tight = `(() => {
	const out = [];
	for (const box of document.querySelectorAll(".keys, .person-keys, .ask-keys, .map-keys, .rose, .chips")) {
		const k = [...box.querySelectorAll(".key, .button, .chip")].map((e) => e.getBoundingClientRect()).filter((r) => r.width);
		k.forEach((a, i) => k.slice(i + 1).forEach((b) => {
			const dx = Math.max(a.left, b.left) - Math.min(a.right, b.right), dy = Math.max(a.top, b.top) - Math.min(a.bottom, b.bottom);
			const gap = Math.max(dx, dy);
			if (gap < 11.95) out.push(box.className + ": " + gap.toFixed(1));
		}));
	}
	return [...new Set(out)];
})()`

// TestNothingSmall: on every page that is read on the ice, at 360, 390 and 430 px, nothing that can be pressed is below 44 px, and keys lie 12 px apart or
// more. Bounds: trade.md U1 and, for the gap, the look.
func TestNothingSmall(t *testing.T) {
	path := browser(t)
	_, base := serveDemo(t)
	for _, w := range []int64{360, 390, 430} {
		ctx, _ := tab(t, path)
		do(t, ctx, chromedp.EmulateViewport(w, 844))
		for _, page := range onIce {
			if page == "/officer" { // it has no script
				do(t, ctx, chromedp.Navigate(base+page))
			} else {
				open(t, ctx, base, screen{path: page})
			}
			if s := eval[[]string](t, ctx, small); len(s) > 0 {
				t.Errorf("%s at %d px, below 44 px:\n\t%s", page, w, strings.Join(s, "\n\t"))
			}
			if s := eval[[]string](t, ctx, tight); len(s) > 0 {
				t.Errorf("%s at %d px, keys less than 12 px apart: %s", page, w, strings.Join(s, "; "))
			}
		}
	}
}
