package serve

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestOnItsSide: on a phone laid on its side Now shows its step and six keys whole, the nine one tap away, in either hand and past turn-back.
func TestOnItsSide(t *testing.T) {
	path := browser(t)
	d, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(844, 390))
	past := screen{"now-past", "/", "night", "", ""}
	for _, x := range []screen{{name: "now", path: "/"}, {name: "now-left", path: "/", hand: "left"}, {name: "keys", path: "/keys"}, {name: "people", path: "/people"}, {name: "ice", path: "/ice"}, {name: "help", path: "/help"}, past} {
		if x == past {
			d.clock(15, 20)
		}
		open(t, ctx, base, x)
		compare(t, x.name+"-844x390.png", shoot(t, ctx))
		overflow(t, ctx, x.name)
		if x.path != "/" && x.path != "/keys" {
			continue
		}
		out := eval[[]string](t, ctx, `(() => {
			const m = document.getElementById("main").getBoundingClientRect();
			const shown = [...document.querySelectorAll(".keys .key")].filter((k) => k.getClientRects().length);
			const call = document.querySelector(".call").getBoundingClientRect();
			const out = shown.filter((k) => { const r = k.getBoundingClientRect(); return r.top < m.top || r.bottom > m.bottom || r.width < 116 || r.height < 44; }).map((k) => k.textContent.trim());
			if (call.top < m.top || call.bottom > m.bottom) out.push("the step");
			return [String(shown.length), ...out];
		})()`)
		if want := map[string]string{"/": "6", "/keys": "9"}[x.path]; out[0] != want || len(out) > 1 {
			t.Errorf("%s: %s keys, want %s; not whole: %q", x.name, out[0], want, out[1:])
		}
	}
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains:\n%s", strings.Join(c, "\n"))
	}
}
