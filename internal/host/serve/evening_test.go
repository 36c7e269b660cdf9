//go:build linux

package serve

import (
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// TestEveningCheck: what the page This phone knew of server and clock outlives a kill without signal, and the rehearsal counts
// only when the app was started without signal and something was saved. Source: U15.
func TestEveningCheck(t *testing.T) {
	path := browser(t)
	a := newAshore(t)
	profile := t.TempDir()
	p := pickUp(t, path, profile)
	p.installs(t, a)
	few := func() {
		t.Helper()
		eval[bool](t, p.ctx, `run(async () => { step++; await press("Few"); })`)
		wait(t, p)
	}
	few()
	cell := func(key string) string {
		return eval[string](t, p.ctx, `document.querySelector("[data-app=`+key+`]").textContent`)
	}
	p.opens(t, a, "/app")
	until(t, p.ctx, `document.querySelector("[data-app=sync]").onclick !== null`)
	eval[bool](t, p.ctx, `document.querySelector("[data-app=sync]").click() ?? true`)
	within(t, p.ctx, time.Minute, `document.querySelector("[data-app=step]").textContent.startsWith("nothing waits, last ")`)
	clock, pushed := cell("clock"), cell("pushed")
	if !strings.HasPrefix(clock, "the same, at ") || !strings.Contains(pushed, ":") {
		t.Errorf("clock %q, pushed %q", clock, pushed)
	}
	if s := cell("rehearsed"); !strings.HasPrefix(s, "not yet") {
		t.Errorf("rehearsed: %s", s)
	}
	p.kill(t)
	a.shut()
	p = pickUp(t, path, profile)
	do(t, p.ctx, chromedp.Navigate("about:blank"))
	_, err := chromedp.Call(p.ctx, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: true})
	must(t, err)
	p.opens(t, a, "/app")
	within(t, p.ctx, time.Minute, `document.querySelector("[data-app=step]").textContent.startsWith("nothing waits, last ")`)
	if got := []string{cell("clock"), cell("pushed")}; got[0] != clock || got[1] != pushed {
		t.Errorf("after the kill %q, before %q and %q", got, clock, pushed)
	}
	p.opens(t, a, "/")
	p.arrives(t)
	if eval[bool](t, p.ctx, `navigator.onLine`) {
		t.Fatal("the browser believes in a signal")
	}
	few()
	p.opens(t, a, "/app")
	within(t, p.ctx, time.Minute, `/^\d/.test(document.querySelector("[data-app=rehearsed]").textContent)`)
	within(t, p.ctx, time.Minute, `document.querySelector("[data-app=step]").textContent.startsWith("1 entry waits") || document.querySelector("[data-app=step]").textContent.includes("entries wait")`)
}
