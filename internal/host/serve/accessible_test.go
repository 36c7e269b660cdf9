package serve

import (
	"context"
	_ "embed"
	"fmt"
	"log/slog"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"icehand/internal/host/paper"
	"icehand/internal/host/phone"
	"icehand/internal/host/rehearsal"
	"icehand/internal/host/report"
	"icehand/internal/host/web"
)

// axe is axe-core 4.14.1, the only file of it that the tests run (decision 12).
//
//go:embed testdata/axe/axe.min.js
var axe string

// readable lists every page that a person reads, the server's own last.
var readable = []string{
	"/", "/keys", "/map", "/why", "/day", "/evening", "/people", "/people?count=open", "/ice", "/ice?load=truck", "/help", "/import", "/holes", "/place", "/depth", "/rods",
	"/trip", "/plan", "/party", "/way", "/whiteout", "/cold", "/light", "/tackle", "/present", "/cards", "/talk", "/turn-back", "/turn-back?until=15:30&reason=crossing_read",
	"/nowhere", "/close", "/tally", "/rules", "/officer", "/credits",
	withLow + "/", withLow + "/map",
	report.Path, report.Path + "/preview", paper.Path, paper.Path + "/cleaning", paper.Path + "/party", paper.Path + "/books", rehearsal.Path, "/install", phone.AsidePath,
}

// withLow stands before a page that is read while the battery is low.
const withLow = "low:"

// found gives what axe-core finds wrong with the page that is shown, a line for each kind: its rule and where. Rules that
// are only "best practice" count too. The theme changes colours alone, so the second and third look at the rules on colour.
const found = `axe.run(document, { resultTypes: ["violations"], ...%s }).then((r) => r.violations.map((v) => v.id + ": " + v.help + " [" + v.nodes.slice(0, 3).map((n) => n.target.join(" ") + " " + (n.any[0]?.message ?? n.all[0]?.message ?? "")).join("; ") + "]"))`

// colour limits a run to the rules on colour.
const colour = `{ runOnly: { type: "tag", values: ["cat.color"] } }`

// covered tells what hides the turn-back clock, also while the page says what went wrong; "" for nothing.
const covered = `(() => {
	const box = document.getElementById("trouble"), clock = document.querySelector(".strip-clock, .officer-clock strong");
	if (!clock) return "is not there";
	for (const words of ["Not saved: no answer. Press again: it counts once.", ""]) {
		if (box) { box.textContent = words; box.hidden = !words; }
		const r = clock.getBoundingClientRect();
		for (const x of [r.left + 2, r.left + r.width / 2, r.right - 2]) for (const y of [r.top + r.height / 4, r.top + r.height * 3 / 4]) {
			const top = document.elementFromPoint(x, y);
			if (!top || !clock.contains(top) && !top.contains(clock)) return "lies under " + (top?.outerHTML.slice(0, 80) ?? "the edge of the screen");
		}
	}
	return "";
})()`

// TestNothingInaccessible: axe-core finds nothing wrong with any page in any theme, and nothing lies over the turn-back clock. Source: the rules of axe-core 4.14.1,
// which follow WCAG 2.2, https://www.w3.org/TR/WCAG22/.
func TestNothingInaccessible(t *testing.T) {
	path := browser(t)
	d := newDemoDesk(t)
	made := rehearsal.New(nil)
	t.Cleanup(made.Close)
	extras := append(made.Extras(), report.New(d.Desk).Extras()...)
	extras = append(extras, paper.New(d.Desk).Extras()...)
	h, err := Handler(Options{Desk: d.Desk, Log: slog.New(slog.DiscardHandler), Extras: append(extras, []web.Extra{phone.Install(), phone.Aside(d.Desk)}...)})
	if err != nil {
		t.Fatal(err)
	}
	s := httptest.NewServer(h)
	t.Cleanup(s.Close)
	var ctx context.Context
	start := time.Now()
	for i, page := range readable {
		if i%12 == 0 { // a tab has its time, and a slow machine takes more than that for all of them
			ctx, _ = tab(t, path)
			do(t, ctx, chromedp.EmulateViewport(390, 844))
		}
		do(t, ctx, chromedp.Navigate(s.URL+"/health"))
		if path, low := strings.CutPrefix(page, withLow); low {
			eval[string](t, ctx, `document.cookie = "power=low; path=/"`)
			do(t, ctx, chromedp.Navigate(s.URL+path))
			until(t, ctx, `document.getElementById("low") !== null`)
		} else {
			eval[string](t, ctx, `document.cookie = "power=; path=/; max-age=0"`)
			do(t, ctx, chromedp.Navigate(s.URL+page))
		}
		until(t, ctx, `document.readyState === "complete" && document.fonts.status === "loaded" && (document.body.dataset.ready === "yes" || document.querySelector("script[type=module]") === null)`)
		if over := eval[string](t, ctx, covered); over != "" && page != report.Path+"/preview" { // a guest's sheet has no clock
			t.Errorf("%s: the turn-back clock %s", page, over)
		}
		judged(t, ctx, page)
	}
	t.Logf("%d pages in three themes: %v", len(readable), time.Since(start).Round(time.Second))
}

// judged runs axe-core on the page that is shown, in every theme.
func judged(t *testing.T, ctx context.Context, page string) {
	t.Helper()
	eval[bool](t, ctx, axe+";true")
	for _, theme := range []struct{ name, rules string }{{"sun", "{}"}, {"dusk", colour}, {"night", colour}} {
		eval[string](t, ctx, `document.documentElement.dataset.theme = "`+theme.name+`"`)
		faults, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](fmt.Sprintf(found, theme.rules), chromedp.EvalAwaitPromise))
		if err != nil {
			t.Fatalf("%s in %s: %v", page, theme.name, err)
		}
		if len(faults) > 0 {
			t.Errorf("%s in %s:\n\t%s", page, theme.name, strings.Join(faults, "\n\t"))
		}
	}
}

// TestInaccessibleIsFound: the check finds text that is hard to see, a key without a word and a picture without words.
func TestInaccessibleIsFound(t *testing.T) {
	path := browser(t)
	ctx, _ := tab(t, path)
	do(t, ctx, chromedp.Navigate("about:blank"))
	eval[string](t, ctx, `document.body.innerHTML = '<p style="color:#aaa;background:#fff">faint words</p><button></button><img src="data:image/gif;base64,R0lGODlhAQABAAAAACw=">'`)
	eval[bool](t, ctx, axe+";true")
	faults, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](fmt.Sprintf(found, "{}"), chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatal(err)
	}
	for _, rule := range []string{"color-contrast", "button-name", "image-alt"} {
		if !strings.Contains(strings.Join(faults, "\n"), rule+":") {
			t.Errorf("%s is not found in %q", rule, faults)
		}
	}
}
