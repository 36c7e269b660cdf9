//go:build linux

package serve

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"icehand/internal/trade/journal"
)

// TestPhoneSpeed measures, with ICEHAND_MEASURE set and 200 holes today, what the app takes from its start without signal to
// Now, from a tap to saved, and from a tap to the page with the new advice; and the last against the same request answered
// natively. It holds nothing to a figure: a busy machine says nothing of a phone. `make bench` runs it.
func TestPhoneSpeed(t *testing.T) {
	if os.Getenv("ICEHAND_MEASURE") == "" {
		t.Skip("set ICEHAND_MEASURE to measure")
	}
	path := browser(t)
	a := newAshore(t)
	profile := t.TempDir()
	p := pickUp(t, path, profile)
	p.installs(t, a)
	a.shut()
	for range 10 { // 200 holes, in parts: a script may run for half a minute
		eval[bool](t, p.ctx, `run(async () => { for (let i = 0; i < 20; i++) { step++; await press(["Nothing", "Few", "Many"][i % 3]); } })`)
		wait(t, p)
	}
	eval[bool](t, p.ctx, `run(async () => { times = []; window.shown = []; for (let i = 0; i < 30; i++) { const before = document.querySelector("#done")?.outerHTML, start = performance.now(); const old = document.getElementById("done"); old?.remove(); await press(["Nothing", "Few"][i % 2]); shown.push(performance.now() - start); } })`)
	wait(t, p)
	saved, shown := eval[[]float64](t, p.ctx, `times`), eval[[]float64](t, p.ctx, `shown`)
	var starts []float64
	for range 5 {
		p.kill(t)
		p = pickUp(t, path, profile)
		do(t, p.ctx, chromedp.Navigate("about:blank"))
		start := time.Now()
		do(t, p.ctx, chromedp.Navigate(a.base()+"/phone/?from=icon"))
		p.arrives(t)
		starts = append(starts, float64(time.Since(start).Milliseconds()))
	}
	native := nativeLooks(t, a)
	tell := func(what string, ms []float64) float64 {
		slices.Sort(ms)
		t.Logf("%s: median %.0f ms, p95 %.0f ms of %d", what, ms[len(ms)/2], ms[len(ms)*95/100], len(ms))
		return ms[len(ms)/2]
	}
	tell("start without signal to Now", starts)
	tell("tap to saved", saved)
	there, here := tell("tap to saved and the next step", shown), tell("the same request, natively", native)
	t.Logf("ratio to native: %.1f", there/here)
}

// nativeLooks times the same act and page on the server's own record, with as many holes.
func nativeLooks(t *testing.T, a *ashore) (ms []float64) {
	t.Helper()
	for i := range 230 {
		form := url.Values{"id": {journal.NewID().String()}, "marks": {[]string{"nothing", "few"}[i%2]}, "lat": {fmt.Sprintf("%.7f", 47.9+float64(i%40)*0.0001)},
			"lon": {fmt.Sprintf("%.7f", -45+float64(i/40)*0.00015)}, "accuracy": {"4"}, "age": {"0"}}
		if i%2 == 0 {
			form.Set("marks", "none")
		}
		start := time.Now()
		r := httptest.NewRequest(http.MethodPost, a.base()+"/look", strings.NewReader(form.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		a.handler.ServeHTTP(w, r)
		if w.Code != http.StatusSeeOther {
			t.Fatalf("status %d: %s", w.Code, w.Body)
		}
		page := httptest.NewRecorder()
		a.handler.ServeHTTP(page, httptest.NewRequest(http.MethodGet, a.base()+w.Header().Get("Location"), nil))
		if i >= 200 {
			ms = append(ms, float64(time.Since(start).Microseconds())/1000)
		}
	}
	return ms
}
