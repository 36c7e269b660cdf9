//go:build linux

package serve

import (
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// charged gives every page a battery whose level a test sets with charge(level, charging), and counts what is asked of the
// satellites.
const charged = `(() => {
	const b = new EventTarget();
	b.level = Number(sessionStorage.level ?? 0.5);
	b.charging = sessionStorage.charging === "yes";
	navigator.getBattery = async () => b;
	window.charge = (level, charging) => {
		sessionStorage.level = b.level = level;
		b.charging = charging;
		sessionStorage.charging = charging ? "yes" : "no";
		b.dispatchEvent(new Event("levelchange"));
		return true;
	};
	window.fixes = 0;
	navigator.geolocation.getCurrentPosition = (done) => { fixes++; done({ coords: { latitude: 47.9, longitude: -45, accuracy: 4 }, timestamp: Date.now() }); };
})()`

// TestBatteryLow: at 25 % the app goes over to its low-battery pages by itself, where a key asks for no fix; the guide can
// have all pages again, which stands until there is charge; then the next fall counts anew. Source: U17.
func TestBatteryLow(t *testing.T) {
	path := browser(t)
	a := newAshore(t)
	p := pickUp(t, path, t.TempDir())
	_, err := chromedp.Call(p.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: charged})
	must(t, err)
	low, all := `document.getElementById("low") !== null`, `document.querySelector(".keys") !== null && document.getElementById("low") === null`
	shows := func(what string) {
		t.Helper()
		within(t, p.ctx, time.Minute, what)
	}
	do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/"))
	shows(all)
	eval[bool](t, p.ctx, `charge(0.26, false)`)
	time.Sleep(500 * time.Millisecond)
	if !eval[bool](t, p.ctx, all) {
		t.Error("at 26 % the pages are those of a low battery")
	}
	eval[bool](t, p.ctx, `charge(0.25, false)`)
	shows(low)
	held := `document.cookie.match(/held=(\d+)/)[1]`
	before := eval[string](t, p.ctx, held)
	eval[bool](t, p.ctx, `[...document.querySelectorAll(".keys button")].find((b) => b.textContent.includes("Few")).click() ?? true`)
	shows(held + ` !== "` + before + `"`)
	shows(low)
	if n := eval[int](t, p.ctx, `fixes`); n != 0 {
		t.Errorf("%d fixes were asked for", n)
	}
	do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/app"))
	shows(`document.querySelector("[data-app=battery]")?.textContent === "25 %" && document.fonts.status === "loaded"`)
	judged(t, p.ctx, "/app")
	if over := eval[string](t, p.ctx, covered); over != "" {
		t.Errorf("the turn-back clock %s", over)
	}
	do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/"))
	shows(low)
	eval[bool](t, p.ctx, `document.querySelector("[name=power][value=full]").click() ?? true`)
	shows(all)
	eval[bool](t, p.ctx, `charge(0.2, false)`)
	time.Sleep(500 * time.Millisecond)
	if !eval[bool](t, p.ctx, all) {
		t.Error("the guide's choice does not stand")
	}
	eval[bool](t, p.ctx, `charge(0.2, true)`)
	shows(`!document.cookie.includes("power=")`)
	eval[bool](t, p.ctx, `charge(0.2, false)`)
	shows(low)
	eval[bool](t, p.ctx, `charge(0.31, false)`)
	shows(all)
	if c := eval[string](t, p.ctx, `document.cookie`); strings.Contains(c, "power=") {
		t.Error(c)
	}
}
