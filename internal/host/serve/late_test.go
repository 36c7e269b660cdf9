package serve

import (
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// TestLateAnswer: a page whose answer comes after a later act is not shown over what the act answered; a page that the guide
// asked for is not beaten by the one that comes anew by itself.
func TestLateAnswer(t *testing.T) {
	path := browser(t)
	_, base := serveDemo(t)
	ctx, complaints := tab(t, path)
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	open(t, ctx, base, screen{path: "/"})
	eval[bool](t, ctx, `(() => { window.came = 0; const f = window.fetch; window.fetch = async (path, o) => { const r = await f(path, o); if (String(path).startsWith("/people")) { await new Promise((done) => setTimeout(done, 1500)); came++; } return r; }; return true; })()`)
	people := `document.querySelector("#nav a[href='/people']").click() ?? true`
	eval[bool](t, ctx, people)
	tap(t, ctx, ".keys button", "Nothing")
	until(t, ctx, `document.getElementById("undo") !== null`)
	until(t, ctx, `came === 1`)
	time.Sleep(300 * time.Millisecond)
	if !eval[bool](t, ctx, `document.querySelector("main.page-now") !== null && document.getElementById("undo") !== null`) {
		t.Error("a page that came late lies over what the act answered")
	}
	eval[bool](t, ctx, people)
	eval[bool](t, ctx, `document.dispatchEvent(new Event("visibilitychange"))`)
	until(t, ctx, `came === 2`)
	until(t, ctx, `document.querySelector("main.page-people") !== null`)
	if c := complaints(); len(c) > 0 {
		t.Errorf("the console complains: %v", c)
	}
}
